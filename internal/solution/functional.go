package solution

import "math"

// Every basis of strength is a ratio of two amounts of the mixture:
//
//	t = N / D
//
//	mass-per-solution-volume   N grams of solids          D millilitres of solution
//	mass-per-solvent-volume    N grams of solids          D millilitres of solvent
//	mass-fraction              N grams of solids          D grams of solution
//	volume-fraction            N millilitres of solute    D millilitres of solution
//	one-in                     as mass-per-solution-volume, said as D/N
//
// All four amounts add up when mixtures are mixed (volumes by the stated model). So
// mixing a with β times as much of b gives t exactly when
//
//	N(a) + β N(b) = t (D(a) + β D(b)),   β = (N(a) − t D(a)) / (t D(b) − N(b))
//
// which is alligation, on every basis. C₁V₁ = C₂V₂ is the case of N(b) = 0 on a
// basis whose D is the measured volume, and holds only there.

// upper is N of a basis.
func (s *system) upper(b Basis, x []float64, g grams) float64 {
	if b == VolumeFraction {
		return s.soluteVolume(x, g)
	}
	return s.solids(g)
}

// lower is D of a basis.
func (s *system) lower(b Basis, x []float64, g grams) float64 {
	switch b {
	case MassPerSolventVolume:
		return s.solventVolume(x, g)
	case MassFraction:
		return g.mass()
	default:
		return s.volume(x, g)
	}
}

// ratio is t of a mixture on a basis.
func (s *system) ratio(b Basis, x []float64, g grams) float64 {
	return s.upper(b, x, g) / s.lower(b, x, g)
}

// diluent gives β, the grams of b to each gram of a that bring the mixture to the
// ratio t; negative or infinite where no amount does. Where volumes contract (ethanol
// with water) the closed form is only the first approximation.
func (s *system) diluent(basis Basis, t float64, x []float64, a, b grams) float64 {
	short := s.upper(basis, x, a) - t*s.lower(basis, x, a)
	gain := t*s.lower(basis, x, b) - s.upper(basis, x, b)
	beta := short / gain
	if !s.contracts() || !(beta > 0) || math.IsInf(beta, 0) || basis == MassFraction {
		return beta
	}
	return bisect(0, 2*beta, func(beta float64) float64 {
		g := plus(a, beta, b)
		return s.upper(basis, x, g) - t*s.lower(basis, x, g)
	})
}

// fill gives the grams of b that bring a to a volume as it is measured.
func (s *system) fill(x []float64, a, b grams, volume float64) float64 {
	grams := (volume - s.poured(x, a)) / s.poured(x, b)
	if !s.contracts() || !(grams > 0) {
		return grams
	}
	return bisect(0, 2*grams, func(grams float64) float64 {
		return s.poured(x, plus(a, grams, b)) - volume
	})
}

// contracts tells whether the system holds ethanol and water of different strengths.
func (s *system) contracts() bool {
	first := -1.0
	for _, c := range s.components {
		switch {
		case c.Ethanol == nil:
		case first < 0:
			first = *c.Ethanol
		case *c.Ethanol != first:
			return true
		}
	}
	return false
}
