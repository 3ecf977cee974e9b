package solution

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// Fill to the mark: no density of the solid is needed for it. The saline is a pharmacy
// commonplace (recalled): 9 g of sodium chloride made up to a litre is 0.9 % w/v.
func TestMakeUpWithoutDensity(t *testing.T) {
	t.Parallel()
	in := MakeUpInput{
		Resin: Resin{Solid: &Component{ID: "own", Name: "sodium chloride", Phase: Solid}}, Solvent: Pure(liquidWater()),
		Strength: Per100("0.9", MassPerSolutionVolume), Amount: Wanted{Finished: quantity.New("1", "L")},
	}
	a, err := MakeUp(in)
	if err != nil {
		t.Fatal(err)
	}
	resin, liquid := a.Main.Ingredients[0], a.Main.Ingredients[1]
	if !closeTo(resin.Exact, 9) || liquid.Mark != 1000 {
		t.Errorf("got %v g to a mark at %v mL, want 9 to 1000", resin.Exact, liquid.Mark)
	}
	if liquid.Exact != 0 || liquid.Rounded != 0 || liquid.Grams != 0 || liquid.Millilitres != 0 {
		t.Errorf("how much water it takes is not known, got %+v", liquid)
	}
	if v := a.Main.AsRounded.On(MassPerSolutionVolume); !closeTo(v.Value, 0.9) {
		t.Errorf("got %v, want 0.9", v)
	}
	for _, b := range []Basis{MassFraction, MassPerSolventVolume, PartsByMass, VolumeFraction} {
		if v := a.Target.On(b); !strings.Contains(v.Unanswered, "density of sodium chloride") {
			t.Errorf("%s: got %v %q, want that it waits for the density", b, v.Value, v.Unanswered)
		}
	}
	if a.Target.Mass.Answered() || a.Target.Density.Answered() || a.Target.Parts[1].Grams != 0 {
		t.Errorf("a mass that depends on the density was said: %+v", a.Target)
	}
	if !strings.Contains(a.ByWeight.Unanswered, "density of sodium chloride") {
		t.Errorf("by weight: got %q, want that it waits for the density", a.ByWeight.Unanswered)
	}
}

// Without a density, results that depend on it are refused.
func TestWithoutDensityRefuses(t *testing.T) {
	t.Parallel()
	solid := Component{ID: "own", Name: "salt", Phase: Solid}
	stock := Stock{Solute: solid, Solvent: Pure(liquidWater()), Strength: Per100("10", MassPerSolutionVolume)}
	for name, ask := range map[string]func() error{
		"by mass, so many millilitres": func() error {
			_, err := MakeUp(MakeUpInput{Resin: Resin{Solid: &solid}, Solvent: Pure(liquidWater()),
				Strength: PercentOf("5", MassFraction), Amount: Wanted{Finished: quantity.New("1", "L")}})
			return err
		},
		"in the volume, so many grams": func() error {
			_, err := MakeUp(MakeUpInput{Resin: Resin{Solid: &solid}, Solvent: Pure(liquidWater()),
				Strength: Per100("5", MassPerSolutionVolume), Amount: Wanted{Finished: quantity.New("1", "kg")}})
			return err
		},
		"two solvents to the mark": func() error {
			blend := Solvent{By: ByVolume, Shares: []SolventShare{{Component: liquidWater(), Fraction: 0.5},
				{Component: liquidAcetone(), Fraction: 0.5}}}
			_, err := MakeUp(MakeUpInput{Resin: Resin{Solid: &solid}, Solvent: blend,
				Strength: Per100("5", MassPerSolutionVolume), Amount: Wanted{Finished: quantity.New("1", "L")}})
			return err
		},
		"a stock in the volume, diluted by mass": func() error {
			_, err := Dilute(DiluteInput{Stock: stock, Strength: PercentOf("5", MassFraction),
				Amount: Wanted{OnHand: quantity.New("100", "g")}})
			return err
		},
		"the mass of a stock said by volume, made up to a volume": func() error {
			_, err := Dilute(DiluteInput{Stock: stock, MadeUpTo: quantity.New("1", "L"),
				Amount: Wanted{OnHand: quantity.New("100", "g")}})
			return err
		},
		"what a mass of it holds": func() error {
			_, err := Convert(ConvertInput{Stock: stock, Amount: quantity.New("100", "g")})
			return err
		},
	} {
		list := fault.From(ask())
		if len(list) != 1 || list[0].Code != "density-needed" {
			t.Errorf("%s: got %v, want that the density is needed", name, list)
		}
	}
}

// Dilution to a mark needs no density either, and the answer is the same for every
// density.
func TestDiluteWithoutDensity(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		stock := rapid.Float64Range(1, 50).Draw(rt, "stock")
		target := stock * rapid.Float64Range(0.01, 0.99).Draw(rt, "share")
		in := func(density float64) DiluteInput {
			solid := Component{ID: "own", Name: "salt", Phase: Solid}
			solid.Density.Measured = quantity.Exactly(density)
			strength := func(x float64) Strength {
				q, _ := quantity.Of(x, quantity.GramsPerDL)
				return Strength{Basis: MassPerSolutionVolume, Number: q}
			}
			return DiluteInput{Stock: Stock{Solute: solid, Solvent: Pure(liquidWater()), Strength: strength(stock)},
				Strength: strength(target), Amount: Wanted{Finished: quantity.New("250", "mL")}}
		}
		without, err := Dilute(in(0))
		if err != nil {
			rt.Fatal(err)
		}
		with, err := Dilute(in(rapid.Float64Range(1, 4).Draw(rt, "density")))
		if err != nil {
			rt.Fatal(err)
		}
		sameWhereSaid(rt, without.Target, with.Target)
		for i, got := range without.Main.Ingredients {
			want := with.Main.Ingredients[i]
			for _, pair := range [][2]float64{{got.Exact, want.Exact}, {got.Mark, want.Mark}, {got.Grams, want.Grams},
				{got.Millilitres, want.Millilitres}} {
				if pair[0] != 0 && math.Abs(pair[0]-pair[1]) > 1e-8*pair[1] {
					rt.Fatalf("%s: got %v, want %v as with a density", got.Name, pair[0], pair[1])
				}
			}
		}
		if got := without.Main.Ingredients[0].Exact; !closeTo(got, 250*target/stock) {
			rt.Fatalf("got %v mL of stock, want %v", got, 250*target/stock)
		}
	})
}

func sameWhereSaid(rt *rapid.T, got, want Mixture) {
	for _, v := range got.Strengths {
		if w := want.On(v.Basis); v.Answered() && math.Abs(v.Value-w.Value) > 1e-8*w.Value {
			rt.Fatalf("%s: got %v, want %v as with a density", v.Basis, v.Value, w.Value)
		}
	}
	if got.On(MassFraction).Answered() {
		rt.Fatalf("the mass fraction depends on the density, got %v", got.On(MassFraction).Value)
	}
}
