package solution

import (
	"fmt"
	"math"
	"slices"

	"meniscus/internal/quantity"
)

// Uptake asks how much solids went into (or stayed on) a specimen. Exactly one of
// ByVolume and ByWeight is set.
type Uptake struct {
	ByVolume *UptakeByVolume
	ByWeight *UptakeByWeight
	// Area that was treated, or Mass of the specimen: at most one, to say it per area or per mass.
	Area, Mass quantity.Quantity
}

// UptakeByVolume is a solution of known strength of which some was used up.
type UptakeByVolume struct {
	// Solids is the strength in g of solids per volume of finished solution.
	Solids   quantity.Quantity
	Applied  quantity.Quantity
	Returned quantity.Quantity // what came back: drained, left in the dish; may be left out
}

// UptakeByWeight is a specimen weighed before and after.
type UptakeByWeight struct {
	Before, After quantity.Quantity
	Drying        Drying
	// Solution is the mass fraction of solids in what was applied, and bounds the
	// answer from below while solvent is still in it; may be left out.
	Solution quantity.Quantity
	// Retained is the most solvent that the dried film may still hold, as a mass
	// fraction of the film; may be left out.
	Retained quantity.Quantity
}

// Drying is how far a treated body has dried.
type Drying string

const (
	TouchDry      Drying = "touch-dry"
	HandlingDry   Drying = "handling-dry"
	Dried         Drying = "dried"
	DryingUnknown Drying = "unknown"
)

// mostRetained is the largest share of solvent that was published for a dried
// resin film here, and so the one-sided term for a body that is called dry:
// poly(vinyl acetate) from toluene still held more than 4 % after 180 days.
const mostRetained = 0.04

var (
	retainedSource = Cited("hansen-1991", Verified)
	gumSource      = Cited("gum", Memory)
)

// UptakeAnswer is the uptake.
type UptakeAnswer struct {
	// Solids in g, with the range that the unknown part leaves open; nil where only
	// bounds can be given.
	Solids *quantity.Outcome
	// AtLeast and AtMost bound it, g, without the uncertainty of the instruments.
	AtLeast, AtMost float64
	// PerArea in g/m², PerMass in g per 100 g of specimen; nil where not asked.
	PerArea, PerMass *quantity.Outcome
	Advice
}

// Positions of the inputs. By volume: strength g/mL, applied mL, returned mL. By
// weight: before g, after g, the lower share, the position between the bounds.
const (
	upFirst = iota
	upSecond
	upThird
	upFourth
)

// ComputeUptake answers the question, or gives every fault in it.
func ComputeUptake(u Uptake) (UptakeAnswer, error) {
	var c checker
	var a UptakeAnswer
	if (u.ByVolume == nil) == (u.ByWeight == nil) {
		c.faults.Add("uptake-choice", "", "Give exactly one of byVolume and byWeight.")
		return a, c.faults.Err()
	}
	per, perUnit := u.per(&c)
	var q uptakeQuestion
	if u.ByVolume != nil {
		q = u.ByVolume.question(&c)
	} else {
		q = u.ByWeight.question(&c)
		if per == nil {
			per, perUnit = &q.inputs[upFirst].Measured, quantity.Gram
		}
	}
	if err := c.faults.Err(); err != nil {
		return UptakeAnswer{}, err
	}
	a.Advice = q.notes
	a.AtLeast, a.AtMost = q.bounds()
	q.answer(&a, per, perUnit)
	a.advise(u)
	return a, nil
}

// uptakeQuestion is a checked question: its inputs, and the solids that follow.
type uptakeQuestion struct {
	inputs []quantity.Input
	solids func(x []float64) float64
	// bounds of the solids, from the plain values.
	bounds func() (least, most float64)
	// open: nothing says where between the bounds the solids lie.
	open  bool
	notes Advice
}

