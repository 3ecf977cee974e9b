package solution

import (
	"math"
	"strconv"

	"meniscus/internal/quantity"
)

// Instrument is a balance, or a measure for volumes.
type Instrument struct {
	// Readability is the smallest step that it shows, in grams or millilitres (or a
	// unit of the same kind). Amounts are rounded to it.
	Readability quantity.Quantity
	// Uncertainty, where said, is how far its readings may be off (a class, or a
	// half-width); where not, the readability alone counts.
	Uncertainty quantity.Uncertainty
}

// Given tells whether the caller said anything of the instrument.
func (i Instrument) Given() bool { return !i.Readability.IsZero() || i.Uncertainty.Said() }

// Instruments are what a recipe is measured with.
type Instruments struct {
	Scale   Instrument // for masses
	Measure Instrument // for volumes: a cylinder, a syringe, a marked jar
}

// readabilitySpan is what one step of an instrument may be, g or mL.
var readabilitySpan = span{0, 1000, true}

// gauge is an instrument as the arithmetic uses it.
type gauge struct {
	at          string        // its pointer in the request
	unit        quantity.Unit // g or mL
	step        float64       // in unit; 0 where none was given
	uncertainty quantity.Uncertainty
	given       quantity.Unit // the unit that the uncertainty is in
	exact       bool          // amounts are not rounded
}

// gauges reads the instruments.
type gauges struct{ scale, measure gauge }

func (c *checker) gauges(pointer string, in Instruments) gauges {
	return gauges{
		scale:   c.gauge(pointer+"/scale", in.Scale, quantity.Gram),
		measure: c.gauge(pointer+"/measure", in.Measure, quantity.Millilitre),
	}
}

func (c *checker) gauge(pointer string, in Instrument, unit quantity.Unit) gauge {
	g := gauge{at: pointer, unit: unit, uncertainty: in.Uncertainty, given: unit}
	if !in.Readability.IsZero() {
		g.step = c.need(pointer+"/readability", in.Readability, unit, readabilitySpan).Value
		g.given = in.Readability.Unit
	}
	return g
}

// round gives an amount as the instrument shows it; without a step, to three
// significant digits, which is how a person reads it.
func (g gauge) round(amount float64) float64 {
	if g.exact {
		return amount
	}
	if g.step > 0 {
		return quantity.RoundTo(amount, g.step)
	}
	return quantity.RoundTo(amount, readStep(amount))
}

// shown gives an amount in the unit that the instrument shows, where that is neither
// grams nor millilitres; nothing otherwise.
func (g gauge) shown(amount float64) Shown {
	if g.given == g.unit {
		return Shown{}
	}
	factor := quantity.Factor(g.unit, g.given)
	step := g.step * factor
	if step == 0 {
		step = readStep(amount * factor)
	}
	return Shown{quantity.RoundTo(amount*factor, step), g.given}
}

// say writes an amount as the instrument shows it, every digit, with grams or
// millilitres beside it where it shows something else.
func (g gauge) say(amount float64) string {
	plain := digits(quantity.RoundTo(amount, 1e-6)) + " " + g.unit.Said()
	if s := g.shown(amount); s.Unit != "" {
		return digits(s.Value) + " " + s.Unit.Said() + " (" + amountText(amount, g.unit) + ")"
	}
	return plain
}

// digits writes a rounded number with all its digits.
func digits(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// standard gives the standard uncertainty of an amount measured with the instrument,
// in its unit; 0 where nothing is known of it.
func (g gauge) standard(amount float64, c *checker) float64 {
	if !g.uncertainty.Said() {
		return g.step / (2 * math.Sqrt(3))
	}
	d, err := quantity.OfFloat(amount / quantity.Factor(g.given, g.unit))
	if err != nil {
		return 0
	}
	q := quantity.Quantity{Value: d, Unit: g.given, Uncertainty: g.uncertainty}
	m, err := q.Measured(g.unit)
	c.merge(g.at, err)
	return m.Standard
}

// absolute tells whether the uncertainty is the same for every amount, as a
// readability is; that of a class depends on the amount.
func (g gauge) absolute() bool { return !g.uncertainty.Said() }
