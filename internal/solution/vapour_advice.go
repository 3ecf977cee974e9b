package solution

import (
	"fmt"

	"meniscus/internal/quantity"
)

// assumptions lists the values assumed where the caller gave none.
func (v Vapour) assumptions() []Assumption {
	var list []Assumption
	add := func(q quantity.Quantity, name string, value float64, unit quantity.Unit, source Source) {
		if q.IsZero() {
			list = append(list, Assumption{name, value, unit, source})
		}
	}
	add(v.Room.MixingFactor, "mixing factor of the room", defaultMixing, quantity.One, mixingSource)
	add(v.Room.Temperature, "temperature of the room", defaultCelsius, quantity.Celsius, practice)
	add(v.Room.Pressure, "pressure of the air", standardPress, quantity.KiloPascal,
		Cited("standard-atmosphere", CommonPractice))
	add(v.Near.Radius, "radius of the near field", defaultRadius, quantity.Metre, nearDefaults)
	add(v.Near.AirSpeed, "speed of the air at the work", defaultAirSpeed, quantity.MetresPerSec, nearDefaults)
	return list
}

// advise explains what the numbers mean and what they do not include.
func (a *VapourAnswer) advise(s scene, v Vapour) {
	a.cite(oneBoxSource, nearSource, idealGas)
	if v.Near.Radius.IsZero() || v.Near.AirSpeed.IsZero() {
		a.cite(nearDefaults)
	}
	if v.Release.Drying != nil {
		a.cite(dryingSource)
	}
	a.warn("breathing-zone", Info, nearSource,
		"The average of the room is not what the worker breathes: the near-work estimate is compared with the "+
			"limits, and the face bent over a wet surface meets more than that.")
	a.spillWarnings(s, v.Release)
	a.explosiveWarnings(s)
	a.limitWarnings()
	for i := range s.solvent {
		a.Millilitres += s.poured.millilitres(s.values(), i)
	}
	for i, in := range a.Solvents {
		a.solventWarnings(s, s.solvent[i], in)
		a.cite(s.solvent[i].Sources...)
	}
	if s.room(s.values()).flow == 0 {
		a.warn("closed-room", Warn, oneBoxSource,
			"No air passes through the room, so that vapour stays and adds up with every further use; nothing in "+
				"this answer makes such work acceptable.")
	}
	a.Steps = steps(v.Release)
	a.caution(Caution{"Vapours of solvents are heavier than air, flow along the floor and gather in sinks, boxes and " +
		"pits: switch off heat, flames and sparking equipment there too.", practice})
	if !spilled(v.Release) {
		a.caution(Caution{"Work where the vapour is drawn away from the face (fume hood, extraction arm, or outdoors with " +
			"the wind from the side), with gloves and eye protection that the product's safety data sheet names.", practice})
	}
	a.caution(Caution{"A cartridge respirator is chosen and fitted by trained people, and does nothing against a lack of " +
		"oxygen or an explosive mixture.", practice})
	a.cautionOn(s.solvent)
}

// spilled tells whether something went wrong, and is not work.
func spilled(how Release) bool { return how.AtOnce || how.Spill != nil }

// giveOffLess is the step against air that is above a limit.
const giveOffLess = "Give off less where a comparison is near or above 1: smaller areas, a slower solvent, " +
	"a poultice under a cover."

// steps are what the hands do at such work, or at a spill.
func steps(how Release) []string {
	if spilled(how) {
		return []string{
			"Send the others out, and put out flames and whatever is hot or sparks, if that can be done without going " +
				"near the spill.",
			"Let air in, and go out too where the spill is more than you are equipped for; call those who are trained.",
			"Soak it up with what the safety data sheet names, into a lidded metal bin, and keep out until the air has " +
				"cleared; a meter tells when.",
		}
	}
	return []string{
		"Let the air pass, or the extraction run, before the first vessel is opened and on afterwards.",
		"Keep vessels and brushes covered while they wait; put used swabs into a lidded metal bin.",
		giveOffLess,
		"Where the work is done often, have the air at the work measured: this is an estimate.",
	}
}

// spillWarnings say what the model of a spill is worth.
func (a *VapourAnswer) spillWarnings(s scene, how Release) {
	switch {
	case how.AtOnce:
		a.warn("spill-at-once", Warn, oneBoxSource, "A spill takes time to evaporate: all at once is a bound for the "+
			"peak, and says nothing of when the air has cleared. Give the area of the pool (spill) for the time that it takes.")
	case how.Spill != nil:
		a.cite(surfaceSource, spreadSource)
		a.warn("spill-formula", Warn, coolingSource, spillValidity)
		if len(s.solvent) > 1 {
			a.warn("spill-of-a-mixture", Warn, surfaceSource, mixtureSpill)
		}
	}
}

