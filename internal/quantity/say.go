package quantity

import (
	"math"
	"strconv"
	"strings"
)

// Sentence says an outcome as a person would: "19.3 to 20.7 g per 100 mL; the
// balance matters most". Without uncertainty it says so.
// What is no temperature is not said to be below 0 because of its uncertainty.
func (o Outcome) Sentence(unit Unit) string {
	said := unit.Said()
	if said != "" {
		said = " " + said
	}
	if o.Standard == 0 {
		return Digits(o.Value, 4) + said + "; no uncertainty was given, so none is stated"
	}
	half := o.Expanded()
	places := placesFor(half)
	low := o.Value - half
	if o.Value >= 0 && unit.Kind() != Temperature {
		low = math.Max(0, low)
	}
	places = min(places, 5-magnitude(math.Abs(o.Value)+half)) // six digits are more than any instrument's
	text := fixed(low, places) + " to " + fixed(o.Value+half, places) + said
	if first, high, _ := strings.Cut(text, " to "); high == first+said {
		text = high
	}
	if len(o.Budget) == 0 {
		return text
	}
	if len(o.Budget) > 1 {
		return text + "; " + o.Budget[0].Name + " matters most"
	}
	return text + "; only " + o.Budget[0].Name + " matters"
}

// Said writes a value with the digits that its uncertainty bears, four at most: to the place at
// which the expanded uncertainty has two. Without an uncertainty it has four.
func (m Measured) Said() string {
	if m.Standard == 0 || m.Value == 0 {
		return Digits(m.Value, 4)
	}
	if places := 3 - magnitude(m.Value); places < placesFor(m.Expanded()) {
		return Digits(m.Value, 4)
	}
	return strconv.FormatFloat(m.Rounded(), 'f', -1, 64)
}

// Rounded is a value with the digits that its uncertainty bears: to the place at which the expanded
// uncertainty has two, and at least one digit. Without an uncertainty it is as it is.
func (m Measured) Rounded() float64 {
	if m.Standard == 0 || m.Value == 0 {
		return m.Value
	}
	if rounded := RoundTo(m.Value, stepOf(placesFor(m.Expanded()))); rounded != 0 {
		return rounded
	}
	return RoundTo(m.Value, stepOf(-magnitude(m.Value)))
}

// magnitude is the power of ten of the first digit of x.
func magnitude(x float64) int { return int(math.Floor(math.Log10(math.Abs(x)))) }

// stepOf is the size of the last of so many decimal places; below 0 they are those before the point.
func stepOf(places int) float64 { return math.Pow(10, -float64(places)) }

// placesFor gives the decimal places at which an uncertainty has two significant
// digits. Source: JCGM 100:2008 (GUM), 7.2.6 (recalled).
func placesFor(u float64) int {
	if u <= 0 || math.IsInf(u, 0) || math.IsNaN(u) {
		return 3
	}
	return min(1-magnitude(u), 9)
}

// fixed writes x with a number of decimal places, never "-0".
func fixed(x float64, places int) string {
	if x = RoundTo(x, stepOf(places)); x == 0 {
		x = 0
	}
	return strconv.FormatFloat(x, 'f', max(0, places), 64)
}

// Digits writes x with a number of significant digits and no exponent.
func Digits(x float64, significant int) string {
	if x == 0 || math.IsNaN(x) || math.IsInf(x, 0) {
		return strconv.FormatFloat(x, 'f', -1, 64)
	}
	rounded := RoundTo(x, stepOf(significant-1-magnitude(x)))
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}

// RoundTo rounds x to a whole number of steps, halves away from zero, as the decimals stand:
// 2.675 to hundredths is 2.68, although its binary fraction is a little less. Binary
// rounding errors are removed, so that 12.3 is 12.3 and not 12.299999999999999. A
// step that is not positive leaves x as it is.
func RoundTo(x, step float64) float64 {
	if !(step > 0) || math.IsInf(step, 0) {
		return x
	}
	clean, ok := reread(math.Round(Significant(x/step, 12))*step, 14)
	if !ok {
		return x
	}
	return clean
}

// Significant rounds x to a number of significant digits, which removes binary
// rounding errors from a computed number.
func Significant(x float64, digits int) float64 {
	rounded, ok := reread(x, digits)
	if !ok || rounded == 0 {
		return 0
	}
	return rounded
}

// reread is x as it reads back from a number of significant digits; false if it does not.
func reread(x float64, digits int) (float64, bool) {
	var text [32]byte
	y, err := strconv.ParseFloat(string(strconv.AppendFloat(text[:0], x, 'g', digits, 64)), 64)
	return y, err == nil
}

// SaidHours writes a time in hours as people do, with a number of significant digits:
// "5 min" for 0.0833, "1.5 h", "30 s".
func SaidHours(hours float64, significant int) string {
	x, unit := hours, Unit("h")
	switch seconds := hours * 3600; {
	case seconds > 0 && math.Round(seconds) < 60:
		x, unit = seconds, "s"
	case seconds > 0 && math.Round(seconds/60) < 60:
		x, unit = seconds/60, "min"
	}
	return Digits(x, significant) + " " + unit.Said()
}
