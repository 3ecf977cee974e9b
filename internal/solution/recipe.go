package solution

import (
	"slices"

	"meniscus/internal/quantity"
)

// Way is how a recipe is measured out.
type Way string

const (
	// ToTheMark: the last liquid fills the vessel to a mark at the finished volume.
	ToTheMark Way = "to-the-mark"
	// SolventByVolume: every liquid is measured by itself, and the finished volume
	// comes out as it will.
	SolventByVolume Way = "solvent-by-volume"
	// ByWeight: everything is weighed into one vessel.
	ByWeight Way = "by-weight"
)

// wayOf is the way that a basis is defined by.
func wayOf(b Basis) Way {
	switch b {
	case MassFraction, PartsByMass:
		return ByWeight
	case MassPerSolventVolume, PartsByVolume:
		return SolventByVolume
	default:
		return ToTheMark
	}
}

// Role is what an ingredient is in a recipe.
type Role string

const (
	ResinRole      Role = "resin"
	StockRole      Role = "stock"
	DispersionRole Role = "dispersion"
	SolventRole    Role = "solvent"
	LaterRole      Role = "solvent-after-dissolving"
)

// How is what the hands do with an ingredient.
type How string

const (
	Weigh  How = "weigh"
	Pour   How = "pour"
	FillUp How = "fill-to-the-mark"
)

// Ingredient is one line of a recipe.
type Ingredient struct {
	ID, Name string
	Role     Role
	How      How
	// Exact and Rounded are the amount to measure, in Unit (g or mL); for a liquid that
	// fills to the mark, the amount to expect, and Mark is what is measured.
	Unit           quantity.Unit
	Exact, Rounded float64
	// Shown is the rounded amount (of what fills to a mark, the mark) in the unit that
	// the instrument shows; nothing where that is grams or millilitres.
	Shown Shown
	// Mark is the finished volume, mL, of the liquid that fills to it; 0 for others.
	Mark float64
	// Grams and Millilitres are the exact amount both ways; Millilitres is as measured,
	// and 0 where the density is not known.
	Grams, Millilitres float64
}

// Shown is a number in the unit of an instrument.
type Shown struct {
	Value float64
	Unit  quantity.Unit
}

// Recipe is one way to make a mixture.
type Recipe struct {
	Way         Way
	Ingredients []Ingredient // in pouring order
	// AsRounded is what the rounded amounts give, with the uncertainty of the
	// instruments.
	AsRounded Mixture
	// TooCoarse says why the rounded amounts give nothing; empty where they do.
	TooCoarse string
	Steps     []string
	// Unanswered says why there is no such recipe; empty where there is one.
	Unanswered string
}

// plan is a mixture that was decided on: alpha grams of a, and of each liquid so many
// grams to one of a.
type plan struct {
	s       *system
	a       product
	role    Role
	alpha   float64
	liquids []pouring
	gauges  gauges
	faults  *checker
}

// pouring is one liquid of a plan.
type pouring struct {
	product
	perGram float64 // grams to one gram of a
	later   bool    // goes in after dissolving
}

// plan takes the solvent of a mixture apart into what is poured.
func (s *system) plan(a product, role Role, v Solvent, alpha, beta float64, g gauges, c *checker) plan {
	p := plan{s: s, a: a, role: role, alpha: alpha, gauges: g, faults: c}
	liquids := s.liquids(v)
	for i, w := range s.massFractions(s.nominal(), v, liquids) {
		p.liquids = append(p.liquids, pouring{liquids[i], beta * w, v.Shares[i].AfterDissolving})
	}
	return p
}

// filler is the liquid that fills to the mark: the largest that goes in first.
func (p plan) filler() int {
	best := 0
	for i, liquid := range p.liquids {
		now, was := p.liquids[best], liquid
		if (now.later && !was.later) || (now.later == was.later && was.perGram > now.perGram) {
			best = i
		}
	}
	return best
}

// order gives the liquids in pouring order: the filler or main one first, those that
// go in after dissolving last.
func (p plan) order() []int {
	main := p.filler()
	order := []int{main}
	for _, later := range []bool{false, true} {
		for i, liquid := range p.liquids {
			if i != main && liquid.later == later && liquid.perGram > 0 {
				order = append(order, i)
			}
		}
	}
	return order
}

// exact is the mixture as planned.
func (p plan) exact(x []float64) grams {
	g := times(p.alpha, p.a.share(x))
	for _, liquid := range p.liquids {
		g = plus(g, p.alpha*liquid.perGram, liquid.share(x))
	}
	return g
}

// line is an ingredient with what it is made of.
type line struct {
	Ingredient
	share func(x []float64) grams
}

