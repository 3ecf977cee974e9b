package calculation

import (
	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// Dilution dilutes a stock.
var Dilution = computation((*reader).dilution, solution.Dilute, writer.dilution)

func (r *reader) dilution(q api.DiluteRequest) solution.DiluteInput {
	return solution.DiluteInput{
		Stock: r.stock("/stock", q.Stock), Solvent: r.solvent("/solvent", q.Solvent),
		Strength: r.strength("/strength", q.Strength),
		MadeUpTo: r.quantity("/madeUpTo", q.MadeUpTo), Added: r.quantity("/added", q.Added),
		Amount:   r.amount("/amount", q.Amount),
		Leftover: r.quantity("/leftover", q.Leftover), Container: r.vessel("/container", q.Container),
		Instruments: r.instruments("/instruments", q.Instruments),
		Temperature: r.quantity("/temperature", q.Temperature), Brief: r.brief,
	}
}

func (w writer) dilution(d solution.DiluteAnswer) api.DiluteAnswer {
	out := api.DiluteAnswer{Answer: d.Answer, Steps: texts(d.Steps), Advice: w.advice(d.Advice)}
	if len(d.Readings) > 0 {
		if !w.full && len(d.Ranges) > 1 {
			d.Ranges = d.Ranges[:1] // of which the answer speaks
		}
		out.Readings, out.Ranges = w.byReadings(d.Readings), strengthRanges(d.Ranges)
		return out
	}
	out.Basis, out.Main, out.Preparation = basisOf(d.Basis), new(w.recipe(d.Main)), w.preparation(d.Preparation)
	if w.full {
		out.Stock, out.Target, out.ByWeight = new(Mixture(d.Stock)), new(Mixture(d.Target)), w.withSteps(d.ByWeight)
		out.WholeParts, out.SimpleRule = new(each(d.WholeParts, w.wholeParts)), new(simpleRule(d.Rule))
	}
	if l := d.Leftover; l != nil {
		out.Leftover = &api.Leftover{
			Stock: Quantity(l.Stock, quantity.Gram), Makes: Quantity(l.Grams, quantity.Gram),
			MakesVolume: some(l.Millilitres, quantity.Millilitre),
			Solvent:     Quantity(l.Solvent, quantity.Gram), Short: l.Short, Sentence: l.Sentence,
		}
	}
	return out
}

func (w writer) wholeParts(p solution.WholeParts) api.WholeParts {
	return api.WholeParts{
		By: api.SharesBy(p.By), Stock: int32(p.Stock), Diluent: int32(p.Diluent), Strength: w.strength(p.Strength),
		Off: figure(p.Off), Exact: figure(p.Exact),
	}
}

func simpleRule(r solution.Rule) api.SimpleRule {
	return api.SimpleRule{
		Holds: r.Holds, Predicts: some(r.Predicts, r.Unit), Gives: some(r.Gives, r.Unit), Sentence: said(r.Sentence),
	}
}
