package stack

import (
	"slices"
	"strings"
)

// hazardRules are about the people who work on a specimen that is known or suspected to be
// dangerous. What was not looked for, or not recorded, is no finding: every answer says
// it in a line.
var hazardRules = []Rule{
	{
		ID: "dust-from-hazardous-specimen", Severity: Block, Application: true,
		Condition: "Dry work that makes dust on a specimen with arsenic, mercury, lead, asbestos, DDT or a radioactive " +
			"mineral, known or suspected, and no protection is stated; a warning where it is.",
		Remedy: "Take a vacuum cleaner with a HEPA filter or a damp wipe instead, after a test, and state the protection " +
			"that the occupational hygienist settles. " + hazardDeference,
		Sources: []string{"cdl-1997-arsenic", "vnps", "tna-mould", "common-practice"},
		look:    dustFromHazard,
	},
	{
		ID: "work-on-hazardous-specimen", Severity: Warn, Application: true,
		Condition: "Any other work, sampling, packing or hand-over of a specimen that is known or suspected to hold " +
			"something dangerous to people.",
		Remedy:  "Gloves, nothing eaten or drunk there, hands washed, the specimen labelled. " + hazardDeference,
		Sources: []string{"vnps", "smithsonian-mitigation", "common-practice"},
		look:    workOnHazard,
	},
	{
		ID: "liquid-carries-hazard", Severity: Warn,
		Condition: "A liquid that carries the specimen's hazard along: it moves it and does not take it away.",
		Remedy: "Test before wet work, and treat what comes off, swabs and rinse, as toxic waste. " +
			hazardDeference,
		Sources: []string{"smithsonian-mitigation", "recalled"},
		look:    liquidCarries,
	},
	{
		ID: "cellulose-nitrate-near-heat", Severity: Warn,
		Condition: "Cellulose nitrate on or in the specimen; a block with heat or a flame.",
		Remedy:    "No heat, flame or spark; keep it cool, ventilated and apart. " + hazardDeference,
		Sources:   []string{"cci-15-3", "hic-nitrate", "nitrate-nfpa40"},
		look:      nitrateNearHeat,
	},
	{
		ID: "words-make-hazard-suspected", Severity: Warn,
		Condition: "A word on an old label or card, or a recorded pest treatment, means something dangerous to people.",
		Remedy: "Have it tested, and record the test with its method and limit: only that says otherwise, and nothing " +
			"shows that it is absent.",
		Sources: []string{"browne-taxidermy", "spnhc-biocides", "nmai-pesticides", "recalled"},
		look:    wordsMeanHazard,
	},
}

// titles names hazards with how sure they are: "arsenic (known) and mould (suspected)".
func titles(list []Hazard) string {
	return listed(each(list, func(h Hazard) string { return h.title() + " (" + h.Status + ")" }), maxNotices)
}

// presentHazards are the hazards that are known or suspected and for which so holds.
func (sc *scene) presentHazards(so func(Hazard) bool) []Hazard {
	return slices.DeleteFunc(sc.specimen.ReadHazards().Present, func(h Hazard) bool { return !so(h) })
}

func (h Hazard) dusty() bool {
	switch h.Name {
	case "arsenic", "mercury", "lead", "asbestos", "radioactivity":
		return true
	case "pesticide":
		return h.Dust || h.Substance == ""
	}
	return h.Dust
}

// raisesDust answers whether the work is dry and makes dust. Cleaning without a liquid is
// taken to be dry.
func (sc *scene) raisesDust() bool {
	switch {
	case sc.p.Action == MechanicalPreparation, sc.p.Method == Mechanical:
		return true
	case sc.p.Action != Cleaning || len(sc.liquids) > 0:
		return false
	}
	switch sc.p.Method {
	case "", Brush, OtherMethod, UnknownMethod:
		return true
	}
	return false
}

func dustFromHazard(sc *scene) {
	dusty := sc.presentHazards(Hazard.dusty)
	if len(dusty) == 0 || !sc.raisesDust() {
		return
	}
	if sc.p.Protected == Yes {
		sc.add(Finding{Severity: Warn, Sentence: sentence("This is dry work that raises dust of %s; the protection that is "+
			"stated has to be enough for that", titles(dusty))})
		return
	}
	sc.addHazard(Finding{Sentence: sentence("This is dry work that raises dust of %s, and no protection of the people is "+
		"stated", titles(dusty))})
}

