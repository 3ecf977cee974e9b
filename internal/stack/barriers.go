package stack

import (
	"fmt"
	"slices"

	"meniscus/internal/edtf"
	"meniscus/internal/material"
)

// face is one area of a layer of reacting resin: the barriers that stand there, and
// what is known of them.
type face struct {
	standing []int
	first    edtf.Day // by when the earliest of them was surely done
	dated    bool
	over     []bool // what lies over one of them; computed on demand
}

// findBarriers works out, for each layer of reacting resin, whether a barrier lies
// under it at every face: one that a relation ties to it, or one that is surely older
// and covers the area. Each area is looked at once for all treatments on it.
func (s *Stack) findBarriers() {
	s.overBarrier = make([]material.BarrierState, len(s.layers))
	on := map[int][]int{} // by area, the first layer of each treatment that may be of reacting resin
	for l := range s.layers {
		s.overBarrier[l] = material.BarrierUnknown
		if s.firstReacting(l) != l {
			continue
		}
		for _, a := range s.layers[l].foot.certain {
			on[a] = append(on[a], l)
			s.overBarrier[l] = material.OverBarrier
		}
	}
	unseen := 0
	for a := range s.firstsAt {
		if len(on[a]) > 0 && !s.left() {
			unseen += s.faceBarriers(a, on[a])
		}
	}
	if unseen > 0 {
		s.contradict("relations-not-followed", fmt.Sprintf(
			"There are more relations than are followed: of %d layers it is not known whether a barrier lies under them.",
			unseen))
	}
	for l := range s.layers {
		if first := s.firstReacting(l); first >= 0 && s.setsOrMay(&s.layers[l]) {
			s.overBarrier[l] = s.overBarrier[first]
		}
	}
}

// firstReacting is the first layer of a layer's treatment that may be of
// reacting resin, or -1.
func (s *Stack) firstReacting(l int) int {
	for _, sibling := range s.siblings[l] {
		if s.setsOrMay(&s.layers[sibling]) {
			return sibling
		}
	}
	return -1
}

// faceBarriers notes the treatments on an area without a barrier under them
// there, and counts those for which that is not found out.
func (s *Stack) faceBarriers(a int, layers []int) (unseen int) {
	f := s.faceOf(a)
	s.followed += len(f.standing)
	for _, l := range layers {
		s.followed++
		switch {
		case s.overBarrier[l] != material.OverBarrier || f.dated && !s.order.undated[l] &&
			after(s.layers[l].When.From, f.first):
		case !s.order.related || len(f.standing) == 0:
			s.overBarrier[l] = material.NoBarrier
		case f.over == nil && s.followed > maxFollowed:
			s.overBarrier[l] = material.BarrierUnknown
			unseen++
		default:
			if f.over == nil {
				f.over = reached(s.order.above, f.standing...)
				s.followed += len(f.over)
			}
			if !f.over[l] {
				s.overBarrier[l] = material.NoBarrier
			}
		}
	}
	return unseen
}

// faceOf gives the barriers that stand in an area, one for each treatment.
func (s *Stack) faceOf(area int) face {
	var f face
	s.atlas.above(area, func(i int) {
		for _, first := range s.barriers[i] {
			stands := func(b int) bool { return s.opens(b) && s.stateIn(b, area).mayBeThere() }
			k := slices.IndexFunc(s.siblings[first], stands)
			if k < 0 {
				continue
			}
			f.standing = append(f.standing, s.siblings[first][k])
			to := s.layers[first].When.To
			if !s.order.undated[first] && !to.IsZero() && (!f.dated || to.Compare(f.first) < 0) {
				f.first, f.dated = to, true
			}
		}
	})
	return f
}

// barrierUnder tells whether a barrier lies under a layer of reacting resin at every
// face.
func (s *Stack) barrierUnder(l int) material.BarrierState { return s.overBarrier[l] }

// barrierKinds gives the kinds of the barriers over an area and what it lies in.
func (p *planner) barrierKinds(area int) []int {
	if kinds, known := p.barriersAt[area]; known {
		return kinds
	}
	var kinds []int
	for _, first := range p.barriers[area] {
		for _, b := range p.siblings[first] {
			if p.opens(b) {
				kinds = append(kinds, p.kindOf[b])
			}
		}
	}
	if up := p.atlas.parent[area]; up >= 0 {
		kinds = append(kinds, p.barrierKinds(up)...)
	}
	slices.Sort(kinds)
	p.barriersAt[area] = slices.Compact(kinds)
	return p.barriersAt[area]
}
