package stock

// Looked is how many inputs, edges and entries a shelf has looked at.
func (s *Shelf) Looked() int { return s.looked }

// SpreadSteps is how many steps are looked at to find everything that one thing
// went into.
func SpreadSteps(batches []User, from string) int {
	return spread(intoOf(batches), map[string]held{from: {dawn, dawn}}).looked
}

// Compose computes what one batch holds, for the tests.
func Compose(id string, batches map[string]Made) Contents { return NewShelf(batches).Contents(id) }
