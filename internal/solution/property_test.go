package solution

import (
	"math"
	"math/big"
	"testing"

	"pgregory.net/rapid"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// drawnMix is a resin, a solvent and a possible strength.
type drawnMix struct {
	resin, solvent Component
	rhoS, rhoL     string
	c              string // g per 100 mL of solution
}

func drawMix(t *rapid.T) drawnMix {
	d := drawnMix{rhoS: drawDecimal(t, "resin density", 900, 1600), rhoL: drawDecimal(t, "solvent density", 650, 1350)}
	d.resin = Component{ID: "r", Name: "resin", Phase: Solid,
		Density: Density{Measured: quantity.Exactly(quantity.MustDecimal(d.rhoS).Float64())}}
	d.solvent = Component{ID: "l", Name: "liquid", Phase: Liquid,
		Density: Density{Measured: quantity.Exactly(quantity.MustDecimal(d.rhoL).Float64())}}
	d.c = quantity.Digits(rapid.Float64Range(0.01, 80).Draw(t, "g per 100 mL"), 5)
	return d
}

// drawDecimal draws a decimal of three places, in thousandths.
func drawDecimal(t *rapid.T, name string, low, high int) string {
	return quantity.Digits(float64(rapid.IntRange(low, high).Draw(t, name))/1000, 6)
}

func (d drawnMix) stock(basis Basis, value string) Stock {
	return Stock{Solute: d.resin, Solvent: Pure(d.solvent), Strength: strengthOf(value, string(basis))}
}

func drawnConvert(t *rapid.T, k Stock) Mixture {
	a, err := Convert(ConvertInput{Stock: k})
	if err != nil {
		t.Fatalf("convert %+v: %v", k.Strength, err)
	}
	return a.Mixture
}

func closeTo(a, b float64) bool { return math.Abs(a-b) <= 1e-9*math.Max(1e-9, math.Abs(b)) }

// Converting between answerable bases and back is the identity.
func TestConversionsRoundTrip(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		d := drawMix(t)
		start := drawnConvert(t, d.stock(MassPerSolutionVolume, d.c))
		for _, b := range []Basis{MassPerSolventVolume, MassFraction, VolumeFraction, OneIn} {
			v, err := quantity.OfFloat(start.On(b).Value)
			if err != nil {
				t.Fatal(err)
			}
			back := drawnConvert(t, d.stock(b, v.String())).On(MassPerSolutionVolume).Value
			if want := start.On(MassPerSolutionVolume).Value; !closeTo(back, want) {
				t.Fatalf("by %s and back: got %v, want %v", b, back, want)
			}
		}
	})
}

// The rational parts against exact arithmetic: c g in V mL of finished solution.
//
//	m = cV/100, mass of solvent = (V − m/ρₛ) ρₗ, w = m/(m + mass of solvent)
func TestMakeUpAgainstExactArithmetic(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		d := drawMix(t)
		volume := quantity.Digits(rapid.Float64Range(1, 5000).Draw(t, "mL"), 5)
		a, err := MakeUp(MakeUpInput{
			Resin: Resin{Solid: &d.resin}, Solvent: Pure(d.solvent), Strength: Per100(d.c, MassPerSolutionVolume),
			Amount: Wanted{Finished: quantity.New(volume, "mL")},
		})
		if err != nil {
			t.Fatal(err)
		}
		rat := func(s string) *big.Rat { return quantity.MustDecimal(s).Rat() }
		m := new(big.Rat).Mul(rat(d.c), rat(volume))
		m.Quo(m, big.NewRat(100, 1))
		left := new(big.Rat).Sub(rat(volume), new(big.Rat).Quo(m, rat(d.rhoS)))
		liquid := new(big.Rat).Mul(left, rat(d.rhoL))
		w := new(big.Rat).Quo(m, new(big.Rat).Add(m, liquid))
		for what, pair := range map[string][2]float64{
			"resin, g":        {a.Main.Ingredients[0].Exact, float(m)},
			"solvent, mL":     {a.Main.Ingredients[1].Exact, float(left)},
			"by weight, g":    {a.ByWeight.Ingredients[1].Exact, float(liquid)},
			"mass fraction":   {a.Target.On(MassFraction).Value / 100, float(w)},
			"finished volume": {a.Target.Volume.Value, float(rat(volume))},
		} {
			if !closeTo(pair[0], pair[1]) {
				t.Fatalf("%s: got %v, exactly %v", what, pair[0], pair[1])
			}
		}
	})
}

