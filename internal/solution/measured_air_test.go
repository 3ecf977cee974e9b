package solution

import (
	"math"
	"testing"

	"meniscus/internal/quantity"
)

// airReading is a concentration of a solvent of this molar mass with one limit for a
// working day; 0 is none.
func airReading(name string, molarMass float64, value string, unit quantity.Unit, limit float64) AirReading {
	e := Evaporating{Name: name, MolarMass: molarMass, Density: Density{Measured: quantity.Exactly(0.8)}}
	if limit > 0 {
		e.Limits = []ExposureLimit{{List: "own", Kind: WorkingDay, PPM: limit, Source: Source{"", "given", Own}}}
	}
	return AirReading{e, quantity.New(value, unit)}
}

// mg/m³ in one ppm at 25 °C: the factors of the NIOSH Pocket Guide (read). It rounds the
// molar mass first, so that they agree within 0.4 %.
func TestReadingsBothWays(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name         string
		mass, factor float64
	}{{"acetone", 58.080, 2.38}, {"ethanol", 46.069, 1.89}, {"propan-2-ol", 60.096, 2.46}, {"toluene", 92.141, 3.77},
		{"n-heptane", 100.205, 4.10}} {
		there, err := ComputeMeasuredAir(MeasuredAir{Readings: []AirReading{airReading(c.name, c.mass, "100",
			quantity.PPM, 0)}})
		if err != nil {
			t.Fatal(err)
		}
		got := there.Solvents[0].MgPerM3
		if math.Abs(got/(100*c.factor)-1) > 0.004 {
			t.Errorf("%s: 100 ppm got %v mg/m3, want %v", c.name, got, 100*c.factor)
		}
		q, _ := quantity.Of(got, quantity.MgPerM3)
		back, err := ComputeMeasuredAir(MeasuredAir{Readings: []AirReading{{vapourOf(c.name, c.mass), q}}})
		if err != nil {
			t.Fatal(err)
		}
		if !closeTo(back.Solvents[0].PPM.Value, 100) {
			t.Errorf("%s: there and back got %v ppm, want 100", c.name, back.Solvents[0].PPM.Value)
		}
	}
}

func vapourOf(name string, mass float64) Evaporating {
	return airReading(name, mass, "1", quantity.PPM, 0).Solvent
}

// The additive effect of a mixture, as the hygienists' threshold limit booklet shows it
// (recalled): 400 ppm of a limit of 500, 150 of 200 and 100 of 200 are 0.80 + 0.75 + 0.50 =
// 2.05 times the limit.
func TestReadingsTogether(t *testing.T) {
	t.Parallel()
	a, err := ComputeMeasuredAir(MeasuredAir{Readings: []AirReading{
		airReading("acetone", 58.080, "400", quantity.PPM, 500),
		airReading("butyl acetate", 116.16, "150", quantity.PPM, 200),
		airReading("butanone", 72.107, "100", quantity.PPM, 200),
	}})
	if err != nil {
		t.Fatal(err)
	}
	if got := a.Limits[0].Room; !closeTo(got, 2.05) || a.Limits[0].Above != AboveYes {
		t.Errorf("got %v times the limit, above %v; want 2.05, true", got, a.Limits[0].Above)
	}
}

// Minutes in which air changes take out 99 % and 99.9 % of what is in the air, with ideal
// mixing: the table of the guidelines for environmental infection control in health-care
// facilities, 2003, table B.1 (recalled), printed in whole minutes.
func TestRoomsClear(t *testing.T) {
	t.Parallel()
	for changes, minutes := range map[string][2]float64{"2": {138, 207}, "4": {69, 104}, "6": {46, 69}, "8": {35, 52},
		"10": {28, 41}, "12": {23, 35}, "15": {18, 28}, "20": {14, 21}} {
		for i, limit := range []float64{1, 0.1} {
			a, err := ComputeMeasuredAir(MeasuredAir{
				Readings: []AirReading{airReading("vapour", 50, "100", quantity.PPM, limit)},
				Clears: &Clears{Room: Room{Volume: quantity.New("50", "m3"), AirChanges: quantity.New(changes, "1/h"),
					MixingFactor: quantity.New("1", "1")}},
			})
			if err != nil {
				t.Fatal(err)
			}
			if got := math.Round(60 * *a.Clearing[0].Hours); got != minutes[i] {
				t.Errorf("%s changes an hour: got %v minutes, want %v", changes, got, minutes[i])
			}
		}
	}
}

