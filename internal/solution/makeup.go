package solution

import (
	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// MakeUpInput asks how much of each for a strength and an amount.
type MakeUpInput struct {
	Resin    Resin
	Strength Strength
	// Solvent may be left out with a dispersion, which is diluted with its water.
	Solvent Solvent
	Amount  Wanted
	// Container is what it is made in; left out is "not said".
	Container *Container
	Instruments
	// Tolerance is the largest expanded uncertainty of the strength that will do, in
	// per cent of the strength; left out is "not asked".
	Tolerance quantity.Quantity
	// Temperature is at which volumes are measured; left out is 20 °C.
	Temperature quantity.Quantity
	// Observed is what was seen of the resin in each liquid by itself.
	Observed []Observation
	// Brief leaves out what only an answer in full tells: the recipe by weight, and the strength on
	// bases that the answer does not say.
	Brief bool
}

// Resin is what is dissolved. Exactly one member is set.
type Resin struct {
	Solid      *Component
	Purity     *Purity // of the solid
	Stock      *Stock
	Dispersion *Dispersion
	TwoPart    *TwoPart
	Recipe     *Written
}

// Container is a vessel.
type Container struct {
	Capacity quantity.Quantity // a volume
	// Headspace is what stays empty above the liquid, in per cent of the capacity;
	// left out is none.
	Headspace quantity.Quantity
}

// MakeUpAnswer is the recipe.
type MakeUpAnswer struct {
	// Target is the mixture that was asked for, exactly.
	Target Mixture
	// Main is the recipe measured as the basis is defined; ByWeight is the same mixture
	// with one scale and no measuring cup.
	Main, ByWeight Recipe
	// Basis is that of the strength asked.
	Basis Basis
	// Smallest is the smallest make of this strength that the instruments can do within
	// the tolerance; nil where none was asked.
	Smallest *Smallest
	Preparation
	// Split is the answer for a two-part resin, and Scaled that for a recipe of several
	// materials; all of the above is then empty.
	Split  *Split
	Scaled []ScaledPart
	Advice
}

// MakeUp computes a recipe.
func MakeUp(in MakeUpInput) (MakeUpAnswer, error) {
	if in.Resin.TwoPart != nil {
		return splitTwoPart(in)
	}
	if in.Resin.Recipe != nil {
		return rescale(in)
	}
	if f := in.needsBasis(); f != nil {
		return MakeUpAnswer{}, f
	}
	m := making{mixing: mixing{checker: &checker{}, tolerance: in.Tolerance, brief: in.Brief}, in: in}
	if err := m.read(); err != nil {
		return MakeUpAnswer{}, err
	}
	return m.answer()
}

// needsBasis refuses a strength without a basis, with every reading of it.
func (in MakeUpInput) needsBasis() *fault.Fault {
	var solute Component
	if in.Resin.Solid != nil {
		solute = *in.Resin.Solid
	}
	return NeedsBasis(in.Strength, "/strength", solute, in.Solvent)
}

// making is a make-up in progress.
type making struct {
	mixing
	in MakeUpInput
}

// read reads the input and decides on the mixture.
func (m *making) read() error {
	m.s = newSystem(m.temperature("/temperature", m.in.Temperature))
	m.s.tolerant = true
	m.resin()
	m.solvent = m.in.Solvent
	if len(m.solvent.Shares) == 0 && m.in.Resin.Dispersion != nil {
		m.solvent = Pure(m.in.Resin.Dispersion.Water)
	}
	m.solvent.check("/solvent", &m.faults)
	m.basis = m.in.Strength.Basis
	m.t = m.in.Strength.read("/strength", m.checker).Value
	m.asked = m.in.Strength
	m.wish = m.checker.wish("/amount", m.in.Amount)
	m.gauges = m.checker.gauges("/instruments", m.in.Instruments)
	m.room = m.checker.room("/container", m.in.Container)
	return m.decide("/resin")
}

// resin brings in what is dissolved.
func (m *making) resin() {
	r := m.in.Resin
	set := 0
	for _, given := range []bool{r.Solid != nil, r.Stock != nil, r.Dispersion != nil} {
		if given {
			set++
		}
	}
	switch {
	case set != 1:
		m.faults.Add("resin-one-of", "/resin",
			"Say what is dissolved in exactly one way: a solid, a stock solution, a dispersion, or a two-part resin to split.")
	case r.Solid != nil:
		r.Solid.check("/resin/solid", &m.faults)
		m.refuseSetting("/resin/solid", *r.Solid)
		m.a, m.role = m.s.solid(*r.Solid, r.Purity, "/resin/solid", m.checker), ResinRole
	case r.Stock != nil:
		m.a, m.role = m.s.stock(*r.Stock, "/resin/stock", m.checker), StockRole
	default:
		m.a, m.role = m.s.dispersion(*r.Dispersion, "/resin/dispersion", m.checker), DispersionRole
	}
}

// answer assembles the answer.
func (m *making) answer() (MakeUpAnswer, error) {
	a := MakeUpAnswer{Basis: m.basis}
	a.Target, a.Main, a.ByWeight = m.recipes()
	if err := m.smallest(&a); err != nil {
		return MakeUpAnswer{}, err
	}
	m.vessel(&a.Preparation, a.Target, a.Main)
	m.warnings(&a)
	m.advise(&a.Advice, &a.Preparation, a.Target, &a.Main, &a.ByWeight)
	if m.role == ResinRole && m.in0().Resin {
		a.cite(dissolvingSource)
	}
	m.refuseFrozen(m.s)
	if err := m.faults.Err(); err != nil {
		return MakeUpAnswer{}, err
	}
	return a, nil
}
