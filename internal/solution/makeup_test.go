package solution

import (
	"math"
	"slices"
	"strings"
	"testing"

	"meniscus/internal/quantity"
)

// The design's own example: 150 mL of solvent at 20 g to 100 mL of solvent is 30 g of
// resin on top, fills 176 mL and overflows a 150 mL jar; the answer says so.
func TestMakeUpSaysThatSolventBasisOverflows(t *testing.T) {
	t.Parallel()
	a := mustMakeUp(t, MakeUpInput{
		Resin: Resin{Solid: ptr(copolymer())}, Solvent: Pure(liquidAcetone()), Strength: Per100("20", MassPerSolventVolume),
		Amount: Wanted{Solvent: quantity.New("150", "mL")}, Container: &Container{Capacity: quantity.New("150", "mL")},
	})
	within(t, "resin", a.Main.Ingredients[0].Exact, 30, 1e-9)
	within(t, "finished volume", a.Target.Volume.Value, 176, 0.1)
	if a.Fit == nil || a.Fit.Fits || !hasWarning(a.Advice, "container-overflows") {
		t.Errorf("fit: got %+v, warnings %v", a.Fit, codes(a.Advice))
	}
}

// The design's own example: 20 mL at 5 g per 100 mL on a scale of 1 g is ± 58 %
// (half a gram, rectangular, k = 2: 2/(2√3) of the one gram that is weighed).
func TestMakeUpOnAKitchenScale(t *testing.T) {
	t.Parallel()
	in := MakeUpInput{
		Resin: Resin{Solid: ptr(copolymer())}, Solvent: Pure(liquidAcetone()), Strength: Per100("5", MassPerSolutionVolume),
		Amount: Wanted{Finished: quantity.New("20", "mL")}, Tolerance: quantity.New("10", "%"),
		Instruments: Instruments{
			Scale:   Instrument{Readability: quantity.New("1", "g")},
			Measure: Instrument{Readability: quantity.New("0.5", "mL")},
		},
	}
	a := mustMakeUp(t, in)
	z := a.Smallest
	if z == nil || z.Enough {
		t.Fatalf("smallest: got %+v, want that it is not enough", z)
	}
	within(t, "± %", z.Has, 100/math.Sqrt(3), 0.2)
	// 6 g give ± 9.6 %, 5 g 11.5 %.
	within(t, "smallest make, mL", z.Millilitres, 120, 1e-9)
	if z.Instead == nil || z.Instead.Has > 10 || z.Instead.StockVolume < z.Instead.Take {
		t.Fatalf("instead: got %+v, want a stock within 10 %%", z.Instead)
	}
	in.Amount = Wanted{Finished: quantity.New(quantity.Digits(z.Millilitres, 3), "mL")}
	if again := mustMakeUp(t, in).Smallest; !again.Enough {
		t.Errorf("the smallest make: got ± %v %%, want it within 10", again.Has)
	}
	in.Strength = Per100(quantity.Digits(z.Instead.StockStrength, 4), MassPerSolutionVolume)
	in.Amount = Wanted{Finished: quantity.New(quantity.Digits(z.Instead.StockVolume, 6), "mL")}
	if stock := mustMakeUp(t, in).Smallest; !stock.Enough {
		t.Errorf("the stock itself: got ± %v %%, want it within 10", stock.Has)
	}
}

// Common practice: a gram more or less in thirty is 0.7 in the percentage: 19.3 to
// 20.7 for 20.
func TestMakeUpRangeInWords(t *testing.T) {
	t.Parallel()
	a := mustMakeUp(t, MakeUpInput{
		Resin: Resin{Solid: ptr(copolymer())}, Solvent: Pure(liquidAcetone()), Strength: Per100("20", MassPerSolutionVolume),
		Amount: Wanted{Finished: quantity.New("150", "mL")},
		Instruments: Instruments{
			Scale:   Instrument{Uncertainty: quantity.Standard(quantity.MustDecimal("0.5"))},
			Measure: Instrument{Uncertainty: quantity.Standard(quantity.MustDecimal("0.1"))},
		},
	})
	want := "19.33 to 20.67 g per 100 mL; the balance matters most"
	if got := a.Main.AsRounded.On(MassPerSolutionVolume).Range; got != want {
		t.Errorf("range: got %q, want %q", got, want)
	}
}

