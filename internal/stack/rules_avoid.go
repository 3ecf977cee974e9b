package stack

import (
	"slices"
	"strings"

	"meniscus/internal/material"
)

// avoidRules say what not to do.
var avoidRules = []Rule{
	{
		ID: "solvent-resin-on-damp-body", Severity: Block,
		Condition: "A damp or wet body and a resin in acetone or toluene.",
		Remedy:    "Acrylic colloid in water, dried slowly, or exchange through alcohol first.",
		Sources:   []string{"jaeschke-2003", "recalled"},
		look:      dampBody,
	},
	{
		ID: "sub-fossil-body-harmed", Severity: Warn,
		Condition: "Sub-fossil bone, ivory or tusk: fast drying, hot or long alkaline or acid baths, " +
			"or more than 48 hours of polar solvent, which moves the isotopes of collagen.",
		Remedy:  "Dry slowly, keep baths cool and short, and count the hours of solvent over all treatments.",
		Sources: []string{"consolidants-bone-isotopes", "common-practice"},
		look:    subFossil,
	},
	{
		ID: "sample-before-treatment", Severity: Block,
		Condition: "Sampling is planned on the area (dating, isotopes, DNA, proteins), or animal glue goes on bone that is " +
			"meant for work on collagen.",
		Remedy:  "Take the sample first, or exempt the area.",
		Sources: []string{"koob-1995"},
		look:    sampleFirst,
	},
	{
		ID: "material-not-for-fossils", Severity: Warn,
		Condition: "Cyanoacrylate as a consolidant; cellulose nitrate, shellac, gums, animal glue, " +
			"white glue or five-minute epoxy in new work on fossils.",
		Remedy:  "Take a resin that stays soluble, such as the acrylic copolymer.",
		Sources: []string{"koob-1999", "museum-adhesives-page"},
		look:    notForFossils,
	},
	{
		ID: "water-or-acid-harms-body", Severity: Warn,
		Condition: "Water on decaying pyrite or marcasite, active salts, unfired clay or shale; " +
			"acid on a calcareous body outside acid preparation.",
		Remedy:  "Work without water, or establish first that the body stands it.",
		Sources: []string{"recalled"},
		look:    waterHarms,
	},
	{
		ID: "acid-in-closed-case", Severity: Warn,
		Condition: "A material that gives off acid (poly(vinyl acetate), cellulose acetate, some silicones) in a closed " +
			"case with shell, calcareous fossil, lead or bronze.",
		Remedy:  "Take a material that gives off no acid, or let the case breathe.",
		Sources: []string{"materials-encyclopedia", "recalled"},
		look:    acidInCase,
	},
	{
		ID: "lime-on-carbonate-for-isotopes", Severity: Warn,
		Condition: "Calcium hydroxide on carbonate that will be sampled for isotopes.",
		Remedy:    "Take the sample first, or exempt the area.",
		Sources:   []string{"recalled"},
		look:      limeOnCarbonate,
	},
	{
		ID: "poor-label-coat", Severity: Info,
		Condition: "Correction fluid or nail lacquer as a new label coat; old labels are not scolded.",
		Remedy:    "Take a stable resin for the base coat.",
		Sources:   []string{"fossil-repository-numbering"},
		look:      poorLabel,
	},
	{
		ID: "reacting-resin-on-bare-specimen", Severity: Warn,
		Condition: "A reacting resin straight on the specimen, without a barrier.",
		Remedy:    "Lay a barrier first.",
		Sources:   []string{"common-practice"},
		look:      reactingBare,
	},
	{
		ID: "thick-base-coat", Severity: Info,
		Condition: "A thick base coat bubbles and stays gummy; the bottle thickens as solvent leaves, " +
			"so its strength drifts and its age is part of the record.",
		Remedy:  "Lay it thin, and name the bottle.",
		Sources: []string{"museum-forum-marking", "park-service-2017"},
		look:    thickBase,
	},
}

func dampBody(sc *scene) {
	if !sc.laysResin() {
		return
	}
	var risky []Share
	for _, l := range sc.liquids {
		if !sc.knowledge.waterborne([]Share{l}) && !sc.knowledge.IsA(l.Solvent, "alcohols") {
			risky = append(risky, l)
		}
	}
	if len(risky) == 0 && sc.liquidsKnown {
		return
	}
	named := sc.knowledge.anyIsA(risky, "acetone") || sc.knowledge.anyIsA(risky, "toluene")
	switch sc.specimen.Condition {
	case "dry":
		sc.clear("The body is recorded as dry.", Backing{})
	case "damp", "wet", "waterlogged":
		f := Finding{
			Sentence: sentence("The body is %s and the resin comes in %s", sc.specimen.Condition,
				sc.knowledge.liquidNames(risky)),
		}
		if !named {
			f.Unknown, f.Severity = true, Warn
			f.Sentence = sentence("The body is %s and the resin comes in %s, on which no rule is published for damp bodies",
				sc.specimen.Condition, saidOr(sc.knowledge.liquidNames(risky), "a solvent that is not said"))
		}
		sc.add(f)
	default:
		if named || !sc.liquidsKnown {
			sc.add(Finding{
				Unknown:  true,
				Severity: Warn,
				Sentence: sentence("Whether the body is dry is not recorded; a resin in acetone or toluene fails on a damp one"),
			})
		}
	}
}

