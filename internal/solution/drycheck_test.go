package solution

import (
	"math"
	"testing"

	"meniscus/internal/quantity"
)

func mustDryCheck(t *testing.T, in DryCheckInput) DryCheckAnswer {
	t.Helper()
	a, err := DryCheck(in)
	if err != nil {
		t.Fatalf("dry-check: %v", err)
	}
	return a
}

func dried(portion, residue string) DryCheckInput {
	return DryCheckInput{
		Solute: copolymer(), Solvent: Pure(liquidAcetone()), PortionVolume: quantity.New(portion, "mL"),
		Residue: quantity.New(residue, "g"), Instruments: gramScale("0.01"),
	}
}

// The design's own example: a film that keeps 4 % of solvent reads 20.8 for 20.
func TestDryCheckCountsRetainedSolventOneSided(t *testing.T) {
	t.Parallel()
	in := dried("10", "2.08")
	in.Retained = quantity.New("4", "%")
	a := mustDryCheck(t, in)
	within(t, "reading", a.Reading.On(MassPerSolutionVolume).Value, 20.8, 1e-9)
	within(t, "lowest", a.Lowest.On(MassPerSolutionVolume).Value, 20, 1e-9)
	in.Label = Per100("20", MassPerSolutionVolume)
	if g := mustDryCheck(t, in).Agreement; g.Verdict != Agrees || g.Apart != 0 {
		t.Errorf("agreement: got %+v", g)
	}
	in.Retained = quantity.Quantity{}
	a = mustDryCheck(t, in)
	if a.Agreement.Verdict != Stronger || !hasWarning(a.Advice, "retained-solvent-not-stated") {
		t.Errorf("without the retained solvent: got %+v, warnings %v", a.Agreement, codes(a.Advice))
	}
}

// Agreement is judged by the uncertainties: 2.00 g in 10 mL on a scale of 0.01 g is
// 20 ± 0.058; the label of 20.1 is 0.1 off, and agrees once it is known to ± 0.1.
func TestDryCheckJudgesByUncertainty(t *testing.T) {
	t.Parallel()
	in := dried("10", "2.00")
	in.Label = Per100("20.1", MassPerSolutionVolume)
	a := mustDryCheck(t, in)
	within(t, "allowed", a.Agreement.Allowed, 2*10*0.01/(2*math.Sqrt(3)), 1e-9)
	if a.Agreement.Verdict != Weaker {
		t.Errorf("got %+v, want weaker", a.Agreement)
	}
	in.Label.Number.Uncertainty = quantity.Standard(quantity.MustDecimal("0.05"))
	if g := mustDryCheck(t, in).Agreement; g.Verdict != Agrees {
		t.Errorf("got %+v, want that it agrees", g)
	}
	in = dried("10", "2.00")
	in.Instruments = Instruments{}
	in.Label = Per100("20.1", MassPerSolutionVolume)
	if g := mustDryCheck(t, in).Agreement; g.Verdict != CannotTell {
		t.Errorf("without uncertainties: got %+v, want that it cannot be told", g)
	}
}

// 2 g of residue on a scale of 1 g are 20 ± 5.8 of 10 mL: that tells nothing of a label of 20, and
// still tells that one of 5 is wrong. Without any uncertainty equal numbers tell nothing either.
func TestDryCheckThatCannotTell(t *testing.T) {
	t.Parallel()
	in := dried("10", "2")
	in.Instruments = gramScale("1")
	for label, want := range map[string]LabelVerdict{"20": CannotTell, "22": CannotTell, "5": Stronger} {
		in.Label = Per100(label, MassPerSolutionVolume)
		if g := mustDryCheck(t, in).Agreement; g.Verdict != want {
			t.Errorf("label %s: got %+v, want %s", label, g, want)
		}
	}
	in.Instruments, in.Label = Instruments{}, Per100("20", MassPerSolutionVolume)
	if g := mustDryCheck(t, in).Agreement; g.Verdict != CannotTell {
		t.Errorf("without uncertainties: got %+v, want that it cannot be told", g)
	}
}

// By mass, and both: 10 mL that weigh 8.53 g have a density of 0.853 and, with 2 g of
// resin, 20 in the volume and 23.45 by mass, without any sum of volumes.
func TestDryCheckByMassAndVolume(t *testing.T) {
	t.Parallel()
	in := dried("10", "2.00")
	in.PortionMass = quantity.New("8.53", "g")
	a := mustDryCheck(t, in)
	within(t, "in the volume", a.Reading.On(MassPerSolutionVolume).Value, 20, 1e-9)
	within(t, "by mass", a.Reading.On(MassFraction).Value, 100*2/8.53, 1e-9)
	within(t, "density", a.Reading.Density.Value, 0.853, 1e-9)
	in.PortionVolume = quantity.Quantity{}
	in.Residue, in.Dish, in.DishWithResidue = quantity.Quantity{}, quantity.New("31.44", "g"), quantity.New("33.44", "g")
	a = mustDryCheck(t, in)
	within(t, "by the dish", a.Reading.On(MassFraction).Value, 100*2/8.53, 1e-9)
	within(t, "u of the residue", a.Solids.Standard, 0.01/(2*math.Sqrt(3))*math.Sqrt2, 1e-12)
}

// The strength of a mixture is found again from its dried portion.
func TestDryCheckFindsWhatWasMade(t *testing.T) {
	t.Parallel()
	made := mustMakeUp(t, MakeUpInput{
		Resin: Resin{Solid: ptr(copolymer())}, Solvent: Pure(liquidAcetone()), Strength: Per100("17", MassPerSolventVolume),
		Amount: Wanted{Finished: quantity.New("10", "mL")},
	})
	residue, err := quantity.Of(made.Main.Ingredients[0].Exact, "g")
	if err != nil {
		t.Fatal(err)
	}
	in := dried("10", "1")
	in.Residue = residue
	within(t, "to the solvent", mustDryCheck(t, in).Reading.On(MassPerSolventVolume).Value, 17, 1e-9)
}

func TestDryCheckRefuses(t *testing.T) {
	t.Parallel()
	_, err := DryCheck(dried("1", "2"))
	wantFault(t, err, "residue-above-portion", "/portionVolume")
	in := dried("10", "2")
	in.Label = Strength{Number: quantity.New("20", "g/dL")}
	_, err = DryCheck(in)
	wantFault(t, err, "strength-basis-missing", "/label/basis")
	in = dried("10", "2")
	in.Residue = quantity.Quantity{}
	_, err = DryCheck(in)
	wantFault(t, err, "residue-one-of", "")
}