func TestMakeUpAmounts(t *testing.T) {
	t.Parallel()
	base := MakeUpInput{Resin: Resin{Solid: ptr(copolymer())}, Solvent: Pure(liquidAcetone()),
		Strength: Per100("20", MassPerSolutionVolume)}
	tests := []struct {
		name   string
		amount Wanted
		resin  float64
	}{
		{"finished volume", Wanted{Finished: quantity.New("0.15", "L")}, 30},
		{"bottles with a loss", Wanted{Bottles: &Bottles{Count: 10, Size: quantity.New("30", "mL"), Loss: quantity.New("10", "%")}}, 66},
		{"resin on hand", Wanted{OnHand: quantity.New("12.5", "g")}, 12.5},
		{"ounces on hand", Wanted{OnHand: quantity.New("1", "[oz_av]")}, 28.349523125},
	}
	for _, test := range tests {
		in := base
		in.Amount = test.amount
		a := mustMakeUp(t, in)
		within(t, test.name, a.Main.Ingredients[0].Exact, test.resin, 1e-9)
		within(t, test.name+", strength", a.Target.On(MassPerSolutionVolume).Value, 20, 1e-9)
	}
	in := base
	in.Amount = Wanted{}
	_, err := MakeUp(in)
	wantFault(t, err, "amount-one-of", "/amount")
}

// To find a mark at 150 mL, weigh in 150 mL over the factor Z of ISO 8655-6 for the density of water
// and the buoyancy of air: 1.0029 mL/g at 20 °C, 1.0040 at 25 °C and 1.0054 at 30 °C, at 101.3 kPa (as
// printed in two manuals of pipettes). A litre is 997 g, and not 998.
func TestMakeUpMarksTheJarWithWater(t *testing.T) {
	t.Parallel()
	in := MakeUpInput{
		Resin: Resin{Solid: ptr(copolymer())}, Solvent: Pure(liquidAcetone()), Strength: Per100("20", MassPerSolutionVolume),
		Amount: Wanted{Finished: quantity.New("150", "mL")}, Instruments: gramScale("0.1"),
	}
	a := mustMakeUp(t, in)
	within(t, "water, g", a.MarkWater.Grams, 150/1.0029, 0.01)
	within(t, "to the scale", a.MarkWater.Rounded, 149.6, 0)
	if step := a.Steps[1]; !strings.Contains(step,
		"Mark it at 150 mL: set the scale with the vessel on it to zero, weigh in 149.6 g of water") {
		t.Errorf("step: got %q", step)
	}
	in.Temperature = quantity.New("25", "Cel")
	a = mustMakeUp(t, in)
	within(t, "water at 25 °C, g", a.MarkWater.Grams, 150/1.0040, 0.01)
	in.Temperature = quantity.New("30", "Cel")
	within(t, "water at 30 °C, g", mustMakeUp(t, in).MarkWater.Grams, 150/1.0054, 0.01)
}

// A scale in ounces: amounts are rounded to its steps and given in ounces, with grams
// beside them.
func TestMakeUpWithAScaleInOunces(t *testing.T) {
	t.Parallel()
	a := mustMakeUp(t, MakeUpInput{
		Resin: Resin{Solid: ptr(copolymer())}, Solvent: Pure(liquidAcetone()), Strength: Per100("20", MassPerSolutionVolume),
		Amount:      Wanted{Finished: quantity.New("5", "[foz_us]")},
		Instruments: Instruments{Scale: Instrument{Readability: quantity.New("0.05", "[oz_av]")}},
	})
	line := a.Main.Ingredients[0]
	within(t, "resin, g", line.Exact, 0.2*5*29.5735295625, 1e-9)
	if line.Shown != (Shown{1.05, "[oz_av]"}) {
		t.Errorf("shown: got %+v, want 1.05 oz", line.Shown)
	}
	within(t, "rounded, g", line.Rounded, 1.05*28.349523125, 1e-9)
	if !strings.Contains(strings.Join(a.Steps, "\n"), "weigh in 1.05 oz (29.77 g)") {
		t.Errorf("steps: got %q", a.Steps)
	}
}

// The answer says what was seen of the resin in the liquid, unless it dissolves.
func TestMakeUpSaysWhatWasSeenToDissolve(t *testing.T) {
	t.Parallel()
	for seen, code := range map[string]string{"dissolves": "", "unknown": "solubility-not-known",
		"disputed": "solubility-disputed", "swells": "solubility-doubtful"} {
		a := mustMakeUp(t, MakeUpInput{
			Resin: Resin{Solid: ptr(copolymer())}, Solvent: Pure(liquidAcetone()), Strength: Per100("20", MassPerSolutionVolume),
			Amount: Wanted{Finished: quantity.New("150", "mL")}, Observed: []Observation{{Solvent: "acetone", Observed: seen}},
		})
		for _, c := range []string{"solubility-not-known", "solubility-disputed", "solubility-doubtful"} {
			if hasWarning(a.Advice, c) != (c == code) {
				t.Errorf("%s: warnings %v, want %q", seen, codes(a.Advice), code)
			}
		}
	}
}

