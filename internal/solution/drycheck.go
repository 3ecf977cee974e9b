package solution

import (
	"math"

	"meniscus/internal/quantity"
)

// DryCheckInput asks what strength a solution really has: a measured portion was dried
// and weighed.
type DryCheckInput struct {
	Solute  Component
	Solvent Solvent
	// Portion is the wet portion: a mass, or a volume, or both (which gives the density
	// of the solution too).
	PortionMass, PortionVolume quantity.Quantity
	// Exactly one of two: the dry Residue, or the Dish and the DishWithResidue.
	Residue, Dish, DishWithResidue quantity.Quantity
	// Retained is the most solvent that the dry film may still hold, in grams to 100 g
	// of dry resin; left out is not known.
	Retained quantity.Quantity
	// Label is what the jar says; left out is not compared.
	Label       Strength
	Instruments Instruments
	Temperature quantity.Quantity
}

// DryCheckAnswer is the strength that was found.
type DryCheckAnswer struct {
	// Reading takes the whole residue for resin; Lowest takes it to hold all the solvent
	// that it may retain. The strength lies between, within the uncertainty.
	Reading, Lowest Mixture
	// Strength and LowestStrength are theirs, as the label says it; LowestStrength has no basis
	// where no solvent is retained.
	Strength, LowestStrength View
	Solids                   quantity.Outcome // g, of Reading
	// Agreement compares it with the label; nil where there is none.
	Agreement *Agreement
	Advice
}

// Agreement is the verdict on a label.
type Agreement struct {
	Basis   Basis
	Unit    quantity.Unit
	Label   quantity.Measured
	Lowest  float64 // the strength found, between lowest
	Highest float64 // and highest
	// Apart is how far the label lies outside that, and Allowed how far it may: the
	// expanded uncertainty of the difference.
	Apart, Allowed float64
	Verdict        LabelVerdict
	Sentence       string
}

// LabelVerdict says whether a label holds.
type LabelVerdict string

const (
	Agrees     LabelVerdict = "agrees"
	Stronger   LabelVerdict = "stronger-than-label"
	Weaker     LabelVerdict = "weaker-than-label"
	CannotTell LabelVerdict = "cannot-tell"
)

// retainedSpan is what a film may retain, g to 100 g of dry resin.
var retainedSpan = span{0, 50, false}

// retentionSource is the published figure for what a film may retain.
var retentionSource = Cited("hansen-1991", Verified)

// DryCheck computes a strength from a dried portion.
func DryCheck(in DryCheckInput) (DryCheckAnswer, error) {
	if n := in.Label.Number; !n.IsZero() {
		if f := NeedsBasis(in.Label, "/label", in.Solute, in.Solvent); f != nil {
			return DryCheckAnswer{}, f
		}
	}
	d := drying{checker: &checker{}, in: in}
	d.read()
	d.refuseFrozen(d.s)
	if err := d.faults.Err(); err != nil {
		return DryCheckAnswer{}, err
	}
	return d.answer()
}

// drying is a dry-check in progress.
type drying struct {
	*checker
	in             DryCheckInput
	s              *system
	solute         int
	solvent        product
	mass, volume   int // inputs of the portion; -1 where not given
	residue        int // input
	retained       float64
	retainedStated bool
	label          quantity.Measured // the ratio, on its basis
}

// read reads the input.
func (d *drying) read() {
	d.s = newSystem(d.temperature("/temperature", d.in.Temperature))
	d.in.Solute.check("/solute", &d.faults)
	d.refuseSetting("/solute", d.in.Solute)
	d.in.Solvent.check("/solvent", &d.faults)
	if len(d.faults) > 0 {
		return
	}
	d.solute = d.s.add(d.in.Solute, true)
	d.solvent = d.s.solvent(d.in.Solvent)
	g := d.gauges("/instruments", d.in.Instruments)
	d.mass = d.weighed("/portionMass", "the balance, on the portion", d.in.PortionMass, g.scale, massSpan)
	d.volume = d.weighed("/portionVolume", "measuring the portion", d.in.PortionVolume, g.measure, volumeSpan)
	if d.mass < 0 && d.volume < 0 {
		d.faults.Add("portion-missing", "", "Say how much was dried: a mass, or a volume.")
	}
	d.readResidue(g)
	d.retainedStated = !d.in.Retained.IsZero()
	d.retained = d.maybe("/retained", d.in.Retained, quantity.Percent, retainedSpan, 0).Value / 100
	if d.in.Label.Basis != "" {
		d.label = d.in.Label.read("/label", d.checker)
		if d.in.Label.inParts() || d.in.Label.Basis == AsSuppliedVolume {
			d.faults.Add("basis-not-for-checks", "/label/basis",
				"A label in parts or in a product as supplied says how it was mixed; say it in grams per 100 mL, as "+
					"a mass fraction, or as one in n to compare.")
		}
	}
	d.checkDensities()
}

