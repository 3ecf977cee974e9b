package quantity

import (
	"math"
	"math/big"

	"meniscus/internal/fault"
)

// Quantity is a measured or wanted amount: a number, its unit, and how uncertain
// it is said to be.
type Quantity struct {
	Value       Decimal
	Unit        Unit
	Uncertainty Uncertainty
}

// New makes a quantity from constants of the program; it panics on a bad number
// or unit. Callers' input goes through ParseDecimal and ParseUnit.
func New(value string, unit Unit) Quantity {
	if unit.Kind() == "" {
		panic("quantity: unknown unit " + string(unit))
	}
	return Quantity{Value: MustDecimal(value), Unit: unit}
}

// Of makes a quantity from a computed number, with its shortest digits.
func Of(value float64, unit Unit) (Quantity, error) {
	d, err := OfFloat(value)
	if err != nil {
		return Quantity{}, err
	}
	return Quantity{Value: d, Unit: unit}, nil
}

// Exact gives the value in another unit of the same kind as a rational.
func (q Quantity) Exact(unit Unit) (*big.Rat, error) {
	r, err := Convert(q.Value.Rat(), q.Unit, unit)
	if err != nil {
		return nil, fault.From(err)[0].At("/unit")
	}
	return r, nil
}

// In gives the value in another unit of the same kind, converted exactly and
// rounded once to float64.
func (q Quantity) In(unit Unit) (float64, error) {
	if q.Unit == unit {
		return q.Value.Float64(), nil
	}
	r, err := q.Exact(unit)
	if err != nil {
		return 0, err
	}
	f, _ := r.Float64()
	return f, nil
}

// Measured gives the value and its standard uncertainty in another unit of the
// same kind.
func (q Quantity) Measured(unit Unit) (Measured, error) {
	value, err := q.In(unit)
	if err != nil {
		return Measured{}, err
	}
	standard, err := q.Uncertainty.Standard(q)
	if err != nil {
		return Measured{}, err
	}
	return Measured{Value: value, Standard: standard * Factor(q.Unit, unit)}, nil
}

// IsZero tells whether the quantity was left out.
func (q Quantity) IsZero() bool { return q.Unit == "" }

// Measured is a number with its standard uncertainty, both in the unit that the
// field or variable names.
type Measured struct {
	Value    float64
	Standard float64
}

// Exactly makes a Measured without uncertainty.
func Exactly(value float64) Measured { return Measured{Value: value} }

// Finite tells whether neither number is NaN or infinite and the uncertainty is
// not negative.
func (m Measured) Finite() bool {
	return !math.IsNaN(m.Value) && !math.IsInf(m.Value, 0) && m.Standard >= 0 && !math.IsInf(m.Standard, 0)
}
