package solution

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Published values of the density of ethanol and water.
func TestEthanolWaterDensityAsPublished(t *testing.T) {
	t.Parallel()
	const (
		validation = "published validation values of a public-domain implementation of OIML R 22"
		tableI     = "OIML R 22 (1975), Table I, as quoted in a public test file and a research note"
		perry      = "Perry's Chemical Engineers' Handbook, 7th ed., d 20/4 as kg/m³ (water at 4 °C 999.972)"
	)
	tests := []struct {
		p, celsius, want, tolerance float64
		source                      string
	}{
		{0, 0, 999.8369332, 1e-6, validation},
		{1, 0, 806.2151206, 1e-6, validation},
		{0.5, 20, 913.7705950, 1e-6, validation},
		{1, 20, 789.2391233, 1e-6, validation},
		{0, 20, 998.2012300, 1e-6, validation},
		// These two and the cells below exercise the C terms.
		{0.31, 13, 956.42, 0.005, tableI},
		{0.88, -10, 848.57, 0.005, tableI},
		{0, 0, 999.84, 0.005, tableI},
		{0, 10, 999.70, 0.005, tableI},
		{0.01, 20, 0.99636 * 999.972, 0.03, perry},
		{0.05, 20, 0.98938 * 999.972, 0.03, perry},
		{0.10, 20, 0.98187 * 999.972, 0.03, perry},
		{0.12, 20, 0.97910 * 999.972, 0.03, perry},
	}
	for _, tt := range tests {
		if got := ethanolWaterDensity(tt.p, tt.celsius); math.Abs(got-tt.want) > tt.tolerance {
			t.Errorf("density of %g at %g °C: got %.7f, want %.7f ± %g (%s)", tt.p, tt.celsius, got, tt.want,
				tt.tolerance, tt.source)
		}
	}
}

// The formula evaluated elsewhere, in exact rational arithmetic, over the whole
// range of strengths and temperatures. Every cell with p > 0 and t other than 20
// depends on the C terms.
func TestEthanolWaterDensityTable(t *testing.T) {
	t.Parallel()
	temperatures := []float64{0, 10, 15, 20, 25, 30, 40}
	table := []struct {
		percent float64
		density []float64 // kg/m³
		volume  float64   // % by volume at 20 °C
	}{
		{0, []float64{999.837, 999.695, 999.096, 998.201, 997.043, 995.645, 992.213}, 0.000},
		{5, []float64{991.274, 990.984, 990.329, 989.378, 988.154, 986.680, 983.054}, 6.268},
		{10, []float64{984.750, 983.930, 983.031, 981.848, 980.406, 978.731, 974.778}, 12.440},
		{15, []float64{979.806, 978.018, 976.701, 975.133, 973.331, 971.317, 966.735}, 18.533},
		{20, []float64{975.569, 972.519, 970.666, 968.607, 966.351, 963.908, 958.515}, 24.545},
		{25, []float64{970.983, 966.623, 964.207, 961.635, 958.905, 956.024, 949.826}, 30.461},
		{30, []float64{965.239, 959.734, 956.817, 953.784, 950.634, 947.367, 940.498}, 36.255},
		{35, []float64{957.995, 951.621, 948.314, 944.919, 941.437, 937.870, 930.495}, 41.904},
		{40, []float64{949.340, 942.377, 938.796, 935.145, 931.424, 927.638, 919.892}, 47.395},
		{45, []float64{939.609, 932.271, 928.511, 924.687, 920.802, 916.860, 908.826}, 52.723},
		{50, []float64{929.172, 921.589, 917.711, 913.771, 909.770, 905.712, 897.440}, 57.889},
		{55, []float64{918.307, 910.541, 906.575, 902.549, 898.461, 894.315, 885.847}, 62.896},
		{60, []float64{907.156, 899.235, 895.196, 891.098, 886.940, 882.723, 874.106}, 67.744},
		{65, []float64{895.771, 887.713, 883.608, 879.447, 875.229, 870.957, 862.234}, 72.429},
		{70, []float64{884.169, 875.991, 871.827, 867.611, 863.342, 859.023, 850.219}, 76.951},
		{75, []float64{872.355, 864.075, 859.862, 855.599, 851.287, 846.926, 838.043}, 81.306},
		{80, []float64{860.299, 851.933, 847.683, 843.386, 839.041, 834.646, 825.683}, 85.489},
		{85, []float64{847.898, 839.465, 835.192, 830.876, 826.514, 822.104, 813.104}, 89.484},
		{90, []float64{834.955, 826.488, 822.203, 817.883, 813.527, 809.134, 800.207}, 93.266},
		{95, []float64{821.206, 812.739, 808.455, 804.144, 799.812, 795.465, 786.718}, 96.794},
		{100, []float64{806.215, 797.755, 793.506, 789.239, 784.954, 780.648, 771.932}, 100.000},
	}
	for _, row := range table {
		for i, celsius := range temperatures {
			if got := ethanolWaterDensity(row.percent/100, celsius); math.Abs(got-row.density[i]) > 0.0005001 {
				t.Errorf("density of %g %% at %g °C: got %.4f, want %.3f", row.percent, celsius, got, row.density[i])
			}
		}
		if got := 100 * ethanolVolumeFraction(row.percent/100, 20); math.Abs(got-row.volume) > 0.0005001 {
			t.Errorf("volume strength of %g %% by mass: got %.4f, want %.3f", row.percent, got, row.volume)
		}
	}
}

