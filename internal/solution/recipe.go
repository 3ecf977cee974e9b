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
	// is whatever results.
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

// How is the way an ingredient is measured and added.
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
	// Grams and Millilitres are the exact amount both ways, Millilitres as measured. Each
	// is 0 where it depends on a density that is not known, and so are Exact and Rounded of
	// what fills to the mark.
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
	// Strength is that of AsRounded, as a label says it.
	Strength View
	// Poured is the volume of AsRounded as it is measured, mL; 0 where it is not known.
	Poured float64
	// TooCoarse says why the rounded amounts give no mixture; nil where they do.
	TooCoarse *Warning
	Steps     []string
	// Unanswered says why there is no such recipe; empty where there is one.
	Unanswered string
}

// plan is a mixture with its proportions: alpha grams of a, and of each liquid its
// grams to one gram of a.
type plan struct {
	s       *system
	a       product
	role    Role
	alpha   float64
	liquids []pouring
	gauges  gauges
	faults  *checker
	// again recomputes the plan at other inputs; nil where all densities are known.
	again func(x []float64) plan
}

// pouring is one liquid of a plan.
type pouring struct {
	product
	perGram float64 // grams to one gram of a
	later   bool    // goes in after dissolving
}

// plan splits the solvent of a mixture into the liquids that are poured.
func (s *system) plan(x []float64, a product, role Role, v Solvent, alpha, beta float64, g gauges, c *checker) plan {
	p := plan{s: s, a: a, role: role, alpha: alpha, gauges: g, faults: c}
	liquids := s.liquids(v)
	for i, w := range s.massFractions(x, v, liquids) {
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
	g := p.s.none()
	g.add(p.alpha, p.a.share(x))
	for _, liquid := range p.liquids {
		g.add(p.alpha*liquid.perGram, liquid.share(x))
	}
	return g
}

// line is an ingredient with what it is made of.
type line struct {
	Ingredient
	share func(x []float64) grams
	// unsaid tells that the amount to measure depends on a density that is not known.
	unsaid bool
}

// lines gives the ingredients in the order in which they are measured: what is
// dissolved, the main liquid, the others, those for after dissolving; the liquid that
// fills to a mark comes last.
func (p plan) lines(way Way) []line {
	lines := []line{p.line(p.a, theDissolved, p.role, p.howA(way))}
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
		lines = append(lines, p.line(liquid.product, i, role, how))
	}
	if way == ToTheMark {
		lines = append(append(lines[:1:1], lines[2:]...), lines[1])
	}
	return lines
}

// recipe writes the plan as a recipe of one way. The uncertainty of what the rounded
// amounts give is evaluated over them as measured: each an input with its
// instrument's uncertainty, on the bases that are wanted.
func (p plan) recipe(way Way, wanted ...Basis) Recipe {
	r := Recipe{Way: way}
	if why := p.cannot(way); why != "" {
		r.Unanswered = why
		return r
	}
	s := p.s.copied()
	var made []func(x []float64, g grams)
	for n, l := range p.lines(way) {
		r.Ingredients = append(r.Ingredients, l.Ingredient)
		made = append(made, p.measured(s, l, n == 0))
	}
	mixed := s.none()
	mix := func(x []float64) grams {
		clear(mixed)
		for _, add := range made {
			add(x, mixed)
		}
		return mixed
	}
	x := s.nominal()
	g := slices.Clone(mix(x))
	if r.TooCoarse = p.tooCoarse(r.Ingredients, g); r.TooCoarse != nil {
		return r
	}
	r.AsRounded = s.describe(mix, wanted...)
	if r.AsRounded.Volume.Answered() {
		r.Poured = s.poured(x, g)
	}
	return r
}

// tooCoarse tells why the amounts as the instruments show them give no mixture; nil where they do.
func (p plan) tooCoarse(ingredients []Ingredient, mixed grams) *Warning {
	for _, i := range ingredients {
		shown, exact := i.Rounded, i.Exact
		if i.How == FillUp {
			shown, exact = i.Mark, 1
		}
		if shown == 0 && exact > 0 {
			g := p.gauges.of(i.How)
			what := amountText(i.Exact, g.unit) + " of " + i.Name
			if i.How == FillUp {
				what = "a mark as low as that"
			}
			return &Warning{"below-readability", Warn, "The instrument cannot measure " + what + ": its smallest step is " +
				g.say(g.step) + ". Make more, or take a finer instrument.", additiveSource}
		}
	}
	if slices.Min(mixed) < 0 {
		return &Warning{"rounding-overfills", Block, "Rounded to these instruments, what goes in first fills more than " +
			"the mark: take finer instruments, or make more.", additiveSource}
	}
	return nil
}

