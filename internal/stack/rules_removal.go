package stack

import (
	"slices"
)

// removalRules look at a treatment that takes something off.
var removalRules = []Rule{
	{
		ID: "removal-promised-from-fresh-resin", Severity: Warn,
		Condition: "Removal is promised from the behaviour of fresh resin, of a material that cross-links and is " +
			"older than that.",
		Remedy: "Make a test on the layer as it is today.",
		Sources: []string{
			"materials-encyclopedia", "thermal-ageing-2000", "feller-1957", "jaeschke-2003", "preparators-list-1999",
		},
		look: freshPromise,
	},
	{
		ID: "removal-below-another-layer", Severity: Warn,
		Condition: "What is to come off may lie under another layer, by a record, by the dates, or because it is not known.",
		Remedy:    "Find out which lies on top, and take that one off first.",
		Sources:   []string{"common-practice"},
		look:      liesUnder,
	},
	{
		ID: "removal-below-irreversible-layer", Severity: Warn,
		Condition: "Below a practically irreversible layer nothing is reachable by solvent.",
		Remedy:    "Mechanical means, or vapour at the edges only; say so in the plan.",
		Sources:   []string{"podany-2001", "common-practice"},
		look:      outOfReach,
	},
	{
		ID: "water-for-removal-on-sensitive-body", Severity: Warn,
		Condition: "Water takes a layer off a body that is not known to stand water.",
		Remedy:    "Take another candidate from the removal plan, or establish that the body stands water.",
		Sources:   []string{"common-practice"},
		look:      waterForRemoval,
	},
	{
		ID: unpreparedRemoval, Severity: Warn,
		Condition: "Joints and fills that share the solvent are not supported, or a base coat goes before its " +
			"number is recorded.",
		Remedy:  "Support what shares the solvent, record the number before its base coat goes, and plan the new label.",
		Sources: []string{"common-practice"},
		look:    unprepared,
	},
	{
		ID: friableUnreplaced, Severity: Block,
		Condition: "A consolidant is taken out of friable material without a replacement or support named.",
		Remedy:    "Name the consolidant that takes its place, or the support, before any of it comes out.",
		Sources:   []string{"common-practice"},
		look:      friable,
	},
	{
		ID: "removal-record-incomplete", Severity: Info,
		Condition: "A removal does not say with what, for how many hours, or what came off and how far; " +
			"or it names a layer that is recorded elsewhere.",
		Remedy: "Record the solvent, the hours and the means, and what is known to be left: " +
			"reduced, or not detected with method and limit.",
		Sources: []string{"schniewind-1990", "consolidants-bone-isotopes"},
		look:    removalRecord,
	},
	{
		ID: labelUnapproved, Severity: Warn,
		Condition: "A label, a number or evidence of a field jacket is taken off without a curator's approval.",
		Remedy:    "Ask the curator, and record the approval.",
		Sources:   []string{"common-practice"},
		look:      labelOff,
	},
}

// crossLinks are the materials that are known or reported to become insoluble
// with age.
var crossLinks = oneOf("poly-n-butyl-methacrylate", "poly-isobutyl-methacrylate", "n-butyl-isobutyl-methacrylate-blend",
	"poly-vinyl-butyral", "pvb-low-hydroxyl", "pvb-high-hydroxyl", "poly-vinyl-acetate-resin", "shellac",
	"poly-vinyl-acetate-dispersion")

// targets are the reached layers that a removal names; a removal that names
// none may take any reached layer.
func (sc *scene) targets() (named []met, said bool) {
	if sc.p.Action != Removing {
		return nil, false
	}
	if sc.p.Removal == nil || len(sc.p.Removal.Treatments) == 0 {
		return sc.met, false
	}
	for _, m := range sc.met {
		if sc.isRemoved(m) {
			named = append(named, m)
		}
	}
	return named, true
}

func freshPromise(sc *scene) {
	if len(sc.liquids) == 0 {
		return
	}
	targets, _ := sc.targets()
	type key struct {
		sort   layerSort
		age    Ageing
		tested bool
	}
	for _, g := range grouped(targets, func(m met) key { o, _ := sc.verdict(m); return key{m.sort(), m.age, o.Tested} }) {
		m := g[0]
		links := m.Identity.may(crossLinks)
		if links == No || m.age == Young {
			continue
		}
		o, liquid := sc.verdict(m)
		switch {
		case o.Tested:
			sc.clear(sentence("%s was tested on the specimen", sc.these(g)), o.Backing, g...)
		case links == Unknown:
			sc.add(Finding{
				Unknown: true,
				Sentence: sentence("%s may be of a material that cross-links; what %s does to it today is not known", sc.these(g),
					sc.knowledge.name(liquid)),
			}, g...)
		case m.age == AgeUnsure:
			sc.add(Finding{
				Unknown: true,
				Sentence: sentence("How old %s is cannot be told, and its material cross-links; fresh behaviour may not hold",
					sc.these(g)),
			}, g...)
		case !sc.seenOnOldFilm(m, liquid):
			sc.add(Finding{
				Sentence: sentence("%s is old and of a material that cross-links; what dissolved it fresh may only swell it now",
					sc.these(g)),
				Backing: o.Backing,
			}, g...)
		default:
			sc.clear(sentence("%s was seen to act on old films of the material of %s", sc.knowledge.name(liquid), sc.these(g)),
				o.Backing, g...)
		}
	}
}

// seenOnOldFilm tells whether a source that can be cited saw the liquid dissolve
// an old film of the layer's material.
func (sc *scene) seenOnOldFilm(m met, liquid string) bool {
	for _, r := range m.Identity.all() {
		seen := false
		for _, row := range sc.knowledge.SolubilityRows(r.Material) {
			seen = seen || (row.Solvent == liquid && row.Age == "aged" && row.Observed == "dissolves" &&
				row.Evidence.Status.Seen())
		}
		if !seen {
			return false
		}
	}
	return true
}

