package calculation

import (
	"slices"

	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// Conversion says one solution on every basis.
var Conversion = computation((*reader).conversion, solution.Convert, writer.conversion)

func (r *reader) conversion(q api.ConvertRequest) solution.ConvertInput {
	return solution.ConvertInput{
		Stock: r.stock("/stock", q.Stock), Amount: r.quantity("/amount", q.Amount),
		Solids: r.quantity("/solids", q.Solids),
	}
}

func (w writer) conversion(x solution.ConvertAnswer) api.ConvertAnswer {
	out := api.ConvertAnswer{
		Answer: x.Answer, Amount: portion(x.Amount), Holding: portion(x.Holding), Advice: w.advice(x.Advice),
	}
	if w.full || len(x.Ranges) > 0 {
		out.Readings = new(each(x.Readings, reading))
	}
	if len(x.Ranges) > 0 {
		out.Ranges = strengthRanges(x.Ranges)
		return out
	}
	if w.full {
		out.Mixture = new(Mixture(x.Mixture))
	}
	answered := slices.DeleteFunc(slices.Clone(x.Mixture.Strengths), func(v solution.View) bool { return !v.Answered() })
	out.Strengths = new(each(answered, w.strength))
	return out
}

func strengthRanges(all []solution.Span) *[]api.StrengthRange {
	return new(each(all, strengthRange))
}

// byReadings renders what every reading of an unknown strength comes to.
func (w writer) byReadings(all []solution.ByReading) *[]api.AnswerByReading {
	out := each(all, func(r solution.ByReading) api.AnswerByReading {
		if r.Unanswered != "" {
			return api.AnswerByReading{Basis: basisOf(r.Basis), Said: r.Said, Unanswered: &r.Unanswered}
		}
		out := api.AnswerByReading{Basis: basisOf(r.Basis), Said: r.Said}
		if w.full {
			out.Mixture = new(Mixture(r.Mixture))
		}
		if r.Uses != nil {
			out.Uses = new(each(r.Uses, blendUse))
		} else {
			out.Ingredients = new(each(r.Ingredients, w.ofReading))
		}
		if r.Poured != nil {
			out.ComesTo = &r.Poured.Sentence
			if w.full {
				out.Poured = new(strengthRange(*r.Poured))
			}
		}
		return out
	})
	return &out
}

// ofReading is an ingredient of one of several readings, in brief without what was asked
// exactly.
func (w writer) ofReading(i solution.Ingredient) api.RecipeIngredient {
	out := w.ingredient(i)
	if !w.full && out.Rounded != nil {
		out.Exact = nil
	}
	return out
}

func strengthRange(z solution.Span) api.StrengthRange {
	return api.StrengthRange{
		Basis:  api.StrengthBasis(z.Basis),
		Lowest: Quantity(z.Lowest, z.Unit), LowestReading: basisOf(z.LowestBasis),
		Highest: Quantity(z.Highest, z.Unit), HighestReading: basisOf(z.HighestBasis),
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
