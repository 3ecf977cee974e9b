// Package substance gives what is known of materials in the form in which
// package solution computes with it.
//
// It promises that a substance is looked up in one way, whether it is asked about
// at the bench or stands on record. What it cannot find is a fault with a pointer
// below the place that the caller names; the caller decides whether it matters.
// It computes nothing.
package substance

import (
	"strings"

	"meniscus/internal/fault"
	"meniscus/internal/material"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// Lookup looks substances up, and gathers what it cannot find.
type Lookup struct {
	Base   *material.Base
	Faults fault.List
	// Named are the materials and containers that were looked up by their ids, in order.
	Named []string
	// Country is where the caller is, a code of ISO 3166; "" is not said.
	Country string
}

// Said is what a request or a record says of one substance.
type Said struct {
	Material, Grade, Name string
	Phase                 solution.Phase // none: what its place suggests
	Dense                 bool           // its density is said too: see WithDensity
	Dispersed             bool           // it stands where a dispersion is described, with its solids
}

// Find looks a substance up: what is known of the material, with a stated name in
// place of its own. False says that there is no such material.
func (l *Lookup) Find(at string, s Said, phase solution.Phase) (solution.Component, bool) {
	if s.Phase != "" {
		phase = s.Phase
	}
	c := solution.Component{Phase: phase}
	switch {
	case s.Material != "":
		known, ok := l.Known(at, s.Material, s.Grade, s.Dense)
		if !ok {
			return c, false
		}
		l.refuseDispersion(at, s)
		c = known
	case s.Name != "":
		c.ID = OwnID(s.Name)
	}
	if s.Name != "" {
		c.Name = s.Name
	}
	if s.Material == "" && c.Phase == solution.Liquid {
		c.Cautions = []solution.Caution{unknownHazards(c.Name)}
	}
	return c, true
}

// refuseDispersion refuses a dispersion where a substance is wanted: without its
// solids its contents are unknown.
func (l *Lookup) refuseDispersion(at string, s Said) {
	m, _ := l.Base.Material(s.Material)
	if m.Kind.Mixing() == material.BySolids && !s.Dispersed {
		l.Faults.Add("dispersion-needs-solids", at+"/material",
			"%s is a dispersion: describe it as one, with its per cent of solids from the label.", m.Name)
	}
}

// Where a density was said.
var (
	InRequest = solution.Cited("density-given", solution.Own)
	OfSupply  = solution.Cited("density-of-supply", solution.Own)
)

// WithDensity replaces the known density by a stated one.
func (l *Lookup) WithDensity(
	at string, c solution.Component, said quantity.Quantity, where solution.Source,
) solution.Component {
	if said.IsZero() {
		return c
	}
	m, err := said.Measured(quantity.GramsPerML)
	if err != nil {
		_ = l.Faults.Merge(at, err)
		return c
	}
	c.Density.Measured = m
	c.Density.Source = where
	return c
}

// WithAlcohol makes ethanol a spirit of a strength by volume, or of a proof.
func (l *Lookup) WithAlcohol(at string, c solution.Component, said quantity.Quantity) solution.Component {
	if said.IsZero() {
		return c
	}
	percent, err := solution.SpiritPercent(said)
	switch {
	case err != nil:
		_ = l.Faults.Merge(at, err)
		return c
	case c.Ethanol == nil && !strings.HasPrefix(c.ID, OwnID("")):
		l.Faults.Add("not-a-spirit", at, "Only ethanol has a strength by volume; this material is not one.")
		return c
	case percent < 0 || percent > 100:
		l.Faults.Add("out-of-range", at, "The strength of a spirit is from 0 to 100 %% by volume.")
		return c
	}
	if c.ID == "ethanol" || c.ID == "water" {
		c.Density = solution.Density{}
	}
	c.ID += "@" + quantity.Digits(percent, 10)
	return solution.Spirit(c, l.Of("ethanol"), l.Of("water"), percent)
}

// OwnID is the id, in a computation, of a substance that the caller named.
func OwnID(name string) string { return "name:" + strings.ToLower(name) }
