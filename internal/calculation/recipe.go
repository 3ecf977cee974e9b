package calculation

import (
	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// recipe renders one way to make a mixture, without its steps.
func (w writer) recipe(r solution.Recipe) api.ComputedRecipe {
	out := api.ComputedRecipe{
		Way: api.ComputedRecipeWay(r.Way), Ingredients: each(r.Ingredients, w.ingredient), Unanswered: said(r.Unanswered),
	}
	if r.Unanswered != "" || r.TooCoarse != nil {
		return out
	}
	out.Strength = new(w.strength(r.Strength))
	out.Finished = finished(r.AsRounded)
	if w.full {
		out.AsRounded = new(Mixture(r.AsRounded))
	}
	return out
}

// finished is how much of a mixture there is; nil where its volume is not known.
func finished(m solution.Mixture) *api.ComputedQuantity {
	if !m.Volume.Answered() {
		return nil
	}
	return new(Measured(m.Volume.Measured, quantity.Millilitre))
}

// withSteps renders another way to make it, with its own steps.
func (w writer) withSteps(r solution.Recipe) *api.ComputedRecipe {
	out := w.recipe(r)
	out.Steps = new(texts(r.Steps))
	return &out
}

func (w writer) ingredient(i solution.Ingredient) api.RecipeIngredient {
	out := api.RecipeIngredient{
		Shown:    some(i.Shown.Value, i.Shown.Unit),
		Material: materialID(i.ID), Name: i.Name, Role: api.RecipeIngredientRole(i.Role),
		How:   api.RecipeIngredientHow(i.How),
		Exact: some(i.Exact, i.Unit), Rounded: some(i.Rounded, i.Unit), Mark: some(i.Mark, quantity.Millilitre),
	}
	if w.full {
		out.Mass, out.Volume = some(i.Grams, quantity.Gram), some(i.Millilitres, quantity.Millilitre)
	}
	return out
}

// preparation renders what goes with a recipe; nil where that is nothing.
func (w writer) preparation(p solution.Preparation) *api.Preparation {
	if p.Fit == nil && !w.full {
		return nil
	}
	out := fitted(p)
	if out == nil {
		out = &api.Preparation{}
	}
	if !w.full {
		return out
	}
	out.Clearing, out.Label = &p.Clearing, new(texts(p.Label))
	if w := p.MarkWater; w != nil {
		out.MarkWithWater = &api.MarkWithWater{
			Mark: Quantity(w.Millilitres, quantity.Millilitre), Water: Quantity(w.Grams, quantity.Gram),
			Rounded: Quantity(w.Rounded, quantity.Gram),
		}
	}
	return out
}

// fitted renders how it fits the vessel; nil where none was named.
func fitted(p solution.Preparation) *api.Preparation {
	f := p.Fit
	if f == nil {
		return nil
	}
	return &api.Preparation{Fit: &api.ContainerFit{
		Fits: f.Fits, Finished: Quantity(f.Finished, quantity.Millilitre),
		Capacity: Quantity(f.Capacity, quantity.Millilitre),
		Usable:   Quantity(f.Usable, quantity.Millilitre), Sentence: f.Sentence,
	}}
}

// smallest renders how little the instruments can make.
func (w writer) smallest(z *solution.Smallest) *api.SmallestMake {
	if z == nil {
		return nil
	}
	out := &api.SmallestMake{
		Tolerance: Quantity(z.Tolerance, quantity.Percent), Has: Quantity(z.Has, quantity.Percent), Enough: z.Enough,
		Mass: some(z.Grams, quantity.Gram), Volume: some(z.Millilitres, quantity.Millilitre), Sentence: z.Sentence,
	}
	if d := z.Instead; d != nil {
		out.Instead = stockAndDilute(*d)
	}
	return out
}

func stockAndDilute(d solution.StockAndDilute) *api.StockAndDilute {
	return &api.StockAndDilute{
		Times:         int32(d.Times),
		StockStrength: Strength(solution.MassPerSolutionVolume, quantity.Exactly(d.StockStrength), quantity.GramsPerDL),
		Resin:         Quantity(d.Resin, quantity.Gram), StockVolume: Quantity(d.StockVolume, quantity.Millilitre),
		Take: Quantity(d.Take, quantity.Millilitre), MakeUpTo: Quantity(d.MakeUpTo, quantity.Millilitre),
		Has: Quantity(d.Has, quantity.Percent), Sentence: d.Sentence,
	}
}
