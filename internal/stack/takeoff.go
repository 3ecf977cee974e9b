package stack

import (
	"cmp"
	"fmt"
	"slices"

	"meniscus/internal/edtf"
	"meniscus/internal/material"
)

// trial is a recorded test on this specimen.
type trial struct {
	treatment string
	areas     []int
	solvent   string
	observed  Observed
	dwell     string
	date      string
	latest    edtf.Day // the last day that it may have been made on
	alike     besides  // tests with the same result in the same places, only counted
}

// before tells whether the test is surely older than a layer: it is no evidence
// for that one.
func (t trial) before(l *Layer) bool { return after(l.When.From, t.latest) }

// maxAlike is how many tests with the same result in the same places are kept, of the
// dated and of the undated each; the others are counted.
const maxAlike = 10

// readTrials collects the tests, the newest first; one without a recorded result is
// left out.
func (s *Stack) readTrials() {
	type seen struct{ layer, solvent, observed, areas, dated string }
	alike := map[seen]int{}
	last := map[seen]int{} // the index of the last one kept
	for _, t := range slices.Backward(s.treatments) {
		if t.Trial == nil || t.Trial.Solvent == "" || Observed(t.Trial.Observed).open() {
			continue
		}
		if s.older(t) {
			s.contradict("test-before-layer", "A test is dated before the layer that it names; "+
				"it is no evidence for that layer.", t.ID, t.Trial.Layer)
			continue
		}
		what := seen{t.Trial.Layer, t.Trial.Solvent, t.Trial.Observed, fmt.Sprint(t.Areas), fmt.Sprint(t.When.To.IsZero())}
		if alike[what]++; alike[what] > maxAlike {
			of := &s.trialsOn[t.Trial.Layer][last[what]]
			of.alike = append(of.alike, t.When.To)
			continue
		}
		last[what] = len(s.trialsOn[t.Trial.Layer])
		s.trialsOn[t.Trial.Layer] = append(s.trialsOn[t.Trial.Layer], trial{
			treatment: t.ID, areas: s.atlas.ids(t.Areas), solvent: t.Trial.Solvent,
			observed: Observed(t.Trial.Observed), dwell: t.Trial.Dwell, date: t.dateText(), latest: t.When.To,
		})
	}
}

// older tells whether a test is surely older than the layers that it names.
func (s *Stack) older(t *Treatment) bool {
	layers := s.layersOf[t.Trial.Layer]
	return len(layers) > 0 && after(s.layers[layers[0]].When.From, t.When.To)
}

// event is a removal, or an examination that found nothing, and what it says of
// the layers that it concerns.
type event struct {
	*Treatment
	areas  []int // what its areas cover, sorted; none means all of a layer
	leaves LocalState
	// named says that it concerns the layers of certain treatments, of any other event
	// those that were there before it.
	named bool
	of    []string // those treatments
}

// takeOff works out what became of each layer: what removals took, what
// examinations did not find, and what should have sublimed. The last event
// decides, so the events are read from the last.
func (s *Stack) takeOff() {
	for _, t := range s.treatments {
		if e, ok := s.eventOf(t); ok {
			s.changes = append(s.changes, e)
		}
	}
	others := s.unnamed()
	for i := range slices.Backward(s.changes) {
		if s.left() {
			return
		}
		if s.changesNoted == mostChanges || s.looked > maxFollowed {
			s.changesLeft = i + 1
			break
		}
		if e := &s.changes[i]; e.named {
			s.removeNamed(e)
		} else {
			others.take(e)
		}
	}
	s.sayChangesLeftOut()
	for _, together := range s.layersOf {
		s.shareLocal(together)
	}
	s.sublime()
	for l := range s.layers {
		s.settle(l)
	}
}

// mostChanges is how many states of layers in parts of their ground are worked out.
const mostChanges = 200_000

