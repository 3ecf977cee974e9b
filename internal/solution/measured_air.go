package solution

import (
	"fmt"
	"math"

	"meniscus/internal/quantity"
)

// MeasuredAir asks to evaluate concentrations measured in the air: in ppm and in mg/m³,
// against the limits, against the lower explosive limit, and how they fall after the
// release has ended.
type MeasuredAir struct {
	Readings              []AirReading
	Temperature, Pressure quantity.Quantity
	// Clears is the room in which they fall; nil where that is not asked.
	Clears *Clears
}

// AirReading is the concentration of one solvent, in parts of air or as a mass in it.
type AirReading struct {
	Solvent       Evaporating // with what of it comes in with the air
	Concentration quantity.Quantity
}

// Clears is a room that clears, and the times at which its air is asked for.
type Clears struct {
	Room  Room
	After []quantity.Quantity
}

// MeasuredAirAnswer is the evaluation of the readings.
type MeasuredAirAnswer struct {
	Assumed   []Assumption
	Solvents  []MeasuredSolvent
	Explosive Explosive // Near is not set: a reading has no near field
	Limits    []LimitComparison
	Clearing  []Clearing
	Later     []LaterAir
	Advice
}

// MeasuredSolvent is one reading both ways.
type MeasuredSolvent struct {
	Name string
	Level
	// SaturationPPM is the most that the air holds; nil where no vapour pressure is known.
	SaturationPPM *float64
}

// LaterAir is the air after a time without further release.
type LaterAir struct {
	Hours  float64
	Levels []Level // of the solvents, in their order
}

// conventionCelsius is the temperature at which limits are converted: 24.45 L/mol.
const conventionCelsius = 25

var conventionSource = Cited("convention-24-45", CommonPractice)

// Positions of the inputs of measured air; the concentrations follow.
const (
	airTemperature = iota
	airPressure
	airVolume
	airFlow
	airMixing
	airReadings
)

// measuredAir is a question that was read.
type measuredAir struct {
	MeasuredAir
	inputs    []quantity.Input
	byMass    []bool // of the readings
	incoming  incoming
	byChanges bool
	after     []float64
}

// ComputeMeasuredAir answers the question, or gives every fault in it.
func ComputeMeasuredAir(in MeasuredAir) (MeasuredAirAnswer, error) {
	m, err := in.read()
	if err != nil {
		return MeasuredAirAnswer{}, err
	}
	a := MeasuredAirAnswer{Assumed: in.assumptions()}
	for i := range in.Readings {
		a.Solvents = append(a.Solvents, m.solvent(i))
	}
	a.Explosive = m.explosive()
	a.Limits = m.compare()
	if in.Clears != nil {
		a.Clearing, a.Later = m.clearing(), m.later()
	}
	a.Answer = a.says()
	a.citeAssumptions(a.Assumed)
	a.advise(m)
	return a, nil
}

// read reads the question.
func (in MeasuredAir) read() (measuredAir, error) {
	var c checker
	m := measuredAir{MeasuredAir: in, inputs: []quantity.Input{
		{Name: "the temperature", Unit: quantity.Celsius,
			Measured: c.maybe("/temperature", in.Temperature, quantity.Celsius, span{-10, 50, false}, conventionCelsius)},
		{Name: "the pressure of the air", Unit: quantity.KiloPascal,
			Measured: c.maybe("/pressure", in.Pressure, quantity.KiloPascal, span{50, 110, false}, standardPress)},
		{Name: "the volume of the room", Unit: "m3", Measured: quantity.Exactly(1)},
		{Name: "the flow of air", Unit: "m3/h"},
		{Name: "the mixing factor", Unit: quantity.One, Measured: quantity.Exactly(1)},
	}}
	if r := in.Clears; r != nil {
		m.inputs[airVolume].Measured = c.need("/room/volume", r.Room.Volume, "m3", span{0.1, 1e6, false})
		m.inputs[airFlow] = c.airFlow(r.Room)
		m.inputs[airMixing].Measured = c.mixing("/room/mixingFactor", r.Room.MixingFactor)
		m.byChanges = !r.Room.AirChanges.IsZero()
		for i, t := range r.After {
			m.after = append(m.after, c.need("/after"+indexed(i), t, quantity.Hour, span{0, week, false}).Value)
		}
	}
	for i, r := range in.Readings {
		at := "/solvents" + indexed(i) + "/concentration"
		if r.Concentration.IsZero() {
			c.need(at, r.Concentration, quantity.PPM, span{0, 1e6, false})
		}
		input, byMass := c.concentration(at, "the reading of "+r.Solvent.Name, r.Concentration)
		m.byMass, m.inputs = append(m.byMass, byMass), append(m.inputs, input)
	}
	m.incoming.first = len(m.inputs)
	for i, r := range in.Readings {
		input, byMass := c.concentration("/solvents"+indexed(i)+"/incoming", "the incoming air's "+r.Solvent.Name,
			r.Solvent.Incoming)
		m.incoming.byMass, m.inputs = append(m.incoming.byMass, byMass), append(m.inputs, input)
	}
	return m, c.faults.Err()
}

