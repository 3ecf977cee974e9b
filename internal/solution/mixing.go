package solution

import (
	"math"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// mixing is a mixture of a product a with a solvent b in progress: the common part
// of make-up and dilution.
type mixing struct {
	*checker
	s       *system
	a, b    product
	role    Role
	solvent Solvent
	basis   Basis
	// stockBasis is what the strength of a stock was said on; empty without one.
	stockBasis Basis
	asked      Strength // as it was said; empty where it follows from what is added
	t          float64  // the ratio wanted, on the basis
	wish       wish
	tolerance  quantity.Quantity
	brief      bool // what only an answer in full tells is left out
	gauges     gauges
	room       room
	plan       plan
}

// Preparation is the rest of a recipe, besides its amounts.
type Preparation struct {
	// Fit is how it fits the container; nil where none was said.
	Fit *Fit
	// MarkWater is the water to weigh in to find the mark; nil where nothing is filled
	// to a mark.
	MarkWater *MarkWater
	Clearing  string
	Label     []string
}

// MarkWater is how to mark a vessel at a volume with a scale.
type MarkWater struct {
	Millilitres float64 // the mark
	Grams       float64 // of water
	Rounded     float64 // to the scale
}

// decide finds how much of each; a stands at the pointer.
func (m *mixing) decide(pointer string) error {
	if err := m.faults.Err(); err != nil {
		return err
	}
	m.b = m.s.solvent(m.solvent)
	x := m.s.nominal()
	if bad := m.s.unmixable(m.a.share(x), m.b.share(x)); bad != "" {
		m.faults.Add("solvents-do-not-mix", "/solvent",
			"%s: they would stand as two layers, with the resin in one of them.", bad)
	}
	unknown := m.unknownDensity(x, pointer)
	if len(unknown) > 0 && !(m.s.tolerant && unknown[0].Code == densityNeeded) {
		m.faults = append(m.faults, unknown...)
	}
	if err := m.faults.Err(); err != nil {
		return err
	}
	return m.portion(x, pointer, unknown)
}

// unknownDensity tells why the mixture cannot be computed as asked for: mostly because a
// density is missing.
func (m *mixing) unknownDensity(x []float64, pointer string) fault.List {
	if f := m.s.answerable(m.basis, m.a, m.b, pointer); f != nil {
		return fault.List{f}
	}
	part, counts := m.wish.needsVolume()
	if !counts {
		return nil
	}
	return fault.From(m.s.needDensities(plus(m.a.share(x), 1, m.b.share(x)), part, m.wish.at, "the amount counts volumes"))
}

// portion finds the grams of each. Where densities are not known, it is refused for
// that reason unless the recipe does not depend on them.
func (m *mixing) portion(x []float64, pointer string, unknown fault.List) error {
	beta := m.beta(x)
	if math.Abs(beta) < 1e-12 {
		beta = 0 // the target is the stock itself
	}
	if !(beta >= 0) || !finite(beta) {
		if len(unknown) > 0 && m.role == ResinRole {
			return unknown
		}
		return fault.List{m.beyond()}
	}
	if m.role == ResinRole && dry(beta) && m.s.settled(m.beta) {
		return fault.List{noSolution("/strength", m.a, beta)}
	}
	if beta == 0 && (m.wish.kind == solventVolume || m.wish.kind == solventMass) {
		return fault.List{fault.New("no-solvent-needed", m.wish.at,
			"At this strength no solvent is added; say the finished amount, or what is on hand.")}
	}
	m.plan = m.planned(x)
	if len(m.s.elsewhere()) > 0 {
		m.plan.again = m.planned
	}
	if why := m.plan.cannot(wayOf(m.basis)); why != "" {
		if len(unknown) == 0 {
			unknown.Add(densityNeeded, pointer, "%s Give the density, or ask on the basis that the stock was said on.", why)
		}
		return unknown
	}
	if total := m.plan.exact(x).mass(); !massSpan.holds(total) {
		return fault.List{fault.New("out-of-range", m.wish.at, "The whole must come to %s.", massSpan.said(quantity.Gram))}
	}
	return m.room.refuse(m.wish, m.s.poured(x, m.plan.exact(x)))
}

// beta is the grams of b to one gram of a at the strength wanted.
func (m *mixing) beta(x []float64) float64 {
	return m.s.share(m.basis, m.t, x, m.a.share(x), m.b.share(x))
}

// planned is the plan at these inputs.
func (m *mixing) planned(x []float64) plan {
	a, b := m.a.share(x), m.b.share(x)
	beta := max(0, m.s.share(m.basis, m.t, x, a, b))
	if beta < 1e-12 {
		beta = 0 // the target is the stock itself
	}
	alpha := m.s.scaled(m.wish, x, a, b, plus(a, beta, b), beta)
	return m.s.plan(x, m.a, m.role, m.solvent, alpha, beta, m.gauges, m.checker)
}

// unmixable names two liquids of two mixtures that do not mix, or nothing.
func (s *system) unmixable(a, b grams) string {
	for i, m := range a {
		for j, n := range b {
			if m > 0 && n > 0 && i != j && !mixes(s.components[i], s.components[j]) {
				return capital(s.components[i].Name) + " and " + s.components[j].Name + " do not mix"
			}
		}
	}
	return ""
}

// beyond is the fault of a strength that cannot be made from a and b.
func (m *mixing) beyond() *fault.Fault {
	if m.role == ResinRole {
		return m.s.tooStrong(m.basis, "/strength", m.a)
	}
	return m.s.aboveStock(m.basis, "/strength", m.a)
}

// aboveStock is the fault of a target that is stronger than what is diluted.
func (s *system) aboveStock(basis Basis, pointer string, stock product) *fault.Fault {
	v := s.describe(stock.share).On(basis)
	if !v.Answered() {
		return fault.New("target-above-stock", pointer,
			"The target is stronger than %s, and adding solvent only weakens it.", stock.name)
	}
	limit := "at most"
	if basis == OneIn {
		limit = "at least"
	}
	return fault.New("target-above-stock", pointer,
		"The target is stronger than %s, which on this basis is %s; adding solvent only weakens it. Ask for %s %s, "+
			"or strengthen it first.", stock.name, v.Said, limit, amountText(v.Value, v.Unit))
}

// recipes writes the mixture exactly, and both recipes for it.
func (m *mixing) recipes() (target Mixture, main, byWeight Recipe) {
	way, wanted := wayOf(m.basis), m.wanted()
	target, main = m.s.describe(m.exactly(), wanted...), m.plan.recipe(way, wanted...)
	switch {
	case way == ByWeight:
		byWeight = main
	case !m.brief || !m.gauges.scale.absolute(): // what a scale's class does not cover is a fault in brief too
		byWeight = m.plan.recipe(ByWeight, wanted...)
	}
	for _, r := range []*Recipe{&main, &byWeight} {
		r.Strength = m.asMade(*r)
	}
	return target, main, byWeight
}

// wanted are the bases that the strength is evaluated on: all, or in brief those that the answer says.
func (m *mixing) wanted() []Basis {
	if !m.brief {
		return nil
	}
	return []Basis{m.basis, shownAs(m.basis), m.stockBasis, MassPerSolutionVolume, MassFraction}
}

// exactly gives the mixture that has the strength asked for any densities: its
// other bases carry only the uncertainty of the densities.
func (m *mixing) exactly() func(x []float64) grams {
	whole := m.s.none()
	return func(x []float64) grams {
		a, b := m.a.share(x), m.b.share(x)
		beta := max(0, m.s.share(m.basis, m.t, x, a, b))
		clear(whole)
		copy(whole, a)
		whole.add(beta, b)
		return whole.scale(m.s.scaled(m.wish, x, a, b, whole, beta))
	}
}
