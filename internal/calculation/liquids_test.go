package calculation_test

import (
	"math"
	"testing"

	"meniscus/internal/calculation"
)

// A spill of each of these liquids is answered, so that molar mass, density and vapour pressure of it are held; and of the
// masses of some, by mg/m³ to a ppm at 25 °C: benzene 3.19, tetrahydrofuran 2.95, chloroform 4.88, dioxane 3.60,
// nitromethane 2.50, and of what is only measured in air: pyridine 3.24, formaldehyde 1.23, hydrogen peroxide 1.39, carbon
// tetrachloride 6.29, sec-butyl acetate 4.75, N-methyl-2-pyrrolidone 4.05 by its formula (NIOSH Pocket Guide: recalled; it
// rounds the molar mass to one decimal).
func TestVapourOfOldBenchLiquids(t *testing.T) {
	t.Parallel()
	for _, id := range []string{"benzene", "chloroform", "nitromethane", "dimethylformamide", "dimethyl-sulfoxide", "dioxane",
		"tetrahydrofuran", "m-cresol", "butanol", "propan-1-ol", "pyridine"} {
		a, err := asked(t, calculation.Vapour, `{"work": {"solvents": [{"material": "`+id+`", "amount": {"value": 20, "unit": "mL"}}],
			"release": {"spill": {"area": {"value": 200, "unit": "cm2"}}},
			"room": {"volume": {"value": 60, "unit": "m3"}, "air": {"changes": {"value": 2, "unit": "1/h"}}}}}`)
		if err != nil {
			t.Errorf("%s: %v", id, err)
			continue
		}
		if e := a.Work.Evaporation; e == nil || !(e.Rate.Value > 0) {
			t.Errorf("%s: got %+v", id, e)
		}
	}
	for id, factor := range map[string]float64{"benzene": 3.19, "tetrahydrofuran": 2.95, "chloroform": 4.88, "dioxane": 3.60,
		"nitromethane": 2.50, "pyridine": 3.24, "n-methyl-2-pyrrolidone": 4.05, "formaldehyde-solution": 1.23,
		"hydrogen-peroxide": 1.39, "carbon-tetrachloride": 6.29, "sec-butyl-acetate": 4.75} {
		a, err := asked(t, calculation.Vapour, `{"air": {"solvents": [{"material": "`+id+`", "concentration": {"value": 10, "unit": "[ppm]"}}]}}`)
		if err != nil {
			t.Errorf("%s: %v", id, err)
		} else if got := a.Air.Solvents[0].MassPerVolume.Value / 10; math.Abs(got/factor-1) > 0.004 {
			t.Errorf("%s: got %v mg/m³ to a ppm, want %v", id, got, factor)
		}
	}
}

// The air of a collection in fluid: the limits of formaldehyde in the United Kingdom are 2 ppm over the day and over 15
// minutes (EH40/2005, 4th edition).
func TestFormaldehydeInAir(t *testing.T) {
	t.Parallel()
	for ppm, above := range map[string]string{"1": "no", "3": "yes"} {
		a, err := asked(t, calculation.Vapour, `{"air": {"country": "GB", "solvents": [{"material": "formaldehyde-solution",
			"concentration": {"value": `+ppm+`, "unit": "[ppm]"}}]}}`)
		if err != nil {
			t.Fatal(err)
		}
		seen := 0
		for _, l := range a.Air.Limits {
			if l.List != "UK limit (GB)" {
				continue
			}
			seen++
			if string(l.Above) != above {
				t.Errorf("%s ppm, %s: above %s, want %s", ppm, l.Kind, l.Above, above)
			}
		}
		if seen == 0 {
			t.Errorf("%s ppm: no limit of the United Kingdom: %+v", ppm, a.Air.Limits)
		}
	}
}
