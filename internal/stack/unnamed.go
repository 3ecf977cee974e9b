package stack

import (
	"fmt"

	"meniscus/internal/edtf"
)

// unnamed applies the events that name no layer, from the last. Those of one sort
// concern the same ground: an earlier one never changes what a later one says of a
// layer. The first layer of a treatment stands for all of them.
type unnamed struct {
	*Stack
	unplaced []int               // layers whose place is unknown
	told     []bool              // layers whose whole state later events say
	asked    map[string]edtf.Day // by sort: up to which day layers were met
}

func (s *Stack) unnamed() *unnamed {
	u := &unnamed{Stack: s, told: make([]bool, len(s.layers)), asked: map[string]edtf.Day{}}
	for l := range s.layers {
		if s.layers[l].AreasUnknown && s.isFirst(l) {
			u.unplaced = append(u.unplaced, l)
		}
	}
	return u
}

// take notes what an event left of the layers that were there.
func (u *unnamed) take(e *event) {
	removes := e.Action == Removing
	sort := fmt.Sprint(removes, e.areas)
	last, known := u.asked[sort]
	if known && (removes || e.When.From.Compare(last) <= 0) { // the events are in the order of their last days
		return
	}
	u.asked[sort] = e.When.From
	u.each(e.areas, func(l int) {
		if !u.told[l] && u.note(l, u.leftOf(l, e)) {
			u.told[l] = true
		}
	})
}

// each calls f with each layer that may share ground with areas; none means all.
func (u *unnamed) each(areas []int, f func(int)) {
	if len(areas) == 0 {
		for l := range u.layers {
			if u.isFirst(l) {
				f(l)
			}
		}
		u.looked += len(u.layers)
		return
	}
	met := map[int]bool{}
	see := func(list []int) {
		u.looked += len(list)
		for _, l := range list {
			if !u.told[l] && !met[l] {
				met[l] = true
				f(l)
			}
		}
	}
	see(u.unplaced)
	for _, a := range areas {
		u.atlas.above(a, func(i int) { see(u.firstsAt[i]) })
		u.inside(a, see)
	}
}

// inside calls f with the layers of each area inside one.
func (u *unnamed) inside(a int, f func([]int)) {
	for _, c := range u.atlas.children[a] {
		u.looked++
		f(u.firstsAt[c])
		u.inside(c, f)
	}
}
