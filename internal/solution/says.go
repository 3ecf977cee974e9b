package solution

import (
	"slices"

	"meniscus/internal/quantity"
)

// mostSaid is the most items of a list that a sentence names.
const mostSaid = 4

// firstOf are the first of several names for a sentence, and how many more there are.
func firstOf(names []string) string {
	if more := len(names) - mostSaid; more > 0 {
		names = append(slices.Clone(names[:mostSaid]), number(float64(more))+" more")
	}
	return list(names)
}

// says is a blend in a sentence.
func (b *blending) says(a *BlendAnswer) string {
	var amounts []string
	for _, u := range append(slices.Clone(a.Uses), a.Fresh) {
		gauge := b.gauges.scale
		if u.Unit == quantity.Millilitre {
			gauge = b.gauges.measure
		}
		if u.Rounded > 0 {
			amounts = append(amounts, gauge.say(u.Rounded)+" of "+u.Name)
		}
	}
	if len(amounts) == 0 {
		return "Rounded to these instruments nothing is left to pour."
	}
	return "Pour together " + list(amounts) + ": " + a.Strength.sentence()
}

// says is an adjustment in a sentence.
func (a *adjusting) says() string {
	var amounts []string
	for _, i := range a.answer.Add {
		if i.Rounded > 0 {
			amounts = append(amounts, a.gauges.scale.say(i.Rounded)+" of "+i.Name)
		}
	}
	if len(amounts) == 0 {
		return "Nothing that this scale can weigh need be added: " + a.answer.Strength.sentence()
	}
	return "Add " + list(amounts) + ": " + a.answer.Strength.sentence()
}

// says is a solution on its own basis, and on the others that have a number.
func (m Mixture) says(basis Basis) string {
	var others []string
	for _, v := range m.Strengths {
		if v.Answered() && v.Basis != basis {
			others = append(others, v.Said)
		}
	}
	own := m.On(basis)
	if !own.Answered() || len(others) == 0 {
		return capital(list(append(others, own.Said)[:max(1, len(others))])) + "."
	}
	return own.Said + " is " + list(others) + "."
}

// saysRange is a range of readings in a sentence.
func (a *Advice) saysRange(ranges []Span) {
	a.Answer = "The amounts depend on what the number counts, which is not recorded: find the strength first, or see " +
		"what the amounts of each reading come to on the others."
	if len(ranges) > 0 {
		a.Answer = ranges[0].Sentence
	}
}

// says is a dry check in a sentence.
func (a DryCheckAnswer) says() string {
	if a.Agreement != nil {
		return a.Agreement.Sentence
	}
	return "Found " + a.Strength.sentence()
}

// says is the vapour in the air from the work, in a sentence.
func (a VapourAnswer) says(how Release) string {
	var levels []string
	for _, s := range a.Solvents {
		levels = append(levels, about(s.Near.Peak.PPM.Value)+" ppm of "+s.Name+" at the highest and "+
			about(s.Near.Day.PPM.Value)+" ppm over 8 hours")
	}
	comes, most := "comes to about ", ""
	if how.AtOnce || how.Spill != nil && len(a.Solvents) > 1 {
		comes, most = "comes to at most about ", "at most "
	}
	said := "At the work the air " + comes + firstOf(levels) + comparedWith(a.Limits, a.Explosive.Near.Value)
	if e := a.Evaporation; e != nil {
		said += " The spill gives off " + most + "about " + about(e.Rate.Value) + " g of vapour a minute and is gone in about " +
			quantity.SaidHours(e.Hours.Value, 2) + " at the earliest."
	}
	return said + notKnown(a.Limits)
}

// says is the evaluation of the readings, in a sentence.
func (a MeasuredAirAnswer) says() string {
	var levels []string
	for _, s := range a.Solvents {
		levels = append(levels, s.PPM.Said()+" ppm of "+s.Name+" ("+number(s.MgPerM3)+" mg/m³)")
	}
	return "The air holds " + firstOf(levels) + comparedWith(a.Limits, a.Explosive.Room.Value) + notKnown(a.Limits)
}

// limitWords say what a limit averages over.
var limitWords = map[LimitKind]string{WorkingDay: "over a working day", ShortTerm: "over 15 minutes", Ceiling: "at any moment"}

// comparedWith ends a sentence on air with its ratio to the exposure limits that come first and to the
// lower explosive limit.
func comparedWith(limits []LimitComparison, explosive float64) string {
	var said []string
	for _, l := range limits {
		if l.Leads {
			said = append(said, about(l.Near)+" times "+TheList(l.List)+" "+limitWords[l.Kind])
		}
	}
	if explosive > 0 {
		said = append(said, about(100*explosive)+" % of the lower explosive limit")
	}
	if len(said) == 0 {
		return "."
	}
	return ": " + firstOf(said) + "."
}

