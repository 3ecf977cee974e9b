package httpapi

import (
	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// computeDilution dilutes a stock.
func computeDilution(s *Server, c *call) (*answer, error) {
	a, r, err := asked[api.DiluteRequest](s, c)
	if err != nil {
		return nil, err
	}
	in := solution.DiluteInput{
		Stock: a.stock("/stock", r.Stock), Solvent: a.solvent("/solvent", r.Solvent), Strength: a.strength("/strength", r.Strength),
		MadeUpTo: a.quantity("/madeUpTo", r.MadeUpTo), Added: a.quantity("/added", r.Added), Amount: a.amount("/amount", r.Amount),
		Leftover: a.quantity("/leftover", r.Leftover), Container: a.container("/container", r.Container),
		Instruments: a.instruments("/instruments", r.Instruments), Temperature: a.quantity("/temperature", r.Temperature),
	}
	if err := a.Faults.Err(); err != nil {
		return nil, err
	}
	made, err := solution.Dilute(in)
	if err != nil {
		return nil, computedProblem(err)
	}
	return ok(diluteAnswer(made))
}

func diluteAnswer(d solution.DiluteAnswer) api.DiluteAnswer {
	out := api.DiluteAnswer{Steps: steps(d.Steps), Advice: advice(d.Advice)}
	if len(d.Readings) > 0 {
		out.Readings, out.Ranges = byReadings(d.Readings), strengthRanges(d.Ranges)
		return out
	}
	stock, target, main, byWeight := mixture(d.Stock), mixture(d.Target), recipe(d.Main), recipe(d.ByWeight)
	parts, rule, prepared := each(d.WholeParts, wholeParts), simpleRule(d.Rule), preparation(d.Preparation)
	out.Basis, out.Stock, out.Target, out.Main, out.ByWeight = basisOf(d.Basis), &stock, &target, &main, &byWeight
	out.WholeParts, out.SimpleRule, out.Preparation = &parts, &rule, &prepared
	if l := d.Leftover; l != nil {
		out.Leftover = &api.Leftover{
			Stock: computed(l.Stock, quantity.Gram), Makes: computed(l.Grams, quantity.Gram), MakesVolume: some(l.Millilitres, quantity.Millilitre),
			Solvent: computed(l.Solvent, quantity.Gram), Short: l.Short, Sentence: l.Sentence,
		}
	}
	return out
}

func wholeParts(w solution.WholeParts) api.WholeParts {
	return api.WholeParts{
		By: api.SharesBy(w.By), Stock: int32(w.Stock), Diluent: int32(w.Diluent), Strength: computedStrength(w.Strength),
		Off: figure(w.Off), Exact: figure(w.Exact),
	}
}

func simpleRule(r solution.Rule) api.SimpleRule {
	return api.SimpleRule{Holds: r.Holds, Predicts: some(r.Predicts, r.Unit), Gives: some(r.Gives, r.Unit), Sentence: said(r.Sentence)}
}
