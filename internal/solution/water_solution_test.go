package solution

import (
	"math"
	"strings"
	"testing"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

func inWater(solute, density, at string) (*WaterSolutionState, error) {
	a, err := ComputeEthanolWater(EthanolWater{Solution: &WaterSolution{Solute: solute,
		Density: quantity.New(density, quantity.GramsPerML), Temperature: celsius(at)}})
	return a.Solution, err
}

// Densities of solutions in water at 20 °C, and what they were made as. Source: CRC Handbook, Concentrative Properties of
// Aqueous Solutions (20 °C), as a public transcription has it (102nd edition); glycerol of 30, 50 and 80 % by the formula
// of Volk and Kähler 2018 evaluated outside of this program, 60 % as the handbook prints it too (1.153). The formulas are
// others' fits: each has to come within twice its own standard deviation.
func TestStrengthFromDensityAsPublished(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		solute, density string
		percent         float64
	}{
		{"glycerol", "1.0725", 30}, {"glycerol", "1.1261", 50}, {"glycerol", "1.1532", 60}, {"glycerol", "1.153", 60},
		{"glycerol", "1.2079", 80}, {"glycerol", "1.2085", 80}, {"glycerol", "1.2192", 84}, {"glycerol", "1.2404", 92},
		{"sucrose", "1.081", 20}, {"sucrose", "1.1464", 34}, {"sucrose", "1.1765", 40}, {"sucrose", "1.2295", 50},
		{"sodium-chloride", "1.0053", 1}, {"sodium-chloride", "1.0707", 10}, {"sodium-chloride", "1.1478", 20},
		{"sodium-chloride", "1.1972", 26},
		{"sodium-carbonate", "1.0502", 5}, {"sodium-carbonate", "1.1029", 10}, {"sodium-carbonate", "1.1574", 15},
		{"sodium-hydrogencarbonate", "1.0054", 1}, {"sodium-hydrogencarbonate", "1.0408", 6},
		{"acetic-acid", "1.0052", 5}, {"acetic-acid", "1.0121", 10}, {"acetic-acid", "1.025", 20}, {"acetic-acid", "1.0562", 50},
		// Entries that the tables here leave out; propan-2-ol of 40 % is one of them, and stands for the reading of it.
		{"acetone", "0.9947", 2.5}, {"acetone", "0.9919", 4.5}, {"methanol", "0.9896", 5}, {"methanol", "0.974", 15},
		{"methanol", "0.9514", 30}, {"methanol", "0.9156", 50}, {"methanol", "0.8715", 70}, {"methanol", "0.8204", 90},
		{"propan-1-ol", "0.9896", 5}, {"propan-1-ol", "0.9719", 18}, {"propan-2-ol", "0.9884", 5}, {"propan-2-ol", "0.9831", 9},
		{"propan-2-ol", "0.9302", 40},
	} {
		s, err := inWater(tt.solute, tt.density, "20")
		if err != nil {
			t.Errorf("%s of %s: %v", tt.solute, tt.density, err)
			continue
		}
		if math.Abs(s.ByMass.Value-tt.percent) > 2*s.ByMass.Standard || s.ByMass.Standard > 1.7 {
			t.Errorf("%s of %s g/mL: got %.3f %% (standard uncertainty %.3f), want %v", tt.solute, tt.density, s.ByMass.Value,
				s.ByMass.Standard, tt.percent)
		}
		if want := s.ByMass.Value * s.Density.Value; math.Abs(s.PerVolume.Value-want) > 1e-9 {
			t.Errorf("%s: got %v g per 100 mL, want %v", tt.solute, s.PerVolume.Value, want)
		}
	}
}

// The less there is of the liquid the denser it is: every density from water to the strongest is one strength, and what
// is made of that strength has the density.
func TestStrengthsOfLighterLiquids(t *testing.T) {
	t.Parallel()
	for _, f := range tables {
		last := math.Inf(1)
		for i := range 1001 {
			w := f.most * float64(i) / 1000
			rho := f.density(w, 20)
			if rho >= last {
				t.Fatalf("%s: %.4f g/mL at %.2f %%, not less than before", f.id, rho, 100*w)
			}
			if back := f.strength(rho, 20); math.Abs(back-w) > 1e-9 {
				t.Fatalf("%s: %.6f is %.6f", f.id, w, back)
			}
			last = rho
		}
	}
	_, err := ComputeEthanolWater(EthanolWater{Solution: &WaterSolution{Solute: "acetone",
		Density: quantity.New("0.95", "g/mL"), Temperature: celsius("20")}})
	if faults := fault.From(err); len(faults) != 1 || faults[0].Code != "density-out-of-range" {
		t.Errorf("acetone of 0.95 g/mL: got %v, want density-out-of-range: the table ends at 10 %%", err)
	}
}

