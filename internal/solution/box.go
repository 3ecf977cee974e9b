package solution

import "math"

// box is one well-mixed box of air:
//
//	V dC/dt = G(t) - Q C
//
//	V  volume of the box, m³
//	Q  air that passes through it and takes part in the mixing, m³/h
//	C  concentration of vapour, g/m³
//	G  vapour given off, g/h
//	k  = Q/V, air changes an hour
//
// Assumptions: the box is mixed at every moment, the air that comes in is clean,
// nothing sticks to the walls. Source: one-box mass balance, as taught in the
// industrial-hygiene course notes of a university (read); the cases below are its
// integrals. A closed box (Q = 0) is the limit k → 0 of each.
type box struct {
	volume float64 // m³
	flow   float64 // m³/h
}

// changes is k = Q/V, per hour.
func (b box) changes() float64 { return b.flow / b.volume }

// release is a way in which a mass of solvent goes into the air, and what
// concentration a box of air then has after t hours.
type release interface {
	// concentration in g/m³ at t hours, per gram released in all.
	concentration(b box, t float64) float64
	// dose is the integral of the concentration from 0 to t, g h/m³ per gram.
	dose(b box, t float64) float64
	// peak is the hour of the highest concentration.
	peak(b box) float64
}

// steadyRelease gives its mass off evenly for a time, then stops.
//
//	C(t) = G/Q (1 - e^(-kt)),  G = 1/D            while it lasts (D hours)
//	C(t) = C(D) e^(-k (t-D))                      afterwards
//
// Source: build-up and decay of a well-mixed room, engineering reference (read;
// its table of 24 values is a test).
type steadyRelease struct{ duration float64 }

func (r steadyRelease) concentration(b box, t float64) float64 {
	k := b.changes()
	during := math.Min(t, r.duration)
	c := grown(k, during) / (r.duration * b.volume)
	return c * math.Exp(-k*(t-during))
}

func (r steadyRelease) dose(b box, t float64) float64 {
	k := b.changes()
	during := math.Min(t, r.duration)
	d := grownTwice(k, during) / (r.duration * b.volume)
	return d + r.concentration(b, during)*grown(k, t-during)
}

func (r steadyRelease) peak(box) float64 { return r.duration }

// instantRelease is a spill that is all vapour at once:
//
//	C(t) = (1/V) e^(-kt);  average over T hours: (1/V) (1 - e^(-kT)) / (kT)
//
// Source: follows from the mass balance.
type instantRelease struct{}

func (instantRelease) concentration(b box, t float64) float64 {
	return math.Exp(-b.changes()*t) / b.volume
}

func (instantRelease) dose(b box, t float64) float64 { return grown(b.changes(), t) / b.volume }

func (instantRelease) peak(box) float64 { return 0 }

// dryingRelease is a spill or a wet surface whose solvent leaves at a rate in
// proportion to what is still there, α per hour:
//
//	C(t) = α/(V (k-α)) (e^(-αt) - e^(-kt));  peak at t = ln(α/k)/(α-k)
//	if α = k: C(t) = (1/V) k t e^(-kt)
//
// Source: recalled; the tests check it by numerical integration.
type dryingRelease struct{ rate float64 }

func (r dryingRelease) concentration(b box, t float64) float64 {
	k := b.changes()
	slow, fast := math.Min(k, r.rate), math.Max(k, r.rate)
	return r.rate / b.volume * math.Exp(-slow*t) * grown(fast-slow, t)
}

func (r dryingRelease) dose(b box, t float64) float64 {
	return r.rate / b.volume * grownSlope(r.rate, b.changes(), t)
}

func (r dryingRelease) peak(b box) float64 {
	k := b.changes()
	switch {
	case k == 0:
		return math.Inf(1)
	case math.Abs(k-r.rate) < 1e-9*k:
		return 1 / k
	}
	return math.Log(r.rate/k) / (r.rate - k)
}

// grown is (1 - e^(-kt))/k, and t where k = 0.
func grown(k, t float64) float64 {
	if math.Abs(k*t) < 1e-12 {
		return t
	}
	return -math.Expm1(-k*t) / k
}

// grownTwice is the integral of grown from 0 to t: (t - (1 - e^(-kt))/k)/k, and
// t²/2 where k = 0. The series is used where the difference would cancel.
func grownTwice(k, t float64) float64 {
	if x := k * t; x < 1e-3 {
		return t * t * (1./2 - x/6 + x*x/24 - x*x*x/120)
	}
	return (t - grown(k, t)) / k
}

// grownSlope is (grown(a,t) - grown(b,t))/(b - a), the divided difference of a
// smooth function; where a and b are nearly equal its derivative is used.
func grownSlope(a, b, t float64) float64 {
	if math.Abs(a-b) > 1e-4*math.Max(a, b) {
		return (grown(a, t) - grown(b, t)) / (b - a)
	}
	k := (a + b) / 2
	if x := k * t; x < 1e-3 {
		return t * t * (1./2 - x/3 + x*x/8)
	}
	return (grown(k, t) - t*math.Exp(-k*t)) / k
}

// highest finds the largest value of f between a and b: the best of a grid, then
// a golden-section search around it. f has one maximum there.
func highest(a, b float64, f func(float64) float64) float64 {
	best, at := f(a), a
	if b <= a {
		return best
	}
	const points = 24
	for i := 1; i <= points; i++ {
		x := a + (b-a)*float64(i)/points
		if y := f(x); y > best {
			best, at = y, x
		}
	}
	width := (b - a) / points
	low, high := math.Max(a, at-width), math.Min(b, at+width)
	const golden = 0.6180339887498949
	x1, x2 := high-golden*(high-low), low+golden*(high-low)
	f1, f2 := f(x1), f(x2)
	for range 40 {
		if f1 < f2 {
			low, x1, f1 = x1, x2, f2
			x2 = low + golden*(high-low)
			f2 = f(x2)
		} else {
			high, x2, f2 = x2, x1, f1
			x1 = high - golden*(high-low)
			f1 = f(x1)
		}
	}
	return math.Max(best, math.Max(f1, f2))
}
