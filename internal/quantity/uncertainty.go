package quantity

import (
	"math"

	"meniscus/internal/fault"
)

// Distribution is how the values inside a half-width are spread.
type Distribution string

const (
	// Rectangular: every value inside the half-width is as likely as any other.
	Rectangular Distribution = "rectangular"
	// Triangular: values near the middle are likelier, such as a flask that a
	// maker aims at its mark.
	Triangular Distribution = "triangular"
)

// Uncertainty says in one of four ways how uncertain a number is. The zero value
// says nothing, and counts as no uncertainty. Every number is in the unit of the
// quantity that it belongs to.
type Uncertainty struct {
	form         form
	number       Decimal
	distribution Distribution
	class        Class
	scatter      float64 // the standard uncertainty of an average of readings; 0 for one reading
}

type form int

const (
	unsaid form = iota
	standardForm
	halfWidthForm
	readabilityForm
	classForm
)

// Standard says the standard uncertainty itself.
func Standard(u Decimal) Uncertainty { return Uncertainty{form: standardForm, number: u} }

// HalfWidth says that the value is within ± a, spread as the distribution says.
func HalfWidth(a Decimal, d Distribution) Uncertainty {
	return Uncertainty{form: halfWidthForm, number: a, distribution: d}
}

// Readability says the smallest step that the instrument shows: the value is
// within half a step either way, rectangular.
func Readability(step Decimal) Uncertainty { return Uncertainty{form: readabilityForm, number: step} }

// ByClass says the instrument's class; the class's table gives the half-width.
// Interval is the verification scale interval e of a weighing instrument, in the
// unit of the quantity; glassware takes none.
func ByClass(class Class, interval Decimal) Uncertainty {
	return Uncertainty{form: classForm, class: class, number: interval}
}

// Said tells whether anything was said of the instrument.
func (u Uncertainty) Said() bool { return u.form != unsaid }

// Step gives the readability, if that is what was said.
func (u Uncertainty) Step() (Decimal, bool) { return u.number, u.form == readabilityForm }

// Class gives the class of instrument, if that is what was said.
func (u Uncertainty) Class() (Class, bool) { return u.class, u.form == classForm }

// Standard gives the standard uncertainty of q in q's own unit.
//
//	rectangular: u = a/√3    triangular: u = a/√6    readability d: u = d/(2√3)
//
// Source: JCGM 100:2008 (GUM), 4.3.7 and 4.3.9 (recalled).
func (u Uncertainty) Standard(q Quantity) (float64, error) {
	if u.form != unsaid && u.number.Sign() < 0 {
		return 0, fault.New("uncertainty-negative", "/uncertainty", "An uncertainty is zero or greater.")
	}
	of, err := u.instrument(q)
	return math.Hypot(of, u.scatter), err
}

// instrument is what is said of the instrument, as a standard uncertainty.
func (u Uncertainty) instrument(q Quantity) (float64, error) {
	x := u.number.Float64()
	switch u.form {
	case standardForm:
		return x, nil
	case halfWidthForm:
		return u.distribution.standard(x)
	case readabilityForm:
		return x / (2 * math.Sqrt(3)), nil
	case classForm:
		return u.class.standard(q, x)
	default:
		return 0, nil
	}
}

// standard gives the standard uncertainty of a half-width.
func (d Distribution) standard(halfWidth float64) (float64, error) {
	switch d {
	case Rectangular:
		return halfWidth / math.Sqrt(3), nil
	case Triangular:
		return halfWidth / math.Sqrt(6), nil
	default:
		return 0, fault.New("distribution-unknown", "/uncertainty/distribution", "A half-width is spread %s or %s.",
			Rectangular, Triangular)
	}
}
