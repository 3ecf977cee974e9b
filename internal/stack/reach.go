package stack

// footprint is where a treatment was: the roots of all that it covered for
// certain, and of what it may have covered besides.
type footprint struct {
	certain  []int
	possible []int
}

// reach works out where a treatment goes (rule L14): a bath or a vapour reaches
// the connected piece, unless it held only a part; brush and drip reach the
// named area, and its neighbours possibly; a swab, a poultice and a tool stay
// where they are put. A separate piece is reached only when it is named, or
// when the area that it is named under is.
func (at *atlas) reach(t *Treatment) footprint {
	var f footprint
	for _, a := range t.Areas {
		i := at.id(a)
		f.certain = append(f.certain, at.covers(i)...)
		switch {
		case t.Method.bath() && !t.Partial:
			f.certain = append(f.certain, at.connected(i, t.When.To)...)
		case t.Method == UnknownMethod || t.Method == "":
			f.possible = append(f.possible, at.connected(i, t.When.To)...)
		case runs(t.Method):
			f.possible = append(f.possible, at.beside(i)...)
		}
	}
	for _, a := range t.PossiblyReached {
		f.possible = append(f.possible, at.covers(at.id(a))...)
	}
	if t.AreasUnknown || len(t.Areas) == 0 {
		f.possible = append(f.possible, at.covers(0)...)
	}
	return f
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
	fill(f.possible, Possibly, Possibly)
	fill(f.certain, Fully, Partly)
	return touch
}

// meets tells how far marked areas meet a footprint: Fully or Partly when they
// share ground for certain.
func meets(touch []Touch, f footprint) Touch {
	best := Untouched
	for _, i := range f.certain {
		best = max(best, touch[i])
	}
	if best == Untouched {
		for _, i := range f.possible {
			if touch[i] != Untouched {
				return Possibly
			}
		}
	}
	return best
}
