package guard_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"meniscus/internal/guard"
)

func TestAPanicIsAnErrorWithItsStack(t *testing.T) {
	t.Parallel()
	err := fmt.Errorf("working: %w", guard.Run(func() error { panic("no such layer") }))
	var p *guard.Panic
	if !errors.As(err, &p) || p.Value != "no such layer" || !strings.Contains(string(p.Stack), "guard_test.go") {
		t.Errorf("got %v, want the panic with where it was", err)
	}
	if attrs := guard.Attrs(err); len(attrs) != 4 || attrs[0] != "error" || attrs[2] != "stack" {
		t.Errorf("got %v, want the error and its stack", attrs)
	}
	failed := errors.New("failed")
	if got := guard.Run(func() error { return failed }); got != failed {
		t.Errorf("got %v, want what the work returned", got)
	}
}
