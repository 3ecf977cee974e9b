package solution

import (
	"slices"
	"strings"
	"testing"

	"meniscus/internal/quantity"
)

// coarse asks for an amount at 5 g in 100 mL on a scale of so many grams.
func coarse(millilitres, step string) MakeUpInput {
	return MakeUpInput{
		Resin: Resin{Solid: ptr(copolymer())}, Solvent: Pure(liquidAcetone()), Strength: Per100("5", MassPerSolutionVolume),
		Amount: Wanted{Finished: quantity.New(millilitres, "mL")}, Instruments: gramScale(step),
	}
}

// 5 mL at 5 g in 100 mL take 0.25 g, which a scale of 0.1 g shows as 0.3: 6 g in 100 mL are made, and
// that is what the answer, the label and the steps say.
func TestTheLabelSaysWhatIsMade(t *testing.T) {
	t.Parallel()
	a := mustMakeUp(t, coarse("5", "0.1"))
	const made = "6 g per 100 mL solution"
	if a.Label[1] != made || a.Main.Strength.Said != made || !strings.Contains(a.Answer, made) {
		t.Errorf("got label %q, strength %q, answer %q, want %q", a.Label, a.Main.Strength.Said, a.Answer, made)
	}
	for _, r := range []Recipe{a.Main, a.ByWeight} {
		if last := r.Steps[len(r.Steps)-1]; !strings.Contains(last, ", "+r.Strength.Said+", in acetone") {
			t.Errorf("last step: got %q, want %q", last, r.Strength.Said)
		}
		if all := strings.Join(r.Steps, "\n"); strings.Contains(all, " 5 g per 100 mL") {
			t.Errorf("steps: got %q, which say the strength that was asked for", all)
		}
	}
}

// A coarse scale warns without being asked, and says the next amount that it weighs within a tenth
// of the strength: 7.5 g for 150 mL show as 8 g, which is 5.33 ± 0.38; 8 g in 160 mL are 5 ± 0.36.
func TestACoarseScaleWarns(t *testing.T) {
	t.Parallel()
	tests := []struct{ millilitres, step, warning string }{
		{"150", "1", "make at least 160 mL, with 8 g of ethyl methacrylate/methyl acrylate copolymer."},
		{"5", "0.1", "make at least 12 mL, with 0.6 g of ethyl methacrylate/methyl acrylate copolymer."},
		{"20", "1", "make at least 120 mL, with 6 g of ethyl methacrylate/methyl acrylate copolymer."},
		{"150", "0.1", ""}, {"240", "1", ""},
	}
	for _, test := range tests {
		a := mustMakeUp(t, coarse(test.millilitres, test.step))
		i := slices.IndexFunc(a.Warnings, func(w Warning) bool { return w.Code == "scale-too-coarse" })
		if test.warning == "" {
			if i >= 0 || a.Smallest != nil {
				t.Errorf("%s mL on %s g: got warnings %v, want none", test.millilitres, test.step, codes(a.Advice))
			}
			continue
		}
		if i < 0 || !strings.HasSuffix(a.Warnings[i].Sentence, test.warning) {
			t.Errorf("%s mL on %s g: got %+v, want %q", test.millilitres, test.step, a.Warnings, test.warning)
		}
	}
	// The rounding counts: 5.33 is 0.33 off, and 0.38 uncertain, of 5.
	within(t, "150 mL on 1 g, %", mustMakeUp(t, coarse("150", "1")).Smallest.Has, 100*(1./3+0.384900)/5, 1e-3)
	a := mustMakeUp(t, coarse("160", "1"))
	within(t, "160 mL on 1 g, g", a.Main.Ingredients[0].Rounded, 8, 0)
	if hasWarning(a.Advice, "scale-too-coarse") {
		t.Errorf("160 mL on 1 g: got warnings %v", codes(a.Advice))
	}
}

// Below the scale's reach nothing is weighed in: no step, no label, no strength.
func TestBelowTheReachOfTheScale(t *testing.T) {
	t.Parallel()
	a := mustMakeUp(t, coarse("5", "1"))
	if a.Main.TooCoarse == nil || len(a.Steps) > 0 || len(a.Label) > 0 || a.Main.Strength.Said != "" ||
		!hasWarning(a.Advice, "below-readability") || strings.Contains(a.Answer, "0 g of") {
		t.Errorf("got %q, steps %q, label %q, warnings %v", a.Answer, a.Steps, a.Label, codes(a.Advice))
	}
	d := mustDilute(t, DiluteInput{Stock: stockOf("20", MassFraction), Strength: PercentOf("5", MassFraction),
		Amount: Wanted{Finished: quantity.New("1", "g")}, Instruments: gramScale("1")})
	if d.Main.TooCoarse == nil || len(d.Steps) > 0 || !hasWarning(d.Advice, "scale-too-coarse") {
		t.Errorf("a dilution: got %q, steps %q, warnings %v", d.Answer, d.Steps, codes(d.Advice))
	}
	adjusted := mustAdjust(t, AdjustInput{Stock: stockOf("10", MassPerSolutionVolume), OnHand: quantity.New("5", "mL"),
		Strengthen: &Strengthen{Strength: Per100("11", MassPerSolutionVolume)}, Instruments: gramScale("1")})
	if len(adjusted.Steps) > 0 || !hasWarning(adjusted.Advice, "below-readability") {
		t.Errorf("an adjustment: got %q, steps %q, warnings %v", adjusted.Answer, adjusted.Steps, codes(adjusted.Advice))
	}
}

// An adjusted and a blended jar are labelled with what the rounded amounts give: 0.25 g of resin go
// into 5 mL of 10 g in 100 mL, as 0.3 g.
func TestLabelsOfAdjustedAndBlendedJars(t *testing.T) {
	t.Parallel()
	a := mustAdjust(t, AdjustInput{Stock: stockOf("10", MassPerSolutionVolume), OnHand: quantity.New("5", "mL"),
		Strengthen: &Strengthen{Added: quantity.New("0.25", "g")}, Instruments: gramScale("0.1")})
	made := a.AsRounded.On(MassPerSolutionVolume)
	within(t, "strengthened", made.Value, 100*0.8/(5+0.3/1.15), 1e-9)
	if last := a.Steps[len(a.Steps)-1]; !strings.Contains(last, made.Said) || made.Said != a.Strength.Said {
		t.Errorf("adjusted: got %q, want %q", last, made.Said)
	}
	b, err := Blend(BlendInput{
		Stocks:   []BlendStock{{Stock: stockOf("20", MassFraction)}, {Stock: stockOf("5", MassFraction)}},
		Strength: PercentOf("7", MassFraction), Total: quantity.New("10", "g"), Instruments: gramScale("1"),
	})
	if err != nil {
		t.Fatal(err)
	}
	if last := b.Steps[len(b.Steps)-1]; !strings.Contains(last, b.AsRounded.On(MassFraction).Said) ||
		!hasWarning(b.Advice, "scale-too-coarse") {
		t.Errorf("blended: got %q and %v, want %q", last, codes(b.Advice), b.AsRounded.On(MassFraction).Said)
	}
}

// Halves of a step round up as the decimals stand, although 2.675 and 1.005 are a little less in
// binary; and a range keeps to the digits of its uncertainty.
func TestHalvesRoundInDecimals(t *testing.T) {
	t.Parallel()
	within(t, "2.675 g", mustMakeUp(t, coarse("53.5", "0.01")).Main.Ingredients[0].Rounded, 2.68, 0)
	within(t, "1.005 g", mustMakeUp(t, coarse("20.1", "0.01")).Main.Ingredients[0].Rounded, 1.01, 0)
}
