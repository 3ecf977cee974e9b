package solution

import (
	"meniscus/internal/quantity"
)

// FormaldehydeRounded is what the amounts give as the instruments show them.
type FormaldehydeRounded struct {
	Stock     float64 // mL; g for a target by mass
	StockUnit quantity.Unit
	// MadeUpTo is the mark in mL; for a target by mass, the g that the scale shows in all.
	MadeUpTo float64
	// As in the answer, with the uncertainty of the instruments.
	Formalin, PerVolume, ByMass *quantity.Outcome
}

// round gives what the rounded amounts make: the stock by the measure and the mark, or,
// by mass, both by the scale.
func (a *FormaldehydeAnswer) round(inputs []quantity.Input, f Formaldehyde, g gauges, c *checker) {
	byMass := !f.Target.ByMass.IsZero()
	r := FormaldehydeRounded{Stock: g.measure.round(a.StockVolume.Value), StockUnit: quantity.Millilitre,
		MadeUpTo: g.measure.round(inputs[finishedAmount].Value)}
	instrument, name := g.measure, "the measure"
	if byMass {
		instrument, name = g.scale, "the balance"
		r.Stock, r.StockUnit = g.scale.round(a.StockMass.Value), quantity.Gram
		r.MadeUpTo = quantity.RoundTo(r.Stock+g.scale.round(a.Water.Value), 1e-6)
	}
	if r.Stock == 0 || r.MadeUpTo == 0 {
		c.faults.Add("below-readability", "/amount", "The instrument shows nothing of so little stock, which is %s: make more, "+
			"or take a finer one.", amountText(a.StockVolume.Value, quantity.Millilitre))
		return
	}
	on := func(what string, shown float64) quantity.Input {
		return quantity.Input{Name: name + ", on the " + what, Unit: r.StockUnit,
			Measured: quantity.Measured{Value: shown, Standard: instrument.standard(shown, c)}}
	}
	const onStock, onRest = targetNumber, targetNumber + 1
	measured := append(inputs[:targetNumber:targetNumber], on("stock", r.Stock), on("whole", r.MadeUpTo))
	if byMass { // the scale is set to zero before the water
		measured[onRest] = on("water", r.MadeUpTo-r.Stock)
	}
	out := quantity.PropagateAll(measured, 3, func(x, out []float64) {
		whole := x[onRest]
		if byMass {
			whole += x[onStock]
		}
		share := 100 * x[onStock] / whole
		out[0], out[1], out[2] = share, share*f.perML(x), share*f.fraction(x)
	})
	r.Formalin, r.PerVolume = &out[0], &out[1]
	switch {
	case byMass:
		r.Formalin, r.PerVolume, r.ByMass = nil, nil, &out[2]
	case !f.isFormalin():
		r.Formalin = nil
	}
	a.AsRounded = r
}

// advise adds the steps, and the hazards to people.
func (a *FormaldehydeAnswer) advise(f Formaldehyde, g gauges) {
	a.cite(formalinSheet)
	if a.PerVolume != nil {
		a.adviseName(f)
	}
	a.adviseBuffer(f, g)
	a.Steps = a.steps(f, g)
	a.Hazards = formaldehydeHazards
	for _, h := range a.Hazards {
		a.cite(h.Source)
	}
	a.cite(formaldehydeClass, practice)
	a.Cautions = append(a.Cautions,
		Caution{"Once sensitised, a person reacts to very little: ask first whether anything else would do.",
			formaldehydeClass},
		Caution{"Vapour gathers in closed bottles and over open trays: open them in the fume hood, and keep the " +
			"stock from freezing.", practice},
		Caution{"Never mix it with hydrochloric acid or chlorine bleach; collect the waste: none goes down the drain.",
			practice},
	)
}

// adviseName says what may be called formalin, and how strong it is beside 10 % formalin.
func (a *FormaldehydeAnswer) adviseName(f Formaldehyde) {
	holds := a.PerVolume.Said() + " g of formaldehyde in 100 mL"
	if a.Formalin != nil {
		a.warn("formalin-is-not-formaldehyde", Info, formalinSheet, "This is "+a.Formalin.Said()+
			" % formalin (stock as supplied) and holds "+holds+": write both on the label.")
		return
	}
	said := "The stock holds " + a.StockPerVolume.Said() + " g of formaldehyde in 100 mL and is not formalin, " +
		"which holds 37 to 40 %: what is made holds " + holds + ", as much as about " +
		about(a.PerVolume.Value/tenth*10) + " % formalin does"
	if !f.Target.AsSupplied.IsZero() {
		asked, _ := f.Target.AsSupplied.In(quantity.Percent)
		said += ". " + number(asked) + " % formalin would hold about " + number(asked/10*tenth) + " g in 100 mL"
	}
	if a.PerVolume.Value < tenth/2 {
		said += "; tissue is fixed with about " + number(tenth)
	}
	a.warn("stock-is-not-formalin", Warn, formalinSheet, said+".")
}

