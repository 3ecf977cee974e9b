package stack

import (
	"cmp"
	"fmt"
	"slices"

	"meniscus/internal/material"
)

// trial is a recorded test on this specimen.
type trial struct {
	treatment string
	layer     string
	areas     []int
	solvent   string
	observed  Observed
	dwell     string
	date      string
}

// readTrials collects the tests; one that nobody recorded a result of says
// nothing.
func (s *Stack) readTrials() {
	for _, t := range s.treatments {
		if t.Trial == nil || t.Trial.Solvent == "" || Observed(t.Trial.Observed).open() {
			continue
		}
		s.trials = append(s.trials, trial{
			treatment: t.ID, layer: t.Trial.Layer, areas: s.atlas.ids(t.Areas), solvent: t.Trial.Solvent,
			observed: Observed(t.Trial.Observed), dwell: t.Trial.Dwell, date: periodText(t.When),
		})
	}
}

// takeOff works out what became of each layer: what removals took, what
// examinations did not find, and what should have sublimed.
func (s *Stack) takeOff() {
	for _, t := range s.treatments {
		switch {
		case t.Action == Removing:
			s.applyRemoval(t)
		case t.Examination != nil && t.Examination.Outcome == "none-found":
			s.applyBareFinding(t)
		}
	}
	s.sublime()
	for l := range s.layers {
		s.settle(l)
	}
}

// applyRemoval marks the layers that a removal named, or, where nobody said
// which, those in its areas as unknown.
func (s *Stack) applyRemoval(t *Treatment) {
	r := t.Removal
	if r == nil || len(r.Treatments) == 0 {
		for l := range s.layers {
			if !after(s.layers[l].When.From, t.When.To) {
				s.mark(l, t, LocalState{State: StateUnknown, By: t.ID})
			}
		}
		return
	}
	state := LocalState{State: r.Left, By: t.ID}
	switch r.Left {
	case NotDetected:
		state.Method, state.Limit = r.Method, r.Limit
	case Reduced:
	default:
		state.State = Reduced
	}
	for _, id := range r.Treatments {
		s.removeNamed(t, id, state)
	}
}

func (s *Stack) removeNamed(t *Treatment, id string, state LocalState) {
	layers, ok := s.layersOf[id]
	if !ok {
		if _, recorded := s.byID[id]; recorded {
			s.contradict("names-no-layer", "A removal names a treatment that left no material.", t.ID, id)
		} else if !s.leftOut[id] {
			s.contradict("names-unknown-treatment", "A removal names a treatment that is not recorded for this specimen.", t.ID, id)
		} else {
			s.contradict("removal-before-layer", "A removal names a treatment that was retracted or is later than the day asked about.", t.ID, id)
		}
		return
	}
	for _, l := range layers {
		switch {
		case after(s.layers[l].When.From, t.When.To):
			s.contradict("removal-before-layer", "A removal is dated before the layer that it names.", t.ID, id)
		case !s.mark(l, t, state):
			s.contradict("removal-elsewhere", "A removal names a layer that is recorded in other areas; nothing is taken as removed.", t.ID, id)
		}
	}
}

// mark notes what became of a layer in the areas of an event. An event without
// areas concerns all of the layer. It tells whether they share ground.
func (s *Stack) mark(l int, t *Treatment, state LocalState) bool {
	layer := &s.layers[l]
	if len(t.Areas) == 0 || layer.AreasUnknown {
		for _, a := range layer.foot.certain {
			s.note(layer, a, state)
		}
		if layer.AreasUnknown && len(layer.foot.certain) == 0 {
			state.State = LayerState(cmp.Or(boundedBy(state.State), string(StateUnknown)))
			s.note(layer, 0, state)
		}
		return true
	}
	shared := false
	for _, named := range t.Areas {
		for _, e := range s.atlas.covers(s.atlas.id(named)) {
			for _, a := range layer.foot.certain {
				if where, ok := s.atlas.common(e, a); ok {
					s.note(layer, where, state)
					shared = true
				}
			}
		}
	}
	return shared
}

