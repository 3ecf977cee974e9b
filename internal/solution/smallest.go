package solution

import (
	"math"

	"meniscus/internal/quantity"
)

// Smallest is how far a recipe as rounded may be from the strength asked, and the least amount
// of it that the instruments can make within the tolerance.
type Smallest struct {
	// Tolerance that will do, and how far the strength may be from the one asked: its rounding
	// and its expanded uncertainty together. Both in per cent of the strength.
	Tolerance, Has float64
	// Enough tells whether the recipe is within the tolerance.
	Enough bool
	// Millilitres (0 where volumes are not known) and Grams are the smallest finished
	// amount that is within the tolerance, and no less than was asked where that is not
	// enough; both 0 where no amount is.
	Millilitres, Grams float64
	// Instead is a stronger stock to make and dilute; nil where the recipe is enough, or
	// where none helps.
	Instead  *StockAndDilute
	Sentence string

	first   Ingredient // what is measured first for that amount
	nothing bool       // the recipe as rounded gives no mixture
}

// StockAndDilute is an alternative for a coarse scale: weigh more resin into a
// stronger stock, and dilute a measured part of it.
type StockAndDilute struct {
	Times         int     // how much stronger the stock is, about
	StockStrength float64 // g per 100 mL of solution
	Resin         float64 // g, as the scale shows it
	StockVolume   float64 // mL, made to a mark
	Take          float64 // mL of the stock
	MakeUpTo      float64 // mL
	Has           float64 // how far the result may be from the strength asked, per cent of it
	Sentence      string
}

// toleranceSpan is what may be asked for, per cent of the strength.
var toleranceSpan = span{0, 100, true}

// usualTolerance is what will do where no tolerance was asked, per cent of the strength:
// common practice.
const usualTolerance = 10

// triedSteps is how many steps of an instrument are tried beyond the least amount that may do.
const triedSteps = 20

// smallest fills in the smallest make, where a tolerance was asked or the recipe as rounded
// is beyond the usual one.
func (m *making) smallest(a *MakeUpAnswer) error {
	tolerance := m.readTolerance()
	if err := m.faults.Err(); err != nil {
		return err
	}
	a.Smallest = m.coarseness(a.Main, a.Target, tolerance)
	if z := a.Smallest; z != nil && !z.Enough {
		z.Instead = m.instead(a, tolerance)
	}
	if m.tolerance.IsZero() && (a.Smallest == nil || a.Smallest.Enough) {
		a.Smallest = nil
		return nil
	}
	a.Smallest.say(m.gauges)
	return nil
}

// readTolerance reads the tolerance: per cent of the strength, or a strength itself.
func (m *making) readTolerance() float64 {
	q := m.tolerance
	if q.IsZero() {
		return usualTolerance
	}
	if q.Unit.Kind() != quantity.MassPerVolume {
		return m.need("/tolerance", q, quantity.Percent, toleranceSpan).Value
	}
	of := bounds[m.basis]
	if of.unit != quantity.GramsPerDL {
		m.faults.Add("unit-kind", "/tolerance/unit", "On this basis the tolerance is said in per cent of the strength.")
		return 1
	}
	return 100 * m.need("/tolerance", q, of.unit, of.span).Value / (100 * m.t)
}

// shownAs is the basis of the view that a target is judged on.
func shownAs(b Basis) Basis {
	if b == PartsByVolume {
		return MassPerSolutionVolume
	}
	return b
}

// coarseness compares a recipe as rounded with the strength asked; nil where there is nothing to
// compare. How much is enough is looked for where this is not, or where a tolerance was asked.
func (m *mixing) coarseness(main Recipe, target Mixture, tolerance float64) *Smallest {
	asked := target.On(shownAs(m.basis))
	if main.Unanswered != "" || !asked.Answered() || asked.Value == 0 {
		return nil
	}
	z := Smallest{Tolerance: tolerance, Has: m.departure(main, asked.Value)}
	z.nothing, z.Enough = main.TooCoarse != nil, z.Has <= tolerance
	if z.Enough && m.tolerance.IsZero() {
		return &z
	}
	if factor := m.enough(main, asked.Value, z); factor > 0 {
		z.Grams = factor * target.Mass.Value
		z.Millilitres = factor * target.Volume.Value
		z.first = m.atSize(factor).lines(main.Way)[0].Ingredient
	}
	return &z
}

