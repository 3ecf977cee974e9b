package solution

import (
	"math"

	"meniscus/internal/quantity"
)

// glassExpansion is the cubical expansion of the glass of an alcoholometer, 1/°C. With it the
// general formula gives table 1 of 27 CFR 30.61, as far as 27 CFR 30.23 quotes it.
const glassExpansion = 25e-6

var glassSource = Cited("glass-expansion", Memory)

// density brings in a measured density.
func (c *spiritChecker) density(pointer string, q quantity.Quantity, allowed span) int {
	if q.Unit.Kind() == quantity.Ratio {
		c.faults.Add("unit-kind", pointer+"/unit",
			"A specific gravity is told beside water of a temperature: give it times the density of that water, which is "+
				"%.4f g per mL at 20 °C and %.4f at 60 °F (15.56 °C).",
			waterDensity(referenceCelsius), waterDensity(proofCelsius))
		return c.add("the density", quantity.GramsPerML, quantity.Exactly(0.9))
	}
	return c.add("the density", quantity.GramsPerML, c.need(pointer, q, quantity.GramsPerML, allowed))
}

// spirits is the range of densities of ethanol and water, g/mL.
var spirits = span{0.7, 1.1, false}

// ofReading is the mass fraction of what an alcoholometer shows. Its scale is of strengths at
// the reference temperature T, so that it floats at a reading of q in a liquid of the density
//
//	ρ = ρ(q, T) (1 − γ (t − T))    t the temperature, γ the cubical expansion of its glass
func (c *spiritChecker) ofReading(reading Strength, celsius int) massFraction {
	shown := c.strength("/properties/reading", "the reading", reading)
	if len(c.faults) > 0 {
		return shown
	}
	made := c.reference
	if isProof(reading.Number.Unit) {
		made = proofCelsius
	}
	return c.fromDensity("/properties/reading", func(x []float64) float64 {
		return gramsPerML(shown(x), made) * (1 - glassExpansion*(x[celsius]-made))
	}, celsius)
}

// fromDensity is the mass fraction of the density at a temperature.
func (c *spiritChecker) fromDensity(pointer string, rho func(x []float64) float64, celsius int) massFraction {
	x := values(c.inputs)
	light, heavy := gramsPerML(1, x[celsius]), gramsPerML(0, x[celsius])
	// The tables round to 0.01 kg/m³; a density outside by no more than that is taken for the end.
	const rounding = 1e-5
	if rho(x) < light-rounding || rho(x) > heavy+rounding {
		c.faults.Add("density-out-of-range", pointer,
			"At this temperature ethanol and water have a density from %.5f to %.5f g per mL.", light, heavy)
	}
	return func(x []float64) float64 {
		bounded := math.Min(math.Max(1000*rho(x), ethanolWaterDensity(1, x[celsius])), ethanolWaterDensity(0, x[celsius]))
		p, _ := ethanolMassFractionOfDensity(bounded, x[celsius])
		return p
	}
}

// ofAlcoholometer says what a reading comes to.
func (s SpiritState) ofAlcoholometer(reading Strength, reference float64) string {
	said := "Read at " + s.Temperature.Said() + " °C, that is " + s.ByVolume.Said() + " % by volume at " +
		number(reference) + " °C"
	if reading.Number.Unit == quantity.USProof {
		proof := quantity.Outcome{Measured: quantity.Measured{Standard: 2 * s.ByVolume.Standard,
			Value: 200 * ethanolVolumeFraction(s.ByMass.Value/100, proofCelsius)}}
		said += " (" + proof.Said() + " US proof)"
	}
	return said + ", " + s.ByMass.Said() + " % by mass."
}
