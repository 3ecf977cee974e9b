package solution

import (
	"meniscus/internal/quantity"
)

// product is one thing that is weighed or poured: a resin, a solvent, a stock, a
// dispersion. Share gives the grams of each component in one gram of it, to be read only; it
// depends on densities where the strength of a stock was said by volume.
type product struct {
	name  string
	id    string
	pours bool // a liquid: may be measured by volume
	share func(x []float64) grams
}

// one is the product that is a single component.
func (s *system) one(place int) product {
	c := s.components[place]
	var alone grams
	return product{name: c.Name, id: c.ID, pours: c.Phase == Liquid, share: func([]float64) grams {
		if len(alone) < len(s.components) {
			alone = s.none()
			alone[place] = 1
		}
		return alone
	}}
}

// solvent brings a solvent in as one product.
func (s *system) solvent(v Solvent) product {
	liquids := s.liquids(v)
	p := product{id: liquids[0].id, pours: true}
	names := make([]string, len(liquids))
	for i, liquid := range liquids {
		names[i] = liquid.name
	}
	p.name = list(names)
	if p.share = liquids[0].share; len(liquids) == 1 {
		return p
	}
	p.share = func(x []float64) grams {
		g := s.none()
		for i, fraction := range s.massFractions(x, v, liquids) {
			g.add(fraction, liquids[i].share(x))
		}
		return g
	}
	return p
}

// liquids brings in each liquid of a solvent.
func (s *system) liquids(v Solvent) []product {
	liquids := make([]product, len(v.Shares))
	for i, share := range v.Shares {
		liquids[i] = s.one(s.add(share.Component, false))
	}
	return liquids
}

// massFractions gives the grams of each liquid in one gram of a blend. Fractions by
// volume are of the liquids as they are poured, before any contraction:
//
//	wᵢ = φᵢ ρᵢ / Σ φⱼ ρⱼ
func (s *system) massFractions(x []float64, v Solvent, liquids []product) []float64 {
	w := make([]float64, len(v.Shares))
	if len(w) == 1 {
		w[0] = 1
		return w
	}
	var sum float64
	for i, share := range v.Shares {
		w[i] = share.Fraction
		if v.By == ByVolume {
			w[i] /= s.poured(x, liquids[i].share(x))
		}
		sum += w[i]
	}
	for i := range w {
		w[i] /= sum
	}
	return w
}

// Dispersion is a product as supplied: solids already dispersed in water.
type Dispersion struct {
	// Product is the dispersion itself; its density is that of the wet product.
	Product Component
	// Solids is the per cent of solids by mass, from the label.
	Solids quantity.Quantity
	// Water is the liquid that carries the solids.
	Water Component
}

// solidsSpan is what the per cent of solids may be.
var solidsSpan = span{0, 100, true}

// dispersion brings a dispersion in. Its solids become a component of their own,
// whose density is the one that gives the wet product its density:
//
//	1/ρ = w/ρₛ + (1 − w)/ρᵥ    w mass fraction of solids, ρᵥ density of water
func (s *system) dispersion(d Dispersion, pointer string, c *checker) product {
	d.Product.check(pointer, &c.faults)
	d.Water.check(pointer+"/water", &c.faults)
	if d.Solids.IsZero() && s.takesUnlabelled && s.unlabelled == "" {
		return s.withoutSolids(d, pointer, c)
	}
	if d.Solids.IsZero() {
		c.faults.Add("solids-missing", pointer+"/solids",
			"A dispersion needs its per cent of solids by mass, from its label or data sheet: diluting it by the "+
				"strength that it was sold by has no meaning without.")
		return s.one(s.add(d.Product, true))
	}
	w := c.need(pointer+"/solids", d.Solids, quantity.Percent, solidsSpan)
	water := s.add(d.Water, false)
	fraction := s.measure("the per cent of solids on the label", quantity.Percent, w)
	solids := s.add(Component{ID: d.Product.ID + "/solids", Name: "solids of " + d.Product.Name, Phase: Solid}, true)
	s.asSupplied(d, solids, water, fraction, pointer, c)
	return product{name: d.Product.Name, id: d.Product.ID, pours: true, share: func(x []float64) grams {
		g := s.none()
		g[solids], g[water] = x[fraction]/100, 1-x[fraction]/100
		return g
	}}
}

// asSupplied gives the solids of a dispersion their density, where the density of the
// wet product is known.
func (s *system) asSupplied(d Dispersion, solids, water, fraction int, pointer string, c *checker) {
	if !d.Product.Density.Known() || !s.knows(water) || s.knows(solids) {
		return
	}
	wet := s.measure("the density of "+d.Product.Name, quantity.GramsPerML, d.Product.Density.Measured)
	rho := func(x []float64) float64 {
		w := x[fraction] / 100
		return w / (1/x[wet] - (1-w)/s.rho[water](x))
	}
	if at := rho(s.nominal()); !(at > 0 && at <= mostSolid) {
		c.faults.Add("density-out-of-range", pointer+"/density",
			"A dispersion of this density and these solids is not possible: its solids would have no volume.")
		return
	}
	s.setDensity(solids, rho)
	s.supplied = func(x []float64) float64 { return 100 / (x[fraction] * x[wet]) }
}
