package httpapi

import (
	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// computeConversion says one solution on every basis.
func computeConversion(s *Server, c *call) (*answer, error) {
	a, r, err := asked[api.ConvertRequest](s, c)
	if err != nil {
		return nil, err
	}
	in := solution.ConvertInput{
		Stock: a.stock("/stock", r.Stock), Amount: a.quantity("/amount", r.Amount), Solids: a.quantity("/solids", r.Solids),
	}
	if err := a.Faults.Err(); err != nil {
		return nil, err
	}
	found, err := solution.Convert(in)
	if err != nil {
		return nil, computedProblem(err)
	}
	return ok(convertAnswer(found))
}

func convertAnswer(x solution.ConvertAnswer) api.ConvertAnswer {
	out := api.ConvertAnswer{
		Readings: each(x.Readings, reading), Amount: portion(x.Amount), Holding: portion(x.Holding), Advice: advice(x.Advice),
	}
	if len(x.Ranges) > 0 {
		out.Ranges = strengthRanges(x.Ranges)
		return out
	}
	m := mixture(x.Mixture)
	out.Mixture = &m
	return out
}

func strengthRanges(all []solution.Span) *[]api.StrengthRange {
	out := each(all, strengthRange)
	return &out
}

// byReadings renders what every reading of an unknown strength comes to.
func byReadings(all []solution.ByReading) *[]api.AnswerByReading {
	out := each(all, func(r solution.ByReading) api.AnswerByReading {
		if r.Unanswered != "" {
			return api.AnswerByReading{Basis: basisOf(r.Basis), Said: r.Said, Unanswered: &r.Unanswered}
		}
		m := mixture(r.Mixture)
		out := api.AnswerByReading{Basis: basisOf(r.Basis), Said: r.Said, Mixture: &m}
		if r.Uses != nil {
			uses := each(r.Uses, blendUse)
			out.Uses = &uses
		} else {
			ingredients := each(r.Ingredients, ingredient)
			out.Ingredients = &ingredients
		}
		if r.Poured != nil {
			poured := strengthRange(*r.Poured)
			out.Poured = &poured
		}
		return out
	})
	return &out
}

func strengthRange(z solution.Span) api.StrengthRange {
	return api.StrengthRange{
		Basis:  api.StrengthBasis(z.Basis),
		Lowest: computed(z.Lowest, z.Unit), LowestReading: basisOf(z.LowestBasis),
		Highest: computed(z.Highest, z.Unit), HighestReading: basisOf(z.HighestBasis),
		Times: figure(z.TimesBetween), Sentence: z.Sentence,
	}
}

func portion(p *solution.Portion) *api.SolutionPortion {
	if p == nil {
		return nil
	}
	return &api.SolutionPortion{
		Mass: sized(p.Grams, quantity.Gram), Volume: sized(p.Millilitres, quantity.Millilitre),
		Solids: sized(p.Solids, quantity.Gram), Solvent: sized(p.Solvent, quantity.Gram),
	}
}
