package solution

import (
	"fmt"
	"math"
	"slices"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// ByReading is the result of a computation on one reading of the strengths whose basis
// is not recorded.
type ByReading struct {
	// Basis is what the numbers are read as; empty where several stocks are read
	// differently.
	Basis Basis
	Said  string // "5 g per 100 mL solution"
	// Ingredients are the amounts of a recipe, Uses those of a blend, and Mixture the
	// result.
	Ingredients []Ingredient
	Uses        []Use
	Mixture     Mixture
	// Poured is the range of strengths that these amounts give if the numbers mean something
	// else, on the basis asked for; nil where no strength was asked, or where it is unknown.
	Poured *Span
	// Unanswered says why there is no answer on this reading; empty where there is one.
	Unanswered string

	made made
}

// isUnknown tells whether a stock's strength is a number without a recorded basis.
func (k Stock) isUnknown() bool {
	return k.Strength.Basis == UnknownBasis && len(k.Contents) == 0
}

// as is the stock with its number read on a basis.
func (k Stock) as(b Basis) Stock {
	k.Strength.Basis = b
	k.Strength.Number.Unit = b.Unit()
	return k
}

// unknownStock is a stock of unknown basis, and its pointer in the request.
type unknownStock struct {
	Stock
	pointer string
}

// assumption is one way to read every stock of unknown basis.
type assumption struct {
	basis  Basis // empty where they are read differently
	said   string
	stocks []Stock
}

// overReadings runs a computation on the readings of the stocks whose basis is unknown,
// and says what the amounts of each give on the others (poured). A reading on which it
// is refused says why; where every one is refused, so is the whole, with the faults of
// the first.
func overReadings(unknown []unknownStock, target Basis, compute func([]Stock) (ByReading, error)) ([]ByReading, error) {
	for _, k := range unknown {
		if f := k.checkUnknown(k.pointer); f != nil {
			return nil, f
		}
	}
	var all []ByReading
	var refused error
	for _, as := range assumptions(unknown) {
		r, err := compute(as.stocks)
		if err != nil {
			found := fault.From(err)
			if len(found) == 0 {
				return nil, err
			}
			if refused == nil {
				refused = err
			}
			r.Unanswered = found[0].Detail
		}
		r.Basis, r.Said = as.basis, as.said
		all = append(all, r)
	}
	if !slices.ContainsFunc(all, func(r ByReading) bool { return r.Unanswered == "" }) {
		return nil, refused
	}
	pourEach(all, target)
	return all, nil
}

// assumptions are the ways to read the stocks: all alike on every basis. Where there are
// several, each at the weakest and each at the strongest that its number can mean are
// two more, unless they are among those: the strength of a mixture of given amounts
// rises with that of each stock in it, so that these two are the ends of the range.
func assumptions(unknown []unknownStock) []assumption {
	var all []assumption
	for _, b := range readingBases {
		as := assumption{basis: b}
		for i, k := range unknown {
			as.stocks = append(as.stocks, k.as(b))
			if i > 0 {
				as.said += "; "
			}
			as.said += said(b, k.Strength.Number.Value.String())
		}
		all = append(all, as)
	}
	if len(unknown) < 2 {
		return all
	}
	for _, end := range []struct {
		sign float64
		said string
	}{{-1, "each stock at the weakest that its number can mean"},
		{1, "each stock at the strongest that its number can mean"}} {
		as := assumption{said: end.said}
		alike := true
		first := Basis("")
		for i, k := range unknown {
			b := k.furthest(end.sign)
			if i == 0 {
				first = b
			}
			alike = alike && b == first
			as.stocks = append(as.stocks, k.as(b))
		}
		if !alike {
			all = append(all, as)
		}
	}
	return all
}

// furthest is the reading on which the stock holds the largest (sign +1) or smallest
// (sign −1) share of solids by mass.
func (k Stock) furthest(sign float64) Basis {
	best, most := readingBases[0], math.Inf(-1)
	for _, b := range readingBases {
		s, c := newSystem(referenceCelsius), &checker{}
		p := s.stock(k.as(b), "", c)
		if len(c.faults) > 0 {
			continue
		}
		if w := sign * s.solids(p.share(s.nominal())); w > most {
			best, most = b, w
		}
	}
	return best
}

// checkUnknown refuses a number that is impossible on every basis; pointer is the stock's.
func (k Stock) checkUnknown(pointer string) *fault.Fault {
	allowed := bounds[MassPerSolventVolume].span
	if n := k.Strength.Number.Value.Float64(); !allowed.holds(n) {
		return fault.New("out-of-range", pointer+k.form()+"/strength/value", "This must be %s.", allowed.said(quantity.One))
	}
	return nil
}

// made is a mixture and the part of it from the stocks of unknown basis: enough to
// compute the same amounts with these stocks on another reading. The zero value is no
// mixture.
type made struct {
	s     *system
	whole grams
	share []grams   // one gram of each such stock
	taken []float64 // grams of each
}

// pouredAs is the ratio that the amounts of m give if the stocks are as in other; both
// list the same components in the same order.
func (m made) pouredAs(other made, basis Basis) float64 {
	g := times(1, m.whole)
	for i, taken := range m.taken {
		g = plus(plus(g, -taken, m.share[i]), taken, other.share[i])
	}
	return other.s.ratio(basis, other.s.nominal(), g)
}

// pourEach sets, for every reading, the range that its amounts give over all readings.
func pourEach(all []ByReading, target Basis) {
	if _, ratio := bounds[target]; !ratio || target == PartsByMass || target == PartsByVolume ||
		target == AsSuppliedVolume {
		return
	}
	for i := range all {
		r := &all[i]
		if r.Unanswered != "" || r.made.s == nil {
			continue
		}
		z := newSpan(target)
		for _, other := range all {
			if other.Unanswered != "" || other.made.s == nil {
				continue
			}
			x := 100 * r.made.pouredAs(other.made, target)
			if target == OneIn {
				x = 100 / x
			}
			z.take(x, other.Basis)
		}
		z.finish("These amounts come to %s to %s %s, depending on what the number counts.")
		r.Poured = &z
	}
}

// Span is a range of strengths on one basis.
type Span struct {
	Basis   Basis
	Unit    quantity.Unit
	Lowest  float64
	Highest float64
	// The readings that give them; empty where several stocks are read differently.
	LowestBasis, HighestBasis Basis
	Sentence                  string
	TimesBetween              float64 // highest over lowest
}

func newSpan(b Basis) Span { return Span{Basis: b, Unit: viewUnits[b], Lowest: math.Inf(1)} }

// ranges gives the span of the readings on each basis on which they differ.
func ranges(readings []ByReading) []Span {
	var all []Span
	for _, b := range []Basis{MassPerSolutionVolume, MassPerSolventVolume, MassFraction} {
		z := newSpan(b)
		for _, r := range readings {
			if v := r.Mixture.On(b); r.Unanswered == "" && v.Answered() {
				z.take(v.Value, r.Basis)
			}
		}
		if z.Lowest > 0 && z.Highest > z.Lowest*(1+1e-9) {
			z.finish("%s to %s %s, depending on what the number counts: a factor of " + number(z.Highest/z.Lowest) + ".")
			all = append(all, z)
		}
	}
	return all
}

func (z *Span) take(x float64, b Basis) {
	if x < z.Lowest {
		z.Lowest, z.LowestBasis = x, b
	}
	if x > z.Highest {
		z.Highest, z.HighestBasis = x, b
	}
}

// finish puts the span into words; the sentence has a place for each end and for the unit.
func (z *Span) finish(sentence string) {
	z.TimesBetween = z.Highest / z.Lowest
	z.Sentence = fmt.Sprintf(sentence, number(z.Lowest), number(z.Highest), z.Unit.Said())
}

// unknownBasis says that the answer is a range, and why.
func (a *Advice) unknownBasis(readings []ByReading, ranges []Span) {
	a.saysRange(ranges)
	a.warn("basis-unknown", Warn, practice,
		"The record does not say what the number counts. The answer is a range over its readings; it stays unknown "+
			"until someone finds out.")
	if slices.ContainsFunc(readings, func(r ByReading) bool { return r.Poured != nil }) {
		a.warn("amounts-by-reading", Warn, practice,
			"The amounts differ by reading, and each says what it comes to if the number means something else. Where "+
				"that matters, find the strength first: dry and weigh a measured portion.")
	}
	a.Cautions = append(a.Cautions, mixingCautions...)
	a.cite(practice)
	for _, r := range readings {
		for _, model := range r.Mixture.Models {
			a.cite(model.Source)
		}
	}
}
