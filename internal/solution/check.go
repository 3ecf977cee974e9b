package solution

import (
	"math"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// checker reads quantities from a request and gathers every fault with its pointer.
// After a fault it continues with a valid value, so that all faults are found at once.
type checker struct {
	faults fault.List
}

// span is the range that a quantity may lie in, in the unit that it is read in.
type span struct {
	low, high float64
	// openLow excludes the low end itself ("more than 0").
	openLow bool
}

func (s span) holds(x float64) bool {
	return x <= s.high && (x > s.low || x == s.low && !s.openLow)
}

func (s span) said(unit quantity.Unit) string {
	said := unit.Said()
	if said != "" {
		said = " " + said
	}
	if s.openLow {
		return "more than " + number(s.low) + " and at most " + number(s.high) + said
	}
	return "from " + number(s.low) + " to " + number(s.high) + said
}

// number writes a limit or a result with up to four significant digits.
func number(x float64) string { return quantity.Digits(x, 4) }

// about writes an estimate with two significant digits.
func about(x float64) string { return quantity.Digits(x, 2) }

// atMost writes what is not to be gone beyond, rounded down to three significant digits.
func atMost(x float64) string {
	rounded := quantity.Significant(x, 3)
	if rounded > x {
		rounded -= math.Pow10(int(math.Floor(math.Log10(x))) - 2)
	}
	return quantity.Digits(rounded, 3)
}

// need reads a quantity in a unit and checks its range.
func (c *checker) need(pointer string, q quantity.Quantity, unit quantity.Unit, allowed span) quantity.Measured {
	if q.IsZero() {
		c.faults.Add("quantity-missing", pointer, "This is needed: a number with its unit, %s.", allowed.said(unit))
		return quantity.Exactly(harmless(allowed))
	}
	m, err := q.Measured(unit)
	if err != nil {
		if c.faults.Merge(pointer, err) != nil {
			c.faults.Add("quantity-unreadable", pointer, "This cannot be read as a quantity, %s.", allowed.said(unit))
		}
		return quantity.Exactly(harmless(allowed))
	}
	if !m.Finite() || !allowed.holds(m.Value) {
		c.faults.Add("out-of-range", pointer, "This must be %s.%s", allowed.said(unit),
			fahrenheitHint(unit, m.Value, allowed))
		return quantity.Exactly(harmless(allowed))
	}
	return m
}

// read is need for an amount that an instrument measures: its own uncertainty, or the instrument's.
func (c *checker) read(pointer string, q quantity.Quantity, g gauge, allowed span) quantity.Measured {
	m := c.need(pointer, q, g.unit, allowed)
	if !q.Uncertainty.Said() {
		m.Standard = math.Hypot(m.Standard, g.standard(m.Value, c)) // of an average of readings
	}
	return m
}

// maybe is like need, for a quantity that may be left out; the default is then exact.
func (c *checker) maybe(pointer string, q quantity.Quantity, unit quantity.Unit, allowed span,
	otherwise float64) quantity.Measured {
	if q.IsZero() {
		return quantity.Exactly(otherwise)
	}
	return c.need(pointer, q, unit, allowed)
}

// harmless is a value inside the range, to continue with after a fault.
func harmless(s span) float64 {
	if s.openLow {
		return s.high
	}
	return s.low
}

// fahrenheitHint helps with the commonest mistake: a reading in °F said to be °C.
func fahrenheitHint(unit quantity.Unit, value float64, allowed span) string {
	if unit == quantity.Celsius && allowed.holds((value-32)*5/9) {
		return " If it was read in °F, give it with the unit [degF]."
	}
	return ""
}

// finite tells whether no number is NaN or infinite.
func finite(numbers ...float64) bool {
	for _, x := range numbers {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return false
		}
	}
	return true
}
