package stack_test

import (
	"slices"
	"strings"
	"testing"

	"meniscus/internal/material"
	"meniscus/internal/stack"
)

// scenario is a specimen, what was done to it, and what is to be checked.
type scenario struct {
	specimen stack.Specimen
	earlier  []stack.Treatment
	proposed stack.Treatment
}

func given(s stack.Specimen, proposed stack.Treatment, earlier ...stack.Treatment) scenario {
	return scenario{s, earlier, proposed}
}

// resin is a proposed consolidation with the copolymer in one liquid, in a
// climate that is recorded.
func resin(liquid string, changes ...func(*stack.Treatment)) stack.Treatment {
	t := put("proposed", stack.Consolidation, "skull", "2026-03-02", strength(5).of(of(copolymer, liquid)))
	return with(with(t, climate(20, 40), hours(liquid, 1)), changes...)
}

func join(u stack.Use, changes ...func(*stack.Treatment)) stack.Treatment {
	return with(put("proposed", stack.Joining, "skull", "2026-03-02", u),
		append([]func(*stack.Treatment){climate(20, 40), store(20)}, changes...)...)
}

func label(r stack.Role, u stack.Use, changes ...func(*stack.Treatment)) stack.Treatment {
	return with(put("proposed", stack.Labelling, "skull", "2026-03-02", u),
		append([]func(*stack.Treatment){role(r), climate(20, 40)}, changes...)...)
}

func take(layer, liquid string, changes ...func(*stack.Treatment)) stack.Treatment {
	return with(off("proposed", "skull", "2026-03-02", stack.Reduced, liquid, layer), changes...)
}

