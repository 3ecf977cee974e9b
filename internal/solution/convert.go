package solution

import (
	"fmt"
	"math"

	"meniscus/internal/quantity"
)

// ConvertInput asks for one solution on every basis.
type ConvertInput struct {
	// Solution is what it is; its strength may be on UnknownBasis, and may carry
	// an uncertainty.
	Stock Stock
	// Amount is an amount of it: what does that hold? Left out is not asked.
	Amount quantity.Quantity // of the solution, a volume or a mass
	// Solids is an amount of solids: how much of the solution holds it? Left out is not
	// asked.
	Solids quantity.Quantity // a mass
}

// ConvertAnswer is a solution on every basis.
type ConvertAnswer struct {
	// Mixture is one gram of it; empty where the basis is unknown.
	Mixture Mixture
	// Readings are what the bare number could mean on each basis, side by side.
	Readings []Reading
	// Ranges are the lowest and highest of the readings on each basis; set where the
	// basis is unknown.
	Ranges []Span
	// Amount and Holding answer the amounts asked; nil where not asked.
	Amount, Holding *Portion
	Advice
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

// Portion is an amount of a solution and what it holds.
type Portion struct {
	Grams       Size // of the solution
	Millilitres Size
	Solids      Size // g
	Solvent     Size // g
}

// Convert computes the views of one solution.
func Convert(in ConvertInput) (ConvertAnswer, error) {
	k := in.Stock
	if f := k.needsBasis("/stock"); f != nil {
		return ConvertAnswer{}, f
	}
	if k.Strength.Basis == UnknownBasis && len(k.Contents) == 0 {
		return convertUnknown(in)
	}
	c := &checker{}
	s := newSystem(referenceCelsius)
	p := s.stock(k, "/stock", c)
	if err := c.faults.Err(); err != nil {
		return ConvertAnswer{}, err
	}
	a := ConvertAnswer{Mixture: s.describe(p.share)}
	if n := k.Strength.Number; !n.IsZero() && k.Dispersion == nil && !k.Strength.inParts() && k.Strength.Basis != OneIn {
		a.Readings = Readings(n.Value, k.Solute, k.Solvent)
	}
	a.Amount = c.portion(s, p, "/amount", in.Amount)
	a.Holding = c.holding(s, p, "/solids", in.Solids)
	a.warnModels(a.Mixture.Models)
	a.citeMixture(s, a.Mixture)
	return a, c.faults.Err()
}

// convertUnknown answers a number whose basis was not recorded: a range.
func convertUnknown(in ConvertInput) (ConvertAnswer, error) {
	k := in.Stock
	c := &checker{}
	k.Solute.check("/stock/solution/solute", &c.faults)
	c.refuseSetting("/stock/solution/solute", k.Solute)
	k.Solvent.check("/stock/solution/solvent", &c.faults)
	if n := k.Strength.Number.Value.Float64(); !bounds[MassPerSolventVolume].span.holds(n) {
		c.faults.Add("out-of-range", "/stock/solution/strength/value", "This must be %s.", bounds[MassPerSolventVolume].span.said(quantity.One))
	}
	if !in.Amount.IsZero() || !in.Solids.IsZero() {
		c.faults.Add("strength-basis-unknown", "/stock/solution/strength/basis", "What an amount holds cannot be said while the basis is unknown; choose one of the readings.")
	}
	if err := c.faults.Err(); err != nil {
		return ConvertAnswer{}, err
	}
	a := ConvertAnswer{Readings: Readings(k.Strength.Number.Value, k.Solute, k.Solvent)}
	a.Ranges = ranges(a.Readings)
	a.warn("basis-unknown", Warn, practice, "The record does not say what the number counts. The answer is a range over its readings; it stays unknown until someone finds out.")
	a.cite(practice)
	for _, r := range a.Readings {
		for _, model := range r.Mixture.Models {
			a.cite(model.Source)
		}
	}
	return a, nil
}

// ranges gives the span of the readings on each basis.
func ranges(readings []Reading) []Span {
	var all []Span
	for _, b := range []Basis{MassPerSolutionVolume, MassPerSolventVolume, MassFraction} {
		z := Span{Basis: b, Unit: viewUnits[b], Lowest: math.Inf(1)}
		for _, r := range readings {
			if v := r.Mixture.On(b); r.Unanswered == "" && v.Answered() {
				z.take(v.Value, r.Strength.Basis)
			}
		}
		if z.readingsCount > 0 {
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

// portion answers what an amount of a solution holds.
func (c *checker) portion(s *system, p product, pointer string, q quantity.Quantity) *Portion {
	if q.IsZero() {
		return nil
	}
	unit, allowed := quantity.Gram, massSpan
	if q.Unit.Kind() != quantity.Mass {
		unit, allowed = quantity.Millilitre, volumeSpan
	}
	m := c.need(pointer, q, unit, allowed)
	noVolume := s.whyNot(MassPerSolutionVolume, p.share(s.nominal()))
	if unit == quantity.Millilitre && noVolume != "" {
		c.faults.Add("density-needed", pointer, "%s Give the density, or the amount by mass.", noVolume)
	}
	if len(c.faults) > 0 {
		return nil
	}
	s = s.copied()
	at := s.measure("the amount", unit, m)
	return s.portionOf(noVolume, func(x []float64) grams {
		g := p.share(x)
		if unit == quantity.Millilitre {
			return times(x[at]/s.volume(x, g), g)
		}
		return times(x[at], g)
	})
}

// holding answers how much of a solution holds an amount of solids.
func (c *checker) holding(s *system, p product, pointer string, q quantity.Quantity) *Portion {
	if q.IsZero() {
		return nil
	}
	m := c.need(pointer, q, quantity.Gram, massSpan)
	g := p.share(s.nominal())
	if s.solids(g) == 0 {
		c.faults.Add("no-solids", pointer, "The solution holds no solids.")
	}
	if len(c.faults) > 0 {
		return nil
	}
	noVolume := s.whyNot(MassPerSolutionVolume, g)
	s = s.copied()
	at := s.measure("the amount", quantity.Gram, m)
	return s.portionOf(noVolume, func(x []float64) grams {
		g := p.share(x)
		return times(x[at]/s.solids(g), g)
	})
}

// portionOf evaluates an amount of a solution.
func (s *system) portionOf(noVolume string, mix func(x []float64) grams) *Portion {
	o := quantity.PropagateAll(s.inputs, 4, func(x, out []float64) {
		g := mix(x)
		out[0], out[1], out[2] = g.mass(), s.volume(x, g), s.solids(g)
		out[3] = out[0] - out[2]
	})
	return &Portion{size(o[0], ""), size(o[1], noVolume), size(o[2], ""), size(o[3], "")}
}
