package solution

import (
	"math"

	"meniscus/internal/quantity"
)

// rateSpan is what a rate of evaporation may be, g/h.
var rateSpan = span{0, 1e5, true}

// restore brings back what evaporated: solvent was lost, and no solids. What is on
// hand is what was there before the loss.
func (a *adjusting) restore(in Restore) {
	a.answer.Basis = a.in.Stock.Strength.Basis
	if a.refuseTopUp(in) {
		return
	}
	loss := a.loss(in)
	if len(a.faults) > 0 {
		return
	}
	x := a.s.nominal()
	liquidsThere := a.s.only(a.there(x), theSolvent)
	if loss.Value > liquidsThere.mass()*(1+1e-9) {
		a.faults.Add("loss-above-solvent", "/restore",
			"More is said to have evaporated than there was solvent, which is %s: something else was lost too.",
			amountText(liquidsThere.mass(), quantity.Gram))
		return
	}
	lost := a.lostLiquids(liquidsThere, loss.Value)
	a.answer.Loss = a.lossOf(liquidsThere, lost, loss)
	left := func(x []float64) grams { return plus(a.there(x), -1, lost) }
	a.answer.Before = a.s.describe(left)
	a.putBack(in, lost, left)
	a.warnRestore(liquidsThere)
}

// refuseTopUp refuses to fill up to a mark that no longer means anything.
func (a *adjusting) refuseTopUp(in Restore) bool {
	set := 0
	for _, given := range []bool{in.ByMass != nil, in.ByLevel != nil, in.ByTime != nil} {
		if given {
			set++
		}
	}
	if set != 1 {
		a.faults.Add("loss-one-of", "/restore", "Say in exactly one way how much evaporated: by mass, by level or by time.")
		return true
	}
	switch {
	case in.ByMass != nil:
		return a.refuseTaken(*in.ByMass)
	case in.ByTime != nil:
		return false
	}
	switch in.ByLevel.TakenOut {
	case No:
		return false
	case Yes:
		a.faults.Add("taken-out-since-mark", "/restore/byLevel/takenOut",
			"Solution was taken out since this mark was made, so filling up to it would dilute what is left. Fill up "+
				"to the level that was marked when the jar was closed after the last taking, and give that as the "+
				"mark; if none was made, weigh a portion dry to find the strength.")
	default:
		a.faults.Add("taken-out-not-known", "/restore/byLevel/takenOut",
			"Whether anything was taken out since the mark was made must be known: if it was, filling up to the mark "+
				"dilutes what is left. Say yes or no; if it is not known, weigh a portion dry to find the strength.")
	}
	return true
}

// refuseTaken refuses a loss by mass while it is not known how much was taken out.
func (a *adjusting) refuseTaken(in LossByMass) bool {
	const at = "/restore/byMass"
	switch {
	case in.TakenOut != Yes && in.TakenOut != No:
		a.faults.Add("taken-out-not-known", at+"/takenOut",
			"Whether anything was taken out between the two weighings must be known: what was taken is no solvent that "+
				"evaporated, and putting it back as solvent dilutes what is left. Say yes or no; if it is not known, weigh a "+
				"portion dry to find the strength.")
	case (in.TakenOut == Yes) == in.Taken.IsZero():
		a.faults.Add("taken-amount", at+"/taken",
			"Where something was taken out between the two weighings, say its mass; where nothing was, leave it out.")
	default:
		return false
	}
	return true
}

// loss reads how much evaporated, g.
func (a *adjusting) loss(in Restore) quantity.Measured {
	switch {
	case in.ByMass != nil:
		return a.lossByMass(*in.ByMass)
	case in.ByLevel != nil:
		return a.lossByLevel(*in.ByLevel)
	default:
		return a.lossByTime(*in.ByTime)
	}
}

func (a *adjusting) lossByMass(in LossByMass) quantity.Measured {
	before := a.need("/restore/byMass/before", in.Before, quantity.Gram, massSpan)
	after := a.need("/restore/byMass/after", in.After, quantity.Gram, massSpan)
	taken := a.maybe("/restore/byMass/taken", in.Taken, quantity.Gram, massSpan, 0)
	if after.Value+taken.Value > before.Value {
		a.faults.Add("gained-mass", "/restore/byMass/after",
			"The jar, with what was taken out, is heavier than before: nothing evaporated, or something was added.")
	}
	a.takeOut(taken)
	return quantity.Measured{Value: before.Value - after.Value - taken.Value,
		Standard: math.Hypot(math.Hypot(before.Standard, after.Standard), taken.Standard)}
}

// takeOut leaves out of what was on hand what was taken out since. It is counted at the strength of
// then.
func (a *adjusting) takeOut(taken quantity.Measured) {
	if taken.Value == 0 {
		return
	}
	onHand := a.s.inputs[a.onHand].Measured
	if taken.Value >= onHand.Value {
		a.faults.Add("taken-amount", "/restore/byMass/taken", "Less was taken out than there was, which is %s.",
			amountText(onHand.Value, quantity.Gram))
		return
	}
	onHand.Value -= taken.Value
	onHand.Standard = math.Hypot(onHand.Standard, taken.Standard)
	a.s.remeasure(a.onHand, onHand)
	a.grams = onHand.Value
	a.answer.warn("taken-at-first-strength", Info, practice, "What was taken out is counted at the strength of before; "+
		"taken after some solvent had left, it was stronger, and what is left comes out a little weaker than said.")
}

