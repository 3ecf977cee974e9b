package solution

import (
	"fmt"
	"math"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// WarmBottle asks for the effect of warmth on a closed bottle of solvent, as in a
// car in the sun or on a shelf over a radiator.
type WarmBottle struct {
	Solvents []VapourShare
	Capacity quantity.Quantity // to the brim
	ClosedAt quantity.Quantity // temperature at which it was closed
	Warm     quantity.Quantity // temperature that it reaches; left out: a car in the sun
	Pressure quantity.Quantity // of the air when it was closed
}

// hottestCar is the highest air temperature that was measured in a parked car
// over one summer; clear summer days reached 68 °C on average.
const hottestCar = 76

var carSource = Cited("cabin-temperatures", Read)

// WarmBottleAnswer is the effect of the warmth.
type WarmBottleAnswer struct {
	Assumed []Assumption
	// Liquid is its volume when closed and when warm, mL.
	Liquid, LiquidWarm quantity.Outcome
	// Growth is the part by which the liquid grows: 0.06 is 6 %.
	Growth float64
	// Headspace is the space above the liquid when closed and when warm, mL;
	// HeadspaceWarm is 0 or below when the liquid fills the bottle.
	Headspace, HeadspaceWarm float64
	// Vapour is the vapour pressure of the liquid when warm, kPa; nil if not known.
	Vapour *float64
	// Pressure is that in the bottle, kPa absolute, if it was closed over fresh
	// air; PressureLow if it was closed over air full of vapour. Nil where the
	// liquid fills the bottle or no vapour pressure is known.
	Pressure    *quantity.Outcome
	PressureLow *float64
	// Over is how far Pressure is above the air outside, kPa.
	Over *float64
	// Boils is the lowest boiling point among the solvents, °C; nil if not known.
	Boils       *float64
	boilsSource Source
	// FillAtMost is the volume, when closed, that leaves a twentieth of the bottle free when warm, mL.
	FillAtMost float64
	Advice
}

// bottle is a checked WarmBottle. The inputs are, in order, capacity mL, closing
// temperature °C, warm temperature °C, outside pressure kPa, then the amounts.
type bottle struct {
	inputs  []quantity.Input
	solvent []Evaporating
	poured  poured
}

const (
	bottleCapacity = iota
	bottleClosed
	bottleWarm
	bottlePressure
	bottleAmounts
)

// liquid is the volume of the liquid, mL, with additive volumes:
//
//	V(t) = Σ Vᵢ(20)/rᵢ(t),  r(t) = ρ(t)/ρ(20)
//
// The ratio comes from a density equation or a slope near 20 °C; outside its
// range it is still used, with a warning.
func (b bottle) liquid(x []float64, celsius float64) float64 {
	v := 0.0
	for i, e := range b.solvent {
		ratio, _ := e.Density.at(celsius)
		v += b.poured.millilitres(x, i) / ratio
	}
	return v
}

// at gives ρ(t)/ρ(20 °C), and whether that is inside the range that is known. A
// density without a ratio stays as it is.
func (d Density) at(celsius float64) (ratio float64, known bool) {
	if d.Ratio == nil {
		return 1, false
	}
	ratio, known = d.Ratio(celsius)
	if !(ratio > 0.2 && ratio < 2) {
		return 1, false
	}
	return ratio, known
}

// vapour is Σ xᵢ pᵢ(t) in kPa, xᵢ the mole fractions in the liquid (Raoult's law
// with every activity coefficient 1: recalled); exact for one solvent.
func (b bottle) vapour(x []float64, celsius float64) (float64, pressureBasis) {
	moles, sum := 0.0, 0.0
	worst := pressureFitted
	for i, e := range b.solvent {
		p, basis := e.Pressure.at(celsius)
		if basis == pressureUnknown {
			return 0, pressureUnknown
		}
		worst = max(worst, basis)
		n := b.poured.grams(x, i) / e.MolarMass
		moles += n
		sum += n * p
	}
	return sum / moles, worst
}

// pressure is that in the warm bottle, kPa:
//
//	p = p_air (T₂/T₁) (h₁/h₂) + p_v(T₂)
//
// with h the headspace and T in kelvin: the air is warmed and pressed together by
// the growing liquid, and the vapour pressure comes on top. Closed over fresh
// air, p_air is that outside; closed over air full of vapour, it is less by
// p_v(T₁). With a headspace that stays as it is, h₁/h₂ is 1. It assumes that the
// bottle is rigid and tight, and that no air dissolves. Source: ideal gas.
func (b bottle) pressure(x []float64, saturated bool) float64 {
	closed, warm := x[bottleClosed], x[bottleWarm]
	air := x[bottlePressure]
	if saturated {
		p, _ := b.vapour(x, closed)
		air = math.Max(0, air-p)
	}
	squeeze := (x[bottleCapacity] - b.liquid(x, closed)) / (x[bottleCapacity] - b.liquid(x, warm))
	p, _ := b.vapour(x, warm)
	return air*(warm+kelvinAtZero)/(closed+kelvinAtZero)*squeeze + p
}

// ComputeWarmBottle answers the question, or gives every fault in it.
func ComputeWarmBottle(w WarmBottle) (WarmBottleAnswer, error) {
	b, err := w.bottle()
	if err != nil {
		return WarmBottleAnswer{}, err
	}
	x := values(b.inputs)
	var a WarmBottleAnswer
	volumes := quantity.PropagateAll(b.inputs, 2, func(x, out []float64) {
		out[0], out[1] = b.liquid(x, x[bottleClosed]), b.liquid(x, x[bottleWarm])
	})
	a.Assumed = w.assumptions()
	a.Liquid, a.LiquidWarm = volumes[0], volumes[1]
	a.Growth = a.LiquidWarm.Value/a.Liquid.Value - 1
	a.Headspace, a.HeadspaceWarm = x[bottleCapacity]-a.Liquid.Value, x[bottleCapacity]-a.LiquidWarm.Value
	if a.Headspace < 0 {
		return WarmBottleAnswer{}, fault.New("bottle-too-small", "/capacity",
			"The liquid takes up %s mL when the bottle is closed, so the bottle must hold at least that.",
			a.Liquid.Said())
	}
	a.FillAtMost = 0.95 * x[bottleCapacity] / (1 + math.Max(0, a.Growth))
	a.pressures(b, x)
	a.Answer = a.says(x[bottleCapacity], x[bottleWarm])
	a.citeAssumptions(a.Assumed)
	a.advise(b, x)
	return a, nil
}

// bottle reads the question.
func (w WarmBottle) bottle() (bottle, error) {
	var c checker
	celsius := span{-20, 90, false}
	b := bottle{inputs: []quantity.Input{
		{Name: "the capacity of the bottle", Unit: quantity.Millilitre,
			Measured: c.need("/capacity", w.Capacity, quantity.Millilitre, span{1, 1e6, false})},
		{Name: "the temperature when closed", Unit: quantity.Celsius,
			Measured: c.maybe("/closedAt", w.ClosedAt, quantity.Celsius, span{-20, 50, false}, 20)},
		{Name: "the temperature when warm", Unit: quantity.Celsius,
			Measured: c.maybe("/warm", w.Warm, quantity.Celsius, celsius, hottestCar)},
		{Name: "the pressure of the air", Unit: quantity.KiloPascal,
			Measured: c.maybe("/pressure", w.Pressure, quantity.KiloPascal, span{50, 110, false}, standardPress)},
	}}
	if b.inputs[bottleWarm].Value < b.inputs[bottleClosed].Value {
		c.faults.Add("not-warmer", "/warm", "The warm temperature must be at or above that at which the bottle was closed.")
	}
	var amounts []quantity.Input
	b.poured, amounts = c.pour(w.Solvents, bottleAmounts)
	b.inputs = append(b.inputs, amounts...)
	for _, share := range w.Solvents {
		b.solvent = append(b.solvent, share.Solvent)
	}
	c.refuseFrozenBottle(b)
	return b, c.faults.Err()
}

// pressures fills in what is known of the pressure.
func (a *WarmBottleAnswer) pressures(b bottle, x []float64) {
	for _, e := range b.solvent {
		if e.Boils != nil && (a.Boils == nil || *e.Boils < *a.Boils) {
			a.Boils, a.boilsSource = e.Boils, e.BoilsSource
		}
	}
	vapour, basis := b.vapour(x, x[bottleWarm])
	if basis == pressureUnknown {
		return
	}
	a.Vapour = &vapour
	if a.HeadspaceWarm <= 0 {
		return
	}
	p := quantity.Propagate(b.inputs, func(x []float64) float64 { return b.pressure(x, false) })
	low := b.pressure(x, true)
	over := p.Value - x[bottlePressure]
	if !finite(p.Value, p.Standard, low) {
		return
	}
	a.Pressure, a.PressureLow, a.Over = &p, &low, &over
}

// advise says what the numbers mean.
func (a *WarmBottleAnswer) advise(b bottle, x []float64) {
	a.cite(idealGas)
	for _, e := range b.solvent {
		a.cite(e.Sources...)
	}
	raoult := Cited("raoult", Memory)
	if len(b.solvent) > 1 {
		a.cite(raoult)
	}
	warm := x[bottleWarm]
	if a.HeadspaceWarm <= 0 {
		a.warn("bottle-full", Block, idealGas,
			fmt.Sprintf("At %s °C the liquid takes up %s mL and fills the bottle: it bursts or lifts its closure. "+
				"Fill at most %s mL.", number(warm), a.LiquidWarm.Said(), atMost(a.FillAtMost)))
	}
	if a.Boils != nil && warm >= *a.Boils {
		a.warn("boils", Warn, a.boilsSource,
			fmt.Sprintf("At %s °C the liquid is at or above its boiling point (%s °C): it boils over when the "+
				"bottle is opened.", number(warm), number(*a.Boils)))
	}
	for _, e := range b.solvent {
		a.adviseGrowth(e, warm)
		a.warnFrozenAlone(e, x[bottleClosed])
	}
	switch _, basis := b.vapour(x, warm); {
	case basis == pressureUnknown:
		a.warn("pressure-unknown", Warn, practice,
			"No vapour pressure is held for every solvent here, so the pressure in the bottle is not known.")
	case basis == pressureExtended:
		a.warn("pressure-rough", Info, practice,
			"The warm temperature lies outside the range of the vapour-pressure data: the pressure is rough.")
	}
	if a.Over != nil {
		a.warn("pressure", Warn, idealGas,
			fmt.Sprintf("The bottle comes to stand about %s kPa above the air outside; no strength of this bottle or its "+
				"closure is known here.", about(*a.Over)))
	}
	a.Steps = []string{
		fmt.Sprintf("Fill at most %s mL, so that a twentieth of the bottle is free when it is warm.", atMost(a.FillAtMost)),
		"Carry it upright in a second, closed container with something that soaks up a spill, in the shade, and " +
			"never in a cabin with people.",
		"Let a warm bottle cool before opening it, then open it slowly, away from the face and from anything that lights it.",
	}
	a.Cautions = append(a.Cautions,
		Caution{"Rules for carrying flammable liquids in vehicles differ by country and amount; they come before " +
			"this estimate.", practice})
	a.cautionOn(b.solvent)
}

// adviseGrowth warns where the growth of a liquid is rough, or left out.
func (a *WarmBottleAnswer) adviseGrowth(e Evaporating, celsius float64) {
	a.cite(e.Density.RatioSource)
	if _, known := e.Density.at(celsius); known {
		return
	}
	if e.Density.Ratio == nil {
		a.warn("growth-unknown", Warn, practice, "How "+e.Name+
			" grows with warmth is not held here: it is counted as not growing at all, so leave more room.")
		return
	}
	a.warn("growth-rough", Info, e.Density.RatioSource, "The density of "+e.Name+
		" is taken beyond the temperatures that its equation was made for: its growth is rough.")
}

// assumptions lists the values assumed where the caller gave none.
func (w WarmBottle) assumptions() []Assumption {
	var list []Assumption
	if w.ClosedAt.IsZero() {
		list = append(list, Assumption{"temperature when closed", 20, quantity.Celsius, practice})
	}
	if w.Warm.IsZero() {
		list = append(list, Assumption{"temperature when warm: the hottest parked car of a summer of measurements",
			hottestCar, quantity.Celsius, carSource})
	}
	if w.Pressure.IsZero() {
		list = append(list, Assumption{"pressure of the air", standardPress, quantity.KiloPascal,
			Cited("standard-atmosphere", CommonPractice)})
	}
	return list
}