// sayChangesLeftOut names the bound where it was met.
func (s *Stack) sayChangesLeftOut() {
	if s.changesLeft > 0 {
		s.contradict("changes-left-out", fmt.Sprintf("There are more removals and examinations than are worked out: "+
			"the %d earliest are left out, and what they took is told as still there.",
			s.changesLeft))
	}
}

// note adds what an event left of a layer where no later event decides, and tells
// whether the whole layer is decided now.
func (s *Stack) note(l int, left []LocalState) (told bool) {
	layer := &s.layers[l]
	if layer.told == nil {
		layer.told = map[int]int{}
	}
	for _, local := range left {
		s.looked++
		if s.decisive(l, local.area) < 0 && s.changesNoted < mostChanges {
			s.changesNoted++
			layer.told[local.area] = len(layer.Local)
			layer.Local = append(layer.Local, local)
		}
	}
	return len(left) > 0 && !slices.ContainsFunc(layer.foot.certain, func(a int) bool { return s.decisive(l, a) < 0 })
}

// decisive is the index of the local state of a layer that holds in an area:
// the last that covers it, or -1.
func (s *Stack) decisive(l, area int) int {
	last := -1
	if told := s.layers[l].told; len(told) > 0 {
		s.atlas.above(area, func(i int) {
			if k, ok := told[i]; ok {
				last = max(last, k)
			}
		})
	}
	return last
}

// shareLocal puts what became of the first layer of a treatment in the order of the
// events, and lets it hold for all of its layers.
func (s *Stack) shareLocal(together []int) {
	first := &s.layers[together[0]]
	slices.Reverse(first.Local)
	for i := range first.Local {
		first.told[first.Local[i].area] = i
	}
	for _, l := range together[1:] {
		s.layers[l].Local, s.layers[l].told = first.Local, first.told
	}
}

// eventOf reads a treatment as an event. A removal leaves its layers unknown
// where it does not say what it left, and all layers where it does not say
// which it took; an examination that found nothing leaves
// them not detected by its method, unless it looked for something else.
func (s *Stack) eventOf(t *Treatment) (event, bool) {
	e := event{Treatment: t, leaves: LocalState{By: t.ID}}
	switch r := t.Removal; {
	case t.Action == Removing && (r == nil || len(r.Treatments) == 0):
		e.leaves.State = StateUnknown
	case t.Action == Removing && r.Left == NotDetected:
		e.named, e.of = true, r.Treatments
		e.leaves.State, e.leaves.Method, e.leaves.Limit = NotDetected, r.Method, r.Limit
	case t.Action == Removing && r.Left == Reduced:
		e.named, e.of, e.leaves.State = true, r.Treatments, Reduced
	case t.Action == Removing:
		e.named, e.of, e.leaves.State = true, r.Treatments, StateUnknown
	case t.Damage != nil:
		e.named, e.of = true, s.damagedBy(t)
		e.leaves.State, e.leaves.Damage = Damaged, t.Damage.Kind
	case t.Examination.bare():
		e.leaves.State, e.leaves.Method, e.leaves.Limit = NotDetected, t.Examination.How, t.Examination.Limit
	default:
		return event{}, false
	}
	for _, named := range t.Areas {
		e.areas = append(e.areas, s.atlas.covers(s.atlas.id(named))...)
	}
	e.areas = compacted(e.areas)
	return e, true
}

// became is what an event left of a layer, by area.
func (s *Stack) became(l int, e *event) []LocalState {
	if e.named && !slices.Contains(e.of, s.layers[l].Treatment) {
		return nil
	}
	return s.leftOf(l, e)
}

// leftOf is what an event left of a layer that it concerns: nothing where the layer
// was not there yet, or may not have been.
func (s *Stack) leftOf(l int, e *event) []LocalState {
	if layer := &s.layers[l]; e.before(layer) {
		return nil
	}
	return s.localStates(&s.layers[l], e)
}

