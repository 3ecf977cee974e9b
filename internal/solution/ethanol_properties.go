package solution

import (
	"math"

	"meniscus/internal/quantity"
)

// answer finds the rest from two of strength, density and temperature.
func (s SpiritProperties) answer(c *spiritChecker) (*SpiritState, error) {
	p, t := s.resolve(c)
	if err := c.faults.Err(); err != nil {
		return nil, err
	}
	volume := -1
	if !s.Volume.IsZero() {
		volume = c.add("the volume", quantity.Millilitre, c.need("/properties/volume", s.Volume,
			quantity.Millilitre, span{0, 1e9, true}))
	}
	if err := c.faults.Err(); err != nil {
		return nil, err
	}
	reference := c.reference
	o := quantity.PropagateAll(c.inputs, 7, func(x, out []float64) {
		p, t := p(x), t(x)
		out[0], out[1] = 100*p, 100*ethanolVolumeFraction(p, reference)
		out[2], out[3], out[4] = t, gramsPerML(p, t), gramsPerML(p, reference)
		out[5], out[6] = 0, 0
		if volume >= 0 {
			out[5] = x[volume] * out[3] / out[4]
			out[6] = x[volume] * out[3] * p
		}
	})
	c.temperature, c.weakest = math.Min(c.temperature, o[2].Value), math.Min(c.weakest, o[0].Value/100)
	state := &SpiritState{ByMass: o[0], ByVolume: o[1], Temperature: o[2], Density: o[3], DensityAtRef: o[4]}
	if volume >= 0 {
		state.VolumeAtRef, state.Ethanol = &o[5], &o[6]
	}
	return state, nil
}

// resolve turns the two that are given into mass fraction and temperature.
func (s SpiritProperties) resolve(c *spiritChecker) (p massFraction, t func(x []float64) float64) {
	neither := func([]float64) float64 { return 0.5 }
	strength, density, temperature := s.Strength != nil, !s.Density.IsZero(), !s.Temperature.IsZero()
	switch {
	case s.Reading != nil && temperature && !strength && !density:
		at := c.celsius("/properties/temperature", s.Temperature)
		return c.ofReading(*s.Reading, at), func(x []float64) float64 { return x[at] }
	case s.Reading != nil:
		c.faults.Add("two-of-three", "/properties",
			"The reading of an alcoholometer goes with the temperature at which it was read, and with nothing else.")
		return neither, neither
	case strength && temperature && !density:
		p = c.strength("/properties/strength", "the strength", *s.Strength)
		at := c.celsius("/properties/temperature", s.Temperature)
		return p, func(x []float64) float64 { return x[at] }
	case density && temperature && !strength:
		at := c.celsius("/properties/temperature", s.Temperature)
		rho := c.density("/properties/density", s.Density, spirits)
		t = func(x []float64) float64 { return x[at] }
		return c.fromDensity("/properties/density", func(x []float64) float64 { return x[rho] }, at), t
	case strength && density && !temperature:
		p = c.strength("/properties/strength", "the strength", *s.Strength)
		rho := c.density("/properties/density", s.Density, spirits)
		return p, c.temperatureOf(p, rho)
	}
	c.faults.Add("two-of-three", "/properties",
		"Give exactly two of strength, density and temperature; the rest follows.")
	return neither, neither
}

// temperatureOf is the temperature at which a strength has a density. Water and
// weak mixtures are densest above their freezing point, so that there may be two:
// then a fault asks which.
func (c *spiritChecker) temperatureOf(p massFraction, rho int) func(x []float64) float64 {
	x := values(c.inputs)
	found := ethanolTemperaturesOfDensity(1000*x[rho], p(x))
	switch len(found) {
	case 0:
		c.faults.Add("no-temperature", "/properties/density",
			"At no temperature from -20 to 40 °C does this strength have this density.")
		return func([]float64) float64 { return 20 }
	case 1:
		return func(x []float64) float64 {
			near := found[0]
			for _, t := range ethanolTemperaturesOfDensity(1000*x[rho], p(x)) {
				near = t
			}
			return near
		}
	}
	c.faults.Add("two-temperatures", "/properties",
		"Two temperatures, %s and %s °C, go with this strength and density: give the temperature and one of "+
			"them instead.", number(found[0]), number(found[1]))
	return func([]float64) float64 { return 20 }
}
