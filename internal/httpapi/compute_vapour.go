package httpapi

import (
	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// computeVapour answers what solvent does to the air of a room, or warmth to a bottle of it.
func computeVapour(s *Server, c *call) (*answer, error) {
	in, request, err := asked[api.VapourRequest](s, c)
	if err != nil {
		return nil, err
	}
	if request.Question.Work != nil {
		return in.vapourOfWork(*request.Question.Work)
	}
	if request.Question.Air != nil {
		return in.measuredAir(*request.Question.Air)
	}
	return in.bottleInWarmth(*request.Question.BottleInWarmth)
}

// amounts reads the solvents of a question. A spirit counts as its parts, each of
// which points back at the item that it came from; the first stands at place first.
func (a *asking) amounts(pointer string, list []api.SolventAmount, first int) []solution.VapourShare {
	var shares []solution.VapourShare
	for n, s := range list {
		i := first + n
		at := item(pointer+"/solvents", i)
		amount := a.quantity(at+"/amount", &s.Amount)
		if m, known := a.pureSolvent(at+"/material", s.Material); known {
			for _, part := range a.parts(at, m, amount) {
				part.At = item("/solvents", i)
				shares = append(shares, part)
			}
		}
	}
	return shares
}

func (a *asking) vapourOfWork(w api.VapourOfWork) (*answer, error) {
	const at = "/question/work"
	q := solution.Vapour{
		Solvents: a.released(at, w.Solvents),
		After:    a.times(at, w.After),
		Release:  a.release(at+"/release", w.Release),
		Room: solution.Room{
			Volume:       a.quantity(at+"/room/volume", &w.Room.Volume),
			AirFlow:      a.quantity(at+"/room/air/flow", w.Room.Air.Flow),
			AirChanges:   a.quantity(at+"/room/air/changes", w.Room.Air.Changes),
			MixingFactor: a.quantity(at+"/room/mixingFactor", w.Room.MixingFactor),
			Temperature:  a.quantity(at+"/room/temperature", w.Room.Temperature),
			Pressure:     a.quantity(at+"/room/pressure", w.Room.Pressure),
		},
	}
	if n := w.NearField; n != nil {
		q.Near = solution.NearField{Radius: a.quantity(at+"/nearField/radius", n.Radius), AirSpeed: a.quantity(at+"/nearField/airSpeed", n.AirSpeed)}
	}
	if err := a.Faults.Err(); err != nil {
		return nil, err
	}
	found, err := solution.ComputeVapour(q)
	if err != nil {
		return nil, below(at, err)
	}
	answered := api.VapourAnswer{
		Assumed: each(found.Assumed, assumption), Steps: steps(found.Steps), Advice: advice(found.Advice),
	}
	work := vapourInRoom(found)
	answered.Answer.Work = &work
	return ok(answered)
}

func (a *asking) release(pointer string, v api.VapourRelease) solution.Release {
	switch {
	case v.Steady != nil:
		return solution.Release{Steady: &solution.SteadyRelease{Duration: a.quantity(pointer+"/steady/duration", &v.Steady.Duration)}}
	case v.Drying != nil:
		return solution.Release{Drying: &solution.DryingRelease{HalfTime: a.quantity(pointer+"/drying/halfTime", &v.Drying.HalfTime)}}
	}
	return solution.Release{AtOnce: true}
}

func vapourInRoom(a solution.VapourAnswer) api.VapourInRoom {
	out := api.VapourInRoom{
		Solvents: each(a.Solvents, func(s solution.SolventInAir) api.SolventInAir {
			return api.SolventInAir{
				Solvent: s.Name, Saturation: computedOr(s.SaturationPPM, quantity.PPM), Capped: s.Capped,
				Room: inAir(s.Room), NearField: inAir(s.Near),
			}
		}),
		Explosive: api.ExplosiveShare{
			Room: result(a.Explosive.Room, quantity.One), NearField: result(a.Explosive.Near, quantity.One),
			MixtureLimit: computedOr(a.Explosive.MixtureLimit, quantity.Percent), Without: each(a.Explosive.Without, same),
		},
		Limits:   each(a.Limits, limitComparison),
		Clearing: each(a.Clearing, clearingOfAir),
	}
	if a.Later != nil {
		later := each(a.Later, func(t solution.AirAt) api.AirAt {
			return api.AirAt{After: computed(t.Hours, quantity.Hour), Room: each(t.Room, airLevel), NearField: each(t.Near, airLevel)}
		})
		out.Later = &later
	}
	if a.AirNeeded != nil {
		needed := each(a.AirNeeded, func(n solution.AirNeeded) api.AirNeeded {
			return api.AirNeeded{List: n.List, ForTheRoom: result(n.Room, "m3/h"), AtTheWork: resultOr(n.Near, "m3/h"), Sentence: n.Sentence}
		})
		out.AirNeeded = &needed
	}
	return out
}

func same(s string) string { return s }

func airLevel(l solution.Level) api.AirLevel {
	return api.AirLevel{Ppm: result(l.PPM, quantity.PPM), MassPerVolume: computed(l.MgPerM3, quantity.MgPerM3)}
}

func inAir(a solution.InAir) api.InAir {
	out := api.InAir{Peak: airLevel(a.Peak), Worst15Minutes: airLevel(a.Short), Over8Hours: airLevel(a.Day)}
	if a.Settled != nil {
		settled := airLevel(*a.Settled)
		out.Settled = &settled
	}
	return out
}

func limitComparison(l solution.LimitComparison) api.LimitComparison {
	return api.LimitComparison{
		List: l.List, Kind: api.LimitKind(l.Kind), NearField: figure(l.Near), Room: figure(l.Room), Above: l.Above,
		Sentence: l.Sentence, Without: each(l.Without, same),
		Parts: each(l.Parts, func(p solution.LimitPart) api.LimitPart {
			return api.LimitPart{
				Solvent: p.Solvent, Limit: computed(p.PPM, quantity.PPM),
				NearField: figure(p.Near), Source: cited(p.Source),
			}
		}),
	}
}

func (a *asking) bottleInWarmth(b api.BottleInWarmth) (*answer, error) {
	const at = "/question/bottleInWarmth"
	q := solution.WarmBottle{
		Solvents: a.amounts(at, b.Solvents, 0),
		Capacity: a.quantity(at+"/capacity", &b.Capacity), ClosedAt: a.quantity(at+"/closedAt", b.ClosedAt),
		Warm: a.quantity(at+"/warm", b.Warm), Pressure: a.quantity(at+"/pressure", b.Pressure),
	}
	if err := a.Faults.Err(); err != nil {
		return nil, err
	}
	found, err := solution.ComputeWarmBottle(q)
	if err != nil {
		return nil, below(at, err)
	}
	answered := api.VapourAnswer{
		Assumed: each(found.Assumed, assumption), Steps: steps(found.Steps), Advice: advice(found.Advice),
	}
	answered.Answer.BottleInWarmth = &api.WarmBottle{
		Liquid: result(found.Liquid, quantity.Millilitre), LiquidWarm: result(found.LiquidWarm, quantity.Millilitre),
		Growth:    computed(100*found.Growth, quantity.Percent),
		Headspace: computed(found.Headspace, quantity.Millilitre), HeadspaceWarm: computed(found.HeadspaceWarm, quantity.Millilitre),
		VapourPressure: computedOr(found.Vapour, quantity.KiloPascal), Pressure: resultOr(found.Pressure, quantity.KiloPascal),
		PressureIfClosedOverVapour: computedOr(found.PressureLow, quantity.KiloPascal), Overpressure: computedOr(found.Over, quantity.KiloPascal),
		BoilingPoint: computedOr(found.Boils, quantity.Celsius), FillAtMost: computed(found.FillAtMost, quantity.Millilitre),
	}
	return ok(answered)
}
