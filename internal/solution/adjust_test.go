package solution

import (
	"testing"

	"pgregory.net/rapid"

	"meniscus/internal/quantity"
)

func mustAdjust(t *testing.T, in AdjustInput) AdjustAnswer {
	t.Helper()
	a, err := Adjust(in)
	if err != nil {
		t.Fatalf("adjust: %v", err)
	}
	return a
}

// Strengthening to a strength in the finished volume: 100 mL of 10 to 15 with resin of
// 1.15 g/mL: (10 + m)/(100 + m/1.15) = 0.15, m = 5/(1 − 0.15/1.15).
func TestStrengthen(t *testing.T) {
	t.Parallel()
	in := AdjustInput{
		Stock: stockOf("10", MassPerSolutionVolume), OnHand: quantity.New("100", "mL"),
		Strengthen: &Strengthen{Strength: Per100("15", MassPerSolutionVolume)}, Instruments: gramScale("0.1"),
	}
	a := mustAdjust(t, in)
	within(t, "resin, g", a.Add[0].Exact, 5/(1-0.15/1.15), 1e-9)
	within(t, "after", a.After.On(MassPerSolutionVolume).Value, 15, 1e-9)
	in.Strengthen = &Strengthen{With: Resin{Stock: ptr(stockOf("25", MassPerSolutionVolume))},
		Strength: Per100("15", MassPerSolutionVolume)}
	// Alligation: 5 of 100 above, 10 below: 50 mL of 25.
	within(t, "stock, mL", mustAdjust(t, in).Add[0].Millilitres, 50, 1e-9)
	in.Strengthen.Strength = Per100("26", MassPerSolutionVolume)
	_, err := Adjust(in)
	wantFault(t, err, "strength-beyond-volume", "/strengthen/strength")
	in.Strengthen = &Strengthen{Strength: Per100("5", MassPerSolutionVolume)}
	_, err = Adjust(in)
	wantFault(t, err, "already-stronger", "/strengthen/strength")
}

func TestWeaken(t *testing.T) {
	t.Parallel()
	in := AdjustInput{Stock: stockOf("10", MassPerSolutionVolume), OnHand: quantity.New("100", "mL"),
		Weaken: &Weaken{Strength: Per100("5", MassPerSolutionVolume)}}
	a := mustAdjust(t, in)
	within(t, "acetone, mL", a.Add[0].Millilitres, 100, 1e-9)
	in.Weaken = &Weaken{Strength: Per100("12", MassPerSolutionVolume)}
	_, err := Adjust(in)
	wantFault(t, err, "target-above-stock", "/weaken/strength")
}

// What evaporated is put back: by mass, by level and by time, the same jar is restored,
// whatever the loss was.
func TestRestorePutsBackWhatEvaporated(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		loss := quantity.Digits(rapid.Float64Range(0.1, 60).Draw(t, "mL"), 4)
		ml := quantity.MustDecimal(loss).Float64()
		grams := ml * 0.7908
		number := func(x float64, unit quantity.Unit) quantity.Quantity {
			q, err := quantity.Of(x, unit)
			if err != nil {
				t.Fatal(err)
			}
			return q
		}
		for name, r := range map[string]*Restore{
			"mass":  {ByMass: &LossByMass{Before: quantity.New("400", "g"), After: number(400-grams, "g"), TakenOut: No}},
			"level": {ByLevel: &LossByLevel{Mark: quantity.New("100", "mL"), Now: number(100-ml, "mL"), TakenOut: No}},
			"time":  {ByTime: &LossByTime{Rate: number(grams/2, "g/h"), Time: quantity.New("120", "min")}},
		} {
			a, err := Adjust(AdjustInput{Stock: stockOf("20", MassPerSolutionVolume), OnHand: quantity.New("100", "mL"),
				Restore: r})
			if err != nil {
				t.Fatal(err)
			}
			if !closeTo(a.Loss.Grams.Value, grams) || !closeTo(a.After.On(MassPerSolutionVolume).Value, 20) {
				t.Fatalf("by %s: got a loss of %v g and %v after, want %v and 20", name, a.Loss.Grams.Value,
					a.After.On(MassPerSolutionVolume).Value, grams)
			}
			if want := 20 / (1 - ml/100); !closeTo(a.Before.On(MassPerSolutionVolume).Value, want) {
				t.Fatalf("by %s: before got %v, want %v", name, a.Before.On(MassPerSolutionVolume).Value, want)
			}
		}
	})
}

