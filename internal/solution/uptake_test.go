package solution

import (
	"math"
	"math/rand/v2"
	"testing"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"

	"pgregory.net/rapid"
)

func weighed(before, after string, d Drying) *UptakeByWeight {
	b, a := quantity.New(before, "g"), quantity.New(after, "g")
	b.Uncertainty = quantity.Readability(quantity.MustDecimal("0.01"))
	a.Uncertainty = b.Uncertainty
	return &UptakeByWeight{Before: b, After: a, Drying: d}
}

func TestUptakeByVolume(t *testing.T) {
	t.Parallel()
	// 5 g in 100 mL, 40 mL applied and 8 mL back: 1.6 g on 0.02 m² is 80 g/m².
	a, err := ComputeUptake(Uptake{
		ByVolume: &UptakeByVolume{Solids: quantity.New("5", "g/dL"), Applied: quantity.New("40", "mL"),
			Returned: quantity.New("8", "mL")},
		Area: quantity.New("200", "cm2"),
	})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(a.Solids.Value-1.6) > 1e-12 || math.Abs(a.PerArea.Value-80) > 1e-9 || a.PerMass != nil ||
		a.AtMost != a.Solids.Value {
		t.Errorf("got %g g, %g g/m², at most %g; want 1.6, 80, 1.6", a.Solids.Value, a.PerArea.Value, a.AtMost)
	}
	if !hasWarning(a.Advice, "upper-figure") || !hasWarning(a.Advice, "returned-is-stronger") {
		t.Errorf("warnings: got %v", codes(a.Advice))
	}
}

// A film that keeps 4 % of solvent: 20 g of solids weigh 20.83 g.
func TestUptakeRetainedSolvent(t *testing.T) {
	t.Parallel()
	a, err := ComputeUptake(Uptake{ByWeight: weighed("100", "120.83", Dried)})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(a.AtLeast-20) > 0.01 || math.Abs(a.AtMost-20.83) > 1e-9 {
		t.Errorf("bounds: got %g to %g, want 20.0 to 20.83", a.AtLeast, a.AtMost)
	}
	if v := a.Solids.Value; math.Abs(v-(a.AtLeast+a.AtMost)/2) > 1e-9 {
		t.Errorf("solids: got %g, want the middle", v)
	}
	if math.Abs(a.PerMass.Value-a.Solids.Value) > 1e-9 {
		t.Errorf("per 100 g of a 100 g specimen: got %g, want %g", a.PerMass.Value, a.Solids.Value)
	}
	if got := a.Solids.Budget[0].Name; got != "the solvent still in it" {
		t.Errorf("largest contribution: got %q", got)
	}
}

// While solvent is in it, the solids lie between the share of the solution and all of the gain.
func TestUptakeBeforeItIsDry(t *testing.T) {
	t.Parallel()
	w := weighed("500", "510", TouchDry)
	a, err := ComputeUptake(Uptake{ByWeight: w})
	if err != nil || a.Solids != nil || a.AtLeast != 0 || math.Abs(a.AtMost-10) > 1e-9 {
		t.Errorf("without the solution's strength: got %v, %g to %g (%v), want no figure, 0 to 10", a.Solids, a.AtLeast,
			a.AtMost, err)
	}
	w.Solution = quantity.New("6", "%")
	a, err = ComputeUptake(Uptake{ByWeight: w})
	if err != nil || math.Abs(a.AtLeast-0.6) > 1e-9 || math.Abs(a.Solids.Value-5.3) > 1e-9 {
		t.Errorf("with it: got %+v (%v), want 0.6 to 10, middle 5.3", a, err)
	}
}

func TestUptakeLostInTheBalance(t *testing.T) {
	t.Parallel()
	a, err := ComputeUptake(Uptake{ByWeight: weighed("100", "100.005", Dried)})
	if err != nil || !hasWarning(a.Advice, "lost-in-the-balance") {
		t.Errorf("got %v (%v), want lost-in-the-balance", codes(a.Advice), err)
	}
}

// The uncertainty by the law of propagation against Monte Carlo over the same function.
func TestUptakeUncertaintyByMonteCarlo(t *testing.T) {
	t.Parallel()
	w := weighed("100", "120", Dried)
	w.Before.Uncertainty = quantity.Standard(quantity.MustDecimal("0.3"))
	w.After.Uncertainty = quantity.Standard(quantity.MustDecimal("0.4"))
	var c checker
	q := w.question(&c)
	o := quantity.Propagate(q.inputs, q.solids)
	rnd := rand.New(rand.NewPCG(1, 2))
	const n = 200000
	var sum, squares float64
	for range n {
		x := []float64{100 + 0.3*rnd.NormFloat64(), 120 + 0.4*rnd.NormFloat64(), 0.96, rnd.Float64()}
		m := q.solids(x)
		sum += m
		squares += m * m
	}
	mean := sum / n
	u := math.Sqrt(squares/n - mean*mean)
	if math.Abs(o.Value-mean) > 0.01 || math.Abs(o.Standard/u-1) > 0.01 {
		t.Errorf("got %g ± %g, Monte Carlo %g ± %g", o.Value, o.Standard, mean, u)
	}
}

func TestUptakeFaults(t *testing.T) {
	t.Parallel()
	litre := quantity.New("1", "L")
	for name, tt := range map[string]struct {
		u       Uptake
		pointer string
	}{
		"neither":         {Uptake{}, ""},
		"more back":       {Uptake{ByVolume: &UptakeByVolume{Solids: quantity.New("5", "g/dL"), Applied: litre, Returned: litre}}, "/byVolume/returned"},
		"nothing applied": {Uptake{ByVolume: &UptakeByVolume{Solids: quantity.New("5", "g/dL"), Applied: quantity.New("0", "mL")}}, "/byVolume/applied"},
		"weight fell":     {Uptake{ByWeight: weighed("100", "99", Dried)}, "/byWeight/after"},
		"no such word":    {Uptake{ByWeight: weighed("100", "101", "bone-dry")}, "/byWeight/drying"},
		"both":            {Uptake{ByWeight: weighed("100", "101", Dried), Area: quantity.New("1", "m2"), Mass: quantity.New("1", "g")}, "/byWeight/per/specimenMass"},
	} {
		_, err := ComputeUptake(tt.u)
		found := false
		for _, f := range fault.From(err) {
			found = found || f.Pointer == tt.pointer
		}
		if !found {
			t.Errorf("%s: got %v, want a fault at %q", name, err, tt.pointer)
		}
	}
}

// More applied is more taken up; the middle lies between the bounds.
func TestUptakeIsMonotone(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		gain := rapid.Float64Range(0.1, 100).Draw(rt, "gain")
		ask := func(gain float64) UptakeAnswer {
			after, _ := quantity.Of(500+quantity.RoundTo(gain, 1e-6), "g")
			a, err := ComputeUptake(Uptake{ByWeight: &UptakeByWeight{Before: quantity.New("500", "g"), After: after,
				Drying: Dried}})
			if err != nil {
				rt.Fatal(err)
			}
			return a
		}
		a, b := ask(gain), ask(gain+0.01)
		if !(b.Solids.Value > a.Solids.Value) || a.Solids.Value < a.AtLeast || a.Solids.Value > a.AtMost {
			rt.Errorf("got %g in %g to %g, then %g", a.Solids.Value, a.AtLeast, a.AtMost, b.Solids.Value)
		}
	})
}