// ppm is reading i in parts per million by volume.
func (m measuredAir) ppm(x []float64, i int) float64 {
	return asPPM(x[airReadings+i], m.byMass[i], m.Readings[i].Solvent.MolarMass,
		molarVolume(x[airTemperature], x[airPressure]))
}

// comingIn is what the incoming air holds of solvent i, in the same parts.
func (m measuredAir) comingIn(x []float64, i int) float64 {
	return m.incoming.ppm(x, i, m.Readings[i].Solvent.MolarMass, molarVolume(x[airTemperature], x[airPressure]))
}

// level is reading i both ways, after t hours without a source:
//
//	C(t) = c₀ + (C − c₀) e^(−k t),  k = Q/(K V)
//
// with c₀ in the incoming air. Source: one-box mass balance (box.go).
func (m measuredAir) level(i int, hours float64) Level {
	x := values(m.inputs)
	l := Level{PPM: quantity.Propagate(m.inputs, func(x []float64) float64 {
		in := m.comingIn(x, i)
		return in + (m.ppm(x, i)-in)*math.Exp(-m.changes(x)*hours)
	})}
	l.MgPerM3 = 1000 * gramsPerM3(l.PPM.Value, m.Readings[i].Solvent.MolarMass,
		molarVolume(x[airTemperature], x[airPressure]))
	return l
}

// changes is k, per hour.
func (m measuredAir) changes(x []float64) float64 {
	if m.byChanges {
		return x[airFlow] / x[airMixing]
	}
	return x[airFlow] / x[airVolume] / x[airMixing]
}

func (m measuredAir) solvent(i int) MeasuredSolvent {
	x := values(m.inputs)
	e := m.Readings[i].Solvent
	s := MeasuredSolvent{Name: e.Name, Level: m.level(i, 0)}
	if pressure, basis := e.Pressure.at(x[airTemperature]); basis != pressureUnknown {
		most := math.Min(1, pressure/x[airPressure]) * 1e6
		s.SaturationPPM = &most
	}
	return s
}

// explosive is the share of the lower explosive limit by Le Chatelier's rule
// (explosive.go).
func (m measuredAir) explosive() Explosive {
	var e Explosive
	e.Room = quantity.Propagate(m.inputs, func(x []float64) (share float64) {
		for i, r := range m.Readings {
			if r.Solvent.LowerExplosive != nil {
				share += m.ppm(x, i) / (*r.Solvent.LowerExplosive * 1e4)
			}
		}
		return share
	})
	var sum float64
	for i, r := range m.Readings {
		if r.Solvent.LowerExplosive == nil {
			e.Without = append(e.Without, r.Solvent.Name)
			continue
		}
		sum += m.ppm(values(m.inputs), i)
	}
	if e.Room.Value > 0 {
		limit := sum / 1e4 / e.Room.Value
		e.MixtureLimit = &limit
	}
	return e
}

// solvents are those of the readings.
func (m measuredAir) solvents() []Evaporating {
	var all []Evaporating
	for _, r := range m.Readings {
		all = append(all, r.Solvent)
	}
	return all
}

// compare sets the readings against every list, as averages over the time that its
// limits are for.
func (m measuredAir) compare() []LimitComparison {
	x := values(m.inputs)
	reading := func(i int, _ LimitKind) float64 { return m.ppm(x, i) }
	return compareAll(m.solvents(), reading, reading, LimitComparison.measuredSentence)
}

func (c LimitComparison) measuredSentence() string {
	window := map[LimitKind]string{WorkingDay: "if it is the average of 8 hours",
		ShortTerm: "if it is the average of 15 minutes", Ceiling: "at that moment"}[c.Kind]
	together := ""
	if len(c.Parts) > 1 {
		together = " for the solvents together"
	}
	text := fmt.Sprintf("%s: this air is %s times the limit%s %s; it says nothing of those who are sensitive", c.List,
		number(c.Room), together, window)
	return text + c.unsure() + "."
}

