package solution

import "meniscus/internal/quantity"

// Spirit makes ethanol of a strength by volume at 20 °C (water included) from ethanol
// and water, by OIML R 22: its mass fraction of ethanol, its density and its
// composition. The percent is from 0 to 100.
func Spirit(c, ethanol, water Component, percent float64) Component {
	p := ethanolMassFraction(percent/100, referenceCelsius)
	c.Phase, c.Ethanol = Liquid, &p
	c.Supplied = []MassShare{{ethanol, quantity.Exactly(p)}, {water, quantity.Exactly(1 - p)}}
	if !c.Density.Known() {
		c.Density = Density{Measured: quantity.Exactly(ethanolWaterDensity(p, referenceCelsius) / 1000),
			Source: alcoholSource}
	}
	return c
}
