package httpapi

import (
	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// ownLimitList is the name of the list of limits that a caller gives.
const ownLimitList = "your own limit"

// ownLimit reads a limit of the caller's own for a working day.
func (a *asking) ownLimit(pointer string, q *api.Quantity, e *solution.Evaporating) {
	if q == nil || e.MolarMass == 0 {
		return
	}
	limit := a.quantity(pointer, q)
	ppm, err := limit.In(quantity.PPM)
	if limit.Unit.Kind() == quantity.MassPerVolume {
		if ppm, err = limit.In(quantity.MgPerM3); err == nil {
			ppm = solution.LimitInPPM(ppm, e.MolarMass)
		}
	}
	if err != nil || !(ppm > 0 && ppm <= 1e6) {
		a.Faults.Add("limit-out-of-range", pointer, "A limit is a concentration in air, more than 0 and at most 1000000 ppm, in [ppm] or mg/m3.")
		return
	}
	e.Limits = append(e.Limits, solution.ExposureLimit{List: ownLimitList, Kind: solution.WorkingDay, PPM: ppm, Source: solution.Source{Citation: "given with the question", Status: solution.Own}})
}

// released reads the solvents that go into the air, with limits of the caller's own.
func (a *asking) released(pointer string, list []api.ReleasedSolvent) []solution.VapourShare {
	var shares []solution.VapourShare
	for i, s := range list {
		of := a.amounts(pointer, []api.SolventAmount{{Material: s.Material, Amount: s.Amount}}, i)
		if s.Limit != nil && len(of) > 1 {
			a.Faults.Add("limit-of-a-mixture", item(pointer+"/solvents", i)+"/limit", "A limit is that of one solvent; name the solvents that this liquid is made of.")
		}
		for k := range of {
			a.ownLimit(item(pointer+"/solvents", i)+"/limit", s.Limit, &of[k].Solvent)
		}
		shares = append(shares, of...)
	}
	return shares
}

// times reads the times at which the air is asked for.
func (a *asking) times(pointer string, list *[]api.Quantity) []quantity.Quantity {
	if list == nil {
		return nil
	}
	var all []quantity.Quantity
	for i := range *list {
		all = append(all, a.quantity(item(pointer+"/after", i), &(*list)[i]))
	}
	return all
}

// measuredAir answers what concentrations in the air come to.
func (a *asking) measuredAir(m api.MeasuredAir) (*answer, error) {
	const at = "/question/air"
	q := solution.MeasuredAir{Temperature: a.quantity(at+"/temperature", m.Temperature), Pressure: a.quantity(at+"/pressure", m.Pressure)}
	for i, s := range m.Solvents {
		pointer := item(at+"/solvents", i)
		reading := solution.AirReading{Concentration: a.quantity(pointer+"/concentration", &s.Concentration)}
		if of, known := a.pureSolvent(pointer+"/material", s.Material); known {
			reading.Solvent = a.evaporating(pointer+"/material", of)
			a.ownLimit(pointer+"/limit", s.Limit, &reading.Solvent)
		}
		q.Readings = append(q.Readings, reading)
	}
	if r := m.Room; r != nil {
		q.Clears = &solution.Clears{After: a.times(at, m.After), Room: solution.Room{
			Volume:       a.quantity(at+"/room/volume", &r.Volume),
			AirFlow:      a.quantity(at+"/room/air/flow", r.Air.Flow),
			AirChanges:   a.quantity(at+"/room/air/changes", r.Air.Changes),
			MixingFactor: a.quantity(at+"/room/mixingFactor", r.MixingFactor),
		}}
	} else if m.After != nil {
		a.Faults.Add("room-needed", at+"/room", "How the air is later depends on the room and the air that passes through it: say both.")
	}
	if err := a.Faults.Err(); err != nil {
		return nil, err
	}
	found, err := solution.ComputeMeasuredAir(q)
	if err != nil {
		return nil, below(at, err)
	}
	answered := api.VapourAnswer{Assumed: each(found.Assumed, assumption), Steps: steps(found.Steps), Advice: advice(found.Advice)}
	air := airAsMeasured(found)
	answered.Answer.Air = &air
	return ok(answered)
}

func airAsMeasured(f solution.MeasuredAirAnswer) api.AirAsMeasured {
	out := api.AirAsMeasured{
		Solvents: each(f.Solvents, func(s solution.MeasuredSolvent) api.MeasuredSolvent {
			l := airLevel(s.Level)
			return api.MeasuredSolvent{Solvent: s.Name, Ppm: l.Ppm, MassPerVolume: l.MassPerVolume, Saturation: computedOr(s.SaturationPPM, quantity.PPM)}
		}),
		Explosive: api.ExplosiveReading{
			Share: result(f.Explosive.Room, quantity.One), MixtureLimit: computedOr(f.Explosive.MixtureLimit, quantity.Percent), Without: each(f.Explosive.Without, same),
		},
		Limits: each(f.Limits, limitReading),
	}
	if f.Clearing != nil {
		all := each(f.Clearing, clearingOfAir)
		out.Clearing = &all
	}
	if f.Later != nil {
		all := each(f.Later, func(l solution.LaterAir) api.MeasuredLater {
			return api.MeasuredLater{After: computed(l.Hours, quantity.Hour), Solvents: each(l.Levels, airLevel)}
		})
		out.Later = &all
	}
	return out
}

func limitReading(l solution.LimitComparison) api.LimitReading {
	return api.LimitReading{
		List: l.List, Kind: api.LimitKind(l.Kind), Sum: figure(l.Room), Above: l.Above, Sentence: l.Sentence, Without: each(l.Without, same),
		Parts: each(l.Parts, func(p solution.LimitPart) api.LimitReadingPart {
			return api.LimitReadingPart{Solvent: p.Solvent, Limit: computed(p.PPM, quantity.PPM), Share: figure(p.Near), Source: cited(p.Source)}
		}),
	}
}

func clearingOfAir(x solution.Clearing) api.Clearing {
	return api.Clearing{List: x.List, After: computedOr(x.Hours, quantity.Hour), Sentence: x.Sentence}
}
