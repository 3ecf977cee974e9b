package solution

import (
	"slices"

	"meniscus/internal/quantity"
)

// View is a mixture's strength on one basis.
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
	Mass   Size // g
	Volume Size // mL at 20 °C
	// SolventVolume is the volume of the solvent alone, mL at 20 °C.
	SolventVolume Size
	Density       Size // g/mL at 20 °C
	Strengths     []View
	Models        []VolumeModel
}

// Size is an outcome that may be unknown.
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

// unanswered says why a mixture of g grams has no number on a basis, or nothing.
func (s *system) unanswered(b Basis, g grams, mix func(x []float64) grams) string {
	if why := s.whyNot(b, g); why != "" {
		return why
	}
	return s.unsayable(b, g, func(x []float64) float64 { return s.shown(b, x, mix(x)) })
}

// unsized says why there is no such figure of a mixture, or nothing.
func (s *system) unsized(z sizing, g grams, mix func(x []float64) grams) string {
	if why := s.whyNot(z.like, g); why != "" {
		return why
	}
	return s.unsayable(z.like, g, func(x []float64) float64 { return z.of(s, x, mix(x)) })
}

// whyNot says why a mixture can never have a number on a basis, or nothing.
func (s *system) whyNot(b Basis, g grams) string {
	switch {
	case b == PartsByVolume && s.hasLooseSolids(g):
		return "A volume of loose solids counts the air between the pieces, which is not known."
	case b == AsSuppliedVolume && s.supplied == nil:
		return "No product as supplied was named."
	case b == MassPerSolventVolume && s.solids(g) == g.mass():
		return "There is no solvent in it."
	}
	return s.whyNoSolids(b, g)
}

// unsayable names the missing density that a figure depends on, or nothing.
func (s *system) unsayable(b Basis, g grams, f func(x []float64) float64) string {
	wanted := everything
	switch {
	case s.tolerant:
	case b == MassFraction || b == PartsByMass:
		return ""
	case b == MassPerSolventVolume:
		wanted = theSolvent
	}
	if s.sayable(g, wanted, f) {
		return ""
	}
	return s.noDensity(g, wanted)
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

// describe evaluates a mixture with its uncertainty on the bases that are wanted, or on all
// if none is named: mix gives its grams from the inputs, and may use the same place for them each time.
func (s *system) describe(mix func(x []float64) grams, wanted ...Basis) Mixture {
	x := s.nominal()
	g := slices.Clone(mix(x))
	m := Mixture{Parts: s.forget(s.parts(g), mix), Models: s.models(x, g)}
	bases := viewBases
	if len(wanted) > 0 {
		bases = slices.DeleteFunc(slices.Clone(viewBases), func(b Basis) bool { return !slices.Contains(wanted, b) })
	}
	why := make([]string, len(bases)+len(sizes))
	for i, b := range bases {
		why[i] = s.unanswered(b, g, mix)
	}
	for i, size := range sizes {
		why[len(bases)+i] = s.unsized(size, g, mix)
	}
	outcomes := quantity.PropagateAll(s.inputs, len(why), func(x, out []float64) {
		g := mix(x)
		for i := range why {
			switch {
			case why[i] != "":
				out[i] = 0
			case i < len(bases):
				out[i] = s.shown(bases[i], x, g)
			default:
				out[i] = sizes[i-len(bases)].of(s, x, g)
			}
		}
	})
	m.Strengths = make([]View, len(bases))
	for i, b := range bases {
		m.Strengths[i] = view(b, outcomes[i], why[i])
	}
	for i, into := range [...]*Size{&m.Mass, &m.Volume, &m.SolventVolume, &m.Density} {
		*into = size(outcomes[len(bases)+i], why[len(bases)+i])
	}
	return m
}

// sizing is a figure of a mixture.
type sizing struct {
	like Basis // can be said where this basis can
	of   func(s *system, x []float64, g grams) float64
}

// sizes are the other figures of a mixture: mass, volume, volume of the solvent and
// density.
var sizes = [...]sizing{
	{MassFraction, func(_ *system, _ []float64, g grams) float64 { return g.mass() }},
	{MassPerSolutionVolume, (*system).volume},
	{MassPerSolventVolume, (*system).solventVolume},
	{MassPerSolutionVolume, func(s *system, x []float64, g grams) float64 { return g.mass() / s.volume(x, g) }},
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
	v.Said = said(b, o.Said())
	v.Range = o.Sentence(v.Unit)
	return v
}

// size is an outcome, or why there is none.
func size(o quantity.Outcome, why string) Size {
	if why == "" && !finite(o.Value, o.Standard) {
		why = "It does not come to a finite number."
	}
	if why != "" {
		return Size{Unanswered: why}
	}
	return Size{Outcome: o}
}
