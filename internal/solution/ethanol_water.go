package solution

import (
	"fmt"
	"math"
	"slices"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// EthanolWater asks about ethanol and water; exactly one of the three questions is
// set. A strength is by mass, or by volume with both volumes at the reference
// temperature.
type EthanolWater struct {
	// Reference is 15, 15.56 or 20 °C; left out, it is 20 °C.
	Reference  quantity.Quantity
	Properties *SpiritProperties
	Mixing     *SpiritMixing
	Dilution   *SpiritDilution
}

// SpiritProperties gives two of three and asks for the rest.
type SpiritProperties struct {
	Strength    *Strength
	Density     quantity.Quantity
	Temperature quantity.Quantity
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
	for _, set := range []bool{e.Properties != nil, e.Mixing != nil, e.Dilution != nil} {
		if set {
			asked++
		}
	}
	var err error
	switch {
	case asked != 1:
		c.faults.Add("question-choice", "", "Give exactly one of properties, mixing and dilution.")
		err = c.faults.Err()
	case e.Properties != nil:
		a.State, err = e.Properties.answer(&c)
	case e.Mixing != nil:
		a.Mixture, err = e.Mixing.answer(&c)
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
	a.advise(&c)
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
	if s.Number.Unit == quantity.USProof {
		reference = proofCelsius
	}
	f := func(x []float64) float64 { return x[at] }
	if s.Basis == VolumeFraction {
		f = func(x []float64) float64 { return ethanolMassFraction(x[at], reference) }
	}
	c.weakest = math.Min(c.weakest, f(values(c.inputs)))
	return f
}

// proofCelsius is 60 °F, the temperature of both volumes of a proof.
const proofCelsius = 15.56

// spiritNeedsBasis is the fault of a strength of ethanol without a basis, with what the
// number may stand for.
func spiritNeedsBasis(s Strength, pointer string) *fault.Fault {
	var readings []Reading
	for _, of := range s.candidates() {
		ratio, err := of.Number.In(quantity.One)
		if err != nil || (of.Basis != MassFraction && of.Basis != VolumeFraction) {
			continue // not a share of the whole
		}
		r := Reading{Strength: of, Said: of.said()}
		if ratio > 1 || ratio < 0 {
			r.Unanswered = "There is no such share: it must be from 0 to 100 %."
		} else {
			r.MassPercent = 100 * spiritMassFraction(of, ratio)
		}
		readings = append(readings, r)
	}
	f := fault.New("strength-basis-missing", pointer+"/basis",
		"The strength of a spirit is by mass (mass-fraction), by volume (volume-fraction) or in US proof: this number has "+
			"%d readings. Choose one of them.", len(readings))
	f.Extra = map[string]any{"readings": readings}
	return f
}

// spiritMassFraction is the mass fraction of ethanol in a share of it; a proof is of
// volumes at 60 °F, and a volume fraction here of volumes at 20 °C.
func spiritMassFraction(of Strength, ratio float64) float64 {
	switch {
	case of.Basis == MassFraction:
		return ratio
	case of.Number.Unit == quantity.USProof || of.Number.Unit == quantity.BritishProof:
		return ethanolMassFraction(ratio, proofCelsius)
	}
	return ethanolMassFraction(ratio, referenceCelsius)
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
	case strength && temperature && !density:
		p = c.strength("/properties/strength", "the strength", *s.Strength)
		at := c.celsius("/properties/temperature", s.Temperature)
		return p, func(x []float64) float64 { return x[at] }
	case density && temperature && !strength:
		at := c.celsius("/properties/temperature", s.Temperature)
		rho := c.density(s.Density)
		t = func(x []float64) float64 { return x[at] }
		return c.fromDensity(rho, at), t
	case strength && density && !temperature:
		p = c.strength("/properties/strength", "the strength", *s.Strength)
		rho := c.density(s.Density)
		return p, c.temperatureOf(p, rho)
	}
	c.faults.Add("two-of-three", "/properties",
		"Give exactly two of strength, density and temperature; the rest follows.")
	return neither, neither
}

func (c *spiritChecker) density(q quantity.Quantity) int {
	return c.add("the density", quantity.GramsPerML, c.need("/properties/density", q, quantity.GramsPerML,
		span{0.7, 1.1, false}))
}

// fromDensity is the mass fraction of the density at a temperature.
func (c *spiritChecker) fromDensity(rho, celsius int) massFraction {
	x := values(c.inputs)
	light, heavy := gramsPerML(1, x[celsius]), gramsPerML(0, x[celsius])
	// The tables round to 0.01 kg/m³; a density outside by no more than that is taken for the end.
	const rounding = 1e-5
	if x[rho] < light-rounding || x[rho] > heavy+rounding {
		c.faults.Add("density-out-of-range", "/properties/density",
			"At this temperature ethanol and water have a density from %.5f to %.5f g per mL.", light, heavy)
	}
	return func(x []float64) float64 {
		bounded := math.Min(math.Max(1000*x[rho], ethanolWaterDensity(1, x[celsius])), ethanolWaterDensity(0, x[celsius]))
		p, _ := ethanolMassFractionOfDensity(bounded, x[celsius])
		return p
	}
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

// answer pours the parts together:
//
//	m = Σ mᵢ    p = Σ mᵢ pᵢ/m    V = m/ρ(p, t)    contraction = 1 - V/Σ Vᵢ
func (s SpiritMixing) answer(c *spiritChecker) (*SpiritMixture, error) {
	if n := len(s.Parts); n < 2 || n > 40 {
		c.faults.Add("parts-count", "/mixing/parts", "Give from 2 to 40 parts to pour together.")
	}
	c.gauges = c.checker.gauges("/mixing/instruments", s.Instruments)
	t := c.celsius("/mixing/temperature", s.Temperature)
	var strengths []massFraction
	var grams []func(x []float64) float64
	for i, part := range s.Parts {
		at := fmt.Sprintf("/mixing/parts/%d", i)
		p := massFraction(func([]float64) float64 { return 0 })
		name := "the water"
		if part.Strength != nil {
			name = fmt.Sprintf("part %d", i+1)
			p = c.strength(at+"/strength", "the strength of "+name, *part.Strength)
		}
		strengths = append(strengths, p)
		grams = append(grams, c.grams(at+"/amount", "the amount of "+name, part.Amount, p, t))
	}
	if err := c.faults.Err(); err != nil {
		return nil, err
	}
	reference := c.reference
	o := quantity.PropagateAll(c.inputs, 6, func(x, out []float64) {
		mass, ethanol, sum := 0.0, 0.0, 0.0
		for i := range grams {
			m, p := grams[i](x), strengths[i](x)
			mass += m
			ethanol += m * p
			sum += m / gramsPerML(p, x[t])
		}
		p := ethanol / mass
		out[0], out[1], out[2] = 100*p, 100*ethanolVolumeFraction(p, reference), mass
		out[3] = mass / gramsPerML(p, x[t])
		out[4], out[5] = 100*(1-out[3]/sum), sum
	})
	c.weakest = math.Min(c.weakest, o[0].Value/100)
	return &SpiritMixture{ByMass: o[0], ByVolume: o[1], Mass: o[2], Volume: o[3], Contraction: o[4],
		SumOfVolumes: o[5].Value}, nil
}

// answer finds the water:
//
//	m₂ = m₁ p₁/p₂    m_w = m₂ - m₁    V = m/ρ(p, t) for each
//
// Made up to a mark no density is needed: V₁ = V₂ q₂/q₁ at the reference; the water
// to add needs them.
func (s SpiritDilution) answer(c *spiritChecker, notes *Advice) (*SpiritRecipe, error) {
	c.gauges = c.checker.gauges("/dilution/instruments", s.Instruments)
	t := c.celsius("/dilution/temperature", s.Temperature)
	stock := c.strength("/dilution/stock", "the strength of the stock", s.Stock)
	target := c.strength("/dilution/target", "the wanted strength", s.Target)
	var ofStock, made func(x []float64) float64
	switch {
	case !s.StockAmount.IsZero() && s.Finished.IsZero():
		ofStock = c.grams("/dilution/amount/stock", "the amount of the stock", s.StockAmount, stock, t)
	case !s.Finished.IsZero() && s.StockAmount.IsZero():
		made = c.grams("/dilution/amount/finished", "the finished amount", s.Finished, target, t)
	default:
		c.faults.Add("amount-choice", "/dilution/amount", "Give exactly one of stock and finished.")
	}
	if err := c.faults.Err(); err != nil {
		return nil, err
	}
	x := values(c.inputs)
	if p1, p2 := stock(x), target(x); p2 > p1 || p2 == 0 {
		return nil, fault.New("target-above-stock", "/dilution/target",
			"The target must be above 0 and not above the stock, which is %s %% by mass and %s %% by volume: water "+
				"only weakens it.", number(100*p1), number(100*ethanolVolumeFraction(p1, c.reference)))
	}
	o := quantity.PropagateAll(c.inputs, 8, func(x, out []float64) {
		p1, p2 := stock(x), target(x)
		var m1, m2 float64
		if ofStock != nil {
			m1 = ofStock(x)
			m2 = m1 * p1 / p2
		} else {
			m2 = made(x)
			m1 = m2 * p2 / p1
		}
		out[0], out[1] = m1/gramsPerML(p1, x[t]), m1
		out[2], out[3] = (m2-m1)/gramsPerML(0, x[t]), m2-m1
		out[4], out[5] = m2/gramsPerML(p2, x[t]), m2
		out[6] = 100 * (1 - out[4]/(out[0]+out[2]))
	})
	r := &SpiritRecipe{StockVolume: o[0], StockMass: o[1], WaterVolume: o[2], WaterMass: o[3], FinishedVolume: o[4],
		FinishedMass: o[5], Contraction: o[6]}
	ratio := ethanolVolumeFraction(stock(x), c.reference) / ethanolVolumeFraction(target(x), c.reference)
	r.IfVolumesAdded = r.StockVolume.Value * (ratio - 1)
	r.steps(notes, x[t])
	return r, nil
}