func waterForRemoval(sc *scene) {
	if sc.p.Action != Removing || !sc.knowledge.waterborne(sc.liquids) {
		return
	}
	stands, traits := sc.specimen.standsWater()
	switch stands {
	case No:
		sc.add(Finding{Sentence: sentence("The body does not stand water (%s)", traitNames(traits))})
	case Unknown:
		sc.add(Finding{
			Unknown: true, Traits: traits,
			Sentence: sentence("Whether the body stands water is not known (%s not stated)", traitNames(traits)),
		})
	default:
		sc.clear("The body is recorded to stand water.", Backing{})
	}
}

func unprepared(sc *scene) {
	if sc.p.Action != Removing {
		return
	}
	var loose, unsure, numbers []met
	for _, m := range sc.met {
		if m.Role.label() && m.NumberRecorded != Yes && sc.isRemoved(m) {
			numbers = append(numbers, m)
		}
		if (!m.joint() && m.Role != Fill) || sc.p.Supported == Yes || len(sc.liquids) == 0 || sc.isRemoved(m) {
			continue
		}
		o, _ := sc.verdict(m)
		switch {
		case o.Observed.disturbs():
			loose = append(loose, m)
		case o.Observed.open():
			unsure = append(unsure, m)
		}
	}
	if len(loose) > 0 {
		sc.add(Finding{Sentence: sentence("%s shares the solvent and no support is recorded", sc.these(loose))}, loose...)
	}
	if len(unsure) > 0 {
		sc.add(Finding{
			Unknown:  true,
			Sentence: sentence("Whether %s shares the solvent is not known and no support is recorded", sc.these(unsure)),
		}, unsure...)
	}
	if len(numbers) > 0 {
		sc.add(Finding{
			Sentence: sentence("%s comes off and the number is not known to be recorded elsewhere", sc.these(numbers)),
			Unknown:  numbers[0].NumberRecorded == Unknown,
		}, numbers...)
	}
}

func friable(sc *scene) {
	targets, _ := sc.targets()
	out := withRole(targets, Consolidant, PenetratingConsolidant)
	if len(out) == 0 || sc.p.Supported == Yes {
		return
	}
	switch sc.specimen.Is(Friable) {
	case Yes:
		sc.add(Finding{
			Sentence: sentence("%s comes out of friable material and neither a replacement nor a support is named",
				sc.these(out)),
		}, out...)
	case Unknown:
		sc.add(Finding{
			Unknown:  true,
			Traits:   []Trait{Friable},
			Severity: Warn,
			Sentence: sentence("%s comes out; whether the material is friable is not known, and neither a replacement nor a "+
				"support is named", sc.these(out)),
		}, out...)
	default:
		sc.clear("The body is recorded as not friable.", Backing{}, out...)
	}
}

func removalRecord(sc *scene) {
	if sc.p.Action != Removing {
		return
	}
	sc.removesElsewhere()
	r := sc.p.Removal
	var missing []string
	if r == nil || len(r.Treatments) == 0 {
		missing = append(missing, "which layers")
	}
	if sc.p.Method != Mechanical && len(sc.liquids) == 0 {
		missing = append(missing, "with what")
	}
	if sc.p.Method != Mechanical && !slices.ContainsFunc(sc.p.Exposures, func(e Exposure) bool { return e.Hours != nil }) {
		missing = append(missing, "for how many hours")
	}
	if r == nil || (r.Left != Reduced && r.Left != NotDetected) {
		missing = append(missing, "how far")
	}
	if r != nil && r.Left == NotDetected && (r.Method == "" || r.Limit == "") {
		missing = append(missing, "by which method and down to what limit nothing was detected")
	}
	if len(missing) == 0 {
		return
	}
	f := Finding{Sentence: sentence("The removal does not say %s", listed(missing, 5)), Unknown: true}
	if r != nil && r.Left == NotDetected && len(missing) == 1 {
		f.Unknown = false
	}
	sc.add(f)
}

// removesElsewhere warns of a removal that names treatments without a recorded
// layer where it was made.
func (sc *scene) removesElsewhere() {
	if sc.p.Removal == nil {
		return
	}
	var elsewhere []string
	here := map[string]bool{}
	for _, m := range sc.met {
		here[m.Treatment] = true
	}
	for _, id := range sc.p.Removal.Treatments {
		if !here[id] {
			elsewhere = append(elsewhere, id)
		}
	}
	if len(elsewhere) == 0 {
		return
	}
	sc.add(Finding{Severity: Warn,
		Sentence: sentence("The removal names %s of which no layer is recorded where it was made; "+
			"nothing is taken as removed there", plural(len(elsewhere), "a treatment", "treatments")),
		Remedy: "Say the right treatment, or the right areas; a treatment of another specimen belongs to a " +
			"removal on that one.",
	})
	last := &sc.findings[len(sc.findings)-1]
	last.Layers, last.Count = compactedText(elsewhere), len(elsewhere)
}

func labelOff(sc *scene) {
	targets, said := sc.targets()
	var labels []met
	for _, m := range targets {
		if m.Role.label() {
			labels = append(labels, m)
		}
	}
	if len(labels) == 0 || sc.p.Authorised == Yes {
		return
	}
	f := Finding{Sentence: sentence("%s is to come off and no approval is recorded", sc.these(labels))}
	if sc.p.Authorised == Unknown || !said {
		f.Unknown = true
	}
	sc.add(f, labels...)
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return tally(n) + " " + many
}
