package stock

import "slices"

// Looked is how many inputs, edges and entries a shelf has looked at.
func (s *Shelf) Looked() int { return s.looked }

// SpreadSteps is how many steps are looked at to find everything that one thing
// went into.
func SpreadSteps(batches []User, from string) int {
	return spread(intoOf(batches), map[string]held{from: {dawn, dawn}}).looked
}

// Compose computes what one batch holds, for the tests.
func Compose(id string, batches map[string]Made) Contents { return NewShelf(batches).Contents(id) }

// Reckon adds up the changes of a batch, for the tests.
func Reckon(opening Opening, changes []Change) Account {
	r := reckoning{opening: opening, state: begin(opening), found: new(findings)}
	var steps []Step
	for _, c := range inOrder(changes) {
		r.take(c)
		steps = append(steps, Step{c, r.state.balance()})
	}
	return Account{Balance: r.state.balance(), Steps: steps, Findings: r.found.list(opening.Unit)}
}

func inOrder(changes []Change) []Change {
	sorted := slices.Clone(changes)
	slices.SortStableFunc(sorted, compareChanges)
	return sorted
}
