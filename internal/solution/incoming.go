package solution

import "meniscus/internal/quantity"

// incoming are the concentrations of the solvents in the air that comes in, among the inputs of a computation:
// one input each, in ppm or mg/m³.
type incoming struct {
	first  int // position of the first among the inputs
	byMass []bool
}

// ppm is that of solvent i, in a room whose mole of air takes v litres.
func (in incoming) ppm(x []float64, i int, molarMass, v float64) float64 {
	return asPPM(x[in.first+i], in.byMass[i], molarMass, v)
}

// asPPM is a concentration in ppm: it is that, or in mg/m³.
func asPPM(concentration float64, byMass bool, molarMass, v float64) float64 {
	if !byMass {
		return concentration
	}
	return ppmOf(concentration/1000, molarMass, v)
}

// concentration reads one in air, in parts of it or as a mass in it; none is 0.
func (c *checker) concentration(at, name string, q quantity.Quantity) (input quantity.Input, byMass bool) {
	input = quantity.Input{Name: name, Unit: quantity.PPM}
	switch {
	case q.IsZero():
	case q.Unit.Kind() == quantity.MassPerVolume:
		input.Unit, byMass = quantity.MgPerM3, true
		input.Measured = c.need(at, q, quantity.MgPerM3, span{0, 1e7, false})
	default:
		input.Measured = c.need(at, q, quantity.PPM, span{0, 1e6, false})
	}
	return input, byMass
}
