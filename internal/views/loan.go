package views

import (
	"fmt"

	"meniscus/api"
	"meniscus/internal/paper"
	"meniscus/internal/quantity"
)

// mostTravelLayers is how many layers a loan sheet lists.
const mostTravelLayers = 50

// Travelling puts the travel temperature onto a loan sheet.
func Travelling(x api.TravelTemperature) paper.Travel {
	out := paper.Travel{Answer: x.Answer, Cautions: x.Cautions}
	for _, l := range x.Layers[:min(len(x.Layers), mostTravelLayers)] {
		said := "no limit known"
		switch {
		case l.Highest != nil && l.Lowest != nil:
			said = "at most " + degreesSaid(l.Highest) + ", at least " + degreesSaid(l.Lowest)
		case l.Highest != nil:
			said = "at most " + degreesSaid(l.Highest)
		case l.Lowest != nil:
			said = "at least " + degreesSaid(l.Lowest)
		}
		label := sentenceCase(l.Material)
		if l.Role != "unknown" {
			label += " as " + string(l.Role)
		}
		out.Layers = append(out.Layers, paper.Field{Label: label, Value: said})
	}
	if n := len(x.Layers) - mostTravelLayers; n > 0 || x.MoreLayers != nil {
		out.More = fmt.Sprintf("%d more layers are on record; the answer above is of all of them.", max(0, n)+int(deref(x.MoreLayers)))
	}
	return out
}

func degreesSaid(q *api.Quantity) string {
	return q.Value.String() + " " + quantity.Unit(q.Unit).Said()
}
