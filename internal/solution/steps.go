package solution

import (
	"math"
	"strings"

	"meniscus/internal/quantity"
)

// steps writes the steps of a recipe, in working order.
func (m *mixing) steps(p Preparation, target Mixture, r Recipe) []string {
	if len(r.Ingredients) == 0 || r.TooCoarse != nil {
		return nil
	}
	steps := []string{vesselStep(target, r.Way == ToTheMark)}
	switch r.Way {
	case ToTheMark:
		steps = append(steps, m.markStep(p.MarkWater))
		steps = append(steps, m.stepsToMark(p, target, r)...)
	case ByWeight:
		steps = append(steps, m.stepsByWeight(p, target, r)...)
	default:
		steps = append(steps, m.stepsByVolume(p, target, r)...)
	}
	return append(steps, "Label it now: "+strings.Join(target.labelled(m.onLabel(r)), ", ")+
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
		if i.none() {
			continue
		}
		switch i.How {
		case Weigh:
			amounts = append(amounts, m.gauges.scale.say(i.Rounded)+" of "+i.Name)
		case Pour:
			amounts = append(amounts, m.gauges.measure.say(i.Rounded)+" of "+i.Name)
		default:
			amounts = append(amounts, i.Name+" to the mark at "+m.gauges.measure.say(i.Mark))
		}
	}
	if m.s.unlabelled != "" {
		return capital(list(amounts)) + ": " + m.onLabel(r) + ". How much solids that is, is not known."
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

// none tells that nothing of an ingredient goes in.
func (i Ingredient) none() bool { return i.How != FillUp && i.Exact == 0 }

// Sizes of vessels, mL: the largest glass bottle for solvents in trade, what one person turns over,
// and the largest can and drum. Common practice.
const (
	largestGlass = 2500
	turnedOver   = 5000
	largestCan   = 25000
	largestDrum  = 200000
)

// vesselStep says what to mix in. What is to be filled to a mark stands in one vessel.
func vesselStep(target Mixture, marked bool) string {
	if !target.Volume.Answered() {
		return vesselFor(0, marked)
	}
	return vesselFor(target.Volume.Value, marked)
}

// vesselFor is a vessel for a volume in mL, 0 where that is not known.
func vesselFor(v float64, marked bool) string {
	const lid = ", with a lid that these liquids do not attack."
	larger := ", larger than " + amountText(roundedUp(v), quantity.Millilitre)
	switch {
	case v == 0:
		return "Take a clean glass vessel" + lid
	case v < 1:
		return "Take a clean glass vial" + larger + lid
	case v <= largestGlass:
		return "Take a clean glass vessel" + larger + lid
	case v <= largestCan:
		return "Take a clean can" + larger + lid
	case v <= largestDrum:
		return "Take a clean drum" + larger + lid
	}
	return severalDrums(marked)
}

// severalDrums says what to do with more than the largest vessel holds.
func severalDrums(marked bool) string {
	and := "label each."
	if marked {
		and = "mark and label each."
	}
	return "This is more than one drum holds: make it in several, divide each amount below by their number, and " + and
}

// roundedUp has two significant digits and is not less than x.
func roundedUp(x float64) float64 {
	if x <= 0 {
		return 0
	}
	step := 10 * readStep(x)
	return quantity.RoundTo(step*math.Ceil(x/step-1e-9), step)
}

// evenStep mixes what is together.
func evenStep(target Mixture) string {
	if target.Volume.Answered() {
		return evenly(target.Volume.Value)
	}
	return evenly(0)
}

// evenly mixes a volume in mL, 0 where that is not known.
func evenly(v float64) string {
	if v > turnedOver {
		return "stir it until it is even"
	}
	return "turn it over until it is even"
}

func (m *mixing) markStep(w *MarkWater) string {
	water := "set the scale with the vessel on it to zero, weigh in " + m.gauges.scale.say(w.Rounded) + " of water"
	if w.Rounded == 0 || w.Millilitres > turnedOver {
		water = "measure in that much water"
	}
	return "Mark it at " + m.gauges.measure.say(w.Millilitres) + ": " + water +
		", draw the line, empty it and dry it completely."
}

// verb says how an ingredient is measured.
func (m *mixing) verb(i Ingredient) string {
	if i.How == Weigh {
		return "set the scale with the vessel on it to zero, weigh in " + m.gauges.scale.say(i.Rounded)
	}
	return "measure " + m.gauges.measure.say(i.Rounded)
}

// stepsToMark: most of the filling liquid first, then what is dissolved, then the
// others, then the mark.
func (m *mixing) stepsToMark(p Preparation, target Mixture, r Recipe) []string {
	last := len(r.Ingredients) - 1
	fill := r.Ingredients[last]
	var steps []string
	if m.role == ResinRole {
		steps = append(steps, m.mostOf(fill))
	}
	steps = append(steps, m.addSteps(p, r.Ingredients[:last])...)
	return append(steps, "Fill to the mark at "+m.gauges.measure.say(fill.Mark)+" with "+fill.Name+
		", and "+evenStep(target)+".")
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
func (m *mixing) stepsByVolume(p Preparation, target Mixture, r Recipe) []string {
	var first, rest []string
	for _, i := range r.Ingredients[1:] {
		if i.Role != LaterRole && !i.none() {
			first = append(first, capital(m.verb(i))+" of "+i.Name+" into the vessel.")
		}
	}
	added := []Ingredient{r.Ingredients[0]}
	for _, i := range r.Ingredients[1:] {
		if i.Role == LaterRole {
			added = append(added, i)
		}
	}
	rest = append(m.addSteps(p, added), "Close it and "+evenStep(target)+".")
	return append(first, rest...)
}

// addSteps adds ingredients to the vessel, with the wait for what dissolves before
// anything that must go in after that.
func (m *mixing) addSteps(p Preparation, ingredients []Ingredient) []string {
	var steps, later []string
	for _, i := range ingredients {
		if i.none() {
			continue
		}
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

// stepsByWeight sets the scale to zero before each ingredient.
func (m *mixing) stepsByWeight(p Preparation, target Mixture, r Recipe) []string {
	var steps, later []string
	for n, i := range r.Ingredients {
		shows := "set the scale to zero, and pour in " + i.Name + " until it shows " + m.gauges.scale.say(i.Rounded) + "."
		switch {
		case i.none():
		case n == 0:
			steps = append(steps, "Put the empty vessel on the scale, set it to zero, and weigh in "+
				m.gauges.scale.say(i.Rounded)+" of "+i.Name+".")
		case i.Role == LaterRole:
			later = append(later, "When the resin has dissolved, "+shows)
		default:
			steps = append(steps, capital(shows))
		}
	}
	if m.role == ResinRole {
		steps = append(steps, p.Clearing)
	}
	steps = append(steps, later...)
	return append(steps, "Close it, weigh it, and "+evenStep(target)+"; weigh it again, and make up what has evaporated.")
}

// addStep is the step that adds one ingredient.
func (m *mixing) addStep(i Ingredient) string {
	switch {
	case i.Role == LaterRole:
		return "When the resin has dissolved, " + m.verb(i) + " of " + i.Name + " and add it slowly while stirring."
	case i.Role == ResinRole:
		return capital(m.verb(i)) + " of " + i.Name +
			" a little at a time, and stir, so that no lump lies on the bottom."
	case i.How == Weigh:
		return capital(m.verb(i)) + " of " + i.Name + "."
	default:
		return capital(m.verb(i)) + " of " + i.Name + " and add it."
	}
}