// ruleCases holds for every rule a case that fires, a near miss that does not,
// and one in which something is not known. The source of each rule is the one
// that the rule itself cites; "common practice" and "recalled" stand there where
// no source was read.
var ruleCases = []struct {
	rule                 string
	severity             stack.Severity
	fires, near, unknown scenario
}{
	{"dust-from-hazardous-specimen", stack.Block, // never a dry brush on old bird skins: mailing list of 1997, preparators' pages
		given(bone(dangers("arsenic", "suspected")), brushed()),
		given(bone(dangers("arsenic", "not-examined")), brushed()),
		scenario{}}, // what nobody examined is a line of every answer, and no finding
	{"work-on-hazardous-specimen", stack.Warn, // preparators' pages; workshop on pesticides in museums, 2011
		given(bone(dangers("mould", "known")), put("proposed", stack.Mounting, "skull", "2026-03-02")),
		given(bone(dangers("mould", "none-found")), put("proposed", stack.Mounting, "skull", "2026-03-02")),
		scenario{}},
	{"liquid-carries-hazard", stack.Warn, // recalled: water and ethanol carry arsenites and mercuric chloride
		given(bone(dangers("mercury", "known")), resin("ethanol")),
		given(bone(dangers("mercury", "known")), resin("n-heptane")),
		scenario{}},
	{"cellulose-nitrate-near-heat", stack.Warn, // Canadian note 15/3
		given(bone(dangers("cellulose-nitrate", "known")), resin("acetone")),
		given(bone(dangers("cellulose-nitrate", "not-examined")), resin("acetone")),
		scenario{}},
	{"words-make-hazard-suspected", stack.Warn, // a book of taxidermy of the 19th century for arsenical soap
		given(bone(worded("arsenic", "arsenical soap")), resin("n-heptane")),
		given(bone(dangers("arsenic", "suspected")), resin("n-heptane")),
		scenario{}},
	{"solvent-reaches-earlier-layer", stack.Warn, // common practice; the pair is of the tables: toluene dissolves the resin
		given(bone(), resin("toluene"), put("old", stack.Coating, "skull", "2010", of(acetate, "acetone"))),
		given(bone(), with(resin("water"), func(t *stack.Treatment) {
			t.Uses = []stack.Use{of("acrylic-colloidal-dispersion", "water")}
			t.Exposures = nil
		}), put("old", stack.Coating, "skull", "2010", of(copolymer, "acetone"))),
		given(bone(), resin("diacetone-alcohol"), put("old", stack.Coating, "skull", "2010", of(wax)))},
	{"same-resin-over-earlier-layer", stack.Info, // common practice
		given(bone(), resin("acetone"), put("old", stack.Consolidation, "skull", "2025", of(copolymer, "acetone"))),
		given(bone(), resin("acetone"), put("old", stack.Consolidation, "skull", "2025", of(copolymer, "toluene"))),
		scenario{}}, // the solvent of the earlier layer not known: known-solvent-of-earlier-layer fires instead (TestUnknownSolventOfTheSameResin)
	{"joint-may-be-starved", stack.Info, // mailing lists of 2009 and 2011
		given(bone(), join(of(copolymer, "acetone"))),
		given(bone(), join(of(copolymer, "acetone")), put("old", stack.Consolidation, "skull", "2010",
			of(copolymer, "acetone"))),
		given(bone(body("")), join(of(copolymer, "acetone")))},
	{"top-coat-disturbs-base-coat", stack.Warn, // numbering sheet of a fossil repository
		given(bone(), label(stack.LabelTop, of(copolymer, "acetone")),
			with(put("old", stack.Labelling, "skull", "2026-02-01", of(copolymer, "acetone")), numbered(stack.Yes))),
		given(bone(), label(stack.LabelTop, of(isobutyl, "naphtha")),
			with(put("old", stack.Labelling, "skull", "2026-02-01", of(copolymer, "acetone")), numbered(stack.Yes))),
		given(bone(), label(stack.LabelTop, of(isobutyl, "naphtha")),
			with(put("old", stack.Labelling, "skull", "2026-02-01", words("ink")), role(stack.Ink)))},
	{"reacting-resin-without-barrier", stack.Warn, // Podany 2001; Ellis and Heginbotham 2004
		given(bone(), join(of(epoxy))),
		given(bone(), join(of(epoxy)), put("old", stack.BarrierCoat, "skull", "2026-01",
			strength(17).of(of(copolymer, "acetone")))),
		given(bone(), join(words("resin", epoxy, copolymer)))},
	{"barrier-not-tied-to-resin", stack.Info, // Podany 2001
		given(bone(), join(of(epoxy)), put("old", stack.BarrierCoat, "skull", "2026-01", of(copolymer, "acetone"))),
		given(bone(), join(of(epoxy), relation(stack.Over, "old")),
			put("old", stack.BarrierCoat, "skull", "2026-01", of(copolymer, "acetone"))),
		given(bone(), join(words("resin", epoxy, copolymer)), put("old", stack.BarrierCoat, "skull", "2026-01",
			of(copolymer, "acetone")))},
	{"polar-treatment-over-wax", stack.Warn, // furniture conservator 2012; common practice
		given(bone(), resin("acetone"), put("old", stack.Coating, "skull", "1990", of(wax))),
		given(bone(), resin("n-heptane"), put("old", stack.Coating, "skull", "1990", of(wax))),
		given(bone(), resin("acetone"), put("old", stack.Coating, "skull", "1990",
			words("wax", wax, "polyethylene-glycol")))},
	{"ethyl-silicate-with-water-or-resin", stack.Warn, // "highly hydrophobic for up to 8 weeks": Materials 12, 156, 2019
		given(bone(), resin("water"), put("old", stack.Consolidation, "skull", "2026-02-01", of(silicate, "ethanol"))),
		given(bone(), resin("water"), put("old", stack.Consolidation, "skull", "2025-02-01", of(silicate, "ethanol"))),
		given(bone(), resin("water"), put("old", stack.Consolidation, "skull", "", of(silicate, "ethanol")))},
	{"alkali-over-layer-it-breaks-down", stack.Warn, // recalled
		given(bone(), resin("alkaline-water"), put("old", stack.Joining, "skull", "1990", of(nitrate, "acetone"))),
		given(bone(), resin("alkaline-water"), put("old", stack.Joining, "skull", "1990", of(copolymer, "acetone"))),
		given(bone(), resin("alkaline-water"), put("old", stack.Joining, "skull", "1990",
			words("glue", nitrate, "animal-glue")))},
	{"coating-over-cyclododecane", stack.Warn, // Stein 2000
		given(bone(), resin("acetone"), put("old", stack.Coating, "skull", "2026-02", of("cyclododecane"))),
		given(bone(), resin("acetone"), put("old", stack.Coating, "skull", "2020", of("cyclododecane"))),
		given(bone(), resin("acetone"), put("old", stack.Coating, "skull", "", of("cyclododecane")))},
	{"dispersion-over-solvent-resin", stack.Info, // Diaz-Cortes 2022
		given(bone(), resin("water", func(t *stack.Treatment) {
			t.Uses = []stack.Use{of("acrylic-dispersion", "water")}
		}), put("old", stack.Consolidation, "skull", "2010", of(copolymer, "acetone"))),
		given(bone(), resin("acetone"), put("old", stack.Consolidation, "skull", "2010", of(copolymer, "acetone"))),
		given(bone(), resin("water", func(t *stack.Treatment) {
			t.Uses = []stack.Use{words("acrylic", "acrylic-dispersion", copolymer)}
		}), put("old", stack.Consolidation, "skull", "2010", of(copolymer, "acetone")))},
	{"earlier-layer-unknown", stack.Warn, // common practice
		given(bone(), resin("acetone"), put("old", stack.Coating, "skull", "1950", words("varnish"))),
		given(bone(), resin("acetone"), put("old", stack.Coating, "skull", "1950", words("varnish")),
			tried("try", "skull/nasal", "2026-03-01", "old", "acetone", "no-effect")),
		given(bone(), resin("acetone"))},
	{"known-solvent-of-earlier-layer", stack.Warn, // recalled: alcohol over shellac
		given(bone(), resin("ethanol"), put("old", stack.Coating, "skull", "1950", of("shellac", "ethanol"))),
		given(bone(), resin("toluene"), put("old", stack.Coating, "skull", "1950", of("shellac", "ethanol"))),
		scenario{}}, // several candidates: solvent-reaches-earlier-layer and earlier-layer-unknown fire (TestAmbiguousCard)
	{"removal-promised-from-fresh-resin", stack.Warn, // Feller 1957; Polymer 41, 6447, 2000
		given(bone(), take("old", "toluene"), put("old", stack.Coating, "skull", "1960", of(isobutyl, "toluene"))),
		given(bone(), take("old", "toluene"), put("old", stack.Coating, "skull", "2025", of(isobutyl, "toluene"))),
		given(bone(), take("old", "toluene"), put("old", stack.Coating, "skull", "", of(isobutyl, "toluene")))},
	{"solvent-near-labels-or-paint", stack.Info, // common practice
		given(bone(), resin("acetone"), with(put("old", stack.Retouching, "skull", "1950", of("shellac", "ethanol")))),
		given(bone(), resin("acetone"), put("old", stack.Consolidation, "skull", "1950", of(copolymer, "acetone"))),
		given(bone(), resin("acetone"), with(put("old", stack.OtherAction, "skull", "1950", of(copolymer, "acetone"))))},
	{"removal-below-another-layer", stack.Warn, // common practice
		given(bone(), take("old", "acetone"), put("old", stack.Coating, "skull", "1990", of(copolymer, "acetone")),
			put("top", stack.Coating, "skull", "2010", of(wax))),
		given(bone(), take("old", "acetone"), put("old", stack.Coating, "skull", "2010", of(copolymer, "acetone")),
			put("under", stack.Coating, "skull", "1990", of(wax))),
		given(bone(), take("old", "acetone"), put("old", stack.Coating, "skull", "1990/2015", of(copolymer, "acetone")),
			put("top", stack.Coating, "skull", "2010", of(wax)))},
	{"removal-below-irreversible-layer", stack.Warn, // Podany 2001
		given(bone(), take("old", "acetone"), put("old", stack.Coating, "skull", "1990", of(copolymer, "acetone")),
			put("top", stack.Joining, "skull", "2010", of(epoxy))),
		given(bone(), take("old", "acetone"), put("old", stack.Coating, "skull", "2010", of(copolymer, "acetone")),
			put("under", stack.Joining, "skull", "1990", of(epoxy))),
		given(bone(), take("old", "acetone"), put("old", stack.Coating, "skull", "1990", of(copolymer, "acetone")),
			put("top", stack.Joining, "skull", "2010", words("resin", epoxy, copolymer)))},
	{"water-for-removal-on-sensitive-body", stack.Warn, // common practice
		given(bone(trait(stack.Pyrite, stack.Yes)), take("old", "water"),
			put("old", stack.Coating, "skull", "1990", of("methylcellulose", "water"))),
		given(bone(), take("old", "water"), put("old", stack.Coating, "skull", "1990", of("methylcellulose", "water"))),
		given(bone(trait(stack.Pyrite, stack.Unknown)), take("old", "water"),
			put("old", stack.Coating, "skull", "1990", of("methylcellulose", "water")))},
	{"removal-without-support-or-number", stack.Warn, // common practice
		given(bone(), take("old", "acetone"), put("old", stack.Coating, "skull", "1990", of(copolymer, "acetone")),
			put("joint", stack.Joining, "skull", "1980", of(acetate, "acetone"))),
		given(bone(), take("old", "acetone", supported), put("old", stack.Coating, "skull", "1990", of(copolymer, "acetone")),
			put("joint", stack.Joining, "skull", "1980", of(acetate, "acetone"))),
		given(bone(), take("old", "acetone"), put("old", stack.Coating, "skull", "1990", of(copolymer, "acetone")),
			put("joint", stack.Joining, "skull", "1980", words("glue")))},
	{"friable-body-without-replacement", stack.Block, // common practice
		given(bone(trait(stack.Friable, stack.Yes)), take("old", "acetone"),
			put("old", stack.Consolidation, "skull", "1990", of(copolymer, "acetone"))),
		given(bone(trait(stack.Friable, stack.Yes)), take("old", "acetone", supported),
			put("old", stack.Consolidation, "skull", "1990", of(copolymer, "acetone"))),
		given(bone(trait(stack.Friable, stack.Unknown)), take("old", "acetone"),
			put("old", stack.Consolidation, "skull", "1990", of(copolymer, "acetone")))},
	{"removal-record-incomplete", stack.Info, // Schniewind 1990 and the study of bone isotopes
		given(bone(), take("old", "acetone", func(t *stack.Treatment) {
			t.Removal = &stack.Removal{Treatments: []string{"old"}, Left: stack.NotDetected}
		}), put("old", stack.Coating, "skull", "1990", of(copolymer, "acetone"))),
		given(bone(), take("old", "acetone"), put("old", stack.Coating, "skull", "1990", of(copolymer, "acetone"))),
		given(bone(), take("old", ""), put("old", stack.Coating, "skull", "1990", of(copolymer, "acetone")))},
	{"label-removal-without-approval", stack.Warn, // common practice
		given(bone(), take("old", "acetone", func(t *stack.Treatment) {
			t.Authorised = stack.No
		}), put("old", stack.Labelling, "skull", "1990", of(copolymer, "acetone"))),
		given(bone(), take("old", "acetone", func(t *stack.Treatment) {
			t.Authorised = stack.Yes
		}), put("old", stack.Labelling, "skull", "1990", of(copolymer, "acetone"))),
		given(bone(), take("old", "acetone"), put("old", stack.Labelling, "skull", "1990", of(copolymer, "acetone")))},
	{"film-may-whiten", stack.Warn, // woodworking knowledge base 2006: the surface cools by 20 °F
		given(bone(), resin("acetone", climate(20, 60))),
		given(bone(), resin("toluene", climate(20, 60))),
		given(bone(), resin("acetone", func(t *stack.Treatment) { t.Environment = stack.Environment{} }))},
	{"warmer-than-evidence", stack.Warn, // Koob 2005: sound from −10 to 35 °C
		given(bone(), join(of(copolymer, "acetone"), store(38))),
		given(bone(), join(of(copolymer, "acetone"), store(35))),
		given(bone(), join(of(nitrate, "acetone"), store(22)))},
	{"outside-working-climate", stack.Info, // recalled
		given(bone(), resin("acetone", climate(8, 40))),
		given(bone(), resin("acetone", climate(15, 40))),
		given(bone(), resin("acetone", func(t *stack.Treatment) { t.Environment = stack.Environment{} }))},
	{"touch-dry-is-not-dry", stack.Info, // museum encyclopedia: solvent found after a year
		given(bone(), resin("acetone"), with(put("old", stack.Consolidation, "skull", "2026-02-27", of(copolymer, "acetone")),
			dry(stack.TouchDry, 0))),
		given(bone(), resin("acetone"), put("old", stack.Consolidation, "skull", "2025-02-27", of(copolymer, "acetone"))),
		given(bone(), resin("acetone"), put("old", stack.Consolidation, "skull", "", of(copolymer, "acetone")))},
	{"fast-drying-draws-resin-up", stack.Info, // Koob 1999
		given(bone(), resin("acetone")),
		given(bone(), resin("acetone", func(t *stack.Treatment) { t.Drying.Slowed = stack.Yes })),
		given(bone(body("")), resin("acetone"))},
	{"gloss-and-darkening", stack.Info, // Koob 1995: dry bone is given 5 to 10 %
		given(bone(), resin("acetone", func(t *stack.Treatment) {
			t.Uses = []stack.Use{strength(15).of(of(copolymer, "acetone"))}
		})),
		given(bone(), resin("acetone")),
		given(bone(), resin("acetone", func(t *stack.Treatment) { t.Uses = []stack.Use{of(copolymer, "acetone")} }))},
	{"harmful-solvent", stack.Warn, // Koob 1995 and 2001
		given(bone(), resin("o-xylene")),
		given(bone(), resin("acetone")),
		given(bone(), resin("acetone", func(t *stack.Treatment) { t.Uses, t.Exposures = []stack.Use{of(copolymer)}, nil }))},
	{"solvent-resin-on-damp-body", stack.Block, // Jaeschke 2003
		given(bone(condition("damp")), resin("acetone")),
		given(bone(condition("damp")), resin("ethanol")),
		given(bone(condition("")), resin("acetone"))},
	{"sub-fossil-body-harmed", stack.Warn, // the study of polar solvents on bone isotopes: over 48 h
		given(bone(trait(stack.Fossil, stack.No), trait(stack.SubFossil, stack.Yes)), resin("ethanol", hours("ethanol", 50))),
		given(bone(trait(stack.Fossil, stack.No), trait(stack.SubFossil, stack.Yes)), resin("ethanol", hours("ethanol", 40))),
		given(bone(trait(stack.Fossil, stack.No), trait(stack.SubFossil, stack.Yes)),
			resin("ethanol", func(t *stack.Treatment) {
				t.Exposures = nil
			}))},
	{"sub-fossil-body-harmed", stack.Warn, // a study skin is not sub-fossil unless its record says so
		given(bone(body("skin-leather"), trait(stack.Fossil, stack.Unknown), trait(stack.SubFossil, stack.Yes)),
			resin("ethanol", hours("ethanol", 50))),
		given(bone(body("skin-leather"), trait(stack.Fossil, stack.Unknown), trait(stack.SubFossil, stack.Unknown)),
			resin("ethanol", hours("ethanol", 50))),
		given(bone(body("bone"), trait(stack.Fossil, stack.Unknown), trait(stack.SubFossil, stack.Unknown)),
			resin("ethanol", hours("ethanol", 50)))},
	{"sample-before-treatment", stack.Block, // Koob 1995: sample before consolidating
		given(bone(sampling("radiocarbon", "skull/nasal")), resin("acetone")),
		given(bone(sampling("radiocarbon", "left-femur")), resin("acetone", method(stack.Swab))),
		given(bone(trait(stack.Fossil, stack.No), func(s *stack.Specimen) { s.SamplingKnown = false }), resin("acetone"))},
	{"material-not-for-fossils", stack.Warn, // Koob 1999; museum adhesives page
		given(bone(), join(of(nitrate, "acetone"))),
		given(bone(), join(of(copolymer, "acetone"))),
		given(bone(trait(stack.Fossil, stack.Unknown)), join(of(nitrate, "acetone")))},
	{"water-or-acid-harms-body", stack.Warn, // recalled
		given(bone(trait(stack.Pyrite, stack.Yes)), resin("water")),
		given(bone(trait(stack.Pyrite, stack.Yes)), resin("acetone")),
		given(bone(trait(stack.Pyrite, stack.Unknown)), resin("water"))},
	{"acid-in-closed-case", stack.Warn, // museum encyclopedia; recalled
		given(bone(body("shell"), trait(stack.Calcareous, stack.Yes)), join(of(acetate, "acetone"), inCase(stack.Yes))),
		given(bone(body("shell"), trait(stack.Calcareous, stack.Yes)), join(of(copolymer, "acetone"), inCase(stack.Yes))),
		given(bone(body("shell"), trait(stack.Calcareous, stack.Yes)), join(of(acetate, "acetone")))},
	{"lime-on-carbonate-for-isotopes", stack.Warn, // recalled
		given(bone(body("shell"), trait(stack.Calcareous, stack.Yes), sampling("carbonate-isotopes", "skull")),
			resin("ethanol", func(t *stack.Treatment) {
				t.Uses = []stack.Use{of(lime, "ethanol")}
			})),
		given(bone(body("shell"), trait(stack.Calcareous, stack.Yes)), resin("ethanol", func(t *stack.Treatment) {
			t.Uses = []stack.Use{of(lime, "ethanol")}
		})),
		given(bone(trait(stack.Calcareous, stack.Unknown), func(s *stack.Specimen) {
			s.SamplingKnown = false
		}), resin("ethanol", func(t *stack.Treatment) { t.Uses = []stack.Use{of(lime, "ethanol")} }))},
	{"poor-label-coat", stack.Info, // numbering sheet of a fossil repository
		given(bone(), label(stack.LabelBase, strength(20).of(of("nail-lacquer", "acetone")))),
		given(bone(), label(stack.LabelBase, strength(20).of(of(copolymer, "acetone")))),
		given(bone(), label(stack.LabelBase, words("white stuff")))},
	{"reacting-resin-on-bare-specimen", stack.Warn, // common practice
		given(bone(), join(of(epoxy))),
		given(bone(), join(of(epoxy)), put("old", stack.BarrierCoat, "skull", "2026-01", of(copolymer, "acetone"))),
		given(bone(), join(words("resin", epoxy, copolymer)))},
	{"thick-base-coat", stack.Info, // park service 2017: 25 % is too viscous for a smooth base coat
		given(bone(), label(stack.LabelBase, strength(25).of(of(copolymer, "acetone")))),
		given(bone(), label(stack.LabelBase, strength(20).of(bottled(of(copolymer, "acetone"))))),
		given(bone(), label(stack.LabelBase, of(copolymer, "acetone")))},
}

