package solution

import (
	"math"
	"slices"

	"meniscus/internal/quantity"
)

// What can be said without a density.
//
// Filling to a mark needs none: 10 g weighed into a vessel and filled to 100 mL is
// 10 g per 100 mL whatever the solid's density is. So an unknown density is given a
// stand-in. A result that is the same with two other stand-ins far from it does not
// depend on the density, and is answered. All other results are left out, with the
// reason: no number of an answer depends on a stand-in.

// standIns are the densities, g/mL, that stand in for an unknown one. That of a solid
// is larger than any resin's or salt's in use, so that no strength is refused because
// of a stand-in volume.
var standIns = map[Phase]float64{Solid: 5, Liquid: 1}

// otherwise are the factors by which the stand-ins are changed to find what depends
// on them. Each density is changed differently, so that two changes cannot cancel.
var otherwise = []float64{0.5, 2}

// sameWithin is how far apart, in proportion, two results are that do not differ: far
// above rounding in float64, and far below any balance.
const sameWithin = 1e-9

// assume gives a component of unknown density its stand-in.
func (s *system) assume(place int) {
	at := s.measure("", quantity.GramsPerML, quantity.Exactly(standIns[s.components[place].Phase]))
	s.assumed[place] = at
	s.rho[place] = func(x []float64) float64 { return x[at] }
}

// setDensity gives a component a density that follows from others.
func (s *system) setDensity(place int, rho densityOf) {
	s.rho[place], s.assumed[place], s.swells[place] = rho, -1, -1
}

// knows tells whether the density of a component is known.
func (s *system) knows(place int) bool { return s.rho[place] != nil && s.assumed[place] < 0 }

// elsewhere gives the inputs with other stand-ins; none if no density is assumed.
func (s *system) elsewhere() [][]float64 {
	if s.unlabelled == "" && !slices.ContainsFunc(s.assumed, func(at int) bool { return at >= 0 }) {
		return nil
	}
	var all [][]float64
	for _, factor := range otherwise {
		x := slices.Clone(s.nominal())
		for place, at := range s.assumed {
			if at >= 0 {
				x[at] *= factor * (1 + float64(place)/7)
			}
		}
		if s.unlabelled != "" {
			x[s.unlabelledAt] *= factor
		}
		all = append(all, x)
	}
	return all
}

// settled tells whether a result is independent of the unknown densities.
func (s *system) settled(f func(x []float64) float64) bool {
	others := s.elsewhere()
	if others == nil {
		return true
	}
	here := f(s.nominal())
	for _, x := range others {
		if there := f(x); !finite(there) || math.Abs(there-here) > sameWithin*math.Abs(here) {
			return false
		}
	}
	return true
}

// sayable tells whether a result of a mixture is known: its densities are known, or do
// not affect it.
func (s *system) sayable(g grams, w which, f func(x []float64) float64) bool {
	return len(s.unknownDensities(g, w)) == 0 || (s.tolerant && s.settled(f))
}

// forget clears the grams of each part that depend on an unknown density.
func (s *system) forget(parts []Part, mix func(x []float64) grams) []Part {
	for _, x := range s.elsewhere() {
		others := s.parts(mix(x))
		for i := range parts {
			if len(others) != len(parts) || math.Abs(others[i].Grams-parts[i].Grams) > sameWithin*parts[i].Grams {
				parts[i].Grams = 0
			}
		}
	}
	return parts
}

// noDensity names the missing density of a mixture; empty where all are known.
func (s *system) noDensity(g grams, w which) string {
	names := s.unknownDensities(g, w)
	switch {
	case len(names) == 0:
		return ""
	case s.unlabelled != "":
		return "It depends on the per cent of solids of " + s.unlabelled + ", which is not known."
	case s.tolerant:
		return "It depends on the density of " + list(names) + ", which is not known."
	default:
		return "The density of " + list(names) + " is not known, and this basis counts volumes."
	}
}