// One liquid is no mixture: what was seen of it is said of the recipe.
func TestMakeUpInALiquidThatDoesNotDissolve(t *testing.T) {
	t.Parallel()
	half := func(c Component) SolventShare { return SolventShare{Component: c, Fraction: 0.5} }
	for _, c := range []struct {
		in   Solvent
		want string
	}{
		{Pure(liquidAcetone()), "Do not expect it to dissolve: take another liquid, or try a little first."},
		{Solvent{By: ByVolume, Shares: []SolventShare{half(liquidAcetone()), half(liquidEthanol())}},
			"Whether the mixture does is for a small trial."},
	} {
		a := mustMakeUp(t, MakeUpInput{Resin: Resin{Solid: ptr(copolymer())}, Solvent: c.in,
			Strength: Per100("20", MassPerSolutionVolume), Amount: Wanted{Finished: quantity.New("150", "mL")},
			Observed: []Observation{{Solvent: "acetone", Observed: "swells"}}})
		said := ""
		for _, w := range a.Warnings {
			said += w.Sentence + "\n"
		}
		if !strings.Contains(said, "(seen: swells). "+c.want) {
			t.Errorf("got %q, want %q", said, c.want)
		}
	}
}

// Ethanol goes in after dissolving: its share is counted in the strength, it is a line
// of its own, and it comes after the resin in the steps.
func TestMakeUpWithASecondSolvent(t *testing.T) {
	t.Parallel()
	ethanol := liquidEthanol()
	a := mustMakeUp(t, MakeUpInput{
		Resin: Resin{Solid: ptr(copolymer())}, Strength: Per100("10", MassPerSolutionVolume),
		Solvent: Solvent{By: ByVolume, Shares: []SolventShare{{Component: liquidAcetone(), Fraction: 0.8},
			{Component: ethanol, Fraction: 0.2, AfterDissolving: true}}},
		Amount: Wanted{Finished: quantity.New("100", "mL")},
	})
	order := make([]Role, len(a.Main.Ingredients))
	for i, line := range a.Main.Ingredients {
		order[i] = line.Role
	}
	if len(order) != 3 || order[0] != ResinRole || order[1] != LaterRole || a.Main.Ingredients[2].How != FillUp ||
		a.Main.Ingredients[2].ID != "acetone" {
		t.Fatalf("ingredients: got %+v", a.Main.Ingredients)
	}
	// 91.304 mL of solvent in all (10 g of resin fill 8.696), a fifth of it ethanol.
	within(t, "ethanol, mL", a.Main.Ingredients[1].Exact, 0.2*(100-10/1.15), 1e-9)
	resin, later := -1, -1
	for i, step := range a.Steps {
		if strings.Contains(step, "copolymer a little at a time") {
			resin = i
		}
		if strings.Contains(step, "of ethanol") {
			later = i
		}
	}
	if resin < 0 || later < resin || !hasWarning(a.Advice, "order-matters") {
		t.Errorf("steps: got %q", a.Steps)
	}
}

// The time that a resin takes to dissolve is a source of recipes of resin alone.
func TestMakeUpCitesWhatItUses(t *testing.T) {
	t.Parallel()
	for _, resin := range []bool{true, false} {
		solid := copolymer()
		solid.Resin = resin
		a := mustMakeUp(t, MakeUpInput{Resin: Resin{Solid: &solid}, Solvent: Pure(liquidAcetone()),
			Strength: Per100("5", MassPerSolutionVolume), Amount: Wanted{Finished: quantity.New("100", "mL")}})
		if got := slices.Contains(a.Sources, dissolvingSource); got != resin {
			t.Errorf("resin %t: cites the dissolving time: %t", resin, got)
		}
	}
}

// A stock as resin: 25 g per 100 mL to 5 g per 100 mL, 100 mL: 20 mL of it, made up to
// the mark (computed dilution of the basis table).
func TestMakeUpFromAStock(t *testing.T) {
	t.Parallel()
	stock := stockOf("25", MassPerSolutionVolume)
	a := mustMakeUp(t, MakeUpInput{
		Resin: Resin{Stock: &stock}, Solvent: Pure(liquidAcetone()), Strength: Per100("5", MassPerSolutionVolume),
		Amount: Wanted{Finished: quantity.New("100", "mL")},
	})
	within(t, "stock, mL", a.Main.Ingredients[0].Exact, 20, 1e-9)
	if a.Main.Ingredients[0].How != Pour || a.ByWeight.Ingredients[0].How != Weigh {
		t.Errorf("measured: got %s and %s, want pour, and weigh in the one by weight", a.Main.Ingredients[0].How,
			a.ByWeight.Ingredients[0].How)
	}
}

