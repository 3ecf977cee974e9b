package solution

import (
	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// mixing is a mixture of a product a with a solvent b on its way: what make-up and
// dilution have in common.
type mixing struct {
	*checker
	s       *system
	a, b    product
	role    Role
	solvent Solvent
	basis   Basis
	// stockBasis is what the strength of a stock was said on; empty without one.
	stockBasis Basis
	t          float64 // the ratio wanted, on the basis
	wish       wish
	tolerance  quantity.Quantity
	gauges     gauges
	room       room
	plan       plan
}

// Preparation is what goes with a recipe beside its amounts.
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
		m.faults.Add("solvents-do-not-mix", "/solvent", "%s: they would stand as two layers, with the resin in one of them.", bad)
	}
	if f := m.s.answerable(m.basis, m.a, m.b, pointer); f != nil {
		m.faults = append(m.faults, f)
	}
	if part, counts := m.wish.needsVolume(); counts && len(m.faults) == 0 {
		m.merge("", m.s.needDensities(plus(m.a.share(x), 1, m.b.share(x)), part, m.wish.at, "the amount counts volumes"))
	}
	if err := m.faults.Err(); err != nil {
		return err
	}
	return m.portion(x)
}

// portion finds the grams of each.
func (m *mixing) portion(x []float64) error {
	beta := m.s.share(m.basis, m.t, x, m.a, m.b)
	if beta > -1e-12 && beta < 0 {
		beta = 0 // the target is the stock itself
	}
	if !(beta >= 0) || !finite(beta) {
		return fault.List{m.beyond()}
	}
	if beta == 0 && (m.wish.kind == solventVolume || m.wish.kind == solventMass) {
		return fault.List{fault.New("no-solvent-needed", m.wish.at, "At this strength no solvent is added; say the finished amount, or what is on hand.")}
	}
	alpha := m.s.scaled(m.wish, x, m.a.share(x), m.b.share(x), beta)
	if total := alpha * (1 + beta); !massSpan.holds(total) {
		return fault.List{fault.New("out-of-range", m.wish.at, "The whole must come to %s.", massSpan.said(quantity.Gram))}
	}
	m.plan = m.s.plan(m.a, m.role, m.solvent, alpha, beta, m.gauges, m.checker)
	return m.room.refuse(m.wish, m.s.poured(x, m.plan.exact(x)))
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
		return fault.New("target-above-stock", pointer, "The target is stronger than %s, and adding solvent only weakens it.", stock.name)
	}
	limit := "at most"
	if basis == OneIn {
		limit = "at least"
	}
	return fault.New("target-above-stock", pointer, "The target is stronger than %s, which on this basis is %s; adding solvent only weakens it. Ask for %s %s, or strengthen it first.", stock.name, v.Said, limit, amountText(v.Value, v.Unit))
}

// recipes writes the mixture exactly, and both recipes for it.
func (m *mixing) recipes() (target Mixture, main, byWeight Recipe) {
	way := wayOf(m.basis)
	target, main = m.s.describe(m.exactly()), m.plan.recipe(way)
	byWeight = main
	if way != ByWeight {
		byWeight = m.plan.recipe(ByWeight)
	}
	return target, main, byWeight
}

// exactly gives the mixture that has the strength asked whatever the densities are:
// its other bases carry the uncertainty of the densities alone.
func (m *mixing) exactly() func(x []float64) grams {
	return func(x []float64) grams {
		a, b := m.a.share(x), m.b.share(x)
		beta := max(0, m.s.share(m.basis, m.t, x, m.a, m.b))
		return times(m.s.scaled(m.wish, x, a, b, beta), plus(a, beta, b))
	}
}