// per reads what the uptake is divided by: an area in m² or a mass in g.
func (u Uptake) per(c *checker) (*quantity.Measured, quantity.Unit) {
	at := "/byWeight/per"
	if u.ByVolume != nil {
		at = "/byVolume/per"
	}
	switch {
	case !u.Area.IsZero() && !u.Mass.IsZero():
		c.faults.Add("per-choice", at+"/specimenMass", "Give at most one of area and specimenMass.")
	case !u.Area.IsZero():
		m := c.need(at+"/area", u.Area, quantity.SquareMetre, span{1e-8, 1e4, false})
		return &m, quantity.SquareMetre
	case !u.Mass.IsZero():
		m := c.need(at+"/specimenMass", u.Mass, quantity.Gram, span{1e-6, 1e8, false})
		return &m, quantity.Gram
	}
	return nil, ""
}

// question for a used volume: m = c (V_applied - V_returned). Solution that ran off,
// dripped or stayed on the brush counts as taken up, so that the figure is an upper
// bound. The returned solution has usually lost solvent and is stronger, which makes
// the figure higher still.
func (v UptakeByVolume) question(c *checker) uptakeQuestion {
	volume := span{0, 1e6, true}
	q := uptakeQuestion{inputs: []quantity.Input{
		{Name: "the strength of the solution", Unit: quantity.GramsPerML,
			Measured: c.need("/byVolume/strength", v.Solids, quantity.GramsPerML, span{0, 25, true})},
		{Name: "the volume applied", Unit: quantity.Millilitre,
			Measured: c.need("/byVolume/applied", v.Applied, quantity.Millilitre, volume)},
		{Name: "the volume that came back", Unit: quantity.Millilitre,
			Measured: c.maybe("/byVolume/returned", v.Returned, quantity.Millilitre, span{0, 1e6, false}, 0)},
	}}
	applied, returned := q.inputs[upSecond].Value, q.inputs[upThird].Value
	if returned >= applied {
		c.faults.Add("returned-too-much", "/byVolume/returned", "What came back must be less than what was applied.")
	}
	q.solids = func(x []float64) float64 { return x[upFirst] * (x[upSecond] - x[upThird]) }
	q.bounds = func() (float64, float64) { return 0, q.inputs[upFirst].Value * (applied - returned) }
	q.notes.warn("upper-figure", Info, practice,
		"What ran off, dripped or stayed in the brush counts here as gone in, so the true uptake is at most this.")
	if returned > 0 {
		q.notes.warn("returned-is-stronger", Info, practice,
			"What came back has lost solvent and is stronger than before: the true uptake is lower still.")
	}
	return q
}

// question for a weighed specimen. Of the gain g = after - before a share is
// solids, from a lower share l to all of it:
//
//	dried:            l = 1 - r, with r the most solvent that a dried film holds
//	not dried:        l = w, the mass fraction of solids in the solution
//	not dried, no w:  l = 0, and only the upper bound is known
//
//	m = g (l + s (1 - l)),  s = 1/2 with a rectangular distribution from 0 to 1
func (w UptakeByWeight) question(c *checker) uptakeQuestion {
	mass := span{1e-6, 1e8, false}
	q := uptakeQuestion{inputs: []quantity.Input{
		{Name: "the weight before", Unit: quantity.Gram,
			Measured: c.need("/byWeight/before", w.Before, quantity.Gram, mass)},
		{Name: "the weight after", Unit: quantity.Gram,
			Measured: c.need("/byWeight/after", w.After, quantity.Gram, mass)},
		{Name: "the solvent still in it", Unit: quantity.One},
		{Name: "the solvent still in it", Unit: quantity.One,
			Measured: quantity.Measured{Value: 0.5, Standard: 0.5 / math.Sqrt(3)}},
	}}
	q.inputs[upThird].Measured, q.open = w.lowerShare(c, &q.notes)
	gain := q.inputs[upSecond].Value - q.inputs[upFirst].Value
	if len(c.faults) == 0 && gain <= 0 {
		c.faults.Add("no-gain", "/byWeight/after",
			"The specimen weighs no more after than before, so that no uptake can be read from it: check for losses, "+
				"for a change of moisture, and the balance.")
	}
	if u := math.Hypot(q.inputs[upFirst].Standard, q.inputs[upSecond].Standard); gain < quantity.Coverage*u {
		q.notes.warn("lost-in-the-balance", Warn, gumSource,
			"The gain is smaller than the uncertainty of the two weighings: it cannot be told from nothing.")
	}
	q.solids = func(x []float64) float64 {
		return (x[upSecond] - x[upFirst]) * (x[upThird] + x[upFourth]*(1-x[upThird]))
	}
	q.bounds = func() (float64, float64) { return gain * q.inputs[upThird].Value, gain }
	q.notes.warn("moisture", Info, practice,
		"A porous body takes up and gives off water with the humidity of the room: weigh it both times after the "+
			"same days in the same air.")
	return q
}

