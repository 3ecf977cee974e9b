// Package stock answers three questions about the batches on the shelf: how much
// of a batch is left and how strong it is, what it was made from and into, and
// which treatments it reached.
//
// It promises that no entry is refused: entries may come late, out of order,
// without an amount, or add up to more than there was, and the answer then carries
// a finding. A batch that was filled from another has the strength of that moment.
// What cannot be known is said to be unknown. Lineage is followed to any depth,
// and a circle in it is named.
//
// A Book is what is on record, as it was said; a Shelf is what follows from it.
// The contents of a batch, its layers on a specimen and its publications all use
// the same book.
//
// It computes no recipes (see solution), looks materials up in substance, and does
// no I/O: the caller brings the records.
package stock

// Severity is how much a finding matters.
type Severity string

const (
	Warn Severity = "warn"
	Info Severity = "info"
)

// A Finding is one result of looking at the entries. It never keeps an entry
// from being recorded.
type Finding struct {
	Rule     string
	Severity Severity
	Sentence string
	Remedy   string
	// Of are the ids of the entries or batches that it is about.
	Of []string
}
