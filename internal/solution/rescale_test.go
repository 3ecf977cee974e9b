package solution

import (
	"math"
	"strings"
	"testing"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"

	"pgregory.net/rapid"
)

// written is one line of a recipe, of a material with a density in g/mL, or with none.
func written(name string, phase Phase, density float64, amount, unit string) Content {
	c := Component{ID: name, Name: name, Phase: phase}
	if density > 0 {
		c.Density.Measured = quantity.Exactly(density)
	}
	return Content{Component: c, Amount: quantity.New(amount, quantity.Unit(unit))}
}

func scaling(amount Wanted, parts ...Content) MakeUpInput {
	return MakeUpInput{Resin: Resin{Recipe: &Written{Parts: parts}}, Amount: amount}
}

func millilitreMeasure(step string) Instruments {
	return Instruments{Measure: Instrument{Readability: quantity.New(step, "mL")},
		Scale: Instrument{Readability: quantity.New("0.1", "g")}}
}

// Recipes that are printed for two amounts. The handrub is 8333, 417 and 145 mL for 10 L (WHO, Guide to
// Local Production, as a news page of 25 March 2020 prints it), and 833, 42 and 15 mL for 1 L (a
// school-science page after WHO). Buffered formalin is 100 mL, 900 mL, 4 g and 6.5 g for 1 L, and five
// times that for 5 L (Stainsfile, '10% Neutral Buffered Formalin').
func TestRecipesPrintedForTwoAmounts(t *testing.T) {
	t.Parallel()
	handrub := []Content{written("ethanol 96 %", Liquid, 0, "8333", "mL"), written("hydrogen peroxide 3 %", Liquid, 0, "417", "mL"),
		written("glycerol 98 %", Liquid, 0, "145", "mL")}
	formalin := []Content{written("formalin", Liquid, 0, "100", "mL"), written("water", Liquid, 0.998, "900", "mL"),
		written("monobasic salt", Solid, 0, "4", "g"), written("dibasic salt", Solid, 0, "6.5", "g")}
	for name, tt := range map[string]struct {
		parts  []Content
		amount Wanted
		want   []float64
	}{
		"handrub, of its ethanol": {handrub, Wanted{OnHand: quantity.New("833.3", "mL")}, []float64{833, 42, 15}},
		"handrub, in all": {handrub, Wanted{Finished: quantity.New("889.5", "mL")},
			[]float64{833, 42, 15}},
		"formalin, of its stock": {formalin, Wanted{OnHand: quantity.New("0.5", "L")}, []float64{500, 4500, 20, 32.5}},
	} {
		in := scaling(tt.amount, tt.parts...)
		in.Instruments = millilitreMeasure("1")
		a := mustMakeUp(t, in)
		for i, want := range tt.want {
			if got := a.Scaled[i].Rounded; got != want {
				t.Errorf("%s, %s: got %v, want %v", name, a.Scaled[i].Name, got, want)
			}
			if a.Scaled[i].Share != nil {
				t.Errorf("%s: a share by mass, %v, without a density", name, a.Scaled[i].Share.Value)
			}
		}
		if !strings.Contains(a.Answer, "the shares by mass are not known, as that of "+tt.parts[0].Component.Name) {
			t.Errorf("%s: got %q, want it to say that the shares are not known", name, a.Answer)
		}
	}
}

// 57 g of starch to 400 mL of water are 12.5 % by mass (Library of Congress, 2015, as the AIC Wiki, Book and
// Paper Group, prints it; water is 0.998 g/mL). In old measures: half an avoirdupois ounce is
// 14.17476 g and an imperial gill 142.065 mL, a quarter of 56.699 g and of 568.261 mL (exact
// definitions of NIST Handbook 44, recalled).
func TestScaledRecipeByMassAndInOldMeasures(t *testing.T) {
	t.Parallel()
	starch, water := written("starch", Solid, 0, "57", "g"), written("water", Liquid, 0.998, "400", "mL")
	in := scaling(Wanted{Finished: quantity.New("228.1", "g")}, starch, water)
	in.Instruments = millilitreMeasure("1")
	a := mustMakeUp(t, in)
	within(t, "starch, g", a.Scaled[0].Exact, 57.0/2, 0.005)
	within(t, "water, mL", a.Scaled[1].Rounded, 200, 0)
	within(t, "starch, % by mass", a.Scaled[0].Share.Value, 12.5, 0.05)
	within(t, "the shares in all", a.Scaled[0].Share.Value+a.Scaled[1].Share.Value, 100, 1e-9)
	if a.Scaled[0].Share.Standard == 0 {
		t.Error("the share has no uncertainty of the instruments")
	}
	steps := strings.Join(a.Steps, "\n")
	first, second := strings.Index(steps, "weigh in 28.5 g of starch"), strings.Index(steps, "Measure 200 mL of water and add it")
	if first < 0 || second < first || !strings.Contains(steps, "Label it now: 28.5 g of starch and 200 mL of water") {
		t.Errorf("steps: got %s", steps)
	}
	old := scaling(Wanted{OnHand: quantity.New("0.5", "[oz_av]")}, written("starch", Solid, 0, "2", "[oz_av]"),
		written("water", Liquid, 0.998, "1", "[pt_br]"))
	a = mustMakeUp(t, old)
	within(t, "half an ounce, g", a.Scaled[0].Exact, 14.17476, 1e-4)
	within(t, "a gill, mL", a.Scaled[1].Exact, 142.0653, 1e-3)
}

