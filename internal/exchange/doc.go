// Package exchange carries records in and out: an export and its restoration, a
// specimen's package and its reception, old cards. It reads and writes plain
// bytes, asks the store, and knows nothing of how the bytes travel. What it
// refuses is a fault.
package exchange

import "context"

// Pace is what long work does between its pieces, a page or a chunk each.
type Pace struct {
	// Patience gives the other side its time for the next piece.
	Patience func()
	// Turn does a piece when the work has its turn.
	Turn func(ctx context.Context, piece func() error) error
	// Ending tells that the program is ending: what can be gone on with later stops.
	Ending func() bool
}

// deref is the value behind a pointer, or the zero value.
func deref[T any](p *T) T {
	if p == nil {
		var zero T
		return zero
	}
	return *p
}
