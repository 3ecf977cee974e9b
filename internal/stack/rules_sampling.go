package stack

import (
	"meniscus/internal/quantity"
)

// isotopeHours is for how long polar solvent left the isotopes of collagen
// alone: under 48 h no shift, over 48 h a shift.
const isotopeHours = 48

func subFossil(sc *scene) {
	body := sc.specimen.Is(SubFossil)
	if body == No || !sc.specimen.holdsCollagen() || sc.specimen.Is(Fossil) == Yes {
		return
	}
	bath := sc.p.Action == AcidPreparation || sc.knowledge.anyIsA(sc.liquids, "alkaline-water") ||
		sc.knowledge.anyIsA(sc.liquids, "hot-water") ||
		sc.knowledge.anyIsA(sc.liquids, "acids")
	unsure := body == Unknown
	var open []Trait
	if unsure {
		open = []Trait{SubFossil}
	}
	if bath {
		sc.add(Finding{
			Unknown: unsure, Traits: open, Sentence: subFossilText(unsure, "hot or long alkaline or acid baths harm it"),
		})
	}
	if fast, which := sc.anyFast(); sc.laysResin() && fast == Yes && sc.p.Drying.Slowed != Yes && !unsure {
		sc.add(Finding{Sentence: sentence("The body is sub-fossil and %s dries fast", sc.knowledge.name(which))})
	}
	if !sc.knowledge.polar(sc.liquids) {
		return
	}
	known, unrecorded := sc.polarHours()
	hours := 0.0
	if known != nil {
		hours = *known
	}
	switch {
	case hours > isotopeHours:
		sc.add(Finding{
			Unknown: unsure, Traits: open,
			Sentence: subFossilText(unsure, "polar solvent stands on it for "+quantity.SaidHours(hours, 4)+
				" in all, and more than 48 moves the isotopes of collagen"),
		})
	case unrecorded:
		text := "For how long polar solvent stands, or stood before, on the area is not recorded; " +
			"more than 48 hours moves the isotopes of collagen"
		if known != nil {
			text += " (recorded, for a part of the time: " + quantity.SaidHours(hours, 4) + ")"
		}
		sc.add(Finding{Unknown: true, Traits: open, Sentence: sentence("%s", text)})
	default:
		sc.clear(sentence("Polar solvent stands on the area for %s in all; under 48 no shift was seen",
			quantity.SaidHours(hours, 4)), Backing{})
	}
}

func subFossilText(unsure bool, harm string) string {
	if unsure {
		return sentence("The body may be sub-fossil; %s", harm)
	}
	return sentence("The body is sub-fossil; %s", harm)
}

// polarHours adds up the hours of polar solvent that are recorded on the ground
// that the treatment reaches, with its own, nil where none are; open tells whether
// some are not recorded.
func (sc *scene) polarHours() (hours *float64, open bool) {
	count := func(t *Treatment) {
		polar := false
		for _, e := range t.Exposures {
			if !sc.knowledge.polar(sc.knowledge.parts([]Share{{Solvent: e.Solvent}})) {
				continue
			}
			polar = true
			if e.Hours == nil {
				open = true
			} else {
				hours = plus(hours, *e.Hours)
			}
		}
		liquids, known := sc.knowledge.liquidsOf(t)
		if !polar && t.bringsLiquid() && (!known || sc.knowledge.polar(liquids)) {
			open = true
		}
	}
	for _, t := range sc.treatments {
		if t.ID != sc.p.ID && !after(t.When.From, sc.p.When.To) &&
			sc.atlas.meets(sc.touch, sc.places[t].footprint) != Untouched {
			count(t)
		}
	}
	count(sc.p)
	return hours, open
}

// spoiledBy are the analyses that a sample must come first for.
func spoiled(analysis string) bool {
	switch analysis {
	case "ct", "xrf", "surface-wear":
		return false
	}
	return true
}

// addsCarbon tells whether the treatment brings a material that a sample would
// carry, or a liquid that stands on it.
func (sc *scene) bringsForeign() bool {
	return len(sc.put) > 0 || (sc.watches() && sc.p.bringsLiquid())
}

func sampleFirst(sc *scene) {
	if !sc.bringsForeign() || sc.p.Action == Sampling {
		return
	}
	sc.glueOnBone()
	found := false
	for _, s := range sc.specimen.Sampling {
		if !spoiled(s.Analysis) {
			continue
		}
		reach, where := sc.samplingReach(s)
		if reach == Untouched {
			continue
		}
		found = true
		f := Finding{
			Areas: where, Sentence: sentence("A sample for %s is planned on the area", saidOr(s.Analysis, "an analysis")),
		}
		if s.AreasUnknown || len(s.Areas) == 0 {
			f.Unknown, f.Severity = true, Warn
			f.Sentence = sentence("A sample for %s is planned and where is not settled", saidOr(s.Analysis, "an analysis"))
		}
		if reach == Possibly {
			f.Possible, f.Severity = true, Warn
			f.Sentence += " The area is only possibly reached."
		}
		sc.add(f)
	}
	if found || len(sc.specimen.Sampling) > 0 || !sc.specimen.datable() || sc.specimen.Is(Fossil) == Yes ||
		len(sc.put) == 0 {
		return
	}
	if sc.specimen.SamplingKnown {
		sc.clear("It is recorded that no sampling is planned.", Backing{})
		return
	}
	sc.add(Finding{
		Unknown:  true,
		Severity: Warn,
		Sentence: "Whether samples are planned is not recorded; what is put on now goes into every later sample.",
	})
}

// samplingReach tells how far the treatment reaches where a sample is planned.
func (sc *scene) samplingReach(s PlannedSampling) (Touch, []Area) {
	if s.AreasUnknown || len(s.Areas) == 0 {
		return Fully, nil
	}
	best := Untouched
	var where []Area
	for _, a := range cleaned(s.Areas) {
		if t := sc.touch[sc.atlas.id(a)]; t != Untouched {
			best, where = max(best, t), append(where, a)
		}
	}
	return best, where
}
