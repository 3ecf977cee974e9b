package stack

import "slices"

// looseLayers are the first layers of treatments that may also lie outside the areas
// that they are filed under.
func (s *Stack) looseLayers() []int {
	var loose []int
	for l := range s.layers {
		if f := s.layers[l].foot; s.isFirst(l) && len(f.possible)+len(f.around) > 0 {
			loose = append(loose, l)
		}
	}
	return loose
}

// sealed tells whether something may lie over the layer. It looks at the layers
// filed in the same areas, the latest first: they are the likeliest to lie over
// it.
func (s *Stack) sealed(l int, loose []int) bool {
	rel := relations{order: s.order}
	over := func(first int) bool {
		if first != s.siblings[l][0] {
			return s.mayLieOver(&rel, l, first)
		}
		return slices.ContainsFunc(s.siblings[l], func(u int) bool { return u != l && s.mayLieOver(&rel, l, u) })
	}
	sealed := s.anyWith(l, loose, over)
	s.looked += rel.followed
	return sealed
}

// mayLieOver tells whether another layer may lie over a layer. Beyond the bound on what
// is followed it is assumed to.
func (s *Stack) mayLieOver(rel *relations, l, other int) bool {
	s.looked++
	under, _ := rel.between(l, other)
	return !under || s.looked+rel.followed > maxFollowed
}

// anyWith tells whether f holds for the first layer of a treatment that shares ground
// with a layer, or may.
func (s *Stack) anyWith(l int, loose []int, f func(int) bool) bool {
	foot := s.layers[l].foot
	others := loose
	if len(foot.possible)+len(foot.around) > 0 {
		others = nil
		for u := range s.layers {
			if s.isFirst(u) {
				others = append(others, u)
			}
		}
	}
	for _, a := range foot.certain {
		found := false
		s.atlas.above(a, func(i int) { found = found || anyBackward(s.firstsAt[i], f) })
		if found || s.anyInside(a, f) {
			return true
		}
	}
	if len(others) == 0 {
		return false
	}
	touch := s.atlas.touches(foot)
	s.looked += len(touch)
	return anyBackward(others, func(u int) bool {
		s.looked++
		return s.atlas.meets(touch, s.layers[u].foot) != Untouched && f(u)
	})
}

// anyInside tells whether f holds for a layer inside an area.
func (s *Stack) anyInside(a int, f func(int) bool) bool {
	for _, c := range s.atlas.children[a] {
		s.looked++
		if anyBackward(s.firstsAt[c], f) || s.anyInside(c, f) {
			return true
		}
	}
	return false
}

// anyBackward is slices.ContainsFunc from the end.
func anyBackward(list []int, f func(int) bool) bool {
	for _, x := range slices.Backward(list) {
		if f(x) {
			return true
		}
	}
	return false
}
