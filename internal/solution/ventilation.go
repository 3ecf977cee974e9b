package solution

import (
	"fmt"
	"math"
	"strings"

	"meniscus/internal/quantity"
)

// AirNeeded is the flow of air that would hold a steady release at one list's
// limit over a working day.
type AirNeeded struct {
	List string
	// Room holds the average of the room at the limit: Q = K Σ(Gᵢ/Lᵢ). It leaves
	// the air at the work above it.
	Room quantity.Outcome // m³/h
	// Near holds the air at the work at the limit; nil where no flow through the
	// room does, because the near field's own exchange is too small.
	Near     *quantity.Outcome // m³/h
	Sentence string
}

// airNeeded computes, for a steady release,
//
//	S = Σ Gᵢ/Lᵢ          clean air that dilutes the release to the limit, m³/h
//	Q = K S              room at the limit
//	1/Q' = 1/S - 1/β     near field at the limit (from C = G/Q' + G/β), Q = K Q'
//
// with Gᵢ in g/h while the work lasts and Lᵢ in g/m³. Where S ≥ β no flow
// through the room is enough. Source of Q = K S: university industrial-hygiene
// notes (read); its published example is a test.
func (s scene) airNeeded() []AirNeeded {
	var list []AirNeeded
	for _, key := range s.limitKeys() {
		if key.Kind != WorkingDay {
			continue
		}
		list = append(list, s.airNeededFor(key.List))
	}
	return list
}

func (s scene) airNeededFor(list string) AirNeeded {
	both := quantity.PropagateAll(s.inputs, 2, func(x, out []float64) {
		clean := s.cleanAir(x, list)
		out[0] = x[inMixing] * clean
		out[1] = x[inMixing] / (1/clean - 1/near(x).flow)
	})
	a := AirNeeded{List: list, Room: both[0]}
	if x := s.values(); s.cleanAir(x, list) < near(x).flow {
		a.Near = &both[1]
	}
	a.Sentence = a.sentence()
	return a
}

// cleanAir is S = Σ Gᵢ/Lᵢ in m³/h over the solvents that have a working-day limit in the list.
func (s scene) cleanAir(x []float64, list string) float64 {
	v := molarVolume(x[inTemperature], x[inPressure])
	sum := 0.0
	for i, solvent := range s.solvent {
		if limit, ok := solvent.limit(list, WorkingDay); ok {
			sum += s.poured.grams(x, i) / x[inTime] / gramsPerM3(limit.PPM, solvent.MolarMass, v)
		}
	}
	return sum
}

func (a AirNeeded) sentence() string {
	text := fmt.Sprintf("%s: about %s m³ of air an hour hold the average of the room at the limit", a.List, about(a.Room.Value))
	if a.Near == nil {
		return text + ", and no flow through the room brings the air at the work down to it: catch the vapour where it arises (fume hood, extraction arm), or give off less of it in the time."
	}
	return text + fmt.Sprintf("; %s m³ an hour hold the air at the work at it.", about(a.Near.Value))
}

// Clearing is when the air has fallen to a list's limit for a working day, counted
// from the start of the release.
type Clearing struct {
	List string
	// Hours is nil where the air does not come down within a week.
	Hours    *float64
	Sentence string
}

// week is how far ahead the clearing of the air is looked for, h.
const week = 168.0

// clearing finds, for each list, the hour after the release at which Σ Cᵢ/Lᵢ of
// the air at the work falls to 1. In a room without a source that is
//
//	Δt = (V/Q') ln(C₁/C₂)
//
// (university industrial-hygiene notes, read); here the root is found for every
// kind of release alike.
func (s scene) clearing() []Clearing {
	x := s.values()
	r := s.release(x)
	start := math.Min(math.Max(r.peak(s.room(x)), r.peak(near(x))), week)
	if steady, ok := r.(steadyRelease); ok {
		start = steady.duration
	}
	var list []Clearing
	for _, key := range s.limitKeys() {
		if key.Kind != WorkingDay {
			continue
		}
		excess := func(t float64) float64 { return s.indexAt(x, t, key.List) - 1 }
		c := Clearing{List: key.List, Sentence: key.List + ": the air does not fall to the limit within a week."}
		if excess(start) <= 0 {
			start := start
			c.Hours, c.Sentence = &start, key.List+": the air at the work is at or below the number of the limit once the release is past its height; it still holds vapour."
		} else if excess(week) < 0 {
			t := bisect(start, week, excess)
			c.Hours, c.Sentence = &t, fmt.Sprintf("%s: the air falls to the number of the limit about %s h after the start; it still holds vapour then.", key.List, about(t))
		}
		list = append(list, c)
	}
	return list
}

