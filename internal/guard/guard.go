// Package guard runs a function and turns its panic into an error, so that the
// process goes on. A stack overflow or exhausted memory still ends the process;
// bounds prevent those.
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

// Attrs are the log attributes of an error: its text, and for a panic also where
// it happened.
func Attrs(err error) []any {
	attrs := []any{"error", err}
	var p *Panic
	if errors.As(err, &p) {
		attrs = append(attrs, "stack", string(p.Stack))
	}
	return attrs
}
