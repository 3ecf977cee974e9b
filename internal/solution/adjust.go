package solution

import (
	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// AdjustInput asks how to bring a solution to another strength, or back to its own.
// Exactly one of Strengthen, Weaken and Restore is set.
type AdjustInput struct {
	Stock Stock
	// OnHand is how much of it there is (for Restore: was): a volume or a mass. Where a
	// loss is said by level, it may be left out, and is the mark.
	OnHand      quantity.Quantity
	Strengthen  *Strengthen
	Weaken      *Weaken
	Restore     *Restore
	Instruments Instruments
	Temperature quantity.Quantity
}

// Strengthen adds what is stronger.
type Strengthen struct {
	// With is a solid (more of the same resin, unless another is named) or a stock.
	With Resin
	// Exactly one of two: the Strength wanted, or the amount that is Added.
	Strength Strength
	Added    quantity.Quantity // a mass, or of a stock a volume
}

// Weaken adds solvent.
type Weaken struct {
	Strength Strength
	Solvent  Solvent // left out is the solution's own
}

// Restore brings back what evaporated. Stock is what it was before. Exactly one of
// the losses is set.
type Restore struct {
	ByMass  *LossByMass
	ByLevel *LossByLevel
	ByTime  *LossByTime
	// Solvent is what is added; left out is the solution's own.
	Solvent Solvent
}

// LossByMass: the closed jar was weighed then and now, with its lid.
type LossByMass struct {
	Before, After quantity.Quantity
	// TakenOut tells whether anything was taken out between, and Taken how much of the solution.
	TakenOut Answer
	Taken    quantity.Quantity // a mass
}

// LossByLevel: a mark was made at the level then.
type LossByLevel struct {
	Mark, Now quantity.Quantity // volumes
	// TakenOut tells whether anything was taken out since the mark was made.
	TakenOut Answer
}

// LossByTime: a rate of evaporation that was seen, over a time.
type LossByTime struct {
	Rate quantity.Quantity // mass per time
	Time quantity.Quantity
}

// Answer is yes, no or not known.
type Answer string

const (
	Yes       Answer = "yes"
	No        Answer = "no"
	NotRecall Answer = "unknown"
)

// AdjustAnswer is how to adjust.
type AdjustAnswer struct {
	// Before is the mixture on hand (for Restore: what is left), and After the result.
	Before, After Mixture
	Basis         Basis
	// Add is what is added; for a solvent blend, each liquid.
	Add []Ingredient
	// AsRounded is what the rounded additions give.
	AsRounded Mixture
	// Strength is that of AsRounded, as a label says it.
	Strength View
	// Loss is what evaporated; nil where nothing was restored.
	Loss *Loss
	// Readings and Ranges are the answer where the basis of the solution is unknown: the
	// result of every reading, and their range. All of the above is then empty.
	Readings []ByReading
	Ranges   []Span
	Advice
}

// Loss is what evaporated.
type Loss struct {
	Grams quantity.Outcome
	// Share is that of the solvent that was there, per cent.
	Share float64
	// Liquids are what each liquid lost, of a mixed solvent.
	Liquids []LiquidLoss
	// Estimated: the liquids' shares are a guess by their rates, not measured.
	Estimated bool
}

// LiquidLoss is what one liquid lost.
type LiquidLoss struct {
	Name string
	// Grams by the estimate: in proportion to its amount and its evaporation rate.
	Grams float64
	// Least and Most are the bounds: all of the loss from the others, or from this one.
	Least, Most float64
}

// Adjust computes an adjustment.
func Adjust(in AdjustInput) (AdjustAnswer, error) {
	if f := in.Stock.needsBasis("/stock"); f != nil {
		return AdjustAnswer{}, f
	}
	set := 0
	for _, given := range []bool{in.Strengthen != nil, in.Weaken != nil, in.Restore != nil} {
		if given {
			set++
		}
	}
	if set != 1 {
		return AdjustAnswer{}, fault.New("adjust-one-of", "",
			"Say in exactly one way what is to be done: strengthen, weaken or restore.")
	}
	a := adjusting{checker: &checker{}, in: in}
	if f := a.needsBasis(); f != nil {
		return AdjustAnswer{}, f
	}
	if in.Stock.isUnknown() {
		return a.unknown()
	}
	return a.compute()
}

// unknown adjusts a solution on every reading of its strength.
func (a *adjusting) unknown() (AdjustAnswer, error) {
	readings, err := overReadings([]unknownStock{{a.in.Stock, "/stock"}}, a.wanted(), func(as []Stock) (ByReading, error) {
		read := adjusting{checker: &checker{}, in: a.in}
		read.in.Stock = as[0]
		answer, err := read.compute()
		return ByReading{Ingredients: answer.Add, Mixture: answer.After, made: read.made()}, err
	})
	if err != nil {
		return AdjustAnswer{}, err
	}
	answer := AdjustAnswer{Readings: readings, Ranges: ranges(readings)}
	answer.unknownBasis(readings, answer.Ranges)
	return answer, nil
}

// made is the resulting mixture, and the part of it that was on hand.
func (a *adjusting) made() made {
	if a.whole == nil {
		return made{}
	}
	return made{a.s, a.whole, []grams{a.before.share(a.s.nominal())}, []float64{a.grams}}
}

// wanted is the basis of the strength that was asked for, or empty.
func (a *adjusting) wanted() Basis {
	switch {
	case a.in.Weaken != nil:
		return a.in.Weaken.Strength.Basis
	case a.in.Strengthen != nil:
		return a.in.Strengthen.Strength.Basis
	}
	return ""
}

// needsBasis refuses a target without a basis.
func (a *adjusting) needsBasis() *fault.Fault {
	k := a.in.Stock
	switch {
	case a.in.Weaken != nil:
		return NeedsBasis(a.in.Weaken.Strength, "/weaken/strength", k.Solute, k.Solvent)
	case a.in.Strengthen != nil && a.in.Strengthen.Added.IsZero():
		return NeedsBasis(a.in.Strengthen.Strength, "/strengthen/strength", k.Solute, k.Solvent)
	}
	return nil
}

// adjusting is an adjustment in progress.
type adjusting struct {
	*checker
	in     AdjustInput
	s      *system
	before product
	grams  float64 // on hand
	onHand int     // its input
	gauges gauges
	whole  grams // what it becomes
	answer AdjustAnswer
}

// compute reads what is on hand and computes the adjustment.
func (a *adjusting) compute() (AdjustAnswer, error) {
	a.s = newSystem(a.temperature("/temperature", a.in.Temperature))
	a.before = a.s.stock(a.in.Stock, "/stock", a.checker)
	a.before.name = a.in.Stock.called()
	a.gauges = a.checker.gauges("/instruments", a.in.Instruments)
	if err := a.faults.Err(); err != nil {
		return AdjustAnswer{}, err
	}
	a.readOnHand()
	if err := a.faults.Err(); err != nil {
		return AdjustAnswer{}, err
	}
	switch {
	case a.in.Strengthen != nil:
		a.strengthen(*a.in.Strengthen)
	case a.in.Weaken != nil:
		a.weaken(*a.in.Weaken)
	default:
		a.restore(*a.in.Restore)
	}
	a.refuseFrozen(a.s)
	if err := a.faults.Err(); err != nil {
		return AdjustAnswer{}, err
	}
	a.answer.Strength = a.answer.AsRounded.saidOn(a.answer.Basis, a.in.Stock.Strength.Basis)
	a.answer.Answer = a.says()
	a.answer.warnRounded(a.answer.AsRounded.On(a.answer.Basis), a.answer.After.On(a.answer.Basis))
	a.answer.careful(a.s, a.answer.After.Volume)
	a.answer.warnInstruments(a.gauges, ByWeight)
	a.answer.warnFrozen(a.s)
	a.answer.warnModels(a.answer.After.Models)
	a.answer.citeMixture(a.s, a.answer.After)
	a.answer.cite(practice)
	return a.answer, a.faults.Err()
}

// readOnHand reads how much there is, in grams, with its uncertainty.
func (a *adjusting) readOnHand() {
	if r := a.in.Restore; a.in.OnHand.IsZero() && r != nil && r.ByLevel != nil {
		a.in.OnHand = r.ByLevel.Mark
	}
	unit, allowed := quantity.Gram, massSpan
	if a.in.OnHand.Unit.Kind() == quantity.Volume {
		unit, allowed = quantity.Millilitre, volumeSpan
	}
	m := a.need("/onHand", a.in.OnHand, unit, allowed)
	x := a.s.nominal()
	one := a.before.share(x)
	a.grams = m.Value
	if unit == quantity.Millilitre {
		a.merge("", a.s.needDensities(one, everything, "/onHand", "the amount is a volume"))
		if len(a.faults) == 0 {
			a.grams = m.Value / a.s.poured(x, one)
			m = quantity.Measured{Value: a.grams, Standard: m.Standard * a.grams / m.Value}
		}
	}
	a.onHand = a.s.measure("the amount on hand", quantity.Gram, m)
}

// there is the mixture on hand.
func (a *adjusting) there(x []float64) grams { return times(x[a.onHand], a.before.share(x)) }

// add adds amounts of products in grams, rounded to the scale, and evaluates the
// resulting mixture.
func (a *adjusting) add(products []product, amounts []float64, role Role, base func(x []float64) grams) {
	s := a.s.copied()
	at := make([]int, len(products))
	for i, p := range products {
		in := Ingredient{ID: p.id, Name: p.name, Role: role, How: Weigh, Unit: quantity.Gram, Exact: amounts[i],
			Rounded: a.gauges.scale.round(amounts[i]), Grams: amounts[i]}
		in.Shown = a.gauges.scale.shown(in.Rounded)
		x := a.s.nominal()
		if g := times(amounts[i], p.share(x)); len(a.s.unknownDensities(g, everything)) == 0 {
			in.Millilitres = a.s.poured(x, g)
		}
		a.answer.Add = append(a.answer.Add, in)
		u := 0.0
		if in.Rounded > 0 {
			u = a.gauges.scale.standard(in.Rounded, a.checker)
		}
		at[i] = s.measure("the balance, on "+the(p.name), quantity.Gram, quantity.Measured{Value: in.Rounded, Standard: u})
	}
	sum := func(x []float64, amount func(i int) float64) grams {
		g := base(x)
		for i, p := range products {
			g = plus(g, amount(i), p.share(x))
		}
		return g
	}
	exact := func(x []float64) grams { return sum(x, func(i int) float64 { return amounts[i] }) }
	a.whole = exact(a.s.nominal())
	a.answer.After = a.s.describe(exact)
	a.answer.AsRounded = s.describe(func(x []float64) grams { return sum(x, func(i int) float64 { return x[at[i]] }) })
}

// steps writes how the additions are made.
func (a *adjusting) steps(first string) {
	steps := []string{first}
	var total float64
	for _, i := range a.answer.Add {
		if i.Rounded == 0 {
			if i.Exact > 0 {
				a.answer.warnUnshown(i.Name, i.Exact, a.gauges.scale)
			}
			continue
		}
		total += i.Rounded
		steps = append(steps, "Set the scale with the open jar on it to zero, and add "+i.Name+" until it shows "+
			a.gauges.scale.say(i.Rounded)+".")
	}
	if total == 0 {
		return
	}
	a.answer.Steps = append(steps, "Close it and "+evenStep(a.answer.After)+" and clear.", "Change its label: "+
		a.answer.AsRounded.saidOn(a.answer.Basis, a.in.Stock.Strength.Basis).Said+", adjusted on (date), by (initials).")
}