// boundedBy is the most that can be said of a layer whose place nobody knows:
// a finding in one place does not speak for the rest of it.
func boundedBy(state LayerState) string {
	if state == NotDetected {
		return string(StateUnknown)
	}
	return string(state)
}

func (s *Stack) note(layer *Layer, area int, state LocalState) {
	state.area, state.Area = area, s.atlas.paths[area]
	layer.Local = append(layer.Local, state)
}

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

// within tells whether area i is j or lies in it, in one piece.
func (at *atlas) within(i, j int) bool {
	for ; i >= 0; i = at.parent[i] {
		if i == j {
			return true
		}
	}
	return false
}

// applyBareFinding marks the earlier layers in the areas of an examination that
// found nothing: not detected, by its method.
func (s *Stack) applyBareFinding(t *Treatment) {
	for l := range s.layers {
		layer := &s.layers[l]
		if layer.When.To.IsZero() || !after(t.When.From, layer.When.To) {
			continue
		}
		s.mark(l, t, LocalState{State: NotDetected, Method: t.Examination.How, Limit: "", By: t.ID})
	}
}

// sublime marks open layers of a subliming binder that are old enough. A layer
// over it stops sublimation.
func (s *Stack) sublime() {
	for l := range s.layers {
		layer := &s.layers[l]
		subliming := layer.Identity.may(func(r Ref) bool { return s.knowledge.kind(r.Material) == material.VolatileBinder })
		if subliming != Yes || s.sealed(l) {
			continue
		}
		if since(layer.When, s.at).certainlyAtLeast(s.settings.SublimationDays) {
			layer.State = ShouldHaveSublimed
		}
	}
}

// sealed tells whether something may lie over the layer.
func (s *Stack) sealed(l int) bool {
	touch := s.atlas.touches(s.layers[l].foot)
	under := s.order.reachedFrom([]int{l})
	for u := range s.layers {
		if u != l && !under[u] && meets(touch, s.layers[u].foot) != Untouched {
			return true
		}
	}
	return false
}

// settle gives a layer its state as a whole: that of the last event, if it
// covered all of the layer.
func (s *Stack) settle(l int) {
	layer := &s.layers[l]
	layer.base = layer.State
	areas := layer.foot.certain
	if len(areas) == 0 && len(layer.Local) > 0 {
		areas = []int{0}
	}
	if len(areas) == 0 || len(layer.Local) == 0 {
		return
	}
	state := s.stateIn(l, areas[0])
	for _, a := range areas {
		if s.stateIn(l, a) != state {
			return
		}
	}
	layer.State = state
}

// stateIn is the state of a layer in one area: what the last event that covers
// the area left.
func (s *Stack) stateIn(l, area int) LayerState {
	layer := &s.layers[l]
	state := layer.base
	for _, e := range layer.Local {
		if s.atlas.within(area, e.area) {
			state = e.State
		}
	}
	return state
}

// stateUnder is the state of a layer on the ground that it shares with a
// footprint: the one that needs most care.
func (s *Stack) stateUnder(l int, f footprint) LayerState {
	layer := &s.layers[l]
	if len(layer.Local) == 0 {
		return layer.State
	}
	var states []LayerState
	for _, roots := range [][]int{f.certain, f.possible} {
		for _, e := range roots {
			for _, a := range layer.foot.certain {
				if where, ok := s.atlas.common(e, a); ok {
					states = append(states, s.stateIn(l, where))
				}
			}
		}
		if len(states) > 0 {
			return slices.MinFunc(states, func(a, b LayerState) int { return cmp.Compare(a.care(), b.care()) })
		}
	}
	return layer.State
}

// care orders states from the one that needs most care.
func (s LayerState) care() int {
	return slices.Index([]LayerState{Present, StateUnknown, Reduced, ShouldHaveSublimed, NotDetected}, s)
}

// describe writes a state for a sentence.
func (e LocalState) describe() string {
	switch {
	case e.State == NotDetected && e.Method != "" && e.Limit != "":
		return fmt.Sprintf("not detected by %s down to %s", e.Method, e.Limit)
	case e.State == NotDetected && e.Method != "":
		return fmt.Sprintf("not detected by %s; no limit of detection is recorded", e.Method)
	}
	return string(e.State)
}
