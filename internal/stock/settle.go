package stock

import (
	"maps"
	"slices"

	"meniscus/internal/graph"
)

// shelved is a batch of a shelf, worked out in states: as it was made, and after each
// of its entries. A state depends on others. The state as made depends on the inputs,
// as they were when the batch was filled from them. The state after an entry depends on
// the state before, and on the batch that it was topped up with. All states of a shelf
// are worked out once, each after those that it depends on, whatever is asked first.
//
// Records can run in circles. The contents of a batch that was made from itself
// through others are unknown; and where a top-up would decide its own strength,
// the strength of what was added is unknown.
type shelved struct {
	Made
	id     string
	events []Event        // in the order in which the account takes them
	left   map[string]int // the entry by which part of it first left for another record
	circle bool
	from   []string // the batches among its inputs
	brings []string // the materials of the others
	words  []string // those whose meaning is unknown
	few    []string // some of the materials in it: all of them if they are at most two
	first  int      // the number of its state as it was made; those of its entries follow

	mixed
	account *reckoning
	steps   []Step
	altered int          // the first entry that can have changed its strength
	ownOnly map[int]bool // top-ups whose strength would depend on itself
	resin   *oneResin
}

// settle works out every batch of the shelf, once.
func (s *Shelf) settle() {
	if s.batches != nil {
		return
	}
	s.batches = make(map[string]*shelved, len(s.made))
	var order []*shelved
	for _, id := range slices.Sorted(maps.Keys(s.made)) {
		b := newShelved(id, s.made[id])
		s.batches[id] = b
		order = append(order, b)
	}
	s.findCircles(order)
	states := numbered(order)
	next := make([][]int, len(states))
	for i, at := range states {
		next[i] = s.hangsOn(at)
	}
	for _, group := range graph.Components(next) {
		if len(group) > 1 {
			s.cutTopUps(states, next, group)
		}
	}
	for _, group := range graph.Components(next) {
		for _, i := range group { // a group of one state has no circle
			s.workOut(states[i])
		}
	}
}

func newShelved(id string, made Made) *shelved {
	b := &shelved{Made: made, id: id, events: eventsInOrder(made.Events), left: map[string]int{}, ownOnly: map[int]bool{}}
	for i, e := range b.events {
		if _, known := b.left[e.ID]; e.Kind == Decanted && !known {
			b.left[e.ID] = i
		}
	}
	b.altered = slices.IndexFunc(b.events, Event.ChangesStrength)
	return b
}

// changes tells whether its strength can have changed.
func (b *shelved) changes() bool { return b.altered >= 0 }

// changedBefore tells whether its strength can have changed before an entry.
func (b *shelved) changedBefore(entry int) bool { return b.changes() && b.altered < entry }

// eventsInOrder puts events in the order in which they can have happened.
func eventsInOrder(events []Event) []Event {
	sorted := slices.Clone(events)
	slices.SortStableFunc(sorted, func(a, b Event) int { return compareChanges(a.change(), b.change()) })
	return sorted
}

// findCircles marks the batches that were made from themselves through others,
// and notes the first materials in each batch.
func (s *Shelf) findCircles(order []*shelved) {
	number := make(map[string]int, len(order))
	for i, b := range order {
		number[b.id] = i
	}
	next := make([][]int, len(order))
	for i, b := range order {
		b.gather()
		for _, in := range b.Inputs {
			if to, here := number[in.Batch]; here && in.Batch != "" {
				next[i] = append(next[i], to)
			}
		}
	}
	for _, group := range graph.Components(next) {
		var few []string
		circle := graph.Circle(next, group)
		for _, i := range group {
			order[i].circle = circle
			few = addFew(few, order[i].brings)
			for _, to := range next[i] {
				s.looked++
				few = addFew(few, order[to].few)
			}
		}
		for _, i := range group {
			order[i].few = few
		}
	}
}

// addFew adds to a set of at most three.
func addFew(few, more []string) []string {
	for _, id := range more {
		if len(few) < 3 && !slices.Contains(few, id) {
			few = append(few[:len(few):len(few)], id)
		}
	}
	return few
}

// standing is a batch as it was made, or after one of its entries.
type standing struct {
	of    *shelved
	entry int // -1 as it was made
}

// numbered gives the states their numbers.
func numbered(order []*shelved) []standing {
	var states []standing
	for _, b := range order {
		b.first = len(states)
		states = append(states, standing{b, asItWasMade})
		for i := range b.events {
			states = append(states, standing{b, i})
		}
	}
	return states
}

const asItWasMade = -1

// hangsOn gives the states that a state depends on.
func (s *Shelf) hangsOn(at standing) []int {
	b := at.of
	if at.entry != asItWasMade {
		before := []int{b.first + at.entry} // as it was made, or after the entry before
		if to, topped := s.toppedUpFrom(b, at.entry); topped {
			before = append(before, to)
		}
		return before
	}
	if b.circle {
		return nil
	}
	var on []int
	for _, in := range b.Inputs {
		from := s.batches[in.Batch]
		if from == nil || in.Batch == "" {
			continue
		}
		on = append(on, from.first)
		if i, left := from.left[b.id]; left && from.changedBefore(i) {
			on = append(on, from.first+1+i)
		}
	}
	return on
}

// toppedUpFrom is the state of the batch that another was topped up with by an
// entry, where the strength follows from that.
func (s *Shelf) toppedUpFrom(b *shelved, entry int) (int, bool) {
	e := b.events[entry]
	if e.Kind != ToppedUp || e.With == nil || e.With.Batch == "" || b.ownOnly[entry] {
		return 0, false
	}
	from := s.batches[e.With.Batch]
	if from == nil || s.Unit(from.id) != s.Unit(b.id) {
		return 0, false
	}
	i, left := from.left[e.ID]
	return from.first + 1 + i, left
}

// cutTopUps breaks a circle of states by removing its top-ups: every circle has
// at least one.
func (s *Shelf) cutTopUps(states []standing, next [][]int, group []int) {
	inside := make(map[int]bool, len(group))
	for _, i := range group {
		inside[i] = true
	}
	for _, i := range group {
		at := states[i]
		if at.entry == asItWasMade {
			continue
		}
		if to, topped := s.toppedUpFrom(at.of, at.entry); topped && inside[to] {
			at.of.ownOnly[at.entry] = true
			next[i] = s.hangsOn(at)
		}
	}
}

// workOut works out a state from those that it depends on.
func (s *Shelf) workOut(at standing) {
	b := at.of
	if at.entry == asItWasMade {
		b.mixed = s.mix(b)
		opening := s.opening(b)
		b.account = &reckoning{opening: opening, state: begin(opening), found: new(findings)}
		return
	}
	s.looked++
	e := b.events[at.entry]
	c := e.change()
	c.Amount = inUnit(s.Unit(b.id), b.Mixture)(e.Amount)
	if e.Kind == ToppedUp && e.With != nil && !b.ownOnly[at.entry] {
		c.Strength = s.added(e.ID, *e.With, s.Unit(b.id))
	}
	b.account.take(c)
	b.steps = append(b.steps, Step{c, b.account.state.balance()})
}