// notKnown says where and why it is not known whether air is above a limit, as a sentence to go on with.
func notKnown(limits []LimitComparison) (text string) {
	if len(limits) == 0 {
		return " No limit to compare that with is held here."
	}
	for _, l := range limits {
		if l.Leads && l.Above == AboveYes {
			return ""
		}
		if l.Undecided != "" { // the last is the nation's
			text = " Whether it is above the limits in force where you are is not known here: " + l.Undecided + "."
		}
	}
	return text
}

// says is the effect of warmth on a bottle, in a sentence.
func (a WarmBottleAnswer) says(capacity, celsius float64) string {
	said := "Fill at most " + atMost(a.FillAtMost) + " mL: at " + number(celsius) + " °C the liquid takes up " +
		a.LiquidWarm.Said() + " of the " + number(capacity) + " mL"
	if a.Over != nil {
		said += ", and the bottle stands about " + about(*a.Over) + " kPa above the air outside"
	}
	return said + "."
}

// says is what was asked of ethanol and water, in a sentence.
func (a EthanolWaterAnswer) says(e EthanolWater) string {
	switch {
	case a.Dilution != nil:
		d := a.Dilution
		return d.StockVolume.Said() + " mL of the stock (" + e.Dilution.Stock.said() + ") and " +
			d.WaterVolume.Said() + " mL of water make " + d.FinishedVolume.Said() + " mL of " +
			e.Dilution.Target.said() + "."
	case a.Mixture != nil:
		m := a.Mixture
		return "It makes " + m.Volume.Said() + " mL of " + m.ByVolume.Said() + " % by volume (" +
			m.ByMass.Said() + " % by mass), which is " + m.Contraction.Said() + " % less than was poured."
	case e.Properties.Reading != nil:
		return a.State.ofAlcoholometer(*e.Properties.Reading, a.Reference)
	default:
		s := a.State
		return s.ByVolume.Said() + " % by volume is " + s.ByMass.Said() + " % by mass and " +
			s.Density.Said() + " g/mL at " + s.Temperature.Said() + " °C."
	}
}

// says is what to measure of formaldehyde and what it makes, in a sentence.
func (a FormaldehydeAnswer) says(g gauges) string {
	r, gauge := a.AsRounded, g.measure
	if r.StockUnit == quantity.Gram {
		gauge = g.scale
	}
	said := gauge.say(r.Stock) + " of the stock, made up with water to " + gauge.say(r.MadeUpTo)
	var salts []string
	for _, s := range a.Salts {
		salts = append(salts, s.short(g.scale))
	}
	if len(salts) > 0 {
		said += ", with " + list(salts)
	}
	if r.ByMass != nil {
		return said + ": " + r.ByMass.Said() + " % of formaldehyde by mass."
	}
	if r.Formalin == nil {
		return said + ": " + r.PerVolume.Said() + " g of formaldehyde in 100 mL."
	}
	return said + ": " + r.Formalin.Said() + " % formalin, " + r.PerVolume.Said() +
		" g of formaldehyde in 100 mL."
}

// verdictWords begin the answer on a container.
var verdictWords = map[Verdict]string{
	Satisfactory: "It may stand in this. ", Limited: "For a short time only. ", Unsuitable: "Not in this. ",
	UnknownContainer: "Not known. ",
}

// says is the verdict with the part that decides it.
func (a ContainerAnswer) says() string {
	for _, part := range a.Parts {
		if part.Verdict == a.Verdict {
			return verdictWords[a.Verdict] + part.Sentence
		}
	}
	return verdictWords[a.Verdict]
}

// says is a mixture of solvents, and what was seen of a resin in it.
func (a SolventBlendAnswer) says() string {
	var parts []string
	measure := ""
	for i, p := range a.Parts {
		share, by := p.ByVolume, " by volume"
		if share == nil {
			share, by = p.ByMass, " by mass"
		}
		switch {
		case a.said != nil && p.Pour != nil && p.Pour.Rounded == 0: // a warning says so
		case a.said != nil && p.Pour != nil:
			parts = append(parts, a.said(i)+" of "+p.Name)
		case share != nil:
			parts, measure = append(parts, number(100**share)+" % of "+p.Name), by
		default:
			parts = append(parts, p.Name)
		}
	}
	said := capital(firstOf(parts)) + measure + "."
	if a.Resin != nil {
		said += " " + a.Resin.says()
	}
	return said
}
