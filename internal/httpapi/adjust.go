package httpapi

import (
	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// computeAdjustment strengthens, weakens or restores a solution.
func computeAdjustment(s *Server, c *call) (*answer, error) {
	a, r, err := asked[api.AdjustRequest](s, c)
	if err != nil {
		return nil, err
	}
	in := solution.AdjustInput{
		Stock: a.stock("/stock", r.Stock), OnHand: a.quantity("/onHand", r.OnHand),
		Strengthen: a.strengthening("/strengthen", r.Strengthen), Weaken: a.weakening("/weaken", r.Weaken), Restore: a.restoring("/restore", r.Restore),
		Instruments: a.instruments("/instruments", r.Instruments), Temperature: a.quantity("/temperature", r.Temperature),
	}
	if err := a.Faults.Err(); err != nil {
		return nil, err
	}
	made, err := solution.Adjust(in)
	if err != nil {
		return nil, computedProblem(err)
	}
	return ok(adjustAnswer(made))
}

func (a *asking) strengthening(at string, r *api.AskedStrengthening) *solution.Strengthen {
	if r == nil {
		return nil
	}
	out := &solution.Strengthen{Strength: a.strength(at+"/strength", r.Strength), Added: a.quantity(at+"/added", r.Added)}
	if r.With != nil {
		out.With = a.resin(at+"/with", api.AskedResin{Solid: r.With.Solid, Stock: r.With.Stock})
	}
	return out
}

func (a *asking) weakening(at string, r *api.AskedWeakening) *solution.Weaken {
	if r == nil {
		return nil
	}
	return &solution.Weaken{Strength: a.strength(at+"/strength", &r.Strength), Solvent: a.solvent(at+"/solvent", r.Solvent)}
}

func (a *asking) restoring(at string, r *api.AskedRestoring) *solution.Restore {
	if r == nil {
		return nil
	}
	out := &solution.Restore{Solvent: a.solvent(at+"/solvent", r.Solvent)}
	if l := r.ByMass; l != nil {
		out.ByMass = &solution.LossByMass{Before: a.quantity(at+"/byMass/before", &l.Before), After: a.quantity(at+"/byMass/after", &l.After)}
	}
	if l := r.ByLevel; l != nil {
		out.ByLevel = &solution.LossByLevel{Mark: a.quantity(at+"/byLevel/mark", &l.Mark), Now: a.quantity(at+"/byLevel/now", &l.Now), TakenOut: solution.Answer(l.TakenOut)}
	}
	if l := r.ByTime; l != nil {
		out.ByTime = &solution.LossByTime{Rate: a.quantity(at+"/byTime/rate", &l.Rate), Time: a.quantity(at+"/byTime/time", &l.Time)}
	}
	return out
}

func adjustAnswer(x solution.AdjustAnswer) api.AdjustAnswer {
	out := api.AdjustAnswer{Steps: steps(x.Steps), Advice: advice(x.Advice)}
	if len(x.Readings) > 0 {
		out.Readings, out.Ranges = byReadings(x.Readings), strengthRanges(x.Ranges)
		return out
	}
	before, after, asRounded, add := mixture(x.Before), mixture(x.After), mixture(x.AsRounded), each(x.Add, ingredient)
	out.Basis, out.Before, out.After, out.AsRounded, out.Add = basisOf(x.Basis), &before, &after, &asRounded, &add
	if l := x.Loss; l != nil {
		out.Loss = &api.EvaporationLoss{
			Mass: measured(l.Grams.Measured, quantity.Gram), Share: computed(l.Share, quantity.Percent), Estimated: l.Estimated,
			Liquids: each(l.Liquids, func(x solution.LiquidLoss) api.LiquidLoss {
				return api.LiquidLoss{Name: x.Name, Mass: computed(x.Grams, quantity.Gram), Least: computed(x.Least, quantity.Gram), Most: computed(x.Most, quantity.Gram)}
			}),
		}
	}
	return out
}
