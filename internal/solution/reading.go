package solution

import (
	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// Reading is a possible meaning of a number: the solution that it stands for on one basis.
type Reading struct {
	Strength Strength
	Said     string // "20 g per 100 mL solution"
	// GramsPer100mL is the solids in 100 mL of the finished solution, g: the
	// difference that matters at the specimen. 0 where it cannot be computed.
	GramsPer100mL float64
	// GramsToSolvent is the solids to weigh for 100 mL of solvent, g; 0 where it cannot
	// be computed.
	GramsToSolvent float64
	// MassPercent is the mass fraction, %; 0 where it cannot be computed.
	MassPercent float64
	// Mixture is the solution on every basis.
	Mixture Mixture
	// Unanswered says why the reading cannot be computed; empty where it was.
	Unanswered string
}

// readingBases are the bases that a bare number or "%" may mean.
var readingBases = []Basis{MassPerSolutionVolume, MassPerSolventVolume, MassFraction, VolumeFraction}

// candidates are the strengths that a number without a basis may stand for, by the unit
// that it was written in.
func (s Strength) candidates() []Strength {
	on := func(unit quantity.Unit, bases ...Basis) []Strength {
		var all []Strength
		for _, b := range bases {
			n := s.Number
			if n.Unit = unit; unit == "" {
				n.Unit = b.Unit()
			}
			all = append(all, Strength{Basis: b, Number: n})
		}
		return all
	}
	switch {
	case s.Number.Unit == Proof:
		return append(on(quantity.USProof, VolumeFraction), on(quantity.BritishProof, VolumeFraction)...)
	case s.Number.Unit.Kind() == quantity.MassPerVolume:
		return on(s.Number.Unit, MassPerSolutionVolume, MassPerSolventVolume)
	}
	return on("", readingBases...)
}

// Readings gives every reading of a number without a basis for a solute in a solvent,
// side by side. A reading that is not possible (110 % by mass) says why.
func Readings(of Strength, solute Component, solvent Solvent) []Reading {
	var all []Reading
	for _, s := range of.candidates() {
		all = append(all, reading(s, Stock{Solute: solute, Solvent: solvent}))
	}
	return all
}

// reading computes one reading; k says what is dissolved in what.
func reading(of Strength, k Stock) Reading {
	k.Strength = of
	r := Reading{Strength: of, Said: of.said()}
	s, c := newSystem(referenceCelsius), &checker{}
	p := s.stock(k, "", c)
	if len(c.faults) > 0 {
		r.Unanswered = c.faults[0].Detail
		return r
	}
	r.Mixture = s.describe(p.share)
	r.GramsPer100mL = r.Mixture.On(MassPerSolutionVolume).Value
	r.GramsToSolvent = r.Mixture.On(MassPerSolventVolume).Value
	r.MassPercent = r.Mixture.On(MassFraction).Value
	return r
}

// NeedsBasis gives the fault of a strength without a basis, or of a wanted one whose
// basis is unknown, carrying every reading of its number for this solute and solvent;
// nil where a basis was said.
func NeedsBasis(strength Strength, pointer string, solute Component, solvent Solvent) *fault.Fault {
	if strength.Basis != "" && strength.Basis != UnknownBasis {
		return nil
	}
	if strength.Number.IsZero() {
		return fault.New("strength-missing", pointer, "A strength is needed here: its number and its basis.")
	}
	readings := Readings(strength, solute, solvent)
	f := fault.New("strength-basis-missing", pointer+"/basis",
		"A strength needs its basis: this number has %d readings, and they are different solutions. Choose "+
			"one of them.", len(readings))
	if strength.Basis == UnknownBasis {
		f = fault.New("strength-basis-unknown", pointer+"/basis",
			"What is wanted must be one solution, and a number of unknown basis has %d readings. Choose one of them.",
			len(readings))
	}
	f.Extra = map[string]any{"readings": readings}
	return f
}

// needsBasis refuses a stock whose strength has no basis, with every reading of it.
func (k Stock) needsBasis(pointer string) *fault.Fault {
	if len(k.Contents) > 0 || k.isUnknown() || (k.Dispersion != nil && k.Strength.Number.IsZero()) {
		return nil
	}
	return NeedsBasis(k.Strength, pointer+k.form()+"/strength", k.Solute, k.Solvent)
}