// adviseBuffer says how far it is buffered.
func (a *FormaldehydeAnswer) adviseBuffer(f Formaldehyde, g gauges) {
	switch {
	case f.Stock.Buffered && f.Buffer != nil:
		a.warn("buffered-twice", Warn, practice, "The stock holds its salts already, and those of the recipe for a "+
			"stock without any are added: leave them out unless it is to be buffered more strongly.")
	case f.Stock.Buffered:
		share := 100 * a.StockVolume.Value / (a.StockVolume.Value + a.Water.Value)
		if a.ByMass != nil {
			share = 100 * a.StockMass.Value / (a.StockMass.Value + a.Water.Value)
		}
		a.warn("buffer-diluted", Info, practice, "It is still buffered: the salts of the stock come to "+number(share)+
			" % of their strength, at about the same pH, and hold that much less acid in check.")
	case f.Buffer == nil:
		a.warn("unbuffered", Warn, formalinSheet,
			"Unbuffered it has a pH of 3 to 4 and attacks bone, shell and everything calcareous.")
	case len(a.leftOut) > 0:
		a.warn("one-salt-alone", Warn, formalinSheet, "A buffer needs both salts, and "+a.Salts[0].Formula+" alone is none: "+
			a.leftOut[0].short(g.scale)+" goes with it. Until that is in, keep bone, shell and everything calcareous out of it.")
	}
}

// steps are in working order: water and salts first, the stock into them, the label.
func (a *FormaldehydeAnswer) steps(f Formaldehyde, g gauges) []string {
	r := a.AsRounded
	byMass := r.StockUnit == quantity.Gram
	steps := []string{"Put on gloves, goggles and a face shield, and work in a fume hood from here on."}
	steps = append(steps, formalinVessel(r.MadeUpTo)...)
	if byMass {
		steps = append(steps, "Set the scale with the vessel on it to zero, and pour in the stock until it shows "+
			g.scale.say(r.Stock)+".")
		if len(a.Salts) == 0 {
			steps = append(steps, "Set the scale to zero, and pour in water until it shows "+g.scale.say(r.MadeUpTo-r.Stock)+".")
		}
	} else {
		steps = append(steps, "Mark it at "+g.measure.say(r.MadeUpTo)+", and pour in about half of the water ("+
			g.measure.say(g.measure.round(a.Water.Value/2))+").")
	}
	for _, s := range a.Salts {
		into := " in it."
		if byMass {
			into = " in some of the water beforehand."
		}
		steps = append(steps, "Dissolve "+s.said(g.scale)+into)
	}
	switch {
	case byMass && len(a.Salts) > 0:
		steps = append(steps, "Set the scale to zero, and pour that and the rest of the water in until it shows "+
			g.scale.say(r.MadeUpTo-r.Stock)+".")
	case !byMass:
		steps = append(steps, "Measure "+g.measure.say(r.Stock)+" of the stock, pour it in and stir.",
			"Fill to the mark at "+g.measure.say(r.MadeUpTo)+" with water, close it and "+evenly(r.MadeUpTo)+".")
	}
	return append(steps,
		"A cloud or white flakes that stay are paraformaldehyde: it is then weaker than computed.",
		"Label it now: "+a.label(f)+", the date, your initials, the stock's code and its hazards.")
}

// formalinVessel says what to make so many mL or g in: no metal.
func formalinVessel(amount float64) []string {
	const lid = " with a tight lid, not of metal."
	switch {
	case amount <= largestGlass:
		return []string{"Take a bottle of glass or polyethylene, larger than " +
			amountText(roundedUp(amount), quantity.Millilitre) + "," + lid}
	case amount <= largestCan:
		return []string{"Take a can of polyethylene" + lid}
	case amount <= largestDrum:
		return []string{"Take a drum of polyethylene" + lid}
	}
	return []string{severalDrums(false), "Take drums of polyethylene" + lid}
}

// label is what the bottle says: the content of formaldehyde, and formalin only of what is.
func (a *FormaldehydeAnswer) label(f Formaldehyde) string {
	r := a.AsRounded
	said := ""
	switch {
	case r.ByMass != nil:
		said = "formaldehyde " + r.ByMass.Said() + " % by mass"
	case r.Formalin != nil:
		said = r.Formalin.Said() + " % formalin = " + r.PerVolume.Said() +
			" g of formaldehyde in 100 mL"
	default:
		said = "formaldehyde " + r.PerVolume.Said() + " g in 100 mL"
	}
	switch {
	case f.Stock.Buffered || len(a.Salts) == 2:
		return said + ", phosphate-buffered"
	case len(a.Salts) == 1:
		return said + ", with " + a.Salts[0].Formula + " alone, not buffered"
	}
	return said + ", unbuffered"
}
