package record

import (
	"crypto/sha256"
	"encoding/hex"
	"strings"
	"unicode"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"
)

// Fold reduces a specimen number to what it is compared by: its runs of letters
// and its runs of digits, in order, each apart from the next, without case and
// without the zeros that lead a run. "LV.1987/0042" and "lv 1987-42" fold alike;
// "2004.1.12" and "2004.11.2" do not. Letters are compared by Unicode's case
// folding in NFKC, digits of each script as they are; invisible characters, such
// as a direction mark, are ignored. A number without letters and digits folds to
// itself without spaces. A long fold is replaced by its digest.
//
// Numbers that fold alike are nearly the same, never the same: only the catalogue
// knows that.
func Fold(number string) string { return foldOf(caseless(number)) }

// longestFold is the most bytes of a fold that is not a digest, so that it fits
// into an index.
const longestFold = 200

// caseless is a number in NFKC without case and without invisible characters.
func caseless(number string) []rune {
	folded := norm.NFKC.String(cases.Fold().String(norm.NFKC.String(number)))
	var seen []rune
	for _, r := range folded {
		if !unicode.In(r, unicode.Cf, unicode.Variation_Selector, unicode.Other_Default_Ignorable_Code_Point) {
			seen = append(seen, r)
		}
	}
	return seen
}

// foldOf is the fold of a number that is caseless already.
func foldOf(number []rune) string {
	var b strings.Builder
	for i := 0; i < len(number); {
		end := i + 1
		for end < len(number) && kindOf(number[end]) == kindOf(number[i]) {
			end++
		}
		run := number[i:end]
		if i = end; kindOf(run[0]) == between {
			continue
		}
		if b.Len() > 0 {
			b.WriteByte(' ')
		}
		b.WriteString(string(withoutLeadingZeros(run)))
	}
	fold := b.String()
	if fold == "" {
		fold = strings.Join(strings.Fields(string(number)), "")
	}
	if len(fold) > longestFold {
		digest := sha256.Sum256([]byte(fold))
		return "#" + hex.EncodeToString(digest[:]) // no fold of letters and digits begins so
	}
	return fold
}

// characters are of three kinds: letters, digits, and what stands between runs of
// them.
type characters int

const (
	between characters = iota
	letters
	digits
)

// kindOf counts combining marks, and number signs that are not decimal digits, as
// letters.
func kindOf(r rune) characters {
	switch {
	case unicode.IsDigit(r):
		return digits
	case unicode.IsLetter(r), unicode.IsMark(r), unicode.IsNumber(r):
		return letters
	}
	return between
}

// withoutLeadingZeros leaves one zero of a run that has nothing else.
func withoutLeadingZeros(run []rune) []rune {
	for len(run) > 1 && isZero(run[0]) {
		run = run[1:]
	}
	return run
}

// isZero recognises the zero of any script. Unicode keeps each script's ten
// digits together, in order; where scripts touch, there are whole tens between.
func isZero(r rune) bool {
	if !unicode.IsDigit(r) {
		return false
	}
	first := r
	for unicode.IsDigit(first - 1) {
		first--
	}
	return (r-first)%10 == 0
}

// Plain is a specimen number without case, spaces and dashes. Numbers whose folds
// and plain forms are both the same are taken for one number written twice: a
// clash, which people decide about.
func Plain(number string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) || unicode.Is(unicode.Dash, r) {
			return -1
		}
		return r
	}, string(caseless(number)))
}
