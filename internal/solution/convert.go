package solution

import (
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
	if k.isUnknown() {
		return convertUnknown(in)
	}
	c := &checker{}
	s := newSystem(referenceCelsius)
	s.tolerant = true
	p := s.stock(k, "/stock", c)
	if err := c.faults.Err(); err != nil {
		return ConvertAnswer{}, err
	}
	a := ConvertAnswer{Mixture: s.describe(p.share)}
	if n := k.Strength.Number; !n.IsZero() && k.Dispersion == nil && !k.Strength.inParts() && k.Strength.Basis != OneIn {
		plain := quantity.Quantity{Value: k.Strength.number(), Unit: quantity.One}
		a.Readings = Readings(Strength{Number: plain}, k.Solute, k.Solvent)
	}
	a.Amount = c.portion(s, p, "/amount", in.Amount)
	a.Holding = c.holding(s, p, "/solids", in.Solids)
	a.Answer = a.Mixture.says(k.Strength.Basis)
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
	if f := k.checkUnknown("/stock"); f != nil {
		c.faults = append(c.faults, f)
	}
	if !in.Amount.IsZero() || !in.Solids.IsZero() {
		c.faults.Add("strength-basis-unknown", "/stock/solution/strength/basis",
			"What an amount holds cannot be said while the basis is unknown; choose one of the readings.")
	}
	if err := c.faults.Err(); err != nil {
		return ConvertAnswer{}, err
	}
	a := ConvertAnswer{Readings: Readings(k.Strength, k.Solute, k.Solvent)}
	var read []ByReading
	for _, r := range a.Readings {
		read = append(read, ByReading{Basis: r.Strength.Basis, Mixture: r.Mixture, Unanswered: r.Unanswered})
	}
	a.Ranges = ranges(read)
	a.unknownBasis(read, a.Ranges)
	return a, nil
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
	if len(c.faults) > 0 {
		return nil
	}
	s = s.copied()
	at := s.measure("the amount", unit, m)
	held := s.portionOf(func(x []float64) grams {
		g := p.share(x)
		if unit == quantity.Millilitre {
			return times(x[at]/s.volume(x, g), g)
		}
		return times(x[at], g)
	})
	if why := held.Solids.Unanswered; why != "" {
		c.faults.Add(densityNeeded, pointer,
			"What this amount holds cannot be said. %s Give the density, or the amount the other way, by mass "+
				"or by volume.", why)
	}
	return held
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
	s = s.copied()
	at := s.measure("the amount", quantity.Gram, m)
	return s.portionOf(func(x []float64) grams {
		g := p.share(x)
		return times(x[at]/s.solids(g), g)
	})
}

// portionOf evaluates an amount of a solution: its mass and volume, and the mass of its
// solids and of its solvent.
func (s *system) portionOf(mix func(x []float64) grams) *Portion {
	var p Portion
	for _, of := range []struct {
		like Basis
		into *Size
		is   func(x []float64, g grams) float64
	}{
		{MassFraction, &p.Grams, func(_ []float64, g grams) float64 { return g.mass() }},
		{MassPerSolutionVolume, &p.Millilitres, s.volume},
		{MassFraction, &p.Solids, func(_ []float64, g grams) float64 { return s.solids(g) }},
		{MassFraction, &p.Solvent, func(_ []float64, g grams) float64 { return g.mass() - s.solids(g) }},
	} {
		f := func(x []float64) float64 { return of.is(x, mix(x)) }
		*of.into = size(quantity.Propagate(s.inputs, f), s.unsayable(of.like, mix(s.nominal()), f))
	}
	return &p
}
