package substance

import (
	"strings"

	"meniscus/internal/material"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// InAir finds what a reading of the air is of: a solvent, or a reagent. Of it the molar mass is needed.
func (l *Lookup) InAir(pointer, id string) (solution.Evaporating, bool) {
	if m, known := l.Base.Material(id); known && m.Kind == material.Reagent {
		l.Named = append(l.Named, id)
		return l.vapour(pointer, m), true
	}
	m, known := l.Solvent(pointer, id)
	if !known {
		return solution.Evaporating{}, false
	}
	return l.vapour(pointer, m), true
}

// Evaporating gives what a vapour computation needs to know of a solvent. A
// missing required value is a fault.
func (l *Lookup) Evaporating(pointer string, m material.Material) solution.Evaporating {
	e := l.vapour(pointer, m)
	if c, known := l.Known(pointer, m.ID, "", false); known && c.Density.Known() {
		e.Density = c.Density
		e.Sources = append(e.Sources, c.Density.Source)
	} else {
		l.Faults.Add("density-unknown", pointer,
			"No density of this liquid is held; give the solvents that it is made of.")
	}
	return e
}

// vapour gives what is known of a liquid in the air, whose amount is not counted.
func (l *Lookup) vapour(pointer string, m material.Material) solution.Evaporating {
	e := solution.Evaporating{Name: m.Name, Pressure: l.pressure(m.ID), Cautions: l.beyondLabel(m, solution.Liquid)}
	if mass := l.property(m.ID, material.MolarMass, &e.Sources); mass != nil {
		e.MolarMass = *mass
	} else {
		l.Faults.Add("molar-mass-unknown", pointer,
			"No molar mass of this liquid is held, so its vapour cannot be computed; "+
				"give the solvents that it is made of.")
	}
	e.Flash = l.property(m.ID, material.FlashPoint, &e.Sources)
	e.LowerExplosive = l.property(m.ID, material.LowerExplosiveLimit, &e.Sources)
	boils := l.Base.Property(m.ID, material.BoilingPoint, material.AnyGrade).Preferred
	if boils != nil && boils.Value.Closed() {
		e.Boils, e.BoilsSource = new(boils.Value.Low), Cited(boils.Evidence)
		e.Sources = append(e.Sources, e.BoilsSource)
	}
	if t, f, ok := l.Base.Figure(m.ID, "melting-point", material.AnyGrade); ok {
		e.Freezes, e.FreezesSource = &t, Cited(f.Evidence)
	}
	e.Limits, e.Water = l.limits(m.ID, e.MolarMass), m.ID == "water"
	for _, h := range l.Base.Hazards(m.ID) {
		cancer := strings.HasPrefix(h.Value, "H350") || strings.HasPrefix(h.Value, "H351")
		e.Carcinogen = e.Carcinogen || h.Kind == material.HazardStatement && cancer
	}
	return e
}

// pressure gives the vapour pressure of a solvent: its equation, and the figures for
// 20 and 25 °C.
func (l *Lookup) pressure(id string) solution.VapourPressure {
	var v solution.VapourPressure
	if p, err := l.Base.VapourPressure(id, 20); err == nil && p.Equation != "point" {
		v.Equation = func(celsius float64) (float64, bool) {
			p, err := l.Base.VapourPressure(id, celsius)
			return p.KPa, err == nil && !p.Extrapolated
		}
	}
	for _, f := range l.Base.Property(id, material.VapourPressure, material.AnyGrade).All {
		kilopascal, single := f.Value.Mid()
		switch {
		case !single || f.Rank == material.Doubted:
		case f.At == 20 && v.At20 == 0:
			v.At20 = kilopascal
		case f.At == 25 && v.At25 == 0:
			v.At25 = kilopascal
		}
	}
	return v
}

var limitKindsOf = map[material.LimitKind]solution.LimitKind{
	material.TimeWeighted: solution.WorkingDay, material.ShortTerm: solution.ShortTerm,
	material.Ceiling: solution.Ceiling,
}

// limits gives the published limits of a solvent in ppm, the lowest of each list
// and kind. One that is printed in mg/m³ alone is converted by the convention of its list.
func (l *Lookup) limits(id string, molarMass float64) []solution.ExposureLimit {
	var list []solution.ExposureLimit
	for _, pass := range []string{"[ppm]", "mg/m3"} {
		for _, x := range l.Base.ExposureLimits(id) {
			kind, used := limitKindsOf[x.Kind]
			ppm, single := x.Value.Single()
			if !used || !single || x.Unit != pass {
				continue
			}
			if x.Kind == material.Ceiling && strings.HasPrefix(x.Period, "15 min") {
				kind = solution.ShortTerm
			}
			of := material.Lists[x.Body]
			if pass == "mg/m3" {
				ppm = solution.LimitInPPM(ppm, molarMass, of.Celsius)
			}
			limit := solution.ExposureLimit{List: of.Name, Where: of.Jurisdiction, Kind: kind, PPM: ppm,
				Source: Cited(x.Evidence), Here: of.Holds(l.Country), Undecided: l.undecided(x, of)}
			list = keepLowest(list, limit, pass == "[ppm]")
		}
	}
	return list
}

// undecided says why air below a limit is not known to be below that of the caller's country; "" where it is.
func (l *Lookup) undecided(x material.ExposureLimit, of material.LimitList) string {
	switch {
	case l.Country == "":
		return "your country was not said"
	case !of.Holds(l.Country):
		return "the limits of " + l.Country + " are not held here"
	case of.Undecided != "":
		return of.Undecided
	case of.Jurisdiction != l.Country:
		return "the limits of " + l.Country + " itself are not held here"
	case !x.Evidence.Status.Seen():
		return "the figure is recalled"
	}
	return ""
}

// keepLowest adds a limit, or puts it in the place of a higher one of its kind. One
// that was converted never takes the place of one that was printed.
func keepLowest(list []solution.ExposureLimit, l solution.ExposureLimit, printed bool) []solution.ExposureLimit {
	for i, have := range list {
		if have.List == l.List && have.Kind == l.Kind {
			if printed && l.PPM < have.PPM {
				list[i] = l
			}
			return list
		}
	}
	return append(list, l)
}

// VapourShares splits a spirit of ethanol and water into the two, which evaporate
// separately; any other solvent is its own only part.
func (l *Lookup) VapourShares(pointer string, m material.Material, amount quantity.Quantity) []solution.VapourShare {
	spirit, known := l.Known(pointer, m.ID, "", false)
	if !known || len(spirit.Supplied) == 0 || amount.IsZero() {
		return []solution.VapourShare{{Solvent: l.Evaporating(pointer, m), Amount: amount}}
	}
	var shares []solution.VapourShare
	for _, part := range spirit.Supplied {
		pure, _ := l.Base.Material(part.Component.ID)
		shares = append(shares, solution.VapourShare{
			Solvent: l.Evaporating(pointer, pure),
			Amount:  l.share(pointer, amount, part.Fraction.Value, spirit.Density.Value),
		})
	}
	return shares
}

// share is a part of an amount, in grams.
func (l *Lookup) share(pointer string, amount quantity.Quantity, fraction, density float64) quantity.Quantity {
	unit, scale := quantity.Gram, fraction
	if amount.Unit.Kind() == quantity.Volume {
		unit, scale = quantity.Millilitre, fraction*density
	}
	m, err := amount.Measured(unit)
	if err != nil {
		_ = l.Faults.Merge(pointer, err)
		return quantity.Quantity{}
	}
	q, err := quantity.Of(m.Value*scale, quantity.Gram)
	if err != nil {
		_ = l.Faults.Merge(pointer, err)
		return quantity.Quantity{}
	}
	if u, err := quantity.OfFloat(m.Standard * scale); err == nil && m.Standard > 0 {
		q.Uncertainty = quantity.Standard(u)
	}
	return q
}