// Conversions between strengths by volume and by mass.
func TestEthanolStrengthsAsPublished(t *testing.T) {
	t.Parallel()
	const (
		r22 = "OIML R 22 formula, evaluated in exact rational arithmetic"
		// The column heads were not legible in the copy that was read; that the
		// strengths are at 15.56 °C follows from their agreement in every digit.
		usp = "USP 29, Alcoholometric Table, from Bulletin of the National Bureau of Standards 9, pages 424 and 425"
	)
	tests := []struct {
		volume, reference, mass, tolerance float64
		source                             string
	}{
		{50, 20, 42.42574, 5e-6, r22},
		{70, 20, 62.38611, 5e-6, r22},
		{80, 20, 73.48000, 5e-6, r22},
		{95, 20, 92.40761, 5e-6, r22},
		{96, 20, 93.83839, 5e-6, r22},
		{10, 15.56, 8.05, 0.005, usp},
		{20, 15.56, 16.27, 0.005, usp},
		{30, 15.56, 24.67, 0.005, usp},
	}
	for _, tt := range tests {
		if got := 100 * ethanolMassFraction(tt.volume/100, tt.reference); math.Abs(got-tt.mass) > tt.tolerance {
			t.Errorf("%g %% vol at %g °C: got %.5f %% mass, want %g ± %g (%s)", tt.volume, tt.reference, got, tt.mass,
				tt.tolerance, tt.source)
		}
	}
	byMass := []struct{ mass, volume float64 }{{20, 24.47}, {30, 36.18}}
	for _, tt := range byMass {
		if got := 100 * ethanolVolumeFraction(tt.mass/100, 15.56); math.Abs(got-tt.volume) > 0.005 {
			t.Errorf("%g %% mass at 15.56 °C: got %.4f %% vol, want %g (%s)", tt.mass, got, tt.volume, usp)
		}
	}
	// OIML R 22, inverse, as published with the validation values.
	if p, ok := ethanolMassFractionOfDensity(848.4, 20); !ok || math.Abs(p-0.7796) > 0.00005 {
		t.Errorf("mass fraction of 848.4 kg/m³ at 20 °C: got %.5f (%t), want 0.7796", p, ok)
	}
}

// Both directions agree everywhere, and the functions that are inverted are
// monotone, which is what makes bisection find the only root.
func TestEthanolInversesRoundTrip(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		p := rapid.Float64Range(0, 1).Draw(rt, "p")
		celsius := rapid.Float64Range(alcoholMinCelsius, alcoholMaxCelsius).Draw(rt, "t")
		reference := rapid.SampledFrom([]float64{15, 15.56, 20}).Draw(rt, "T")
		if back := ethanolMassFraction(ethanolVolumeFraction(p, reference), reference); math.Abs(back-p) > 1e-12 {
			rt.Fatalf("by volume and back: got %.15g, want %.15g", back, p)
		}
		rho := ethanolWaterDensity(p, celsius)
		// Weak mixtures hardly change density with strength: 1e-12 in density is
		// up to 1e-10 in strength.
		if back, ok := ethanolMassFractionOfDensity(rho, celsius); !ok || math.Abs(back-p) > 1e-9 {
			rt.Fatalf("by density and back: got %.15g (%t), want %.15g", back, ok, p)
		}
		step := rapid.Float64Range(1e-6, 0.1).Draw(rt, "step")
		if q := p + step; q <= 1 && ethanolWaterDensity(q, celsius) >= rho {
			rt.Fatalf("density does not fall from %g to %g at %g °C", p, q, celsius)
		}
	})
}

// Water is densest near 4 °C, so that one density belongs to two temperatures;
// for strong ethanol there is one.
func TestEthanolTemperaturesOfDensity(t *testing.T) {
	t.Parallel()
	if got := ethanolTemperaturesOfDensity(999.9, 0); len(got) != 2 || !(got[0] < 4 && got[1] > 4) {
		t.Errorf("temperatures of water at 999.9 kg/m³: got %v, want two around 4 °C", got)
	}
	got := ethanolTemperaturesOfDensity(ethanolWaterDensity(0.8, 23.4), 0.8)
	if len(got) != 1 || math.Abs(got[0]-23.4) > 1e-9 {
		t.Errorf("temperature of an 80 %% mixture: got %v, want 23.4", got)
	}
	if got := ethanolTemperaturesOfDensity(500, 0.8); len(got) != 0 {
		t.Errorf("temperature of a density that it never has: got %v, want none", got)
	}
}