// The concentration falls by e^(-kt), and the meter's uncertainty is carried along.
func TestAirLater(t *testing.T) {
	t.Parallel()
	r := airReading("acetone", 58.080, "500", quantity.PPM, 250)
	r.Concentration.Uncertainty = quantity.Standard(quantity.MustDecimal("25"))
	a, err := ComputeMeasuredAir(MeasuredAir{Readings: []AirReading{r}, Clears: &Clears{
		Room: Room{Volume: quantity.New("60", "m3"), AirFlow: quantity.New("360", "m3/h"),
			MixingFactor: quantity.New("3", "1")},
		After: []quantity.Quantity{quantity.New("30", "min"), quantity.New("0", "h")},
	}})
	if err != nil {
		t.Fatal(err)
	}
	if got, want := a.Later[0].Levels[0].PPM, 500*math.Exp(-1); !closeTo(got.Value, want) ||
		math.Abs(got.Standard/got.Value-0.05) > 1e-6 {
		t.Errorf("after half an hour: got %v ± %v, want %v ± 5 %%", got.Value, got.Standard, want)
	}
	if got := a.Later[1].Levels[0].PPM.Value; !closeTo(got, 500) {
		t.Errorf("at once: got %v, want 500", got)
	}
}

// NIOSH bases the immediately dangerous concentration on a tenth of the lower explosive
// limit: 2500 ppm of acetone, whose limit is 2.5 % (documentation of May 1994, read).
func TestExplosiveShareOfAReading(t *testing.T) {
	t.Parallel()
	r := airReading("acetone", 58.080, "2500", quantity.PPM, 0)
	r.Solvent.LowerExplosive = ptr(2.5)
	a, err := ComputeMeasuredAir(MeasuredAir{Readings: []AirReading{r, airReading("other", 60, "10", quantity.PPM, 0)}})
	if err != nil {
		t.Fatal(err)
	}
	if !closeTo(a.Explosive.Room.Value, 0.1) || !closeTo(*a.Explosive.MixtureLimit, 2.5) || len(a.Explosive.Without) != 1 {
		t.Errorf("got %+v, want a tenth of 2.5 %%, without the other", a.Explosive)
	}
}

// The air of a piece of work at a time that is asked for: the build-up of an engineering
// reference (read), G = V = 1, two changes an hour, after 40 minutes 0.3682.
func TestWorkLater(t *testing.T) {
	t.Parallel()
	e := vapourOf("vapour", 50)
	a, err := ComputeVapour(Vapour{
		Solvents: []VapourShare{{Solvent: e, Amount: quantity.New("2", "g")}},
		Release:  Release{Steady: &SteadyRelease{quantity.New("2", "h")}},
		Room: Room{Volume: quantity.New("100", "m3"), AirChanges: quantity.New("2", "1/h"),
			MixingFactor: quantity.New("1", "1")},
		After: []quantity.Quantity{quantity.New("40", "min")},
	})
	if err != nil {
		t.Fatal(err)
	}
	if got := a.Later[0].Room[0].MgPerM3 / 1000 * 100; math.Abs(got-0.3682) > 5e-5 {
		t.Errorf("got %v, want 0.3682", got)
	}
	if a.Later[0].Near[0].PPM.Value <= a.Later[0].Room[0].PPM.Value {
		t.Error("the air at the work holds more than the room")
	}
}