func float(r *big.Rat) float64 { f, _ := r.Float64(); return f }

// A dilution conserves the solids, two steps give the same as one, and the stock
// needed rises with the strength wanted.
func TestDilutionProperties(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		d := drawMix(t)
		basis := rapid.SampledFrom([]Basis{MassPerSolutionVolume, MassPerSolventVolume, MassFraction,
			VolumeFraction}).Draw(t, "basis")
		start := drawnConvert(t, d.stock(MassPerSolutionVolume, d.c))
		fraction := rapid.Float64Range(0.02, 0.9).Draw(t, "fraction")
		half, target := fraction+(1-fraction)/2, fraction
		onHand := quantity.New("250", "g")
		dilute := func(k Stock, to float64, onHand quantity.Quantity) DiluteAnswer {
			v, err := quantity.OfFloat(to)
			if err != nil {
				t.Fatal(err)
			}
			a, err := Dilute(DiluteInput{Stock: k, Strength: strengthOf(v.String(), string(basis)),
				Amount: Wanted{OnHand: onHand}})
			if err != nil {
				t.Fatalf("dilute: %v", err)
			}
			return a
		}
		full := start.On(basis).Value
		once := dilute(d.stock(MassPerSolutionVolume, d.c), full*target, onHand)
		if got, want := solidsOf(once.Target), 2.5*start.On(MassFraction).Value; !closeTo(got, want) {
			t.Fatalf("solids: got %v g, want the stock's %v", got, want)
		}
		first := dilute(d.stock(MassPerSolutionVolume, d.c), full*half, onHand)
		middle, err := quantity.OfFloat(first.Target.On(basis).Value)
		if err != nil {
			t.Fatal(err)
		}
		made, err := quantity.Of(first.Target.Mass.Value, "g")
		if err != nil {
			t.Fatal(err)
		}
		second := dilute(d.stock(basis, middle.String()), full*target, made)
		if !closeTo(second.Target.Mass.Value, once.Target.Mass.Value) {
			t.Fatalf("two steps: got %v g, one step %v", second.Target.Mass.Value, once.Target.Mass.Value)
		}
		if first.Target.Mass.Value >= once.Target.Mass.Value {
			t.Fatalf("a stronger target takes less solvent: got %v g at %v, %v at %v", first.Target.Mass.Value, half,
				once.Target.Mass.Value, target)
		}
	})
}

func solidsOf(m Mixture) float64 {
	var sum float64
	for _, p := range m.Parts {
		if p.Dissolved {
			sum += p.Grams
		}
	}
	return sum
}

// The invariants of the basis table of the acrylic copolymer: the three readings of a
// number agree as it goes to zero; read by mass there is less resin in a millilitre than
// read by the finished volume if the solution is lighter than water, and more if heavier;
// to the solvent equals by mass where grams and grams of solvent make 100 (20.92 for
// acetone of 0.7908 g/mL); and the finished volume is below the sum of the bulk volumes.
func TestBasisInvariants(t *testing.T) {
	t.Parallel()
	inVolume := func(n string, b Basis) float64 {
		a, err := Convert(ConvertInput{Stock: stockOf(n, b)})
		if err != nil {
			t.Fatal(err)
		}
		return a.Mixture.On(MassPerSolutionVolume).Value
	}
	const little = "0.0001"
	a, b, w := inVolume(little, MassPerSolventVolume), inVolume(little, MassPerSolutionVolume),
		inVolume(little, MassFraction)
	within(t, "to the solvent, over in the volume, at nearly nothing", a/b, 1, 1e-6)
	// By mass the ratio goes to the density of the solvent, as it must.
	within(t, "by mass, over in the volume, at nearly nothing", w/b, 0.7908, 1e-6)
	cross, err := Convert(ConvertInput{Stock: stockOf("20.92", MassPerSolventVolume)})
	if err != nil {
		t.Fatal(err)
	}
	within(t, "the crossing", cross.Mixture.On(MassFraction).Value, 20.92, 0.005)
	for _, n := range []string{"5", "20", "50"} {
		if byMass, byVolume := inVolume(n, MassFraction), inVolume(n, MassPerSolutionVolume); byMass >= byVolume {
			t.Errorf("%s: by mass %v, by volume %v: want less by mass", n, byMass, byVolume)
		}
	}
	heavy := Stock{Solute: copolymer(),
		Solvent: Pure(Component{ID: "dichloromethane", Name: "dichloromethane", Phase: Liquid,
			Density: Density{Measured: quantity.Exactly(1.326)}}), Strength: strengthOf("20", "mass-fraction")}
	if a, err := Convert(ConvertInput{Stock: heavy}); err != nil || a.Mixture.On(MassPerSolutionVolume).Value <= 20 {
		t.Errorf("in a heavy solvent 20 %% by mass is more than 20 g in 100 mL: got %v, %v",
			a.Mixture.On(MassPerSolutionVolume).Value, err)
	}
}

