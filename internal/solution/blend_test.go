package solution

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"meniscus/internal/quantity"
)

func blendStock(name, value string, onHand string) BlendStock {
	k := stockOf(value, MassPerSolutionVolume)
	k.Name = name
	return BlendStock{Stock: k, OnHand: amountOf(onHand)}
}

func mustMix(t *testing.T, in BlendInput) BlendAnswer {
	t.Helper()
	a, err := Blend(in)
	if err != nil {
		t.Fatalf("blend: %v", err)
	}
	return a
}

// 200 mL of 10 from 20 (150 mL, old), 5 (300 mL, older) and fresh solvent.
func threeWays(objective Objective) BlendInput {
	strong, weak := blendStock("strong", "20", "150 mL"), blendStock("weak", "5", "300 mL")
	strong.Age, weak.Age = quantity.New("40", "d"), quantity.New("1", "a")
	return BlendInput{
		Stocks: []BlendStock{strong, weak}, Fresh: Pure(liquidAcetone()),
		Strength: Per100("10", MassPerSolutionVolume), Total: quantity.New("200", "mL"), Objective: objective,
	}
}

// Alligation: (10 − 5) : (20 − 10) is one part of the strong with two of the weak, so
// 66.67 and 133.33 mL and no fresh solvent. As the strong leftover alone it would be
// 100 mL with 100 of solvent; no objective here asks for that.
func TestBlendObjectives(t *testing.T) {
	t.Parallel()
	for _, objective := range []Objective{LeastFreshSolvent, OldestFirst} {
		a := mustMix(t, threeWays(objective))
		within(t, string(objective)+": strong, mL", a.Uses[0].Millilitres, 200.0/3, 1e-6)
		within(t, string(objective)+": weak, mL", a.Uses[1].Millilitres, 400.0/3, 1e-6)
		within(t, string(objective)+": fresh, g", a.Fresh.Grams, 0, 1e-9)
		within(t, string(objective)+": parts of weak to one of strong", a.Alligation.ByVolume, 2, 1e-9)
		within(t, string(objective)+": strength", a.Exact.On(MassPerSolutionVolume).Value, 10, 1e-9)
		within(t, string(objective)+": lowest reach", a.Reach.Lowest, 0, 1e-9)
		// 150 mL of 20 and 50 mL of 5 in 200 mL: 16.25.
		within(t, string(objective)+": highest reach", a.Reach.Highest, 16.25, 1e-9)
	}
	// The shares used: 66.67/150 + 133.33/300 = 0.89 here, against 0.67 for the strong
	// leftover alone with fresh solvent.
	a := mustMix(t, threeWays(LeastWaste))
	within(t, "least waste: weak, mL", a.Uses[1].Millilitres, 400.0/3, 1e-6)
}

// Five stocks chosen by age: as much of the oldest is used as the target allows.
func TestBlendOldestFirst(t *testing.T) {
	t.Parallel()
	in := BlendInput{Fresh: Pure(liquidAcetone()), Strength: Per100("10", MassPerSolutionVolume),
		Total: quantity.New("100", "mL"), Objective: OldestFirst}
	for i, age := range []string{"10", "400", "200"} {
		k := blendStock(fmt.Sprint("stock ", i), "20", "30 mL")
		k.Age = quantity.New(age, "d")
		in.Stocks = append(in.Stocks, k)
	}
	a := mustMix(t, in)
	for i, want := range []float64{0, 30, 20} {
		within(t, a.Uses[i].Name, a.Uses[i].Millilitres, want, 1e-6)
	}
}

func TestBlendCarriesTheLeastCertainty(t *testing.T) {
	t.Parallel()
	in := threeWays(LeastFreshSolvent)
	in.Stocks[0].Certainty, in.Stocks[1].Certainty, in.Stocks[1].Touched = Documented, Inferred, true
	a := mustMix(t, in)
	if a.Certainty != Inferred || !hasWarning(a.Advice, "touched-leftover") || !hasWarning(a.Advice, "lowest-certainty") {
		t.Errorf("got %s, warnings %v", a.Certainty, codes(a.Advice))
	}
}

// Several resins and liquids are tracked by the gram.
func TestBlendTracksSeveralSolids(t *testing.T) {
	t.Parallel()
	pvb := Component{ID: "poly-vinyl-butyral", Name: "poly(vinyl butyral)", Phase: Solid,
		Density: Density{Measured: quantity.Exactly(1.083)}}
	a := mustMix(t, BlendInput{Stocks: []BlendStock{
		{Stock: Stock{Solute: copolymer(), Solvent: Pure(liquidAcetone()), Strength: PercentOf("20", MassFraction)},
			OnHand: quantity.New("100", "g")},
		{Stock: Stock{Solute: pvb, Solvent: Pure(liquidEthanol()), Strength: PercentOf("10", MassFraction)},
			OnHand: quantity.New("50", "g")},
	}})
	want := map[string]float64{"ethyl-methacrylate-methyl-acrylate-copolymer": 20, "acetone": 80,
		"poly-vinyl-butyral": 5, "ethanol": 45}
	for _, p := range a.Exact.Parts {
		within(t, p.ID, p.Grams, want[p.ID], 1e-9)
	}
	if len(a.Exact.Parts) != 4 || !hasWarning(a.Advice, "several-resins") {
		t.Errorf("parts: got %+v, warnings %v", a.Exact.Parts, codes(a.Advice))
	}
}

