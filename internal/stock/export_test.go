package stock

// Compose computes what one batch holds, for the tests.
func Compose(id string, batches map[string]Made) Contents { return NewShelf(batches).Contents(id) }
