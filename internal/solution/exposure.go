package solution

import (
	"fmt"
	"math"
	"strings"

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
	Clearing  []Clearing
	Advice
}

// Assumption is a number that the caller left to the service.
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

// concentrations gives every solvent's vapour in the room and near the work.
func (s scene) concentrations() []SolventInAir {
	list := make([]SolventInAir, len(s.solvent))
	x := s.values()
	for i, solvent := range s.solvent {
		cap, known := solvent.saturation(x)
		all := quantity.PropagateAll(s.inputs, 2*levelCount, func(x, out []float64) {
			room := s.room(x)
			s.levels(x, i, out[:levelCount], room)
			s.levels(x, i, out[levelCount:], room, near(x))
		})
		_, steady := s.release(x).(steadyRelease)
		list[i] = SolventInAir{
			Name: solvent.Name,
			Room: s.inAir(i, all[:levelCount], steady && room0(s, x)),
			Near: s.inAir(i, all[levelCount:], steady && room0(s, x)),
		}
		if known {
			list[i].SaturationPPM = &cap
			list[i].Capped = all[levelCount+levelPeak].Value >= cap
		}
	}
	return list
}

// room0 tells whether the room has a steady state at all: some air passes.
func room0(s scene, x []float64) bool { return s.room(x).flow > 0 }

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

// levels writes the four levels, in ppm, of solvent i where the boxes' vapour
// adds up: the room alone, or the room and the near field.
func (s scene) levels(x []float64, i int, out []float64, boxes ...box) {
	r := s.release(x)
	mass := s.poured.grams(x, i)
	v := molarVolume(x[inTemperature], x[inPressure])
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
		peak := math.Min(r.peak(b), workingDay*21) // a closed room only rises
		first, last = math.Min(first, peak), math.Max(last, peak)
		settled += 1 / b.flow
	}
	if steady, ok := r.(steadyRelease); ok {
		out[levelSettled] = settled / steady.duration
	}
	out[levelPeak] = highest(first, last, at)
	out[levelShort] = highest(math.Max(0, first-shortTerm), last, func(t float64) float64 { return average(t, shortTerm) })
	out[levelDay] = average(0, workingDay)
	cap, _ := s.solvent[i].saturation(x)
	for k := range out {
		out[k] = math.Min(cap, ppmOf(mass*out[k], s.solvent[i].MolarMass, v))
	}
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

// LimitComparison sets the near-work estimate against one list of limits. The
// room's own figure stands beside it and is never compared alone: the worker does
// not breathe the average of the room.
type LimitComparison struct {
	List string
	Kind LimitKind
	// Near and Room are Σ C/L over the solvents that have such a limit.
	Near, Room float64
	// Parts are the shares of the near estimate, one a solvent.
	Parts []LimitPart
	// Without names the solvents for which this list holds no such limit: the sum
	// is then a lower bound.
	Without  []string
	Above    bool
	Sentence string
}

// LimitPart is one solvent's share of a sum.
type LimitPart struct {
	Solvent string
	PPM     float64 // the limit
	Near    float64 // C/L
	Source  Source
}

// compare sets the estimates against every list and kind of limit that any of
// the solvents has:
//
//	Σ Cᵢ/Lᵢ   above 1 is above the limit, for solvents that act alike
//
// with the near-field estimate over the time that the limit averages over.
// Source: additive effect, university industrial-hygiene notes (read).
func (s scene) compare(air []SolventInAir) []LimitComparison {
	var list []LimitComparison
	for _, key := range s.limitKeys() {
		list = append(list, s.compareOne(key.List, key.Kind, air))
	}
	return list
}

// limitKeys lists the lists and kinds of limit, in the order in which they come.
func (s scene) limitKeys() []ExposureLimit {
	var keys []ExposureLimit
	seen := map[string]bool{}
	for _, solvent := range s.solvent {
		for _, l := range solvent.Limits {
			if k := l.List + "\n" + string(l.Kind); !seen[k] {
				seen[k] = true
				keys = append(keys, ExposureLimit{List: l.List, Kind: l.Kind})
			}
		}
	}
	return keys
}

