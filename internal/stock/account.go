package stock

import (
	"math"

	"meniscus/internal/edtf"
	"meniscus/internal/quantity"
)

// An Opening is a batch as it was made. All amounts of one account are in Unit,
// and all strengths in solids per Unit.
type Opening struct {
	Unit     quantity.Unit
	Amount   *quantity.Measured // nil if unknown
	Strength *quantity.Measured // nil if unknown
	Made     edtf.Date          // zero if unknown
}

// Knowledge is how well an amount is known.
type Knowledge string

const (
	Known   Knowledge = "known"
	AtMost  Knowledge = "at-most" // something is left; how much is unknown
	Unknown Knowledge = "unknown"
)

// A Balance is a batch at one moment.
type Balance struct {
	// Remaining is what the entries add up to, and can be below zero. It has no
	// meaning if Knowledge is Unknown.
	Remaining quantity.Measured
	Knowledge Knowledge
	// Strength is nil if unknown.
	Strength *quantity.Measured
}

// A Step is the balance after one change.
type Step struct {
	Change Change
	Balance
}

// An Account is what the entries about a batch add up to.
type Account struct {
	Balance
	// Steps are in the order in which the changes are taken to have happened.
	Steps    []Step
	Findings []Finding
}

// reckoning is the work of Reckon.
type reckoning struct {
	opening Opening
	state   state
	found   *findings
}

// take adds a change to the account.
//
// With V the amount, c the strength (solids per amount) and q the amount of a
// change with strength s, the solids cV are conserved:
//
//	decanted, used, discarded   V' = V − q   c' = c
//	evaporated                  V' = V − q   c' = cV / (V − q)
//	topped up                   V' = V + q   c' = (cV + sq) / (V + q)
//	returned                    V' = V + q   c' = c
//	corrected by weighing       V' = q       c' between c and cV / q
//
// Assumptions: amounts add (no change of volume on mixing), only solvent
// evaporates, and what is returned is as strong as what is there. A difference
// found by weighing may be solution or solvent, so the strength is taken in the
// middle and the range as a rectangular uncertainty, unless the difference is
// within the uncertainty of the two amounts. Measured amounts are uncorrelated,
// the opening's amount and strength included. Uncertainties are carried from step
// to step with the covariance of V and c, which to first order is the law of
// propagation over all amounts at once (JCGM 100:2008, 5.1.2 and 5.2.2,
// recalled). Nothing is rounded.
//
// Source: conservation of mass.
func (r *reckoning) take(c Change) {
	if c.Kind == Returned {
		r.found.returned(c)
	}
	if c.Date.Period().EndsBefore(r.opening.Made.Period()) {
		r.found.early = append(r.found.early, c.ID)
	}
	if c.Amount == nil {
		r.found.withoutAmount(c)
		r.state = r.state.afterUnknown(c)
		return
	}
	before := r.state
	switch {
	case c.Kind == Weighed:
		r.state = before.weighed(*c.Amount)
		if before.knowledge == Known && !before.agrees(*c.Amount) {
			r.found.differs(c, before.amount.Value)
		}
	case c.Kind == Evaporated:
		r.state = before.evaporate(*c.Amount)
	case c.Kind.leaves():
		r.state = before.pour(*c.Amount)
	case c.Kind == ToppedUp:
		r.state = before.add(*c.Amount, c.Strength)
	default:
		r.state = before.giveBack(*c.Amount)
	}
	if c.Kind.leaves() && before.strength != nil && r.state.strength == nil {
		r.found.driedOut(c)
	}
	if c.Kind.leaves() && r.state.overdrawn() {
		r.found.belowZero(c, r.state.amount)
	}
}

// state is the amount V and the strength c with their covariance.
type state struct {
	amount     quantity.Measured
	knowledge  Knowledge
	strength   *quantity.Measured
	covariance float64
}

func begin(o Opening) state {
	s := state{knowledge: Unknown, strength: o.Strength}
	if o.Amount != nil {
		s.amount, s.knowledge = *o.Amount, Known
	}
	return s
}

func (s state) balance() Balance {
	return Balance{Remaining: s.amount, Knowledge: s.knowledge, Strength: s.strength}
}

// overdrawn tells whether more left the batch than it can have held: the amount
// is below zero by more than its expanded uncertainty.
func (s state) overdrawn() bool {
	return s.knowledge != Unknown && s.amount.Value+s.amount.Expanded() < -rounding
}

// rounding is the amount below which a sum is floating-point rounding error.
const rounding = 1e-9

