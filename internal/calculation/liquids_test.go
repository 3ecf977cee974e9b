package calculation_test

import (
	"math"
	"testing"

	"meniscus/internal/calculation"
)

// A spill of each of these liquids is answered, so that molar mass, density and vapour pressure of it are held; and of the
// masses of some, by mg/m³ to a ppm at 25 °C: benzene 3.19, tetrahydrofuran 2.95, chloroform 4.88, dioxane 3.60,
// nitromethane 2.50 (NIOSH Pocket Guide: recalled; it rounds the molar mass to one decimal).
func TestVapourOfOldBenchLiquids(t *testing.T) {
	t.Parallel()
	for _, id := range []string{"benzene", "chloroform", "nitromethane", "dimethylformamide", "dimethyl-sulfoxide", "dioxane",
		"tetrahydrofuran", "m-cresol", "butanol", "propan-1-ol"} {
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
		"nitromethane": 2.50} {
		a, err := asked(t, calculation.Vapour, `{"air": {"solvents": [{"material": "`+id+`", "concentration": {"value": 10, "unit": "[ppm]"}}]}}`)
		if err != nil {
			t.Errorf("%s: %v", id, err)
		} else if got := a.Air.Solvents[0].MassPerVolume.Value / 10; math.Abs(got/factor-1) > 0.004 {
			t.Errorf("%s: got %v mg/m³ to a ppm, want %v", id, got, factor)
		}
	}
}
