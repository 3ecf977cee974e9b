package record

// Plan is what the record must know of a proposed treatment; the rest of the
// statement is kept as it was made.
type Plan struct {
	Specimen   Ref
	Action     string
	Authorised bool
}
