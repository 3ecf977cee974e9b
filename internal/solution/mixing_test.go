package solution

import (
	"math"
	"testing"

	"meniscus/internal/quantity"
)

// The substances of the checks. Densities: of the acrylic copolymer its maker's data
// sheet (1 ml of resin = 1.15 g); of acetone 0.7908 g/mL as the published basis table
// was computed with.
func copolymer() Component {
	return Component{ID: "ethyl-methacrylate-methyl-acrylate-copolymer", Name: "ethyl methacrylate/methyl acrylate copolymer", Phase: Solid, Density: Density{Measured: quantity.Exactly(1.15)}}
}

func liquidAcetone() Component {
	return Component{ID: "acetone", Name: "acetone", Phase: Liquid, Density: Density{Measured: quantity.Exactly(0.7908)}}
}

func within(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.6g, want %v ± %v", what, got, want, tolerance)
	}
}

func mustMakeUp(t *testing.T, in MakeUpInput) MakeUpAnswer {
	t.Helper()
	a, err := MakeUp(in)
	if err != nil {
		t.Fatalf("make-up: %v", err)
	}
	return a
}

func ptr[T any](v T) *T { return &v }

// Common practice: 20 % of 150 mL is 30 g, made to volume.
func TestMakeUpToTheMark(t *testing.T) {
	t.Parallel()
	a := mustMakeUp(t, MakeUpInput{
		Resin: Resin{Solid: ptr(copolymer())}, Solvent: Pure(liquidAcetone()),
		Strength: Per100("20", MassPerSolutionVolume),
		Amount:   Wanted{Finished: quantity.New("150", "mL")},
		Instruments: Instruments{
			Scale:   Instrument{Readability: quantity.New("1", "g")},
			Measure: Instrument{Readability: quantity.New("5", "mL")},
		},
		Tolerance: quantity.New("5", "%"),
	})
	within(t, "resin", a.Main.Ingredients[0].Exact, 30, 1e-9)
	within(t, "mark", a.Main.Ingredients[1].Mark, 150, 0)
}