// dangers states a hazard, with what the tables say carries it along.
func dangers(name, status string) func(*stack.Specimen) {
	return func(s *stack.Specimen) {
		of, _ := material.Builtin().SpecimenHazard(name, "")
		s.Hazards = append(s.Hazards, stack.Hazard{Name: name, Status: status, Dust: of.Dust, Carried: of.Carried,
			Caution: of.Caution})
	}
}

// worded makes a hazard suspected by words.
func worded(name, words string) func(*stack.Specimen) {
	return func(s *stack.Specimen) {
		s.Hazards = append(s.Hazards, stack.Hazard{Name: name, Status: "suspected",
			Because: []stack.Clue{{Treatment: "old", Date: "1911", Words: words}}})
	}
}

// brushed is cleaning with a dry brush.
func brushed(changes ...func(*stack.Treatment)) stack.Treatment {
	t := put("proposed", stack.Cleaning, "skull", "2026-03-02")
	t.Method = stack.Brush
	return with(t, changes...)
}

func inCase(a stack.Answer) func(*stack.Treatment) {
	return func(t *stack.Treatment) { t.Environment.ClosedCase = a }
}

func bottled(u stack.Use) stack.Use {
	u.Batch = "B-17"
	return u
}

func TestRules(t *testing.T) {
	t.Parallel()
	covered := map[string]bool{}
	for _, c := range ruleCases {
		covered[c.rule] = true
		t.Run(c.rule, func(t *testing.T) {
			t.Parallel()
			fires := run(t, c.fires)
			if !hasSeverity(findings(fires, c.rule), c.severity) {
				t.Errorf("fires: got %v, want %s of severity %s", fires.Findings, c.rule, c.severity)
			}
			if got := findings(run(t, c.near), c.rule); len(got) > 0 {
				t.Errorf("near miss: got %v, want no %s", got, c.rule)
			}
			if c.unknown.proposed.ID == "" {
				return
			}
			unknown := run(t, c.unknown)
			if !warnsOfUnknown(findings(unknown, c.rule)) {
				t.Errorf("unknown: got %v, want a warning of %s because nobody knows", unknown.Findings, c.rule)
			}
		})
	}
	for _, r := range stack.Rules() {
		if !covered[r.ID] {
			t.Errorf("got no case for rule %s, want one that fires, a near miss and an unknown", r.ID)
		}
	}
}

