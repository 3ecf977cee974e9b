package solution

import (
	"math"
	"strings"
	"testing"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// poolOf is a spill of one liquid in still air or a draught.
func poolOf(m, kilopascal, celsius, squareMetres, metresPerSecond float64) (scene, []float64) {
	x := make([]float64, inAmounts+2)
	x[inTemperature], x[inPressure], x[inArea] = celsius, standardPress, squareMetres
	x[inAirSpeed], x[inFormula] = metresPerSecond, 1
	e := Evaporating{MolarMass: m, Pressure: VapourPressure{Equation: func(float64) (float64, bool) {
		return kilopascal, true
	}}}
	return scene{solvent: []Evaporating{e}}, x
}

// Evaporation in grams per second and square metre against published formulas that are not the one computed with.
func TestSpillAgainstPublishedRates(t *testing.T) {
	t.Parallel()
	// Mackay and van Wesenbeeck, Correlation of chemical evaporation rate with vapor pressure, Environmental Science and
	// Technology 2014 (abstract read): quiescent pools and dishes evaporate 1464 p M µg/(m² h), p in Pa. Vapour pressures
	// at 20 °C: acetone, toluene and water as above, the others recalled. Air at 0.1 m/s.
	still := func(m, kilopascal float64) float64 { return 1464 * kilopascal * 1000 * m / 3600 / 1e6 }
	// Crowl and Louvar, Chemical Process Safety, section 3.3 (formula read): M K A p/(R T), K = 0.83 cm/s (18/M)^(1/3).
	louvar := func(m, kilopascal, kelvin float64) float64 {
		return m * 0.0083 * math.Cbrt(18/m) * kilopascal * 1000 / (gasConstant * kelvin)
	}
	const poundPerMinute = 453.59237 / 60
	tank := math.Pi * 0.762 * 0.762 // 5 ft across
	for _, c := range []struct {
		of                                        string
		m, kilopascal, celsius, area, speed, want float64
		above, below                              float64 // as parts of what was published
	}{
		{"acetone, still", 58.08, 24.71, 20, 1, 0.1, still(58.08, 24.71), 0.7, 1.3},
		{"toluene, still", 92.141, 2.907, 20, 1, 0.1, still(92.141, 2.907), 0.7, 1.3},
		{"ethyl acetate, still", 88.106, 9.7, 20, 1, 0.1, still(88.106, 9.7), 0.7, 1.3},
		{"n-heptane, still", 100.205, 4.6, 20, 1, 0.1, still(100.205, 4.6), 0.7, 1.3},
		{"propan-2-ol, still", 60.096, 4.4, 20, 1, 0.1, still(60.096, 4.4), 0.7, 1.3},
		{"n-butyl acetate, still", 116.16, 1.2, 20, 1, 0.1, still(116.16, 1.2), 0.7, 1.3},
		{"water, still", 18.015, 2.339, 20, 1, 0.1, still(18.015, 2.339), 1, 1.7}, // the room's damp is left out here
		// Kawamura and Mackay 1987, k = 0.0048 U^(7/9) d^(-1/9) Sc^(-2/3) (read at second hand), Sc 1.44 (recalled).
		{"acetone, 0.5 m/s", 58.08, 24.71, 20, 1, 0.5, 1.276, 0.75, 1.25},
		{"acetone, 1.5 m/s", 58.08, 24.71, 20, 1, 1.5, 2.998, 0.75, 1.25},
		// Guidance for offsite consequence analysis of the EPA, appendix D: 0.284 U^0.78 M^(2/3) A p/(82.05 T) (recalled).
		{"acetone, outdoors", 58.08, 24.71, 20, 1, 1.5, 3.66, 0.75, 1.25},
		// Crowl and Louvar, example 3.8 (its question read): toluene at 25 °C, 28.2 mm of mercury, in a tank 5 ft across,
		// 0.162 lb/min (its answer recalled, and what the formula gives). A draught of 1.5 m/s has that coefficient.
		{"toluene in a tank", 92.141, 28.2 * torr, 25, tank, 1.5, 0.162 * poundPerMinute / tank, 0.75, 1.25},
		{"any liquid of 65 g/mol", 65, 5, 26.85, 1, 1.5, louvar(65, 5, 300), 0.75, 1.25},
		// Estimating spreading and evaporation of liquids, example 1 (read): 50 gal of methanol, a pool of 9.04 ft in radius,
		// 59 °F, 69.058 mm of mercury, 5 mi/h: 6.76e-3 lb/(ft² min) by the formula that the authors call the slowest.
		{"methanol outdoors", 32.044, 69.058 * torr, 15, math.Pi * 2.7554 * 2.7554, 2.235, 6.76e-3 * poundPerMinute / 0.09290304, 1, 2},
	} {
		s, x := poolOf(c.m, c.kilopascal, c.celsius, c.area, c.speed)
		if got := s.poolRate(x, 0) / 3600 / c.area / c.want; got < c.above || got > c.below {
			t.Errorf("%s: got %.3f times the published %.4g g/(m² s), want %v to %v", c.of, got, c.want, c.above, c.below)
		}
	}
	// The formula in Crowl and Louvar gives the answer that is recalled of its example.
	if got := louvar(92.141, 28.2*torr, 298.15) * tank / poundPerMinute; math.Abs(got-0.162) > 0.0005 {
		t.Errorf("toluene in a tank: got %.4f lb/min, want 0.162", got)
	}
}

// Faster air, more area and more warmth never give less vapour, at the change of formulas too.
func TestSpillIsMonotone(t *testing.T) {
	t.Parallel()
	for _, area := range []float64{0.001, 0.01, 1, 50} {
		before := 0.0
		for _, speed := range []float64{0.01, 0.1, 0.3, 0.507, 0.509, 0.6, 1, 2, 5} {
			s, x := poolOf(58.08, 24.71, 20, area, speed)
			rate := s.poolRate(x, 0)
			if rate < before {
				t.Errorf("%g m², %g m/s: %g g/h, less than the %g of slower air", area, speed, rate, before)
			}
			before = rate
			x[inArea] *= 2
			if s.poolRate(x, 0) <= rate {
				t.Errorf("%g m², %g m/s: twice the area gives no more", area, speed)
			}
		}
	}
}

func spillOf(amount, area string) Vapour {
	return Vapour{Solvents: []VapourShare{{Solvent: acetone(), Amount: quantity.New(amount, "mL")}},
		Release: Release{Spill: &Spill{quantity.New(area, "m2")}}, Room: studio()}
}

// 50 mL of acetone on 500 cm² take minutes, and not none: the answer has the rate, the time with its budget and how far
// the formula goes. All at once is a bound for the peak, without a time of clearing.
func TestSpillTakesTime(t *testing.T) {
	t.Parallel()
	v := spillOf("50", "0.05")
	v.Room.MixingFactor = quantity.Quantity{}
	a := mustVapour(t, v)
	e := a.Evaporation
	if e == nil || e.Hours.Value < 0.1 || e.Hours.Value > 0.3 {
		t.Fatalf("got %+v, want a time of some minutes", e)
	}
	if got := e.Rate.Value * 60 * e.Hours.Value; math.Abs(got-50*0.7901) > 1e-6 {
		t.Errorf("rate times time: got %g g, want what was spilled", got)
	}
	if b := e.Rate.Budget; len(b) != 1 || b[0].Name != "the rate of release over that of the formula" || b[0].Unit != quantity.One ||
		math.Abs(e.Rate.Standard/e.Rate.Value-0.2) > 1e-9 {
		t.Errorf("rate: got %+v, want the formula's fifth", e.Rate)
	}
	lines := map[string]quantity.Unit{}
	for _, l := range a.Solvents[0].Near.Day.PPM.Budget {
		lines[l.Name] = l.Unit
	}
	for _, l := range a.Solvents[0].Near.Peak.PPM.Budget {
		lines[l.Name] = l.Unit
	}
	for _, want := range []string{"the mixing factor", "the rate of release over that of the formula"} {
		if unit, there := lines[want]; !there || unit != quantity.One {
			t.Errorf("the budget has no line for %s: %v", want, lines)
		}
	}
	if len(a.Clearing) == 0 || *a.Clearing[0].Hours < e.Hours.Value || !strings.Contains(a.Answer, "at the earliest") {
		t.Errorf("clearing: got %+v, %q; want it after the spill has gone", a.Clearing, a.Answer)
	}
	if !hasWarning(a.Advice, "spill-formula") || !hasWarning(a.Advice, "above-flash-point") {
		t.Errorf("warnings: got %v, want how far the formula goes, and the fire", codes(a.Advice))
	}

	v.Release = Release{AtOnce: true}
	bound := mustVapour(t, v)
	if bound.Clearing != nil || !hasWarning(bound.Advice, "spill-at-once") || !strings.Contains(bound.Answer, "at most") {
		t.Errorf("all at once: got %+v, %v, %q", bound.Clearing, codes(bound.Advice), bound.Answer)
	}
	if peak := a.Solvents[0].Near.Peak.PPM.Value; peak >= bound.Solvents[0].Near.Peak.PPM.Value {
		t.Errorf("peak of the spill: got %g ppm, want less than the bound", peak)
	}
}

// A mixing factor that was left out is anywhere from 1 to 10, and one that was given is what was said.
func TestMixingFactorIsInTheBudget(t *testing.T) {
	t.Parallel()
	v := spillOf("50", "0.05")
	for _, c := range []struct {
		said string
		want float64
	}{{"", 9 / math.Sqrt(12)}, {"3", 0}} {
		v.Room.MixingFactor = quantity.Quantity{}
		if c.said != "" {
			v.Room.MixingFactor = quantity.New(c.said, quantity.One)
		}
		s, err := v.scene()
		if err != nil || math.Abs(s.inputs[inMixing].Standard-c.want) > 1e-12 {
			t.Errorf("%q: got %v, %v, want %v", c.said, s.inputs[inMixing], err, c.want)
		}
	}
}

// Of a spill of several liquids each goes as if it lay alone in the whole pool, which is the most that it can give off:
// the levels of each are those of its own spill, the rates add up, and the slowest ends it. Half the acetone for a rate
// by Raoult's law (a mole fraction of one half) is less than that.
func TestSpillOfAMixtureIsABound(t *testing.T) {
	t.Parallel()
	alone := []VapourAnswer{mustVapour(t, spillOf("50", "0.05"))}
	two := spillOf("50", "0.05")
	slow := VapourShare{Solvent: toluene(), Amount: quantity.New("5", "mL")}
	other := two
	other.Solvents = []VapourShare{slow}
	alone = append(alone, mustVapour(t, other))
	two.Solvents = append(two.Solvents, slow)
	a := mustVapour(t, two)
	for i, s := range a.Solvents {
		for what, level := range map[string]func(SolventInAir) Level{
			"peak":    func(s SolventInAir) Level { return s.Near.Peak },
			"day":     func(s SolventInAir) Level { return s.Near.Day },
			"in room": func(s SolventInAir) Level { return s.Room.Peak },
		} {
			if got, want := level(s).PPM.Value, level(alone[i].Solvents[0]).PPM.Value; math.Abs(got/want-1) > 1e-9 {
				t.Errorf("%s, %s: got %g ppm, want %g as alone", s.Name, what, got, want)
			}
		}
	}
	rates := alone[0].Evaporation.Rate.Value + alone[1].Evaporation.Rate.Value
	slowest := math.Max(alone[0].Evaporation.Hours.Value, alone[1].Evaporation.Hours.Value)
	if e := a.Evaporation; math.Abs(e.Rate.Value-rates) > 1e-9 || math.Abs(e.Hours.Value-slowest) > 1e-9 {
		t.Errorf("got %v g/min and %v h, want %v and %v", e.Rate.Value, e.Hours.Value, rates, slowest)
	}
	if !hasWarning(a.Advice, "spill-of-a-mixture") || !strings.Contains(a.Answer, "at most about") {
		t.Errorf("got %v, %q; want it said that this is a bound", codes(a.Advice), a.Answer)
	}
	for _, c := range a.Clearing {
		if c.Hours != nil && *c.Hours < slowest {
			t.Errorf("%s: clear after %g h, before the slowest has gone (%g h)", c.List, *c.Hours, slowest)
		}
	}
	unknown := slow
	unknown.Solvent.Pressure = VapourPressure{}
	two.Solvents[1] = unknown
	if _, err := ComputeVapour(two); !strings.Contains(err.Error(), "toluene") {
		t.Errorf("got %v, want the liquid whose vapour pressure is not held", err)
	}
}

// What the formulas do not hold for is refused, with what to ask instead.
func TestSpillsThatAreRefused(t *testing.T) {
	t.Parallel()
	hot := spillOf("50", "0.05")
	hot.Room.Temperature, hot.Room.Pressure = quantity.New("50", "Cel"), quantity.New("60", "kPa")
	unknown := spillOf("50", "0.05")
	unknown.Solvents[0].Solvent.Pressure = VapourPressure{}
	both := spillOf("50", "0.05")
	both.Release.AtOnce = true
	for code, v := range map[string]Vapour{"boils": hot, "vapour-pressure-unknown": unknown,
		"release-choice": both, "out-of-range": spillOf("50", "0"), "quantity-missing": {
			Solvents: []VapourShare{{Solvent: acetone()}}, Release: spillOf("1", "1").Release, Room: studio()}} {
		_, err := ComputeVapour(v)
		if list := fault.From(err); len(list) == 0 || list[0].Code != code {
			t.Errorf("got %v, want %s", err, code)
		}
	}
}
