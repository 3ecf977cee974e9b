package solution

import (
	"testing"

	"meniscus/internal/quantity"
)

func mustDilute(t *testing.T, in DiluteInput) DiluteAnswer {
	t.Helper()
	a, err := Dilute(in)
	if err != nil {
		t.Fatalf("dilute: %v", err)
	}
	return a
}

// One part to three at each basis: 5 in the finished volume (common practice); on the
// other bases the rule is compared with the result. Of 20 to 100 mL of acetone, 1 mL
// holds 0.17037 g in 0.85185 mL of acetone; with 3 mL more that is 0.17037 to
// 3.85185 mL, 4.4230 to each 100.
func TestDiluteHoldsTheRuleAgainstTheBasis(t *testing.T) {
	t.Parallel()
	parts := Strength{Basis: PartsByVolume, Parts: [2]quantity.Decimal{quantity.MustDecimal("1"),
		quantity.MustDecimal("3")}}
	for basis, want := range map[Basis]struct {
		gives float64
		holds bool
	}{
		MassPerSolutionVolume: {5, true},
		MassPerSolventVolume:  {4.4231, false},
		VolumeFraction:        {5, true},
	} {
		a := mustDilute(t, DiluteInput{Stock: stockOf("20", basis), Strength: parts,
			Amount: Wanted{OnHand: quantity.New("100", "mL")}})
		within(t, string(basis), a.Target.On(basis).Value, want.gives, 5e-4)
		if made := a.Main.Strength; made.Basis != basis || a.Label[1] != made.Said {
			t.Errorf("%s: the label says %q of %+v, want it on the stock's basis", basis, a.Label[1], made)
		}
		if a.Rule.Holds != want.holds || hasWarning(a.Advice, "simple-rule-does-not-hold") == want.holds {
			t.Errorf("%s: got rule %+v, warnings %v", basis, a.Rule, codes(a.Advice))
		}
	}
}

// Whole parts to ten: 20 to 6 g in 100 mL is 3 to 7 exactly; 25 to 7 is 7 to 18, and
// the nearest is 2 to 5.
func TestDiluteInWholeParts(t *testing.T) {
	t.Parallel()
	tests := []struct {
		stock, target  string
		parts, diluent int
		gives          float64
	}{
		{"20", "5", 1, 3, 5}, {"20", "6", 3, 7, 6}, {"25", "7", 2, 5, 25.0 * 2 / 7},
	}
	for _, test := range tests {
		a := mustDilute(t, DiluteInput{Stock: stockOf(test.stock, MassPerSolutionVolume),
			Strength: Per100(test.target, MassPerSolutionVolume), Amount: Wanted{Finished: quantity.New("100", "mL")}})
		got := a.WholeParts[0]
		if got.By != ByVolume || got.Stock != test.parts || got.Diluent != test.diluent {
			t.Errorf("%s to %s: got %d to %d by %s, want %d to %d", test.stock, test.target, got.Stock, got.Diluent,
				got.By, test.parts, test.diluent)
		}
		within(t, "gives", got.Strength.Value, test.gives, 1e-9)
		within(t, "off, %", got.Off, 100*(test.gives/quantity.MustDecimal(test.target).Float64()-1), 1e-6)
	}
}

// 5 to 100 mL of solvent is below 5 in 100 mL of solution: the target is compared after
// conversion, and refused.
func TestDiluteComparesAfterConversion(t *testing.T) {
	t.Parallel()
	in := DiluteInput{Stock: stockOf("5", MassPerSolventVolume), Strength: Per100("5", MassPerSolutionVolume),
		Amount: Wanted{Finished: quantity.New("100", "mL")}}
	_, err := Dilute(in)
	wantFault(t, err, "target-above-stock", "/strength")
	in.Stock, in.Strength = stockOf("5", MassPerSolutionVolume), Per100("5", MassPerSolventVolume)
	mustDilute(t, in)
	in.Strength = Per100("5", MassPerSolutionVolume)
	if a := mustDilute(t, in); a.Main.Ingredients[0].Rounded != 100 {
		t.Errorf("the stock's own strength: got %+v, want all stock", a.Main.Ingredients)
	}
	in.Strength = strengthOf("10", "one-in")
	_, err = Dilute(in)
	wantFault(t, err, "target-above-stock", "/strength")
}

// How far a leftover goes: 40 mL of 20 makes 160 mL of 5.
func TestDiluteLeftover(t *testing.T) {
	t.Parallel()
	in := DiluteInput{
		Stock: stockOf("20", MassPerSolutionVolume), Strength: Per100("5", MassPerSolutionVolume),
		Amount: Wanted{Finished: quantity.New("200", "mL")}, Leftover: quantity.New("40", "mL"),
	}
	a := mustDilute(t, in)
	within(t, "makes, mL", a.Leftover.Millilitres, 160, 1e-9)
	if !a.Leftover.Short || !hasWarning(a.Advice, "stock-runs-out") {
		t.Errorf("got %+v, want that it runs out", a.Leftover)
	}
}

