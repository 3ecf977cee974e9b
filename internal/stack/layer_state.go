package stack

import (
	"slices"
	"strings"
)

// settle gives a layer its state as a whole: the one of its areas' states that
// needs most care.
func (s *Stack) settle(l int) {
	layer := &s.layers[l]
	layer.base = layer.State
	areas := layer.foot.certain
	if len(areas) == 0 && len(layer.Local) > 0 {
		areas = []int{0}
	}
	if len(areas) > 0 && len(layer.Local) > 0 {
		layer.State = s.mostCare(l, areas)
	}
}

// mostCare is the one of a layer's states in some areas that needs most care.
func (s *Stack) mostCare(l int, areas []int) LayerState {
	state := s.stateIn(l, areas[0])
	for _, a := range areas[1:] {
		if here := s.stateIn(l, a); here.care() < state.care() {
			state = here
		}
	}
	return state
}

// stateIn is the state of a layer in one area: what the last event that covers
// the area left.
func (s *Stack) stateIn(l, area int) LayerState {
	if k := s.decisive(l, area); k >= 0 {
		return s.layers[l].Local[k].State
	}
	return s.layers[l].base
}

// stateUnder is the state of a layer on the ground that it shares with a
// footprint: the one that needs most care.
func (s *Stack) stateUnder(l int, f footprint) LayerState {
	layer := &s.layers[l]
	if len(layer.Local) == 0 {
		return layer.State
	}
	for _, roots := range [][]int{f.certain, compacted(s.atlas.perhaps(f))} {
		if shared := s.atlas.shared(roots, layer.foot.certain); len(shared) > 0 {
			return s.mostCare(l, shared)
		}
	}
	return layer.State
}

// care orders states from the one that needs most care.
func (s LayerState) care() int {
	return slices.Index([]LayerState{Damaged, Present, StateUnknown, Reduced, ShouldHaveSublimed, NotDetected}, s)
}

// LookedBy says by which method something was looked for and down to what limit, or that it
// is not recorded: nothing found by eye is not nothing found by X-ray fluorescence.
func LookedBy(method, limit string) string {
	method = strings.TrimPrefix(method, "by ")
	if method == "" {
		method = "a method that is not recorded"
	}
	if limit == "" {
		return "by " + method + "; no limit of detection is recorded"
	}
	return "by " + method + " down to " + limit
}

// describe writes a state for a sentence.
func (e LocalState) describe() string {
	if e.State == NotDetected {
		return "not detected " + LookedBy(e.Method, e.Limit)
	}
	if e.State == Damaged && damageWords[e.Damage] != "" {
		return damageWords[e.Damage]
	}
	return string(e.State)
}
