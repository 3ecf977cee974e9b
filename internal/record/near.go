package record

import (
	"cmp"
	"slices"
	"unicode"
)

// Likeness is how a number resembles another one; the least is the nearest.
type Likeness int

const (
	// FoldsAlike: they differ in case, in what stands between their letters and
	// digits, or in leading zeros.
	FoldsAlike Likeness = iota
	// LooksAlike: one has O where the other has 0, or l or I where it has 1.
	LooksAlike
	// Swapped: two neighbours have changed places.
	Swapped
)

// A Variant is a fold under which a number may be on record, if that number or
// the one asked for was written down wrongly.
type Variant struct {
	Fold     string
	Likeness Likeness
}

const (
	// longestVaried is the most letters and digits of a number whose near
	// spellings are looked for. Longer numbers are copied, not typed.
	longestVaried = 24
	// MostVariants is how many variants a number has at most: itself, three for each
	// of its characters, and one with all of them.
	MostVariants = 2 + 3*longestVaried
)

// Variants are the folds of a number's near spellings, each once, the nearest
// first; the first is its own. Ordinary neighbours in a register, such as BH 5010
// and BH 5050, are no near spellings, nor is a number without its last zero.
func Variants(number string) []Variant {
	text := caseless(number)
	own := foldOf(text)
	found := []Variant{{own, FoldsAlike}}
	add := func(changed []rune, likeness Likeness) {
		fold := foldOf(changed)
		if !slices.ContainsFunc(found, func(v Variant) bool { return v.Fold == fold }) {
			found = append(found, Variant{fold, likeness})
		}
	}
	if inWords(text) > longestVaried {
		return found
	}
	add(inDigits(text), LooksAlike)
	for i, r := range text {
		for _, other := range alike(r) {
			add(with(text, i, other), LooksAlike)
		}
	}
	for i := range len(text) - 1 {
		if kindOf(text[i]) == between || kindOf(text[i+1]) == between {
			continue
		}
		swapped := with(text, i, text[i+1])
		swapped[i+1] = text[i]
		if len(foldOf(swapped)) == len(own) { // leading zeros are the same as before
			add(swapped, Swapped)
		}
	}
	return found
}

// inWords counts the letters and digits.
func inWords(text []rune) int {
	n := 0
	for _, r := range text {
		if kindOf(r) != between {
			n++
		}
	}
	return n
}

func with(text []rune, at int, r rune) []rune {
	changed := slices.Clone(text)
	changed[at] = r
	return changed
}

// alike are the characters that a character is easily mistaken for, in a number without case.
func alike(r rune) []rune {
	switch r {
	case '0':
		return []rune{'o'}
	case 'o':
		return []rune{'0'}
	case '1':
		return []rune{'l', 'i'}
	case 'l':
		return []rune{'1', 'i'}
	case 'i':
		return []rune{'1', 'l'}
	}
	return nil
}

// inDigits replaces letters that look like digits with those digits, in words
// that have a digit.
func inDigits(text []rune) []rune {
	changed := slices.Clone(text)
	for i := 0; i < len(text); {
		end := i + 1
		for end < len(text) && kindOf(text[i]) != between && kindOf(text[end]) != between {
			end++
		}
		if slices.ContainsFunc(text[i:end], unicode.IsDigit) {
			for j := i; j < end; j++ {
				if a := alike(text[j]); len(a) > 0 && unicode.IsDigit(a[0]) {
					changed[j] = a[0]
				}
			}
		}
		i = end
	}
	return changed
}

// A Spelling is a number on record that was found by a variant of the one asked
// for, with what the caller keeps beside it.
type Spelling[T any] struct {
	Number   string
	Likeness Likeness
	Of       T
}

// MaxNear is how many near spellings a look-up gives at most.
const MaxNear = 20

// Nearest ranks spellings, the nearest first, up to a limit. One that is spelled
// exactly as asked is not a near spelling.
func Nearest[T any](asked string, found []Spelling[T], most int) []Spelling[T] {
	near := slices.DeleteFunc(slices.Clone(found), func(s Spelling[T]) bool { return s.Number == asked })
	slices.SortStableFunc(near, func(a, b Spelling[T]) int {
		return cmp.Or(cmp.Compare(a.Likeness, b.Likeness), cmp.Compare(a.Number, b.Number))
	})
	return near[:min(len(near), most)]
}
