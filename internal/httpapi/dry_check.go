package httpapi

import (
	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// computeDryCheck finds a strength by drying.
func computeDryCheck(s *Server, c *call) (*answer, error) {
	a, r, err := asked[api.DryCheckRequest](s, c)
	if err != nil {
		return nil, err
	}
	in := solution.DryCheckInput{
		Solute: a.component("/solute", r.Solute, solution.Solid), Solvent: a.solvent("/solvent", &r.Solvent),
		PortionMass: a.quantity("/portionMass", r.PortionMass), PortionVolume: a.quantity("/portionVolume", r.PortionVolume),
		Residue: a.quantity("/residue", r.Residue), Dish: a.quantity("/dish", r.Dish), DishWithResidue: a.quantity("/dishWithResidue", r.DishWithResidue),
		Retained: a.quantity("/retained", r.Retained), Label: a.strength("/label", r.Label),
		Instruments: a.instruments("/instruments", r.Instruments), Temperature: a.quantity("/temperature", r.Temperature),
	}
	if err := a.Faults.Err(); err != nil {
		return nil, err
	}
	found, err := solution.DryCheck(in)
	if err != nil {
		return nil, computedProblem(err)
	}
	return ok(dryCheckAnswer(found))
}

func dryCheckAnswer(x solution.DryCheckAnswer) api.DryCheckAnswer {
	out := api.DryCheckAnswer{
		Reading: mixture(x.Reading), Lowest: mixture(x.Lowest), Solids: measured(x.Solids.Measured, quantity.Gram),
		Steps: steps(x.Steps), Advice: advice(x.Advice),
	}
	if g := x.Agreement; g != nil {
		out.Agreement = &api.LabelAgreement{
			Basis: api.StrengthBasis(g.Basis), Label: measured(g.Label, g.Unit), Lowest: computed(g.Lowest, g.Unit), Highest: computed(g.Highest, g.Unit),
			Apart: figure(g.Apart), Allowed: figure(g.Allowed), Verdict: api.LabelAgreementVerdict(g.Verdict), Sentence: g.Sentence,
		}
	}
	return out
}
