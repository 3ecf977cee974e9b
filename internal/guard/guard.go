// Package guard runs a piece of work so that its panic is an error and ends
// nothing else. A stack that overflows or memory that runs out ends the process
// all the same; bounds are for those.
package guard

import (
	"errors"
	"fmt"
	"runtime/debug"
)

// Panic is what a piece of work panicked with, and where.
type Panic struct {
	Value any
	Stack []byte
}

func (p *Panic) Error() string { return fmt.Sprintf("panic: %v", p.Value) }

// Run runs f; a panic of f comes back as a *Panic.
func Run(f func() error) (err error) {
	defer func() {
		if v := recover(); v != nil {
			err = &Panic{Value: v, Stack: debug.Stack()}
		}
	}()
	return f()
}

// Attrs are what a log says of an error, as names and values: itself, and of a
// panic where it was.
func Attrs(err error) []any {
	attrs := []any{"error", err}
	var p *Panic
	if errors.As(err, &p) {
		attrs = append(attrs, "stack", string(p.Stack))
	}
	return attrs
}
