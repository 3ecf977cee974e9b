package calculation

import (
	"slices"

	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// ownLimitList is the name of the list of limits that a caller gives.
const ownLimitList = "your own limit"

// conventionLeftOut is the temperature at which a limit in mg/m3 is converted where none is said, °C: the stricter of
// 20 and 25, which are usual.
const conventionLeftOut = 20

// ownLimits reads limits of the caller's own.
func (r *reader) ownLimits(pointer string, all *[]api.OwnLimit, e *solution.Evaporating) {
	for i, l := range deref(all) {
		at := item(pointer, i)
		limit := r.quantity(at+"/value", &l.Value)
		celsius := float64(conventionLeftOut)
		if l.At != nil {
			given, err := r.quantity(at+"/at", l.At).In(quantity.Celsius)
			if err != nil || given < 0 || given > 50 {
				r.Faults.Add("out-of-range", at+"/at", "A limit is converted at a temperature from 0 to 50 °C.")
				continue
			}
			celsius = given
		}
		if e.MolarMass == 0 {
			continue
		}
		ppm, err := limit.In(quantity.PPM)
		if limit.Unit.Kind() == quantity.MassPerVolume {
			if ppm, err = limit.In(quantity.MgPerM3); err == nil {
				ppm = solution.LimitInPPM(ppm, e.MolarMass, celsius)
			}
		}
		if err != nil || !(ppm > 0 && ppm <= 1e6) {
			r.Faults.Add("limit-out-of-range", at+"/value",
				"A limit is a concentration in air, more than 0 and at most 1000000 ppm, in [ppm] or mg/m3.")
			continue
		}
		e.Limits = append(e.Limits, solution.ExposureLimit{
			List: ownLimitList, Kind: solution.LimitKind(l.Kind), PPM: ppm, Here: true,
			Source: solution.Cited("limit-given", solution.Own),
		})
	}
}

// released reads the solvents that go into the air, with limits of the caller's own.
func (r *reader) released(pointer string, list []api.ReleasedSolvent) []solution.VapourShare {
	var shares []solution.VapourShare
	for i, s := range list {
		at := item(pointer+"/solvents", i)
		of := r.shares(pointer, i, s.Material, r.quantity(at+"/amount", s.Amount))
		if len(of) > 1 && (s.Limits != nil || s.Incoming != nil) {
			r.Faults.Add("limit-of-a-mixture", at, "A limit and what comes in are of one solvent; name the solvents that "+
				"this liquid is made of.")
		}
		for k := range of {
			of[k].Solvent.Incoming = r.measured(at+"/incoming", s.Incoming)
			r.ownLimits(at+"/limits", s.Limits, &of[k].Solvent)
		}
		shares = append(shares, of...)
	}
	return shares
}

// times reads the times at which the air is asked for.
func (r *reader) times(pointer string, list *[]api.Quantity) []quantity.Quantity {
	if list == nil {
		return nil
	}
	var all []quantity.Quantity
	for i := range *list {
		all = append(all, r.quantity(item(pointer+"/after", i), &(*list)[i]))
	}
	return all
}

func (r *reader) measuredAir(m api.MeasuredAir) solution.MeasuredAir {
	r.Country = deref(m.Country)
	q := solution.MeasuredAir{
		Temperature: r.measured(atAir+"/temperature", m.Temperature),
		Pressure:    r.measured(atAir+"/pressure", m.Pressure),
	}
	for i, s := range m.Solvents {
		at := item(atAir+"/solvents", i)
		reading := solution.AirReading{Concentration: r.measured(at+"/concentration", &s.Concentration)}
		if of, known := r.InAir(at+"/material", s.Material); known {
			reading.Solvent = of
			reading.Solvent.Incoming = r.measured(at+"/incoming", s.Incoming)
			r.ownLimits(at+"/limits", s.Limits, &reading.Solvent)
		}
		q.Readings = append(q.Readings, reading)
	}
	switch room := m.Room; {
	case room != nil:
		q.Clears = &solution.Clears{After: r.times(atAir, m.After), Room: r.room(atAir+"/room", *room)}
	case m.After != nil:
		r.Faults.Add("room-needed", atAir+"/room",
			"How the air is later depends on the room and the air that passes through it: say both.")
	}
	return q
}

func (w writer) measuredAir(a solution.MeasuredAirAnswer) api.VapourAnswer {
	out := api.VapourAnswer{
		Answer: a.Answer, Assumed: w.assumptions(a.Assumed), Steps: texts(a.Steps), Advice: w.advice(a.Advice),
	}
	out.Air = new(w.airAsMeasured(a))
	return out
}

func (w writer) airAsMeasured(f solution.MeasuredAirAnswer) api.AirAsMeasured {
	out := api.AirAsMeasured{
		Solvents: each(f.Solvents, func(s solution.MeasuredSolvent) api.MeasuredSolvent {
			out := api.MeasuredSolvent{
				Solvent: s.Name, Ppm: w.result(s.PPM, quantity.PPM), MassPerVolume: Quantity(s.MgPerM3, quantity.MgPerM3),
			}
			if w.full {
				out.Saturation = quantityOr(s.SaturationPPM, quantity.PPM)
			}
			return out
		}),
		Explosive: api.ExplosiveReading{
			Share: w.result(f.Explosive.Room, quantity.One), Without: texts(f.Explosive.Without),
		},
		Limits: each(w.limitsTold(f.Limits), w.limitReading),
	}
	if w.full {
		out.Explosive.MixtureLimit = quantityOr(f.Explosive.MixtureLimit, quantity.Percent)
	}
	if f.Clearing != nil {
		out.Clearing = new(w.clearing(f.Clearing))
	}
	if f.Later != nil {
		out.Later = new(each(f.Later, func(l solution.LaterAir) api.MeasuredLater {
			return api.MeasuredLater{After: Quantity(l.Hours, quantity.Hour), Solvents: each(l.Levels, w.airLevel)}
		}))
	}
	return out
}

func (w writer) limitReading(l solution.LimitComparison) api.LimitReading {
	out := api.LimitReading{
		List: l.List, Jurisdiction: said(l.Where), Kind: api.LimitKind(l.Kind), Sum: figure(l.Room),
		Above: api.YesNo(l.Above), Without: texts(l.Without),
	}
	if !w.full {
		return out
	}
	out.Sentence = &l.Sentence
	out.Parts = new(each(l.Parts, func(p solution.LimitPart) api.LimitReadingPart {
		return api.LimitReadingPart{
			Solvent: p.Solvent, Limit: Quantity(p.PPM, quantity.PPM), Share: figure(p.Near),
			Source: p.Source.ID,
		}
	}))
	return out
}

// limitsTold are the comparisons of an answer: in brief those that come first.
func (w writer) limitsTold(all []solution.LimitComparison) []solution.LimitComparison {
	return slices.DeleteFunc(slices.Clone(all), func(l solution.LimitComparison) bool { return !w.full && !l.Leads })
}

func (w writer) clearing(all []solution.Clearing) []api.Clearing {
	out := []api.Clearing{}
	for _, x := range all {
		if !w.full && !x.Leads {
			continue
		}
		c := api.Clearing{List: x.List, After: quantityOr(x.Hours, quantity.Hour)}
		if w.full {
			c.Sentence = &x.Sentence
		}
		out = append(out, c)
	}
	return out
}

func (r *reader) airChanges(q api.AirChangesAsked) solution.AirChanges {
	return solution.AirChanges{
		First: r.measured(atChanges+"/first", &q.First), Second: r.measured(atChanges+"/second", &q.Second),
		Between: r.quantity(atChanges+"/between", &q.Between), Incoming: r.measured(atChanges+"/incoming", q.Incoming),
		Volume: r.quantity(atChanges+"/volume", q.Volume),
	}
}

func (w writer) airChanges(a solution.AirChangesAnswer) api.VapourAnswer {
	return api.VapourAnswer{
		Answer: a.Answer, Steps: texts(a.Steps), Advice: w.advice(a.Advice),
		AirChanges: &api.AirChanges{Changes: w.result(a.Changes, "1/h"), Flow: w.resultOr(a.Flow, "m3/h")},
	}
}
