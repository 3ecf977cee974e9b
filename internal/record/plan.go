package record

// Plan is what the record must know of a proposed treatment; the rest of the
// statement is kept as it was made.
type Plan struct {
	// Treatment is the one proposed; its people are those who would do it and
	// those who propose it.
	Treatment
	Authorised bool
}
