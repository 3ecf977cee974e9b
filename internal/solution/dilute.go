package solution

import (
	"math"

	"meniscus/internal/quantity"
)

// DiluteInput asks for a weaker solution from a stock.
type DiluteInput struct {
	Stock Stock
	// Solvent is what is added; left out is the stock's own.
	Solvent Solvent
	// Exactly one of three says what is wanted: a Strength (in parts, it is stock to
	// solvent); or what becomes of the amount on hand when it is made up to MadeUpTo, a
	// volume or a mass; or when an amount of solvent is Added.
	Strength        Strength
	MadeUpTo, Added quantity.Quantity
	// Amount is how much is made. With MadeUpTo and Added it is the amount on hand.
	Amount Wanted
	// Leftover is stock that is left, to find how far it goes; left out is not asked.
	Leftover    quantity.Quantity
	Container   *Container
	Instruments Instruments
	Temperature quantity.Quantity
	// Brief leaves out what only an answer in full tells: the stock, the recipe by weight, ratios of
	// whole numbers, and the strength on bases that the answer does not say.
	Brief bool
}

// DiluteAnswer is a dilution.
type DiluteAnswer struct {
	// Stock is one gram of the stock, on every basis; Target is what is made.
	Stock, Target  Mixture
	Basis          Basis
	Main, ByWeight Recipe
	// WholeParts are ratios of small whole numbers near the one wanted, with the
	// strength that they really give.
	WholeParts []WholeParts
	Rule       Rule
	Leftover   *Leftover
	Preparation
	// Readings and Ranges are the answer where the basis of the stock is unknown: the
	// result of every reading, and their range. All of the above is then empty.
	Readings []ByReading
	Ranges   []Span
	Advice
}

// Dilute computes a dilution.
func Dilute(in DiluteInput) (DiluteAnswer, error) {
	if in.MadeUpTo.IsZero() && in.Added.IsZero() {
		if f := NeedsBasis(in.Strength, "/strength", in.Stock.Solute, in.Stock.Solvent); f != nil {
			return DiluteAnswer{}, f
		}
	}
	if f := in.Stock.needsBasis("/stock"); f != nil {
		return DiluteAnswer{}, f
	}
	if in.Stock.isUnknown() {
		return diluteUnknown(in)
	}
	a, _, err := diluted(in, true)
	if err != nil && in.Stock.unlabelled() {
		err = needsSolids(err)
	}
	return a, err
}

// diluted is the answer, and what it is made of. If tolerant, it answers what does
// not depend on unknown densities.
func diluted(in DiluteInput, tolerant bool) (DiluteAnswer, made, error) {
	d := diluting{mixing: mixing{checker: &checker{}, role: StockRole, stockBasis: in.Stock.Strength.Basis, brief: in.Brief,
		s: newSystem(referenceCelsius)}, in: in}
	d.s.tolerant, d.s.takesUnlabelled = tolerant, tolerant && in.Stock.unlabelled()
	if err := d.read(); err != nil {
		return DiluteAnswer{}, made{}, err
	}
	a, err := d.answer()
	x := d.s.nominal()
	return a, made{d.s, d.plan.exact(x), []grams{d.a.share(x)}, []float64{d.plan.alpha}}, err
}

// diluteUnknown dilutes a stock on every reading of its strength.
func diluteUnknown(in DiluteInput) (DiluteAnswer, error) {
	readings, err := overReadings([]unknownStock{{in.Stock, "/stock"}}, in.Strength.Basis,
		func(as []Stock) (ByReading, error) {
			read := in
			read.Stock, read.Brief = as[0], false // the readings are compared on every basis
			a, made, err := diluted(read, false)
			return ByReading{Ingredients: a.Main.Ingredients, Mixture: a.Target, made: made}, err
		})
	if err != nil {
		return DiluteAnswer{}, err
	}
	a := DiluteAnswer{Readings: readings, Ranges: ranges(readings)}
	a.unknownBasis(readings, a.Ranges)
	return a, nil
}