func (sc *scene) glueOnBone() {
	glue := sc.puts(oneOf("animal-glue"))
	if glue == No || !sc.specimen.holdsCollagen() {
		return
	}
	meant := false
	for _, s := range sc.specimen.Sampling {
		meant = meant || s.Analysis == "collagen-isotopes" || s.Analysis == "radiocarbon" || s.Analysis == "proteins" ||
			s.Analysis == "ancient-dna"
	}
	switch {
	case meant && glue == Yes:
		sc.add(Finding{
			Sentence: "Animal glue goes on a body that is meant for work on collagen; no solvent separates the two.",
		})
	case glue == Yes && !sc.specimen.SamplingKnown, glue == Unknown && meant:
		sc.add(Finding{
			Unknown:  true,
			Severity: Warn,
			Sentence: "Animal glue, or what may be animal glue, goes on a body that may be meant for work on collagen; " +
				"no solvent separates the two.",
		})
	}
}

var notForNewFossils = oneOf("cellulose-nitrate", "shellac", "gum", "animal-glue", "poly-vinyl-acetate-dispersion")

func notForFossils(sc *scene) {
	for i := range sc.put {
		l := &sc.put[i]
		glue := l.Identity.may(oneOf("ethyl-cyanoacrylate"))
		if l.Role.soaksIn() && glue != No {
			sc.add(Finding{Unknown: glue == Unknown, Sentence: "Cyanoacrylate as a consolidant can hardly be got out again."})
		}
		poor := l.Identity.may(notForNewFossils)
		quick := l.Identity.may(func(r Ref) bool {
			return r.Material == "epoxy-bisphenol-a-amine" && strings.Contains(r.Grade, "five-minute")
		})
		if poor == No && quick == No {
			continue
		}
		switch fossil := sc.specimen.Is(Fossil); {
		case poor == Unknown && quick != Yes && fossil != No:
			if l.Identity.Named() {
				sc.add(Finding{
					Unknown: true, Traits: unstated(fossil, Fossil),
					Sentence: sentence("What is put on (%s) may be a material that is not advised for new work on fossils",
						sc.knowledge.describe(l.Identity)),
				})
			}
		case fossil == Yes:
			sc.add(Finding{Sentence: sentence("%s is not advised for new work on fossils", sc.knowledge.describe(l.Identity))})
		case fossil == Unknown:
			sc.add(Finding{
				Unknown: true, Traits: []Trait{Fossil},
				Sentence: sentence("%s is not advised for new work on fossils, and whether this is one is not recorded",
					sc.knowledge.describe(l.Identity)),
			})
		}
	}
}

// wetHarm are the traits that water harms.
var wetHarm = []Trait{Pyrite, ActiveSalts, UnfiredClay, Shale}

func waterHarms(sc *scene) {
	if sc.knowledge.waterborne(sc.liquids) && sc.watches() {
		var yes, open []Trait
		for _, t := range wetHarm {
			switch sc.specimen.Is(t) {
			case Yes:
				yes = append(yes, t)
			case Unknown:
				open = append(open, t)
			}
		}
		switch {
		case len(yes) > 0:
			sc.add(Finding{Sentence: sentence("Water comes on a body with %s", traitNames(yes))})
		case len(open) > 0:
			sc.add(Finding{
				Unknown: true, Traits: open,
				Sentence: sentence("Water comes on a body of which it is not stated whether it has %s", traitNames(open)),
			})
		default:
			sc.clear("None of the traits that water harms is recorded of the body.", Backing{})
		}
	}
	if !sc.knowledge.anyIsA(sc.liquids, "acids") || sc.p.Action == AcidPreparation {
		return
	}
	switch sc.specimen.Is(Calcareous) {
	case Yes:
		sc.add(Finding{Sentence: "Acid comes on a calcareous body outside acid preparation."})
	case Unknown:
		sc.add(Finding{
			Unknown: true, Traits: []Trait{Calcareous},
			Sentence: "Acid comes on a body of which it is not stated whether it is calcareous.",
		})
	}
}

// unstated are the traits that would settle a matter, where it is not settled.
func unstated(settled Answer, traits ...Trait) []Trait {
	if settled != Unknown {
		return nil
	}
	return traits
}

var traitWords = map[Trait]string{
	Pyrite: "pyrite or marcasite", ActiveSalts: "active salts", UnfiredClay: "unfired clay", Shale: "shale",
	SubFossil: "sub-fossil matter", LeadBronze: "lead or bronze", Coloured: "paint or a coating",
}

func traitNames(traits []Trait) string {
	var names []string
	for _, t := range traits {
		names = append(names, saidOr(traitWords[t], string(t)))
	}
	return listed(names, 6)
}

