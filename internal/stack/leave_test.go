package stack_test

import (
	"context"
	"errors"
	"testing"

	"meniscus/internal/material"
	"meniscus/internal/stack"
)

// impatient is a context that ends after its error was asked for so many
// times.
type impatient struct {
	context.Context
	asks, patience int
}

func (c *impatient) Err() error {
	if c.asks++; c.asks > c.patience {
		return context.Canceled
	}
	return nil
}

// waits are the views of a stack by name, each with the error that it gives.
var waits = map[string]func(s *stack.Stack, c stack.Config) error{
	"present":     func(s *stack.Stack, _ stack.Config) error { s.Present(); return s.Err() },
	"plan":        func(s *stack.Stack, _ stack.Config) error { s.Plan(stack.PlanRequest{}); return s.Err() },
	"suitability": func(s *stack.Stack, _ stack.Config) error { s.Suitability(); return s.Err() },
	"reversible":  func(s *stack.Stack, _ stack.Config) error { s.Reversibility(); return s.Err() },
	"takes off":   func(s *stack.Stack, _ stack.Config) error { s.TakesOff(); return s.Err() },
	"travel":      func(s *stack.Stack, _ stack.Config) error { s.Travel(); return s.Err() },
	"timeline":    func(s *stack.Stack, _ stack.Config) error { s.Timeline("long"); return s.Err() },
	"check": func(s *stack.Stack, _ stack.Config) error {
		_, err := s.Check(resin("acetone", areas("skull")), stack.CheckConfig{})
		return err
	},
	"check in a new area": func(s *stack.Stack, _ stack.Config) error {
		_, err := s.Check(resin("acetone", areas("skull/new")), stack.CheckConfig{})
		return err
	},
	"removal": func(s *stack.Stack, _ stack.Config) error {
		_, err := s.Check(take("t00009", "acetone"), stack.CheckConfig{})
		return err
	},
	"recorded": func(_ *stack.Stack, c stack.Config) error {
		_, err := stack.CheckRecorded(c, "t00399", stack.CheckConfig{})
		return err
	},
	"new": func(_ *stack.Stack, c stack.Config) error { _, err := stack.New(c); return err },
}

// TestWhoLeavesEndsTheWork: each view of a long history checks its context at least
// once for every twelve treatments; at whichever check the context has ended, the
// view ends within a few more with the context's error.
func TestWhoLeavesEndsTheWork(t *testing.T) {
	t.Parallel()
	const n = 400
	for _, name := range []string{"ordinary", "resin over barriers", "removals that name nothing", "circles"} {
		history := crowds[name](n)
		for view, f := range waits {
			run := func(patience int) (*impatient, error) {
				ctx := &impatient{Context: t.Context(), patience: 1 << 30}
				config := stack.Config{
					Specimen: ribs(), Treatments: history, Knowledge: material.Builtin(), At: today, Context: ctx,
				}
				s, err := stack.New(config)
				if err != nil {
					t.Fatal(err)
				}
				ctx.asks, ctx.patience = 0, patience
				return ctx, f(s, config)
			}
			whole, err := run(1 << 30)
			if err != nil {
				t.Fatalf("%s: %s: got %v", name, view, err)
			}
			if least := n / 12; whole.asks < least && view != "timeline" { // a timeline draws 120 layers at most
				t.Errorf("%s: %s: asked %d times, want %d at least", name, view, whole.asks, least)
			}
			for _, patience := range []int{0, 1, whole.asks / 3, whole.asks / 2, whole.asks - 2} {
				ctx, err := run(patience)
				if !errors.Is(err, context.Canceled) {
					t.Errorf("%s: %s, left after %d of %d asks: got %v, want the context's error",
						name, view, patience, whole.asks, err)
				}
				if over := ctx.asks - patience; over > 60 {
					t.Errorf("%s: %s, left after %d of %d asks: asked %d times more", name, view, patience, whole.asks, over)
				}
			}
		}
	}
}
