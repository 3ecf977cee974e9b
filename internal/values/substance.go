package values

import (
	"errors"
	"math"
	"strings"

	"meniscus/api"
	"meniscus/internal/material"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// Substance is what is said of one substance, wherever it stands.
type Substance struct {
	Material, Grade, Name *string
	Phase                 *api.Phase
	Density, Alcohol      *api.Quantity
	Measured              *quantity.Quantity // its density as the record has it
	Dispersed             bool               // stands where a dispersion is described, with its solids
}

// SubstanceOf reads a request's Substance.
func SubstanceOf(s api.Substance) Substance {
	return Substance{Material: s.Material, Grade: s.Grade, Name: s.Name, Phase: s.Phase, Density: s.Density, Alcohol: s.Alcohol}
}

// Component looks a substance up: what is known of the material, with what the caller
// says in its place.
func (r *Reader) Component(at string, s Substance, phase solution.Phase) solution.Component {
	if s.Phase != nil {
		phase = solution.Phase(*s.Phase)
	}
	c := solution.Component{Phase: phase}
	switch {
	case s.Material != nil:
		known, ok := r.Known(at, *s.Material, s.Grade, s.Density != nil || s.Measured != nil)
		if !ok {
			return c
		}
		r.refuseDispersion(at, s)
		c = known
	case s.Name != nil:
		c.ID = OwnID(*s.Name)
	}
	if s.Name != nil {
		c.Name = *s.Name
	}
	switch {
	case s.Measured != nil:
		c.Density = r.density(at, *s.Measured, c.Density)
	case s.Density != nil:
		c.Density = r.density(at+"/density", r.Quantity(at+"/density", s.Density), c.Density)
	}
	if s.Alcohol != nil {
		c = r.spirit(at+"/alcohol", c, s.Alcohol)
	}
	return c
}

// refuseDispersion refuses a dispersion where a substance is wanted: without its
// solids nobody knows what is in it.
func (r *Reader) refuseDispersion(at string, s Substance) {
	m, _ := r.Base.Material(*s.Material)
	if m.Kind.Mixing() == material.BySolids && !s.Dispersed {
		r.Faults.Add("dispersion-needs-solids", at+"/material", "%s is a dispersion: describe it as one, with its per cent of solids from the label.", m.Name)
	}
}

// density reads a density that the caller gives.
func (r *Reader) density(at string, given quantity.Quantity, known solution.Density) solution.Density {
	if given.IsZero() {
		return known
	}
	m, err := given.Measured(quantity.GramsPerML)
	if err != nil {
		_ = r.Faults.Merge(at, err)
		return known
	}
	known.Measured, known.Source = m, solution.Source{Citation: "density as given in the request", Status: solution.Own}
	return known
}

// spirit reads the strength of a spirit.
func (r *Reader) spirit(at string, c solution.Component, q *api.Quantity) solution.Component {
	given := r.Quantity(at, q)
	percent, err := given.In(quantity.Percent)
	if given.IsZero() || err != nil {
		_ = r.Faults.Merge(at, err)
		return c
	}
	if c.Ethanol == nil && !strings.HasPrefix(c.ID, OwnID("")) {
		r.Faults.Add("not-a-spirit", at, "Only ethanol has a strength by volume; this material is not one.")
		return c
	}
	if percent < 0 || percent > 100 {
		r.Faults.Add("out-of-range", at, "The strength of a spirit is from 0 to 100 %% by volume.")
		return c
	}
	if c.ID == "ethanol" || c.ID == "water" {
		c.Density = solution.Density{}
	}
	c.ID += "@" + given.Value.String()
	ethanol, _ := r.Known("", "ethanol", nil, false)
	water, _ := r.Known("", "water", nil, false)
	return solution.Spirit(c, ethanol, water, percent)
}

// sets says of a kind that it is not merely dissolved.
var sets = map[material.Kind]string{
	material.ReactingResin: "sets by reaction",
	material.SettingFill:   "sets with its water",
}

// Known gives what is known of a material, or a fault.
func (r *Reader) Known(at, id string, grade *string, dense bool) (solution.Component, bool) {
	m, ok := r.Base.Material(id)
	if !ok {
		r.Faults.Add("material-unknown", at+"/material", "No material has this id; /v1/materials lists them. A substance of your own is given by its name, with its density.")
		return solution.Component{}, false
	}
	mixing := m.Kind.Mixing()
	if mixing == material.Unmixable {
		r.Faults.Add("material-not-mixable", at+"/material", "%s is not a substance that is mixed; name the material itself.", m.Name)
		return solution.Component{}, false
	}
	c := solution.Component{ID: m.ID, Name: m.Name, Phase: solution.Solid, Sets: sets[m.Kind], Cautions: r.cautions(m)}
	if mixing != material.Dissolves {
		c.Phase = solution.Liquid
	}
	if !dense && c.Sets == "" { // what sets is refused whatever its density is
		c.Density = r.knownDensity(at, m, grade)
	}
	if c.Phase == solution.Liquid {
		r.liquid(&c)
	}
	return r.composed(c, m), true
}

// knownDensity looks a density up. Its half-width is what the digits and the other
// sources allow, taken as rectangular.
func (r *Reader) knownDensity(at string, m material.Material, grade *string) solution.Density {
	g := ""
	if grade != nil {
		g = *grade
	}
	d, err := r.Base.Density(m.ID, g)
	switch {
	case errors.Is(err, material.ErrGradeNeeded):
		r.Faults.Add("grade-needed", at+"/grade", "The density of %s depends on the grade: name one of %s, or give the density.", m.Name, strings.Join(r.Base.GradesOf(m.ID, material.DensityProperty), ", "))
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
func (r *Reader) liquid(c *solution.Component) {
	base, id := r.Base, c.ID
	if r, err := base.DensityRatio(id, 20); err == nil {
		c.Density.RatioSource = Cited(r.Evidence)
		c.Density.Ratio = func(celsius float64) (float64, bool) {
			r, err := base.DensityRatio(id, celsius)
			return r.Value, err == nil && !r.Extrapolated
		}
	}
	if rate, f, ok := base.Figure(id, material.EvaporationRate, material.AnyGrade); ok {
		c.Evaporation, c.EvaporationSource = rate, Cited(f.Evidence)
	}
	for _, other := range base.Materials(material.Filter{Kinds: []material.Kind{material.Solvent, material.SolventMixture}}) {
		r.beside(c, other.ID)
	}
}

// beside adds what is known of a liquid beside another.
func (r *Reader) beside(c *solution.Component, other string) {
	switch r.Base.Miscibility(c.ID, other).Verdict {
	case material.Immiscible:
		c.NotWith = append(c.NotWith, other)
	case material.PartlyMixes:
		c.PartlyWith = append(c.PartlyWith, other)
	}
	for _, x := range r.Base.Contractions(c.ID, other) {
		if percent, ok := x.Change.Mid(); ok {
			c.Contractions = append(c.Contractions, solution.Contraction{With: other, Percent: percent, Where: x.Condition, Source: Cited(x.Evidence)})
		}
	}
}

// composed tells ethanol, water and their mixtures by what they are.
func (r *Reader) composed(c solution.Component, m material.Material) solution.Component {
	c.Ethanol = r.ethanolIn(m.ID)
	if p := c.Ethanol; p != nil && *p > 0 && *p < 1 {
		ethanol, _ := r.Known("", "ethanol", nil, false)
		water, _ := r.Known("", "water", nil, false)
		c.Supplied = []solution.MassShare{{Component: ethanol, Fraction: quantity.Exactly(*p)}, {Component: water, Fraction: quantity.Exactly(1 - *p)}}
	}
	return c
}

// ethanolIn is the mass fraction of ethanol in a liquid of ethanol and water.
func (r *Reader) ethanolIn(id string) *float64 {
	var fraction float64
	switch v, _, spirit := r.Base.Figure(id, "ethanol-mass-fraction", material.AnyGrade); {
	case spirit:
		fraction = v / 100
	case id == "ethanol":
		fraction = 1
	case id != "water":
		return nil
	}
	return &fraction
}

// cautions are the hazard statements of a material's label, word for word.
func (r *Reader) cautions(m material.Material) []solution.Caution {
	var texts []string
	var source solution.Source
	for _, h := range r.Base.Hazards(m.ID) {
		if st, known := r.Base.Statement(h.Value); known && h.Kind == material.HazardStatement {
			texts = append(texts, strings.TrimSuffix(st.Text(), "."))
			source = Cited(h.Evidence)
		}
	}
	if len(texts) == 0 {
		return nil
	}
	return []solution.Caution{{Sentence: "On the label of " + m.Name + ": " + strings.Join(texts, ". ") + ".", Source: source}}
}

// Cited gives the citation of a value, as the core carries it.
func Cited(e material.Evidence) solution.Source {
	return solution.Source{Citation: e.Source.Citation, Status: solution.Status(e.Status)}
}

// Solvent reads one liquid or a blend.
func (r *Reader) Solvent(at string, s *api.AskedSolvent) solution.Solvent {
	switch {
	case s == nil:
		return solution.Solvent{}
	case s.Liquid != nil:
		return solution.Pure(r.Component(at+"/liquid", SubstanceOf(*s.Liquid), solution.Liquid))
	}
	out := solution.Solvent{By: solution.ShareBy(s.Blend.By)}
	for i, share := range s.Blend.Shares {
		c := r.Component(item(at+"/blend/shares", i), Substance{Material: share.Material, Grade: share.Grade, Name: share.Name, Density: share.Density, Alcohol: share.Alcohol}, solution.Liquid)
		later := share.AfterDissolving != nil && *share.AfterDissolving
		out.Shares = append(out.Shares, solution.SolventShare{Component: c, Fraction: share.Fraction.Float64(), AfterDissolving: later})
	}
	return out
}

// Stock reads a solution that exists.
func (r *Reader) Stock(at string, k api.AskedStock) solution.Stock {
	switch {
	case k.Solution != nil:
		s := k.Solution
		at += "/solution"
		return solution.Stock{
			Name: text(s.Name), Solute: r.Component(at+"/solute", SubstanceOf(s.Solute), solution.Solid),
			Solvent: r.Solvent(at+"/solvent", &s.Solvent), Strength: r.Strength(at+"/strength", &s.Strength),
			Density: r.Quantity(at+"/density", s.Density),
		}
	case k.Dispersion != nil:
		d := k.Dispersion
		at += "/dispersion"
		return solution.Stock{
			Name: text(d.Name), Dispersion: r.Dispersion(at, d),
			Solvent: r.dispersionSolvent(at, d), Strength: r.Strength(at+"/strength", d.Strength),
		}
	}
	out := solution.Stock{Name: text(k.Contents.Name), Density: r.Quantity(at+"/contents/density", k.Contents.Density)}
	for i, p := range k.Contents.Parts {
		place := item(at+"/contents/parts", i)
		c := r.Component(place, Substance{Material: p.Material, Grade: p.Grade, Name: p.Name, Phase: p.Phase, Density: p.Density, Alcohol: p.Alcohol}, solution.Solid)
		out.Contents = append(out.Contents, solution.Content{Component: c, Amount: r.Quantity(place+"/amount", &p.Amount)})
	}
	return out
}

// Dispersion reads a dispersion as supplied; its water is the service's to know.
func (r *Reader) Dispersion(at string, d *api.AskedDispersion) *solution.Dispersion {
	c := r.Component(at, Substance{Material: d.Material, Grade: d.Grade, Name: d.Name, Density: d.Density, Dispersed: true}, solution.Liquid)
	water, _ := r.Known("", "water", nil, false)
	return &solution.Dispersion{Product: c, Solids: r.Quantity(at+"/solids", d.Solids), Water: water}
}

// dispersionSolvent is what a dispersion was diluted with: water, unless it is said.
func (r *Reader) dispersionSolvent(at string, d *api.AskedDispersion) solution.Solvent {
	if d.Solvent != nil {
		return r.Solvent(at+"/solvent", d.Solvent)
	}
	water, _ := r.Known("", "water", nil, false)
	return solution.Pure(water)
}
