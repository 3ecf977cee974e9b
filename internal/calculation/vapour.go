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
	default:
		return warmBottle(known, *q.BottleInWarmth, detail)
	}
}

// The pointers to its questions.
const (
	atWork   = "/work"
	atAir    = "/air"
	atBottle = "/bottleInWarmth"
)

var (
	vapourOfWork = computation((*reader).vapourOfWork, below(atWork, solution.ComputeVapour), writer.vapour)
	measuredAir  = computation((*reader).measuredAir, below(atAir, solution.ComputeMeasuredAir), writer.measuredAir)
	warmBottle   = computation((*reader).warmBottle, below(atBottle, solution.ComputeWarmBottle), writer.warmBottle)
)

// amounts reads the solvents of a question. A spirit counts as its parts, each of
// which points back at the item that it came from; the first stands at place first.
func (r *reader) amounts(pointer string, list []api.SolventAmount, first int) []solution.VapourShare {
	var shares []solution.VapourShare
	for n, s := range list {
		i := first + n
		at := item(pointer+"/solvents", i)
		amount := r.quantity(at+"/amount", &s.Amount)
		if m, known := r.Solvent(at+"/material", s.Material); known {
			for _, part := range r.VapourShares(at, m, amount) {
				part.At = item("/solvents", i)
				shares = append(shares, part)
			}
		}
	}
	return shares
}

func (r *reader) vapourOfWork(w api.VapourOfWork) solution.Vapour {
	q := solution.Vapour{
		Solvents: r.released(atWork, w.Solvents),
		After:    r.times(atWork, w.After),
		Release:  r.release(atWork+"/release", w.Release),
	}
	room := w.Room
	q.Room = r.room(atWork+"/room",
		api.ClearingRoom{Volume: room.Volume, Air: room.Air, MixingFactor: room.MixingFactor})
	q.Room.Temperature = r.quantity(atWork+"/room/temperature", room.Temperature)
	q.Room.Pressure = r.quantity(atWork+"/room/pressure", room.Pressure)
	if n := w.NearField; n != nil {
		q.Near = solution.NearField{
			Radius:   r.quantity(atWork+"/nearField/radius", n.Radius),
			AirSpeed: r.quantity(atWork+"/nearField/airSpeed", n.AirSpeed),
		}
	}
	return q
}

func (r *reader) room(at string, room api.ClearingRoom) solution.Room {
	return solution.Room{
		Volume:       r.quantity(at+"/volume", &room.Volume),
		AirFlow:      r.quantity(at+"/air/flow", room.Air.Flow),
		AirChanges:   r.quantity(at+"/air/changes", room.Air.Changes),
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
		Limits:   each(a.Limits, w.limitComparison),
		Clearing: each(a.Clearing, w.clearingOfAir),
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
		needed := each(a.AirNeeded, func(n solution.AirNeeded) api.AirNeeded {
			out := api.AirNeeded{List: n.List, Sentence: n.Sentence}
			if w.full {
				out.ForTheRoom, out.AtTheWork = new(w.result(n.Room, "m3/h")), w.resultOr(n.Near, "m3/h")
			}
			return out
		})
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
		List: l.List, Kind: api.LimitKind(l.Kind), NearField: figure(l.Near), Above: l.Above, Without: texts(l.Without),
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
