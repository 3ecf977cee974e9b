package stock_test

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"meniscus/internal/quantity"
	"meniscus/internal/solution"
	"meniscus/internal/stock"
)

// Densities as in the computed basis table for the copolymer in acetone: the
// resin 1.15 g/mL (a supplier's technical sheet), acetone 0.7908 g/mL (handbook,
// 20 °C).
var (
	resin = solution.Component{
		ID: "resin", Name: "resin", Phase: solution.Solid, Density: solution.Density{Measured: quantity.Exactly(1.15)},
	}
	acetone = solution.Component{
		ID: "acetone", Name: "acetone", Phase: solution.Liquid, Density: solution.Density{Measured: quantity.Exactly(0.7908)},
	}
)

func amount(value string, unit quantity.Unit) *quantity.Quantity {
	q := quantity.New(value, unit)
	return &q
}

func pure(c solution.Component, a *quantity.Quantity) stock.Ingredient {
	k := stock.Pure(c)
	return stock.Ingredient{Name: c.Name, Stock: &k, Amount: a}
}

func strengthOf(t *testing.T, c stock.Contents, basis solution.Basis) float64 {
	t.Helper()
	if c.Mixture == nil {
		t.Fatalf("no mixture: %v", c.Why)
	}
	v := c.Mixture.On(basis)
	if !v.Answered() {
		t.Fatalf("no strength on the basis %s: %s", basis, v.Unanswered)
	}
	return v.Value
}

// The rows of the computed basis table: 20 g to 100 mL of acetone is 17.04 g per
// 100 mL of solution and 20.19 % by mass; 20 g and 82.6 mL make 100 mL at 23.44 %
// by mass.
func TestComposeGivesTheBasisTable(t *testing.T) {
	t.Parallel()
	batches := map[string]stock.Made{
		"per solvent": {Code: "A", Inputs: []stock.Ingredient{pure(resin, amount("20", quantity.Gram)), pure(acetone, amount("100", quantity.Millilitre))}},
		"to a mark":   {Code: "B", Inputs: []stock.Ingredient{pure(resin, amount("20", quantity.Gram)), pure(acetone, nil)}, Finished: amount("100", quantity.Millilitre)},
		"one to three": {Code: "C", Inputs: []stock.Ingredient{
			{Name: "B", Batch: "to a mark", Amount: amount("25", quantity.Millilitre)}, pure(acetone, amount("75", quantity.Millilitre))}},
	}
	for _, c := range []struct {
		batch  string
		basis  solution.Basis
		want   float64
		within float64
	}{
		{"per solvent", solution.MassPerSolutionVolume, 17.04, 0.005},
		{"per solvent", solution.MassFraction, 20.19, 0.005},
		{"to a mark", solution.MassPerSolutionVolume, 20, 1e-9},
		{"to a mark", solution.MassFraction, 23.44, 0.005},
		// Common practice: one part of 20 g per 100 mL of solution with three parts of
		// solvent by volume is 5 g per 100 mL.
		{"one to three", solution.MassPerSolutionVolume, 5, 1e-6},
	} {
		if got := strengthOf(t, stock.Compose(c.batch, batches), c.basis); math.Abs(got-c.want) > c.within {
			t.Errorf("%s on %s: got %v, want %v", c.batch, c.basis, got, c.want)
		}
	}
}

// Where the finished volume was measured, it decides.
func TestComposeTakesTheMeasuredVolume(t *testing.T) {
	t.Parallel()
	got := stock.Compose("B", map[string]stock.Made{"B": {Code: "B", Finished: amount("150", quantity.Millilitre),
		Inputs: []stock.Ingredient{pure(resin, amount("30.1", quantity.Gram)), pure(acetone, amount("97", quantity.Gram))}}})
	if v := strengthOf(t, got, solution.MassPerSolutionVolume); math.Abs(v-30.1/1.5) > 1e-6 {
		t.Errorf("got %v g/dL, want 30.1 g in 150 mL = %v", v, 30.1/1.5)
	}
	if v := strengthOf(t, got, solution.MassFraction); math.Abs(v-100*30.1/127.1) > 1e-6 {
		t.Errorf("got %v %%, want %v", v, 100*30.1/127.1)
	}
}

// Contents that are not known well enough say what is missing, and still name the
// materials.
func TestComposeSaysWhatIsMissing(t *testing.T) {
	t.Parallel()
	batches := map[string]stock.Made{
		"no amounts": {Code: "N", Inputs: []stock.Ingredient{pure(resin, nil), pure(acetone, nil)}},
		"words":      {Code: "W", Inputs: []stock.Ingredient{{Name: "hardener", Amount: amount("5", quantity.Gram)}, pure(acetone, amount("10", quantity.Millilitre))}},
		"circle":     {Code: "O", Inputs: []stock.Ingredient{{Name: "O", Batch: "circle two", Amount: amount("5", quantity.Gram)}}},
		"circle two": {Code: "P", Inputs: []stock.Ingredient{{Name: "O", Batch: "circle", Amount: amount("5", quantity.Gram)}}},
		"child":      {Code: "K", Inputs: []stock.Ingredient{{Name: "N", Batch: "no amounts", Amount: amount("5", quantity.Gram)}}},
	}
	for batch, want := range map[string]string{
		"no amounts": "not all known", "words": "hardener", "circle": "from itself", "child": "not all known",
	} {
		got := stock.Compose(batch, batches)
		if got.Mixture != nil || !strings.Contains(strings.Join(got.Why, " "), want) {
			t.Errorf("%s: got %v, want no mixture and %q said", batch, got.Why, want)
		}
	}
	if diff := cmp.Diff([]string{"acetone", "resin"}, stock.Compose("child", batches).Materials); diff != "" {
		t.Errorf("materials through the lineage (-want +got):\n%s", diff)
	}
}

// An uncertain weighing is carried through to the strength: 0.5 g standard in
// 30 g is 1/60 of 20 g/dL.
func TestComposeCarriesUncertainty(t *testing.T) {
	t.Parallel()
	m := quantity.New("30", quantity.Gram)
	m.Uncertainty = quantity.Standard(quantity.MustDecimal("0.5"))
	got := stock.Compose("B", map[string]stock.Made{
		"B": {Code: "B", Finished: amount("150", quantity.Millilitre), Inputs: []stock.Ingredient{pure(resin, &m), pure(acetone, nil)}},
	})
	if u := got.Mixture.On(solution.MassPerSolutionVolume).Standard; math.Abs(u-20.0/60) > 1e-6 {
		t.Errorf("got standard uncertainty %v, want %v", u, 20.0/60)
	}
}
