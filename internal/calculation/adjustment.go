package calculation

import (
	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// Adjustment strengthens, weakens or restores a solution.
var Adjustment = computation((*reader).adjustment, solution.Adjust, writer.adjustment)

func (r *reader) adjustment(q api.AdjustRequest) solution.AdjustInput {
	return solution.AdjustInput{
		Stock: r.stock("/stock", q.Stock), OnHand: r.quantity("/onHand", q.OnHand),
		Strengthen:  r.strengthening("/strengthen", q.Strengthen),
		Weaken:      r.weakening("/weaken", q.Weaken),
		Restore:     r.restoring("/restore", q.Restore),
		Instruments: r.instruments("/instruments", q.Instruments),
		Temperature: r.quantity("/temperature", q.Temperature),
	}
}

func (r *reader) strengthening(at string, q *api.AskedStrengthening) *solution.Strengthen {
	if q == nil {
		return nil
	}
	out := &solution.Strengthen{
		Strength: r.strength(at+"/strength", q.Strength), Added: r.quantity(at+"/added", q.Added),
	}
	if q.With != nil {
		out.With = r.resin(at+"/with", api.AskedResin{Solid: q.With.Solid, Stock: q.With.Stock})
	}
	return out
}

func (r *reader) weakening(at string, q *api.AskedWeakening) *solution.Weaken {
	if q == nil {
		return nil
	}
	return &solution.Weaken{
		Strength: r.strength(at+"/strength", &q.Strength), Solvent: r.solvent(at+"/solvent", q.Solvent),
	}
}

func (r *reader) restoring(at string, q *api.AskedRestoring) *solution.Restore {
	if q == nil {
		return nil
	}
	out := &solution.Restore{Solvent: r.solvent(at+"/solvent", q.Solvent)}
	if l := q.ByMass; l != nil {
		out.ByMass = &solution.LossByMass{
			Before: r.measured(at+"/byMass/before", &l.Before), After: r.measured(at+"/byMass/after", &l.After),
			TakenOut: solution.Answer(l.TakenOut), Taken: r.quantity(at+"/byMass/taken", l.Taken),
		}
	}
	if l := q.ByLevel; l != nil {
		out.ByLevel = &solution.LossByLevel{
			Mark: r.quantity(at+"/byLevel/mark", &l.Mark), Now: r.quantity(at+"/byLevel/now", &l.Now),
			TakenOut: solution.Answer(l.TakenOut),
		}
	}
	if l := q.ByTime; l != nil {
		out.ByTime = &solution.LossByTime{
			Rate: r.quantity(at+"/byTime/rate", &l.Rate), Time: r.quantity(at+"/byTime/time", &l.Time),
		}
	}
	return out
}

func (w writer) adjustment(x solution.AdjustAnswer) api.AdjustAnswer {
	out := api.AdjustAnswer{Answer: x.Answer, Steps: texts(x.Steps), Advice: w.advice(x.Advice)}
	if len(x.Readings) > 0 {
		out.Readings, out.Ranges = w.byReadings(x.Readings), strengthRanges(x.Ranges)
		return out
	}
	out.Basis, out.Add, out.Strength = basisOf(x.Basis), new(each(x.Add, w.ingredient)), new(w.strength(x.Strength))
	out.Finished = finished(x.AsRounded)
	if w.full {
		out.Before, out.After, out.AsRounded = new(Mixture(x.Before)), new(Mixture(x.After)), new(Mixture(x.AsRounded))
	}
	if l := x.Loss; l != nil {
		out.Loss = &api.EvaporationLoss{
			Mass: Measured(l.Grams.Measured, quantity.Gram), Share: Quantity(l.Share, quantity.Percent),
			Estimated: l.Estimated,
			Liquids: each(l.Liquids, func(x solution.LiquidLoss) api.LiquidLoss {
				return api.LiquidLoss{
					Name: x.Name, Mass: Quantity(x.Grams, quantity.Gram), Least: Quantity(x.Least, quantity.Gram),
					Most: Quantity(x.Most, quantity.Gram),
				}
			}),
		}
	}
	return out
}