// Another solvent is named in the answer, and counted.
func TestDiluteWithAnotherSolvent(t *testing.T) {
	t.Parallel()
	a := mustDilute(t, DiluteInput{
		Stock: stockOf("10", MassPerSolutionVolume), Solvent: Pure(liquidEthanol()),
		Added: quantity.New("25", "mL"), Amount: Wanted{OnHand: quantity.New("100", "mL")},
	})
	within(t, "strength", a.Target.On(MassPerSolutionVolume).Value, 8, 1e-9)
	if !hasWarning(a.Advice, "second-solvent") {
		t.Errorf("warnings: got %v", codes(a.Advice))
	}
	toluene := liquidToluene()
	toluene.NotWith = []string{"water"}
	_, err := Dilute(DiluteInput{
		Stock:   Stock{Solute: copolymer(), Solvent: Pure(toluene), Strength: Per100("10", MassPerSolutionVolume)},
		Solvent: Pure(liquidWater()), Strength: Per100("5", MassPerSolutionVolume),
		Amount: Wanted{Finished: quantity.New("100", "mL")},
	})
	wantFault(t, err, "solvents-do-not-mix", "/solvent")
}

// Convert's range of an unknown basis, and what an amount holds.
func TestConvertUnknownBasis(t *testing.T) {
	t.Parallel()
	k := stockOf("20", MassPerSolutionVolume)
	k.Strength = Strength{Basis: UnknownBasis, Number: quantity.New("20", "1")}
	a, err := Convert(ConvertInput{Stock: k})
	if err != nil {
		t.Fatal(err)
	}
	if len(a.Readings) != 4 || len(a.Ranges) != 3 || !hasWarning(a.Advice, "basis-unknown") {
		t.Fatalf("got %d readings, %d ranges, warnings %v", len(a.Readings), len(a.Ranges), codes(a.Advice))
	}
	z := a.Ranges[0]
	// The basis table: 17.04 to the solvent, 16.87 by mass, 20 in the volume; and 20 mL of
	// resin in 100 mL are 23 g.
	within(t, "lowest", z.Lowest, 16.87, 0.005)
	within(t, "highest", z.Highest, 23, 1e-9)
	if z.LowestBasis != MassFraction || z.HighestBasis != VolumeFraction {
		t.Errorf("got %s to %s", z.LowestBasis, z.HighestBasis)
	}
}

// A bare number with impossible readings: 110 cannot be by mass.
func TestReadingsSayWhatIsNotPossible(t *testing.T) {
	t.Parallel()
	possible := map[Basis]bool{}
	for _, r := range Readings(Strength{Number: quantity.New("110", quantity.One)}, copolymer(), Pure(liquidAcetone())) {
		possible[r.Strength.Basis] = r.Unanswered == ""
	}
	// 110 g in 100 mL would be 97.0 % by mass.
	want := map[Basis]bool{MassPerSolutionVolume: false, MassPerSolventVolume: true, MassFraction: false,
		VolumeFraction: false}
	for b, w := range want {
		if possible[b] != w {
			t.Errorf("110 %s: got possible %v, want %v", b, possible[b], w)
		}
	}
}

// A stock whose basis is not recorded is answered on every reading, and as a range: one
// part of 20 with three parts is a quarter of what the basis table gives for 20 (20,
// 17.04, 16.87, and 23 for 20 mL of resin in 100 mL).
func TestUnknownStocksAreAnsweredAsARange(t *testing.T) {
	t.Parallel()
	k := stockOf("20", MassPerSolutionVolume)
	k.Strength = Strength{Basis: UnknownBasis, Number: quantity.New("20", "1")}
	a := mustDilute(t, DiluteInput{
		Stock: k, Amount: Wanted{OnHand: quantity.New("100", "mL")},
		Strength: Strength{Basis: PartsByVolume, Parts: [2]quantity.Decimal{quantity.MustDecimal("1"),
			quantity.MustDecimal("3")}},
	})
	for i, want := range []float64{20, 17.04, 16.87, 23} {
		within(t, a.Readings[i].Said, a.Readings[i].Mixture.On(MassPerSolutionVolume).Value, want/4, 0.002)
	}
	within(t, "lowest", a.Ranges[0].Lowest, 16.87/4, 0.002)
	within(t, "highest", a.Ranges[0].Highest, 23.0/4, 1e-9)

	// Two of the readings are weaker than 18 in the volume, and say so.
	in := DiluteInput{Stock: k, Strength: Per100("18", MassPerSolutionVolume),
		Amount: Wanted{Finished: quantity.New("100", "mL")}}
	a = mustDilute(t, in)
	for i, answered := range []bool{true, false, false, true} {
		if (a.Readings[i].Unanswered == "") != answered {
			t.Errorf("%s to 18: got %q", a.Readings[i].Said, a.Readings[i].Unanswered)
		}
	}
	in.Strength = Per100("30", MassPerSolutionVolume)
	_, err := Dilute(in)
	wantFault(t, err, "target-above-stock", "/strength")

	adjusted, err := Adjust(AdjustInput{Stock: k, OnHand: quantity.New("100", "g"),
		Restore: &Restore{ByTime: &LossByTime{Rate: quantity.New("1", "g/h"), Time: quantity.New("5", "h")}}})
	if err != nil || len(adjusted.Readings) != 4 {
		t.Fatalf("restore: got %d readings, %v", len(adjusted.Readings), err)
	}
	within(t, "restored, lowest by mass", adjusted.Ranges[2].Lowest, 20, 1e-9)
	blend := BlendInput{Stocks: []BlendStock{{Stock: k, OnHand: quantity.New("100", "mL")},
		blendStock("weak", "5", "100 mL")}}
	b := mustMix(t, blend)
	within(t, "blend, lowest", b.Ranges[0].Lowest, (16.87+5)/2, 0.005)
	within(t, "blend, highest", b.Ranges[0].Highest, (23.0+5)/2, 1e-9)
}