// A dispersion of 50 % solids and 1.05 g/mL to 10 % by mass: a fifth of it, four fifths
// of water; as 10 mL supplied in 100 mL it is 5.25 g of solids.
func TestMakeUpFromADispersion(t *testing.T) {
	t.Parallel()
	product := Component{ID: "acrylic-dispersion", Name: "acrylic dispersion", Phase: Liquid,
		Density: Density{Measured: quantity.Exactly(1.05)}}
	in := MakeUpInput{
		Resin:    Resin{Dispersion: &Dispersion{Product: product, Solids: quantity.New("50", "%"), Water: liquidWater()}},
		Strength: PercentOf("10", MassFraction), Amount: Wanted{Finished: quantity.New("100", "g")},
	}
	a := mustMakeUp(t, in)
	within(t, "dispersion, g", a.Main.Ingredients[0].Exact, 20, 1e-9)
	within(t, "water, g", a.Main.Ingredients[1].Exact, 80, 1e-9)
	in.Strength, in.Amount = PercentOf("10", AsSuppliedVolume), Wanted{Finished: quantity.New("100", "mL")}
	a = mustMakeUp(t, in)
	within(t, "dispersion, mL", a.Main.Ingredients[0].Exact, 10, 1e-9)
	within(t, "solids in 100 mL", a.Target.On(MassPerSolutionVolume).Value, 5.25, 1e-9)
	in.Resin.Dispersion.Solids = quantity.Quantity{}
	_, err := MakeUp(in)
	wantFault(t, err, "solids-missing", "/resin/dispersion/solids")
}

// More than a drum holds is made in several: the amounts of the steps are divided by their number. The scale is set to zero
// for the water of the mark too.
func TestMakeUpStepsOfAMark(t *testing.T) {
	t.Parallel()
	for litres, want := range map[string]string{"500": "divide each amount below by their number, and mark and label each.",
		"1": "Mark it at 1000 mL: set the scale with the vessel on it to zero, weigh in 997 g of water, "} {
		a := mustMakeUp(t, MakeUpInput{Resin: Resin{Solid: ptr(copolymer())}, Solvent: Pure(liquidAcetone()),
			Strength: Per100("5", MassPerSolutionVolume), Amount: Wanted{Finished: quantity.New(litres, "L")}})
		if !strings.Contains(strings.Join(a.Steps, "\n"), want) {
			t.Errorf("%s L: got %q, want %q", litres, a.Steps, want)
		}
	}
}

// The design's own example: 100 to 30 by mass, 7 g in all.
func TestMakeUpSplitsATwoPartResin(t *testing.T) {
	t.Parallel()
	in := MakeUpInput{
		Resin: Resin{TwoPart: &TwoPart{By: ByMass, Parts: []RatioPart{
			{Component{ID: "a", Name: "resin"}, quantity.MustDecimal("100")},
			{Component{ID: "b", Name: "hardener"}, quantity.MustDecimal("30")},
		}}},
		Amount: Wanted{Finished: quantity.New("7", "g")}, Instruments: gramScale("0.01"),
	}
	a := mustMakeUp(t, in)
	within(t, "resin", a.Split.Parts[0].Exact, 700.0/130, 1e-12)
	within(t, "hardener", a.Split.Parts[1].Exact, 210.0/130, 1e-12)
	within(t, "hardener rounded", a.Split.Parts[1].Rounded, 1.62, 0)
	said := strings.Join(a.Steps, "\n")
	for _, c := range a.Cautions {
		said += "\n" + c.Sentence
	}
	if strings.Contains(said, "solvent") || strings.Count(said, "into the mixing cup.") != 1 ||
		!strings.Contains(said, "into the same cup.") {
		t.Errorf("got %q, want nothing of solvents, and one cup", said)
	}
	in.Strength = Per100("10", MassPerSolutionVolume)
	_, err := MakeUp(in)
	wantFault(t, err, "reacts", "/strength")
}

