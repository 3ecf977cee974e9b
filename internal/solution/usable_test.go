package solution

import (
	"math"
	"strings"
	"testing"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// howMuchOf asks how much of a solvent may be used.
func howMuchOf(e Evaporating, r Release) Vapour {
	return Vapour{Solvents: []VapourShare{{Solvent: e}}, Release: r, Room: studio()}
}

// The amount that is told does bring the air at the work to the limit, and no further.
func TestHowMuchMayBeUsed(t *testing.T) {
	t.Parallel()
	for _, r := range []Release{steady("2"), {AtOnce: true}, {Drying: &DryingRelease{HalfTime: quantity.New("20", "min")}}} {
		a := mustVapour(t, howMuchOf(toluene(), r))
		u := a.Usable
		if u == nil || u.Millilitres.Value <= 0 || !strings.HasPrefix(a.Answer, u.Sentence) {
			t.Fatalf("got %+v, %q", u, a.Answer)
		}
		highest := a.Explosive.Near.Value / 0.1
		for _, c := range a.Limits {
			highest = math.Max(highest, c.Near)
		}
		if highest > 1 || highest < 0.9 {
			t.Errorf("%s: the amount comes to %g of what is reached first, want 0.9 to 1", u.Sentence, highest)
		}
	}
}

// Two thirds of the limit may be used where a third of it comes in.
func TestHowMuchWithIncomingAir(t *testing.T) {
	t.Parallel()
	e := toluene()
	e.Limits = []ExposureLimit{{List: "target", Kind: WorkingDay, PPM: 90}}
	clean := mustVapour(t, howMuchOf(e, steady("2"))).Usable.Millilitres.Value
	e.Incoming = quantity.New("30", quantity.PPM)
	if got := mustVapour(t, howMuchOf(e, steady("2"))).Usable.Millilitres.Value; math.Abs(got/clean-2./3) > 1e-9 {
		t.Errorf("got %g of what clean air allows, want 2/3", got/clean)
	}
	for code, change := range map[string]func(*Evaporating){
		"incoming-above-limit": func(e *Evaporating) { e.Incoming = quantity.New("90", quantity.PPM) },
		"no-limit-known":       func(e *Evaporating) { e.Limits = nil },
		"out-of-range":         func(e *Evaporating) { e.Incoming = quantity.New("-1", quantity.PPM) },
		"unit-kind":            func(e *Evaporating) { e.Incoming = quantity.New("1", quantity.Gram) },
	} {
		e := e
		change(&e)
		_, err := ComputeVapour(howMuchOf(e, steady("2")))
		if list := fault.From(err); len(list) != 1 || list[0].Code != code {
			t.Errorf("got %v, want %s", err, code)
		}
	}
}

// What comes in is in the room from the start: engineering reference (read),
// C(t) = (G/Q)(1 − e^(−kt)) + (C₀ − c)e^(−kt) + c with C₀ = c.
func TestIncomingAirIsAdded(t *testing.T) {
	t.Parallel()
	ask := func(incoming string) VapourAnswer {
		e := toluene()
		if incoming != "" {
			e.Incoming = quantity.New(incoming, quantity.PPM)
		}
		return mustVapour(t, Vapour{Solvents: []VapourShare{{Solvent: e, Amount: quantity.New("40", "g")}}, Release: steady("2"),
			Room: studio(), After: []quantity.Quantity{quantity.New("1", "h")}})
	}
	clean, other := ask(""), ask("20")
	for name, pair := range map[string][2]float64{
		"peak": {clean.Solvents[0].Near.Peak.PPM.Value, other.Solvents[0].Near.Peak.PPM.Value},
		"day":  {clean.Solvents[0].Room.Day.PPM.Value, other.Solvents[0].Room.Day.PPM.Value},
		"1 h":  {clean.Later[0].Room[0].PPM.Value, other.Later[0].Room[0].PPM.Value},
	} {
		if math.Abs(pair[1]-pair[0]-20) > 1e-6 {
			t.Errorf("%s: %g ppm without, %g with 20 ppm that come in", name, pair[0], pair[1])
		}
	}
	if clean.AirNeeded[0].Room.Value >= other.AirNeeded[0].Room.Value {
		t.Error("less clean air takes more of it")
	}
}

// A reading falls to what comes in, and not below: 120 ppm above 20 ppm are 70 ppm after one half-life.
func TestReadingsFallToWhatComesIn(t *testing.T) {
	t.Parallel()
	r := airReading("acetone", 58.080, "120", quantity.PPM, 70)
	r.Solvent.Incoming = quantity.New("20", quantity.PPM)
	a, err := ComputeMeasuredAir(MeasuredAir{Readings: []AirReading{r}, Clears: &Clears{
		Room:  Room{Volume: quantity.New("60", "m3"), AirChanges: quantity.New("1", "1/h"), MixingFactor: quantity.New("1", "1")},
		After: []quantity.Quantity{quantity.New("100", "h")},
	}})
	if err != nil {
		t.Fatal(err)
	}
	if got := *a.Clearing[0].Hours; math.Abs(got-math.Ln2) > 1e-9 {
		t.Errorf("at the limit after %g h, want ln 2", got)
	}
	if got := a.Later[0].Levels[0].PPM.Value; math.Abs(got-20) > 1e-6 {
		t.Errorf("in the end: got %g ppm, want 20", got)
	}
}

// The air is changed as often as the decay says. Minutes for a removal of 99 %: guidelines for environmental infection
// control in health-care facilities, 2003, table B.1 (recalled), printed in whole minutes.
func TestAirChangesOfTwoReadings(t *testing.T) {
	t.Parallel()
	for minutes, changes := range map[string]float64{"138": 2, "69": 4, "46": 6, "35": 8, "28": 10, "23": 12, "18": 15, "14": 20} {
		a, err := ComputeAirChanges(AirChanges{First: quantity.New("100", quantity.PPM), Second: quantity.New("1", quantity.PPM),
			Between: quantity.New(minutes, "min"), Volume: quantity.New("50", "m3")})
		if err != nil {
			t.Fatal(err)
		}
		if got := a.Changes.Value; math.Abs(got/changes-1) > 0.03 || math.Abs(a.Flow.Value-50*got) > 1e-9 {
			t.Errorf("%s min: got %g an hour and %g m³/h, want %g", minutes, got, a.Flow.Value, changes)
		}
	}
	// 1400 and 700 ppm of carbon dioxide half an hour apart, outdoors 420 ppm: ln(980/280)/0.5. The meters' uncertainty
	// is in the budget.
	first, second := quantity.New("1400", quantity.PPM), quantity.New("700", quantity.PPM)
	first.Uncertainty, second.Uncertainty = quantity.Standard(quantity.MustDecimal("50")), quantity.Standard(quantity.MustDecimal("50"))
	a, err := ComputeAirChanges(AirChanges{First: first, Second: second, Between: quantity.New("30", "min"),
		Incoming: quantity.New("420", quantity.PPM)})
	if err != nil || math.Abs(a.Changes.Value-math.Log(3.5)/0.5) > 1e-9 || len(a.Changes.Budget) != 2 || a.Flow != nil {
		t.Errorf("got %+v, %v", a, err)
	}
	if want := 2 * math.Hypot(50./980, 50./280); math.Abs(a.Changes.Standard/want-1) > 1e-6 {
		t.Errorf("standard uncertainty: got %g, want %g", a.Changes.Standard, want)
	}
	ppm := func(x string) quantity.Quantity { return quantity.New(x, quantity.PPM) }
	for code, q := range map[string]AirChanges{
		"not-falling":      {First: ppm("100"), Second: ppm("100"), Between: quantity.New("1", "h")},
		"quantity-missing": {First: ppm("100"), Second: ppm("50")},
		"out-of-range":     {First: ppm("100"), Second: ppm("50"), Between: quantity.New("0", "h")},
		"unit-kind":        {First: ppm("100"), Second: quantity.New("50", "mg/m3"), Between: quantity.New("1", "h")},
	} {
		_, err := ComputeAirChanges(q)
		if list := fault.From(err); len(list) != 1 || list[0].Code != code {
			t.Errorf("got %v, want %s", err, code)
		}
	}
	if _, err := ComputeAirChanges(AirChanges{First: ppm("100"), Second: ppm("50"), Between: quantity.New("1", "h"),
		Incoming: ppm("50")}); err == nil {
		t.Error("a reading at what comes in tells nothing")
	}
}

// A box with a mixing factor: toluene evaporates at 0.1 g/min, 100 ft³/min pass, 80 °F; with the factor that multiplies
// the flow from 0.1 to 0.5, 18.9 to 94.3 ppm. Source: course slides after Crowl and Louvar, Chemical Process Safety,
// chapter 3 (read).
func TestMixingFactorAsPublished(t *testing.T) {
	t.Parallel()
	for factor, want := range map[string]float64{"10": 94.3, "2": 18.9} {
		room := Room{Volume: quantity.New("50", "m3"), AirFlow: quantity.New("2.8316847", "m3/min"),
			MixingFactor: quantity.New(factor, quantity.One), Temperature: quantity.New("80", "[degF]")}
		a := mustVapour(t, Vapour{Solvents: []VapourShare{{Solvent: toluene(), Amount: quantity.New("48", "g")}},
			Release: steady("8"), Room: room})
		if got := a.Solvents[0].Room.Settled.PPM.Value; math.Abs(got/want-1) > 0.005 {
			t.Errorf("mixing factor %s: got %.2f ppm, want %g", factor, got, want)
		}
	}
}
