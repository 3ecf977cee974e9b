package solution

import (
	"math"
	"slices"

	"meniscus/internal/quantity"
)

// EthanolWater asks about ethanol and water, or about one other substance in water; exactly one
// of the questions is set. A strength is by mass, or by volume with both volumes at the reference
// temperature.
type EthanolWater struct {
	// Reference is 15, 15.56 or 20 °C; left out, it is 20 °C.
	Reference  quantity.Quantity
	Properties *SpiritProperties
	Mixing     *SpiritMixing
	Dilution   *SpiritDilution
	Solution   *WaterSolution
}

// SpiritProperties gives two of three, or a reading and its temperature, and asks for the rest.
type SpiritProperties struct {
	Strength    *Strength
	Density     quantity.Quantity
	Temperature quantity.Quantity
	// Reading is what an alcoholometer shows at the temperature, in place of a density.
	Reading *Strength
	// Volume at the temperature, to be converted to the reference; may be left out.
	Volume quantity.Quantity
}

// SpiritMixing pours amounts together, all measured at one temperature.
type SpiritMixing struct {
	Parts       []SpiritPart
	Temperature quantity.Quantity // left out: the reference
	Instruments Instruments
}

// SpiritPart is an amount, by volume or by mass, of a strength; nil is water.
type SpiritPart struct {
	Strength *Strength
	Amount   quantity.Quantity
}

// SpiritDilution brings a stock down to a target with water.
type SpiritDilution struct {
	Stock, Target Strength
	// Exactly one amount, by volume or by mass: of the stock, or of what is made.
	StockAmount, Finished quantity.Quantity
	Temperature           quantity.Quantity // of everything; left out: the reference
	Instruments           Instruments
}

// EthanolWaterAnswer is what is asked.
type EthanolWaterAnswer struct {
	Reference float64 // °C
	State     *SpiritState
	Mixture   *SpiritMixture
	Dilution  *SpiritRecipe
	Solution  *WaterSolutionState
	Advice
}

// SpiritState is a mixture of ethanol and water in every measure.
type SpiritState struct {
	ByMass, ByVolume quantity.Outcome // %
	Temperature      quantity.Outcome // °C
	Density          quantity.Outcome // g/mL at the temperature
	DensityAtRef     quantity.Outcome // g/mL at the reference
	// Where a volume was given: that volume at the reference, mL, and the ethanol in it, g.
	VolumeAtRef, Ethanol *quantity.Outcome
}

// SpiritMixture is the result of pouring together.
type SpiritMixture struct {
	ByMass, ByVolume quantity.Outcome // %
	Mass             quantity.Outcome // g
	Volume           quantity.Outcome // mL at the temperature
	SumOfVolumes     float64          // mL, before mixing
	Contraction      quantity.Outcome // % of the sum
}

// SpiritRecipe is what to measure, at the temperature asked.
type SpiritRecipe struct {
	StockVolume, StockMass       quantity.Outcome // mL, g
	WaterVolume, WaterMass       quantity.Outcome
	FinishedVolume, FinishedMass quantity.Outcome
	Contraction                  quantity.Outcome // % of the volumes measured
	// IfVolumesAdded is the water, mL, that adding volumes would have given.
	IfVolumesAdded float64
}

// references are the temperatures that strengths by volume are referred to: 15 and
// 20 °C, and 15.56 °C, which is 60 °F.
var references = []float64{15, 15.56, 20}

// alcohols is the range of the formula, °C.
var alcohols = span{alcoholMinCelsius, alcoholMaxCelsius, false}

// ComputeEthanolWater answers the question, or gives every fault in it.
func ComputeEthanolWater(e EthanolWater) (EthanolWaterAnswer, error) {
	c := spiritChecker{}
	c.readReference(e.at(), e.Reference)
	a := EthanolWaterAnswer{Reference: c.reference}
	asked := 0
	for _, set := range []bool{e.Properties != nil, e.Mixing != nil, e.Dilution != nil, e.Solution != nil} {
		if set {
			asked++
		}
	}
	var err error
	switch {
	case asked != 1:
		c.faults.Add("question-choice", "", "Give exactly one of properties, mixing, dilution and solution.")
		err = c.faults.Err()
	case e.Properties != nil:
		a.State, err = e.Properties.answer(&c)
	case e.Mixing != nil:
		a.Mixture, err = e.Mixing.answer(&c)
	case e.Solution != nil:
		return e.Solution.answer(&c, a)
	default:
		a.Dilution, err = e.Dilution.answer(&c, &a.Advice)
	}
	if err != nil {
		return EthanolWaterAnswer{}, err
	}
	if c.refuseFrozen(e); len(c.faults) > 0 {
		return EthanolWaterAnswer{}, c.faults.Err()
	}
	a.Answer = a.says(e)
	a.advise(&c, e)
	return a, nil
}

