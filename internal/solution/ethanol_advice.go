package solution

import "fmt"

// steps says how to measure a dilution, two ways.
func (r SpiritRecipe) steps(a *Advice, celsius float64) {
	a.Steps = []string{
		fmt.Sprintf("Measure %s mL (%s g) of the stock and %s mL (%s g) of water, all at %s °C.",
			r.StockVolume.Said(), r.StockMass.Said(), r.WaterVolume.Said(),
			r.WaterMass.Said(), number(celsius)),
		fmt.Sprintf("Pour them together and stir: it warms and shrinks, and makes %s mL when it is back at %s °C.",
			r.FinishedVolume.Said(), number(celsius)),
		fmt.Sprintf("Or put the stock in a vessel with a mark at %s mL, add most of the water, let it come back to "+
			"%s °C, and make up to the mark: that needs no figure for the water.", r.FinishedVolume.Said(),
			number(celsius)),
	}
	if d := r.WaterVolume.Value - r.IfVolumesAdded; d > 0.005*r.WaterVolume.Value {
		a.warn("volumes-do-not-add", Info, alcoholSource,
			fmt.Sprintf("Adding up volumes would have told %s mL of water, %s mL too little.", number(r.IfVolumesAdded),
				number(d)))
	}
}

// advise adds the warnings and sources of the answer.
func (a *EthanolWaterAnswer) advise(c *spiritChecker, e EthanolWater) {
	a.cite(alcoholSource)
	if e.Properties != nil && e.Properties.Reading != nil {
		a.cite(glassSource)
		a.warn("alcoholometer-of-spirit-alone", Warn, practice,
			"An alcoholometer reads ethanol and water alone: what is dissolved in old fluid, formaldehyde or glycerol makes "+
				"it show too little.")
	}
	if ice := ethanolFreezes(c.weakest); c.temperature < ice+iceMargin {
		a.warn("may-freeze", Warn, freezing, fmt.Sprintf(
			"Ice forms in the weakest of these at about %s °C; keep it warmer while it is measured.", number(ice)))
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
