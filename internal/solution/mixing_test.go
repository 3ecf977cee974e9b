package solution

import (
	"math"
	"testing"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// The substances of the checks. Densities: of the acrylic copolymer its maker's data
// sheet (1 ml of resin = 1.15 g); of acetone 0.7908 g/mL as the published basis table
// was computed with.
func copolymer() Component {
	return Component{ID: "ethyl-methacrylate-methyl-acrylate-copolymer",
		Name: "ethyl methacrylate/methyl acrylate copolymer", Phase: Solid,
		Density: Density{Measured: quantity.Exactly(1.15)}}
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

// toluene is 0.867 g/mL, a handbook value as recalled.
func liquidToluene() Component {
	return Component{ID: "toluene", Name: "toluene", Phase: Liquid, Density: Density{Measured: quantity.Exactly(0.867)}}
}

// Ethanol and water by OIML R 22 at 20 °C.
func liquidEthanol() Component {
	return Component{ID: "ethanol", Name: "ethanol", Phase: Liquid,
		Density: Density{Measured: quantity.Exactly(0.7892391)}, Ethanol: ptr(1.0)}
}

func liquidWater() Component {
	return Component{ID: "water", Name: "water", Phase: Liquid, Density: Density{Measured: quantity.Exactly(0.9982012)},
		Ethanol: ptr(0.0)}
}

func gramScale(step string) Instruments {
	return Instruments{Scale: Instrument{Readability: quantity.New(step, "g")}}
}

func stockOf(value string, basis Basis) Stock {
	return Stock{Solute: copolymer(), Solvent: Pure(liquidAcetone()), Strength: strengthOf(value, string(basis))}
}

func wantFault(t *testing.T, err error, code, pointer string) *fault.Fault {
	t.Helper()
	found := fault.From(err)
	if len(found) == 0 || found[0].Code != code || found[0].Pointer != pointer {
		t.Fatalf("got %v, want the fault %s at %s", err, code, pointer)
	}
	return found[0]
}