// Without a strength everything on hand is poured together, the fresh solvent too: 50 g of 20 % with
// 30 g of acetone are 12.5 %.
func TestBlendPoursInTheFreshSolvent(t *testing.T) {
	t.Parallel()
	in := BlendInput{Stocks: []BlendStock{{Stock: stockOf("20", MassFraction), OnHand: quantity.New("50", "g")}},
		Fresh: Pure(liquidAcetone()), FreshOnHand: quantity.New("30", "g")}
	a, err := Blend(in)
	if err != nil {
		t.Fatal(err)
	}
	within(t, "fresh, g", a.Fresh.Rounded, 30, 0)
	within(t, "strength", a.Exact.On(MassFraction).Value, 12.5, 1e-12)
	in.FreshOnHand = quantity.Quantity{}
	_, err = Blend(in)
	wantFault(t, err, "on-hand-needed", "/freshOnHand")
}

func TestBlendRefuses(t *testing.T) {
	t.Parallel()
	in := threeWays(LeastFreshSolvent)
	in.Strength = Per100("17", MassPerSolutionVolume)
	_, err := Blend(in)
	f := wantFault(t, err, "target-unreachable", "/strength")
	if reach, ok := f.Extra["reach"].(Reach); !ok || math.Abs(reach.Highest-16.25) > 1e-9 {
		t.Errorf("reach: got %+v, want up to 16.25", f.Extra)
	}
	in = threeWays(LeastFreshSolvent)
	in.Fresh, in.Total = Solvent{}, quantity.New("500", "mL")
	_, err = Blend(in)
	wantFault(t, err, "total-not-on-hand", "/total")
	in = threeWays(LeastFreshSolvent)
	in.Stocks[0].Solvent, in.Stocks[0].Solute.Sets = Pure(liquidAcetone()), "sets by reaction"
	_, err = Blend(in)
	wantFault(t, err, "reacts", "/stocks/0/stock/solution/solute")
}

// Ethanol and water contract; the blend is corrected until its real strength is the
// target: 70 % by volume from 95 % and water, to 500 mL.
func TestBlendCorrectsForContraction(t *testing.T) {
	t.Parallel()
	spirit := Stock{Solute: liquidEthanol(), Solvent: Pure(liquidWater()), Strength: PercentOf("95", VolumeFraction)}
	a := mustMix(t, BlendInput{
		Stocks: []BlendStock{{Stock: spirit, OnHand: quantity.New("1", "L")}}, Fresh: Pure(liquidWater()),
		Strength: PercentOf("70", VolumeFraction), Total: quantity.New("500", "mL"),
	})
	within(t, "strength", a.Exact.On(VolumeFraction).Value, 70, 1e-9)
	within(t, "volume", a.Exact.Volume.Value, 500, 1e-6)
	within(t, "spirit, mL (c₁V₁ = c₂V₂ to the mark)", a.Uses[0].Millilitres, 500*70.0/95, 1e-6)
}

// drawnProgramme draws a small blend problem.
func drawProgramme(t *rapid.T, stocks int) programme {
	p := programme{t: 0.1, total: rapid.Float64Range(10, 500).Draw(t, "total")}
	for i := range stocks {
		c := rapid.Float64Range(0, 0.4).Draw(t, fmt.Sprint("strength ", i))
		p.n = append(p.n, c)
		p.d = append(p.d, 1)
		p.m = append(p.m, rapid.Float64Range(0.8, 1.25).Draw(t, fmt.Sprint("volume ", i)))
		p.gain = append(p.gain, c-p.t)
		p.upper = append(p.upper, rapid.Float64Range(1, 300).Draw(t, fmt.Sprint("on hand ", i)))
		p.forced = append(p.forced, false)
	}
	return p
}

// oracle finds the optimum by brute force. A vertex of
//
//	Σ gᵢxᵢ = 0, Σ mᵢxᵢ = M, 0 ≤ xᵢ ≤ bᵢ
//
// has all but two variables at a bound; every choice of the two and of the bounds of
// the others is tried.
func (p programme) oracle(costs []float64) (best float64, found bool) {
	n := len(p.n)
	best = math.Inf(1)
	for i := range n {
		for j := range i {
			for bounds := range 1 << n {
				x, ok := p.vertex(i, j, bounds)
				if !ok {
					continue
				}
				found = true
				var cost float64
				for k := range x {
					cost += costs[k] * x[k]
				}
				best = math.Min(best, cost)
			}
		}
	}
	return best, found
}

