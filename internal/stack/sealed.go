package stack

import "slices"

// looseLayers are the layers that may lie where they are not filed.
func (s *Stack) looseLayers() []int {
	var loose []int
	for l := range s.layers {
		if f := s.layers[l].foot; len(f.possible)+len(f.around) > 0 {
			loose = append(loose, l)
		}
	}
	return loose
}

// sealed tells whether something may lie over the layer. It looks at what is filed
// where the layer is, the latest first: that is likeliest to lie over.
func (s *Stack) sealed(l int, loose []int) bool {
	rel := relations{order: s.order}
	over := func(u int) bool {
		s.looked++
		if u == l {
			return false
		}
		under, _ := rel.between(l, u)
		return !under || s.looked+rel.followed > maxFollowed // whoever has not looked at all takes it for sealed
	}
	sealed := s.anyWith(l, loose, over)
	s.looked += rel.followed
	return sealed
}

// anyWith tells whether f holds for a layer that shares ground with another, or may.
func (s *Stack) anyWith(l int, loose []int, f func(int) bool) bool {
	foot := s.layers[l].foot
	others := loose
	if len(foot.possible)+len(foot.around) > 0 {
		others = make([]int, len(s.layers))
		for i := range others {
			others[i] = i
		}
	}
	for _, a := range foot.certain {
		found := false
		s.atlas.above(a, func(i int) { found = found || anyBackward(s.at0[i], f) })
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
		if anyBackward(s.at0[c], f) || s.anyInside(c, f) {
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
