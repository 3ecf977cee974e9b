package solution

import "meniscus/internal/quantity"

// Wanted says how much is to be made. Exactly one member is set.
type Wanted struct {
	// Finished is the volume or mass of the solution.
	Finished quantity.Quantity
	// Solvent is the volume or mass of solvent poured.
	Solvent quantity.Quantity
	// OnHand is the mass (or volume, of a liquid) of resin or stock that is all used.
	OnHand quantity.Quantity
	// Bottles is a number of bottles to fill.
	Bottles *Bottles
}

// Bottles is a number of equal bottles.
type Bottles struct {
	Count int
	Size  quantity.Quantity // what goes into each: a volume
	// Loss is what is made beyond that for wetting, spilling and the last drop, in per
	// cent; left out means none.
	Loss quantity.Quantity
}

// mostBottles is the most bottles in one request.
const mostBottles = 10_000

var lossSpan = span{0, 100, false}

// wantedKind is the kind of amount that a Wanted gives.
type wantedKind int

const (
	finishedVolume wantedKind = iota
	finishedMass
	solventVolume
	solventMass
	onHandMass
	onHandVolume
)

// wish is a Wanted as the arithmetic uses it.
type wish struct {
	kind     wantedKind
	amount   float64 // mL or g
	at       string  // its pointer in the input
	standard float64 // its standard uncertainty
}

// wish reads a Wanted.
func (c *checker) wish(pointer string, w Wanted) wish {
	set := 0
	for _, q := range []quantity.Quantity{w.Finished, w.Solvent, w.OnHand} {
		if !q.IsZero() {
			set++
		}
	}
	if w.Bottles != nil {
		set++
	}
	if set != 1 {
		c.faults.Add("amount-one-of", pointer,
			"Say how much in exactly one way: the finished amount, the solvent, what is on hand, or bottles.")
		return wish{finishedVolume, 100, pointer, 0}
	}
	switch {
	case w.Bottles != nil:
		return c.bottles(pointer+"/bottles", *w.Bottles)
	case !w.Finished.IsZero():
		return c.volumeOrMass(pointer+"/finished", w.Finished, finishedVolume, finishedMass)
	case !w.Solvent.IsZero():
		return c.volumeOrMass(pointer+"/solvent", w.Solvent, solventVolume, solventMass)
	default:
		return c.volumeOrMass(pointer+"/onHand", w.OnHand, onHandVolume, onHandMass)
	}
}

// volumeOrMass reads an amount that may be either.
func (c *checker) volumeOrMass(pointer string, q quantity.Quantity, volume, mass wantedKind) wish {
	if q.Unit.Kind() == quantity.Mass {
		m := c.need(pointer, q, quantity.Gram, massSpan)
		return wish{mass, m.Value, pointer, m.Standard}
	}
	m := c.need(pointer, q, quantity.Millilitre, volumeSpan)
	return wish{volume, m.Value, pointer, m.Standard}
}

// bottles adds the bottles up.
func (c *checker) bottles(pointer string, b Bottles) wish {
	if b.Count < 1 || b.Count > mostBottles {
		c.faults.Add("out-of-range", pointer+"/count", "The number of bottles is from 1 to %d.", mostBottles)
		return wish{finishedVolume, 100, pointer, 0}
	}
	size := c.need(pointer+"/size", b.Size, quantity.Millilitre, volumeSpan).Value
	loss := c.maybe(pointer+"/loss", b.Loss, quantity.Percent, lossSpan, 0).Value
	total := float64(b.Count) * size * (1 + loss/100)
	if !volumeSpan.holds(total) {
		c.faults.Add("out-of-range", pointer, "The bottles together must come to %s.", volumeSpan.said(quantity.Millilitre))
	}
	return wish{finishedVolume, total, pointer, 0}
}

// scaled gives the grams of a that bring one gram of a with β grams of b, both together
// as they stand in whole, to the amount wanted. Volumes are as measured, at the temperature of the system.
func (s *system) scaled(w wish, x []float64, a, b, whole grams, beta float64) float64 {
	switch w.kind {
	case finishedVolume:
		return w.amount / s.poured(x, whole)
	case finishedMass:
		return w.amount / (1 + beta)
	case solventVolume:
		return w.amount / s.poured(x, times(beta, b))
	case solventMass:
		return w.amount / beta
	case onHandVolume:
		return w.amount / s.poured(x, a)
	default:
		return w.amount
	}
}

// needsVolume tells whether the amount wanted counts volumes, and of what.
func (w wish) needsVolume() (which, bool) {
	switch w.kind {
	case finishedVolume:
		return everything, true
	case solventVolume:
		return theSolvent, true
	default:
		return everything, false
	}
}
