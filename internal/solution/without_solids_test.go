package solution

import (
	"strings"
	"testing"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

func unlabelledGlue(density string) Stock {
	product := Component{ID: "name:white glue", Name: "white glue", Phase: Liquid}
	if density != "" {
		product.Density = Density{Measured: quantity.Exactly(quantity.MustDecimal(density).Float64())}
	}
	return Stock{Dispersion: &Dispersion{Product: product, Water: liquidWater()}}
}

// One part to three by volume in 200 mL is 50 mL and 150 mL, whatever it holds; by mass in
// 200 g it is 50 g and 150 g. No number of solids is given, on any basis.
func TestUnknownSolidsByParts(t *testing.T) {
	t.Parallel()
	oneToThree := [2]quantity.Decimal{quantity.MustDecimal("1"), quantity.MustDecimal("3")}
	for _, c := range []struct {
		basis   Basis
		amount  Wanted
		density string
	}{
		{PartsByVolume, Wanted{Finished: quantity.New("200", "mL")}, ""},
		{PartsByVolume, Wanted{Finished: quantity.New("200", "mL")}, "1.07"},
		{PartsByMass, Wanted{Finished: quantity.New("200", "g")}, ""},
	} {
		a, err := Dilute(DiluteInput{Stock: unlabelledGlue(c.density), Amount: c.amount,
			Strength: Strength{Basis: c.basis, Parts: oneToThree}})
		if err != nil {
			t.Fatalf("%s, density %q: %v", c.basis, c.density, err)
		}
		within(t, string(c.basis)+", product", a.Main.Ingredients[0].Exact, 50, 1e-9)
		within(t, string(c.basis)+", water", a.Main.Ingredients[1].Exact, 150, 1e-9)
		for _, b := range []Basis{MassPerSolutionVolume, MassPerSolventVolume, MassFraction, VolumeFraction, OneIn} {
			if v := a.Target.On(b); v.Answered() {
				t.Errorf("%s: got %v on %s, want nothing that rests on the solids", c.basis, v.Value, b)
			}
		}
		if label := strings.Join(a.Label, ", "); !strings.HasPrefix(label, "white glue, 1 to 3 parts") {
			t.Errorf("%s: got the label %q", c.basis, label)
		}
		if !hasWarning(a.Advice, "solids-not-known") || !strings.Contains(a.Answer, "1 to 3 parts") {
			t.Errorf("%s: got %q with %v", c.basis, a.Answer, codes(a.Advice))
		}
	}
}

func TestUnknownSolidsAreAskedFor(t *testing.T) {
	t.Parallel()
	for _, basis := range []Basis{MassFraction, MassPerSolutionVolume} {
		_, err := Dilute(DiluteInput{Stock: unlabelledGlue("1.07"), Amount: Wanted{Finished: quantity.New("200", "g")},
			Strength: Strength{Basis: basis, Number: quantity.New("5", basis.Unit())}})
		if list := fault.From(err); len(list) != 1 || list[0].Code != "solids-missing" {
			t.Errorf("%s: got %v, want solids-missing", basis, err)
		}
	}
}
