package calculation

import (
	"meniscus/api"
	"meniscus/internal/material"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// Vapour says what solvent does to the air of a room, or warmth to a bottle of it.
func Vapour(known *material.Base, asked api.VapourRequest, detail api.Detail) (api.VapourAnswer, error) {
	switch q := asked; {
	case q.Work != nil:
		return vapourOfWork(known, *q.Work, detail)
	case q.Air != nil:
		return measuredAir(known, *q.Air, detail)
	case q.AirChanges != nil:
		return airChanges(known, *q.AirChanges, detail)
	default:
		return warmBottle(known, *q.BottleInWarmth, detail)
	}
}

// The pointers to its questions.
const (
	atWork    = "/work"
	atAir     = "/air"
	atChanges = "/airChanges"
	atBottle  = "/bottleInWarmth"
)

var (
	vapourOfWork = computation((*reader).vapourOfWork, below(atWork, solution.ComputeVapour), writer.vapour)
	measuredAir  = computation((*reader).measuredAir, below(atAir, solution.ComputeMeasuredAir), writer.measuredAir)
	airChanges   = computation((*reader).airChanges, below(atChanges, solution.ComputeAirChanges), writer.airChanges)
	warmBottle   = computation((*reader).warmBottle, below(atBottle, solution.ComputeWarmBottle), writer.warmBottle)
)

// amounts reads the solvents of a question.
func (r *reader) amounts(pointer string, list []api.SolventAmount) []solution.VapourShare {
	var shares []solution.VapourShare
	for i, s := range list {
		amount := r.quantity(item(pointer+"/solvents", i)+"/amount", &s.Amount)
		shares = append(shares, r.shares(pointer, i, s.Material, amount)...)
	}
	return shares
}

// shares looks up solvent i of a question. A spirit counts as its parts, each of which points back at the item that it
// came from.
func (r *reader) shares(pointer string, i int, id string, amount quantity.Quantity) []solution.VapourShare {
	at := item(pointer+"/solvents", i)
	m, known := r.Solvent(at+"/material", id)
	if !known {
		return nil
	}
	parts := r.VapourShares(at, m, amount)
	for k := range parts {
		parts[k].At = item("/solvents", i)
	}
	return parts
}

func (r *reader) vapourOfWork(w api.VapourOfWork) solution.Vapour {
	r.Country = deref(w.Country)
	q := solution.Vapour{
		Solvents: r.released(atWork, w.Solvents),
		After:    r.times(atWork, w.After),
		Release:  r.release(atWork+"/release", w.Release),
	}
	room := w.Room
	q.Room = r.room(atWork+"/room",
		api.ClearingRoom{Volume: room.Volume, Air: room.Air, MixingFactor: room.MixingFactor})
	q.Room.Temperature = r.measured(atWork+"/room/temperature", room.Temperature)
	q.Room.Pressure = r.measured(atWork+"/room/pressure", room.Pressure)
	if n := w.NearField; n != nil {
		q.Near = solution.NearField{
			Radius:   r.quantity(atWork+"/nearField/radius", n.Radius),
			AirSpeed: r.measured(atWork+"/nearField/airSpeed", n.AirSpeed),
		}
	}
	return q
}

func (r *reader) room(at string, room api.ClearingRoom) solution.Room {
	return solution.Room{
		Volume:       r.quantity(at+"/volume", &room.Volume),
		AirFlow:      r.measured(at+"/air/flow", room.Air.Flow),
		AirChanges:   r.measured(at+"/air/changes", room.Air.Changes),
		MixingFactor: r.quantity(at+"/mixingFactor", room.MixingFactor),
	}
}

func (r *reader) release(pointer string, v api.VapourRelease) solution.Release {
	switch {
	case v.Steady != nil:
		return solution.Release{
			Steady: &solution.SteadyRelease{Duration: r.quantity(pointer+"/steady/duration", &v.Steady.Duration)},
		}
	case v.Drying != nil:
		return solution.Release{
			Drying: &solution.DryingRelease{HalfTime: r.quantity(pointer+"/drying/halfTime", &v.Drying.HalfTime)},
		}
	case v.Spill != nil:
		return solution.Release{Spill: &solution.Spill{Area: r.quantity(pointer+"/spill/area", &v.Spill.Area)}}
	}
	return solution.Release{AtOnce: true}
}

func (w writer) vapour(a solution.VapourAnswer) api.VapourAnswer {
	out := api.VapourAnswer{
		Answer: a.Answer, Assumed: w.assumptions(a.Assumed), Steps: texts(a.Steps), Advice: w.advice(a.Advice),
	}
	out.Work = new(w.vapourInRoom(a))
	return out
}

func (w writer) vapourInRoom(a solution.VapourAnswer) api.VapourInRoom {
	out := api.VapourInRoom{
		Solvents: each(a.Solvents, func(s solution.SolventInAir) api.SolventInAir {
			in := api.SolventInAir{Solvent: s.Name, Capped: s.Capped, NearField: w.inAir(s.Near)}
			if w.full {
				in.Saturation, in.Room = quantityOr(s.SaturationPPM, quantity.PPM), new(w.inAir(s.Room))
			}
			return in
		}),
		Explosive: api.ExplosiveShare{
			NearField: w.result(a.Explosive.Near, quantity.One),
			Without:   texts(a.Explosive.Without),
		},
		Limits:   each(w.limitsTold(a.Limits), w.limitComparison),
		Clearing: w.clearing(a.Clearing),
	}
	if e := a.Evaporation; e != nil {
		out.Evaporation = &api.SpillEvaporation{Rate: w.result(e.Rate, "g/min"), Duration: w.result(e.Hours, quantity.Hour)}
	}
	if u := a.Usable; u != nil {
		out.Usable = &api.UsableAmount{
			Volume: w.result(u.Millilitres, quantity.Millilitre), Mass: Quantity(u.Grams, quantity.Gram), By: u.By,
		}
	}
	if w.full {
		out.Explosive.Room = new(w.result(a.Explosive.Room, quantity.One))
		out.Explosive.MixtureLimit = quantityOr(a.Explosive.MixtureLimit, quantity.Percent)
	}
	if a.Later != nil {
		later := each(a.Later, func(t solution.AirAt) api.AirAt {
			return api.AirAt{
				After: Quantity(t.Hours, quantity.Hour), Room: each(t.Room, w.airLevel),
				NearField: each(t.Near, w.airLevel),
			}
		})
		out.Later = &later
	}
	if a.AirNeeded != nil {
		needed := []api.AirNeeded{}
		for _, n := range a.AirNeeded {
			switch {
			case w.full:
				needed = append(needed, api.AirNeeded{
					List: n.List, Sentence: n.Sentence,
					ForTheRoom: w.resultOr(n.Room, "m3/h"), AtTheWork: w.resultOr(n.Near, "m3/h"),
				})
			case n.Leads:
				needed = append(needed, api.AirNeeded{List: n.List, Sentence: n.Sentence})
			}
		}
		out.AirNeeded = &needed
	}
	return out
}

func (w writer) airLevel(l solution.Level) api.AirLevel {
	out := api.AirLevel{Ppm: w.result(l.PPM, quantity.PPM)}
	if w.full {
		out.MassPerVolume = new(Quantity(l.MgPerM3, quantity.MgPerM3))
	}
	return out
}

func (w writer) inAir(a solution.InAir) api.InAir {
	out := api.InAir{Peak: w.airLevel(a.Peak), Worst15Minutes: w.airLevel(a.Short), Over8Hours: w.airLevel(a.Day)}
	if w.full && a.Settled != nil {
		out.Settled = new(w.airLevel(*a.Settled))
	}
	return out
}

func (w writer) limitComparison(l solution.LimitComparison) api.LimitComparison {
	out := api.LimitComparison{
		List: l.List, Jurisdiction: said(l.Where), Kind: api.LimitKind(l.Kind), NearField: figure(l.Near),
		Above: api.YesNo(l.Above), Without: texts(l.Without),
	}
	if !w.full {
		return out
	}
	out.Room, out.Sentence = new(figure(l.Room)), &l.Sentence
	out.Parts = new(each(l.Parts, func(p solution.LimitPart) api.LimitPart {
		return api.LimitPart{
			Solvent: p.Solvent, Limit: Quantity(p.PPM, quantity.PPM),
			NearField: figure(p.Near), Source: p.Source.ID,
		}
	}))
	return out
}