// diluting is a dilution in progress.
type diluting struct {
	mixing
	in DiluteInput
}

// read reads the input and decides on the mixture.
func (d *diluting) read() error {
	d.s.celsius = d.temperature("/temperature", d.in.Temperature)
	d.a = d.s.stock(d.in.Stock, "/stock", d.checker)
	d.solvent = d.in.Solvent
	if len(d.solvent.Shares) == 0 {
		d.solvent = d.in.Stock.ownSolvent()
	}
	d.solvent.check("/solvent", &d.faults)
	d.wish = d.checker.wish("/amount", d.in.Amount)
	d.gauges = d.checker.gauges("/instruments", d.in.Instruments)
	d.room = d.checker.room("/container", d.in.Container)
	d.readTarget()
	return d.decide("/stock")
}

// readTarget reads the strength wanted, or the one that follows from what is added.
func (d *diluting) readTarget() {
	ways := 0
	for _, said := range []bool{d.in.Strength.Basis != "", !d.in.MadeUpTo.IsZero(), !d.in.Added.IsZero()} {
		if said {
			ways++
		}
	}
	switch {
	case ways != 1:
		d.faults.Add("target-one-of", "",
			"Say what is wanted in exactly one way: a strength, what it is made up to, or the solvent that is added.")
	case d.in.Strength.Basis != "":
		d.basis = d.in.Strength.Basis
		d.t = d.in.Strength.read("/strength", d.checker).Value
		d.asked = d.in.Strength
	default:
		d.follow()
	}
}

// follow finds the strength that follows from what is made up to, or added, on the
// basis of that measure: parts by mass for a mass, and by volume for a volume; made up
// to a volume it is the strength in the finished volume.
func (d *diluting) follow() {
	if d.wish.kind != onHandVolume && d.wish.kind != onHandMass {
		d.faults.Add("on-hand-needed", "/amount",
			"Made up to an amount, or with an amount added, the stock is said as what is on hand.")
	}
	if len(d.faults) > 0 {
		return
	}
	x := d.s.nominal()
	a := d.a.share(x)
	if !d.in.Added.IsZero() {
		w := d.volumeOrMass("/added", d.in.Added, solventVolume, solventMass)
		d.basis, d.t = PartsByMass, 0
		stock := d.stockAs(w.kind == solventVolume, x, a)
		if w.kind == solventVolume {
			d.basis = PartsByVolume
		}
		d.t = stock / (stock + w.amount)
		return
	}
	w := d.volumeOrMass("/madeUpTo", d.in.MadeUpTo, finishedVolume, finishedMass)
	stock := d.stockAs(w.kind == finishedVolume, x, a)
	if w.amount < stock {
		d.faults.Add("made-up-to-less", "/madeUpTo",
			"It cannot be made up to less than the stock on hand, which is %s.", number(stock))
		return
	}
	d.basis, d.t = MassFraction, stock*d.s.solids(a)/w.amount
	if w.kind == finishedVolume {
		d.basis = MassPerSolutionVolume
		followed := func(x []float64) float64 { return d.madeTo(x, w.amount, stock) }
		if !d.s.sayable(a, everything, followed) {
			d.merge("", d.s.needDensities(a, everything, d.wish.at, "volumes are counted"))
			return
		}
		d.t = followed(x)
	}
}

// madeTo gives the strength, g per mL at 20 °C, of a volume of stock made up to a
// finished volume.
func (d *diluting) madeTo(x []float64, finished, stock float64) float64 {
	a := d.a.share(x)
	return stock / d.s.poured(x, a) * d.s.solids(a) / finished * d.standardVolume(x, a, finished, stock)
}

// stockAs gives the stock on hand as a volume or as a mass.
func (d *diluting) stockAs(volume bool, x []float64, a grams) float64 {
	if volume != (d.wish.kind == onHandVolume) {
		d.merge("", d.s.needDensities(a, everything, d.wish.at, "volumes are counted"))
		if len(d.faults) > 0 {
			return 1
		}
	}
	switch {
	case volume && d.wish.kind == onHandMass:
		return d.wish.amount * d.s.poured(x, a)
	case !volume && d.wish.kind == onHandVolume:
		return d.wish.amount / d.s.poured(x, a)
	default:
		return d.wish.amount
	}
}