// spiritChecker reads strengths and temperatures of ethanol and water. It keeps
// the lowest strength and temperature for the warnings.
type spiritChecker struct {
	checker
	reference   float64
	inputs      []quantity.Input
	temperature float64 // °C, the coldest
	gauges      gauges
	weakest     float64 // mass fraction
}

// at is the pointer to the question in the request.
func (e EthanolWater) at() string {
	switch {
	case e.Properties != nil:
		return "/properties"
	case e.Mixing != nil:
		return "/mixing"
	case e.Solution != nil:
		return "/solution"
	}
	return "/dilution"
}

func (c *spiritChecker) readReference(at string, q quantity.Quantity) {
	at += "/referenceTemperature"
	c.temperature, c.weakest = 20, 1
	c.reference = c.maybe(at, q, quantity.Celsius, alcohols, 20).Value
	// 60 °F converts to 15.555… °C, and is printed as 15.56 °C.
	i := slices.IndexFunc(references, func(r float64) bool { return math.Abs(r-c.reference) < 0.006 })
	if i < 0 {
		c.faults.Add("reference-temperature", at,
			"The reference temperature of a strength by volume is 15, 15.56 (60 °F) or 20 °C.")
		c.reference = 20
		return
	}
	c.reference = references[i]
}

// add puts an input in and gives its position.
func (c *spiritChecker) add(name string, unit quantity.Unit, m quantity.Measured) int {
	c.inputs = append(c.inputs, quantity.Input{Name: name, Unit: unit, Measured: m})
	return len(c.inputs) - 1
}

// massFraction gives the mass fraction of ethanol as a function of the inputs.
type massFraction func(x []float64) float64

// strength reads a strength by mass or by volume.
func (c *spiritChecker) strength(pointer, name string, s Strength) massFraction {
	if s.Basis == "" {
		c.faults = append(c.faults, spiritNeedsBasis(s, pointer))
		return func([]float64) float64 { return 0.5 }
	}
	if s.Basis != MassFraction && s.Basis != VolumeFraction {
		c.faults.Add("strength-basis", pointer+"/basis",
			"The strength of a spirit is by mass (mass-fraction) or by volume (volume-fraction).")
		return func([]float64) float64 { return 0.5 }
	}
	at := c.add(name, quantity.One, c.need(pointer, s.Number, quantity.One, span{0, 1, false}))
	reference := c.reference
	if isProof(s.Number.Unit) {
		reference = proofCelsius
	}
	f := func(x []float64) float64 { return x[at] }
	if s.Basis == VolumeFraction {
		f = func(x []float64) float64 { return ethanolMassFraction(x[at], reference) }
	}
	c.weakest = math.Min(c.weakest, f(values(c.inputs)))
	return f
}

// celsius reads a temperature, the reference where none is given.
func (c *spiritChecker) celsius(pointer string, q quantity.Quantity) int {
	m := c.maybe(pointer, q, quantity.Celsius, alcohols, c.reference)
	c.temperature = math.Min(c.temperature, m.Value)
	return c.add("the temperature", quantity.Celsius, m)
}

// grams reads an amount by volume or by mass, and gives its mass as a function of
// the inputs.
func (c *spiritChecker) grams(pointer, name string, amount quantity.Quantity, p massFraction,
	temperature int) func(x []float64) float64 {
	if amount.Unit.Kind() == quantity.Mass {
		at := c.add(name, quantity.Gram, c.read(pointer, amount, c.gauges.scale, span{0, 1e9, true}))
		return func(x []float64) float64 { return x[at] }
	}
	at := c.add(name, quantity.Millilitre, c.read(pointer, amount, c.gauges.measure, span{0, 1e9, true}))
	return func(x []float64) float64 { return x[at] * gramsPerML(p(x), x[temperature]) }
}

// gramsPerML is the density by the formula in g/mL.
func gramsPerML(p, celsius float64) float64 { return ethanolWaterDensity(p, celsius) / 1000 }

// values are inputs without their uncertainty.
func values(inputs []quantity.Input) []float64 {
	x := make([]float64, len(inputs))
	for i, in := range inputs {
		x[i] = in.Value
	}
	return x
}
