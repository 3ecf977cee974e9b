package solution

import (
	"math"

	"meniscus/internal/quantity"
)

// Windows over which limits average, in hours.
const (
	workingDay = 8.0
	shortTerm  = 0.25
)

// VapourAnswer is what the work puts into the air.
type VapourAnswer struct {
	Assumed   []Assumption
	Solvents  []SolventInAir
	Explosive Explosive
	Limits    []LimitComparison
	AirNeeded []AirNeeded // only for a steady release
	// Evaporation is only for a spill.
	Evaporation *Evaporation
	// Usable is only where it was asked how much may be used.
	Usable   *Usable
	Clearing []Clearing // none for a spill that is all vapour at once
	Later    []AirAt    // at the times that were asked for
	Advice
}

// Assumption is a value that the caller left out and the service assumes.
type Assumption struct {
	Name   string
	Value  float64
	Unit   quantity.Unit
	Source Source
}

// SolventInAir is the vapour of one solvent in the room and in the near field.
type SolventInAir struct {
	Name string
	// SaturationPPM caps every concentration; nil where no vapour pressure is known.
	SaturationPPM *float64
	Room, Near    InAir
	// Capped tells that the box model went above saturation.
	Capped bool
}

// InAir is a concentration in one place, in ppm by volume with its uncertainty,
// and the same in mg/m³ at the temperature and pressure of the room.
type InAir struct {
	Peak    Level
	Short   Level // the worst 15 minutes
	Day     Level // 8 hours from the start
	Settled *Level
}

// AirAt is the air at one time.
type AirAt struct {
	Hours      float64 // from the start
	Room, Near []Level // of the solvents, in their order
}

// later gives the air at the times that were asked for.
func (s scene) later() []AirAt {
	var all []AirAt
	for _, t := range s.after {
		at := AirAt{Hours: t}
		for i := range s.solvent {
			at.Room, at.Near = append(at.Room, s.levelAt(i, t, false)), append(at.Near, s.levelAt(i, t, true))
		}
		all = append(all, at)
	}
	return all
}

// levelAt is the vapour of solvent i after t hours, in the room or beside the work.
func (s scene) levelAt(i int, t float64, beside bool) Level {
	ppm := quantity.Propagate(s.inputs, func(x []float64) float64 {
		c := s.release(x, i).concentration(s.room(x), t)
		if beside {
			c += s.release(x, i).concentration(near(x), t)
		}
		return s.ppm(x, i, c)
	})
	x := s.values()
	return Level{ppm, 1000 * gramsPerM3(ppm.Value, s.solvent[i].MolarMass, molarVolume(x[inTemperature], x[inPressure]))}
}

// ppm is the concentration of solvent i where the boxes hold c g/m³ for each gram of it: that and what comes in
// with the air, at most saturation. At the start the room holds what comes in.
func (s scene) ppm(x []float64, i int, c float64) float64 {
	e, v := s.solvent[i], molarVolume(x[inTemperature], x[inPressure])
	most, _ := e.saturation(x)
	return math.Min(most, s.incoming.ppm(x, i, e.MolarMass, v)+ppmOf(s.poured.grams(x, i)*c, e.MolarMass, v))
}

// Level is one concentration.
type Level struct {
	PPM     quantity.Outcome
	MgPerM3 float64
}

// levels of one place, in the order in which they are propagated.
const (
	levelPeak = iota
	levelShort
	levelDay
	levelSettled
	levelCount
)

// levels are the four levels of one place, in ppm.
type levels [levelCount]float64

// inAirOf gives the levels of every solvent in the room and near the work.
func (s scene) inAirOf(x []float64) (room, beside []levels) {
	box := s.room(x)
	var perGram, perGramBeside levels
	room, beside = make([]levels, len(s.solvent)), make([]levels, len(s.solvent))
	for i := range s.solvent {
		if i == 0 || s.how.Spill != nil { // all others go together
			perGram, perGramBeside = s.perGram(x, i, box), s.perGram(x, i, box, near(x))
		}
		for k := range levelCount {
			room[i][k], beside[i][k] = s.ppm(x, i, perGram[k]), s.ppm(x, i, perGramBeside[k])
		}
	}
	return room, beside
}