func run(t *testing.T, s scenario) stack.Checked {
	t.Helper()
	return check(t, newStack(t, s.specimen, s.earlier...), s.proposed, stack.CheckConfig{})
}

func hasSeverity(list []stack.Finding, s stack.Severity) bool {
	for _, f := range list {
		if f.Severity == s && (!f.Unknown || f.Rule == "earlier-layer-unknown") { // earlier-layer-unknown is about unknown layers
			return true
		}
	}
	return false
}

func warnsOfUnknown(list []stack.Finding) bool {
	for _, f := range list {
		if f.Unknown && f.Severity == stack.Warn {
			return true
		}
	}
	return false
}

// TestRulesAreWhole: every rule and every finding has a reason, a remedy and
// a source.
func TestRulesAreWhole(t *testing.T) {
	t.Parallel()
	for _, r := range stack.Rules() {
		if r.Condition == "" || r.Remedy == "" || len(r.Sources) == 0 || r.Status == "" {
			t.Errorf("rule %s: got condition %q, remedy %q, sources %v, status %q, want all four", r.ID, r.Condition, r.Remedy,
				r.Sources, r.Status)
		}
	}
	for _, c := range ruleCases {
		for _, f := range run(t, c.fires).Findings {
			if f.Sentence == "" || f.Remedy == "" ||
				len(f.Sources.List()) == 0 && !strings.HasPrefix(f.Sentence, "No published observation") {
				t.Errorf("%s: got sentence %q, remedy %q, sources %q, want all three", f.Rule, f.Sentence, f.Remedy, f.Sources)
			}
			if !strings.HasSuffix(f.Sentence, ".") || slices.ContainsFunc(f.Sources.List(), func(s material.Source) bool {
				return s.Citation == "" || s.Citation == s.Key
			}) {
				t.Errorf("%s: got %q from %q, want a sentence and a citation that a reader can follow",
					f.Rule, f.Sentence, f.Sources)
			}
		}
	}
}