// The density of a strength. Source: a check value of an independent implementation of the formula of Laliberté and Cooper,
// sodium chloride of 0.37838838 % at 0 °C; OIML R 22 for water is 0.003 kg/m³ below the water in it.
func TestDensityOfAStrengthInWater(t *testing.T) {
	t.Parallel()
	a, err := ComputeEthanolWater(EthanolWater{Solution: &WaterSolution{Solute: "sodium-chloride",
		Strength: new(PercentOf("0.37838838", MassFraction)), Temperature: celsius("0"), Volume: quantity.New("2", "L")}})
	if err != nil {
		t.Fatal(err)
	}
	s := a.Solution
	if math.Abs(s.Density.Value-1.0026250) > 4e-6 {
		t.Errorf("got %.7f g/mL, want 1.0026250", s.Density.Value)
	}
	if want := 2000 * 1.002625 * 0.0037838838; math.Abs(s.Dissolved.Value-want) > 1e-3 {
		t.Errorf("got %v g in it, want %v", s.Dissolved.Value, want)
	}
}

// Outside of what a formula holds for there is a problem that says so, and no number.
func TestStrengthFromDensityOutsideOfItsRange(t *testing.T) {
	t.Parallel()
	for name, tt := range map[string]struct {
		of   WaterSolution
		code string
		says string
	}{
		"too heavy": {WaterSolution{Solute: "sucrose", Density: quantity.New("1.29", "g/mL"), Temperature: celsius("20")},
			"density-out-of-range", "50.66 %"},
		"lighter than water": {WaterSolution{Solute: "glycerol", Density: quantity.New("0.98", "g/mL"), Temperature: celsius("20")},
			"density-out-of-range", "0.9982"},
		"too warm": {WaterSolution{Solute: "glycerol", Density: quantity.New("1.15", "g/mL"), Temperature: celsius("35")},
			"out-of-range", "15 to 30"},
		"too cold": {WaterSolution{Solute: "sucrose", Density: quantity.New("1.1", "g/mL"), Temperature: celsius("10")},
			"out-of-range", "15 to 40"},
		"another solute": {WaterSolution{Solute: "polyethylene-glycol", Density: quantity.New("1.1", "g/mL"),
			Temperature: celsius("20")}, "not-computable", "glycerol"},
		"too strong": {WaterSolution{Solute: "sodium-chloride", Strength: new(PercentOf("30", MassFraction)),
			Temperature: celsius("20")}, "out-of-range", "26.59 %"},
		"both": {WaterSolution{Solute: "glycerol", Density: quantity.New("1.15", "g/mL"),
			Strength: new(PercentOf("30", MassFraction)), Temperature: celsius("20")}, "density-or-strength", "exactly one"},
		"neither": {WaterSolution{Solute: "glycerol", Temperature: celsius("20")}, "density-or-strength", "exactly one"},
		"by volume": {WaterSolution{Solute: "glycerol", Strength: new(PercentOf("30", VolumeFraction)), Temperature: celsius("20")},
			"strength-basis", "mass-fraction"},
		"a ratio": {WaterSolution{Solute: "glycerol", Density: quantity.New("1.15", quantity.One), Temperature: celsius("20")},
			"unit-kind", "density of that water"},
	} {
		_, err := ComputeEthanolWater(EthanolWater{Solution: &tt.of})
		faults := fault.From(err)
		if len(faults) != 1 || faults[0].Code != tt.code || !strings.Contains(faults[0].Detail, tt.says) {
			t.Errorf("%s: got %+v, want one %s that says %q", name, faults, tt.code, tt.says)
		}
	}
}

// Water that nothing is left in, read a little light, is none and no less than none.
func TestClearWaterHoldsNothing(t *testing.T) {
	t.Parallel()
	s, err := inWater("sodium-chloride", "0.998", "20")
	if err != nil || s.ByMass.Value != 0 || s.ByMass.Standard == 0 {
		t.Errorf("got %+v, %v, want 0 with its uncertainty", s, err)
	}
}
