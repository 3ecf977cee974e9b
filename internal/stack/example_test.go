package stack_test

import (
	"fmt"
	"slices"

	"meniscus/internal/edtf"
	"meniscus/internal/material"
	"meniscus/internal/stack"
)

// treated is one treatment of the skull of the examples.
func treated(id, date string, action stack.Action, material, solvent string) stack.Treatment {
	return stack.Treatment{
		ID: id, Action: action, Method: stack.Brush, Areas: []stack.Area{"skull"}, When: edtf.MustParse(date).Period(),
		Uses: []stack.Use{{Solids: []stack.Ref{{Material: material}}, Certainty: stack.Documented,
			Solvents: []stack.Share{{Solvent: solvent}}}},
	}
}

// threeLayers is a skull with a consolidant, an acrylic coating over it and wax
// over both; a removal in 2016 took a part of the wax.
func threeLayers() *stack.Stack {
	removal := stack.Treatment{ID: "removal", Action: stack.Removing, Method: stack.Swab, Areas: []stack.Area{"skull"},
		When: edtf.MustParse("2016-05").Period(), Removal: &stack.Removal{Treatments: []string{"wax"}, Left: stack.Reduced}}
	s, err := stack.New(stack.Config{
		Specimen: stack.Specimen{ID: "LV.1987/0042", BodyKind: "bone", Condition: "dry"},
		Treatments: []stack.Treatment{
			treated("consolidant", "1972", stack.Consolidation, "poly-vinyl-acetate-resin", "acetone"),
			treated("coat", "1995-06", stack.Coating, "ethyl-methacrylate-methyl-acrylate-copolymer", "acetone"),
			treated("wax", "2004~", stack.Coating, "microcrystalline-wax", "white-spirit-stoddard-solvent"), removal,
		},
		Knowledge: material.Builtin(), At: edtf.Day{Year: 2026, Month: 3, Day: 2},
	})
	if err != nil {
		panic(err)
	}
	return s
}

// What lies on the skull today? Every layer that was put on: a removal leaves a
// layer reduced and never absent, and the rest of the specimen is "not recorded",
// which does not say that it is untreated.
func ExampleStack_Present() {
	for _, area := range threeLayers().Present().Areas {
		fmt.Printf("%s: %s\n", area.Area, area.Status)
		for _, here := range area.Layers {
			fmt.Printf("  %s (%s): %s\n", here.Layer.Treatment, here.Layer.Role, here.State)
		}
	}
	// Output:
	// whole: not-recorded
	// skull: layers
	//   consolidant (consolidant): present
	//   coat (coating): present
	//   wax (coating): reduced
}

// In which order could the three layers come off, and with what? The later lies
// over the earlier where no record says otherwise, and wax comes off first, with
// a non-polar liquid (common practice). Acetone takes films of the copolymer off
// that are 20 years old (Koob and Gittins 2007). Ethanol dissolves the poly(vinyl
// acetate) (Hansen and others 1991) and harms people less than acetone.
func ExampleStack_Plan() {
	plan := threeLayers().Plan(stack.PlanRequest{})
	for _, step := range plan.Steps {
		first := slices.IndexFunc(step.Candidates, func(c stack.Candidate) bool { return !c.Test })
		if first < 0 {
			fmt.Printf("%s: only tests to make, the first with %s\n", step.Treatment, step.Candidates[0].Name)
			continue
		}
		c := step.Candidates[first]
		fmt.Printf("%s: %s %s it (%.52s ...)\n", step.Treatment, c.Name, c.Observed, c.Evidence[0].Sources.List()[0].Citation)
	}
	fmt.Println(plan.Cautions[0])
	// Output:
	// wax: only tests to make, the first with n-heptane
	// coat: ethyl acetate dissolves it (Acrylic films and their solvents, Heritage Science,  ...)
	// consolidant: ethanol dissolves it (Hansen and others, solvent and solvent-cast films of ...)
	// Test each step on a small place first and record the test: it outranks every table.
}