// standardVolume gives the factor from the finished volume as measured to the one at
// 20 °C, which a strength counts.
func (d *diluting) standardVolume(x []float64, a grams, finished, stock float64) float64 {
	if d.s.celsius == referenceCelsius {
		return 1
	}
	b := d.s.solvent(d.solvent).share(x)
	start := times(stock/d.s.poured(x, a), a)
	whole := plus(start, d.s.fill(x, start, b, finished), b)
	return finished / d.s.volume(x, whole)
}

// ownSolvent is what a stock is made with.
func (k Stock) ownSolvent() Solvent {
	if len(k.Solvent.Shares) == 0 && k.Dispersion != nil {
		return Pure(k.Dispersion.Water)
	}
	return k.Solvent
}

// answer assembles the answer.
func (d *diluting) answer() (DiluteAnswer, error) {
	a := DiluteAnswer{Basis: d.basis}
	a.Target, a.Main, a.ByWeight = d.recipes()
	if !d.brief {
		a.Stock, a.WholeParts = d.s.describe(d.a.share), d.wholeParts()
	}
	a.Rule = d.rule()
	a.Leftover = d.leftover()
	if z := d.coarseness(a.Main, a.Target, usualTolerance); z != nil && !z.Enough {
		z.say(d.gauges)
		a.warnCoarse(z)
	}
	d.vessel(&a.Preparation, a.Target, a.Main)
	d.warnings(&a)
	d.advise(&a.Advice, &a.Preparation, a.Target, &a.Main, &a.ByWeight)
	d.refuseFrozen(d.s)
	if err := d.faults.Err(); err != nil {
		return DiluteAnswer{}, err
	}
	return a, nil
}

// warnings about what was asked of a dilution.
func (d *diluting) warnings(a *DiluteAnswer) {
	a.warnUnlabelled(d.s)
	if other := d.newLiquids(); other != "" {
		a.warn("second-solvent", Warn, practice,
			capital(other)+
				" was not in the stock: adding it dilutes the resin too, which is counted here. Whether the resin "+
				"stays dissolved in the new mixture is not computed; ask the solvent blend, and try a little first.")
	}
	if !a.Rule.Holds {
		a.warn("simple-rule-does-not-hold", Warn, additiveSource, a.Rule.Sentence)
	}
	if a.Leftover != nil && a.Leftover.Short {
		a.warn("stock-runs-out", Warn, additiveSource, a.Leftover.Sentence)
	}
}

// newLiquids names what is added that the stock does not hold.
func (d *diluting) newLiquids() string {
	x := d.s.nominal()
	stock, added := d.a.share(x), d.b.share(x)
	var names []string
	for i, m := range added {
		if m > 0 && (i >= len(stock) || stock[i] == 0) {
			names = append(names, d.s.components[i].Name)
		}
	}
	return list(names)
}

// Leftover is how far a rest of stock goes.
type Leftover struct {
	Stock float64 // g
	// Grams and Millilitres (0 where volumes are not known) of finished solution that it
	// makes, and Solvent, the grams of solvent for that.
	Grams, Millilitres, Solvent float64
	// Short tells whether it is less than the recipe needs.
	Short    bool
	Sentence string
}

