package httpapi

import (
	"strings"

	"meniscus/internal/material"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
	"meniscus/internal/substance"
)

// pureSolvent finds a solvent by its id.
func (a *asking) pureSolvent(pointer, id string) (material.Material, bool) {
	m, known := a.Base.Material(id)
	switch {
	case !known:
		a.Faults.Add("material-unknown", pointer, "No material with this id is known here; /v1/materials?kind=solvent lists the solvents, and with a key the institution's own too.")
	case m.Kind.Mixing() != material.Liquid:
		a.Faults.Add("not-a-solvent", pointer, "This material is no solvent; /v1/materials?kind=solvent lists them.")
		known = false
	}
	return m, known
}

// property gives the figure of a property of a material, and adds where it was read to the sources.
func (a *asking) property(id string, p material.Property, sources *[]solution.Source) *float64 {
	v, fact, found := a.Base.Figure(id, p, material.AnyGrade)
	if !found {
		return nil
	}
	if sources != nil {
		*sources = append(*sources, substance.Cited(fact.Evidence))
	}
	return &v
}

// evaporating gives what a vapour computation needs to know of a solvent. What it
// cannot do without is a fault.
func (a *asking) evaporating(pointer string, m material.Material) solution.Evaporating {
	e := solution.Evaporating{Name: m.Name, Pressure: a.pressure(m.ID)}
	if mass := a.property(m.ID, material.MolarMass, &e.Sources); mass != nil {
		e.MolarMass = *mass
	} else {
		a.Faults.Add("molar-mass-unknown", pointer, "No molar mass of this liquid is held, so its vapour cannot be computed; give the solvents that it is made of.")
	}
	if c, known := a.Known(pointer, m.ID, "", false); known && c.Density.Known() {
		e.Density = c.Density
		e.Sources = append(e.Sources, c.Density.Source)
	} else {
		a.Faults.Add("density-unknown", pointer, "No density of this liquid is held; give the solvents that it is made of.")
	}
	e.Flash = a.property(m.ID, material.FlashPoint, &e.Sources)
	e.LowerExplosive = a.property(m.ID, material.LowerExplosiveLimit, &e.Sources)
	if f := a.Base.Property(m.ID, material.BoilingPoint, material.AnyGrade); f.Preferred != nil && f.Preferred.Value.Closed() {
		low := f.Preferred.Value.Low
		e.Boils, e.BoilsSource = &low, substance.Cited(f.Preferred.Evidence)
		e.Sources = append(e.Sources, e.BoilsSource)
	}
	e.Limits = a.limits(m.ID, e.MolarMass)
	for _, h := range a.Base.Hazards(m.ID) {
		e.Carcinogen = e.Carcinogen || h.Kind == material.HazardStatement && (strings.HasPrefix(h.Value, "H350") || strings.HasPrefix(h.Value, "H351"))
	}
	return e
}

// pressure gives the vapour pressure of a solvent: its equation, and the figures for 20 and 25 °C.
func (a *asking) pressure(id string) solution.VapourPressure {
	var v solution.VapourPressure
	if p, err := a.Base.VapourPressure(id, 20); err == nil && p.Equation != "point" {
		v.Equation = func(celsius float64) (float64, bool) {
			p, err := a.Base.VapourPressure(id, celsius)
			return p.KPa, err == nil && !p.Extrapolated
		}
	}
	for _, f := range a.Base.Property(id, material.VapourPressure, material.AnyGrade).All {
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

// limitLists names the lists of limits as a reader knows them.
var limitLists = map[material.LimitBody]string{
	material.NIOSH: "NIOSH recommended limit", material.OSHA: "OSHA permissible limit", material.Ontario: "Ontario limit",
}

var limitKindsOf = map[material.LimitKind]solution.LimitKind{
	material.TimeWeighted: solution.WorkingDay, material.ShortTerm: solution.ShortTerm, material.Ceiling: solution.Ceiling,
}

// limits gives the published limits of a solvent in ppm, the lowest of each list
// and kind. One that is printed in mg/m³ alone is converted by the convention of
// 24.45 L/mol.
func (a *asking) limits(id string, molarMass float64) []solution.ExposureLimit {
	var list []solution.ExposureLimit
	for _, pass := range []string{"[ppm]", "mg/m3"} {
		for _, l := range a.Base.ExposureLimits(id) {
			kind, used := limitKindsOf[l.Kind]
			ppm, single := l.Value.Single()
			if !used || !single || l.Unit != pass {
				continue
			}
			if l.Kind == material.Ceiling && strings.HasPrefix(l.Period, "15 min") {
				kind = solution.ShortTerm
			}
			if pass == "mg/m3" {
				ppm = solution.LimitInPPM(ppm, molarMass)
			}
			limit := solution.ExposureLimit{List: limitLists[l.Body], Kind: kind, PPM: ppm, Source: substance.Cited(l.Evidence)}
			list = keepLowest(list, limit, pass == "[ppm]")
		}
	}
	return list
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

// parts splits a spirit of ethanol and water into the two, which leave it each in
// its own way; any other solvent is its own only part.
func (a *asking) parts(pointer string, m material.Material, amount quantity.Quantity) []solution.VapourShare {
	spirit, known := a.Known(pointer, m.ID, "", false)
	if !known || len(spirit.Supplied) == 0 || amount.IsZero() {
		return []solution.VapourShare{{Solvent: a.evaporating(pointer, m), Amount: amount}}
	}
	var shares []solution.VapourShare
	for _, part := range spirit.Supplied {
		pure, _ := a.Base.Material(part.Component.ID)
		shares = append(shares, solution.VapourShare{
			Solvent: a.evaporating(pointer, pure), Amount: a.share(pointer, amount, part.Fraction.Value, spirit.Density.Value),
		})
	}
	return shares
}

// share is a part of an amount, in grams.
func (a *asking) share(pointer string, amount quantity.Quantity, fraction, density float64) quantity.Quantity {
	unit, scale := quantity.Gram, fraction
	if amount.Unit.Kind() == quantity.Volume {
		unit, scale = quantity.Millilitre, fraction*density
	}
	m, err := amount.Measured(unit)
	if err != nil {
		_ = a.Faults.Merge(pointer, err)
		return quantity.Quantity{}
	}
	q, err := quantity.Of(m.Value*scale, quantity.Gram)
	if err != nil {
		_ = a.Faults.Merge(pointer, err)
		return quantity.Quantity{}
	}
	if u, err := quantity.OfFloat(m.Standard * scale); err == nil && m.Standard > 0 {
		q.Uncertainty = quantity.Standard(u)
	}
	return q
}
