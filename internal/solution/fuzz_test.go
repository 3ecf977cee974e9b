package solution

import (
	"testing"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// decimals reads texts as decimals; false if one is not.
func decimals(texts ...string) ([]quantity.Decimal, bool) {
	var all []quantity.Decimal
	for _, text := range texts {
		d, err := quantity.ParseDecimal(text)
		if err != nil {
			return nil, false
		}
		all = append(all, d)
	}
	return all, true
}

func wantFaultOrNil(t *testing.T, err error) {
	t.Helper()
	if err != nil && len(fault.From(err)) == 0 {
		t.Fatalf("got %v, want a fault", err)
	}
}

// Three stocks and fresh solvent, on any basis, by any objective: the result is finite,
// not negative, and within what is on hand; or the input is refused by a fault.
func FuzzBlend(f *testing.F) {
	f.Add("20", "5", "12", "100", "200", "150", uint8(0), uint8(0))
	f.Add("0.0001", "99", "50", "1e-6", "1e6", "1", uint8(2), uint8(1))
	f.Add("10", "10", "10", "10", "10", "20", uint8(1), uint8(2))
	f.Add("5", "20", "20", "50", "50", "50", uint8(3), uint8(0))
	f.Fuzz(func(t *testing.T, one, two, target, first, second, total string, basisPick, objectivePick uint8) {
		d, ok := decimals(one, two, target, first, second, total)
		if !ok {
			return
		}
		basis := []Basis{MassPerSolutionVolume, MassPerSolventVolume, MassFraction, VolumeFraction, OneIn}[int(basisPick)%5]
		strength := func(n quantity.Decimal) Strength {
			return Strength{Basis: basis, Number: quantity.Quantity{Value: n, Unit: basis.Unit()}}
		}
		in := BlendInput{
			Fresh: Pure(liquidAcetone()), Strength: strength(d[2]), Total: quantity.Quantity{Value: d[5], Unit: "mL"},
			Objective: []Objective{LeastFreshSolvent, OldestFirst, LeastWaste}[int(objectivePick)%3],
		}
		for i := range 3 {
			k := BlendStock{Stock: Stock{Solute: copolymer(), Solvent: Pure(liquidAcetone()), Strength: strength(d[i%2])}}
			k.OnHand = quantity.Quantity{Value: d[3+i%2], Unit: "g"}
			in.Stocks = append(in.Stocks, k)
		}
		a, err := Blend(in)
		wantFaultOrNil(t, err)
		if err != nil {
			return
		}
		finiteMixture(t, a.Exact)
		finiteMixture(t, a.AsRounded)
		for i, u := range append(a.Uses, a.Fresh) {
			if !finite(u.Grams, u.Millilitres, u.Rounded, u.Left) || u.Grams < 0 || u.Left < 0 {
				t.Fatalf("use %d: %+v", i, u)
			}
		}
		if got, want := a.Exact.On(basis).Value, d[2].Float64(); !(got > want*(1-1e-6) && got < want*(1+1e-6)) {
			t.Fatalf("strength: got %v, want %v", got, want)
		}
	})
}

// A dilution, an adjustment and a dry-check of the same numbers.
func FuzzDiluteAdjustAndDryCheck(f *testing.F) {
	f.Add("20", "5", "100", "2", uint8(0))
	f.Add("1e-20", "1e-25", "1e-6", "1e-9", uint8(1))
	f.Add("115", "114.999999", "999999", "1", uint8(0))
	f.Add("50", "50", "1", "0.5", uint8(2))
	f.Fuzz(func(t *testing.T, stock, target, amount, small string, pick uint8) {
		d, ok := decimals(stock, target, amount, small)
		if !ok {
			return
		}
		basis := Bases[int(pick)%len(Bases)]
		strength := func(n quantity.Decimal) Strength {
			return Strength{Basis: basis, Number: quantity.Quantity{Value: n, Unit: basis.Unit()},
				Parts: [2]quantity.Decimal{d[0], d[1]}}
		}
		k := Stock{Solute: copolymer(), Solvent: Pure(liquidAcetone()), Strength: strength(d[0])}
		onHand := quantity.Quantity{Value: d[2], Unit: "mL"}
		little := quantity.Quantity{Value: d[3], Unit: "g"}
		diluted, err := Dilute(DiluteInput{Stock: k, Strength: strength(d[1]), Amount: Wanted{OnHand: onHand},
			Leftover: little, Instruments: Instruments{Scale: Instrument{Readability: little}}})
		wantFaultOrNil(t, err)
		finiteMixture(t, diluted.Target)
		finiteMixture(t, diluted.Main.AsRounded)
		for _, in := range []AdjustInput{
			{Strengthen: &Strengthen{Strength: strength(d[1])}},
			{Strengthen: &Strengthen{Added: little}},
			{Weaken: &Weaken{Strength: strength(d[1])}},
			{Restore: &Restore{ByTime: &LossByTime{Rate: quantity.Quantity{Value: d[3], Unit: "g/h"}, Time: quantity.New("3", "h")}}},
		} {
			in.Stock, in.OnHand = k, onHand
			adjusted, err := Adjust(in)
			wantFaultOrNil(t, err)
			finiteMixture(t, adjusted.After)
			finiteMixture(t, adjusted.AsRounded)
		}
		checked, err := DryCheck(DryCheckInput{Solute: copolymer(), Solvent: Pure(liquidAcetone()),
			PortionVolume: onHand, Residue: little, Retained: quantity.New("4", "%"), Label: strength(d[1])})
		wantFaultOrNil(t, err)
		finiteMixture(t, checked.Reading)
		finiteMixture(t, checked.Lowest)
	})
}
