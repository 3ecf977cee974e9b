// Package exchange imports and exports records: an export and its restoration, a
// specimen's package and its reception, old cards. It reads and writes plain bytes,
// uses the store, and is independent of the transport. Refusals are faults.
package exchange

import "context"

// Pace is what long work does between its pieces, a page or a chunk each.
type Pace struct {
	// Patience extends the deadline of the connection for the next piece.
	Patience func()
	// Turn runs a piece when it is the work's turn.
	Turn func(ctx context.Context, piece func() error) error
	// Ending tells that the program is ending: work that can be continued later stops.
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