// What the volume can hold is 100 ρₛ = 115 g in 100 mL, of which 106.8 g in 100 mL are 95 % by mass.
func TestStrengthsBeyondTheVolume(t *testing.T) {
	t.Parallel()
	for value, fine := range map[string]bool{"106": true, "107": false, "115.1": false, "1000": false} {
		_, err := Convert(ConvertInput{Stock: stockOf(value, MassPerSolutionVolume)})
		if (err == nil) != fine {
			t.Errorf("%s g in 100 mL: got %v, want it possible: %v", value, err, fine)
		}
	}
	_, err := Convert(ConvertInput{Stock: stockOf("160", MassPerSolventVolume)})
	if err != nil {
		t.Errorf("160 g to 100 mL of solvent: got %v, want an answer: that has no end", err)
	}
	_, err = Convert(ConvertInput{Stock: stockOf("0.8", OneIn)})
	wantFault(t, err, "strength-beyond-volume", "/stock/solution/strength")
}

// For all inputs neither NaN nor infinity comes out; a refusal is a fault.
func FuzzMakeUp(f *testing.F) {
	f.Add("20", "150", "1.15", "0.79", "1", uint8(0))
	f.Add("1e-30", "1e-30", "1", "1", "1e-30", uint8(1))
	f.Add("100", "999999", "0.7", "4", "1000", uint8(2))
	f.Add("-1", "0", "25", "0.5", "0", uint8(3))
	f.Add("1e30", "1e30", "1e30", "1e30", "1e30", uint8(4))
	f.Fuzz(func(t *testing.T, strength, amount, rhoS, rhoL, step string, pick uint8) {
		basis := Bases[int(pick)%len(Bases)]
		var d [5]quantity.Decimal
		for i, text := range []string{strength, amount, rhoS, rhoL, step} {
			parsed, err := quantity.ParseDecimal(text)
			if err != nil {
				return
			}
			d[i] = parsed
		}
		solid := Component{ID: "r", Name: "resin", Phase: Solid, Density: Density{Measured: quantity.Exactly(d[2].Float64())}}
		liquid := Component{ID: "l", Name: "liquid", Phase: Liquid,
			Density: Density{Measured: quantity.Exactly(d[3].Float64())}}
		a, err := MakeUp(MakeUpInput{
			Resin: Resin{Solid: &solid}, Solvent: Pure(liquid),
			Strength: Strength{Basis: basis, Number: quantity.Quantity{Value: d[0], Unit: basis.Unit()},
				Parts: [2]quantity.Decimal{d[0], d[1]}},
			Amount:      Wanted{Finished: quantity.Quantity{Value: d[1], Unit: "mL"}},
			Instruments: Instruments{Scale: Instrument{Readability: quantity.Quantity{Value: d[4], Unit: "g"}}},
			Tolerance:   quantity.New("5", "%"),
		})
		if err != nil {
			if len(fault.From(err)) == 0 {
				t.Fatalf("got %v, want a fault", err)
			}
			return
		}
		for _, m := range []Mixture{a.Target, a.Main.AsRounded, a.ByWeight.AsRounded} {
			finiteMixture(t, m)
		}
		for _, i := range append(a.Main.Ingredients, a.ByWeight.Ingredients...) {
			if !finite(i.Exact, i.Rounded, i.Grams, i.Millilitres) || i.Exact < 0 {
				t.Fatalf("ingredient %+v", i)
			}
		}
	})
}

func finiteMixture(t *testing.T, m Mixture) {
	t.Helper()
	for _, v := range m.Strengths {
		if !finite(v.Value, v.Standard) || v.Value < 0 {
			t.Fatalf("strength %+v", v)
		}
	}
	if !finite(m.Mass.Value, m.Volume.Value, m.Density.Value, m.SolventVolume.Value, m.Mass.Standard) {
		t.Fatalf("mixture %+v", m)
	}
}