// indexAt is Σ Cᵢ/Lᵢ at the work after t hours for one list's working-day limits.
func (s scene) indexAt(x []float64, t float64, list string) float64 {
	r := s.release(x)
	c := r.concentration(s.room(x), t) + r.concentration(near(x), t)
	v := molarVolume(x[inTemperature], x[inPressure])
	sum := 0.0
	for i, solvent := range s.solvent {
		limit, ok := solvent.limit(list, WorkingDay)
		if !ok {
			continue
		}
		cap, _ := solvent.saturation(x)
		sum += math.Min(cap, ppmOf(s.poured.grams(x, i)*c, solvent.MolarMass, v)) / limit.PPM
	}
	return sum
}

// assumptions lists what the caller left to the service.
func (v Vapour) assumptions() []Assumption {
	var list []Assumption
	add := func(q quantity.Quantity, name string, value float64, unit quantity.Unit, source Source) {
		if q.IsZero() {
			list = append(list, Assumption{name, value, unit, source})
		}
	}
	add(v.Room.MixingFactor, "mixing factor of the room", defaultMixing, quantity.One, mixingSource)
	add(v.Room.Temperature, "temperature of the room", defaultCelsius, quantity.Celsius, practice)
	add(v.Room.Pressure, "pressure of the air", standardPress, quantity.KiloPascal, Source{"standard atmosphere, exact by definition", Verified})
	add(v.Near.Radius, "radius of the near field", defaultRadius, quantity.Metre, nearDefaults)
	add(v.Near.AirSpeed, "speed of the air at the work", defaultAirSpeed, quantity.MetresPerSec, nearDefaults)
	return list
}

// advise says what the numbers mean and what they leave out.
func (a *VapourAnswer) advise(s scene, v Vapour) {
	a.cite(oneBoxSource, nearSource, idealGas)
	if v.Near.Radius.IsZero() || v.Near.AirSpeed.IsZero() {
		a.cite(nearDefaults)
	}
	if v.Release.Drying != nil {
		a.cite(dryingSource)
	}
	a.warn("breathing-zone", Info, nearSource, "The average of the room is not what the worker breathes: the near-work estimate is compared with the limits, and the face bent over a wet surface meets more than that.")
	a.explosiveWarnings(s)
	a.limitWarnings()
	for i, in := range a.Solvents {
		a.solventWarnings(s, s.solvent[i], in)
		a.cite(s.solvent[i].Sources...)
	}
	if s.room(s.values()).flow == 0 {
		a.warn("closed-room", Warn, oneBoxSource, "No air passes through the room, so that vapour stays and adds up with every further use; nothing in this answer makes such work acceptable.")
	}
	a.Steps = []string{
		"Start the extraction or open the way for the air before the first vessel is opened, and let it run on afterwards.",
		"Keep vessels, brushes and swabs closed or covered while they wait, and put used swabs into a lidded metal bin at once.",
		"Give off less in the time where a comparison is near or above 1: smaller areas, a slower solvent, a poultice under a cover.",
		"Where the work is done often, have the air at the work measured: this is an estimate.",
	}
	a.Cautions = append(a.Cautions, defersToSheet,
		Caution{"Vapours of solvents are heavier than air, flow along the floor and gather in sinks, boxes and pits: switch off heat, flames and sparking equipment there too.", practice},
		Caution{"Work where the vapour is drawn away from the face (fume hood, extraction arm, or outdoors with the wind from the side), with gloves and eye protection that the product's safety data sheet names.", practice},
		Caution{"A cartridge respirator is chosen and fitted by trained people, and does nothing against a lack of oxygen or an explosive mixture.", practice},
	)
}

