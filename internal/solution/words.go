package solution

import (
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"meniscus/internal/quantity"
)

// indexed is the JSON Pointer step to item i of a list.
func indexed(i int) string { return "/" + strconv.Itoa(i) }

// capital begins a sentence with s.
func capital(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(r)) + s[n:]
}

// the puts the article before a name that has none.
func the(name string) string {
	if strings.HasPrefix(name, "the ") {
		return name
	}
	return "the " + name
}

// list joins names for a sentence: "a", "a and b", "a, b and c".
func list(names []string) string {
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

// amountText writes a number with its unit for a sentence: "30 g".
func amountText(x float64, unit quantity.Unit) string { return number(x) + " " + unit.Said() }

// readStep gives the step at which a person reads a number when no instrument is
// named: three significant digits.
func readStep(x float64) float64 {
	if x == 0 || math.IsNaN(x) || math.IsInf(x, 0) {
		return 1
	}
	return math.Pow(10, math.Floor(math.Log10(math.Abs(x)))-2)
}

// rough writes a per cent or another size that needs no more than two digits.
func rough(x float64) string { return quantity.Digits(x, 2) }