var acidReleasing = oneOf("poly-vinyl-acetate-resin", "poly-vinyl-acetate-dispersion", "cellulose-acetate", "silicone")

func acidInCase(sc *scene) {
	gives := sc.puts(acidReleasing)
	if gives == No || (gives == Unknown && !sc.anyNamed()) {
		return
	}
	suffers := sc.specimen.Is(Calcareous)
	if lead := sc.specimen.Is(LeadBronze); lead == Yes || (lead == Unknown && suffers == No) {
		suffers = lead
	}
	shut := sc.p.Environment.ClosedCase
	switch {
	case suffers == No || shut == No:
		sc.clear("No closed case with shell, calcareous matter, lead or bronze is in question.", Backing{})
	case gives == Yes && suffers == Yes && shut == Yes:
		sc.add(Finding{Sentence: "A material that gives off acid would stand in a closed case with a body that acid harms."})
	default:
		sc.add(Finding{
			Unknown: true, Traits: unstated(suffers, Calcareous, LeadBronze),
			Sentence: "A material that gives off, or may give off, acid is put on; whether it will stand in a closed case " +
				"with shell, calcareous matter, lead or bronze is not fully recorded.",
		})
	}
}

// anyNamed tells whether one of the treatment's layers has a material named.
func (sc *scene) anyNamed() bool {
	return slices.ContainsFunc(sc.put, func(l Layer) bool { return l.Identity.Named() })
}

func limeOnCarbonate(sc *scene) {
	lime := sc.puts(oneOf("calcium-hydroxide-nanolime"))
	if lime == No || (lime == Unknown && !sc.anyNamed()) {
		return
	}
	carbonate := sc.specimen.Is(Calcareous)
	planned, open := false, !sc.specimen.SamplingKnown && len(sc.specimen.Sampling) == 0
	for _, s := range sc.specimen.Sampling {
		if reach, _ := sc.samplingReach(s); reach != Untouched && (strings.Contains(s.Analysis, "isotopes") ||
			s.Analysis == "radiocarbon") {
			planned = true
			open = open || s.AreasUnknown
		}
	}
	switch {
	case carbonate == No || (!planned && !open):
		sc.clear("No sampling of carbonate for isotopes is planned on the area.", Backing{})
	case carbonate == Yes && planned && lime == Yes && !open:
		sc.add(Finding{
			Sentence: "Calcium hydroxide takes up modern carbon dioxide and goes on carbonate that is to be " +
				"sampled for isotopes.",
		})
	default:
		sc.add(Finding{
			Unknown: true, Traits: unstated(carbonate, Calcareous),
			Sentence: "Calcium hydroxide takes up modern carbon dioxide; whether carbonate on this area will be sampled for " +
				"isotopes is not fully recorded.",
		})
	}
}

func poorLabel(sc *scene) {
	if sc.recorded {
		return
	}
	for i := range sc.put {
		l := &sc.put[i]
		if l.Role != LabelBase && l.Role != LabelTop {
			continue
		}
		switch l.Identity.may(oneOf("correction-fluid", "nail-lacquer")) {
		case Yes:
			sc.add(Finding{Sentence: sentence("%s is meant as a label coat", sc.knowledge.describe(l.Identity))})
		case Unknown:
			sc.add(Finding{
				Unknown:  true,
				Sentence: "What the label coat is made of is not settled; it may be correction fluid or nail lacquer.",
			})
		}
	}
}

func reactingBare(sc *scene) {
	reacts := sc.puts(sets)
	if reacts == No || (reacts == Unknown && !sc.anyNamed()) {
		return
	}
	if barriers := withRole(sc.met, Barrier); len(barriers) > 0 {
		sc.clear("A barrier is recorded in the area.", Backing{}, barriers...)
		return
	}
	f := Finding{Sentence: "A reacting resin goes straight on the specimen."}
	if reacts == Unknown {
		f.Unknown, f.Sentence = true, "What goes straight on the specimen may be a reacting resin."
	}
	sc.add(f)
}

// thickFrom is the strength, in %, that a report on barrier coats for numbers
// found too viscous for a smooth base coat (park-service-2017, basis not given).
const thickFrom = 25

func thickBase(sc *scene) {
	for i := range sc.put {
		l := &sc.put[i]
		if l.Role != LabelBase || l.Identity.may(func(r Ref) bool {
			return sc.knowledge.kind(r.Material) == material.Dispersion
		}) == Yes {
			continue
		}
		switch {
		case l.Strength == nil || percent(*l.Strength) != percent(*l.Strength):
			sc.add(Finding{
				Unknown: true, Sentence: "The strength of the base coat is not known; a thick one bubbles and stays gummy.",
			})
		case percent(*l.Strength) >= thickFrom:
			sc.add(Finding{
				Sentence: sentence("The base coat is of %s, which was found too viscous for a smooth coat", l.Strength.said()),
			})
		case l.Batch == "":
			sc.add(Finding{
				Sentence: "The bottle is not named; its strength drifts as solvent leaves, so its age is part of the record.",
			})
		}
	}
}