// For a strength that is wanted, each reading has its own amounts, and says what they
// come to if the number means something else. By the basis table of the copolymer in
// acetone: 10 mL of what is read as 20 g per 100 mL of solution weigh 8.532 g (20 g in
// 100 mL are 23.44 %). If the 20 is by mass (density 0.844), that is 10.109 mL with 1.7064 g;
// if by volume (0.2·1.15 + 0.8·0.7908 = 0.8626 g/mL, 23 g in 100 mL), 9.891 mL with 2.275 g.
// With 40 mL of 5: 3.706 g in 50.109 mL, and 4.275 g in 49.891 mL.
func TestAmountsForUnknownStocksSayWhatTheyMayComeTo(t *testing.T) {
	t.Parallel()
	k := stockOf("20", MassPerSolutionVolume)
	k.Strength = Strength{Basis: UnknownBasis, Number: quantity.New("20", "1")}
	b := mustMix(t, BlendInput{
		Stocks:   []BlendStock{{Stock: k, OnHand: quantity.New("100", "mL")}, blendStock("weak", "5", "100 mL")},
		Strength: Per100("8", MassPerSolutionVolume), Total: quantity.New("50", "mL"),
	})
	if len(b.Readings) != 4 || len(b.Ranges) != 0 {
		t.Fatalf("got %d readings and %d ranges, want 4 and none: every reading comes to 8", len(b.Readings), len(b.Ranges))
	}
	in := b.Readings[0]
	within(t, "of the unknown", in.Uses[0].Millilitres, 10, 1e-6)
	within(t, "of the weak", in.Uses[1].Millilitres, 40, 1e-6)
	within(t, "at least", in.Poured.Lowest, 7.397, 0.003)
	within(t, "at most", in.Poured.Highest, 8.569, 0.003)
	if in.Poured.LowestBasis != MassFraction || in.Poured.HighestBasis != VolumeFraction {
		t.Errorf("got %s and %s", in.Poured.LowestBasis, in.Poured.HighestBasis)
	}

	d := mustDilute(t, DiluteInput{Stock: k, Strength: Per100("5", MassPerSolutionVolume),
		Amount: Wanted{Finished: quantity.New("100", "mL")}})
	within(t, "diluted to 5, at least", d.Readings[0].Poured.Lowest, 4.266/1.0027, 0.003)
	within(t, "diluted to 5, at most", d.Readings[0].Poured.Highest, 5.687/0.9973, 0.003)
}

// Two stocks of unknown basis: all read alike, and the ends of the range. 100 mL each of
// what says 20 and 10 are by the basis table from (16.87 + 8.16)/2 to (23 + 11.5)/2.
func TestSeveralUnknownStocks(t *testing.T) {
	t.Parallel()
	unknown := func(n string) BlendStock {
		k := stockOf(n, MassPerSolutionVolume)
		k.Strength = Strength{Basis: UnknownBasis, Number: quantity.New(n, "1")}
		return BlendStock{Stock: k, OnHand: quantity.New("100", "mL")}
	}
	b := mustMix(t, BlendInput{Stocks: []BlendStock{unknown("20"), unknown("10")}})
	if len(b.Readings) != 4 {
		t.Fatalf("got %d readings, want 4: the ends are among those that read all alike", len(b.Readings))
	}
	within(t, "lowest", b.Ranges[0].Lowest, (16.87+8.16)/2, 0.01)
	within(t, "highest", b.Ranges[0].Highest, (23+11.5)/2, 1e-9)

	// In a solvent heavier than water the readings have another order, so that the ends
	// of the range are not readings on one basis.
	dense := unknown("10")
	dense.Solvent = Pure(Component{ID: "heavy", Name: "heavy solvent", Phase: Liquid,
		Density: Density{Measured: quantity.Exactly(1.33)}})
	b = mustMix(t, BlendInput{Stocks: []BlendStock{unknown("20"), dense}})
	if last := b.Readings[len(b.Readings)-1]; len(b.Readings) < 5 || last.Basis != "" {
		t.Fatalf("got %d readings, the last as %q", len(b.Readings), last.Basis)
	}
	for _, r := range b.Readings[:4] {
		if v := r.Mixture.On(MassPerSolutionVolume).Value; v < b.Ranges[0].Lowest || v > b.Ranges[0].Highest {
			t.Errorf("%s: %v is outside %v to %v", r.Said, v, b.Ranges[0].Lowest, b.Ranges[0].Highest)
		}
	}
}