// lines gives the ingredients in the order in which they are measured: what is
// dissolved, the main liquid, the others, those for after dissolving; the liquid that
// fills to a mark comes last.
func (p plan) lines(way Way) []line {
	lines := []line{{p.ingredient(p.a, p.alpha, p.role, p.howA(way)), p.a.share}}
	main := p.filler()
	for _, i := range p.order() {
		liquid := p.liquids[i]
		role, how := SolventRole, Pour
		switch {
		case way == ByWeight:
			how = Weigh
		case way == ToTheMark && i == main:
			how = FillUp
		}
		if liquid.later {
			role = LaterRole
		}
		lines = append(lines, line{p.ingredient(liquid.product, p.alpha*liquid.perGram, role, how), liquid.share})
	}
	if way == ToTheMark {
		lines = append(append(lines[:1:1], lines[2:]...), lines[1])
	}
	return lines
}

// recipe writes the plan as a recipe of one way. The uncertainty of what the rounded
// amounts give is evaluated over them as measured: each an input with its
// instrument's uncertainty.
func (p plan) recipe(way Way) Recipe {
	r := Recipe{Way: way}
	if why := p.cannot(way); why != "" {
		r.Unanswered = why
		return r
	}
	s := p.s.copied()
	var made []func(x []float64, g grams) grams
	for n, l := range p.lines(way) {
		r.Ingredients = append(r.Ingredients, l.Ingredient)
		made = append(made, p.measured(s, l, n == 0))
	}
	mix := func(x []float64) grams {
		g := s.none()
		for _, add := range made {
			g = add(x, g)
		}
		return g
	}
	if slices.Min(mix(s.nominal())) < 0 {
		r.TooCoarse = "Rounded to these instruments, what goes in first fills more than the mark: take finer instruments, or make more."
		return r
	}
	r.AsRounded = s.describe(mix)
	return r
}

// cannot says why a way is not open, or nothing.
func (p plan) cannot(way Way) string {
	if way == ByWeight {
		return ""
	}
	x := p.s.nominal()
	g := p.exact(x)
	part := everything
	if way == SolventByVolume && !p.a.pours {
		part = theSolvent
	}
	if names := p.s.unknownDensities(g, part); len(names) > 0 {
		return "The density of " + list(names) + " is not known, so volumes cannot be given."
	}
	return ""
}

// howA is how the first ingredient is measured.
func (p plan) howA(way Way) How {
	if p.a.pours && way != ByWeight {
		return Pour
	}
	return Weigh
}

// ingredient is one line, before any other is measured.
func (p plan) ingredient(of product, grams float64, role Role, how How) Ingredient {
	x := p.s.nominal()
	i := Ingredient{ID: of.id, Name: of.name, Role: role, How: how, Grams: grams}
	if g := times(grams, of.share(x)); len(p.s.unknownDensities(g, everything)) == 0 {
		i.Millilitres = p.s.poured(x, g)
	}
	if how == Weigh {
		i.Unit, i.Exact, i.Rounded = quantity.Gram, grams, p.gauges.scale.round(grams)
		i.Shown = p.gauges.scale.shown(i.Rounded)
		return i
	}
	i.Unit, i.Exact, i.Rounded = quantity.Millilitre, i.Millilitres, p.gauges.measure.round(i.Millilitres)
	i.Shown = p.gauges.measure.shown(i.Rounded)
	if how == FillUp {
		i.Mark = p.gauges.measure.round(p.s.poured(x, p.exact(x)))
		i.Shown = p.gauges.measure.shown(i.Mark)
	}
	return i
}

// measured brings the rounded amount in as an input of s, and gives the step that adds
// it to a mixture.
func (p plan) measured(s *system, l line, first bool) func(x []float64, g grams) grams {
	amount, instrument, name := l.Rounded, p.gauges.measure, "pouring the "+l.Name
	switch {
	case l.How == Weigh && first:
		instrument, name = p.gauges.scale, "the balance"
	case l.How == Weigh:
		instrument, name = p.gauges.scale, "the balance, on the "+l.Name
	case l.How == FillUp:
		amount, name = l.Mark, "the mark on the vessel"
	}
	u := instrument.standard("/instruments", amount, p.faults)
	at := s.measure(name, l.Unit, quantity.Measured{Value: amount, Standard: u})
	return func(x []float64, g grams) grams {
		one := l.share(x)
		switch l.How {
		case Weigh:
			return plus(g, x[at], one)
		case Pour:
			return plus(g, x[at]/s.poured(x, one), one)
		default:
			return plus(g, s.fill(x, g, one, x[at]), one)
		}
	}
}

// copied gives a system with inputs of its own.
func (s *system) copied() *system {
	c := *s
	c.inputs = append([]quantity.Input(nil), s.inputs...)
	return &c
}
