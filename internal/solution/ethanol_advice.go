package solution

import "fmt"

var freezing = Cited("ethanol-freezing", Memory)

// steps says how to measure a dilution, two ways.
func (r SpiritRecipe) steps(a *Advice, celsius float64) {
	a.Steps = []string{
		fmt.Sprintf("Measure %s mL (%s g) of the stock and %s mL (%s g) of water, all at %s °C.",
			number(r.StockVolume.Value), number(r.StockMass.Value), number(r.WaterVolume.Value),
			number(r.WaterMass.Value), number(celsius)),
		fmt.Sprintf("Pour them together and stir: it warms and shrinks, and makes %s mL when it is back at %s °C.",
			number(r.FinishedVolume.Value), number(celsius)),
		fmt.Sprintf("Or put the stock in a vessel with a mark at %s mL, add most of the water, let it come back to "+
			"%s °C, and make up to the mark: that needs no figure for the water.", number(r.FinishedVolume.Value),
			number(celsius)),
	}
	if d := r.WaterVolume.Value - r.IfVolumesAdded; d > 0.005*r.WaterVolume.Value {
		a.warn("volumes-do-not-add", Info, alcoholSource,
			fmt.Sprintf("Adding up volumes would have told %s mL of water, %s mL too little.", number(r.IfVolumesAdded),
				number(d)))
	}
}

// advise adds the warnings and sources of the answer.
func (a *EthanolWaterAnswer) advise(c *spiritChecker) {
	a.cite(alcoholSource)
	if c.temperature < 0 && c.weakest < 0.4 {
		a.warn("may-freeze", Warn, freezing,
			"The formula is for the liquid: mixtures under about 40 % by mass may be partly frozen below 0 °C, and "+
				"no curve of that is held here.")
	}
	a.warn("ethanol-and-water-only", Info, practice,
		"Denatured spirits hold other things (methanol, ketones, bittering): their density is not quite that of "+
			"ethanol and water; a maker's figure comes first.")
	if a.Dilution != nil || a.Mixture != nil {
		a.Cautions = append(a.Cautions,
			Caution{"Ethanol burns with a flame that is hard to see, and mixtures with water are flammable far down: " +
				"no flame or spark near it, and air drawn away from the face.", practice})
	}
}
