package solution

import "math"

// waterDensity is the density of air-free water, kg/m³, after Tanaka et al.:
//
//	ρ = 999.974950 [1 − (t − 3.983035)² (t + 301.797) / (522528.9 (t + 69.34881))]
//
//	t  temperature, °C, from 0 to 40
//
// Source: Tanaka et al., Metrologia 38 (2001) 301; coefficients as read in public code.
func waterDensity(t float64) float64 {
	d := t - 3.983035
	return 999.974950 * (1 - d*d*(t+301.797)/(522528.9*(t+69.34881)))
}

// dippr105 is the density of a liquid by DIPPR equation 105:
//
//	ρ = M C1 / C2^(1 + (1 − T/C3)^C4)
//
//	ρ  kg/m³, T temperature in K, M molar mass in g/mol, C1 in kmol/m³, C3 in K
//
// Source: Perry's Chemical Engineers' Handbook, 8th edition, table 2-32; coefficients
// as read in two public data sets.
type dippr105 struct{ c1, c2, c3, c4, molarMass float64 }

func (d dippr105) density(celsius float64) float64 {
	return d.molarMass * d.c1 / math.Pow(d.c2, 1+math.Pow(1-(celsius+zeroCelsius)/d.c3, d.c4))
}

// vdiDensity is the density of a liquid by the equation of the VDI Heat Atlas:
//
//	ρ = ρc + A s^0.35 + B s^(2/3) + C s + D s^(4/3),   s = 1 − T/Tc
//
//	ρ, ρc  kg/m³, T and Tc in K
//
// Source: VDI Heat Atlas, PPDS coefficients as read in a public data set.
type vdiDensity struct{ critical, rhoC, a, b, c, d float64 }

func (v vdiDensity) density(celsius float64) float64 {
	s := 1 - (celsius+zeroCelsius)/v.critical
	return v.rhoC + v.a*math.Pow(s, 0.35) + v.b*math.Pow(s, 2.0/3) + v.c*s + v.d*math.Pow(s, 4.0/3)
}

// zeroCelsius is 0 °C in K, exactly.
const zeroCelsius = 273.15

// densityFits holds the fits by component. Both kinds lie 0.1 to 0.2 % above values
// measured near room temperature, so they are used for the ratio ρ(t)/ρ(20 °C) only:
// a density that was measured or stands on a label wins. Where both kinds are known,
// the VDI fit is used, and the ratios agree to 0.01 % from 0 to 40 °C.
var densityFits = map[string]interface{ density(celsius float64) float64 }{
	"acetone":     acetoneVDI,
	"toluene":     tolueneVDI,
	"propan-2-ol": propanolDIPPR,
}

var (
	acetoneVDI    = vdiDensity{508.1, 274, 547.382, 208.742, -203.7599, 253.9936}
	tolueneVDI    = vdiDensity{591.75, 292, 439.5835, 839.1558, -1234.8445, 797.8741}
	acetoneDIPPR  = dippr105{1.2332, 0.25886, 508.2, 0.2913, 58.07914}
	tolueneDIPPR  = dippr105{0.8792, 0.27136, 591.75, 0.29241, 92.13842}
	propanolDIPPR = dippr105{1.1799, 0.2644, 508.3, 0.24653, 60.095}
)

// densityRatio is ρ(t)/ρ(20 °C) of a component: of ethanol and water by OIML R 22,
// of the liquids with a fit by that, of others by the straight line that they carry.
// Solids, and liquids without any of these, keep their density.
func densityRatio(c Component, celsius float64) float64 {
	if c.Ethanol != nil {
		return ethanolWaterDensity(*c.Ethanol, celsius) / ethanolWaterDensity(*c.Ethanol, referenceCelsius)
	}
	if fit, ok := densityFits[c.ID]; ok {
		return fit.density(celsius) / fit.density(referenceCelsius)
	}
	if c.Phase == Liquid && c.Density.PerKelvin != 0 {
		return 1 + c.Density.PerKelvin*(celsius-referenceCelsius)/c.Density.Value
	}
	return 1
}

// expands tells whether the change of a liquid's density with temperature is known.
func expands(c Component) bool {
	_, fit := densityFits[c.ID]
	return c.Ethanol != nil || fit || c.Density.PerKelvin != 0
}