// theDissolved is the place of the first ingredient of a plan; those of the liquids are
// from 0 on.
const theDissolved = -1

// gramsOf is how much of an ingredient goes in.
func (p plan) gramsOf(place int) float64 {
	if place == theDissolved {
		return p.alpha
	}
	return p.alpha * p.liquids[place].perGram
}

// at is the plan at other inputs.
func (p plan) at(x []float64) plan {
	if p.again == nil {
		return p
	}
	return p.again(x)
}

// cannot says why a way is not possible, or nothing.
func (p plan) cannot(way Way) string {
	g := p.exact(p.s.nominal())
	if len(p.s.unknownDensities(g, everything)) == 0 {
		return ""
	}
	for _, l := range p.lines(way) {
		if l.unsaid {
			return "How much " + l.Name + " goes in depends on the density of " +
				list(p.s.unknownDensities(g, everything)) + ", which is not known."
		}
	}
	return ""
}

// howA is how the first ingredient is measured: one whose volume is not known is weighed.
func (p plan) howA(way Way) How {
	if _, known := p.volumeOf(theDissolved, p.a); known && p.a.pours && way != ByWeight {
		return Pour
	}
	return Weigh
}

// massOf gives how many grams of an ingredient go in; false where that depends on a
// density that is not known.
func (p plan) massOf(place int) (float64, bool) {
	return p.gramsOf(place), p.s.settled(func(x []float64) float64 { return p.at(x).gramsOf(place) })
}

// volumeOf gives how many millilitres of it go in, as they are measured.
func (p plan) volumeOf(place int, of product) (float64, bool) {
	x := p.s.nominal()
	volume := func(x []float64) float64 { return p.s.poured(x, times(p.at(x).gramsOf(place), of.share(x))) }
	known := p.s.tolerant || len(p.s.unknownDensities(of.share(x), everything)) == 0
	return volume(x), known && p.s.settled(volume)
}

// mark gives the finished volume, as it is measured.
func (p plan) mark() (float64, bool) {
	x := p.s.nominal()
	volume := func(x []float64) float64 { return p.s.poured(x, p.at(x).exact(x)) }
	return volume(x), p.s.sayable(p.exact(x), everything, volume)
}

// line is one line, before any other is measured.
func (p plan) line(of product, place int, role Role, how How) line {
	l := line{Ingredient: Ingredient{ID: of.id, Name: of.name, Role: role, How: how}, share: of.share}
	mass, massKnown := p.massOf(place)
	volume, volumeKnown := p.volumeOf(place, of)
	if massKnown {
		l.Grams = mass
	}
	if volumeKnown {
		l.Millilitres = volume
	}
	if how == Weigh {
		l.Unit, l.Exact, l.Rounded, l.unsaid = quantity.Gram, l.Grams, p.gauges.scale.round(l.Grams), !massKnown
		l.Shown = p.gauges.scale.shown(l.Rounded)
		return l
	}
	l.Unit, l.Exact, l.Rounded, l.unsaid = quantity.Millilitre, l.Millilitres, p.gauges.measure.round(l.Millilitres),
		!volumeKnown
	l.Shown = p.gauges.measure.shown(l.Rounded)
	if how == FillUp {
		mark, markKnown := p.mark()
		l.Mark, l.unsaid = p.gauges.measure.round(mark), !markKnown
		l.Shown = p.gauges.measure.shown(l.Mark)
	}
	return l
}

// measured brings the rounded amount in as an input of s, and gives the step that adds
// it to a mixture.
func (p plan) measured(s *system, l line, first bool) func(x []float64, g grams) {
	amount, instrument, name := l.Rounded, p.gauges.measure, "pouring "+the(l.Name)
	switch {
	case l.How == Weigh && first:
		instrument, name = p.gauges.scale, "the balance"
	case l.How == Weigh:
		instrument, name = p.gauges.scale, "the balance, on "+the(l.Name)
	case l.How == FillUp:
		amount, name = l.Mark, "the mark on the vessel"
	}
	u := instrument.standard(amount, p.faults)
	at := s.measure(name, l.Unit, quantity.Measured{Value: amount, Standard: u})
	return func(x []float64, g grams) {
		one := l.share(x)
		switch l.How {
		case Weigh:
			g.add(x[at], one)
		case Pour:
			g.add(x[at]/s.poured(x, one), one)
		default:
			g.add(s.fill(x, g, one, x[at]), one)
		}
	}
}

// copied gives a system with inputs of its own.
func (s *system) copied() *system {
	c := *s
	c.inputs, c.given = slices.Clone(s.inputs), slices.Clone(s.given)
	return &c
}
