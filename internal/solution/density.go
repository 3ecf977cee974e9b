package solution

// waterDensity is the density of water, g/mL, from 0 to 40 °C: OIML R 22 at no
// ethanol, which is up to 0.007 kg/m³ below the later formula of Tanaka et al.
// (Metrologia 38, 2001, 301).
func waterDensity(celsius float64) float64 { return ethanolWaterDensity(0, celsius) / 1000 }

// waterWeighed is what a scale shows for a millilitre of water, g: less than its mass, for the air that
// it displaces carries a part of it, and of the weights that the scale was set with:
//
//	(ρw − ρa)/(1 − ρa/ρm)    ρa = 0.0012 g/mL of air, ρm = 8.0 g/mL of the weights
//
// Its reciprocal is the factor Z of ISO 8655-6.
func waterWeighed(celsius float64) float64 {
	const air, weights = 0.0012, 8.0
	return (waterDensity(celsius) - air) / (1 - air/weights)
}

// densityRatio is ρ(t)/ρ(20 °C) of a component: of ethanol and water by OIML R 22, of
// other liquids as they carry it. Solids, and liquids without a ratio, keep their density.
func densityRatio(c Component, celsius float64) float64 {
	if c.Ethanol != nil {
		return ethanolWaterDensity(*c.Ethanol, celsius) / ethanolWaterDensity(*c.Ethanol, referenceCelsius)
	}
	if c.Density.Ratio != nil {
		if ratio, known := c.Density.Ratio(celsius); known {
			return ratio
		}
	}
	return 1
}

// expands tells whether the change of a liquid's density up to a temperature is known.
func expands(c Component, celsius float64) bool {
	if c.Ethanol != nil {
		return true
	}
	if c.Density.Ratio == nil {
		return false
	}
	_, known := c.Density.Ratio(celsius)
	return known
}