func (s scene) compareOne(list string, kind LimitKind, air []SolventInAir) LimitComparison {
	c := LimitComparison{List: list, Kind: kind}
	for i, solvent := range s.solvent {
		limit, ok := solvent.limit(list, kind)
		if !ok {
			c.Without = append(c.Without, solvent.Name)
			continue
		}
		near, room := air[i].Near.over(kind)/limit.PPM, air[i].Room.over(kind)/limit.PPM
		c.Near += near
		c.Room += room
		c.Parts = append(c.Parts, LimitPart{Solvent: solvent.Name, PPM: limit.PPM, Near: near, Source: limit.Source})
	}
	c.Above = c.Near > 1
	c.Sentence = c.sentence()
	return c
}

// limit finds a solvent's limit in a list.
func (e Evaporating) limit(list string, kind LimitKind) (ExposureLimit, bool) {
	for _, l := range e.Limits {
		if l.List == list && l.Kind == kind && l.PPM > 0 {
			return l, true
		}
	}
	return ExposureLimit{}, false
}

// over gives the level that a kind of limit is compared with.
func (a InAir) over(kind LimitKind) float64 {
	switch kind {
	case ShortTerm:
		return a.Short.PPM.Value
	case Ceiling:
		return a.Peak.PPM.Value
	}
	return a.Day.PPM.Value
}

func (c LimitComparison) sentence() string {
	window := map[LimitKind]string{WorkingDay: "over 8 hours", ShortTerm: "over the worst 15 minutes", Ceiling: "at its highest"}[c.Kind]
	of := "of the limit"
	if len(c.Parts) > 1 {
		of = "of the limit for the solvents together"
	}
	text := fmt.Sprintf("%s %s: the estimate near the work is about %s times %s", c.List, window, about(c.Near), strings.TrimPrefix(of, "of "))
	if !c.Above {
		text += "; this is an estimate, not a measurement, and says nothing of those who are sensitive"
	}
	if len(c.Without) > 0 {
		text += "; no such limit is held for " + strings.Join(c.Without, ", ") + ", so the sum is too low"
	}
	return text + "."
}

// Explosive is how near the air is to burning.
type Explosive struct {
	// Room and Near are the share of the lower explosive limit at the highest
	// concentration, for all vapours together: 1 burns.
	Room, Near quantity.Outcome
	// MixtureLimit is the lower explosive limit of this mixture of vapours, % by
	// volume; nil if none of them burns.
	MixtureLimit *float64
	// Without names the solvents that have no such limit here.
	Without []string
}

// explosive gives the share of the lower explosive limit, with yᵢ the part of
// vapour i among the vapours that burn:
//
//	LEL = 1/Σ(yᵢ/LELᵢ)   and so   ΣCᵢ/LEL = Σ(Cᵢ/LELᵢ)
//
// Source: Le Chatelier's rule (recalled). 1 % by volume is 10 000 ppm. The peaks
// of the solvents are taken as if they came together.
func (s scene) explosive(air []SolventInAir) Explosive {
	var e Explosive
	var sum, shares float64
	for i, solvent := range s.solvent {
		if solvent.LowerExplosive == nil {
			e.Without = append(e.Without, solvent.Name)
			continue
		}
		sum += air[i].Near.Peak.PPM.Value
		shares += air[i].Near.Peak.PPM.Value / *solvent.LowerExplosive
	}
	if shares > 0 {
		limit := sum / shares
		e.MixtureLimit = &limit
	}
	both := quantity.PropagateAll(s.inputs, 2, func(x, out []float64) {
		var levels [levelCount]float64
		room := s.room(x)
		out[0], out[1] = 0, 0
		for i, solvent := range s.solvent {
			if solvent.LowerExplosive == nil {
				continue
			}
			s.levels(x, i, levels[:], room)
			out[0] += levels[levelPeak] / (*solvent.LowerExplosive * 1e4)
			s.levels(x, i, levels[:], room, near(x))
			out[1] += levels[levelPeak] / (*solvent.LowerExplosive * 1e4)
		}
	})
	e.Room, e.Near = both[0], both[1]
	return e
}
