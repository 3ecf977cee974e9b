package substance

import (
	"errors"
	"math"
	"strings"

	"meniscus/internal/material"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// sets says how a kind sets, where it is not merely dissolved.
var sets = map[material.Kind]string{
	material.ReactingResin: "sets by reaction",
	material.SettingFill:   "sets with its water",
}

// Of gives what is known of a material that the service itself names.
func (l *Lookup) Of(id string) solution.Component {
	c, _ := l.Known("", id, "", false)
	return c
}

// Known gives what is known of a material, or a fault. The density is left out where
// another is said in its place.
func (l *Lookup) Known(at, id, grade string, dense bool) (solution.Component, bool) {
	m, ok := l.Base.Material(id)
	if !ok {
		l.Faults.Add("material-unknown", at+"/material",
			"No material has this id; /v1/materials lists them. "+
				"A substance of your own is given by its name, with its density.")
		return solution.Component{}, false
	}
	if at != "" {
		l.Named = append(l.Named, m.ID)
	}
	if m.Kind.Mixing() == material.Unmixable {
		l.Faults.Add("material-not-mixable", at+"/material",
			"%s is not a substance that is mixed; name the material itself.", m.Name)
		return solution.Component{}, false
	}
	c := *material.Kept(l.Base, described(m.ID), func() *solution.Component { return l.described(m) })
	if !dense && c.Sets == "" { // a setting material is refused whatever its density is
		d := l.knownDensity(at, m, grade)
		c.Density.Measured, c.Density.Source = d.Measured, d.Source
	}
	return c, true
}

// described is the key of what is known of a material in every grade.
type described string

// described gives what is known of a material in every grade: all but its density.
func (l *Lookup) described(m material.Material) *solution.Component {
	c := solution.Component{ID: m.ID, Name: m.Name, Phase: solution.Solid, Sets: sets[m.Kind]}
	if m.Kind.Mixing() != material.Dissolves {
		c.Phase = solution.Liquid
	}
	c.Resin, c.Polymer = m.Kind == material.Resin || m.Kind == material.NaturalResin, polymer(m)
	c.Cautions = l.cautions(m, c.Phase)
	c.Harmless = l.Base.IsA(m.ID, "water") || l.Base.IsA(m.ID, "hot-water")
	c.Fireproof = c.Harmless || l.Base.IsA(m.ID, "chlorinated-solvents") && !l.saysItBurns(m.ID)
	if c.Phase == solution.Liquid {
		l.liquid(&c)
	}
	c = l.composed(c, m)
	return &c
}

// polymer tells which polymer a material is, in solution.
func polymer(m material.Material) solution.Polymer {
	switch m.Kind {
	case material.Resin, material.NaturalResin, material.Protein, material.CelluloseEther, material.Polyether,
		material.NaturalProduct:
		if m.Family == "thermoplastic acrylic" {
			return solution.Acrylic
		}
		return solution.OtherPolymer
	}
	return ""
}

// knownDensity looks a density up. Its half-width is what the digits and the other
// sources allow, taken as rectangular.
func (l *Lookup) knownDensity(at string, m material.Material, grade string) solution.Density {
	d, err := l.Base.Density(m.ID, grade)
	switch {
	case errors.Is(err, material.ErrGradeNeeded):
		l.Faults.Add("grade-needed", at+"/grade",
			"The density of %s depends on the grade: name one of %s, or give the density.", m.Name,
			strings.Join(l.Base.GradesOf(m.ID, material.DensityProperty), ", "))
		return solution.Density{}
	case err != nil:
		return solution.Density{} // not known: the core says what that leaves open
	}
	return solution.Density{
		Measured: quantity.Measured{Value: d.GPerML, Standard: d.HalfWidth / math.Sqrt(3)},
		Source:   Cited(d.Fact.Evidence),
	}
}

// liquid adds what is known of a liquid among others.
func (l *Lookup) liquid(c *solution.Component) {
	base, id := l.Base, c.ID
	if r, err := base.DensityRatio(id, 20); err == nil {
		c.Density.RatioSource = Cited(r.Evidence)
		c.Density.Ratio = func(celsius float64) (float64, bool) {
			r, err := base.DensityRatio(id, celsius)
			return r.Value, err == nil && !r.Extrapolated
		}
	}
	if t, f, ok := base.Figure(id, "melting-point", material.AnyGrade); ok {
		c.Freezes, c.FreezesSource = &t, Cited(f.Evidence)
	}
	if rate, f, ok := base.Figure(id, material.EvaporationRate, material.AnyGrade); ok {
		c.Evaporation, c.EvaporationSource = rate, Cited(f.Evidence)
	}
	for _, other := range base.Solvents() {
		l.beside(c, other)
	}
}

// beside adds what is known of a liquid together with another.
func (l *Lookup) beside(c *solution.Component, other string) {
	switch l.Base.Miscibility(c.ID, other).Verdict {
	case material.Immiscible:
		c.NotWith = append(c.NotWith, other)
	case material.PartlyMixes:
		c.PartlyWith = append(c.PartlyWith, other)
	}
	for _, x := range l.Base.Contractions(c.ID, other) {
		if percent, ok := x.Change.Mid(); ok {
			c.Contractions = append(c.Contractions,
				solution.Contraction{With: other, Percent: percent, Where: x.Condition, Source: Cited(x.Evidence)})
		}
	}
}

// composed tells ethanol, water and their mixtures by what they are.
func (l *Lookup) composed(c solution.Component, m material.Material) solution.Component {
	c.Ethanol = l.ethanolIn(m.ID)
	if p := c.Ethanol; p != nil && *p > 0 && *p < 1 {
		c.Supplied = []solution.MassShare{
			{Component: l.Of("ethanol"), Fraction: quantity.Exactly(*p)},
			{Component: l.Of("water"), Fraction: quantity.Exactly(1 - *p)},
		}
	}
	return c
}

// ethanolIn is the mass fraction of ethanol in a liquid of ethanol and water.
func (l *Lookup) ethanolIn(id string) *float64 {
	var fraction float64
	switch v, _, spirit := l.Base.Figure(id, "ethanol-mass-fraction", material.AnyGrade); {
	case spirit:
		fraction = v / 100
	case id == "ethanol":
		fraction = 1
	case id != "water":
		return nil
	}
	return &fraction
}

// Cited gives the citation of a value, as the core carries it.
func Cited(e material.Evidence) solution.Source {
	return solution.Source{ID: e.Source.Key, Citation: e.Source.Citation, Status: solution.Status(e.Status)}
}
