package solution

import (
	"math"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// Vapour asks what vapour a piece of work releases into the air of a room.
type Vapour struct {
	Solvents []VapourShare // what goes into the air in all
	Release  Release
	Room     Room
	Near     NearField
	After    []quantity.Quantity // times from the start at which the air is asked for
}

// VapourShare is an amount of one solvent, by mass or by volume at 20 °C.
type VapourShare struct {
	Solvent Evaporating
	Amount  quantity.Quantity
	// At is its pointer in the request ("/solvents/2"); empty is its place in the list.
	At string
}

// at is the pointer to share i of a list.
func (s VapourShare) at(i int) string {
	if s.At != "" {
		return s.At
	}
	return "/solvents" + indexed(i)
}

// Release says how the solvent goes into the air; exactly one member is set.
type Release struct {
	Steady *SteadyRelease
	AtOnce bool // a spill as if it were all vapour at once: a bound for the peak
	Drying *DryingRelease
	Spill  *Spill
}

// SteadyRelease is work that gives off vapour evenly while it lasts.
type SteadyRelease struct{ Duration quantity.Quantity }

// DryingRelease is a wet surface: half of what is left goes in each half-time.
type DryingRelease struct{ HalfTime quantity.Quantity }

// Room is the room that the work is done in.
type Room struct {
	Volume quantity.Quantity
	// One of the two. Leaving both out is a fault, since a guess here would decide the answer.
	AirFlow    quantity.Quantity
	AirChanges quantity.Quantity
	// MixingFactor K: the flow that takes part in mixing is Q/K. 1 is ideal, 10 poor.
	MixingFactor quantity.Quantity
	Temperature  quantity.Quantity
	Pressure     quantity.Quantity
}

// NearField is the air that the worker breathes: a hemisphere about the work.
type NearField struct {
	Radius   quantity.Quantity
	AirSpeed quantity.Quantity
}

// What is assumed where the caller says nothing; the answer repeats it.
const (
	defaultMixing   = 5   // the factor of the published example, Abulencia and Theodore, Ex. 20.2
	defaultCelsius  = 20  // °C
	defaultRadius   = 0.8 // m, recalled
	defaultAirSpeed = 0.1 // m/s, random air movement indoors, recalled
)

// Sources of the models.
var (
	oneBoxSource = Cited("one-box-model", Read)
	nearSource   = Cited("near-field-model", Read)
	nearDefaults = Cited("near-field-defaults", Memory)
	dryingSource = Cited("drying-model", Memory)
	mixingSource = Cited("mixing-factor", Memory)
	leChatelier  = Cited("le-chatelier", Memory)
	additive     = Cited("additive-effect", Read)
	idealGas     = Cited("ideal-gas", Computed)
)

// scene is a question that was read and checked: numbers in m³, h, °C, kPa, m, m/s
// and m² with their uncertainty, in the order of the variables below.
type scene struct {
	inputs []quantity.Input
	// byChanges: the flow is given as air changes an hour.
	byChanges bool
	solvent   []Evaporating
	poured    poured
	incoming  incoming
	how       Release
	after     []float64 // h
}

// Positions of the inputs of a scene; the amounts follow, and the concentrations in the air that comes in.
const (
	inVolume = iota
	inFlow
	inMixing
	inTemperature
	inPressure
	inRadius
	inAirSpeed
	inTime
	inArea
	inFormula
	inAmounts
)

// release is how solvent i goes into the air.
func (s scene) release(x []float64, i int) release {
	switch {
	case s.how.Steady != nil:
		return steadyRelease{x[inTime]}
	case s.how.Drying != nil:
		return dryingRelease{math.Ln2 / x[inTime]}
	case s.how.Spill != nil:
		return steadyRelease{s.poured.grams(x, i) / s.poolRate(x, i)}
	}
	return instantRelease{}
}

// room is the well-mixed box of the room, with the flow that takes part in mixing.
func (s scene) room(x []float64) box {
	flow := x[inFlow]
	if s.byChanges {
		flow *= x[inVolume]
	}
	return box{x[inVolume], flow / x[inMixing]}
}

// near is the box of the near field: a hemisphere of radius r, volume 2πr³/3,
// whose free surface S = 2πr² air crosses at the speed v, half of it outwards:
//
//	β = ½ S v
//
// The concentration there is that of the room plus that of this box, each fed by
// the whole source as if the other were not there (Nicas 2024).
func near(x []float64) box {
	r := x[inRadius]
	return box{2 * math.Pi / 3 * r * r * r, math.Pi * r * r * x[inAirSpeed] * 3600}
}

// ComputeVapour answers the question, or gives every fault in it.
func ComputeVapour(v Vapour) (VapourAnswer, error) {
	if v.asksHowMuch() {
		return v.howMuch()
	}
	var answer VapourAnswer
	s, err := v.scene()
	if err != nil {
		return VapourAnswer{}, err
	}
	answer.Assumed = v.assumptions()
	air, shares := s.propagate()
	answer.Solvents = air
	answer.Explosive = s.explosive(air, shares)
	answer.Limits = s.compare(answer.Solvents)
	answer.Later = s.later()
	switch {
	case v.Release.Steady != nil:
		answer.AirNeeded = s.airNeeded(answer.Limits)
	case v.Release.Spill != nil:
		answer.Evaporation = s.evaporation()
	}
	if !v.Release.AtOnce {
		answer.Clearing = s.clearing(answer.Limits)
	}
	answer.Answer = answer.says(v.Release)
	answer.citeAssumptions(answer.Assumed)
	answer.advise(s, v)
	if !answer.finite() {
		return VapourAnswer{}, noFiniteAnswer()
	}
	return answer, nil
}

func noFiniteAnswer() error {
	return fault.New("no-finite-answer", "",
		"These numbers lead to no finite answer; check the amounts, the room and the times.")
}

// scene reads the question.
func (v Vapour) scene() (scene, error) {
	var c checker
	room, near := v.Room, v.Near
	volume := c.need("/room/volume", room.Volume, "m3", span{0.1, 1e6, false})
	mixing := c.mixing("/room/mixingFactor", room.MixingFactor)
	temperature := c.maybe("/room/temperature", room.Temperature, quantity.Celsius, span{-10, 50, false}, defaultCelsius)
	pressure := c.maybe("/room/pressure", room.Pressure, quantity.KiloPascal, span{50, 110, false}, standardPress)
	radius := c.maybe("/nearField/radius", near.Radius, quantity.Metre, span{0.1, 3, false}, defaultRadius)
	speed := c.maybe("/nearField/airSpeed", near.AirSpeed, quantity.MetresPerSec, span{0.01, 5, false}, defaultAirSpeed)
	if nearVolume := 2 * math.Pi / 3 * math.Pow(radius.Value, 3); len(c.faults) == 0 && nearVolume > volume.Value/2 {
		c.faults.Add("near-field-too-large", "/nearField/radius",
			"The near field would take up more than half of the room: give a radius of at most %s m.",
			number(math.Cbrt(volume.Value*0.75/math.Pi)))
	}
	hours, area, formula := c.release(v.Release)
	s := scene{how: v.Release, byChanges: !room.AirChanges.IsZero(), inputs: []quantity.Input{
		{Name: "the volume of the room", Unit: "m3", Measured: volume},
		c.airFlow(room),
		{Name: "the mixing factor", Unit: quantity.One, Measured: mixing},
		{Name: "the temperature", Unit: quantity.Celsius, Measured: temperature},
		{Name: "the pressure of the air", Unit: quantity.KiloPascal, Measured: pressure},
		{Name: "the radius of the near field", Unit: quantity.Metre, Measured: radius},
		{Name: "the speed of the air at the work", Unit: quantity.MetresPerSec, Measured: speed},
		{Name: "the time of the release", Unit: quantity.Hour, Measured: hours},
		{Name: "the area of the spill", Unit: quantity.SquareMetre, Measured: area},
		{Name: "the rate of release over that of the formula", Unit: quantity.One, Measured: formula},
	}}
	var more []quantity.Input
	s.poured, more = c.pour(v.Solvents, inAmounts)
	s.inputs = append(s.inputs, more...)
	s.incoming.first = len(s.inputs)
	for i, share := range v.Solvents {
		input, byMass := c.concentration(share.at(i)+"/incoming", "the incoming air's "+share.Solvent.Name,
			share.Solvent.Incoming)
		s.inputs, s.incoming.byMass = append(s.inputs, input), append(s.incoming.byMass, byMass)
	}
	for i, t := range v.After {
		s.after = append(s.after, c.need("/after"+indexed(i), t, quantity.Hour, span{0, week, false}).Value)
	}
	for _, share := range v.Solvents {
		s.solvent = append(s.solvent, share.Solvent)
	}
	if v.Release.Spill != nil && len(c.faults) == 0 {
		c.pool(s)
	}
	return s, c.faults.Err()
}

// mixing reads a mixing factor; left out, it is the default, anywhere between ideal and poor.
func (c *checker) mixing(at string, q quantity.Quantity) quantity.Measured {
	const ideal, poor = 1, 10
	if q.IsZero() {
		// A rectangular distribution over the range. Source: JCGM 100:2008 (GUM), 4.3.7 (recalled).
		return quantity.Measured{Value: defaultMixing, Standard: (poor - ideal) / math.Sqrt(12)}
	}
	return c.need(at, q, quantity.One, span{ideal, poor, false})
}

// airFlow reads the flow in m³/h, or the air changes an hour.
func (c *checker) airFlow(r Room) quantity.Input {
	flow, changes := !r.AirFlow.IsZero(), !r.AirChanges.IsZero()
	switch {
	case flow && !changes:
		q := c.need("/room/air/flow", r.AirFlow, "m3/h", span{0, 1e7, false})
		return quantity.Input{Name: "the flow of air", Unit: "m3/h", Measured: q}
	case changes && !flow:
		n := c.need("/room/air/changes", r.AirChanges, "1/h", span{0, 1000, false})
		return quantity.Input{Name: "the air changes", Unit: "1/h", Measured: n}
	}
	c.faults.Add("air-flow-choice", "/room/air", "Give exactly one of flow and changes; 0 is a closed room.")
	return quantity.Input{Name: "the flow of air", Unit: "m3/h"}
}

// release reads how the solvent goes into the air: the time that it depends on in hours, and of a spill the
// area in m² and the rate over that of the formula.
func (c *checker) release(r Release) (hours, area, formula quantity.Measured) {
	one := quantity.Exactly(1)
	ways := 0
	for _, way := range []bool{r.Steady != nil, r.AtOnce, r.Drying != nil, r.Spill != nil} {
		if way {
			ways++
		}
	}
	switch {
	case ways != 1:
		c.faults.Add("release-choice", "/release", "Give exactly one of steady, atOnce, drying and spill.")
	case r.Steady != nil:
		return c.need("/release/steady/duration", r.Steady.Duration, quantity.Hour, span{0.01, 168, false}), one, one
	case r.Drying != nil:
		return c.need("/release/drying/halfTime", r.Drying.HalfTime, quantity.Hour, span{0.001, 1000, false}), one, one
	case r.Spill != nil:
		return one, c.need("/release/spill/area", r.Spill.Area, quantity.SquareMetre, span{1e-4, 100, false}),
			quantity.Measured{Value: 1, Standard: formulaSpread}
	}
	return one, one, one
}
