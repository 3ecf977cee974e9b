package solution

import (
	"math"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// Smallest is the least amount of a solution that the instruments can make within the tolerance.
type Smallest struct {
	// Tolerance asked, and the expanded uncertainty that the recipe as rounded has, both
	// in per cent of the strength.
	Tolerance, Has float64
	// Enough tells whether the recipe is within the tolerance.
	Enough bool
	// Millilitres (0 where volumes are not known) and Grams are the smallest finished
	// amount that is within the tolerance; both 0 where no amount is.
	Millilitres, Grams float64
	// Instead is a stronger stock to make and dilute; nil where the recipe is enough, or
	// where none helps.
	Instead  *StockAndDilute
	Sentence string
}

// StockAndDilute is an alternative for a coarse scale: weigh more resin into a
// stronger stock, and dilute a measured part of it.
type StockAndDilute struct {
	Times         int     // how much stronger the stock is
	StockStrength float64 // g per 100 mL of solution
	Resin         float64 // g, as the scale shows it
	StockVolume   float64 // mL, made to a mark
	Take          float64 // mL of the stock
	MakeUpTo      float64 // mL
	Has           float64 // expanded uncertainty of the result, per cent of it
	Sentence      string
}

// toleranceSpan is what may be asked for, per cent of the strength.
var toleranceSpan = span{0, 100, true}

// smallest fills in the smallest make, where a tolerance was asked.
func (m *making) smallest(a *MakeUpAnswer) error {
	if m.tolerance.IsZero() {
		return nil
	}
	tolerance := m.readTolerance()
	if err := m.faults.Err(); err != nil {
		return err
	}
	view := a.Main.AsRounded.On(shownAs(m.basis))
	if a.Main.Unanswered != "" || !view.Answered() {
		return nil
	}
	if view.Value == 0 {
		return fault.New("resin-not-shown", "/tolerance",
			"The instruments show nothing of so little resin, so that no tolerance can be judged: make more, name a "+
				"finer scale, or dilute a stronger stock.")
	}
	z := Smallest{Tolerance: tolerance, Has: view.wobble()}
	z.Enough = z.Has <= tolerance
	if factor := m.growth(view, tolerance); factor > 0 {
		z.Grams = factor * a.Target.Mass.Value
		z.Millilitres = factor * a.Target.Volume.Value
	}
	if !z.Enough {
		z.Instead = m.instead(a, tolerance)
	}
	z.say(m.gauges)
	a.Smallest = &z
	return nil
}

// readTolerance reads the tolerance: per cent of the strength, or a strength itself.
func (m *making) readTolerance() float64 {
	q := m.tolerance
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
// the amounts as planned, so that rounding does not flatter it.
func (m *making) growth(v View, tolerance float64) float64 {
	var fixed, reading float64
	for _, c := range v.Budget {
		part := 100 * quantity.Coverage * c.Amount / math.Abs(v.Value)
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
func (m *making) isReading(name string) bool {
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
// measured part of it is made up to the amount wanted. With one reading each of the
// resin m, the stock's mark, the part taken and the final mark:
//
//	U² = (U_b/m)² + (U_v/V_s)² + (U_v/V_t)² + (U_v/V)²,   V_s = m/(k c), V_t = V/k
//
//	U_b, U_v  expanded uncertainty of one reading of mass, g, and of volume, mL
//	k         how much stronger the stock is; c the strength wanted, g per mL
//
// so that for each k the least m is √(U_b² + (U_v k c)²) / √(T² − (U_v k/V)² − (U_v/V)²),
// and at least what the part taken needs.
func (m *making) instead(a *MakeUpAnswer, tolerance float64) *StockAndDilute {
	strength, volume := a.Target.On(MassPerSolutionVolume), a.Target.Volume
	if !strength.Answered() || !volume.Answered() || m.role != ResinRole || !m.gauges.scale.absolute() ||
		!m.gauges.measure.absolute() {
		return nil
	}
	c, v := strength.Value/100, volume.Value
	ub := quantity.Coverage * m.gauges.scale.standard("", 1, m.checker)
	uv := quantity.Coverage * m.gauges.measure.standard("", 1, m.checker)
	var best *StockAndDilute
	for k := 2; k <= mostTimes && 100*c*float64(k) <= mostStock; k++ {
		kf := float64(k)
		left := tolerance*tolerance/1e4 - uv*uv*(kf*kf+1)/(v*v)
		if left <= 0 {
			continue
		}
		least := math.Max(c*v, math.Sqrt(ub*ub+uv*uv*kf*kf*c*c)/math.Sqrt(left))
		resin := roundUp(least, m.gauges.scale.step)
		if best == nil || resin < best.Resin {
			u2 := ub*ub/(resin*resin) + uv*uv*(kf*kf*c*c/(resin*resin)+(kf*kf+1)/(v*v))
			best = &StockAndDilute{Times: k, StockStrength: 100 * c * kf, Resin: resin, StockVolume: resin / (kf * c),
				Take: v / kf, MakeUpTo: v, Has: 100 * math.Sqrt(u2)}
		}
	}
	if best != nil {
		best.say()
	}
	return best
}

// roundUp rounds up to a whole number of steps.
func roundUp(x, step float64) float64 {
	if step <= 0 {
		return x
	}
	return quantity.RoundTo(step*math.Ceil(x/step-1e-9), step)
}

func (d *StockAndDilute) say() {
	d.Sentence = "Make a stock instead: " + amountText(d.Resin, quantity.Gram) + " in " +
		amountText(d.StockVolume, quantity.Millilitre) + " of finished solution is " + number(d.StockStrength) +
		" g per 100 mL; take " + amountText(d.Take, quantity.Millilitre) + " of it and make it up to " +
		amountText(d.MakeUpTo, quantity.Millilitre) + ". That is within " + rough(d.Has) +
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
	case z.Grams == 0 && z.Millilitres == 0:
		z.Sentence = "The recipe is ± " + rough(z.Has) + " % of the strength, and no larger amount comes within " +
			number(z.Tolerance) + " % with what is known of the densities."
	default:
		z.Sentence = "The recipe is ± " + rough(z.Has) + " % of the strength; " + number(z.Tolerance) +
			" % needs at least " + z.size() + " with these instruments."
	}
	if z.Instead == nil && !z.Enough && g.scale.known() {
		z.Sentence += " No stock of up to " + number(mostStock) +
			" g per 100 mL helps with this measure: take a finer one, or make the larger amount and keep the rest."
	}
}

// size says the smallest amount.
func (z *Smallest) size() string {
	if z.Millilitres > 0 {
		return amountText(z.Millilitres, quantity.Millilitre)
	}
	return amountText(z.Grams, quantity.Gram)
}

// known tells whether the instrument has any uncertainty to count.
func (g gauge) known() bool { return g.step > 0 || g.uncertainty.Said() }
