package calculation

import (
	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// Dilution dilutes a stock.
var Dilution = computation((*reader).dilution, solution.Dilute, diluteAnswer)

func (r *reader) dilution(q api.DiluteRequest) solution.DiluteInput {
	return solution.DiluteInput{
		Stock: r.stock("/stock", q.Stock), Solvent: r.solvent("/solvent", q.Solvent),
		Strength: r.strength("/strength", q.Strength),
		MadeUpTo: r.quantity("/madeUpTo", q.MadeUpTo), Added: r.quantity("/added", q.Added),
		Amount:   r.amount("/amount", q.Amount),
		Leftover: r.quantity("/leftover", q.Leftover), Container: r.vessel("/container", q.Container),
		Instruments: r.instruments("/instruments", q.Instruments),
		Temperature: r.quantity("/temperature", q.Temperature),
	}
}

func diluteAnswer(d solution.DiluteAnswer) api.DiluteAnswer {
	out := api.DiluteAnswer{Steps: texts(d.Steps), Advice: advice(d.Advice)}
	if len(d.Readings) > 0 {
		out.Readings, out.Ranges = byReadings(d.Readings), strengthRanges(d.Ranges)
		return out
	}
	out.Basis, out.Stock, out.Target = basisOf(d.Basis), new(Mixture(d.Stock)), new(Mixture(d.Target))
	out.Main, out.ByWeight = new(recipe(d.Main)), new(recipe(d.ByWeight))
	out.WholeParts, out.SimpleRule = new(each(d.WholeParts, wholeParts)), new(simpleRule(d.Rule))
	out.Preparation = new(preparation(d.Preparation))
	if l := d.Leftover; l != nil {
		out.Leftover = &api.Leftover{
			Stock: Quantity(l.Stock, quantity.Gram), Makes: Quantity(l.Grams, quantity.Gram),
			MakesVolume: some(l.Millilitres, quantity.Millilitre),
			Solvent:     Quantity(l.Solvent, quantity.Gram), Short: l.Short, Sentence: l.Sentence,
		}
	}
	return out
}

func wholeParts(w solution.WholeParts) api.WholeParts {
	return api.WholeParts{
		By: api.SharesBy(w.By), Stock: int32(w.Stock), Diluent: int32(w.Diluent), Strength: strength(w.Strength),
		Off: figure(w.Off), Exact: figure(w.Exact),
	}
}

func simpleRule(r solution.Rule) api.SimpleRule {
	return api.SimpleRule{
		Holds: r.Holds, Predicts: some(r.Predicts, r.Unit), Gives: some(r.Gives, r.Unit), Sentence: said(r.Sentence),
	}
}
