package solution

import (
	"fmt"
	"slices"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// BlendInput asks what mixing stocks gives, or how much of each to take.
type BlendInput struct {
	Stocks []BlendStock
	// Fresh is fresh solvent that may be added; without shares, none.
	Fresh Solvent
	// FreshOnHand limits it; left out is as much as is needed.
	FreshOnHand quantity.Quantity
	// Strength is what is wanted; left out, everything on hand is poured together, fresh solvent too.
	Strength Strength
	// Total is how much is wanted, a volume or a mass; left out, as much of the stocks as
	// the strength allows is used.
	Total       quantity.Quantity
	Objective   Objective
	Instruments Instruments
	Temperature quantity.Quantity
	// OnlyExact leaves out all of the answer but Exact.
	OnlyExact bool
}

// BlendStock is a stock with what is on hand of it.
type BlendStock struct {
	Stock
	// OnHand is a volume or a mass; left out is as much as is needed.
	OnHand quantity.Quantity
	// UseAll: all of it goes in.
	UseAll bool
	// Age is how long ago it was made; left out is not known.
	Age quantity.Quantity
	// Touched: a brush, or something else, was dipped into it.
	Touched bool
	// Certainty is how sure the identification of its contents is; empty is unknown.
	Certainty Certainty
}

// Certainty is how sure an identification is.
type Certainty string

// The certainties, from the surest.
const (
	Documented       Certainty = "documented"
	Analysed         Certainty = "analysed"
	Inferred         Certainty = "inferred"
	UnknownCertainty Certainty = "unknown"
)

var certainties = []Certainty{Documented, Analysed, Inferred, UnknownCertainty}

// Objective is what is optimised among the possible blends.
type Objective string

const (
	// LeastFreshSolvent takes as little fresh solvent as the target allows.
	LeastFreshSolvent Objective = "least-fresh-solvent"
	// OldestFirst uses as much as possible of the oldest, then of the next.
	OldestFirst Objective = "oldest-first"
	// LeastWaste leaves the smallest sum of the shares left in the bottles, so that
	// small leftovers are emptied first.
	LeastWaste Objective = "least-waste"
)

// mostStocks is the most stocks in one blend.
const mostStocks = 40

// BlendAnswer is a blend.
type BlendAnswer struct {
	Uses []Use
	// Fresh is the fresh solvent; its Grams are 0 where none is needed.
	Fresh Use
	// Exact is the blend as computed; AsRounded what the rounded amounts give.
	Exact, AsRounded Mixture
	// Strength is that of AsRounded, as a label says it.
	Strength View
	Basis    Basis // of the target; empty without one
	// Alligation is the ratio of two stocks for the target; nil otherwise.
	Alligation *Alligation
	// Reach is what the stocks on hand can give on the target's basis at this total; nil
	// without a target.
	Reach     *Reach
	Objective Objective
	Certainty Certainty // the lowest of what is used
	// Readings and Ranges are the answer where the basis of a stock is unknown: the result
	// of every reading, and their range. All of the above is then empty.
	Readings []ByReading
	Ranges   []Span
	Advice
}

// Use is how much of one stock is taken.
type Use struct {
	Name  string
	Grams float64
	// Millilitres is 0 where densities are not known.
	Millilitres float64
	// Unit, Rounded: the amount to measure.
	Unit    quantity.Unit
	Rounded float64
	// Left is what remains of it, g; 0 where it was not limited.
	Left    float64
	Limited bool
}

// Alligation is the grams, and the millilitres, of the second to one of the first.
type Alligation struct {
	ByMass   float64
	ByVolume float64 // 0 where densities are not known
}

// Reach is a range of strengths, in the unit of its basis.
type Reach struct {
	Basis           Basis
	Unit            quantity.Unit
	Lowest, Highest float64
}

// Blend computes a blend.
func Blend(in BlendInput) (BlendAnswer, error) {
	for i, k := range in.Stocks {
		if f := k.needsBasis("/stocks" + indexed(i) + "/stock"); f != nil {
			return BlendAnswer{}, f
		}
	}
	if !in.Strength.Number.IsZero() {
		if f := NeedsBasis(in.Strength, "/strength", in.firstSolute(), in.firstSolvent()); f != nil {
			return BlendAnswer{}, f
		}
	}
	if unknown := in.unknown(); len(unknown) > 0 {
		return blendUnknown(in, unknown)
	}
	a, _, err := blended(in)
	return a, err
}

// blended is the answer, with the working behind it.
func blended(in BlendInput) (BlendAnswer, *blending, error) {
	b := &blending{checker: &checker{}, in: in}
	if err := b.read(); err != nil {
		return BlendAnswer{}, nil, err
	}
	if err := b.choose(); err != nil {
		return BlendAnswer{}, nil, err
	}
	a, err := b.answer()
	return a, b, err
}

func (in BlendInput) firstSolute() Component {
	if len(in.Stocks) == 0 {
		return Component{}
	}
	return in.Stocks[0].Solute
}

func (in BlendInput) firstSolvent() Solvent {
	if len(in.Stocks) == 0 {
		return Solvent{}
	}
	return in.Stocks[0].Solvent
}

// blending is a blend in progress. Products are the stocks, and last the fresh
// solvent where one was named.
type blending struct {
	*checker
	in       BlendInput
	s        *system
	products []product
	onHand   []float64 // g; below 0 is not limited
	forced   []bool
	doubt    []float64 // relative standard uncertainty of what is on hand
	targeted bool
	basis    Basis
	t        float64
	total    wish
	totalled bool
	gauges   gauges
	grams    []float64 // chosen
	reach    *Reach
}

// read reads the input.
func (b *blending) read() error {
	b.s = newSystem(b.temperature("/temperature", b.in.Temperature))
	if n := len(b.in.Stocks); n < 1 || n > mostStocks {
		b.faults.Add("out-of-range", "/stocks", "A blend has from 1 to %d stocks.", mostStocks)
		return b.faults.Err()
	}
	b.readObjective()
	b.in.Stocks = named(b.in.Stocks)
	for i, k := range b.in.Stocks {
		b.products = append(b.products, b.s.stock(k.Stock, "/stocks"+indexed(i)+"/stock", b.checker))
	}
	if len(b.in.Fresh.Shares) > 0 {
		b.in.Fresh.check("/fresh", &b.faults)
	}
	b.gauges = b.checker.gauges("/instruments", b.in.Instruments)
	if !b.in.Total.IsZero() {
		b.total, b.totalled = b.volumeOrMass("/total", b.in.Total, finishedVolume, finishedMass), true
	}
	if b.in.Strength.Basis != "" {
		b.readTarget()
	}
	if err := b.faults.Err(); err != nil {
		return err
	}
	if len(b.in.Fresh.Shares) > 0 {
		b.products = append(b.products, b.s.solvent(b.in.Fresh))
	}
	b.readAmounts()
	b.checkTogether()
	b.refuseFrozen(b.s)
	return b.faults.Err()
}

// named gives the stocks names that tell them apart in the steps, where they have none:
// "stock 2 (5 g per 100 mL solution)".
func named(stocks []BlendStock) []BlendStock {
	all := slices.Clone(stocks)
	if len(all) < 2 {
		return all
	}
	for i := range all {
		k := &all[i].Stock
		if k.Name != "" {
			continue
		}
		k.Name = fmt.Sprintf("stock %d", i+1)
		if !k.Strength.Number.IsZero() {
			k.Name += " (" + said(k.Strength.Basis, k.Strength.Number.Value.String()) + ")"
		}
	}
	return all
}

func (b *blending) readObjective() {
	if b.in.Objective == "" {
		b.in.Objective = LeastFreshSolvent
	}
	if !slices.Contains([]Objective{LeastFreshSolvent, OldestFirst, LeastWaste}, b.in.Objective) {
		b.faults.Add("objective-unknown", "/objective", "The objective is one of %s, %s and %s.", LeastFreshSolvent,
			OldestFirst, LeastWaste)
	}
}

func (b *blending) readTarget() {
	b.targeted, b.basis = true, b.in.Strength.Basis
	if b.in.Strength.inParts() || b.basis == AsSuppliedVolume {
		b.faults.Add("basis-not-for-blends", "/strength/basis",
			"A blend's strength is asked in grams per 100 mL, as a mass or volume fraction, or as one in n: parts "+
				"say how it is mixed, not what comes of it.")
		return
	}
	b.t = b.in.Strength.read("/strength", b.checker).Value
}

// readAmounts reads what is on hand, in grams.
func (b *blending) readAmounts() {
	for i, k := range b.in.Stocks {
		at := "/stocks" + indexed(i)
		b.onHand = append(b.onHand, b.amountOf(at+"/onHand", k.OnHand, i))
		b.forced = append(b.forced, k.UseAll || !b.targeted)
		if k.OnHand.IsZero() && b.forced[i] {
			b.faults.Add("on-hand-needed", at+"/onHand", "To use all of it, say how much is on hand.")
		}
		if k.Certainty != "" && !slices.Contains(certainties, k.Certainty) {
			b.faults.Add("certainty-unknown", at+"/certainty", "The certainty is documented, analysed, inferred or unknown.")
		}
	}
	if len(b.in.Fresh.Shares) > 0 {
		b.onHand = append(b.onHand, b.amountOf("/freshOnHand", b.in.FreshOnHand, len(b.products)-1))
		b.forced = append(b.forced, !b.targeted)
		if !b.targeted && b.in.FreshOnHand.IsZero() {
			b.faults.Add("on-hand-needed", "/freshOnHand", "Without a strength all of it is poured in: say how much is on hand.")
		}
	}
}

// amountOf reads an amount of product i, in grams; -1 where none is said.
func (b *blending) amountOf(pointer string, q quantity.Quantity, i int) float64 {
	b.doubt = append(b.doubt, 0)
	if q.IsZero() {
		return -1
	}
	w := b.volumeOrMass(pointer, q, onHandVolume, onHandMass)
	if w.amount > 0 {
		b.doubt[i] = w.standard / w.amount
	}
	if w.kind == onHandMass || len(b.faults) > 0 {
		return w.amount
	}
	x := b.s.nominal()
	one := b.products[i].share(x)
	b.merge("", b.s.needDensities(one, everything, pointer, "the amount is a volume"))
	if len(b.faults) > 0 {
		return 0
	}
	return w.amount / b.s.poured(x, one)
}

// checkTogether refuses members that exclude each other, and missing ones.
func (b *blending) checkTogether() {
	x := b.s.nominal()
	everythingIn := b.s.none()
	for _, p := range b.products {
		everythingIn = plus(everythingIn, 1, p.share(x))
	}
	if bad := b.s.unmixable(everythingIn, everythingIn); bad != "" {
		b.faults.Add("solvents-do-not-mix", "/stocks", "%s: they would stand as two layers.", bad)
	}
	if part, counts := b.counts(); counts {
		b.merge("", b.s.needDensities(everythingIn, part, "/strength/basis", "this basis, or the total, counts volumes"))
	}
	if b.targeted && !b.totalled && slices.Min(b.onHand[:len(b.in.Stocks)]) < 0 && !slices.Contains(b.forced, true) {
		b.faults.Add("total-missing", "/total",
			"Say the total wanted, or what is on hand of every stock, or which stock is all used: without them any "+
				"amount would do.")
	}
}

// counts tells whether volumes are counted, and of what.
func (b *blending) counts() (which, bool) {
	switch {
	case b.totalled && b.total.kind == finishedVolume:
		return everything, true
	case !b.targeted || b.basis == MassFraction:
		return everything, false
	case b.basis == MassPerSolventVolume:
		return theSolvent, true
	default:
		return everything, true
	}
}

// choose finds the grams of each.
func (b *blending) choose() error {
	b.grams = slices.Clone(b.onHand)
	if !b.targeted {
		if b.totalled {
			return fault.List{fault.New("total-without-strength", "/total",
				"Without a strength, everything on hand is poured together; leave the total out.")}
		}
		for i, forced := range b.forced {
			if !forced {
				b.grams[i] = 0
			}
		}
		return nil
	}
	return b.optimise()
}
