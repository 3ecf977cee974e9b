package solution

import (
	"meniscus/internal/quantity"
)

// Purity says how much of a solid, as it is weighed, is the substance that it is named for.
// Nil says that all of it is.
type Purity struct {
	// Assay is the per cent by mass of the substance in the product, of the dry product
	// where Moisture is said.
	Assay quantity.Quantity
	// Moisture is the per cent by mass of water in the product, or of what it loses on drying.
	Moisture quantity.Quantity
	// Water is the liquid that the moisture is.
	Water Component
}

// Bounds of an assay and of moisture, %.
var (
	assaySpan    = span{0, 100, true}
	moistureSpan = span{0, 99, false}
)

// solid brings in a solid of a purity as one product. With A the assay of the dry product
// and w its moisture, as fractions, one gram of it is
//
//	A (1 − w)        grams of the substance, which alone counts as solids
//	(1 − A)(1 − w)   grams of other matter, taken to be as dense as the substance
//	w                grams of water
//
// The last two count in the mass and the volume of a solution, and not in its solvent.
func (s *system) solid(c Component, of *Purity, pointer string, check *checker) product {
	place := s.add(c, true)
	if of == nil {
		return s.one(place)
	}
	a := check.maybe(pointer+"/assay", of.Assay, quantity.Percent, assaySpan, 100)
	w := check.maybe(pointer+"/moisture", of.Moisture, quantity.Percent, moistureSpan, 0)
	assay := s.measure("the assay of "+c.Name, quantity.Percent, a)
	moisture := s.measure("the moisture of "+c.Name, quantity.Percent, w)
	rest := s.addAside(Component{ID: c.ID + "/rest", Name: "other matter in " + c.Name, Phase: Solid, Density: c.Density})
	water := s.addAside(Component{ID: c.ID + "/water", Name: "water in " + c.Name, Phase: Liquid,
		Density: of.Water.Density, Fireproof: true, Harmless: true})
	dry := func(x []float64) float64 { return 1 - x[moisture]/100 }
	content := a.Value * (1 - w.Value/100)
	name := c.Name + " of " + quantity.Digits(content, 4) + " % content"
	return product{name: name, id: c.ID, share: func(x []float64) grams {
		g := s.none()
		g[place], g[rest], g[water] = x[assay]/100*dry(x), (1-x[assay]/100)*dry(x), x[moisture]/100
		return g
	}}
}

// addAside adds a component that counts neither as solids nor as solvent.
func (s *system) addAside(c Component) int {
	place := s.addOwn(c, false)
	s.aside[place] = true
	return place
}

// warnPurity says what goes into the jar beside the substance.
func (a *Advice) warnPurity(of *Purity, name string) {
	if of == nil {
		return
	}
	a.warn("weighed-by-content", Info, practice, "What is weighed is by content: the rest of the "+name+
		" goes into the jar too, is not counted in the strength, and is taken to be as dense as the "+name+
		" where it is not water. It may cloud the solution or stay on the bottom.")
}
