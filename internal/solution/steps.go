package solution

import (
	"meniscus/internal/quantity"
)

// steps writes the steps of a recipe, in working order.
func (m *mixing) steps(p Preparation, target Mixture, r Recipe) []string {
	if r.Unanswered != "" || r.TooCoarse != nil {
		return nil
	}
	steps := []string{vesselStep(target)}
	switch r.Way {
	case ToTheMark:
		steps = append(steps, m.markStep(p.MarkWater))
		steps = append(steps, m.stepsToMark(p, r)...)
	case ByWeight:
		steps = append(steps, m.stepsByWeight(p, r)...)
	default:
		steps = append(steps, m.stepsByVolume(p, r)...)
	}
	label := m.label(target, r)
	return append(steps, "Label it now: "+label[0]+", "+label[1]+", "+label[2]+
		", the date, your initials and the supplies' codes.")
}

// says is a recipe in a sentence: the amounts, and the strength that they give.
func (m *mixing) says(r Recipe) string {
	if r.Unanswered != "" {
		return r.Unanswered
	}
	if r.TooCoarse != nil {
		return r.TooCoarse.Sentence
	}
	var amounts []string
	for _, i := range r.Ingredients {
		switch i.How {
		case Weigh:
			amounts = append(amounts, m.gauges.scale.say(i.Rounded)+" of "+i.Name)
		case Pour:
			amounts = append(amounts, m.gauges.measure.say(i.Rounded)+" of "+i.Name)
		default:
			amounts = append(amounts, i.Name+" to the mark at "+m.gauges.measure.say(i.Mark))
		}
	}
	return capital(list(amounts)) + ": " + r.Strength.sentence()
}

// sentence is a strength with its uncertainty, as the end of a sentence.
func (v View) sentence() string {
	switch {
	case !v.Answered():
		return v.Unanswered
	case v.Standard == 0:
		return v.Said + "."
	}
	return v.Said + " (" + v.Range + ")."
}

// vesselStep says what to mix in.
func vesselStep(target Mixture) string {
	return "Take a clean glass vessel" + atLeast(target) + ", with a lid that these solvents do not attack."
}

// atLeast says how large the vessel must be.
func atLeast(target Mixture) string {
	if !target.Volume.Answered() {
		return ""
	}
	return ", larger than " + amountText(target.Volume.Value, quantity.Millilitre)
}

func (m *mixing) markStep(w *MarkWater) string {
	return "Mark it at " + m.gauges.measure.say(w.Millilitres) + ": weigh in " + m.gauges.scale.say(w.Rounded) +
		" of water, draw the line, empty it and dry it completely."
}

// verb says how an ingredient is measured.
func (m *mixing) verb(i Ingredient) string {
	if i.How == Weigh {
		return "weigh in " + m.gauges.scale.say(i.Rounded)
	}
	return "measure " + m.gauges.measure.say(i.Rounded)
}

// stepsToMark: most of the filling liquid first, then what is dissolved, then the
// others, then the mark.
func (m *mixing) stepsToMark(p Preparation, r Recipe) []string {
	last := len(r.Ingredients) - 1
	fill := r.Ingredients[last]
	var steps []string
	if m.role == ResinRole {
		steps = append(steps, m.mostOf(fill))
	}
	steps = append(steps, m.addSteps(p, r.Ingredients[:last])...)
	return append(steps, "Fill to the mark at "+m.gauges.measure.say(fill.Mark)+" with "+fill.Name+
		", and turn it over until it is even.")
}

// mostOf pours in most of the liquid that fills to the mark.
func (m *mixing) mostOf(fill Ingredient) string {
	if fill.Rounded == 0 {
		return "Pour in " + fill.Name +
			" to about half of the mark; how much it will take in all is not known without the density."
	}
	return "Pour in about three quarters of the " + fill.Name + " that it will take (in all about " +
		m.gauges.measure.say(fill.Rounded) + ")."
}

// stepsByVolume: the liquids first, then what is dissolved; later liquids at the end.
func (m *mixing) stepsByVolume(p Preparation, r Recipe) []string {
	var first, rest []string
	for _, i := range r.Ingredients[1:] {
		if i.Role != LaterRole {
			first = append(first, capital(m.verb(i))+" of "+i.Name+" into the vessel.")
		}
	}
	added := []Ingredient{r.Ingredients[0]}
	for _, i := range r.Ingredients[1:] {
		if i.Role == LaterRole {
			added = append(added, i)
		}
	}
	rest = m.addSteps(p, added)
	return append(first, rest...)
}

// addSteps adds ingredients to the vessel, with the wait for what dissolves before
// anything that must go in after that.
func (m *mixing) addSteps(p Preparation, ingredients []Ingredient) []string {
	var steps, later []string
	for _, i := range ingredients {
		if i.Role == LaterRole {
			later = append(later, m.addStep(i))
		} else {
			steps = append(steps, m.addStep(i))
		}
	}
	if m.role == ResinRole {
		steps = append(steps, p.Clearing)
	}
	return append(steps, later...)
}

// stepsByWeight gives what the scale shows after each ingredient.
func (m *mixing) stepsByWeight(p Preparation, r Recipe) []string {
	steps := []string{"Put the empty vessel on the scale and set it to zero."}
	var later []string
	var total float64
	for n, i := range r.Ingredients {
		total += i.Rounded
		until := " until the scale shows " + m.gauges.scale.say(total) + "."
		switch {
		case n == 0:
			steps = append(steps, capital(m.verb(i))+" of "+i.Name+".")
		case i.Role == LaterRole:
			later = append(later, "When the resin has dissolved, add "+i.Name+until)
		default:
			steps = append(steps, "Pour in "+i.Name+until)
		}
	}
	if m.role == ResinRole {
		steps = append(steps, p.Clearing)
	}
	steps = append(steps, later...)
	return append(steps, "Close it and turn it over until it is even; weigh it again, and make up what has evaporated.")
}

// addStep is the step that adds one ingredient.
func (m *mixing) addStep(i Ingredient) string {
	switch {
	case i.Role == LaterRole:
		return "When the resin has dissolved, " + m.verb(i) + " of " + i.Name + " and add it slowly while stirring."
	case i.Role == ResinRole:
		return capital(m.verb(i)) + " of " + i.Name +
			" and stir it in a little at a time, so that no lump lies on the bottom."
	default:
		return capital(m.verb(i)) + " of " + i.Name + " and add it."
	}
}