// departure is how far the strength of a recipe may be from the one asked, in per cent of that:
// what rounding does, and the expanded uncertainty. A recipe that gives no mixture is all of it off.
func (m *mixing) departure(r Recipe, asked float64) float64 {
	v := r.AsRounded.On(shownAs(m.basis))
	if r.TooCoarse != nil || !v.Answered() {
		return 100
	}
	return 100 * (math.Abs(v.Value-asked) + v.Expanded()) / asked
}

// enough gives the factor by which the recipe must grow, or may shrink, to be just within the
// tolerance, with a whole number of the instrument's steps of what is measured first; 0 where
// none is found.
func (m *mixing) enough(main Recipe, asked float64, z Smallest) float64 {
	factor := m.growth(main, asked, z.Tolerance)
	if factor == 0 {
		return 0
	}
	if !z.Enough {
		factor = math.Max(factor, 1)
	}
	first := m.plan.lines(main.Way)[0]
	step := m.gauges.of(first.How).step
	if step == 0 || first.Exact == 0 {
		return factor
	}
	least := math.Ceil(factor*first.Exact/step - 1e-9)
	for n := range triedSteps {
		f := (least + float64(n)) * step / first.Exact
		grown := m.atSize(f)
		if r := grown.recipe(main.Way, shownAs(m.basis)); len(grown.faults.faults) == 0 && m.departure(r, asked) <= z.Tolerance {
			return f
		}
	}
	return 0
}

// of is the instrument that measures an ingredient.
func (g gauges) of(how How) gauge {
	if how == Weigh {
		return g.scale
	}
	return g.measure
}

// atSize is the plan for so many times the amount wanted. Its faults are its own: an amount
// that was not asked for may be beyond what an instrument's class covers.
func (m *mixing) atSize(factor float64) plan {
	other := *m
	other.checker = &checker{}
	other.wish.amount *= factor
	p := other.planned(m.s.nominal())
	if m.plan.again != nil {
		p.again = other.planned
	}
	return p
}

// growth gives the factor by which the recipe must grow to be within the tolerance:
//
//	U² = A² + B²/λ²,   λ = B / √(T² − A²)
//
//	U  relative expanded uncertainty, T the tolerance
//	A  the part that does not change with size (densities, percentages)
//	B  the part of the readings, which is one size whatever the amount
//	λ  size over the size of this recipe
//
// It holds for readabilities; the error of a class grows with the amount, so that the
// true factor is a little larger. 0 where no size is enough. The part B is taken at
// the amounts before rounding, so that rounding does not flatter it.
func (m *mixing) growth(main Recipe, asked, tolerance float64) float64 {
	exact := m.atSize(1)
	exact.gauges.scale.exact, exact.gauges.measure.exact = true, true
	var fixed, reading float64
	for _, c := range exact.recipe(main.Way, shownAs(m.basis)).AsRounded.On(shownAs(m.basis)).Budget {
		part := 100 * quantity.Coverage * c.Amount / asked
		if m.isReading(c.Name) {
			reading += part * part
		} else {
			fixed += part * part
		}
	}
	left := tolerance*tolerance - fixed
	if left <= 0 || reading == 0 {
		return 0
	}
	return math.Sqrt(reading / left)
}

// isReading tells whether a line of the uncertainty budget is an instrument reading:
// an input of the recipe that the plan's system does not have.
func (m *mixing) isReading(name string) bool {
	for _, in := range m.s.inputs {
		if in.Name == name {
			return false
		}
	}
	return true
}

// Bounds of a stock that is made to be diluted.
const (
	// mostTimes is the most that a stock is stronger: parts in small whole numbers.
	mostTimes = 10
	// mostStock is the strongest stock, g per 100 mL, that is still poured and measured
	// well. Common practice: customary adhesive strengths begin above it.
	mostStock = 25
)