// lossByLevel: the volume lost was all solvent, at the density of the mixture that
// leaves (the pure liquid, or the blend in proportion).
func (a *adjusting) lossByLevel(in LossByLevel) quantity.Measured {
	mark := a.need("/restore/byLevel/mark", in.Mark, quantity.Millilitre, volumeSpan)
	now := a.need("/restore/byLevel/now", in.Now, quantity.Millilitre, span{0, volumeSpan.high, false})
	if now.Value > mark.Value {
		a.faults.Add("gained-volume", "/restore/byLevel/now",
			"The level is above the mark: nothing evaporated, or something was added.")
	}
	x := a.s.nominal()
	liquids := a.s.only(a.before.share(x), theSolvent)
	a.merge("", a.s.needDensities(liquids, everything, "/restore/byLevel", "a level is a volume"))
	if len(a.faults) > 0 || liquids.mass() == 0 {
		return quantity.Measured{}
	}
	rho := liquids.mass() / a.s.poured(x, liquids)
	return quantity.Measured{Value: (mark.Value - now.Value) * rho,
		Standard: math.Hypot(mark.Standard, now.Standard) * rho}
}

func (a *adjusting) lossByTime(in LossByTime) quantity.Measured {
	rate := a.need("/restore/byTime/rate", in.Rate, "g/h", rateSpan)
	time := a.need("/restore/byTime/time", in.Time, quantity.Hour, span{0, 1e6, true})
	u := math.Hypot(rate.Standard*time.Value, time.Standard*rate.Value)
	return quantity.Measured{Value: rate.Value * time.Value, Standard: u}
}

// lostLiquids shares a loss out among the liquids, in proportion to the amount and the
// evaporation rate of each; where a rate is not known, to the amount alone. No liquid
// loses more than there was: the excess is shared among the others.
func (a *adjusting) lostLiquids(there grams, loss float64) grams {
	lost := a.s.none()
	rates := a.rates(there)
	for range there {
		var weight float64
		for i, m := range there {
			if lost[i] < m {
				weight += m * rates[i]
			}
		}
		left := loss - lost.mass()
		if weight == 0 || left <= 1e-12*loss {
			break
		}
		for i, m := range there {
			if lost[i] < m {
				lost[i] = math.Min(m, lost[i]+left*m*rates[i]/weight)
			}
		}
	}
	return lost
}

// rates gives the evaporation rate of each liquid, or one for all where not every rate
// is known.
func (a *adjusting) rates(there grams) []float64 {
	rates := make([]float64, len(there))
	allKnown := true
	for i, m := range there {
		rates[i] = a.s.components[i].Evaporation
		allKnown = allKnown && (m == 0 || rates[i] > 0)
	}
	if !allKnown {
		for i := range rates {
			rates[i] = 1
		}
	}
	return rates
}

// lossOf describes the loss.
func (a *adjusting) lossOf(there, lost grams, loss quantity.Measured) *Loss {
	l := Loss{Grams: quantity.Outcome{Measured: loss}, Share: 100 * loss.Value / there.mass()}
	for i, m := range there {
		if m > 0 {
			others := there.mass() - m
			l.Liquids = append(l.Liquids, LiquidLoss{
				Name: a.s.components[i].Name, Grams: lost[i],
				Least: math.Max(0, loss.Value-others), Most: math.Min(m, loss.Value),
			})
		}
	}
	l.Estimated = len(l.Liquids) > 1
	return &l
}

// putBack adds the lost liquids, or as much of the solvent that was named.
func (a *adjusting) putBack(in Restore, lost grams, left func(x []float64) grams) {
	if len(in.Solvent.Shares) > 0 {
		liquids, share, _ := a.solvent("/restore/solvent", in.Solvent)
		if len(a.faults) == 0 {
			a.add(liquids, scaledBy(share, lost.mass()), SolventRole, left)
		}
	} else {
		var liquids []product
		var amounts []float64
		for i, m := range lost {
			if m > 0 {
				liquids, amounts = append(liquids, a.s.one(i)), append(amounts, m)
			}
		}
		a.add(liquids, amounts, SolventRole, left)
	}
	if len(a.faults) == 0 {
		a.steps("Check that the resin has not skinned over or dropped out; if it has, turn the closed jar until it " +
			"is even again.")
	}
}

// warnRestore says what a mixed solvent does, with sizes.
func (a *adjusting) warnRestore(there grams) {
	if a.answer.Loss == nil || !a.answer.Loss.Estimated {
		return
	}
	var parts []string
	for _, l := range a.answer.Loss.Liquids {
		parts = append(parts, amountText(l.Grams, quantity.Gram)+" of "+l.Name+" (between "+
			amountText(l.Least, quantity.Gram)+" and "+amountText(l.Most, quantity.Gram)+")")
	}
	how := "in proportion to their amounts and evaporation rates"
	for i, m := range there {
		c := a.s.components[i]
		if m > 0 && c.Evaporation == 0 {
			how = "in proportion to their amounts, for want of a rate of " + c.Name
		}
		if m > 0 {
			a.answer.cite(c.EvaporationSource)
		}
	}
	a.answer.warn("faster-solvent-first", Warn, practice, "A mixed solvent loses the faster liquid first. Estimated "+
		how+": "+list(parts)+". The proportion of what is left is not known better than that.")
}
