package solution

import (
	"fmt"
	"math"

	"meniscus/internal/quantity"
)

// Clearing is when the air has fallen to a list's limit for a working day, counted
// from the start of the release.
type Clearing struct {
	List  string
	Leads bool // its list is one of those that the answer tells first
	// Hours is nil where the air does not come down within a week.
	Hours    *float64
	Sentence string
}

// week is how far ahead the clearing of the air is looked for, h.
const week = 168.0

// clearing finds, for each list, the hour after the release at which Σ Cᵢ/Lᵢ of
// the air at the work falls to 1. In a room without a source that is
//
//	Δt = (V/Q') ln(C₁/C₂)
//
// (university industrial-hygiene notes, read); here the root is found for every
// kind of release alike. A spill that is all vapour at once has no such hour: the
// real one is vapour later.
func (s scene) clearing(limits []LimitComparison) []Clearing {
	x := s.values()
	start := 0.0
	for i := range s.solvent {
		r := s.release(x, i)
		past := math.Max(r.peak(s.room(x)), r.peak(near(x)))
		if steady, ok := r.(steadyRelease); ok {
			past = steady.duration
		}
		start = math.Max(start, math.Min(past, week))
	}
	earliest := ""
	if s.how.Spill != nil {
		earliest = " at the earliest"
	}
	var list []Clearing
	for _, key := range limits {
		if key.Kind != WorkingDay {
			continue
		}
		excess := func(t float64) float64 { return s.indexAt(x, t, key.List) - 1 }
		c := Clearing{List: key.List, Leads: key.Leads,
			Sentence: key.List + ": the air does not fall to the limit within a week."}
		if excess(start) <= 0 {
			start := start
			c.Hours, c.Sentence = &start, key.List+": the air at the work is at or below the number of the limit "+
				"once the release is past its height; it still holds vapour."
		} else if excess(week) < 0 {
			t := bisect(start, week, excess)
			c.Hours, c.Sentence = &t,
				fmt.Sprintf("%s: the air falls to the number of the limit about %s after the start%s; it still holds "+
					"vapour then.", key.List, quantity.SaidHours(t, 2), earliest)
		}
		list = append(list, c)
	}
	return list
}

// indexAt is Σ Cᵢ/Lᵢ at the work after t hours for one list's working-day limits.
func (s scene) indexAt(x []float64, t float64, list string) float64 {
	sum := 0.0
	for i, solvent := range s.solvent {
		r := s.release(x, i)
		c := r.concentration(s.room(x), t) + r.concentration(near(x), t)
		if limit, ok := solvent.limit(list, WorkingDay); ok {
			sum += s.ppm(x, i, c) / limit.PPM
		}
	}
	return sum
}
