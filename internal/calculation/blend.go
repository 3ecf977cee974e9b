package calculation

import (
	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// Blend blends stocks.
var Blend = computation((*reader).blend, solution.Blend, writer.blend)

func (r *reader) blend(q api.BlendRequest) solution.BlendInput {
	return solution.BlendInput{
		Stocks: r.blendStocks(q.Stocks), Fresh: r.solvent("/fresh", q.Fresh),
		FreshOnHand: r.quantity("/freshOnHand", q.FreshOnHand),
		Strength:    r.strength("/strength", q.Strength), Total: r.quantity("/total", q.Total),
		Instruments: r.instruments("/instruments", q.Instruments),
		Temperature: r.quantity("/temperature", q.Temperature),
		Objective:   solution.Objective(deref(q.Objective)),
	}
}

func (r *reader) blendStocks(asked []api.AskedBlendStock) []solution.BlendStock {
	var all []solution.BlendStock
	for i, k := range asked {
		at := item("/stocks", i)
		stock := solution.BlendStock{
			Stock: r.stock(at+"/stock", k.Stock), OnHand: r.quantity(at+"/onHand", k.OnHand),
			Age:    r.quantity(at+"/age", k.Age),
			UseAll: k.UseAll != nil && *k.UseAll, Touched: k.Touched != nil && *k.Touched,
		}
		if k.Certainty != nil {
			stock.Certainty = solution.Certainty(*k.Certainty)
		}
		all = append(all, stock)
	}
	return all
}

func (w writer) blend(b solution.BlendAnswer) api.BlendAnswer {
	out := api.BlendAnswer{Answer: b.Answer, Steps: texts(b.Steps), Advice: w.advice(b.Advice)}
	if len(b.Readings) > 0 {
		out.Readings, out.Ranges = w.byReadings(b.Readings), strengthRanges(b.Ranges)
		return out
	}
	out.Uses, out.Certainty = new(each(b.Uses, blendUse)), new(api.ContentsCertainty(b.Certainty))
	out.Strength, out.Finished = new(w.strength(b.Strength)), finished(b.AsRounded)
	out.Basis, out.Reach = basisOf(b.Basis), reach(b.Reach)
	if b.Fresh.Name != "" {
		out.Fresh = new(blendUse(b.Fresh))
	}
	if b.Objective != "" {
		out.Objective = new(api.BlendObjective(b.Objective))
	}
	if !w.full {
		return out
	}
	out.Exact, out.AsRounded = new(Mixture(b.Exact)), new(Mixture(b.AsRounded))
	if b.Alligation != nil {
		out.Alligation = &api.Alligation{ByMass: figure(b.Alligation.ByMass)}
		if v := figure(b.Alligation.ByVolume); v != 0 {
			out.Alligation.ByVolume = &v
		}
	}
	return out
}

func blendUse(u solution.Use) api.BlendUse {
	out := api.BlendUse{
		Name: u.Name, Mass: Quantity(u.Grams, quantity.Gram), Volume: some(u.Millilitres, quantity.Millilitre),
		Rounded: Quantity(u.Rounded, u.Unit),
	}
	if u.Limited {
		out.Left = new(Quantity(u.Left, quantity.Gram))
	}
	return out
}
