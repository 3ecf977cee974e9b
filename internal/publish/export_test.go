package publish

// Vocabulary lists every term, for the tests.
func Vocabulary() []Term { return terms() }
