package solution

import (
	"fmt"
	"math"
	"slices"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// ByReading is what a computation comes to on one reading of a strength whose basis is
// not recorded.
type ByReading struct {
	Basis Basis  // the reading
	Said  string // "5 g per 100 mL solution"
	// Ingredients are the amounts, and Mixture what comes of them.
	Ingredients []Ingredient
	Mixture     Mixture
	// Unanswered says why there is no answer on this reading; empty where there is one.
	Unanswered string
}

// isUnknown tells whether a stock's strength is a number without a recorded basis.
func (k Stock) isUnknown() bool {
	return k.Strength.Basis == UnknownBasis && len(k.Contents) == 0
}

// overReadings runs a computation on every reading of a stock whose basis is unknown.
// A reading on which it is refused says why; where every one is refused, so is the
// whole, with the faults of the first.
func overReadings(k Stock, pointer string, compute func(Stock) (ByReading, error)) ([]ByReading, error) {
	if f := k.checkUnknown(pointer); f != nil {
		return nil, f
	}
	var all []ByReading
	var refused error
	for _, b := range readingBases {
		read := k
		read.Strength.Basis = b
		read.Strength.Number.Unit = b.Unit()
		r, err := compute(read)
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
		r.Basis, r.Said = b, said(b, k.Strength.Number.Value)
		all = append(all, r)
	}
	if !slices.ContainsFunc(all, func(r ByReading) bool { return r.Unanswered == "" }) {
		return nil, refused
	}
	return all, nil
}

// checkUnknown refuses a number that is none on any basis; the stock stands at pointer.
func (k Stock) checkUnknown(pointer string) *fault.Fault {
	allowed := bounds[MassPerSolventVolume].span
	if n := k.Strength.Number.Value.Float64(); !allowed.holds(n) {
		return fault.New("out-of-range", pointer+k.form()+"/strength/value", "This must be %s.", allowed.said(quantity.One))
	}
	return nil
}

// Span is a range of strengths on one basis.
type Span struct {
	Basis         Basis
	Unit          quantity.Unit
	Lowest        float64
	Highest       float64
	LowestBasis   Basis // the reading that gives it
	HighestBasis  Basis
	Sentence      string
	TimesBetween  float64 // highest over lowest
	readingsCount int
}

// ranges gives the span of the readings on each basis.
func ranges(readings []ByReading) []Span {
	var all []Span
	for _, b := range []Basis{MassPerSolutionVolume, MassPerSolventVolume, MassFraction} {
		z := Span{Basis: b, Unit: viewUnits[b], Lowest: math.Inf(1)}
		for _, r := range readings {
			if v := r.Mixture.On(b); r.Unanswered == "" && v.Answered() {
				z.take(v.Value, r.Basis)
			}
		}
		if z.readingsCount > 0 && z.Lowest > 0 {
			z.TimesBetween = z.Highest / z.Lowest
			z.Sentence = fmt.Sprintf("%s to %s %s, depending on what the number counts: a factor of %s.", number(z.Lowest), number(z.Highest), z.Unit.Said(), number(z.TimesBetween))
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
	z.readingsCount++
}

// unknownBasis says that the answer is a range, and why.
func (a *Advice) unknownBasis(readings []ByReading) {
	a.warn("basis-unknown", Warn, practice, "The record does not say what the number counts. The answer is a range over its readings; it stays unknown until someone finds out.")
	a.Cautions = append(a.Cautions, mixingCautions...)
	a.cite(practice)
	for _, r := range readings {
		for _, model := range r.Mixture.Models {
			a.cite(model.Source)
		}
	}
}
