package stack

import (
	"cmp"
	"slices"

	"meniscus/internal/bibliography"
	"meniscus/internal/edtf"
)

// Backing is what an answer rests on: what decides it first, tests before tables,
// the newest test before older ones.
type Backing struct {
	Evidence []Evidence
	// MoreEvidence is how many entries there are beyond those that are kept.
	MoreEvidence int

	published bool // one of all entries, kept or not, was read in a source that can be cited
}

// maxEvidence is how many entries an answer keeps. Tests say one of six things and
// tables one of twelve: there is room for each that contradicts.
const maxEvidence = 20

// backing keeps as much evidence as an answer holds. Within tests and within
// tables, the entry that says the deciding word comes first, and of those the one
// from the better source.
func backing(all []Evidence, decides string) Backing {
	all = slices.Clone(all)
	slices.SortStableFunc(all, func(a, b Evidence) int {
		return cmp.Or(boolOrder(a.tabled(), b.tabled()), boolOrder(a.word != decides, b.word != decides),
			b.latest.Compare(a.latest), better(a, b))
	})
	out := Backing{Evidence: all, published: slices.ContainsFunc(all, Evidence.published)}
	if len(all) > maxEvidence {
		out.Evidence, out.MoreEvidence = mostTelling(all), len(all)-maxEvidence
	}
	return out
}

// better orders evidence of the tables by how far it was checked, the best first.
func better(a, b Evidence) int {
	x, y := bibliography.Status(a.Status), bibliography.Status(b.Status)
	return boolOrder(!x.Better(y), !y.Better(x))
}

// and is what two answers rest on together.
func (b Backing) and(other Backing, decides string) Backing {
	out := backing(slices.Concat(b.Evidence, other.Evidence), decides)
	out.MoreEvidence += b.MoreEvidence + other.MoreEvidence
	out.published = b.published || other.published
	return out
}

// mostTelling keeps maxEvidence entries of a sorted list in its order: the first that
// says each thing, so that no contradiction is hidden, then the first that says it of
// each liquid or material, then the first of the others.
func mostTelling(all []Evidence) []Evidence {
	type kind struct {
		tabled   bool
		word, of string
	}
	keep, n := make([]bool, len(all)), 0
	for _, kindOf := range []func(Evidence) kind{
		func(e Evidence) kind { return kind{e.tabled(), e.word, ""} },
		func(e Evidence) kind { return kind{e.tabled(), e.word, e.of} },
		nil,
	} {
		seen := map[kind]bool{}
		for i, e := range all {
			if keep[i] || n == maxEvidence || kindOf != nil && seen[kindOf(e)] {
				continue
			}
			if keep[i], n = true, n+1; kindOf != nil {
				seen[kindOf(e)] = true
			}
		}
	}
	var kept []Evidence
	for i, e := range all {
		if keep[i] {
			kept = append(kept, e)
		}
	}
	return kept
}

// besides are further tests with the same result in the same places as one that
// counts: the last possible day of each, the newest first, or none of them dated.
type besides []edtf.Day

// since is how many of them are not surely older than a day.
func (b besides) since(from edtf.Day) int {
	n, _ := slices.BinarySearchFunc(b, from, func(day, from edtf.Day) int {
		if after(from, day) {
			return 1
		}
		return -1
	})
	return n
}
