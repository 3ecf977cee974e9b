package calculation

import (
	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// ownLimitList is the name of the list of limits that a caller gives.
const ownLimitList = "your own limit"

// ownLimit reads a limit of the caller's own for a working day.
func (r *reader) ownLimit(pointer string, q *api.Quantity, e *solution.Evaporating) {
	if q == nil || e.MolarMass == 0 {
		return
	}
	limit := r.quantity(pointer, q)
	ppm, err := limit.In(quantity.PPM)
	if limit.Unit.Kind() == quantity.MassPerVolume {
		if ppm, err = limit.In(quantity.MgPerM3); err == nil {
			ppm = solution.LimitInPPM(ppm, e.MolarMass)
		}
	}
	if err != nil || !(ppm > 0 && ppm <= 1e6) {
		r.Faults.Add("limit-out-of-range", pointer,
			"A limit is a concentration in air, more than 0 and at most 1000000 ppm, in [ppm] or mg/m3.")
		return
	}
	e.Limits = append(e.Limits, solution.ExposureLimit{
		List: ownLimitList, Kind: solution.WorkingDay, PPM: ppm,
		Source: solution.Cited("limit-given", solution.Own),
	})
}

// released reads the solvents that go into the air, with limits of the caller's own.
func (r *reader) released(pointer string, list []api.ReleasedSolvent) []solution.VapourShare {
	var shares []solution.VapourShare
	for i, s := range list {
		of := r.amounts(pointer, []api.SolventAmount{{Material: s.Material, Amount: s.Amount}}, i)
		if s.Limit != nil && len(of) > 1 {
			r.Faults.Add("limit-of-a-mixture", item(pointer+"/solvents", i)+"/limit",
				"A limit is that of one solvent; name the solvents that this liquid is made of.")
		}
		for k := range of {
			r.ownLimit(item(pointer+"/solvents", i)+"/limit", s.Limit, &of[k].Solvent)
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
	q := solution.MeasuredAir{
		Temperature: r.quantity(atAir+"/temperature", m.Temperature),
		Pressure:    r.quantity(atAir+"/pressure", m.Pressure),
	}
	for i, s := range m.Solvents {
		at := item(atAir+"/solvents", i)
		reading := solution.AirReading{Concentration: r.quantity(at+"/concentration", &s.Concentration)}
		if of, known := r.Solvent(at+"/material", s.Material); known {
			reading.Solvent = r.Evaporating(at+"/material", of)
			r.ownLimit(at+"/limit", s.Limit, &reading.Solvent)
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
		Limits: each(f.Limits, w.limitReading),
	}
	if w.full {
		out.Explosive.MixtureLimit = quantityOr(f.Explosive.MixtureLimit, quantity.Percent)
	}
	if f.Clearing != nil {
		out.Clearing = new(each(f.Clearing, w.clearingOfAir))
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
		List: l.List, Kind: api.LimitKind(l.Kind), Sum: figure(l.Room), Above: l.Above, Without: texts(l.Without),
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

func (w writer) clearingOfAir(x solution.Clearing) api.Clearing {
	out := api.Clearing{List: x.List, After: quantityOr(x.Hours, quantity.Hour)}
	if w.full {
		out.Sentence = &x.Sentence
	}
	return out
}
