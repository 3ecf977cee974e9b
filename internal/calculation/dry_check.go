package calculation

import (
	"meniscus/api"
	"meniscus/internal/material"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// DryCheck finds a strength by drying.
var DryCheck = computation((*reader).dryCheck, solution.DryCheck, writer.dryCheck)

func (r *reader) dryCheck(q api.DryCheckRequest) solution.DryCheckInput {
	r.Named = append(r.Named, material.Heat)
	return solution.DryCheckInput{
		Solute: r.component("/solute", q.Solute, solution.Solid), Solvent: r.solvent("/solvent", &q.Solvent),
		PortionMass:   r.measured("/portionMass", q.PortionMass),
		PortionVolume: r.measured("/portionVolume", q.PortionVolume),
		Residue:       r.measured("/residue", q.Residue), Dish: r.measured("/dish", q.Dish),
		DishWithResidue: r.measured("/dishWithResidue", q.DishWithResidue),
		Retained:        r.quantity("/retained", q.Retained), Label: r.strength("/label", q.Label),
		Instruments: r.instruments("/instruments", q.Instruments),
		Temperature: r.quantity("/temperature", q.Temperature),
	}
}

func (w writer) dryCheck(x solution.DryCheckAnswer) api.DryCheckAnswer {
	out := api.DryCheckAnswer{
		Answer: x.Answer, Strength: w.strength(x.Strength), Solids: Measured(x.Solids.Measured, quantity.Gram),
		Steps: texts(x.Steps), Advice: w.advice(x.Advice),
	}
	if x.LowestStrength.Basis != "" {
		out.Lowest = new(w.strength(x.LowestStrength))
	}
	if w.full {
		out.Reading, out.AsLowest = new(Mixture(x.Reading)), new(Mixture(x.Lowest))
	}
	if g := x.Agreement; g != nil {
		out.Agreement = &api.LabelAgreement{
			Basis: api.StrengthBasis(g.Basis), Label: Measured(g.Label, g.Unit), Lowest: Quantity(g.Lowest, g.Unit),
			Highest: Quantity(g.Highest, g.Unit),
			Apart:   figure(g.Apart), Allowed: figure(g.Allowed), Verdict: api.LabelAgreementVerdict(g.Verdict),
			Sentence: g.Sentence,
		}
	}
	return out
}