// weighed brings in a measured amount, with its own uncertainty or the instrument's;
// -1 where it was left out.
func (d *drying) weighed(pointer, name string, q quantity.Quantity, g gauge, allowed span) int {
	if q.IsZero() {
		return -1
	}
	return d.s.measure(name, g.unit, d.checker.read(pointer, q, g, allowed))
}

// readResidue reads the residue, from its mass or from the dish before and after.
func (d *drying) readResidue(g gauges) {
	in := d.in
	byDish := !in.Dish.IsZero() || !in.DishWithResidue.IsZero()
	if byDish == !in.Residue.IsZero() {
		d.faults.Add("residue-one-of", "",
			"Say the dry residue in exactly one way: its mass, or the dish without and with it.")
		return
	}
	if !byDish {
		d.residue = d.weighed("/residue", "the balance, on the residue", in.Residue, g.scale, massSpan)
	} else {
		empty := d.checker.read("/dish", in.Dish, g.scale, massSpan)
		full := d.checker.read("/dishWithResidue", in.DishWithResidue, g.scale, massSpan)
		m := quantity.Measured{Value: full.Value - empty.Value, Standard: math.Hypot(full.Standard, empty.Standard)}
		d.residue = d.s.measure("the balance, on the dish before and after", quantity.Gram, m)
		if !(m.Value > 0) {
			d.faults.Add("no-residue", "/dishWithResidue", "The dish with the residue must weigh more than the empty dish.")
		}
	}
	if d.mass >= 0 && d.residue >= 0 && d.s.inputs[d.residue].Value >= d.s.inputs[d.mass].Value {
		d.faults.Add("residue-above-portion", "/portionMass", "The dry residue must weigh less than the wet portion.")
	}
}

// checkDensities refuses questions that cannot be answered without the densities.
func (d *drying) checkDensities() {
	if len(d.faults) > 0 {
		return
	}
	if d.mass < 0 {
		d.merge("", d.s.needDensities(d.mixture(0)(d.s.nominal()), everything, "/portionVolume", "the portion is a volume"))
	}
	if len(d.faults) > 0 {
		return
	}
	x := d.s.nominal()
	if g := d.mixture(0)(x); !(g.mass() > d.s.solids(g)) {
		d.faults.Add("residue-above-portion", "/portionVolume", "The dry residue alone would fill the whole portion.")
	}
}

// mixture is the portion, with the residue holding r grams of solvent to one of resin:
//
//	mₛ = R / (1 + r)     R the residue, g
//
// and the rest of the portion solvent: by mass what is left of it, by volume what
// fills it up.
func (d *drying) mixture(r float64) func(x []float64) grams {
	return func(x []float64) grams {
		g := d.s.none()
		g[d.solute] = x[d.residue] / (1 + r)
		one := d.solvent.share(x)
		if d.mass >= 0 {
			return plus(g, x[d.mass]-g[d.solute], one)
		}
		return plus(g, d.s.fill(x, g, one, x[d.volume]), one)
	}
}

// answer assembles the answer.
func (d *drying) answer() (DryCheckAnswer, error) {
	a := DryCheckAnswer{Reading: d.describe(0), Lowest: d.describe(d.retained)}
	a.Solids = quantity.Propagate(d.s.inputs, func(x []float64) float64 { return d.s.solids(d.mixture(0)(x)) })
	if d.in.Label.Basis != "" {
		a.Agreement = d.agreement(a)
	}
	a.Strength = a.Reading.saidOn(d.in.Label.Basis, MassPerSolutionVolume)
	if d.retained > 0 {
		a.LowestStrength = a.Lowest.saidOn(d.in.Label.Basis, MassPerSolutionVolume)
	}
	a.Answer = a.says()
	d.advise(&a)
	return a, d.faults.Err()
}

// describe gives the portion on every basis. If it was both weighed and measured, its
// volume is the one measured, not the sum of the volumes.
func (d *drying) describe(r float64) Mixture {
	m := d.s.describe(d.mixture(r))
	if d.mass < 0 || d.volume < 0 {
		return m
	}
	o := quantity.PropagateAll(d.s.inputs, 3, func(x, out []float64) {
		solids := x[d.residue] / (1 + r)
		out[0], out[1], out[2] = 100*solids/x[d.volume], x[d.volume]/solids, x[d.mass]/x[d.volume]
	})
	for i, v := range m.Strengths {
		switch v.Basis {
		case MassPerSolutionVolume:
			m.Strengths[i] = view(v.Basis, o[0], "")
		case OneIn:
			m.Strengths[i] = view(v.Basis, o[1], "")
		}
	}
	m.Density = size(o[2], "")
	return m
}

