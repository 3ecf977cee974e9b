package solution

import (
	"slices"
	"strings"

	"meniscus/internal/quantity"
)

// unit is the unit of an amount wanted.
func (w wish) unit() quantity.Unit {
	switch w.kind {
	case finishedVolume, solventVolume, onHandVolume:
		return quantity.Millilitre
	default:
		return quantity.Gram
	}
}

// answer writes the blend down.
func (b *blending) answer() (BlendAnswer, error) {
	a := BlendAnswer{Basis: b.basis, Objective: b.in.Objective, Reach: b.reach}
	if !b.targeted {
		a.Objective = ""
	}
	if a.Exact = b.exact(); b.in.OnlyExact {
		return a, b.faults.Err()
	}
	for i := range b.products {
		use := b.use(i)
		if i < len(b.in.Stocks) {
			a.Uses = append(a.Uses, use)
		} else {
			a.Fresh = use
		}
	}
	a.AsRounded = b.asRounded(append(slices.Clone(a.Uses), a.Fresh))
	a.Strength = a.AsRounded.saidOn(b.basis, b.in.Stocks[0].Strength.Basis)
	a.Answer = b.says(&a)
	a.Alligation = b.alligation()
	a.Certainty = b.certainty()
	b.say(&a)
	return a, b.faults.Err()
}

// exact describes the blend as computed. A stock that is all used goes in with the
// amount on hand and its uncertainty.
func (b *blending) exact() Mixture {
	s := b.s.copied()
	taken := make([]func(x []float64) float64, len(b.products))
	for i, p := range b.products {
		taken[i] = func([]float64) float64 { return b.grams[i] }
		if b.forced[i] && b.doubt[i] > 0 {
			at := s.measure("the amount on hand of "+p.name, quantity.Gram,
				quantity.Measured{Value: b.grams[i], Standard: b.grams[i] * b.doubt[i]})
			taken[i] = func(x []float64) float64 { return x[at] }
		}
	}
	return s.describe(func(x []float64) grams {
		amounts := make([]float64, len(taken))
		for i := range taken {
			amounts[i] = taken[i](x)
		}
		return b.mix(x, amounts)
	})
}

// use is how much of product i is taken.
func (b *blending) use(i int) Use {
	x := b.s.nominal()
	u := Use{Name: b.products[i].name, Grams: b.grams[i], Unit: quantity.Gram, Limited: b.onHand[i] >= 0}
	one := b.products[i].share(x)
	if len(b.s.unknownDensities(one, everything)) == 0 {
		u.Millilitres = b.grams[i] * b.s.poured(x, one)
	}
	if u.Limited {
		u.Left = max(0, b.onHand[i]-b.grams[i])
	}
	u.Rounded = b.gauges.scale.round(u.Grams)
	if b.byVolume() && u.Millilitres > 0 {
		u.Unit, u.Rounded = quantity.Millilitre, b.gauges.measure.round(u.Millilitres)
	}
	return u
}

// byVolume tells whether the blend is measured by volume: only where a measure was
// named and no scale, and every density is known.
func (b *blending) byVolume() bool {
	whole := b.mix(b.s.nominal(), b.grams)
	return b.gauges.measure.known() && !b.gauges.scale.known() && len(b.s.unknownDensities(whole, everything)) == 0
}

// asRounded evaluates what the rounded amounts give.
func (b *blending) asRounded(uses []Use) Mixture {
	s := b.s.copied()
	at := make([]int, len(b.products))
	for i := range b.products {
		instrument, name := b.gauges.scale, "weighing "+uses[i].Name
		if uses[i].Unit == quantity.Millilitre {
			instrument, name = b.gauges.measure, "measuring "+uses[i].Name
		}
		u := 0.0
		if uses[i].Rounded > 0 {
			u = instrument.standard(uses[i].Rounded, b.checker)
		}
		if u == 0 && b.forced[i] { // not measured again: it has the uncertainty of the amount on hand
			u = uses[i].Rounded * b.doubt[i]
		}
		at[i] = s.measure(name, uses[i].Unit, quantity.Measured{Value: uses[i].Rounded, Standard: u})
	}
	return s.describe(func(x []float64) grams {
		g := s.none()
		for i, product := range b.products {
			if uses[i].Rounded == 0 {
				continue
			}
			one := product.share(x)
			amount := x[at[i]]
			if uses[i].Unit == quantity.Millilitre {
				amount /= s.poured(x, one)
			}
			g = plus(g, amount, one)
		}
		return g
	})
}

