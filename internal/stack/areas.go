package stack

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"meniscus/internal/edtf"
)

// Area is a path of names under the specimen, such as "skull/left-orbit".
// "whole" alone is all of it.
type Area string

// Whole is the root of every path.
const Whole Area = "whole"

// Clean gives an area in the one spelling that is compared: no slash at either
// end, no empty names, and "whole" only when it stands alone.
func (a Area) Clean() Area {
	if a.clean() {
		return a
	}
	names := strings.FieldsFunc(string(a), func(r rune) bool { return r == '/' })
	if len(names) > 1 && names[0] == string(Whole) {
		names = names[1:]
	}
	if len(names) == 0 {
		return Whole
	}
	return Area(strings.Join(names, "/"))
}

// clean tells whether an area is in that spelling already.
func (a Area) clean() bool {
	s := string(a)
	return s != "" && s[0] != '/' && s[len(s)-1] != '/' && !strings.Contains(s, "//") &&
		!strings.HasPrefix(s, string(Whole)+"/")
}

// Parent is the area that a lies in; the parent of Whole is Whole.
func (a Area) Parent() Area {
	i := strings.LastIndexByte(string(a), '/')
	if i < 0 {
		return Whole
	}
	return a[:i]
}

// Within tells whether a is b or lies inside it, by name alone.
func (a Area) Within(b Area) bool {
	return a == b || b == Whole || strings.HasPrefix(string(a), string(b)+"/")
}

// Overlaps tells whether two areas share ground by name: one is the other, or
// lies in it.
func (a Area) Overlaps(b Area) bool { return a.Within(b) || b.Within(a) }

// Touch is how far something reaches an area.
type Touch int

const (
	Untouched Touch = iota
	Possibly        // a neighbour of what was named, or an unrecorded place
	Partly          // some area inside it
	Fully           // it, or an area that it lies in
)

// atlas is every area of one specimen, numbered. An area that is marked
// separate (one bone under a number of many) is cut from the area that it is
// named under: it is the root of a tree of its own, and spread stops there.
type atlas struct {
	paths    []Area
	index    map[Area]int
	parent   []int   // in the tree of the piece; -1 for its root
	children [][]int // in the tree of the piece
	piece    []int   // the root of the piece
	named    []int   // the parent by name, across the cut; -1 for Whole
	cuts     [][]int // separate areas that are named under this one, at any depth
	// joined is, by the root of a piece, the pieces that a joint ties to it, each with the
	// day from which it does.
	joined []map[int]edtf.Day
}

func newAtlas(marked []SpecimenArea, treatments []*Treatment) *atlas {
	separate := map[Area]bool{}
	seen := map[Area]bool{Whole: true}
	add := func(a Area) {
		for a = a.Clean(); !seen[a]; a = a.Parent() {
			seen[a] = true
		}
	}
	for _, m := range marked {
		add(m.Path)
		if m.Separate && m.Path.Clean() != Whole {
			separate[m.Path.Clean()] = true
		}
	}
	for _, t := range treatments {
		t.eachArea(add)
	}
	at := &atlas{index: make(map[Area]int, len(seen))}
	for a := range seen {
		at.paths = append(at.paths, a)
	}
	slices.SortFunc(at.paths, byDepthThenName)
	at.plant(separate)
	return at
}

// byDepthThenName puts an area after the one that it lies in.
func byDepthThenName(a, b Area) int {
	return cmp.Or(cmp.Compare(a.depth(), b.depth()), cmp.Compare(a, b))
}

func (a Area) depth() int {
	if a == Whole {
		return 0
	}
	return 1 + strings.Count(string(a), "/")
}

// plant makes the trees; the paths are sorted so that a parent comes first.
func (at *atlas) plant(separate map[Area]bool) {
	n := len(at.paths)
	at.parent, at.named, at.piece = make([]int, n), make([]int, n), make([]int, n)
	at.children, at.cuts, at.joined = make([][]int, n), make([][]int, n), make([]map[int]edtf.Day, n)
	for i, a := range at.paths {
		at.index[a] = i
		at.parent[i], at.named[i], at.piece[i] = -1, -1, i
		if a == Whole {
			continue
		}
		up := at.index[a.Parent()]
		at.named[i] = up
		if separate[a] {
			for u := up; u >= 0; u = at.named[u] {
				at.cuts[u] = append(at.cuts[u], i)
			}
			continue
		}
		at.parent[i], at.piece[i] = up, at.piece[up]
		at.children[up] = append(at.children[up], i)
	}
}

// id gives the number of an area; an area that is not in the atlas gives the
// nearest one that it lies in.
func (at *atlas) id(a Area) int {
	a = a.Clean()
	for {
		if i, ok := at.index[a]; ok {
			return i
		}
		a = a.Parent()
	}
}

// covers gives the roots of all that an area covers by name: the area and the
// separate pieces that are named under it.
func (at *atlas) covers(i int) []int {
	return append([]int{i}, at.cuts[i]...)
}

// join ties pieces that a joint holds together from a day on.
func (at *atlas) join(pieces []int, from edtf.Day) {
	for k := 1; k < len(pieces); k++ {
		at.tie(pieces[0], pieces[k], from)
		at.tie(pieces[k], pieces[0], from)
	}
}

// piecesOf gives the roots of the pieces that areas are in, each once.
func (at *atlas) piecesOf(areas []Area) []int {
	var roots []int
	seen := map[int]bool{}
	for _, i := range at.ids(areas) {
		if root := at.piece[i]; !seen[root] {
			seen[root] = true
			roots = append(roots, root)
		}
	}
	return roots
}

// tie notes the earliest day from which a joint holds two pieces together; an
// unknown day counts as the earliest.
func (at *atlas) tie(a, b int, from edtf.Day) {
	if at.joined[a] == nil {
		at.joined[a] = map[int]edtf.Day{}
	}
	if known, ok := at.joined[a][b]; !ok || from.Compare(known) < 0 {
		at.joined[a][b] = from
	}
}

// connected gives the roots of the pieces that hold together with some, by the
// joints that may have been there on a day. A day or a joint without a date leaves
// the joint in: to reach too far is the safer error. The pieces and joints looked
// at are counted.
func (at *atlas) connected(pieces []int, by edtf.Day, looked *int) []int {
	roots := slices.Clone(pieces)
	seen := make(map[int]bool, len(roots))
	for _, root := range roots {
		seen[root] = true
	}
	for k := 0; k < len(roots); k++ {
		*looked += len(at.joined[roots[k]])
		for root, from := range at.joined[roots[k]] {
			if !seen[root] && !after(from, by) {
				seen[root] = true
				roots = append(roots, root)
			}
		}
	}
	return roots
}

// around gives the area that area i and its neighbours lie in, in one piece, or
// nothing.
func (at *atlas) around(i int) []int {
	if up := at.parent[i]; up >= 0 {
		return []int{up}
	}
	return nil
}

// tiedTo gives the pieces that a joint ties to a piece.
func (at *atlas) tiedTo(root int) []int { return slices.Collect(maps.Keys(at.joined[root])) }

// above calls f with area i and each area of the same piece that it lies in.
func (at *atlas) above(i int, f func(int)) {
	for ; i >= 0; i = at.parent[i] {
		f(i)
	}
}

// after tells whether a day is certainly after another.
func after(a, b edtf.Day) bool { return !a.IsZero() && !b.IsZero() && a.Compare(b) > 0 }
