package record

import (
	"cmp"
	"slices"
	"strings"
	"unicode"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"
)

// Fold reduces a specimen number to what two spellings of it have in common:
// letters without case and digits, without spaces, punctuation and leading
// zeros ("LV.1987/0042" and "lv 1987-42" fold alike). Digits of any script count
// as the digits 0 to 9. A number that has neither letters nor digits folds to
// itself without spaces.
//
// Numbers that fold alike are near spellings, never the same number: only the
// catalogue knows that.
func Fold(number string) string {
	folded := cases.Fold().String(norm.NFKC.String(number))
	var b strings.Builder
	zeros, inNumber := false, false // leading zeros passed over; digits written
	endNumber := func() {
		if zeros && !inNumber {
			b.WriteByte('0')
		}
		zeros, inNumber = false, false
	}
	for _, r := range folded {
		digit, isDigit := digitValue(r)
		switch {
		case isDigit && digit == 0 && !inNumber:
			zeros = true
		case isDigit:
			b.WriteByte('0' + digit)
			inNumber = true
		case unicode.IsLetter(r) || unicode.IsMark(r):
			endNumber()
			b.WriteRune(r)
		default:
			endNumber()
		}
	}
	endNumber()
	if b.Len() == 0 {
		return strings.Join(strings.Fields(folded), "")
	}
	return b.String()
}

// Plain is a specimen number without case, spaces and dashes. Numbers of one
// kind in one collection that are alike in it are taken to be one number twice:
// a clash, which people decide about.
func Plain(number string) string {
	plain := cases.Fold().String(norm.NFKC.String(number))
	return strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) || unicode.Is(unicode.Dash, r) {
			return -1
		}
		return r
	}, plain)
}

// digitValue gives the value of a decimal digit of any script. Unicode keeps
// each script's ten digits together, in order, apart from other scripts' digits.
func digitValue(r rune) (byte, bool) {
	if !unicode.IsDigit(r) {
		return 0, false
	}
	zero := r
	for unicode.IsDigit(zero - 1) {
		zero--
	}
	return byte(r-zero) % 10, true
}

// A Spelling is a number on record, with what the caller keeps beside it.
type Spelling[T any] struct {
	Number string
	Of     T
}

// MaxNear is how many near spellings NearSpellings gives at most.
const MaxNear = 20

// NearSpellings gives those of the candidates that may be the number asked for,
// nearest first: the same when folded, then those that differ by one or two
// characters, where two characters that look alike (O and 0, I and 1) count for
// less. A candidate that is spelled exactly as asked is not a near spelling.
func NearSpellings[T any](asked string, candidates []Spelling[T]) []Spelling[T] {
	type ranked struct {
		Spelling[T]
		distance int
	}
	folded := []rune(Fold(asked))
	var near []ranked
	for _, c := range candidates {
		if c.Number == asked {
			continue
		}
		if d := distance(folded, []rune(Fold(c.Number))); d <= farthest(len(folded)) {
			near = append(near, ranked{c, d})
		}
	}
	slices.SortStableFunc(near, func(a, b ranked) int {
		return cmp.Or(cmp.Compare(a.distance, b.distance), cmp.Compare(a.Number, b.Number))
	})
	out := make([]Spelling[T], 0, min(len(near), MaxNear))
	for _, r := range near[:min(len(near), MaxNear)] {
		out = append(out, r.Spelling)
	}
	return out
}

const (
	// differs is the cost of one character that is wrong, missing, added, or in
	// its neighbour's place; looksAlike of one that is easily misread.
	differs    = 2
	looksAlike = 1
)

// farthest is the greatest distance that still counts as near: two characters,
// and fewer in short numbers, in which two characters make another number.
func farthest(length int) int {
	return differs * min(2, length/3)
}

// distance is the optimal string alignment distance (Damerau's edits, none of
// them within another) with the costs above; beyond what can be near it stops
// early and gives a large number.
func distance(a, b []rune) int {
	if gap := len(a) - len(b); gap > 2 || gap < -2 {
		return 1 << 20
	}
	before, last, row := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range last {
		last[j] = j * differs
	}
	for i := 1; i <= len(a); i++ {
		row[0] = i * differs
		for j := 1; j <= len(b); j++ {
			row[j] = min(last[j]+differs, row[j-1]+differs, last[j-1]+substitution(a[i-1], b[j-1]))
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], before[j-2]+differs)
			}
		}
		before, last, row = last, row, before
	}
	return last[len(b)]
}

func substitution(a, b rune) int {
	if a == b {
		return 0
	}
	if shape(a) == shape(b) {
		return looksAlike
	}
	return differs
}

// shape gives one character for all that look like it on a worn label.
func shape(r rune) rune {
	switch r {
	case 'o', 'q':
		return '0'
	case 'i', 'l':
		return '1'
	case 's':
		return '5'
	case 'b':
		return '8'
	case 'z':
		return '2'
	case 'g':
		return '6'
	}
	return r
}