// alligation is the ratio of two stocks, where only those two are used.
func (b *blending) alligation() *Alligation {
	if !b.targeted || len(b.in.Stocks) != 2 || b.grams[0] == 0 || b.grams[1] == 0 ||
		(len(b.grams) > 2 && b.grams[2] != 0) {
		return nil
	}
	x := b.s.nominal()
	p, q := b.products[0].share(x), b.products[1].share(x)
	a := Alligation{ByMass: b.grams[1] / b.grams[0]}
	if len(b.s.unknownDensities(plus(p, 1, q), everything)) == 0 {
		a.ByVolume = a.ByMass * b.s.poured(x, q) / b.s.poured(x, p)
	}
	return &a
}

// certainty is the lowest of the stocks that are used.
func (b *blending) certainty() Certainty {
	lowest := 0
	for i, k := range b.in.Stocks {
		if b.grams[i] == 0 {
			continue
		}
		c := slices.Index(certainties, k.Certainty)
		if c < 0 {
			c = len(certainties) - 1
		}
		lowest = max(lowest, c)
	}
	return certainties[lowest]
}

// say adds steps, warnings, cautions and sources.
func (b *blending) say(a *BlendAnswer) {
	if a.Exact.Mass.Value > 0 {
		a.Steps = append(a.Steps, vesselStep(a.Exact, false))
	}
	for _, u := range append(slices.Clone(a.Uses), a.Fresh) {
		if u.Rounded == 0 {
			if u.Grams > 0 {
				a.warnUnshown(u.Name, u.Grams, b.gauges.scale)
			}
			continue
		}
		if u.Unit == quantity.Gram {
			a.Steps = append(a.Steps, "Set the scale with the vessel on it to zero, and pour in "+u.Name+" until it shows "+
				b.gauges.scale.say(u.Rounded)+".")
		} else {
			a.Steps = append(a.Steps, "Measure "+b.gauges.measure.say(u.Rounded)+" of "+u.Name+" and add it.")
		}
	}
	if a.AsRounded.Mass.Value > 0 {
		a.Steps = append(a.Steps,
			"Close it and "+evenStep(a.Exact)+"; look for cloud or threads, which say that it does not "+
				"stay dissolved.",
			"Label it now: "+strings.Join(a.Exact.labelled(a.Strength.Said),
				", ")+", blended from (codes of the stocks), the date and your initials.")
	}
	b.warnings(a)
	a.careful(b.s, a.Exact.Volume)
	a.citeMixture(b.s, a.Exact)
	a.cite(practice)
}

// warnings about what goes into the blend.
func (b *blending) warnings(a *BlendAnswer) {
	var ages int
	for i, k := range b.in.Stocks {
		if b.grams[i] == 0 {
			continue
		}
		if k.Touched {
			a.warn("touched-leftover", Warn, practice,
				"A brush was dipped into "+k.called()+
					": it may hold dirt, water and traces of what was on the brush. Keep the blend for work where "+
					"that does not matter, or leave it out.")
		}
		if k.Age.IsZero() {
			ages++
		}
	}
	if b.targeted {
		a.warnRounded(a.AsRounded.On(b.basis), a.Exact.On(b.basis))
	}
	if a.Objective == OldestFirst && ages > 0 {
		a.warn("age-not-known", Info, practice, "Stocks whose age was not given were taken last.")
	}
	if a.Certainty == UnknownCertainty || a.Certainty == Inferred {
		a.warn("lowest-certainty", Warn, practice, "The blend is only as certain as the least certain stock in it: "+
			string(a.Certainty)+".")
	}
	if several := b.severalSolids(a.Exact); several != "" {
		a.warn("several-resins", Warn, practice, "The blend holds "+several+
			". Whether they stay clear together, and how the film ages, is not computed: try a little on glass first.")
	}
	a.warnInstruments(b.gauges, ByWeight)
	a.warnFrozen(b.s)
	a.warnModels(a.Exact.Models)
	whole := b.mix(b.s.nominal(), b.grams)
	a.warnTemperature(b.s, whole)
	a.warnPartly(b.s, whole)
}

func (b *blending) severalSolids(m Mixture) string {
	var names []string
	for _, part := range m.Parts {
		if part.Dissolved {
			names = append(names, part.Name)
		}
	}
	if len(names) < 2 {
		return ""
	}
	return list(names)
}
