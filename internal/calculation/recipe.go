package calculation

import (
	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// recipe renders one way to make a mixture.
func recipe(r solution.Recipe) api.ComputedRecipe {
	out := api.ComputedRecipe{
		Way: api.ComputedRecipeWay(r.Way), Ingredients: each(r.Ingredients, ingredient),
		Steps: texts(r.Steps), Unanswered: said(r.Unanswered),
	}
	if r.Unanswered == "" && r.TooCoarse == "" {
		out.AsRounded = new(Mixture(r.AsRounded))
	}
	return out
}

func ingredient(i solution.Ingredient) api.RecipeIngredient {
	return api.RecipeIngredient{
		Shown:    some(i.Shown.Value, i.Shown.Unit),
		Material: materialID(i.ID), Name: i.Name, Role: api.RecipeIngredientRole(i.Role),
		How:   api.RecipeIngredientHow(i.How),
		Exact: measuredOut(i, i.Exact), Rounded: measuredOut(i, i.Rounded), Mark: some(i.Mark, quantity.Millilitre),
		Mass: some(i.Grams, quantity.Gram), Volume: some(i.Millilitres, quantity.Millilitre),
	}
}

// measuredOut renders an amount to measure. What fills to a mark may have none: how much
// that takes may depend on a density that is not known.
func measuredOut(i solution.Ingredient, amount float64) *api.ComputedQuantity {
	if i.How == solution.FillUp {
		return some(amount, i.Unit)
	}
	return new(Quantity(amount, i.Unit))
}

// preparation renders what goes with a recipe.
func preparation(p solution.Preparation) api.Preparation {
	out := api.Preparation{Clearing: p.Clearing, Label: texts(p.Label)}
	if f := p.Fit; f != nil {
		out.Fit = &api.ContainerFit{
			Fits: f.Fits, Finished: Quantity(f.Finished, quantity.Millilitre),
			Capacity: Quantity(f.Capacity, quantity.Millilitre),
			Usable:   Quantity(f.Usable, quantity.Millilitre), Sentence: f.Sentence,
		}
	}
	if w := p.MarkWater; w != nil {
		out.MarkWithWater = &api.MarkWithWater{
			Mark: Quantity(w.Millilitres, quantity.Millilitre), Water: Quantity(w.Grams, quantity.Gram),
			Rounded: Quantity(w.Rounded, quantity.Gram),
		}
	}
	return out
}

// smallest renders how little the instruments can make.
func smallest(z *solution.Smallest) *api.SmallestMake {
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
