package solution_test

import (
	"fmt"

	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// The acrylic copolymer in acetone of the worked examples: 1.15 and 0.7908 g/mL.
var (
	copolymer = solution.Component{ID: "copolymer", Name: "acrylic copolymer", Phase: solution.Solid,
		Density: solution.Density{Measured: quantity.Exactly(1.15)}}
	acetone = solution.Component{ID: "acetone", Name: "acetone", Phase: solution.Liquid,
		Density: solution.Density{Measured: quantity.Exactly(0.7908)}}
)

// strength is a number on a basis, in the unit that the basis has.
func strength(value string, basis solution.Basis) solution.Strength {
	return solution.Strength{Basis: basis, Number: quantity.New(value, basis.Unit())}
}

// A recipe says "17 %". How much resin and acetone is that, on each basis that
// it may mean? The basis table for the acrylic copolymer in acetone, computed
// with 1.15 and 0.7908 g/mL by ideal mixing, has for 17: in 100 mL of solution
// 85.2 mL of acetone and 20.14 % by mass; to 100 mL of acetone 17.69 % and 14.81 g
// per 100 mL; by mass 14.20 g per 100 mL; and for equal parts by mass 46.86. 17 mL
// of resin weigh 17 × 1.15 = 19.55 g, and 1 g in 17 mL is 5.88 in 100.
func ExampleMakeUp() {
	hundred, hundredGrams := quantity.New("100", quantity.Millilitre), quantity.New("100", quantity.Gram)
	equal := [2]quantity.Decimal{quantity.MustDecimal("1"), quantity.MustDecimal("1")}
	for _, asked := range []struct {
		strength solution.Strength
		amount   solution.Wanted
	}{
		{strength("17", solution.MassPerSolutionVolume), solution.Wanted{Finished: hundred}},
		{strength("17", solution.MassPerSolventVolume), solution.Wanted{Solvent: hundred}},
		{strength("17", solution.MassFraction), solution.Wanted{Finished: hundredGrams}},
		{solution.Strength{Basis: solution.PartsByMass, Parts: equal}, solution.Wanted{Finished: hundredGrams}},
		{strength("17", solution.VolumeFraction), solution.Wanted{Finished: hundred}},
		{strength("17", solution.OneIn), solution.Wanted{Finished: hundred}},
	} {
		got, err := solution.MakeUp(solution.MakeUpInput{
			Resin: solution.Resin{Solid: &copolymer}, Solvent: solution.Pure(acetone),
			Strength: asked.strength, Amount: asked.amount,
		})
		if err != nil {
			fmt.Println(err)
			continue
		}
		resin, liquid := got.Main.Ingredients[0], got.Main.Ingredients[1]
		fmt.Printf("%s: %.2f g and %.1f mL: %.2f %% by mass, %.2f g per 100 mL\n",
			asked.strength.Basis, resin.Grams, liquid.Millilitres,
			got.Target.On(solution.MassFraction).Value, got.Target.On(solution.MassPerSolutionVolume).Value)
	}
	// Output:
	// mass-per-solution-volume: 17.00 g and 85.2 mL: 20.14 % by mass, 17.00 g per 100 mL
	// mass-per-solvent-volume: 17.00 g and 100.0 mL: 17.69 % by mass, 14.81 g per 100 mL
	// mass-fraction: 17.00 g and 105.0 mL: 17.00 % by mass, 14.20 g per 100 mL
	// parts-by-mass: 50.00 g and 63.2 mL: 50.00 % by mass, 46.86 g per 100 mL
	// volume-fraction: 19.55 g and 83.0 mL: 22.95 % by mass, 19.55 g per 100 mL
	// one-in: 5.88 g and 94.9 mL: 7.27 % by mass, 5.88 g per 100 mL
}

// Twenty millilitres of 10 g per 100 mL from a stock of 50 g per 100 mL: 4 mL of
// stock, made up to 20 mL (conservation scientist's tutorial on dilution).
func ExampleDilute() {
	got, err := solution.Dilute(solution.DiluteInput{
		Stock: solution.Stock{Solute: copolymer, Solvent: solution.Pure(acetone),
			Strength: strength("50", solution.MassPerSolutionVolume)},
		Strength: strength("10", solution.MassPerSolutionVolume),
		Amount:   solution.Wanted{Finished: quantity.New("20", quantity.Millilitre)},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	stock := got.Main.Ingredients[0]
	fmt.Printf("%.3f mL stock, made up to %.0f mL (%s)\n", stock.Millilitres, got.Target.Volume.Value, got.Main.Way)
	// Output:
	// 4.000 mL stock, made up to 20 mL (to-the-mark)
}

// Three jars are poured together: 200 g of 10 %, 50 g of 20 % and 100 g of 5 % by
// mass give 35 g in 350 g, which is 10 % (pharmacy lecture notes). Each strength is
// known to a standard uncertainty of 0.5 %; then ∂w/∂wᵢ = mᵢ/350 g, and u(w) is
// 0.5 % × √(200² + 50² + 100²)/350 = 0.3273 % (JCGM 100:2008, equation 10).
func ExampleBlend() {
	var in solution.BlendInput
	for _, jar := range []struct{ grams, percent string }{{"200", "10"}, {"50", "20"}, {"100", "5"}} {
		w := strength(jar.percent, solution.MassFraction)
		w.Number.Uncertainty = quantity.Standard(quantity.MustDecimal("0.5"))
		in.Stocks = append(in.Stocks, solution.BlendStock{
			Stock: solution.Stock{Name: "the jar of " + jar.percent + " %", Strength: w,
				Solute: copolymer, Solvent: solution.Pure(acetone)},
			OnHand: quantity.New(jar.grams, quantity.Gram), UseAll: true,
		})
	}
	got, err := solution.Blend(in)
	if err != nil {
		fmt.Println(err)
		return
	}
	w := got.Exact.On(solution.MassFraction)
	fmt.Printf("%.0f g of %.2f %%, u = %.4f %%\n", got.Exact.Mass.Value, w.Value, w.Standard)
	fmt.Println(w.Range)
	// Output:
	// 350 g of 10.00 %, u = 0.3273 %
	// 9.35 to 10.65 %; the strength of the jar of 10 % matters most
}
