package httpapi

import (
	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// computeBlend blends stocks.
func computeBlend(s *Server, c *call) (*answer, error) {
	a, r, err := asked[api.BlendRequest](s, c)
	if err != nil {
		return nil, err
	}
	in := solution.BlendInput{
		Stocks: a.blendStocks(r.Stocks), Fresh: a.solvent("/fresh", r.Fresh), FreshOnHand: a.quantity("/freshOnHand", r.FreshOnHand),
		Strength: a.strength("/strength", r.Strength), Total: a.quantity("/total", r.Total),
		Instruments: a.instruments("/instruments", r.Instruments), Temperature: a.quantity("/temperature", r.Temperature),
	}
	if r.Objective != nil {
		in.Objective = solution.Objective(*r.Objective)
	}
	if err := a.Faults.Err(); err != nil {
		return nil, err
	}
	made, err := solution.Blend(in)
	if err != nil {
		return nil, computedProblem(err)
	}
	return ok(blendAnswer(made))
}

func (a *asking) blendStocks(asked []api.AskedBlendStock) []solution.BlendStock {
	var all []solution.BlendStock
	for i, k := range asked {
		at := item("/stocks", i)
		stock := solution.BlendStock{
			Stock: a.stock(at+"/stock", k.Stock), OnHand: a.quantity(at+"/onHand", k.OnHand), Age: a.quantity(at+"/age", k.Age),
			UseAll: k.UseAll != nil && *k.UseAll, Touched: k.Touched != nil && *k.Touched,
		}
		if k.Certainty != nil {
			stock.Certainty = solution.Certainty(*k.Certainty)
		}
		all = append(all, stock)
	}
	return all
}

func blendAnswer(b solution.BlendAnswer) api.BlendAnswer {
	out := api.BlendAnswer{Steps: steps(b.Steps), Advice: advice(b.Advice)}
	if len(b.Readings) > 0 {
		out.Readings, out.Ranges = byReadings(b.Readings), strengthRanges(b.Ranges)
		return out
	}
	uses, exact, asRounded, certainty := each(b.Uses, blendUse), mixture(b.Exact), mixture(b.AsRounded), api.ContentsCertainty(b.Certainty)
	out.Uses, out.Exact, out.AsRounded, out.Certainty = &uses, &exact, &asRounded, &certainty
	out.Basis, out.Reach = basisOf(b.Basis), reach(b.Reach)
	if b.Fresh.Name != "" {
		fresh := blendUse(b.Fresh)
		out.Fresh = &fresh
	}
	if b.Objective != "" {
		objective := api.BlendObjective(b.Objective)
		out.Objective = &objective
	}
	if b.Alligation != nil {
		out.Alligation = &api.Alligation{ByMass: figure(b.Alligation.ByMass)}
		if v := figure(b.Alligation.ByVolume); v != 0 {
			out.Alligation.ByVolume = &v
		}
	}
	return out
}

func blendUse(u solution.Use) api.BlendUse {
	out := api.BlendUse{Name: u.Name, Mass: computed(u.Grams, quantity.Gram), Volume: some(u.Millilitres, quantity.Millilitre), Rounded: computed(u.Rounded, u.Unit)}
	if u.Limited {
		left := computed(u.Left, quantity.Gram)
		out.Left = &left
	}
	return out
}