// clearing is when the air has fallen to each list's limit for a working day:
//
//	Δt = (1/k) ln(Σ(Cᵢ − cᵢ)/Lᵢ / (1 − Σ cᵢ/Lᵢ))
//
// with cᵢ in the incoming air.
func (m measuredAir) clearing() []Clearing {
	x := values(m.inputs)
	k := m.changes(x)
	var all []Clearing
	for _, c := range m.compare() {
		if c.Kind != WorkingDay {
			continue
		}
		comingIn := 0.0
		for i, r := range m.Readings {
			if limit, ok := r.Solvent.limit(c.List, WorkingDay); ok {
				comingIn += m.comingIn(x, i) / limit.PPM
			}
		}
		hours := math.Log((c.Room-comingIn)/(1-comingIn)) / k
		of := Clearing{List: c.List, Leads: c.Leads,
			Sentence: c.List + ": the air does not fall to the limit within a week."}
		switch {
		case c.Room <= 1:
			hours = 0
			of.Hours, of.Sentence = &hours, c.List+": the air is at or below the number of the limit; it still holds vapour."
		case comingIn < 1 && k > 0 && hours <= week:
			of.Hours, of.Sentence = &hours,
				fmt.Sprintf("%s: the air falls to the number of the limit about %s after the last vapour came; it "+
					"still holds vapour then.", c.List, quantity.SaidHours(hours, 2))
		}
		all = append(all, of)
	}
	return all
}

// later is the air at the times that were asked for.
func (m measuredAir) later() []LaterAir {
	var all []LaterAir
	for _, t := range m.after {
		l := LaterAir{Hours: t}
		for i := range m.Readings {
			l.Levels = append(l.Levels, m.level(i, t))
		}
		all = append(all, l)
	}
	return all
}

func (in MeasuredAir) assumptions() []Assumption {
	var all []Assumption
	if in.Temperature.IsZero() {
		all = append(all, Assumption{"temperature of the air", conventionCelsius, quantity.Celsius, conventionSource})
	}
	if in.Pressure.IsZero() {
		all = append(all, Assumption{"pressure of the air", standardPress, quantity.KiloPascal,
			Cited("standard-atmosphere", CommonPractice)})
	}
	if in.Clears != nil && in.Clears.Room.MixingFactor.IsZero() {
		all = append(all, Assumption{"mixing factor of the room", defaultMixing, quantity.One, mixingSource})
	}
	return all
}

// advise says what the readings leave out.
func (a *MeasuredAirAnswer) advise(m measuredAir) {
	a.cite(conventionSource, idealGas, leChatelier, additive)
	if m.Clears != nil {
		a.cite(oneBoxSource)
	}
	for _, e := range m.solvents() {
		a.cite(e.Sources...)
		if e.Carcinogen {
			a.warnCarcinogen(e)
		}
	}
	a.warn("where-it-was-measured", Info, nearSource,
		"A reading holds for the place and the time at which it was taken: beside the work the air holds more than "+
			"in the middle of the room, and an average hides its peaks.")
	switch share := a.Explosive.Room.Value; {
	case share >= 1:
		a.warn("explosive-room", Block, leChatelier,
			fmt.Sprintf("This air is past its lower explosive limit (%s times): leave, switch nothing, let no spark "+
				"arise, call those who are trained.", about(share)))
	case share >= 0.1:
		a.warn("explosive-share", Warn, leChatelier,
			fmt.Sprintf("This air is at %s %% of its lower explosive limit; a tenth is where alarms are set and "+
				"people leave.", about(100*share)))
	}
	for i, s := range a.Solvents {
		if s.SaturationPPM != nil && s.PPM.Value > *s.SaturationPPM*(1+1e-9) {
			a.warn("above-saturation", Warn, idealGas,
				fmt.Sprintf("Air at this temperature holds at most %s ppm of %s as vapour: the reading is more, so "+
					"it counts droplets, or is wrong.", number(*s.SaturationPPM), m.Readings[i].Solvent.Name))
		}
	}
	for _, c := range a.Limits {
		for _, p := range c.Parts {
			a.cite(p.Source)
		}
		if c.Above == AboveYes && c.Leads {
			a.warn("above-limit", Warn, additive, c.Sentence)
		}
	}
	if len(a.Limits) == 0 {
		a.warn("no-limit", Warn, practice,
			"No published limit is held for these solvents, so the air is compared with nothing; see the safety data sheet.")
	}
	a.Steps = []string{
		"Write down where, when and for how long it was measured, and with what.",
		"Where a comparison is near or above 1, give off less or draw the vapour away where it arises, and measure again.",
	}
	a.Cautions = append(a.Cautions,
		Caution{"A cartridge respirator is chosen and fitted by trained people, and does nothing against a lack of " +
			"oxygen or an explosive mixture.", practice})
	a.cautionOn(m.solvents())
}