// agrees tells whether a weighing and the reckoned amount differ by no more than
// their expanded uncertainties together.
func (s state) agrees(found quantity.Measured) bool {
	return math.Abs(s.amount.Value-found.Value) <= quantity.Coverage*math.Hypot(s.amount.Standard, found.Standard)+rounding
}

// pour takes q at the strength of the moment.
func (s state) pour(q quantity.Measured) state {
	s.amount = plus(s.amount, q, -1)
	return s
}

func (s state) giveBack(q quantity.Measured) state {
	s.amount = plus(s.amount, q, 1)
	return s
}

// plus adds sign·q to an amount; the two are uncorrelated.
func plus(amount, q quantity.Measured, sign float64) quantity.Measured {
	return quantity.Measured{Value: amount.Value + sign*q.Value, Standard: math.Hypot(amount.Standard, q.Standard)}
}

// evaporate takes q of solvent. If nothing is left to hold the solids, the
// strength has no meaning any more.
func (s state) evaporate(q quantity.Measured) state {
	left := s.amount.Value - q.Value
	switch {
	case s.strength == nil:
	case s.knowledge != Known || left <= 0:
		s.strength, s.covariance = nil, 0
	default:
		// c' = cV/L with L = V − q: ∂c'/∂V = −cq/L², ∂c'/∂c = V/L, ∂c'/∂q = cV/L².
		v, c, l := s.amount.Value, s.strength.Value, left
		return s.mix(c*v/l, -c*q.Value/(l*l), v/l, c*v/(l*l), q, -1, 0)
	}
	s.amount = plus(s.amount, q, -1)
	return s
}

// add takes in q at strength; an amount below zero counts as an empty batch for
// the strength.
func (s state) add(q quantity.Measured, strength *quantity.Measured) state {
	v := max(s.amount.Value, 0)
	total := v + q.Value
	if s.strength == nil || strength == nil || s.knowledge != Known || total <= 0 {
		s.strength, s.covariance = nil, 0
		s.amount = plus(s.amount, q, 1)
		return s
	}
	// c' = (cV + aq)/T with T = V + q: ∂c'/∂V = (c−a)q/T², ∂c'/∂c = V/T,
	// ∂c'/∂q = (a−c)V/T², ∂c'/∂a = q/T.
	c, a, t := s.strength.Value, strength.Value, total
	return s.mix((c*v+a*q.Value)/t, (c-a)*q.Value/(t*t), v/t, (a-c)*v/(t*t), q, 1, q.Value/t*strength.Standard)
}

// mix gives the state after V' = V + sign·q and c' = strength, from the
// derivatives of c' by V, c and q; extra is an uncertainty of c' by itself.
func (s state) mix(strength, byAmount, byStrength, byQ float64, q quantity.Measured, sign, extra float64) state {
	uV, uC, uQ := s.amount.Standard, s.strength.Standard, q.Standard
	variance := square(byAmount*uV) + square(byStrength*uC) + square(byQ*uQ) + square(extra) +
		2*byAmount*byStrength*s.covariance
	s.covariance = byAmount*uV*uV + byStrength*s.covariance + sign*byQ*uQ*uQ
	s.amount = plus(s.amount, q, sign)
	s.strength = &quantity.Measured{Value: strength, Standard: math.Sqrt(max(variance, 0))}
	return s
}

func square(x float64) float64 { return x * x }

// weighed replaces the reckoned amount with the amount found.
func (s state) weighed(found quantity.Measured) state {
	next := state{amount: found, knowledge: Known}
	switch {
	case s.strength == nil || s.knowledge != Known:
	case s.agrees(found):
		next.strength = s.strength
	case s.amount.Value > 0 && found.Value > 0:
		c, stronger := s.strength.Value, s.amount.Value/found.Value
		middle := (1 + stronger) / 2
		half := math.Abs(c*(stronger-1)) / 2
		next.strength = &quantity.Measured{
			Value: c * middle, Standard: math.Hypot(s.strength.Standard*middle, half/math.Sqrt(3)),
		}
	}
	return next
}

// afterUnknown is the state after a change whose amount is unknown.
func (s state) afterUnknown(c Change) state {
	switch {
	case c.Kind == Weighed:
		return s
	case c.Kind.leaves() && s.knowledge != Unknown:
		s.knowledge = AtMost
	default:
		s.knowledge = Unknown
	}
	if c.Kind == Evaporated || c.Kind == ToppedUp {
		s.strength = nil
	}
	s.covariance = 0
	return s
}