// instead finds the stock with the least resin that comes within the tolerance when a
// measured part of it is made up to the amount wanted, all as the instruments show it. With one
// reading each of the resin m, the stock's mark V_s, the part taken V_t and the final mark V:
//
//	c' = (m/V_s)(V_t/V),   U² = (U_b/m)² + (U_v/V_s)² + (U_v/V_t)² + (U_v/V)²
//
//	U_b, U_v  expanded uncertainty of one reading of mass, g, and of volume, mL
//	c'        the strength that comes of it
//
// For k times the strength c, the least m without rounding is
// √(U_b² + (U_v k c)²) / √(T² − (U_v k/V)² − (U_v/V)²), and at least what the part taken needs.
func (m *making) instead(a *MakeUpAnswer, tolerance float64) *StockAndDilute {
	strength, volume := a.Target.On(MassPerSolutionVolume), a.Target.Volume
	if !strength.Answered() || !volume.Answered() || m.role != ResinRole || !m.gauges.scale.absolute() ||
		!m.gauges.measure.absolute() || m.gauges.scale.step == 0 {
		return nil
	}
	c, v := strength.Value/100, volume.Value
	ub := quantity.Coverage * m.gauges.scale.standard(1, m.checker)
	uv := quantity.Coverage * m.gauges.measure.standard(1, m.checker)
	var best *StockAndDilute
	for k := 2; k <= mostTimes && 100*c*float64(k) <= mostStock; k++ {
		kf := float64(k)
		left := tolerance*tolerance/1e4 - uv*uv*(kf*kf+1)/(v*v)
		if left <= 0 {
			continue
		}
		least := math.Max(c*v, math.Sqrt(ub*ub+uv*uv*kf*kf*c*c)/math.Sqrt(left))
		if d := m.stockOf(k, least, c, v, ub, uv, tolerance); d != nil && (best == nil || d.Resin < best.Resin) {
			best = d
		}
	}
	if best != nil {
		best.say(m.gauges)
	}
	return best
}

// stockOf is the stock of about k times the strength c with the least resin, from a least amount
// on, that comes within the tolerance with amounts as the instruments show them; nil where none of
// the next steps of the scale does.
func (m *making) stockOf(k int, least, c, v, ub, uv, tolerance float64) *StockAndDilute {
	step := m.gauges.scale.step
	fewest := math.Ceil(least/step - 1e-9)
	for n := range triedSteps {
		resin, measure := quantity.RoundTo((fewest+float64(n))*step, step), m.gauges.measure
		d := StockAndDilute{Times: k, Resin: resin, StockVolume: measure.round(resin / (float64(k) * c)),
			Take: measure.round(v / float64(k)), MakeUpTo: measure.round(v)}
		if d.Take == 0 || d.Take > d.StockVolume {
			continue
		}
		d.StockStrength = 100 * resin / d.StockVolume
		relative := math.Hypot(math.Hypot(ub/resin, uv/d.StockVolume), math.Hypot(uv/d.Take, uv/d.MakeUpTo))
		made := d.StockStrength / 100 * d.Take / d.MakeUpTo
		if d.Has = 100 * (math.Abs(made/c-1) + relative*made/c); d.Has <= tolerance {
			return &d
		}
	}
	return nil
}

func (d *StockAndDilute) say(g gauges) {
	d.Sentence = "Or make a stock and dilute it: " + g.scale.say(d.Resin) + " in " + g.measure.say(d.StockVolume) +
		" of finished solution is " + quantity.Digits(d.StockStrength, 3) + " g per 100 mL; take " + g.measure.say(d.Take) +
		" of it and make it up to " + g.measure.say(d.MakeUpTo) + ". That is within " + rough(d.Has) +
		" %, and the rest of the stock keeps."
}

// say puts the result into a sentence.
func (z *Smallest) say(g gauges) {
	switch {
	case !g.scale.known() && !g.measure.known():
		z.Sentence = "No instrument was named, so nothing is known of what it can do."
	case z.Enough:
		z.Sentence = "The recipe is within " + rough(z.Has) + " % of the strength, and " + number(z.Tolerance) +
			" % was asked."
	default:
		z.Sentence = z.mend(g)
		if !z.nothing {
			z.Sentence = "With these instruments the strength may be " + rough(z.Has) + " % from the one asked. " + z.Sentence
		}
	}
}

// mend says what comes within the tolerance.
func (z *Smallest) mend(g gauges) string {
	if z.Grams == 0 && z.Millilitres == 0 {
		return "No larger amount was found that comes within " + number(z.Tolerance) + " %: take finer instruments."
	}
	return "To come within " + number(z.Tolerance) + " % make at least " + z.size(g) + "."
}

// size says the smallest amount, and what is measured first for it.
func (z *Smallest) size(g gauges) string {
	whole := g.scale.say(g.scale.round(z.Grams))
	if z.Millilitres > 0 {
		whole = g.measure.say(g.measure.round(z.Millilitres))
	}
	return whole + ", with " + g.of(z.first.How).say(z.first.Rounded) + " of " + z.first.Name
}

// known tells whether the instrument has any uncertainty to count.
func (g gauge) known() bool { return g.step > 0 || g.uncertainty.Said() }