func (p programme) vertex(i, j, bounds int) ([]float64, bool) {
	x := make([]float64, len(p.n))
	gain, left := 0.0, p.total
	for k := range x {
		if k != i && k != j && bounds&(1<<k) != 0 {
			x[k] = p.upper[k]
			gain += p.gain[k] * x[k]
			left -= p.m[k] * x[k]
		}
	}
	det := p.gain[i]*p.m[j] - p.gain[j]*p.m[i]
	if math.Abs(det) < 1e-12 {
		return nil, false
	}
	x[i] = (-gain*p.m[j] - left*p.gain[j]) / det
	x[j] = (left*p.gain[i] + gain*p.m[i]) / det
	const slack = 1e-9
	ok := x[i] >= -slack && x[i] <= p.upper[i]+slack && x[j] >= -slack && x[j] <= p.upper[j]+slack
	return x, ok
}

// The optimum of small blends against brute force over the vertices, and the reach
// against whether any vertex exists.
func TestBlendOptimumAgainstVertices(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := drawProgramme(t, rapid.IntRange(2, 6).Draw(t, "stocks"))
		costs := make([]float64, len(p.n))
		for i := range costs {
			costs[i] = rapid.Float64Range(-1, 1).Draw(t, fmt.Sprint("cost ", i))
		}
		want, possible := p.oracle(costs)
		if p.total > p.most() {
			if possible {
				t.Fatalf("a vertex although the total is not on hand")
			}
			return
		}
		low, high := p.extreme(-1), p.extreme(1)
		const edge = 1e-7
		if reachable := low.ratio <= p.t && p.t <= high.ratio; reachable != possible {
			if math.Abs(low.ratio-p.t) > edge && math.Abs(high.ratio-p.t) > edge {
				t.Fatalf("reach %v to %v of %v: got reachable %v, a vertex exists: %v", low.ratio, high.ratio, p.t,
					reachable, possible)
			}
			return
		}
		if !possible || math.Abs(low.ratio-p.t) < edge || math.Abs(high.ratio-p.t) < edge {
			return
		}
		x, err := p.solve(costs)
		if err != nil {
			t.Fatalf("solve: %v", err)
		}
		var got float64
		for i := range x {
			got += costs[i] * x[i]
		}
		if math.Abs(got-want) > 1e-6*(1+math.Abs(want)) {
			t.Fatalf("optimum: got %v, brute force %v", got, want)
		}
	})
}

// Up to forty stocks at once, drawn: whatever is inside the reach is solved, stays
// within what is on hand, and takes no more fresh solvent than mixing the two ends of
// the reach would.
func TestBlendOfManyDrawnStocks(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := drawProgramme(t, rapid.IntRange(7, 40).Draw(t, "stocks"))
		p.n[0], p.gain[0], p.upper[0] = 0, -p.t, -1 // fresh solvent, not limited
		costs := make([]float64, len(p.n))
		costs[0] = 1
		if p.total > 0.9*p.most() {
			return
		}
		low, high := p.extreme(-1), p.extreme(1)
		if p.t < low.ratio*1.001 || p.t > high.ratio*0.999 {
			return
		}
		x, err := p.solve(costs)
		if err != nil {
			t.Fatalf("solve: %v", err)
		}
		share := (p.t - low.ratio) / (high.ratio - low.ratio)
		var gain, total float64
		for i := range x {
			gain += p.gain[i] * x[i]
			total += p.m[i] * x[i]
			if x[i] < 0 || (p.upper[i] >= 0 && x[i] > p.upper[i]) {
				t.Fatalf("stock %d: got %v of %v", i, x[i], p.upper[i])
			}
		}
		if math.Abs(gain) > 1e-6*p.total || math.Abs(total-p.total) > 1e-6*p.total {
			t.Fatalf("got a gain of %v and a total of %v, want 0 and %v", gain, total, p.total)
		}
		// D is 1 for each gram here, so the ends mix in proportion to their masses.
		lowMass, highMass := sum(low.x), sum(high.x)
		k := share * lowMass / (share*lowMass + (1-share)*highMass)
		if mixed := (1-k)*low.x[0] + k*high.x[0]; x[0] > mixed*(1+1e-6)+1e-6 {
			t.Fatalf("fresh solvent: got %v g, mixing the ends takes %v", x[0], mixed)
		}
	})
}

func sum(x []float64) float64 {
	var s float64
	for _, v := range x {
		s += v
	}
	return s
}

