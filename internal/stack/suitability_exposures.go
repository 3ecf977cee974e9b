package stack

import (
	"cmp"
	"regexp"
	"slices"
	"strconv"

	"meniscus/internal/material"
)

// maxExposures is how many liquids in areas are added up.
const maxExposures = 20_000

// exposureTotals adds up the hours of each liquid by named area, and counts what is
// beyond those that are added up.
func (s *Stack) exposureTotals() (totals []ExposureTotal, more int) {
	type key struct {
		area    Area
		solvent string
	}
	at := map[key]int{}
	totals = []ExposureTotal{}
	for _, t := range s.treatments {
		if s.left() {
			break
		}
		areas := s.groundOf(t)
		if len(areas) == 0 {
			areas = []Area{Whole}
		}
		for _, e := range s.exposuresOf(t) {
			for _, a := range areas {
				i, known := at[key{a, e.Solvent}]
				if !known && len(totals) == maxExposures {
					more++
					continue
				}
				if !known {
					i = len(totals)
					at[key{a, e.Solvent}] = i
					totals = append(totals, ExposureTotal{Area: a, Solvent: e.Solvent})
				}
				totals[i].count(t.ID, e.Hours)
			}
		}
	}
	slices.SortFunc(totals, func(a, b ExposureTotal) int {
		return cmp.Or(cmp.Compare(a.Area, b.Area), cmp.Compare(a.Solvent, b.Solvent))
	})
	return totals, more
}

// exposuresOf are the exposures that a treatment states, and the other liquids
// that it brought, without hours.
func (s *Stack) exposuresOf(t *Treatment) []Exposure {
	out := slices.Clone(t.Exposures)
	said := map[string]bool{}
	for _, e := range t.Exposures {
		said[e.Solvent] = true
	}
	liquids, _ := s.knowledge.liquidsOf(t)
	for _, l := range liquids {
		if !said[l.Solvent] {
			out = append(out, Exposure{Solvent: l.Solvent})
		}
	}
	return out
}

func (x *ExposureTotal) count(treatment string, hours *float64) {
	if hours == nil {
		x.Unknown++
	} else {
		x.Hours = plus(x.Hours, *hours)
	}
	if treatment != x.last {
		x.last = treatment
		x.Count++
		x.Treatments = listOnce(x.Treatments, treatment)
	}
}

// plus adds to a sum that is nil until something is known.
func plus(sum *float64, x float64) *float64 {
	if sum != nil {
		x += *sum
	}
	return &x
}

// exposure is what the records say of one kind of exposure.
type exposure struct {
	BearingLayers
	// hours are the most hours of a solvent on one area; open says that there may be
	// more.
	hours float64
	open  bool
}

// exposed reads the exposures that the tables name; more tells whether there are
// others.
func (s *Stack) exposed(totals []ExposureTotal, more bool) []exposure {
	solvent := exposure{BearingLayers: s.exposedTo("solvent-exposure"), open: more}
	byArea := map[Area]float64{}
	for _, x := range totals {
		if x.Hours != nil {
			byArea[x.Area] += *x.Hours
		}
		solvent.hours = max(solvent.hours, byArea[x.Area])
		solvent.open = solvent.open || x.Unknown > 0 || !s.knowledge.known(x.Solvent)
	}
	out := []exposure{solvent}
	for _, subject := range []string{"acid", "heat", "water"} {
		out = append(out, exposure{BearingLayers: s.exposedTo(subject)})
	}
	return out
}

// bearExposures files what the tables say of exposures: hours of solvent, and
// heat, acid and water where a record names them.
func (s *Stack) bearExposures(out *ForAnalysis, filed map[effectFiled]bool, exposed []exposure) {
	for _, x := range exposed {
		for _, e := range s.knowledge.AnalysisEffects(x.Subject, material.UnknownRole, out.Analysis) {
			applies := Unknown // none on record is unknown, not no
			switch {
			case x.Subject == "solvent-exposure":
				applies = meetsHours(e.Condition, x.hours, x.open, x.Count > 0)
			case x.Count > 0:
				applies = Yes
			}
			if applies != No || x.Count > 0 {
				s.fileEffect(out, filed, x.BearingLayers, e, applies)
			}
		}
	}
}

// exposedTo lists the treatments that brought a liquid at all, acid, warm liquid
// or water.
func (s *Stack) exposedTo(subject string) BearingLayers {
	var treatments []string
	var areas []Area
	for _, t := range s.treatments {
		if s.left() {
			break
		}
		if s.brought(t, subject) {
			treatments, areas = append(treatments, t.ID), append(areas, s.groundOf(t)...)
		}
	}
	return BearingLayers{Subject: subject, Count: len(treatments)}.list(treatments, areas)
}

func (s *Stack) brought(t *Treatment, subject string) bool {
	liquids, _ := s.knowledge.liquidsOf(t)
	switch subject {
	case "acid":
		return t.Action == AcidPreparation || s.knowledge.anyIsA(liquids, "acids") ||
			(t.Environment.PH != nil && *t.Environment.PH < 6)
	case "heat":
		return s.knowledge.anyIsA(liquids, "hot-water")
	case "water":
		return s.knowledge.waterborne(liquids) || t.Action == Desalination
	}
	return len(liquids) > 0
}

var hoursCondition = regexp.MustCompile(`(over|under) ([0-9]+) h`)

// meetsHours answers whether a condition such as "polar solvent, over 48 h" is
// met by the hours that are recorded; unrecorded hours leave it open.
func meetsHours(condition string, hours float64, open, exposed bool) Answer {
	m := hoursCondition.FindStringSubmatch(condition)
	if m == nil {
		if exposed {
			return Yes
		}
		return Unknown
	}
	limit, _ := strconv.ParseFloat(m[2], 64)
	over := hours > limit
	switch {
	case m[1] == "over" && over:
		return Yes
	case open || !exposed:
		return Unknown
	case m[1] == "over":
		return No
	case over:
		return No
	}
	return Yes
}
