package solution

import (
	"fmt"
	"math"

	"meniscus/internal/quantity"
)

// View is one mixture's strength on one basis.
type View struct {
	Basis Basis
	// Unit of the number; mL/g for one-in, and 1 for parts: the second part, to one of
	// the first.
	Unit quantity.Unit
	quantity.Outcome
	Said  string // as a label says it: "20 g per 100 mL solution"
	Range string // the sentence with the uncertainty
	// Unanswered says why there is no number; empty where there is one.
	Unanswered string
}

// Answered tells whether there is a number.
func (v View) Answered() bool { return v.Unanswered == "" }

// Mixture is a solution that a computation came to.
type Mixture struct {
	Parts  []Part
	Mass   quantity.Outcome // g
	Volume Size             // mL at 20 °C
	// SolventVolume is the volume of the solvent alone, mL at 20 °C.
	SolventVolume Size
	Density       Size // g/mL at 20 °C
	Strengths     []View
	Models        []VolumeModel
}

// Size is an outcome that may be out of reach.
type Size struct {
	quantity.Outcome
	Unanswered string // why there is no number; empty where there is one
}

// Answered tells whether there is a number.
func (z Size) Answered() bool { return z.Unanswered == "" }

// On gives the view on a basis.
func (m Mixture) On(b Basis) View {
	for _, v := range m.Strengths {
		if v.Basis == b {
			return v
		}
	}
	return View{Basis: b, Unanswered: "This basis is not computed."}
}

// viewBases are the bases of a table of views, in order.
var viewBases = []Basis{
	MassPerSolutionVolume, MassPerSolventVolume, MassFraction, VolumeFraction,
	PartsByMass, PartsByVolume, OneIn, AsSuppliedVolume,
}

// viewUnits are the units of a view.
var viewUnits = map[Basis]quantity.Unit{
	MassPerSolutionVolume: quantity.GramsPerDL, MassPerSolventVolume: quantity.GramsPerDL,
	MassFraction: quantity.Percent, VolumeFraction: quantity.Percent, AsSuppliedVolume: quantity.Percent,
	PartsByMass: quantity.One, PartsByVolume: quantity.One, OneIn: quantity.MLPerGram,
}

// shown is the number of a mixture on a basis, in its unit.
func (s *system) shown(b Basis, x []float64, g grams) float64 {
	switch b {
	case OneIn:
		return s.volume(x, g) / s.solids(g)
	case PartsByMass:
		return (g.mass() - s.solids(g)) / s.solids(g)
	case PartsByVolume:
		return s.solventVolume(x, g) / s.soluteVolume(x, g)
	case AsSuppliedVolume:
		return 100 * s.solids(g) * s.supplied(x) / s.volume(x, g)
	default:
		return 100 * s.ratio(b, x, g)
	}
}

// whyNot says why a mixture has no number on a basis, or nothing.
func (s *system) whyNot(b Basis, g grams) string {
	wanted := everything
	switch b {
	case MassFraction, PartsByMass:
		return s.whyNoSolids(b, g)
	case MassPerSolventVolume:
		wanted = theSolvent
	case PartsByVolume:
		if s.hasLooseSolids(g) {
			return "A volume of loose solids counts the air between the pieces, which is not known."
		}
	case AsSuppliedVolume:
		if s.supplied == nil {
			return "No product as supplied was named."
		}
	}
	if names := s.unknownDensities(g, wanted); len(names) > 0 {
		return fmt.Sprintf("The density of %s is not known, and this basis counts volumes.", list(names))
	}
	if b == MassPerSolventVolume && s.solids(g) == g.mass() {
		return "There is no solvent in it."
	}
	return s.whyNoSolids(b, g)
}

// whyNoSolids says that a ratio to nothing has no number.
func (s *system) whyNoSolids(b Basis, g grams) string {
	if s.solids(g) == 0 && (b == OneIn || b == PartsByMass || b == PartsByVolume) {
		return "There are no solids in it."
	}
	return ""
}

func (s *system) hasLooseSolids(g grams) bool {
	for i, m := range g {
		if m > 0 && s.solute[i] && s.components[i].Phase == Solid {
			return true
		}
	}
	return false
}

// describe evaluates a mixture with its uncertainty: mix gives its grams from the
// inputs.
func (s *system) describe(mix func(x []float64) grams) Mixture {
	g := mix(s.nominal())
	m := Mixture{Parts: s.parts(g), Models: s.models(s.nominal(), g)}
	why := make([]string, len(viewBases))
	for i, b := range viewBases {
		why[i] = s.whyNot(b, g)
	}
	noVolume, noSolvent := s.whyNot(MassPerSolutionVolume, g), s.whyNot(MassPerSolventVolume, g)
	outcomes := quantity.PropagateAll(s.inputs, len(viewBases)+4, func(x, out []float64) {
		g := mix(x)
		for i, b := range viewBases {
			if out[i] = 0; why[i] == "" {
				out[i] = s.shown(b, x, g)
			}
		}
		rest := out[len(viewBases):]
		rest[0], rest[1], rest[2] = g.mass(), s.volume(x, g), s.solventVolume(x, g)
		if rest[3] = 0; rest[1] > 0 {
			rest[3] = rest[0] / rest[1]
		}
	})
	for i, b := range viewBases {
		m.Strengths = append(m.Strengths, view(b, outcomes[i], why[i]))
	}
	rest := outcomes[len(viewBases):]
	m.Mass, m.Volume, m.SolventVolume, m.Density = rest[0], size(rest[1], noVolume), size(rest[2], noSolvent), size(rest[3], noVolume)
	return m
}

// view puts an outcome into words.
func view(b Basis, o quantity.Outcome, why string) View {
	v := View{Basis: b, Unit: viewUnits[b], Unanswered: why}
	if why == "" && !finite(o.Value, o.Standard) {
		v.Unanswered = "It does not come to a finite number."
	}
	if v.Unanswered != "" {
		return v
	}
	v.Outcome = o
	v.Said = fmt.Sprintf(saidOf[b], number(o.Value))
	v.Range = o.Sentence(v.Unit)
	return v
}

// size keeps an outcome only where it is one.
func size(o quantity.Outcome, why string) Size {
	if why == "" && !finite(o.Value, o.Standard) {
		why = "It does not come to a finite number."
	}
	if why != "" {
		return Size{Unanswered: why}
	}
	return Size{Outcome: o}
}

// wobble gives the expanded uncertainty of a view as a per cent of its value.
func (v View) wobble() float64 {
	if v.Value == 0 {
		return 0
	}
	return 100 * v.Expanded() / math.Abs(v.Value)
}
