package httpapi

import (
	"errors"
	"math"
	"strings"

	"meniscus/api"
	"meniscus/internal/material"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// substance is what a request says of one substance, wherever it stands.
type substance struct {
	material, grade, name *string
	phase                 *api.Phase
	density, alcohol      *api.Quantity
	dispersed             bool // stands where a dispersion is described, with its solids
}

func substanceOf(s api.Substance) substance {
	return substance{material: s.Material, grade: s.Grade, name: s.Name, phase: s.Phase, density: s.Density, alcohol: s.Alcohol}
}

// component looks a substance up: what is known of the material, with what the caller
// says in its place.
func (a *asking) component(at string, s substance, phase solution.Phase) solution.Component {
	if s.phase != nil {
		phase = solution.Phase(*s.phase)
	}
	c := solution.Component{Phase: phase}
	switch {
	case s.material != nil:
		known, ok := a.known(at, *s.material, s.grade, s.density != nil)
		if !ok {
			return c
		}
		a.refuseDispersion(at, s)
		c = known
	case s.name != nil:
		c.ID = ownID(*s.name)
	}
	if s.name != nil {
		c.Name = *s.name
	}
	if s.density != nil {
		c.Density = a.density(at+"/density", s.density, c.Density)
	}
	if s.alcohol != nil {
		c = a.spirit(at+"/alcohol", c, s.alcohol)
	}
	return c
}

// refuseDispersion refuses a dispersion where a substance is wanted: without its
// solids nobody knows what is in it.
func (a *asking) refuseDispersion(at string, s substance) {
	m, _ := a.base.Material(*s.material)
	if m.Kind.Mixing() == material.BySolids && !s.dispersed {
		a.faults.Add("dispersion-needs-solids", at+"/material", "%s is a dispersion: describe it as one, with its per cent of solids from the label.", m.Name)
	}
}

// density reads a density that the caller gives.
func (a *asking) density(at string, q *api.Quantity, known solution.Density) solution.Density {
	given := a.quantity(at, q)
	if given.IsZero() {
		return known
	}
	m, err := given.Measured(quantity.GramsPerML)
	if err != nil {
		_ = a.faults.Merge(at, err)
		return known
	}
	known.Measured, known.Source = m, solution.Source{Citation: "density as given in the request", Status: solution.Own}
	return known
}

// spirit reads the strength of a spirit.
func (a *asking) spirit(at string, c solution.Component, q *api.Quantity) solution.Component {
	given := a.quantity(at, q)
	percent, err := given.In(quantity.Percent)
	if given.IsZero() || err != nil {
		_ = a.faults.Merge(at, err)
		return c
	}
	if c.Ethanol == nil && !strings.HasPrefix(c.ID, ownID("")) {
		a.faults.Add("not-a-spirit", at, "Only ethanol has a strength by volume; this material is not one.")
		return c
	}
	if percent < 0 || percent > 100 {
		a.faults.Add("out-of-range", at, "The strength of a spirit is from 0 to 100 %% by volume.")
		return c
	}
	if c.ID == "ethanol" || c.ID == "water" {
		c.Density = solution.Density{}
	}
	c.ID += "@" + given.Value.String()
	ethanol, _ := a.known("", "ethanol", nil, false)
	water, _ := a.known("", "water", nil, false)
	return solution.Spirit(c, ethanol, water, percent)
}

// sets says of a kind that it is not merely dissolved.
var sets = map[material.Kind]string{
	material.ReactingResin: "sets by reaction",
	material.SettingFill:   "sets with its water",
}

// known gives what is known of a material, or a fault.
func (a *asking) known(at, id string, grade *string, dense bool) (solution.Component, bool) {
	m, ok := a.base.Material(id)
	if !ok {
		a.faults.Add("material-unknown", at+"/material", "No material has this id; /v1/materials lists them. A substance of your own is given by its name, with its density.")
		return solution.Component{}, false
	}
	mixing := m.Kind.Mixing()
	if mixing == material.Unmixable {
		a.faults.Add("material-not-mixable", at+"/material", "%s is not a substance that is mixed; name the material itself.", m.Name)
		return solution.Component{}, false
	}
	c := solution.Component{ID: m.ID, Name: m.Name, Phase: solution.Solid, Sets: sets[m.Kind], Cautions: a.cautions(m)}
	if mixing != material.Dissolves {
		c.Phase = solution.Liquid
	}
	if !dense && c.Sets == "" { // what sets is refused whatever its density is
		c.Density = a.knownDensity(at, m, grade)
	}
	if c.Phase == solution.Liquid {
		a.liquid(&c)
	}
	return a.composed(c, m), true
}

// knownDensity looks a density up. Its half-width is what the digits and the other
// sources allow, taken as rectangular.
func (a *asking) knownDensity(at string, m material.Material, grade *string) solution.Density {
	g := ""
	if grade != nil {
		g = *grade
	}
	d, err := a.base.Density(m.ID, g)
	switch {
	case errors.Is(err, material.ErrGradeNeeded):
		a.faults.Add("grade-needed", at+"/grade", "The density of %s depends on the grade: name one of %s, or give the density.", m.Name, strings.Join(a.base.GradesOf(m.ID, material.DensityProperty), ", "))
		return solution.Density{}
	case err != nil:
		return solution.Density{} // not known: the core says what that leaves open
	}
	return solution.Density{
		Measured: quantity.Measured{Value: d.GPerML, Standard: d.HalfWidth / math.Sqrt(3)},
		Source:   evidenceSource(d.Fact.Evidence),
	}
}

// liquid adds what is known of a liquid among others.
func (a *asking) liquid(c *solution.Component) {
	base, id := a.base, c.ID
	if r, err := base.DensityRatio(id, 20); err == nil {
		c.Density.RatioSource = evidenceSource(r.Evidence)
		c.Density.Ratio = func(celsius float64) (float64, bool) {
			r, err := base.DensityRatio(id, celsius)
			return r.Value, err == nil && !r.Extrapolated
		}
	}
	if rate, f, ok := base.Figure(id, material.EvaporationRate, material.AnyGrade); ok {
		c.Evaporation, c.EvaporationSource = rate, evidenceSource(f.Evidence)
	}
	for _, other := range base.Materials(material.Filter{Kinds: []material.Kind{material.Solvent, material.SolventMixture}}) {
		a.beside(c, other.ID)
	}
}

// beside adds what is known of a liquid beside another.
func (a *asking) beside(c *solution.Component, other string) {
	switch a.base.Miscibility(c.ID, other).Verdict {
	case material.Immiscible:
		c.NotWith = append(c.NotWith, other)
	case material.PartlyMixes:
		c.PartlyWith = append(c.PartlyWith, other)
	}
	for _, x := range a.base.Contractions(c.ID, other) {
		if percent, ok := x.Change.Mid(); ok {
			c.Contractions = append(c.Contractions, solution.Contraction{With: other, Percent: percent, Where: x.Condition, Source: evidenceSource(x.Evidence)})
		}
	}
}

// composed tells ethanol, water and their mixtures by what they are.
func (a *asking) composed(c solution.Component, m material.Material) solution.Component {
	c.Ethanol = a.ethanolIn(m.ID)
	if p := c.Ethanol; p != nil && *p > 0 && *p < 1 {
		ethanol, _ := a.known("", "ethanol", nil, false)
		water, _ := a.known("", "water", nil, false)
		c.Supplied = []solution.MassShare{{Component: ethanol, Fraction: quantity.Exactly(*p)}, {Component: water, Fraction: quantity.Exactly(1 - *p)}}
	}
	return c
}

// cautions are the hazard statements of a material's label, word for word.
func (a *asking) cautions(m material.Material) []solution.Caution {
	var texts []string
	var source solution.Source
	for _, h := range a.base.Hazards(m.ID) {
		if st, known := a.base.Statement(h.Value); known && h.Kind == material.HazardStatement {
			texts = append(texts, strings.TrimSuffix(st.Text(), "."))
			source = evidenceSource(h.Evidence)
		}
	}
	if len(texts) == 0 {
		return nil
	}
	return []solution.Caution{{Sentence: "On the label of " + m.Name + ": " + strings.Join(texts, ". ") + ".", Source: source}}
}

// evidenceSource gives the citation of a value, as the core carries it.
func evidenceSource(e material.Evidence) solution.Source {
	return solution.Source{Citation: e.Source.Citation, Status: solution.Status(e.Status)}
}

// solvent reads one liquid or a blend.
func (a *asking) solvent(at string, s *api.AskedSolvent) solution.Solvent {
	switch {
	case s == nil:
		return solution.Solvent{}
	case s.Liquid != nil:
		return solution.Pure(a.component(at+"/liquid", substanceOf(*s.Liquid), solution.Liquid))
	}
	out := solution.Solvent{By: solution.ShareBy(s.Blend.By)}
	for i, share := range s.Blend.Shares {
		c := a.component(item(at+"/blend/shares", i), substance{material: share.Material, grade: share.Grade, name: share.Name, density: share.Density, alcohol: share.Alcohol}, solution.Liquid)
		later := share.AfterDissolving != nil && *share.AfterDissolving
		out.Shares = append(out.Shares, solution.SolventShare{Component: c, Fraction: share.Fraction.Float64(), AfterDissolving: later})
	}
	return out
}

// stock reads a solution that exists.
func (a *asking) stock(at string, k api.AskedStock) solution.Stock {
	switch {
	case k.Solution != nil:
		s := k.Solution
		at += "/solution"
		return solution.Stock{
			Name: text(s.Name), Solute: a.component(at+"/solute", substanceOf(s.Solute), solution.Solid),
			Solvent: a.solvent(at+"/solvent", &s.Solvent), Strength: a.strength(at+"/strength", &s.Strength),
			Density: a.quantity(at+"/density", s.Density),
		}
	case k.Dispersion != nil:
		d := k.Dispersion
		at += "/dispersion"
		return solution.Stock{
			Name: text(d.Name), Dispersion: a.dispersion(at, d),
			Solvent: a.dispersionSolvent(at, d), Strength: a.strength(at+"/strength", d.Strength),
		}
	}
	out := solution.Stock{Name: text(k.Contents.Name), Density: a.quantity(at+"/contents/density", k.Contents.Density)}
	for i, p := range k.Contents.Parts {
		place := item(at+"/contents/parts", i)
		c := a.component(place, substance{material: p.Material, grade: p.Grade, name: p.Name, phase: p.Phase, density: p.Density, alcohol: p.Alcohol}, solution.Solid)
		out.Contents = append(out.Contents, solution.Content{Component: c, Amount: a.quantity(place+"/amount", &p.Amount)})
	}
	return out
}

// dispersion reads a dispersion as supplied; its water is the service's to know.
func (a *asking) dispersion(at string, d *api.AskedDispersion) *solution.Dispersion {
	c := a.component(at, substance{material: d.Material, grade: d.Grade, name: d.Name, density: d.Density, dispersed: true}, solution.Liquid)
	water, _ := a.known("", "water", nil, false)
	return &solution.Dispersion{Product: c, Solids: a.quantity(at+"/solids", d.Solids), Water: water}
}

// dispersionSolvent is what a dispersion was diluted with: water, unless it is said.
func (a *asking) dispersionSolvent(at string, d *api.AskedDispersion) solution.Solvent {
	if d.Solvent != nil {
		return a.solvent(at+"/solvent", d.Solvent)
	}
	water, _ := a.known("", "water", nil, false)
	return solution.Pure(water)
}
