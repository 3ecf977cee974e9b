package solution

import (
	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// Stock is an existing solution: what it is made of and how strong it is.
type Stock struct {
	Name string // as a sentence says it: "the stock"
	// Solute and Solvent with Strength say what it is, or Contents do.
	Solute   Component
	Solvent  Solvent
	Strength Strength
	// Dispersion instead of Solute: a dispersion, as supplied where no Strength is
	// said, else diluted to it.
	Dispersion *Dispersion
	// Contents are grams of each component of any amount of it.
	Contents []Content
	// Density is its measured density at 20 °C, where known; it wins over the sum of
	// the volumes.
	Density quantity.Quantity
}

// Content is an amount of one component.
type Content struct {
	Component Component
	Amount    quantity.Quantity // a mass; in a recipe that is scaled, a mass or a volume
}

// called gives the name, or a plain one.
func (k Stock) called() string {
	if k.Name == "" {
		return "the stock"
	}
	return k.Name
}

// densitySpan is what the density of a solution may be, g/mL.
var densitySpan = span{leastLiquid, mostLiquid, false}

// stock brings a stock in as a product. Where faults were found, the product must
// not be used.
func (s *system) stock(k Stock, pointer string, c *checker) product {
	var p product
	switch {
	case len(k.Contents) > 0:
		p = s.contents(k, pointer, c)
	case k.Dispersion != nil && k.Strength.Basis == "" && k.Strength.Number.IsZero():
		p = s.dispersion(*k.Dispersion, pointer+"/dispersion", c)
		k.refuseDensity(pointer, c)
	case k.Density.IsZero() || k.Dispersion != nil || k.Strength.Basis == PartsByVolume ||
		k.Strength.Basis == AsSuppliedVolume:
		p = s.dissolved(k, pointer, c)
		k.refuseDensity(pointer, c)
	default:
		p = s.weighed(k, pointer, c)
	}
	p.name, p.pours = k.called(), true
	return p
}

// form is the member of the input that says what the stock is.
func (k Stock) form() string {
	switch {
	case len(k.Contents) > 0:
		return "/contents"
	case k.Dispersion != nil:
		return "/dispersion"
	default:
		return "/solution"
	}
}

// refuseDensity refuses a measured density where it cannot be used.
func (k Stock) refuseDensity(pointer string, c *checker) {
	if !k.Density.IsZero() {
		c.faults.Add("density-not-usable", pointer+k.form()+"/density",
			"The measured density of a dispersion, or of a stock said in parts by volume or by volume as supplied, "+
				"is not used here; say the strength by mass.")
	}
}

// contents is a stock by the grams of what is in it.
func (s *system) contents(k Stock, pointer string, c *checker) product {
	places, inputs := make([]int, len(k.Contents)), make([]int, len(k.Contents))
	for i, content := range k.Contents {
		at := pointer + "/contents/parts" + indexed(i)
		content.Component.check(at, &c.faults)
		c.refuseSetting(at, content.Component)
		solid := content.Component.Phase == Solid
		if solid && !k.Density.IsZero() {
			places[i] = s.addOwn(content.Component, true)
		} else {
			places[i] = s.add(content.Component, solid)
		}
		m := c.need(at+"/amount", content.Amount, quantity.Gram, massSpan)
		inputs[i] = s.measure(the(content.Component.Name)+" in "+k.called(), quantity.Gram, m)
	}
	share := func(x []float64) grams {
		g := s.none()
		for i, place := range places {
			g[place] += x[inputs[i]]
		}
		return g.scale(1 / g.mass())
	}
	if !k.Density.IsZero() && len(c.faults) == 0 {
		s.giveApparent(k, share, s.measuredDensity(k, pointer, c), pointer, c)
	}
	return product{share: share}
}

// measuredDensity brings in the measured density of a stock.
func (s *system) measuredDensity(k Stock, pointer string, c *checker) int {
	rho := c.need(pointer+k.form()+"/density", k.Density, quantity.GramsPerML, densitySpan)
	return s.measure("the measured density of "+k.called(), quantity.GramsPerML, rho)
}

// dissolved is a stock of one solute in a solvent, by its strength and the sum of the
// volumes.
func (s *system) dissolved(k Stock, pointer string, c *checker) product {
	solute, at := s.soluteOf(k, pointer, c)
	pointer += k.form()
	k.Solvent.check(pointer+"/solvent", &c.faults)
	t := k.Strength.read(pointer+"/strength", c)
	if len(c.faults) > 0 {
		return solute
	}
	solvent := s.solvent(k.Solvent)
	basis := k.Strength.Basis
	if f := s.answerable(basis, solute, solvent, at); f != nil && !(s.tolerant && f.Code == densityNeeded) {
		c.faults = append(c.faults, f)
		return solute
	}
	strength := s.measure("the strength of "+k.called(), basis.ratioUnit(), t)
	x := s.nominal()
	beta := s.share(basis, t.Value, x, solute.share(x), solvent.share(x))
	if !(beta >= 0) || !finite(beta) {
		c.faults = append(c.faults, s.tooStrong(basis, pointer+"/strength", solute))
	} else if !solute.pours && dry(beta) {
		c.faults = append(c.faults, noSolution(pointer+"/strength", solute, beta))
	}
	return product{share: func(x []float64) grams {
		a, b := solute.share(x), solvent.share(x)
		beta := s.share(basis, x[strength], x, a, b)
		return plus(a, beta, b).scale(1 / (1 + beta))
	}}
}

// soluteOf brings in what a stock's strength counts: a resin, a liquid or a dispersion.
func (s *system) soluteOf(k Stock, pointer string, c *checker) (product, string) {
	if k.Dispersion != nil {
		return s.dispersion(*k.Dispersion, pointer+"/dispersion", c), pointer + "/dispersion"
	}
	at := pointer + "/solution/solute"
	k.Solute.check(at, &c.faults)
	c.refuseSetting(at, k.Solute)
	return s.one(s.add(k.Solute, true)), at
}

// weighed is a stock whose density was measured. Its mass fraction w follows from the
// density ρ without any sum of volumes:
//
//	w = t/ρ         g per mL of solution, and one-in
//	w = t ρₛ/ρ      by volume; ρₛ the density of the solute
//	w = t/(t + ρₗ)  g per mL of solvent; ρₗ the density of the solvent
//	w = t           by mass
func (s *system) weighed(k Stock, pointer string, c *checker) product {
	at := pointer + k.form()
	k.Solute.check(at+"/solute", &c.faults)
	c.refuseSetting(at+"/solute", k.Solute)
	k.Solvent.check(at+"/solvent", &c.faults)
	t := k.Strength.read(at+"/strength", c)
	if len(c.faults) > 0 {
		return product{}
	}
	place := s.addOwn(k.Solute, true)
	pure, known := s.rho[place], s.knows(place)
	solvent := s.solvent(k.Solvent)
	rho := s.measuredDensity(k, pointer, c)
	strength := s.measure("the strength of "+k.called(), k.Strength.Basis.ratioUnit(), t)
	if k.Strength.Basis == VolumeFraction && !known {
		c.faults.Add("density-needed", at+"/solute", "The density of %s is needed for a strength by volume.", k.Solute.Name)
		return product{}
	}
	share := func(x []float64) grams {
		w := x[strength]
		switch k.Strength.Basis {
		case MassPerSolutionVolume, OneIn:
			w /= x[rho]
		case VolumeFraction:
			w *= pure(x) / x[rho]
		case MassPerSolventVolume:
			w /= w + 1/s.solventVolume(x, solvent.share(x))
		}
		g := times(1-w, solvent.share(x))
		g[place] += w
		return g
	}
	s.giveApparent(k, share, rho, pointer, c)
	return product{share: share}
}

// giveApparent gives the solids of a stock the density ρₐ that makes the sum of the
// volumes come to the measured density of the whole:
//
//	1/ρ = w/ρₐ + vₗ    ρ measured, w mass fraction of solids, vₗ mL of solvent in 1 g
func (s *system) giveApparent(k Stock, share func(x []float64) grams, rho int, pointer string, c *checker) {
	if len(c.faults) > 0 {
		return
	}
	apparent := func(x []float64) float64 {
		g := share(x)
		return s.solids(g) / (1/x[rho] - s.solventVolume(x, g))
	}
	x := s.nominal()
	g := share(x)
	rhoA := apparent(x)
	pointer += k.form()
	if len(s.unknownDensities(g, theSolvent)) > 0 || s.solids(g) == 0 {
		c.faults.Add("density-not-usable", pointer+"/density",
			"A measured density of the solution can be used only where it has solids and the density of its solvent is known.")
		return
	}
	if !(rhoA > 0) || !finite(rhoA) || s.solids(g) > 1 {
		c.faults.Add("density-out-of-range", pointer+"/density",
			"This density and this strength do not go together: the solvent alone would fill more than the solution.")
		return
	}
	if liquids := s.only(g, theSolvent); s.isWater(liquids) && x[rho] < liquids.mass()/s.solventVolume(x, g) {
		s.doubts = append(s.doubts, Warning{"lighter-than-water", Warn, capital(k.called()) + " is said to be lighter (" +
			amountText(x[rho], quantity.GramsPerML) + ") than the water that it is made with. A solid in water makes it " +
			"heavier, with few exceptions: check the density.", practice})
	}
	for i, m := range g {
		if s.solute[i] && m > 0 {
			s.setDensity(i, apparent)
		}
	}
}

// isWater tells whether a mixture is water alone.
func (s *system) isWater(g grams) bool {
	for i, m := range g {
		if e := s.components[i].Ethanol; m > 0 && (e == nil || *e > 0) {
			return false
		}
	}
	return true
}

// share gives the grams of solvent b to one gram of solute a at a strength.
func (s *system) share(basis Basis, t float64, x []float64, a, b grams) float64 {
	switch basis {
	case PartsByMass:
		return (1 - t) / t
	case PartsByVolume:
		return (1 - t) / t * s.poured(x, a) / s.poured(x, b)
	case AsSuppliedVolume:
		return s.fill(x, a, b, s.poured(x, a)/t)
	default:
		return s.diluent(basis, t, x, a, b)
	}
}

// densityNeeded is the code of the fault for a missing density.
const densityNeeded = "density-needed"

// answerable tells why a basis cannot be answered with these products, or nil.
func (s *system) answerable(basis Basis, solute, solvent product, pointer string) *fault.Fault {
	if (basis == PartsByVolume || basis == AsSuppliedVolume) && !solute.pours {
		return fault.New("parts-of-loose-solid", pointer,
			"A volume of loose %s counts the air between its pieces, which is not known; weigh it, and say the "+
				"parts by mass.", solute.name)
	}
	x := s.nominal()
	both := plus(solute.share(x), 1, solvent.share(x))
	var missing []string
	switch basis {
	case MassFraction, PartsByMass:
	case MassPerSolventVolume:
		missing = s.unknownDensities(both, theSolvent)
	default:
		missing = s.unknownDensities(both, everything)
	}
	if len(missing) > 0 {
		return fault.New(densityNeeded, pointer,
			"The density of %s is not known here, and this basis counts volumes; give the density, or say the "+
				"strength by mass.", list(missing))
	}
	return nil
}

// mostSolids is the largest share by mass of a solid in what is called a solution: beyond it hardly
// any solvent is there to dissolve it. Common practice; where a solid ends to dissolve is its own matter.
const mostSolids = 0.95

// dry tells whether so many grams of solvent to one of a solid are too few for a solution.
func dry(beta float64) bool { return beta < 1/mostSolids-1 }

// noSolution is the fault of a strength that leaves hardly any solvent.
func noSolution(pointer string, solute product, beta float64) *fault.Fault {
	return fault.New("strength-beyond-volume", pointer,
		"No solution is that strong: it would be %s %% of %s by mass, which leaves hardly any solvent. "+
			"Ask for less than %s %% by mass.", quantity.Digits(100/(1+beta), 3), solute.name, number(100*mostSolids))
}

// tooStrong is the fault of a strength that no amount of solvent makes.
func (s *system) tooStrong(basis Basis, pointer string, solute product) *fault.Fault {
	x := s.nominal()
	most := s.ratio(basis, x, solute.share(x))
	if basis == OneIn {
		return fault.New("strength-beyond-volume", pointer,
			"No solution is that strong: 1 g of %s alone fills %s mL, so one in n must be more than that.", solute.name,
			number(1/most))
	}
	return fault.New("strength-beyond-volume", pointer,
		"No solution is that strong: %s alone is %s %s, and a solution must be below that.", solute.name,
		number(100*most), bounds[basis].unit.Said())
}
