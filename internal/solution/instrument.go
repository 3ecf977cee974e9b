package solution

import (
	"math"

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

// Given tells whether anything is known of the instrument.
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
	unit        quantity.Unit // g or mL
	step        float64       // in unit; 0 where none was given
	uncertainty quantity.Uncertainty
	given       quantity.Unit // the unit that the uncertainty is in
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
	g := gauge{unit: unit, uncertainty: in.Uncertainty, given: unit}
	if !in.Readability.IsZero() {
		g.step = c.need(pointer+"/readability", in.Readability, unit, readabilitySpan).Value
		g.given = in.Readability.Unit
	}
	return g
}

// round gives an amount as the instrument shows it; without a step, to three
// significant digits, which is how a person reads it.
func (g gauge) round(amount float64) float64 {
	if g.step > 0 {
		return quantity.RoundTo(amount, g.step)
	}
	return quantity.RoundTo(amount, readStep(amount))
}

// standard gives the standard uncertainty of an amount measured with the instrument,
// in its unit; 0 where nothing is known of it.
func (g gauge) standard(pointer string, amount float64, c *checker) float64 {
	if !g.uncertainty.Said() {
		return g.step / (2 * math.Sqrt(3))
	}
	d, err := quantity.OfFloat(amount / quantity.Factor(g.given, g.unit))
	if err != nil {
		return 0
	}
	q := quantity.Quantity{Value: d, Unit: g.given, Uncertainty: g.uncertainty}
	m, err := q.Measured(g.unit)
	c.merge(pointer, err)
	return m.Standard
}

// absolute tells whether the uncertainty is one size whatever the amount, as a
// readability is; a class depends on the amount.
func (g gauge) absolute() bool { return !g.uncertainty.Said() }