// Forty stocks at once, by every objective: the result has the strength and total asked for.
func TestBlendOfFortyStocks(t *testing.T) {
	t.Parallel()
	in := BlendInput{Fresh: Pure(liquidAcetone()), Strength: Per100("8", MassPerSolutionVolume),
		Total: quantity.New("2", "L")}
	for i := range 40 {
		k := blendStock(fmt.Sprint("jar ", i+1), fmt.Sprint(1+(7*i)%25), fmt.Sprintf("%d mL", 40+(13*i)%160))
		k.Age = quantity.New(fmt.Sprint(1+(37*i)%500), "d")
		in.Stocks = append(in.Stocks, k)
	}
	for _, objective := range []Objective{LeastFreshSolvent, OldestFirst, LeastWaste} {
		in.Objective = objective
		a := mustMix(t, in)
		within(t, string(objective)+": strength", a.Exact.On(MassPerSolutionVolume).Value, 8, 1e-7)
		within(t, string(objective)+": volume", a.Exact.Volume.Value, 2000, 1e-5)
		for _, u := range a.Uses {
			if u.Grams < 0 || u.Left < 0 || !finite(u.Grams, u.Left) {
				t.Errorf("%s: %+v", objective, u)
			}
		}
	}
}

// Jars are poured together, and each amount has the uncertainty of its scale. A
// reading on a scale of step d has u = d/√12 (JCGM 100:2008, 4.3.7); with
// w = Σ mᵢwᵢ/Σ mᵢ and M = Σ mᵢ, ∂w/∂mᵢ = (wᵢ − w)/M, and u²(w) = Σ (∂w/∂mᵢ)² u²(mᵢ) (equation 10).
func TestABlendKnowsWhatIsOnHandAsWellAsItWasRead(t *testing.T) {
	t.Parallel()
	jar := func(percent, grams string, step string) BlendStock {
		k := BlendStock{Stock: stockOf(percent, MassFraction), OnHand: quantity.New(grams, "g"), UseAll: true}
		if step != "" {
			k.OnHand.Uncertainty = quantity.Readability(quantity.MustDecimal(step))
		}
		return k
	}
	const third = 1.0 / 12
	for name, c := range map[string]struct {
		in   BlendInput
		want float64 // u(w), in %
	}{
		// w = (200·20 + 100·5)/300 = 15; ∂w/∂m = 5/300 and −10/300.
		"both, to 1 g": {BlendInput{Stocks: []BlendStock{jar("20", "200", "1"), jar("5", "100", "1")}}, math.Sqrt(third*(25+100)) / 300},
		"one of them":  {BlendInput{Stocks: []BlendStock{jar("20", "200", ""), jar("5", "100", "1")}}, math.Sqrt(third*100) / 300},
		// 200 g of 20 % all used, down to 10 % with fresh solvent: ∂w/∂m = (20 − 10)/400.
		"with a target": {BlendInput{Stocks: []BlendStock{jar("20", "200", "1")}, Fresh: Pure(liquidAcetone()), Strength: PercentOf("10", MassFraction)},
			math.Sqrt(third) * 10 / 400},
		"three of one strength": {BlendInput{Stocks: []BlendStock{jar("10", "20", "1"), jar("10", "30", "1"), jar("10", "50", "1")}}, 0},
	} {
		a := mustMix(t, c.in)
		within(t, name+": u(w), %", a.Exact.On(MassFraction).Standard, c.want, 1e-6)
		within(t, name+": u(w) as rounded, %", a.AsRounded.On(MassFraction).Standard, c.want, 1e-6)
	}
	scale := BlendInput{Stocks: []BlendStock{jar("20", "200", "1"), jar("5", "100", "1")},
		Instruments: Instruments{Scale: Instrument{Readability: quantity.New("0.1", "g")}}}
	within(t, "weighed again: u(w), %", mustMix(t, scale).AsRounded.On(MassFraction).Standard,
		math.Sqrt(third*125)/3000, 1e-6)
	whole := mustMix(t, BlendInput{Stocks: []BlendStock{jar("20", "200", "1"), jar("5", "100", "2")}})
	within(t, "u(M), g", whole.Exact.Mass.Standard, math.Sqrt(third*5), 1e-6)
}

// A volume on hand keeps its relative uncertainty in grams: u(m)/m = u(V)/V
// (JCGM 100:2008, 5.1.6), as long as nothing else is mixed in.
func TestAVolumeOnHandIsKnownAsWellInGrams(t *testing.T) {
	t.Parallel()
	k := blendStock("jar", "10", "200 mL")
	k.OnHand.Uncertainty, k.UseAll = quantity.Standard(quantity.MustDecimal("1")), true
	a := mustMix(t, BlendInput{Stocks: []BlendStock{k}})
	within(t, "u(V), mL", a.Exact.Volume.Standard, 1, 1e-3)
	within(t, "u(w), %", a.Exact.On(MassFraction).Standard, 0, 1e-9)
}
