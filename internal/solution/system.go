package solution

import (
	"math"
	"slices"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// grams is the canonical form of a mixture: grams of each component of a system, in
// the system's order. Mixing is addition.
type grams []float64

// system holds the substances of one computation, and the inputs that its results
// depend on: densities and measured amounts. A vector x has one number for each
// input; every function of x is evaluated at the nominal values for the answer
// and near them for the uncertainty.
type system struct {
	components []Component
	solute     []bool      // counts as solids (or as the liquid solute)
	aside      []bool      // counts neither as solids nor as solvent
	rho        []densityOf // each component's density; nil where it is not known
	// each component's input that stands in for a density that is not known (without_density.go); -1 for none
	assumed []int
	// each component's input for how its volume changes on dissolving, mL/g; -1 for none
	swells []int
	doubts []Warning // what is odd about the values that were given
	// unknown densities get a stand-in, and only results that do not depend on it are answered
	tolerant bool
	// unlabelled is a dispersion whose per cent of solids is not known, and its input with a stand-in for
	// that; only a dilution by parts takes one (takesUnlabelled).
	unlabelled      string
	unlabelledAt    int
	takesUnlabelled bool
	celsius         float64                   // the temperature at which volumes are measured
	supplied        func(x []float64) float64 // mL of the product as supplied to 1 g of its solids; nil without one
	inputs          []quantity.Input
	given           []float64 // the values of the inputs
}

// densityOf gives a density at 20 °C, g/mL, from the inputs.
type densityOf func(x []float64) float64

func newSystem(celsius float64) *system {
	const usual = 4 // components and inputs, of a resin in a liquid
	return &system{celsius: celsius, components: make([]Component, 0, usual), rho: make([]densityOf, 0, usual),
		inputs: make([]quantity.Input, 0, usual), given: make([]float64, 0, usual)}
}

// add adds a component once, and gives its place.
func (s *system) add(c Component, solute bool) int {
	for i, known := range s.components {
		if known.ID == c.ID {
			s.solute[i] = s.solute[i] || solute
			return i
		}
	}
	return s.addOwn(c, solute)
}

// addOwn adds a component at a place of its own, even if the system has it already.
func (s *system) addOwn(c Component, solute bool) int {
	s.components = append(s.components, c)
	s.solute, s.aside = append(s.solute, solute), append(s.aside, false)
	s.rho, s.assumed, s.swells = append(s.rho, nil), append(s.assumed, -1), append(s.swells, -1)
	place := len(s.components) - 1
	if c.Density.Known() {
		input := s.measure("the density of "+c.Name, quantity.GramsPerML, c.Density.Measured)
		s.rho[place] = func(x []float64) float64 { return x[input] }
		if c.Polymer != "" {
			s.swells[place] = s.measure("the volume of dissolved "+c.Name, quantity.MLPerGram,
				quantity.Measured{Standard: polymerVolume / math.Sqrt(3)})
		}
	} else if s.tolerant {
		s.assume(place)
	}
	return place
}

// measure adds an input, and gives its place in x.
func (s *system) measure(name string, unit quantity.Unit, m quantity.Measured) int {
	s.inputs = append(s.inputs, quantity.Input{Name: name, Unit: unit, Measured: m})
	s.given = append(s.given, m.Value)
	return len(s.inputs) - 1
}

// remeasure gives an input another value.
func (s *system) remeasure(at int, m quantity.Measured) {
	s.inputs[at].Measured = m
	s.given = slices.Clone(s.given)
	s.given[at] = m.Value
}

// nominal gives x at the values that were given; it is only read.
func (s *system) nominal() []float64 { return s.given }

// none is the empty mixture.
func (s *system) none() grams { return make(grams, len(s.components)) }

// plus gives a + f·b; a shorter vector counts as zeros beyond its end.
func plus(a grams, f float64, b grams) grams {
	sum := make(grams, max(len(a), len(b)))
	copy(sum, a)
	for i, g := range b {
		sum[i] += f * g
	}
	return sum
}

// times gives f·a.
func times(f float64, a grams) grams { return plus(nil, f, a) }

// add adds f·b to a mixture that is not needed as it was, and that has a place for each component of b.
func (g grams) add(f float64, b grams) {
	for i, m := range b {
		g[i] += f * m
	}
}

// scale multiplies a mixture that is not needed as it was.
func (g grams) scale(f float64) grams {
	for i := range g {
		g[i] *= f
	}
	return g
}

// only gives the part of a mixture that is solids, or that is solvent.
func (s *system) only(g grams, w which) grams {
	part := times(1, g)
	for i := range part {
		if !s.holds(w, i) {
			part[i] = 0
		}
	}
	return part
}

// mass is the sum, in grams.
func (g grams) mass() float64 {
	var sum float64
	for _, m := range g {
		sum += m
	}
	return sum
}

// solids is the mass of what counts as solids, g.
func (s *system) solids(g grams) float64 {
	var sum float64
	for i, m := range g {
		if s.solute[i] {
			sum += m
		}
	}
	return sum
}

// volume is the volume at 20 °C, mL:
//
//	V = Σᵢ mᵢ/ρᵢ    mᵢ grams and ρᵢ g/mL at 20 °C of each component
//
// with ethanol and water taken together by OIML R 22 (contraction.go). It assumes
// that all other volumes add. Components of unknown density must be ruled out with
// unknownDensities or sayable first; they count as nothing here, or with their stand-in.
func (s *system) volume(x []float64, g grams) float64 {
	return s.volumeOf(x, g, referenceCelsius, everything)
}

// poured is the volume at the temperature at which it is measured, mL.
func (s *system) poured(x []float64, g grams) float64 {
	return s.volumeOf(x, g, s.celsius, everything)
}

// solventVolume is the volume at 20 °C of the solvent alone, as it stands in its
// bottle, mL.
func (s *system) solventVolume(x []float64, g grams) float64 {
	return s.volumeOf(x, g, referenceCelsius, theSolvent)
}

// soluteVolume is the volume at 20 °C of the solids alone, mL.
func (s *system) soluteVolume(x []float64, g grams) float64 {
	return s.volumeOf(x, g, referenceCelsius, theSolute)
}

// which picks the components that a volume is taken of.
type which int

const (
	everything which = iota
	theSolvent
	theSolute
)

// holds tells whether a component is among them.
func (s *system) holds(w which, i int) bool {
	return w == everything || !s.aside[i] && (w == theSolute) == s.solute[i]
}

func (s *system) volumeOf(x []float64, g grams, celsius float64, w which) float64 {
	var sum float64
	var alcohol alcoholGroup
	for i, m := range g {
		if m == 0 || !s.holds(w, i) || s.rho[i] == nil {
			continue
		}
		v := m / s.densityAt(x, i, celsius)
		if s.swells[i] >= 0 && w == everything {
			v += m * x[s.swells[i]]
		}
		sum += v
		if e := s.components[i].Ethanol; e != nil {
			alcohol.add(m, v, *e, celsius)
		}
	}
	return sum + alcohol.contraction(celsius)
}

// referenceCelsius is the temperature of every volume unless it says otherwise.
const referenceCelsius = 20

// densityAt gives the density of component i at a temperature, g/mL. A component
// whose change with temperature is not known keeps its density at 20 °C.
func (s *system) densityAt(x []float64, i int, celsius float64) float64 {
	rho := s.rho[i](x)
	if celsius == referenceCelsius {
		return rho
	}
	return rho * densityRatio(s.components[i], celsius)
}

// unknownDensities names the components present whose density is not known.
func (s *system) unknownDensities(g grams, w which) []string {
	var names []string
	for i, m := range g {
		if m > 0 && !s.knows(i) && s.holds(w, i) {
			names = append(names, s.components[i].Name)
		}
	}
	return names
}

// needDensities refuses a computation that cannot do without a density.
func (s *system) needDensities(g grams, w which, pointer, why string) error {
	names := s.unknownDensities(g, w)
	if len(names) == 0 {
		return nil
	}
	return fault.New("density-needed", pointer,
		"The density of %s is not known here, and %s; give the density, or ask for it by mass.", list(names), why)
}

// Part is one component of a mixture, in grams.
type Part struct {
	ID    string
	Name  string
	Phase Phase
	// Dissolved tells whether it counts as solids (or as the liquid solute).
	Dissolved bool
	// Aside tells that it counts neither as solids nor as solvent.
	Aside bool
	Grams float64
}

// parts lists what is in a mixture, with ready-mixed liquids taken apart.
func (s *system) parts(g grams) []Part {
	var all []Part
	for i, m := range g {
		if m > 0 {
			all = addPart(all, s.components[i], s.solute[i], m)
			all[len(all)-1].Aside = all[len(all)-1].Aside || s.aside[i]
		}
	}
	return all
}

func addPart(all []Part, c Component, dissolved bool, m float64) []Part {
	if len(c.Supplied) > 0 {
		for _, share := range c.Supplied {
			all = addPart(all, share.Component, dissolved, m*share.Fraction.Value)
		}
		return all
	}
	for i := range all {
		if all[i].ID == c.ID && all[i].Dissolved == dissolved {
			all[i].Grams += m
			return all
		}
	}
	return append(all, Part{ID: c.ID, Name: c.Name, Phase: c.Phase, Dissolved: dissolved, Grams: m})
}