// 114 g in 100 mL of a resin of 1.15 g/mL would be 99.4 % of it by mass, and 100 % are the resin
// itself: neither is a solution.
func TestMakeUpRefusesWhatIsNoSolution(t *testing.T) {
	t.Parallel()
	in := MakeUpInput{Resin: Resin{Solid: ptr(copolymer())}, Solvent: Pure(liquidAcetone()),
		Amount: Wanted{Finished: quantity.New("100", "g")}}
	for _, s := range []Strength{Per100("114", MassPerSolutionVolume), PercentOf("100", MassFraction),
		PercentOf("99", VolumeFraction), PercentOf("96", MassFraction)} {
		in.Strength = s
		_, err := MakeUp(in)
		wantFault(t, err, "strength-beyond-volume", "/strength")
		_, err = Convert(ConvertInput{Stock: Stock{Solute: copolymer(), Solvent: in.Solvent, Strength: s}})
		wantFault(t, err, "strength-beyond-volume", "/stock/solution/strength")
	}
	in.Strength = PercentOf("94", MassFraction)
	mustMakeUp(t, in)
	for _, r := range Readings(Strength{Number: quantity.New("100", "1")}, copolymer(), in.Solvent) {
		if possible := r.Strength.Basis == MassPerSolventVolume || r.Strength.Basis == MassPerSolutionVolume; possible !=
			(r.Unanswered == "") {
			t.Errorf("100 as %s: got %q", r.Strength.Basis, r.Unanswered)
		}
	}
}

// Without the resin's density only the mass bases are answered, and the others say why.
func TestMakeUpWithoutADensity(t *testing.T) {
	t.Parallel()
	unknown := Component{ID: "x", Name: "an old resin", Phase: Solid}
	in := MakeUpInput{
		Resin: Resin{Solid: &unknown}, Solvent: Pure(liquidAcetone()), Strength: PercentOf("10", MassFraction),
		Amount: Wanted{Finished: quantity.New("50", "g")},
	}
	a := mustMakeUp(t, in)
	within(t, "resin", a.Main.Ingredients[0].Exact, 5, 1e-12)
	if v := a.Target.On(MassPerSolutionVolume); v.Answered() || !strings.Contains(v.Unanswered, "an old resin") {
		t.Errorf("in the volume: got %+v, want why not", v)
	}
	if v := a.Target.On(MassPerSolventVolume); !v.Answered() {
		t.Errorf("to the solvent: got %q, want a number: the solvent's density is known", v.Unanswered)
	}
	in.Strength = Per100("10", MassPerSolutionVolume)
	_, err := MakeUp(in)
	wantFault(t, err, "density-needed", "/resin")
}

// Acetone measured at 30 °C: at 0.98 of its density at 20 °C (rounded from the VDI
// fit, 779.83/791.16 = 0.9857), 100 mL to the mark hold as much less.
func TestMakeUpAtAnotherTemperature(t *testing.T) {
	t.Parallel()
	warm := liquidAcetone()
	warm.Density.Ratio = func(t float64) (float64, bool) { return 1 - 0.00143*(t-20), true }
	in := MakeUpInput{
		Resin: Resin{Solid: ptr(copolymer())}, Solvent: Pure(warm), Strength: PercentOf("10", MassFraction),
		Amount: Wanted{Solvent: quantity.New("100", "mL")}, Temperature: quantity.New("30", "Cel"),
	}
	a := mustMakeUp(t, in)
	within(t, "acetone, g", a.Main.Ingredients[1].Exact, 79.08*0.9857, 1e-9)
	in.Temperature = quantity.New("86", "[degF]")
	within(t, "the same in °F", mustMakeUp(t, in).Main.Ingredients[1].Exact, 79.08*0.9857, 1e-9)
}

// Monte Carlo over the same functions: the strength of a recipe as rounded, with every
// input drawn from its distribution, against first-order propagation.
func TestMakeUpUncertaintyAgainstMonteCarlo(t *testing.T) {
	t.Parallel()
	resin, solvent := copolymer(), liquidAcetone()
	resin.Density.Standard, solvent.Density.Standard = 0.01, 0.002
	for _, basis := range []Basis{MassPerSolutionVolume, MassPerSolventVolume, MassFraction} {
		a := mustMakeUp(t, MakeUpInput{
			Resin: Resin{Solid: &resin}, Solvent: Pure(solvent), Strength: strengthOf("20", string(basis)),
			Amount: Wanted{OnHand: quantity.New("10", "g")},
			Instruments: Instruments{
				Scale:   Instrument{Readability: quantity.New("0.5", "g")},
				Measure: Instrument{Readability: quantity.New("2", "mL")},
			},
		})
		compareWithMonteCarlo(t, a, resin, solvent)
	}
}
