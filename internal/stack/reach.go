package stack

import "slices"

// footprint is where a treatment was: the roots of all that it covered for
// certain, of what else it may have covered, and the areas in which it may
// have run from one part into the others. Each list is sorted.
type footprint struct {
	certain  []int
	possible []int
	around   []int
	looked   int // how many areas and joints were looked at
}

// reach works out where a treatment goes: a bath or a vapour reaches
// the connected piece, unless it held only a part; brush and drip reach the
// named area, and its neighbours possibly; a swab, a poultice and a tool stay
// where they are put. A separate piece is reached only when it is named, or
// when the area that it is named under is.
func (at *atlas) reach(t *Treatment) footprint {
	named, pieces := at.ids(t.Areas), at.piecesOf(t.Areas)
	f := footprint{looked: len(named) + len(pieces)}
	for _, i := range named {
		f.certain = append(f.certain, at.covers(i)...)
	}
	switch {
	case t.Method.bath() && t.PartialOpen:
		f.possible = append(f.possible, at.connected(pieces, t.When.To, &f.looked)...)
	case t.Method.bath() && !t.Partial:
		f.certain = append(f.certain, at.connected(pieces, t.When.To, &f.looked)...)
	case t.Method == UnknownMethod || t.Method == "":
		f.possible = append(f.possible, at.connected(pieces, t.When.To, &f.looked)...)
	case runs(t.Method):
		for _, i := range named {
			f.around = append(f.around, at.around(i)...)
		}
		for _, root := range pieces {
			f.possible = append(f.possible, at.tiedTo(root)...)
		}
	}
	for _, a := range t.PossiblyReached {
		f.possible = append(f.possible, at.covers(at.id(a))...)
	}
	if t.AreasUnknown || len(t.Areas) == 0 {
		f.possible = append(f.possible, at.covers(0)...)
	}
	return f.compacted()
}

// ground lists the areas that a treatment covered for certain: those that it
// names, and the areas reached outside them.
func (at *atlas) ground(t *Treatment, f footprint) []Area {
	ground := cleaned(t.Areas)
	named := compacted(at.ids(ground))
	for _, a := range f.certain {
		i := a
		for i >= 0 && !holds(named, i) {
			i = at.named[i]
		}
		if i < 0 {
			ground = append(ground, at.paths[a])
		}
	}
	return cleaned(ground)
}

// holds tells whether a sorted list has an area.
func holds(sorted []int, i int) bool {
	_, found := slices.BinarySearch(sorted, i)
	return found
}

// reachOfAll is where many recorded treatments go together.
func (s *Stack) reachOfAll(treatments []*Treatment) footprint {
	var all footprint
	for _, t := range treatments {
		f := s.places[t].footprint
		all.certain, all.possible = append(all.certain, f.certain...), append(all.possible, f.possible...)
		all.around = append(all.around, f.around...)
	}
	return all.compacted()
}

func (f footprint) compacted() footprint {
	return footprint{compacted(f.certain), compacted(f.possible), compacted(f.around), f.looked}
}

// perhaps are the roots of all that a footprint may cover beyond what it covers
// for certain.
func (at *atlas) perhaps(f footprint) []int {
	roots := slices.Clone(f.possible)
	for _, a := range f.around {
		roots = append(roots, at.children[a]...)
	}
	return roots
}

// runs tells whether a liquid brought this way may run into the neighbours.
func runs(m Method) bool {
	switch m {
	case Swab, Poultice, Mechanical:
		return false
	}
	return !m.bath()
}

// touches marks every area with how far a footprint reaches it.
func (at *atlas) touches(f footprint) []Touch {
	touch := make([]Touch, len(at.paths))
	raise := func(i int, t Touch) {
		touch[i] = max(touch[i], t)
	}
	fill := func(roots []int, to, over Touch) {
		marked := make([]bool, len(at.paths))
		for _, r := range roots {
			marked[r] = true
			if up := at.parent[r]; up >= 0 {
				at.above(up, func(i int) { raise(i, over) })
			}
		}
		for i := range at.paths { // a parent comes before what lies in it
			if up := at.parent[i]; marked[i] || (up >= 0 && marked[up]) {
				marked[i] = true
				raise(i, to)
			}
		}
	}
	fill(at.perhaps(f), Possibly, Possibly)
	fill(f.certain, Fully, Partly)
	return touch
}

// meets tells how far marked areas meet a footprint: Fully or Partly when they
// share ground for certain.
func (at *atlas) meets(touch []Touch, f footprint) Touch {
	best := Untouched
	for _, i := range f.certain {
		best = max(best, touch[i])
	}
	touched := func(i int) bool { return touch[i] != Untouched }
	if best == Untouched && (slices.ContainsFunc(f.possible, touched) ||
		slices.ContainsFunc(f.around, func(a int) bool { return slices.ContainsFunc(at.children[a], touched) })) {
		return Possibly
	}
	return best
}