// A mixed solvent loses the faster liquid first: 100 g of acetone (5.6 times as fast as
// n-butyl acetate) with 50 g of ethanol (1.4): of 20 g, 17.78 and 2.22 by amount and
// rate, and anything between none and all of it from either.
func TestRestoreOfAMixedSolvent(t *testing.T) {
	t.Parallel()
	fast, slow := liquidAcetone(), liquidEthanol()
	fast.Evaporation, slow.Evaporation = 5.6, 1.4
	k := Stock{Contents: []Content{{copolymer(), quantity.New("10", "g")}, {fast, quantity.New("100", "g")},
		{slow, quantity.New("50", "g")}}}
	in := AdjustInput{
		Stock: k, OnHand: quantity.New("160", "g"),
		Restore: &Restore{ByMass: &LossByMass{Before: quantity.New("500", "g"), After: quantity.New("480", "g"), TakenOut: No}},
	}
	a := mustAdjust(t, in)
	within(t, "acetone, g", a.Loss.Liquids[0].Grams, 20*560.0/630, 1e-9)
	within(t, "ethanol, g", a.Loss.Liquids[1].Grams, 20*70.0/630, 1e-9)
	within(t, "acetone, least", a.Loss.Liquids[0].Least, 0, 0)
	within(t, "acetone, most", a.Loss.Liquids[0].Most, 20, 0)
	if !a.Loss.Estimated || !hasWarning(a.Advice, "faster-solvent-first") {
		t.Errorf("got %+v, warnings %v", a.Loss, codes(a.Advice))
	}
	in.Restore.ByMass.After = quantity.New("349", "g")
	_, err := Adjust(in)
	wantFault(t, err, "loss-above-solvent", "/restore")
}

// Of a jar that lost 30 g, 20 g were taken out as solution: 10 g of acetone evaporated from 80 g of
// 20 % by mass, and are put back.
func TestRestoreAsksWhatWasTakenOut(t *testing.T) {
	t.Parallel()
	in := AdjustInput{Stock: Stock{Solute: copolymer(), Solvent: Pure(liquidAcetone()), Strength: PercentOf("20", MassFraction)},
		OnHand: quantity.New("100", "g"),
		Restore: &Restore{ByMass: &LossByMass{Before: quantity.New("300", "g"), After: quantity.New("270", "g"),
			TakenOut: Yes, Taken: quantity.New("20", "g")}}}
	a := mustAdjust(t, in)
	within(t, "loss, g", a.Loss.Grams.Value, 10, 1e-12)
	within(t, "left, %", a.Before.On(MassFraction).Value, 100*16./70, 1e-9)
	within(t, "restored, g", a.After.Mass.Value, 80, 1e-9)
	within(t, "restored, %", a.After.On(MassFraction).Value, 20, 1e-9)
	for answer, code := range map[Answer]string{NotRecall: "taken-out-not-known", "": "taken-out-not-known", No: "taken-amount"} {
		in.Restore.ByMass.TakenOut = answer
		_, err := Adjust(in)
		at := "/restore/byMass/takenOut"
		if answer == No {
			at = "/restore/byMass/taken"
		}
		wantFault(t, err, code, at)
	}
	in.Restore.ByMass.TakenOut, in.Restore.ByMass.Taken = Yes, quantity.Quantity{}
	_, err := Adjust(in)
	wantFault(t, err, "taken-amount", "/restore/byMass/taken")
}

// Filling up to a mark from which something was taken dilutes what is left.
func TestRestoreRefusesAStaleMark(t *testing.T) {
	t.Parallel()
	for answer, code := range map[Answer]string{Yes: "taken-out-since-mark", NotRecall: "taken-out-not-known"} {
		_, err := Adjust(AdjustInput{
			Stock: stockOf("20", MassPerSolutionVolume),
			Restore: &Restore{ByLevel: &LossByLevel{Mark: quantity.New("500", "mL"), Now: quantity.New("430", "mL"),
				TakenOut: answer}},
		})
		wantFault(t, err, code, "/restore/byLevel/takenOut")
	}
}