// leftover answers how far a rest goes at the strength wanted.
func (d *diluting) leftover() *Leftover {
	if d.in.Leftover.IsZero() {
		return nil
	}
	x := d.s.nominal()
	a := d.a.share(x)
	rest := d.volumeOrMass("/leftover", d.in.Leftover, onHandVolume, onHandMass)
	grams := rest.amount
	if rest.kind == onHandVolume {
		d.merge("", d.s.needDensities(a, everything, "/leftover", "the rest is said by volume"))
		grams /= d.s.poured(x, a)
	}
	if len(d.faults) > 0 {
		return nil
	}
	whole := times(grams/d.plan.alpha, d.plan.exact(x))
	if !d.s.settled(func(x []float64) float64 { p := d.plan.at(x); return p.exact(x).mass() / p.alpha }) {
		d.merge("", d.s.needDensities(whole, everything, "/leftover", "how far a rest goes depends on it"))
		return nil
	}
	l := Leftover{Stock: grams, Grams: whole.mass(), Solvent: whole.mass() - grams, Short: grams < d.plan.alpha*(1-1e-9)}
	made := amountText(l.Grams, quantity.Gram)
	if len(d.s.unknownDensities(whole, everything)) == 0 {
		l.Millilitres = d.s.poured(x, whole)
		made = amountText(l.Millilitres, quantity.Millilitre)
	}
	l.Sentence = "The rest of the stock makes " + made + " at this strength."
	if l.Short {
		l.Sentence += " The recipe needs more: " + amountText(d.plan.alpha, quantity.Gram) + " of stock."
	}
	return &l
}

// Rule compares the rule that strength times amount stays the same, C₁V₁ = C₂V₂,
// with the actual result.
type Rule struct {
	// Holds tells whether it is true for this basis and this measure.
	Holds bool
	// Predicts is the strength that the rule predicts for these amounts, and Gives
	// the actual one, in the unit of the basis; both 0 where unknown.
	Predicts, Gives float64
	Unit            quantity.Unit
	Sentence        string
}

// rule compares the simple rule with the dilution. For a target in parts the basis
// is that of the stock's strength; otherwise the target's own. The rule takes c₂/c₁
// of the finished volume as stock and fills up to it.
func (d *diluting) rule() Rule {
	basis := d.basis
	if basis == PartsByVolume || basis == PartsByMass {
		basis = d.in.Stock.Strength.Basis
	}
	x := d.s.nominal()
	a, b := d.a.share(x), d.b.share(x)
	if _, ratio := bounds[basis]; !ratio || basis == AsSuppliedVolume ||
		!d.s.sayable(plus(a, 1, b), everything, func(x []float64) float64 { return d.givenByRule(basis, x) }) {
		return Rule{Holds: true}
	}
	predicted := d.t
	if basis != d.basis {
		predicted *= d.s.ratio(basis, x, a)
	}
	r := Rule{Predicts: 100 * predicted, Gives: 100 * d.givenByRule(basis, x), Unit: viewUnits[basis]}
	if basis == OneIn {
		r.Predicts, r.Gives = 100/r.Predicts, 100/r.Gives
	}
	r.Holds = math.Abs(r.Gives-r.Predicts) <= 1e-3*r.Predicts
	r.say(basis)
	return r
}

// givenByRule is the actual strength of the amounts that the rule gives.
func (d *diluting) givenByRule(basis Basis, x []float64) float64 {
	a, b := d.a.share(x), d.b.share(x)
	share := d.t
	if basis == d.basis {
		share /= d.s.ratio(basis, x, a)
	}
	return d.s.ratio(basis, x, d.byRule(x, a, b, share))
}

// byRule mixes a share of stock into one millilitre (in parts by mass, one gram).
func (d *diluting) byRule(x []float64, a, b grams, share float64) grams {
	switch d.basis {
	case PartsByMass, MassFraction:
		return plus(times(share, a), 1-share, b)
	case PartsByVolume:
		return plus(times(share/d.s.poured(x, a), a), (1-share)/d.s.poured(x, b), b)
	default:
		stock := times(share/d.s.poured(x, a), a)
		return plus(stock, d.s.fill(x, stock, b, 1), b)
	}
}

func (r *Rule) say(b Basis) {
	if r.Holds {
		r.Sentence = "Strength times amount stays the same here: the simple rule of proportion holds on this basis, " +
			"measured this way."
		return
	}
	r.Sentence = "The simple rule of proportion does not hold on the basis " + string(b) +
		": with its amounts it expects " + amountText(r.Predicts, r.Unit) + " and really gives " +
		amountText(r.Gives, r.Unit) + ". Use the amounts of this recipe."
}
