package stock

import (
	"cmp"

	"meniscus/internal/edtf"
	"meniscus/internal/quantity"
	"meniscus/internal/record"
)

// A Kind is what became of part of a batch.
type Kind string

const (
	Decanted   Kind = "decanted"              // filled into a bottle
	Used       Kind = "used"                  // put on a specimen
	Discarded  Kind = "discarded"             // thrown away
	Evaporated Kind = "evaporated"            // solvent that left by itself
	ToppedUp   Kind = "topped-up"             // solvent or solution added
	Returned   Kind = "returned"              // poured back after use
	Weighed    Kind = "corrected-by-weighing" // what was found to be left
)

// leaves tells whether a kind takes from the batch.
func (k Kind) leaves() bool {
	return k == Decanted || k == Used || k == Discarded || k == Evaporated
}

// changesStrength tells whether a batch may have another strength afterwards.
func (k Kind) changesStrength() bool { return k == Evaporated || k == ToppedUp || k == Weighed }

// A Change is one entry about the amount of a batch.
type Change struct {
	ID   string
	Kind Kind
	// Date is when it happened; the zero date is not known.
	Date edtf.Date
	// Sequence is the order in which it was recorded.
	Sequence int64
	// Amount is in the unit of the opening; nil if unknown.
	Amount *quantity.Measured
	// Strength of what was added, in the unit of the opening's; nil if unknown.
	// Solvent alone has the strength 0. Only top-ups have one.
	Strength *quantity.Measured
	// DippedBrush tells whether a used brush was dipped into what was returned.
	DippedBrush record.Said[bool]
}

// compareChanges puts changes in an order in which they can have happened. Of
// changes whose dates overlap, what was added comes before what left, so that a
// balance is only found to be below zero if every possible order takes it there.
// Changes without a date come last, in the order of recording.
func compareChanges(a, b Change) int {
	return cmp.Or(a.day().Compare(b.day()), cmp.Compare(a.rank(), b.rank()), cmp.Compare(a.Sequence, b.Sequence))
}

// day is the first day that an addition may mean and the last that anything
// else may mean. If one change is certainly before another, its day is earlier.
func (c Change) day() edtf.Day {
	period := c.Date.Period()
	if c.Kind == ToppedUp || c.Kind == Returned {
		if !period.From.IsZero() {
			return period.From
		}
		return period.To // unknown beginning: no day comes before it
	}
	if !period.To.IsZero() {
		return period.To
	}
	return endOfTime
}

// endOfTime is after every date.
var endOfTime = edtf.Day{Year: 10000, Month: 1, Day: 1}

// rank orders the changes of one day.
func (c Change) rank() int {
	switch {
	case c.Kind == Weighed:
		return 2
	case c.Kind.leaves():
		return 1
	}
	return 0
}