// cautionOn adds what is known of the hazards of solvents.
func (a *Advice) cautionOn(solvents []Evaporating) {
	for _, e := range solvents {
		a.caution(e.Cautions...)
	}
}

// explosiveWarnings: at 1 the air burns; a tenth of it is where alarms are
// commonly set (NIOSH sets the IDLH of acetone and ethanol at a tenth).
func (a *VapourAnswer) explosiveWarnings(s scene) {
	a.cite(leChatelier)
	idlh := Cited("niosh-idlh-1994", Verified)
	near, room := a.Explosive.Near.Value, a.Explosive.Room.Value
	switch {
	case room >= 1:
		a.warn("explosive-room", Block, leChatelier,
			fmt.Sprintf("The whole room would pass its lower explosive limit (%s times): do not do this.", about(room)))
	case near >= 1:
		a.warn("explosive-near", Block, leChatelier,
			fmt.Sprintf("The air at the work would pass its lower explosive limit (%s times): any spark "+
				"there lights it.", about(near)))
	case near >= 0.1:
		a.warn("explosive-share", Warn, idlh,
			fmt.Sprintf("The air at the work would reach %s %% of its lower explosive limit; a tenth is where alarms "+
				"are set and people leave.", about(100*near)))
	}
	if len(a.Explosive.Without) > 0 && a.Explosive.MixtureLimit != nil {
		a.warn("explosive-limit-unknown", Info, leChatelier, "No lower explosive limit is held for "+
			list(a.Explosive.Without)+": the share leaves it out.")
	}
	celsius := s.values()[inTemperature]
	for _, e := range s.solvent {
		if e.Flash != nil && *e.Flash <= celsius {
			a.warn("above-flash-point", Warn, practice,
				fmt.Sprintf("%s is at or above its flash point (%s °C): the air just over the liquid can be lit, "+
					"however little there is in the room.", capital(e.Name), number(*e.Flash)))
		}
	}
}

// limitWarnings warns where an estimate is above a limit, or where there is none to compare with.
func (a *VapourAnswer) limitWarnings() {
	if len(a.Limits) > 0 {
		a.cite(additive)
	} else {
		a.warn("no-limit", Warn, practice,
			"No published limit is held for these solvents, so the estimate is compared with nothing; see the safety "+
				"data sheet.")
	}
	for _, c := range a.Limits {
		for _, p := range c.Parts {
			a.cite(p.Source)
		}
		if c.Above == AboveYes && c.Leads {
			a.warn("above-limit", Warn, additive, c.Sentence)
		}
	}
}

// solventWarnings are about one solvent.
func (a *VapourAnswer) solventWarnings(s scene, e Evaporating, in SolventInAir) {
	celsius := s.values()[inTemperature]
	if e.frozen(celsius) {
		a.warn("may-freeze", Warn, e.FreezesSource, capital(e.Name)+" freezes at "+number(*e.Freezes)+" °C by itself: frozen, it "+
			"gives off less vapour than the liquid that is computed here, and the rest when it is warm.")
	}
	pressure, basis := e.Pressure.at(celsius)
	switch {
	case basis == pressureUnknown:
		a.warn("saturation-unknown", Info, practice, "No vapour pressure of "+e.Name+
			" is held for this temperature, so its concentration is not capped at saturation.")
	case in.Capped:
		a.warn("saturated", Warn, idealGas,
			fmt.Sprintf("The air at the work cannot hold all the %s: it is given at saturation, %s ppm (vapour "+
				"pressure %s kPa).", e.Name, number(*in.SaturationPPM), number(pressure)))
	}
	if e.Carcinogen {
		a.warnCarcinogen(e)
	}
}

// warnCarcinogen warns that meeting the limit is not enough for a solvent that may cause cancer.
func (a *Advice) warnCarcinogen(e Evaporating) {
	a.warn("carcinogen", Warn,
		Cited("clp-2026", Verified),
		capital(e.Name)+
			" is classed for cancer (H350 or H351) in its harmonised entry, if the data sheet of the product does "+
			"not say otherwise: a limit is no aim there; use another solvent, or keep every exposure as low as can be.")
}

// finite tells whether no number of the answer is NaN or infinite.
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
		ok = ok && (n.Room == nil || n.Room.Finite())
	}
	if e := a.Evaporation; e != nil {
		ok = ok && e.Rate.Finite() && e.Hours.Finite()
	}
	return ok
}