// The measured density of what a recipe makes turns a volume wanted into a mass: 100 mL of 1.0489 g/mL
// are 104.89 g, of which 40 % are 41.956 g (student report on polyethylene glycol 4000, calibration: a
// 40 % stock of 1.0489 g/mL).
func TestScaledRecipeByItsDensity(t *testing.T) {
	t.Parallel()
	in := scaling(Wanted{Finished: quantity.New("100", "mL")}, written("polyethylene glycol", Solid, 0, "40", "g"),
		written("water", Liquid, 0.9968, "60", "g"))
	in.Resin.Recipe.Density = quantity.New("1.0489", quantity.GramsPerML)
	a := mustMakeUp(t, in)
	within(t, "glycol, g", a.Scaled[0].Exact, 41.956, 1e-9)
	within(t, "water, g", a.Scaled[1].Exact, 62.934, 1e-9)
	if hasWarning(a.Advice, "volumes-before-mixing") {
		t.Error("a measured density needs no sum of volumes")
	}
}

// Whatever the amounts, the proportions stay.
func TestScalingKeepsTheProportions(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		draw := func(name string) float64 { return rapid.Float64Range(0.5, 500).Draw(rt, name) }
		var parts []Content
		for i := range rapid.IntRange(1, 6).Draw(rt, "parts") {
			q, _ := quantity.Of(quantity.RoundTo(draw("amount"), 1e-3), []quantity.Unit{"g", "mL"}[i%2])
			c := written(string(rune('a'+i)), Liquid, 0.7+draw("density")/500, "1", "g")
			c.Amount = q
			parts = append(parts, c)
		}
		wanted, _ := quantity.Of(quantity.RoundTo(draw("wanted"), 1e-3), []quantity.Unit{"g", "mL"}[rapid.IntRange(0, 1).Draw(rt, "by")])
		in := scaling(Wanted{Finished: wanted}, parts...)
		a, err := MakeUp(in)
		if err != nil {
			wantFaultOrNil(t, err)
			return
		}
		var total, share float64
		for i, p := range a.Scaled {
			ratio := p.Exact / a.Scaled[0].Exact * parts[0].Amount.Value.Float64() / parts[i].Amount.Value.Float64()
			if math.Abs(ratio-1) > 1e-9 {
				rt.Errorf("part %d is %g times its proportion", i, ratio)
			}
			rho := parts[i].Component.Density.Value
			switch {
			case p.Unit == wanted.Unit:
				total += p.Exact
			case p.Unit == quantity.Gram:
				total += p.Exact / rho
			default:
				total += p.Exact * rho
			}
			share += p.Share.Value
		}
		if math.Abs(total/wanted.Value.Float64()-1) > 1e-9 || math.Abs(share-100) > 1e-9 {
			rt.Errorf("in all %g of %g, shares %g %%", total, wanted.Value.Float64(), share)
		}
	})
}

func TestScaledRecipeFaults(t *testing.T) {
	t.Parallel()
	gram := func(x string) Wanted { return Wanted{Finished: quantity.New(x, "g")} }
	salt, water := written("salt", Solid, 0, "4", "g"), written("water", Liquid, 0.998, "900", "mL")
	heap := written("sand", Solid, 2.65, "500", "mL")
	for name, tt := range map[string]struct {
		in            MakeUpInput
		code, pointer string
	}{
		"volume of what has no density": {scaling(Wanted{Finished: quantity.New("1", "L")}, salt, water), "density-needed", "/amount/finished"},
		"mass of a heap":                {scaling(gram("100"), water, heap), "density-needed", "/amount/finished"},
		"solvent":                       {scaling(Wanted{Solvent: quantity.New("1", "L")}, water), "amount-of-recipe", "/amount/solvent"},
		"no amount":                     {scaling(Wanted{}, water), "amount-one-of", "/amount"},
		"an amount of a part is missing": {scaling(gram("100"), Content{Component: salt.Component}),
			"quantity-missing", "/resin/recipe/parts/0/amount"},
		"an amount of a part has no size": {scaling(gram("100"), written("salt", Solid, 0, "4", "Cel")), "unit-kind",
			"/resin/recipe/parts/0/amount/unit"},
		"too little to show": {scaling(gram("0.000001"), salt, written("b", Solid, 0, "900000", "g")), "", ""},
		"more than there is": {scaling(Wanted{OnHand: quantity.New("500000", "g")}, salt, written("b",
			Solid, 0, "900000", "g")), "out-of-range", "/amount/onHand"},
	} {
		if tt.code == "" {
			tt.in.Instruments, tt.code, tt.pointer = gramScale("0.1"), "below-readability", "/amount/finished"
		}
		_, err := MakeUp(tt.in)
		t.Run(name, func(t *testing.T) { wantFault(t, err, tt.code, tt.pointer) })
	}
	in := scaling(gram("100"), salt)
	in.Strength = Per100("10", MassPerSolutionVolume)
	_, err := MakeUp(in)
	wantFault(t, err, "recipe-as-written", "/strength")
	in = scaling(gram("100"), salt)
	in.Solvent = Pure(liquidAcetone())
	_, err = MakeUp(in)
	wantFault(t, err, "recipe-as-written", "/solvent")
	// Rounding that takes a part off the recipe is said.
	in = scaling(gram("10"), written("a", Solid, 0, "5", "g"), written("b", Solid, 0, "95", "g"))
	in.Instruments = gramScale("0.2")
	if a := mustMakeUp(t, in); !hasWarning(a.Advice, "part-off") {
		t.Errorf("0.5 g by 0.2 g: got %v, want part-off", codes(a.Advice))
	}
}

