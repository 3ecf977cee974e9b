package quantity

import (
	"cmp"
	"math"
	"math/big"
	"strconv"
	"strings"

	"meniscus/internal/fault"
)

// Bounds of a Decimal. They are far outside anything that is weighed or poured,
// and inside what float64 and Postgres numeric hold without loss of range.
const (
	// maxDigits is the most significant digits that a decimal may have (as many
	// as IEEE 754 decimal128 holds).
	maxDigits = 34
	// maxExponent bounds the size: a decimal is zero, or its absolute value is at
	// least 1e-30 and below 1e31.
	maxExponent = 30
	// maxLength bounds the text: zeros are not significant digits, but a million
	// of them cost as much as a million digits.
	maxLength = 100
)

// Decimal is a decimal number with its digits as written. The zero value is 0.
// Decimals compare with == as texts ("20.0" differs from "20.00"); use Cmp to
// compare the numbers. A Decimal is immutable.
type Decimal struct {
	text string
}

// ParseDecimal reads a number in the form of RFC 8259 section 6: no sign "+", no
// leading zeros, no NaN, no infinity. It refuses more than maxDigits significant
// digits and sizes outside maxExponent.
func ParseDecimal(s string) (Decimal, error) {
	if len(s) > maxLength {
		return Decimal{}, fault.New("number-too-long", "", "A number is written with at most %d characters.", maxLength)
	}
	n, ok := scanNumber(s)
	if !ok {
		return Decimal{}, fault.New("number-malformed", "",
			"A number is written with digits and at most one point, such as 12.50; NaN and infinity are not numbers here.")
	}
	if n.significant > maxDigits {
		return Decimal{}, fault.New("number-too-long", "", "A number has at most %d significant digits.", maxDigits)
	}
	if n.significant > 0 && (n.magnitude > maxExponent || n.magnitude < -maxExponent) {
		return Decimal{}, fault.New("number-out-of-range", "",
			"A number is zero, or its size is between 1e-%d and 1e%d.", maxExponent, maxExponent)
	}
	return Decimal{text: s}, nil
}

// MustDecimal is ParseDecimal for constants of the program; it panics on a fault.
func MustDecimal(s string) Decimal {
	d, err := ParseDecimal(s)
	if err != nil {
		panic("quantity: bad decimal constant " + s)
	}
	return d
}

// OfFloat gives the shortest decimal that reads back as f, within the bounds of a
// decimal. It refuses NaN and the infinities.
func OfFloat(f float64) (Decimal, error) {
	if math.IsNaN(f) || math.IsInf(f, 0) {
		return Decimal{}, fault.New("number-not-finite", "", "The result is not a finite number.")
	}
	format := byte('f')
	if abs := math.Abs(f); abs != 0 && (abs < 1e-6 || abs >= 1e21) {
		format = 'e'
	}
	return ParseDecimal(strconv.FormatFloat(f, format, -1, 64))
}

// number is what a scan of a decimal's text finds.
type number struct {
	significant int // significant digits; 0 for the number zero
	magnitude   int // power of ten of the first significant digit
	places      int // digits after the point, as written
}

// scanNumber reads the grammar of RFC 8259 section 6.
func scanNumber(s string) (number, bool) {
	rest := strings.TrimPrefix(s, "-")
	whole, rest := digits(rest)
	if whole == "" || (len(whole) > 1 && whole[0] == '0') {
		return number{}, false
	}
	var fraction string
	if after, found := strings.CutPrefix(rest, "."); found {
		if fraction, rest = digits(after); fraction == "" {
			return number{}, false
		}
	}
	exponent, ok := scanExponent(rest)
	if !ok {
		return number{}, false
	}
	all := whole + fraction
	significant := strings.TrimLeft(all, "0")
	leading := len(all) - len(significant)
	return number{len(significant), len(whole) - 1 - leading + exponent, len(fraction)}, true
}

// scanExponent reads the exponent part, if there is one. Exponents of more than
// four digits are cut to 9999, which is out of range in any case.
func scanExponent(s string) (int, bool) {
	if s == "" {
		return 0, true
	}
	if s[0] != 'e' && s[0] != 'E' {
		return 0, false
	}
	sign, rest := 1, s[1:]
	if rest != "" && (rest[0] == '+' || rest[0] == '-') {
		if rest[0] == '-' {
			sign = -1
		}
		rest = rest[1:]
	}
	run, tail := digits(rest)
	if run == "" || tail != "" {
		return 0, false
	}
	if run = strings.TrimLeft(run, "0"); len(run) > 4 {
		run = "9999"
	}
	n, _ := strconv.Atoi("0" + run)
	return sign * n, true
}

// digits cuts the leading run of ASCII digits.
func digits(s string) (run, rest string) {
	i := 0
	for i < len(s) && '0' <= s[i] && s[i] <= '9' {
		i++
	}
	return s[:i], s[i:]
}

// String gives the digits as written.
func (d Decimal) String() string {
	if d.text == "" {
		return "0"
	}
	return d.text
}

// Float64 gives the nearest float64; it is always finite.
func (d Decimal) Float64() float64 {
	f, _ := strconv.ParseFloat(d.String(), 64)
	return f
}

// Rat gives the exact value.
func (d Decimal) Rat() *big.Rat {
	r, ok := new(big.Rat).SetString(d.String())
	if !ok {
		panic("quantity: a decimal that does not read: " + d.text)
	}
	return r
}

// Sign gives -1, 0 or +1.
func (d Decimal) Sign() int { return cmp.Compare(d.Float64(), 0) }

// Places gives the number of digits written after the point.
func (d Decimal) Places() int {
	n, _ := scanNumber(d.String())
	return n.places
}

// MarshalJSON writes the digits as written, as a JSON number.
func (d Decimal) MarshalJSON() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalJSON reads a JSON number; a string, null or anything else is a fault.
func (d *Decimal) UnmarshalJSON(b []byte) error {
	parsed, err := ParseDecimal(string(b))
	if err != nil {
		return err
	}
	*d = parsed
	return nil
}