// addHazard files a finding; of a record, what nobody recorded of the moment is
// information.
func (sc *scene) addHazard(f Finding) {
	f.Unknown = sc.recorded && sc.p.Protected == Unknown
	sc.add(f)
}

func workOnHazard(sc *scene) {
	dust := sc.raisesDust()
	others := sc.presentHazards(func(h Hazard) bool {
		return h.Name != "cellulose-nitrate" && !(dust && h.dusty())
	})
	if len(others) == 0 || sc.p.Action == Damage || sc.recorded && sc.p.Protected == Yes {
		return
	}
	sc.addHazard(Finding{Sentence: sentence("The hazards of the specimen are %s: protect the people who work on it", titles(others))})
}

func liquidCarries(sc *scene) {
	var moved []string
	for _, h := range sc.presentHazards(func(Hazard) bool { return true }) {
		var by []Share
		for _, l := range sc.liquids {
			if slices.ContainsFunc(h.Carried, func(class string) bool { return sc.knowledge.IsA(l.Solvent, class) }) {
				by = append(by, l)
			}
		}
		if len(by) > 0 {
			moved = append(moved, sc.knowledge.liquidNames(by)+" with "+h.title()+" ("+h.Status+")")
		}
	}
	if len(moved) > 0 {
		sc.add(Finding{Sentence: sentence("A liquid carries along what is dangerous in the specimen, and does not take it "+
			"away: %s", strings.Join(moved, "; "))})
	}
}

// nitrateWarm is the temperature above which work near cellulose nitrate counts as heat
// here. No source gives one; common practice is to keep it cool.
const nitrateWarm = 40

func nitrateNearHeat(sc *scene) {
	nitrate := sc.presentHazards(func(h Hazard) bool { return h.Name == "cellulose-nitrate" })
	if len(nitrate) == 0 || sc.p.Action == Damage {
		return
	}
	sc.dissolvesNitrate()
	warm := sc.knowledge.anyIsA(sc.liquids, "hot-water")
	for _, t := range []*float64{sc.p.Drying.TemperatureC, sc.p.Environment.SurfaceC, sc.p.Environment.AirC,
		sc.p.Environment.StoreC} {
		warm = warm || t != nil && *t > nitrateWarm
	}
	if warm {
		sc.add(Finding{Severity: Block, Sentence: sentence("There is heat near %s, which burns without air and gives off "+
			"nitrogen oxides", titles(nitrate))})
		return
	}
	sc.add(Finding{Sentence: sentence("The specimen holds %s, which burns without air: vapour of solvents beside it, heat, "+
		"flames and sparks start a fire", titles(nitrate))})
}

// dissolvesNitrate tells which liquids dissolve the cellulose nitrate of the specimen itself. What
// they do to a layer that may be of it, the rules on layers say.
func (sc *scene) dissolvesNitrate() {
	nitrate := Ref{Material: "cellulose-nitrate"}
	if slices.ContainsFunc(sc.layers, func(l Layer) bool { return l.Identity.may(oneOf(nitrate.Material)) != No }) {
		return
	}
	by := slices.DeleteFunc(sc.knowledge.parts(sc.liquids), func(s Share) bool {
		return sc.knowledge.effect(nitrate, s.Solvent, AgeUnsure) != Dissolves
	})
	if len(by) > 0 {
		sc.add(Finding{Sentence: sentence("Cellulose nitrate dissolves in %s: what the specimen has of it goes, and where "+
			"its body is of it, the body", sc.knowledge.liquidNames(by))})
	}
}

func wordsMeanHazard(sc *scene) {
	var said []string
	var from []string
	for _, h := range sc.presentHazards(func(h Hazard) bool { return h.Status == "suspected" && len(h.Because) > 0 }) {
		said = append(said, h.named())
		for _, c := range h.Because {
			if c.Treatment != "" && !slices.Contains(from, c.Treatment) {
				from = append(from, c.Treatment)
			}
		}
	}
	if len(said) == 0 {
		return
	}
	severity := Warn
	if sc.recorded {
		severity = Info
	}
	sc.add(Finding{Severity: severity, Sentence: sentence("Words on record make suspected: %s; only a test with its "+
		"method and limit says otherwise", strings.Join(said, "; "))})
	sc.findings[len(sc.findings)-1].Layers = from
}
