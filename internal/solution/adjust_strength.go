package solution

import (
	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// strengthen adds a solid or a stronger stock. For a target on a basis t = N/D the
// grams are those of alligation (functional.go), with the stronger one as b:
//
//	m = M (t D(a) − N(a)) / (N(b) − t D(b))    of M grams on hand
//
// which for a solid on mass fractions is m = M (w₂ − w₁)/(1 − w₂).
func (a *adjusting) strengthen(in Strengthen) {
	b, role := a.stronger(in.With)
	if len(a.faults) > 0 {
		return
	}
	a.answer.Before = a.s.describe(a.there)
	amount := a.addedTo(in, b)
	if len(a.faults) > 0 {
		return
	}
	a.add([]product{b}, []float64{amount}, role, a.there)
	a.steps("Weigh out " + a.gauges.scale.say(a.answer.Add[0].Rounded) + " of " + b.name + ".")
	if role == ResinRole {
		a.answer.warn("dissolves-slowly", Info, practice,
			"Resin dissolves slowly in a solution that is already strong: "+clearing(a.answer.After.On(MassPerSolutionVolume)))
	}
}

// stronger brings in what is added.
func (a *adjusting) stronger(with Resin) (product, Role) {
	switch {
	case with.Stock != nil && with.Solid == nil:
		if f := with.Stock.needsBasis("/strengthen/with/stock"); f != nil {
			a.faults = append(a.faults, f)
			return product{}, StockRole
		}
		return a.s.stock(*with.Stock, "/strengthen/with/stock", a.checker), StockRole
	case with.Solid != nil && with.Stock == nil:
		with.Solid.check("/strengthen/with/solid", &a.faults)
		a.refuseSetting("/strengthen/with/solid", *with.Solid)
		a.answer.warnPurity(with.Purity, with.Solid.Name)
		return a.s.solid(*with.Solid, with.Purity, "/strengthen/with/solid", a.checker), ResinRole
	case with == (Resin{}) && a.in.Stock.Solute.ID != "":
		return a.s.one(a.s.add(a.in.Stock.Solute, true)), ResinRole
	}
	a.faults.Add("resin-one-of", "/strengthen/with", "Say in exactly one way what is added: a solid, or a stock solution.")
	return product{}, ResinRole
}

// addedTo gives the grams that are added, from what is said or for the target.
func (a *adjusting) addedTo(in Strengthen, b product) float64 {
	if !in.Added.IsZero() {
		if in.Strength.Basis != "" {
			a.faults.Add("target-one-of", "/strengthen", "Say either the strength wanted or the amount that is added.")
			return 0
		}
		return a.gramsOf("/strengthen/added", in.Added, b)
	}
	basis := in.Strength.Basis
	t, ok := a.target("/strengthen/strength", in.Strength, b)
	if !ok {
		return 0
	}
	x := a.s.nominal()
	there, added := a.there(x), b.share(x)
	amount := a.s.diluent(basis, t, x, there, added)
	switch now := a.s.ratio(basis, x, there); {
	case now > t*(1+1e-12):
		a.faults.Add("already-stronger", "/strengthen/strength",
			"It is stronger than that already: %s on this basis. Weaken it instead.", a.answer.Before.On(basis).Said)
	case !(amount >= 0) || !finite(amount) || !massSpan.holds(max(amount, 1e-9)):
		a.faults = append(a.faults, a.beyondAdded(basis, b))
	default:
		whole := plus(there, amount, added)
		if rest := whole.mass() - a.s.solids(whole); !b.pours && dry(rest/a.s.solids(whole)) {
			a.faults = append(a.faults, noSolution("/strengthen/strength", b, rest/a.s.solids(whole)))
		}
	}
	return amount
}

// beyondAdded is the fault of a target that the addition cannot reach, however much is added.
func (a *adjusting) beyondAdded(basis Basis, b product) *fault.Fault {
	x := a.s.nominal()
	most := a.s.ratio(basis, x, b.share(x))
	if !finite(most) {
		return fault.New("strength-beyond-volume", "/strengthen/strength", "That cannot be reached by adding %s.", b.name)
	}
	shown, limit := 100*most, "below"
	if basis == OneIn {
		shown, limit = 1/most, "above"
	}
	return fault.New("strength-beyond-volume", "/strengthen/strength",
		"That cannot be reached: %s itself is %s on this basis; ask for a strength %s that.", b.name,
		amountText(shown, viewUnits[basis]), limit)
}

// target reads a strength that an adjustment aims at, and tells whether its basis can
// be answered.
func (a *adjusting) target(pointer string, strength Strength, b product) (float64, bool) {
	if strength.inParts() || strength.Basis == AsSuppliedVolume {
		a.faults.Add("basis-not-for-adjusting", pointer+"/basis",
			"An adjustment aims at grams per 100 mL, a mass or volume fraction, or one in n: parts say how a "+
				"solution is mixed, not what it is.")
		return 0, false
	}
	t := strength.read(pointer, a.checker)
	if f := a.s.answerable(strength.Basis, a.before, b, pointer); f != nil {
		a.faults = append(a.faults, f)
	}
	a.answer.Basis = strength.Basis
	return t.Value, len(a.faults) == 0
}

// gramsOf reads an amount of a product, in grams.
func (a *adjusting) gramsOf(pointer string, q quantity.Quantity, p product) float64 {
	w := a.volumeOrMass(pointer, q, onHandVolume, onHandMass)
	if w.kind == onHandMass || len(a.faults) > 0 {
		return w.amount
	}
	x := a.s.nominal()
	if !p.pours {
		a.faults.Add("unit-kind", pointer+"/unit", "A solid is weighed: give its mass.")
		return 0
	}
	a.merge("", a.s.needDensities(p.share(x), everything, pointer, "the amount is a volume"))
	if len(a.faults) > 0 {
		return 0
	}
	return w.amount / a.s.poured(x, p.share(x))
}

// weaken adds solvent to all that is on hand.
func (a *adjusting) weaken(in Weaken) {
	liquids, share, whole := a.solvent("/weaken/solvent", in.Solvent)
	if len(a.faults) > 0 {
		return
	}
	t, ok := a.target("/weaken/strength", in.Strength, whole)
	if !ok {
		return
	}
	x := a.s.nominal()
	a.answer.Before = a.s.describe(a.there)
	there := a.there(x)
	amount := a.s.diluent(in.Strength.Basis, t, x, there, whole.share(x))
	if a.s.ratio(in.Strength.Basis, x, there) < t*(1-1e-12) {
		a.faults = append(a.faults, a.s.aboveStock(in.Strength.Basis, "/weaken/strength", a.before))
		return
	}
	if !(amount >= 0) || !finite(amount) || amount > massSpan.high {
		a.faults.Add("out-of-range", "/weaken/strength", "That needs more solvent than can be said; ask for a stronger one.")
		return
	}
	a.add(liquids, scaledBy(share, amount), SolventRole, a.there)
	a.steps("Have ready " + a.gauges.scale.say(a.answer.Add[0].Rounded) + " of " + whole.name + ".")
}

// solvent brings in what is added: its liquids, the grams of each in one gram, and the
// whole as one product.
func (a *adjusting) solvent(pointer string, v Solvent) ([]product, []float64, product) {
	if len(v.Shares) == 0 {
		v = a.in.Stock.ownSolvent()
	}
	v.check(pointer, &a.faults)
	if len(a.faults) > 0 {
		return nil, nil, product{}
	}
	whole := a.s.solvent(v)
	x := a.s.nominal()
	if bad := a.s.unmixable(a.before.share(x), whole.share(x)); bad != "" {
		a.faults.Add("solvents-do-not-mix", pointer, "%s: they would stand as two layers.", bad)
	}
	liquids := a.s.liquids(v)
	return liquids, a.s.massFractions(x, v, liquids), whole
}

func scaledBy(share []float64, amount float64) []float64 {
	all := make([]float64, len(share))
	for i, f := range share {
		all[i] = f * amount
	}
	return all
}
