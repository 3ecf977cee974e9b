package material

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Value is what a source says: a figure, a range, a bound, words, or that there
// is no such point.
type Value struct {
	// Written keeps the digits of the source: "1.150", "45..63", ">40".
	Written string
	// Low and High bound a numeric value; they are equal for a single figure, and
	// one of them is infinite for a bound.
	Low, High float64
	// Numeric is false for words and for none.
	Numeric bool
	// None says that there is no such point: a solvent without a flash point.
	None bool
}

// Single gives the figure when there is exactly one.
func (v Value) Single() (float64, bool) { return v.Low, v.Numeric && v.Low == v.High }

// Closed says that the value is a figure or a range with two ends.
func (v Value) Closed() bool {
	return v.Numeric && !math.IsInf(v.Low, 0) && !math.IsInf(v.High, 0)
}

// Mid gives the middle of a closed value: the figure itself, or half way along
// the range.
func (v Value) Mid() (float64, bool) { return (v.Low + v.High) / 2, v.Closed() }

// HalfWidth gives half the width of a range; for a single figure half a unit of
// its last written digit.
func (v Value) HalfWidth() float64 {
	if !v.Closed() {
		return math.Inf(1)
	}
	if v.Low != v.High {
		return (v.High - v.Low) / 2
	}
	mantissa, exponent, _ := strings.Cut(strings.ToLower(v.Written), "e")
	power, _ := strconv.Atoi(exponent)
	if _, decimals, ok := strings.Cut(mantissa, "."); ok {
		power -= len(decimals)
	}
	return 0.5 * math.Pow10(power)
}

var errNotANumber = errors.New("neither a figure, a range (low..high) nor a bound (<, >, >=)")

// parseValue reads the value column. Words are a value too, unless a unit says
// that a number is meant.
func parseValue(written, unit string) (Value, error) {
	if written == "" {
		return Value{}, errors.New("is empty")
	}
	if written == "none" {
		return Value{Written: written, None: true}, nil
	}
	low, high, err := parseBounds(written)
	switch {
	case err == nil && unit == "":
		return Value{}, errors.New("is a number without a unit (1 for a pure number)")
	case err == nil:
		return Value{Written: written, Low: low, High: high, Numeric: true}, nil
	case unit != "":
		return Value{}, fmt.Errorf("%q: %w", written, err)
	default:
		return Value{Written: written}, nil
	}
}

func parseBounds(s string) (low, high float64, err error) {
	if l, h, ok := strings.Cut(s, ".."); ok {
		low, err = parseFigure(l)
		if err == nil {
			high, err = parseFigure(h)
		}
		if err == nil && low > high {
			err = errors.New("the range runs downwards")
		}
		return low, high, err
	}
	switch {
	case strings.HasPrefix(s, ">"):
		low, err = parseFigure(strings.TrimPrefix(s[1:], "="))
		return low, math.Inf(1), err
	case strings.HasPrefix(s, "<"):
		high, err = parseFigure(strings.TrimPrefix(s[1:], "="))
		return math.Inf(-1), high, err
	}
	low, err = parseFigure(s)
	return low, low, err
}

// parseFigure reads a plain decimal number: no hexadecimal, no infinity, no
// blanks, although strconv would take them.
func parseFigure(s string) (float64, error) {
	if s == "" || strings.Trim(s, "0123456789.+-eE") != "" {
		return 0, errNotANumber
	}
	f, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsInf(f, 0) || math.IsNaN(f) {
		return 0, errNotANumber
	}
	return f, nil
}

func orNaN(f *float64) float64 {
	if f == nil {
		return math.NaN()
	}
	return *f
}