// perGram gives the four levels, in g/m³, for each gram of solvent i, where the vapour
// of the boxes adds up: the room alone, or the room and the near field.
func (s scene) perGram(x []float64, i int, boxes ...box) (c levels) {
	r := s.release(x, i)
	at := func(t float64) (c float64) {
		for _, b := range boxes {
			c += r.concentration(b, t)
		}
		return c
	}
	average := func(t, window float64) (c float64) {
		for _, b := range boxes {
			c += r.dose(b, t+window) - r.dose(b, t)
		}
		return c / window
	}
	first, last := math.Inf(1), 0.0
	settled := 0.0
	for _, b := range boxes {
		peak := math.Min(r.peak(b), week) // a closed room only rises
		first, last = math.Min(first, peak), math.Max(last, peak)
		settled += 1 / b.flow
	}
	if steady, ok := r.(steadyRelease); ok {
		c[levelSettled] = settled / steady.duration
	}
	c[levelPeak] = highest(first, last, at)
	c[levelShort] = highest(math.Max(0, first-shortTerm), last, func(t float64) float64 { return average(t, shortTerm) })
	c[levelDay] = average(0, workingDay)
	return c
}

// propagate gives every level of every solvent with its uncertainty, and the share
// of the lower explosive limit in the room and near the work.
func (s scene) propagate() (air []SolventInAir, explosive [2]quantity.Outcome) {
	n := len(s.solvent)
	all := quantity.PropagateAll(s.inputs, 2*levelCount*n+2, func(x, out []float64) {
		room, beside := s.inAirOf(x)
		for i := range n {
			copy(out[2*levelCount*i:], room[i][:])
			copy(out[2*levelCount*i+levelCount:], beside[i][:])
		}
		out[2*levelCount*n], out[2*levelCount*n+1] = s.explosiveShare(room), s.explosiveShare(beside)
	})
	for i := range n {
		air = append(air, s.solventInAir(i, all[2*levelCount*i:2*levelCount*(i+1)]))
	}
	return air, [2]quantity.Outcome{all[2*levelCount*n], all[2*levelCount*n+1]}
}

// solventInAir names the levels of solvent i.
func (s scene) solventInAir(i int, o []quantity.Outcome) SolventInAir {
	x := s.values()
	settles := s.settles(x)
	a := SolventInAir{Name: s.solvent[i].Name, Room: s.inAir(i, o[:levelCount], settles),
		Near: s.inAir(i, o[levelCount:], settles)}
	if cap, known := s.solvent[i].saturation(x); known {
		a.SaturationPPM = &cap
		a.Capped = a.Near.Peak.PPM.Value >= cap
	}
	return a
}

// settles tells whether there is a steady state: a steady release, and some air that passes.
func (s scene) settles(x []float64) bool {
	return s.how.Steady != nil && s.room(x).flow > 0
}

// values are the inputs without their uncertainty.
func (s scene) values() []float64 { return values(s.inputs) }

// saturation is the most that air can hold of a solvent, in ppm by volume:
// 10⁶ p_v/p. The pure solvent's pressure is taken for each part of a mixture,
// which is the upper bound while the composition of what is left shifts.
func (e Evaporating) saturation(x []float64) (ppm float64, known bool) {
	pressure, basis := e.Pressure.at(x[inTemperature])
	if basis == pressureUnknown {
		return math.Inf(1), false
	}
	return math.Min(1, pressure/x[inPressure]) * 1e6, true
}

// inAir names the propagated levels of solvent i.
func (s scene) inAir(i int, o []quantity.Outcome, settled bool) InAir {
	x := s.values()
	v := molarVolume(x[inTemperature], x[inPressure])
	level := func(o quantity.Outcome) Level {
		return Level{PPM: o, MgPerM3: 1000 * gramsPerM3(o.Value, s.solvent[i].MolarMass, v)}
	}
	in := InAir{Peak: level(o[levelPeak]), Short: level(o[levelShort]), Day: level(o[levelDay])}
	if settled {
		l := level(o[levelSettled])
		in.Settled = &l
	}
	return in
}