// Liquids that do not mix are in some recipes as written: it is said, and the amounts are given. Hexane and water
// do not mix; butan-1-ol and water form two layers over a range (handbook knowledge, recalled).
func TestScaledRecipeSaysWhatDoesNotMix(t *testing.T) {
	t.Parallel()
	hexane, butanol := written("hexane", Liquid, 0.66, "50", "mL"), written("butan-1-ol", Liquid, 0.81, "50", "mL")
	hexane.Component.NotWith, butanol.Component.PartlyWith = []string{"water"}, []string{"water"}
	water := written("water", Liquid, 0.998, "50", "mL")
	wanted := Wanted{Finished: quantity.New("50", "mL")}
	for code, of := range map[string]Content{"do-not-mix": hexane, "may-form-two-layers": butanol} {
		if a := mustMakeUp(t, scaling(wanted, of, water)); !hasWarning(a.Advice, code) || a.Scaled[0].Exact != 25 {
			t.Errorf("%s with water: got %v, %v, want %s", of.Component.Name, codes(a.Advice), a.Scaled, code)
		}
	}
	if a := mustMakeUp(t, scaling(wanted, hexane, butanol)); hasWarning(a.Advice, "do-not-mix") {
		t.Errorf("got %v of liquids that mix", codes(a.Advice))
	}
}

// A recipe that is scaled, and a two-part resin, say whether they fit the vessel that was named, as every recipe does.
func TestScaledRecipesSayHowTheyFit(t *testing.T) {
	t.Parallel()
	vessel := &Container{Capacity: quantity.New("250", "mL"), Headspace: quantity.New("10", "%")}
	parts := []Content{written("ethanol", Liquid, 0.789, "100", "mL"), written("water", Liquid, 0.998, "100", "mL")}
	heavy := append(parts[:2:2], written("a powder", Solid, 0, "5", "g"))
	two := func(by ShareBy, amount, unit string) MakeUpInput {
		return MakeUpInput{Amount: Wanted{Finished: quantity.New(amount, quantity.Unit(unit))}, Resin: Resin{TwoPart: &TwoPart{By: by,
			Parts: []RatioPart{{Component{ID: "a", Name: "resin"}, quantity.New("2", "1").Value},
				{Component{ID: "b", Name: "hardener"}, quantity.New("1", "1").Value}}}}}
	}
	for name, tt := range map[string]struct {
		in   MakeUpInput
		fits string // the warning, "fits", or the fault
	}{
		"in it":                   {scaling(Wanted{Finished: quantity.New("220", "mL")}, parts...), "fits"},
		"into the headspace":      {scaling(Wanted{Finished: quantity.New("240", "mL")}, parts...), "headspace-too-small"},
		"too much, as wanted":     {scaling(Wanted{Finished: quantity.New("400", "mL")}, parts...), "container-too-small"},
		"too much, as follows":    {scaling(Wanted{OnHand: quantity.New("200", "mL")}, parts...), "container-overflows"},
		"by mass":                 {scaling(Wanted{Finished: quantity.New("180", "g")}, parts...), "fits"},
		"its volume not known":    {scaling(Wanted{OnHand: quantity.New("10", "mL")}, heavy...), "fit-not-known"},
		"what is known overflows": {scaling(Wanted{OnHand: quantity.New("2", "L")}, heavy...), "container-overflows"},
		"two parts, by volume":    {two(ByVolume, "90", "mL"), "fits"},
		"two parts, overflowing":  {two(ByVolume, "300", "mL"), "container-overflows"},
		"two parts, by mass":      {two(ByMass, "90", "g"), "fit-not-known"},
	} {
		in := tt.in
		in.Container = vessel
		a, err := MakeUp(in)
		switch list := fault.From(err); {
		case len(list) > 0:
			if list[0].Code != tt.fits {
				t.Errorf("%s: got %v, want %s", name, err, tt.fits)
			}
		case tt.fits == "fits":
			if a.Fit == nil || !a.Fit.Fits {
				t.Errorf("%s: got %+v, want that it fits", name, a.Fit)
			}
		case !hasWarning(a.Advice, tt.fits):
			t.Errorf("%s: got %v, want %s", name, codes(a.Advice), tt.fits)
		}
	}
}
