package stack

import "slices"

// common is the ground that two areas share: the smaller of them, if one lies
// in the other.
func (at *atlas) common(a, b int) (int, bool) {
	if at.within(a, b) {
		return a, true
	}
	if at.within(b, a) {
		return b, true
	}
	return 0, false
}

// shared is the ground that two sorted lists of areas share: the areas of each that are
// in the other list, or lie in one of its areas.
func (at *atlas) shared(a, b []int) []int {
	var ground []int
	for _, i := range a {
		if at.inSome(i, b) {
			ground = append(ground, i)
		}
	}
	for _, i := range b {
		if at.inSome(i, a) {
			ground = append(ground, i)
		}
	}
	return compacted(ground)
}

// meet tells whether two sorted lists of areas share ground.
func (at *atlas) meet(a, b []int) bool {
	return slices.ContainsFunc(a, func(i int) bool { return at.inSome(i, b) }) ||
		slices.ContainsFunc(b, func(i int) bool { return at.inSome(i, a) })
}

// inSome tells whether an area is one of a sorted list, or lies in one of them.
func (at *atlas) inSome(i int, sorted []int) bool {
	for ; i >= 0; i = at.parent[i] {
		if holds(sorted, i) {
			return true
		}
	}
	return false
}

// within tells whether area i is j or lies in it, in one piece.
func (at *atlas) within(i, j int) bool {
	for ; i >= 0; i = at.parent[i] {
		if i == j {
			return true
		}
	}
	return false
}