// explosiveWarnings: at 1 the air burns; a tenth of it is where alarms are
// commonly set (NIOSH sets the IDLH of acetone and ethanol at a tenth).
func (a *VapourAnswer) explosiveWarnings(s scene) {
	a.cite(leChatelier)
	idlh := Source{"NIOSH documentation of concentrations immediately dangerous to life or health, May 1994: 10 % of the lower explosive limit as a ground for the value", Verified}
	near, room := a.Explosive.Near.Value, a.Explosive.Room.Value
	switch {
	case room >= 1:
		a.warn("explosive-room", Block, leChatelier, fmt.Sprintf("The whole room would pass its lower explosive limit (%s times): do not do this.", about(room)))
	case near >= 1:
		a.warn("explosive-near", Block, leChatelier, fmt.Sprintf("The air at the work would pass its lower explosive limit (%s times): any spark there lights it.", about(near)))
	case near >= 0.1:
		a.warn("explosive-share", Warn, idlh, fmt.Sprintf("The air at the work would reach %s %% of its lower explosive limit; a tenth is where alarms are set and people leave.", about(100*near)))
	}
	if len(a.Explosive.Without) > 0 && a.Explosive.MixtureLimit != nil {
		a.warn("explosive-limit-unknown", Info, leChatelier, "No lower explosive limit is held for "+strings.Join(a.Explosive.Without, ", ")+": the share leaves it out.")
	}
	celsius := s.values()[inTemperature]
	for _, e := range s.solvent {
		if e.Flash != nil && *e.Flash <= celsius {
			a.warn("above-flash-point", Warn, practice, fmt.Sprintf("%s is at or above its flash point (%s °C): the air just over the liquid can be lit, however little there is in the room.", capital(e.Name), number(*e.Flash)))
		}
	}
}

// limitWarnings warns where an estimate is above a limit, or where there is none to compare with.
func (a *VapourAnswer) limitWarnings() {
	if len(a.Limits) > 0 {
		a.cite(additive)
	} else {
		a.warn("no-limit", Warn, practice, "No published limit is held for these solvents, so the estimate is compared with nothing; see the safety data sheet.")
	}
	for _, c := range a.Limits {
		for _, p := range c.Parts {
			a.cite(p.Source)
		}
		if c.Above {
			a.warn("above-limit", Warn, additive, c.Sentence)
		}
	}
}

// solventWarnings are about one solvent.
func (a *VapourAnswer) solventWarnings(s scene, e Evaporating, in SolventInAir) {
	pressure, basis := e.Pressure.at(s.values()[inTemperature])
	switch {
	case basis == pressureUnknown:
		a.warn("saturation-unknown", Info, practice, "No vapour pressure of "+e.Name+" is held for this temperature, so its concentration is not capped at saturation.")
	case in.Capped:
		a.warn("saturated", Warn, idealGas, fmt.Sprintf("The air at the work cannot hold all the %s: it is given at saturation, %s ppm (vapour pressure %s kPa).", e.Name, number(*in.SaturationPPM), number(pressure)))
	}
	if e.Carcinogen {
		a.warn("carcinogen", Warn, Source{"hazard statements of " + e.Name, Verified}, capital(e.Name)+" is classed for cancer (H350 or H351): a limit is no aim there; use another solvent, or keep every exposure as low as can be.")
	}
}

// finite tells whether every number of the answer may leave the package.
func (a VapourAnswer) finite() bool {
	ok := finite(a.Explosive.Near.Value, a.Explosive.Near.Standard, a.Explosive.Room.Value, a.Explosive.Room.Standard)
	for _, in := range a.Solvents {
		for _, place := range []InAir{in.Room, in.Near} {
			for _, l := range []Level{place.Peak, place.Short, place.Day} {
				ok = ok && finite(l.PPM.Value, l.PPM.Standard, l.MgPerM3)
			}
		}
	}
	for _, c := range a.Limits {
		ok = ok && finite(c.Near, c.Room)
	}
	for _, n := range a.AirNeeded {
		ok = ok && finite(n.Room.Value) && !math.IsNaN(n.Room.Standard)
	}
	return ok
}