// before tells whether an event may have come before a layer.
func (e *event) before(layer *Layer) bool {
	if e.Action == Removing || e.Damage != nil {
		return after(layer.When.From, e.When.To)
	}
	return layer.When.To.IsZero() || !after(e.When.From, layer.When.To)
}

// becameOf is all that became of a layer, in the order of the events.
func (s *Stack) becameOf(l int) []LocalState {
	var all []LocalState
	for i := range s.changes {
		all = append(all, s.became(l, &s.changes[i])...)
	}
	return all
}

// localStates is what an event left of a layer in each area that they share.
// An event without areas concerns all of the layer; for a layer whose place is
// unknown it gives only what holds in any place.
func (s *Stack) localStates(layer *Layer, e *event) []LocalState {
	var out []LocalState
	in := func(area int, state LayerState) {
		local := e.leaves
		local.area, local.Area, local.State = area, s.atlas.paths[area], state
		out = append(out, local)
	}
	switch {
	case len(layer.foot.certain) == 0 && layer.AreasUnknown:
		in(0, inAnyPlace(e.leaves.State))
	case len(e.areas) == 0 || layer.AreasUnknown:
		for _, a := range layer.foot.certain {
			in(a, e.leaves.State)
		}
	default:
		for _, shared := range s.atlas.shared(layer.foot.certain, e.areas) {
			in(shared, e.leaves.State)
		}
	}
	// an area before what lies in it
	slices.SortFunc(out, func(a, b LocalState) int { return cmp.Compare(a.area, b.area) })
	return out
}

// inAnyPlace is the most that can be said of a layer whose place is unknown:
// "not detected" in one place does not hold for the rest of it.
func inAnyPlace(state LayerState) LayerState {
	if state == NotDetected {
		return StateUnknown
	}
	return state
}

// removeNamed applies a removal to the layers of the treatments that it names.
func (s *Stack) removeNamed(e *event) {
	for _, id := range e.of {
		layers, ok := s.layersOf[id]
		if !ok {
			s.namesNoLayer(e, id)
		}
		if len(layers) > 0 {
			s.removeFrom(e, layers[0])
		}
	}
}

// removeFrom applies a removal to a layer that stands for those of a treatment.
func (s *Stack) removeFrom(e *event, l int) {
	layer, left := &s.layers[l], s.leftOf(l, e)
	switch {
	case after(layer.When.From, e.When.To):
		s.contradict("removal-before-layer", capitalised(e.noun())+" is dated before the layer that it names.", e.ID, layer.Treatment)
	case len(left) == 0:
		s.contradict("removal-elsewhere",
			capitalised(e.noun())+" names a layer that is recorded in other areas; nothing is taken as "+e.done()+".",
			e.ID, layer.Treatment)
	}
	s.note(l, left)
}

// namesNoLayer names a removal of something that is no layer on the day.
func (s *Stack) namesNoLayer(e *event, id string) {
	switch _, recorded := s.byID[id]; {
	case recorded:
		s.contradict("names-no-layer", capitalised(e.noun())+" names a treatment that left no material.", e.ID, id)
	case s.leftOut[id]:
		s.contradict("removal-before-layer", capitalised(e.noun())+" names a treatment that was retracted or is "+
			"later than the day asked about.", e.ID, id)
	default:
		s.contradict("names-unknown-treatment", capitalised(e.noun())+" names a treatment that is not recorded for this specimen.",
			e.ID, id)
	}
}

// sublime marks open layers of a subliming binder that are old enough. A layer
// over it stops sublimation.
func (s *Stack) sublime() {
	loose := s.looseLayers()
	for l := range s.layers {
		if s.left() {
			return
		}
		layer := &s.layers[l]
		subliming := layer.Identity.may(func(r Ref) bool { return s.knowledge.kind(r.Material) == material.VolatileBinder })
		if subliming == Yes && since(layer.When, s.at).certainlyAtLeast(s.settings.SublimationDays) && !s.sealed(l, loose) {
			layer.State = ShouldHaveSublimed
		}
	}
}
