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
	over     []bool // what lies over one of them; found where it is asked for
}

// findBarriers works out of each layer of reacting resin whether a barrier lies under
// it at every face: one that a relation ties to it, or one that is surely older and
// covers the area. Each area is looked at once for all layers on it.
func (s *Stack) findBarriers() {
	s.overBarrier = make([]material.BarrierState, len(s.layers))
	on := map[int][]int{}
	for l := range s.layers {
		s.overBarrier[l] = material.BarrierUnknown
		if s.setsOrMay(&s.layers[l]) && len(s.layers[l].foot.certain) > 0 {
			s.overBarrier[l] = material.OverBarrier
			for _, a := range s.layers[l].foot.certain {
				on[a] = append(on[a], l)
			}
		}
	}
	followed, unseen := 0, 0
	for a := range s.at0 {
		if len(on[a]) == 0 || s.left() {
			continue
		}
		f := s.faceOf(a)
		followed += len(f.standing)
		for _, l := range on[a] {
			followed++
			switch {
			case s.overBarrier[l] != material.OverBarrier || f.dated && !s.order.undated[l] && after(s.layers[l].When.From, f.first):
			case !s.order.related || len(f.standing) == 0:
				s.overBarrier[l] = material.NoBarrier
			case f.over == nil && followed > maxFollowed:
				s.overBarrier[l] = material.BarrierUnknown
				unseen++
			default:
				if f.over == nil {
					f.over = reached(s.order.above, f.standing...)
					followed += len(f.over)
				}
				if !f.over[l] {
					s.overBarrier[l] = material.NoBarrier
				}
			}
		}
	}
	s.followed = followed
	if unseen > 0 {
		s.contradict("relations-not-followed", fmt.Sprintf("There are more relations than are followed: of %d layers it is not known whether a barrier lies under them.", unseen))
	}
}

// faceOf gives the barriers that stand in an area.
func (s *Stack) faceOf(area int) face {
	var f face
	s.atlas.above(area, func(i int) {
		for _, b := range s.barriers[i] {
			if !s.stateIn(b, area).mayBeThere() {
				continue
			}
			f.standing = append(f.standing, b)
			if to := s.layers[b].When.To; !s.order.undated[b] && !to.IsZero() && (!f.dated || to.Compare(f.first) < 0) {
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
	for _, b := range p.barriers[area] {
		kinds = append(kinds, p.kindOf[b])
	}
	if up := p.atlas.parent[area]; up >= 0 {
		kinds = append(kinds, p.barrierKinds(up)...)
	}
	slices.Sort(kinds)
	p.barriersAt[area] = slices.Compact(kinds)
	return p.barriersAt[area]
}
