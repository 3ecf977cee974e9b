package httpapi

import (
	"fmt"
	"testing"

	"github.com/google/uuid"

	"meniscus/internal/edtf"
	"meniscus/internal/material"
	"meniscus/internal/stack"
)

// coats are n coats of different resins, one over the other.
func coats(t *testing.T, n int) *stack.Stack {
	t.Helper()
	resins := []string{"ethyl-methacrylate-methyl-acrylate-copolymer", "poly-isobutyl-methacrylate", "poly-vinyl-butyral", "poly-vinyl-acetate-resin", "cellulose-nitrate", "shellac", "animal-glue"}
	var treatments []stack.Treatment
	for i := range n {
		date, err := edtf.Parse(fmt.Sprintf("%d-%02d", 1700+i/12, 1+i%12))
		if err != nil {
			t.Fatal(err)
		}
		treatments = append(treatments, stack.Treatment{ID: uuid.NewString(), Action: stack.Coating, Method: stack.Brush, Areas: []stack.Area{"skull"}, When: date.Period(),
			Uses: []stack.Use{{Solids: []stack.Ref{{Material: resins[i%len(resins)]}}, Certainty: "recorded"}}})
	}
	st, err := stack.New(stack.Config{Treatments: treatments, Knowledge: material.Builtin(), At: edtf.Day{Year: 2026, Month: 3, Day: 2}})
	if err != nil {
		t.Fatal(err)
	}
	return st
}

// TestAPlanIsBounded: a plan of 200 layers, of which a hundred steps are worked
// out, names of the layers that each liquid disturbs a few and counts all; ten
// times the layers make it no larger.
func TestAPlanIsBounded(t *testing.T) {
	t.Parallel()
	sizes := map[int]int{}
	for _, n := range []int{200, 2_000} {
		plan := coats(t, n).Plan(stack.PlanRequest{})
		steps := each(plan.Steps, planWriter{knowledge: material.Builtin()}.step)
		counted := false
		for _, s := range steps {
			for _, c := range s.Candidates {
				named := 0
				for _, x := range c.Collateral {
					named += len(x.Layers)
					counted = counted || int(x.Count) > len(x.Layers)
				}
				if named > 5 {
					t.Fatalf("%d layers: got %d named for one liquid, want 5 at most", n, named)
				}
			}
		}
		body, err := encode(steps)
		if err != nil || len(steps) != 100 || !counted {
			t.Fatalf("%d layers: got %d steps, counted beyond the named: %v, %v", n, len(steps), counted, err)
		}
		sizes[n] = len(body)
	}
	if sizes[200] > 1_250_000 || sizes[2_000] > 1_250_000 {
		t.Errorf("got %v bytes, want 1.25 MB at most", sizes)
	}
}