// agreement compares with the label: the strength found lies between lowest and
// highest, one-sided for the retained solvent, and each end has the uncertainty of the
// reading:
//
//	agrees if apart ≤ √(U² + U_label²)
func (d *drying) agreement(a DryCheckAnswer) *Agreement {
	b := d.in.Label.Basis
	reading, lowest := a.Reading.On(b), a.Lowest.On(b)
	g := &Agreement{Basis: b, Unit: viewUnits[b], Label: quantity.Measured{Value: 100 * d.label.Value,
		Standard: 100 * d.label.Standard}}
	if b == OneIn {
		g.Label = quantity.Measured{Value: 1 / d.label.Value, Standard: d.label.Standard / (d.label.Value * d.label.Value)}
	}
	if !reading.Answered() {
		g.Verdict, g.Sentence = CannotTell, "The strength found cannot be said on the label's basis: "+reading.Unanswered
		return g
	}
	g.Lowest, g.Highest = math.Min(lowest.Value, reading.Value), math.Max(lowest.Value, reading.Value)
	g.Apart = math.Max(0, math.Max(g.Lowest-g.Label.Value, g.Label.Value-g.Highest))
	g.Allowed = quantity.Coverage * math.Hypot(reading.Standard, g.Label.Standard)
	g.judge(b)
	return g
}

// judge gives the verdict.
func (g *Agreement) judge(b Basis) {
	found := quantity.Measured{Value: g.Highest, Standard: g.Allowed / quantity.Coverage}.Said() + " " + g.Unit.Said()
	if g.Lowest < g.Highest {
		found = quantity.Measured{Value: g.Lowest, Standard: g.Allowed / quantity.Coverage}.Said() + " to " + found
	}
	label, above := g.Label.Said()+" "+g.Unit.Said(), g.Lowest > g.Label.Value
	if b == OneIn {
		above = !above
	}
	switch {
	case g.Allowed == 0:
		g.Verdict = CannotTell
		g.Sentence = "Found " + found + "; the label says " + label +
			". No uncertainty was given for either, so whether they agree cannot be told."
	case g.Apart <= g.Allowed && g.Allowed > g.Label.Value*usualTolerance/100:
		g.Verdict = CannotTell
		g.Sentence = "Found " + found + "; the label says " + label + ". The check is uncertain by ± " +
			rough(g.Allowed) + ", too much to tell whether they agree: dry a larger portion, or weigh on a finer scale."
	case g.Apart <= g.Allowed:
		g.Verdict = Agrees
		g.Sentence = "Found " + found + ", which agrees with the label's " + label +
			" within ± " + rough(g.Allowed) + "."
	default:
		g.Verdict = Weaker
		word := "weaker"
		if above {
			g.Verdict, word = Stronger, "stronger"
		}
		g.Sentence = "Found " + found + ": it is " + word + " than the label's " + label +
			" by more than the uncertainty of ± " + rough(g.Allowed) + " explains."
	}
}

// advise adds steps, warnings, cautions and sources.
func (d *drying) advise(a *DryCheckAnswer) {
	a.Steps = []string{
		"Set the scale to zero, and weigh a clean dry dish.",
		"Put in the portion at once after the jar has been turned over, close the jar, and weigh the dish again " +
			"without delay: solvent leaves while you look.",
		"Let it dry in the air away from dust, in a thin film, then warm if the resin allows it, until two weighings " +
			"a day apart agree.",
		"Weigh the dish with the dry film.",
	}
	if d.retainedStated {
		a.warn("retained-solvent", Info, retentionSource,
			"The film may still hold solvent, so the reading may be up to "+rough(100*d.retained)+
				" % above the true strength, and never below it for that reason.")
	} else {
		a.warn("retained-solvent-not-stated", Warn, retentionSource,
			"How much solvent the dry film still holds was not said, so the strength read is an upper bound: a film "+
				"that keeps 4 g to 100 g of resin reads 20.8 for 20.")
	}
	g := d.gauges("/instruments", d.in.Instruments)
	if !g.scale.known() && a.Solids.Standard == 0 {
		a.warn("scale-not-stated", Info, practice, "No uncertainty of the weighing was given, so none is in the result.")
	}
	a.warnModels(a.Reading.Models)
	a.careful(d.s, a.Reading.Volume)
	a.citeMixture(d.s, a.Reading)
	a.cite(retentionSource, practice)
}