// lowerShare gives the least share of the gain that is solids, and whether
// nothing is known of it.
func (w UptakeByWeight) lowerShare(c *checker, notes *Advice) (least quantity.Measured, open bool) {
	share := span{0, 1, false}
	switch w.Drying {
	case Dried:
		r := c.maybe("/byWeight/retained", w.Retained, quantity.One, span{0, 0.5, false}, mostRetained)
		if w.Retained.IsZero() {
			notes.warn("retained-solvent", Info, retainedSource,
				"Dry is not free of solvent: up to 4 % of the film is taken as solvent, the largest figure that is "+
					"held here; a film from acetone holds far less.")
		}
		return quantity.Measured{Value: 1 - r.Value, Standard: r.Standard}, false
	case TouchDry, HandlingDry, DryingUnknown:
		notes.warn("not-dried", Warn, practice,
			"It is not said to be dry, so that part of the gain is solvent: weigh again when it changes no more.")
		if w.Solution.IsZero() {
			return quantity.Exactly(0), true
		}
		return c.need("/byWeight/solution", w.Solution, quantity.One, share), false
	}
	c.faults.Add("drying-unknown-word", "/byWeight/drying",
		"Say how far it has dried: touch-dry, handling-dry, dried or unknown.")
	return quantity.Exactly(0), true
}

// answer propagates the solids, and divides them by an area or a mass.
func (q uptakeQuestion) answer(a *UptakeAnswer, per *quantity.Measured, unit quantity.Unit) {
	solids := quantity.Propagate(q.inputs, q.solids)
	if q.open {
		a.Answer = fmt.Sprintf("At most %s g of resin went in; how much of that is solvent is not known.", number(a.AtMost))
		return
	}
	a.Solids = &solids
	a.Answer = solids.Said() + " g of resin went in"
	if solids.Standard > 0 {
		a.Answer += " (" + solids.Sentence(quantity.Gram) + ")"
	}
	a.Answer += "."
	if per == nil {
		return
	}
	scale, name := 100.0, "the mass of the specimen"
	if unit == quantity.SquareMetre {
		scale, name = 1, "the area"
	}
	// The specimen's own weight before is one of the inputs already.
	inputs, at := q.inputs, upFirst
	if per != &q.inputs[upFirst].Measured {
		inputs, at = append(slices.Clone(q.inputs), quantity.Input{Name: name, Unit: unit, Measured: *per}), len(q.inputs)
	}
	set := quantity.Propagate(inputs, func(x []float64) float64 { return scale * q.solids(x) / x[at] })
	if unit == quantity.SquareMetre {
		a.PerArea = &set
	} else {
		a.PerMass = &set
	}
}

// measured says how both figures are found alike.
func (u Uptake) measured() string {
	if u.ByVolume != nil {
		return "Measure what is applied and what comes back in the same jug, empty and dry before each; on a scale, set it " +
			"to zero with the jug on it before each."
	}
	return "Set the empty scale to zero before each weighing, and weigh the specimen on the same support, or on none, both times."
}

// advise says how reliable the number is.
func (a *UptakeAnswer) advise(u Uptake) {
	a.cite(gumSource)
	for _, w := range a.Warnings {
		a.cite(w.Source)
	}
	a.Steps = []string{
		u.measured(),
		"Record both figures as they were measured, with the balance or the jug, beside the treatment.",
		"Weigh a blank of the same material next to the specimen: its change is that of the air.",
	}
	a.Cautions = append(a.Cautions,
		Caution{"A figure for the whole body says nothing of how deep the resin went or where it lies.", practice})
}
