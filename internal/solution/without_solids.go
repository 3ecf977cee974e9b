package solution

import (
	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// What can be said of a dispersion without its per cent of solids.
//
// One part of it to three of water is measured without knowing what it holds. Its solids get
// a stand-in, as an unknown density does (without_density.go), and what depends on that is
// left out, with the reason.

// standInSolids is the per cent of solids that stands in; otherwise changes it to 20 and 80 %.
const standInSolids = 40

// unlabelled tells whether a stock is a dispersion as supplied whose solids are not known.
func (k Stock) unlabelled() bool {
	return k.Dispersion != nil && k.Dispersion.Solids.IsZero() && k.Strength.Basis == "" && k.Strength.Number.IsZero()
}

// withoutSolids brings in a dispersion of unknown solids. Its density is that of the wet
// product, where that is known.
func (s *system) withoutSolids(d Dispersion, pointer string, c *checker) product {
	water := s.add(d.Water, false)
	fraction := s.measure("", quantity.Percent, quantity.Exactly(standInSolids))
	s.unlabelled, s.unlabelledAt = d.Product.Name, fraction
	solids := s.add(Component{ID: d.Product.ID + "/solids", Name: d.Product.Name, Phase: Solid}, true)
	assumed := s.assumed[solids]
	s.assumed[solids] = -1
	s.rho[solids] = nil
	s.asSupplied(d, solids, water, fraction, pointer, c)
	if s.rho[solids] == nil {
		s.assume(solids)
	} else {
		s.assumed[solids] = assumed // derived from the stand-in
	}
	return product{name: d.Product.Name, id: d.Product.ID, pours: true, share: func(x []float64) grams {
		g := s.none()
		g[solids], g[water] = x[fraction]/100, 1-x[fraction]/100
		return g
	}}
}

// needsSolids says of what cannot be computed without the solids that they are missing.
func needsSolids(err error) error {
	var list fault.List
	for _, f := range fault.From(err) {
		if f.Code == densityNeeded {
			f = fault.New("solids-missing", "/stock/dispersion/solids", "Without its per cent of solids by mass a dispersion "+
				"is diluted only by parts, or by what is added to it: say the strength so, or give the solids of its label.")
		}
		list = append(list, f)
	}
	if len(list) == 0 {
		return err
	}
	return list
}

// warnUnlabelled says what is not known of a dispersion, and how to find out.
func (a *Advice) warnUnlabelled(s *system) {
	if s.unlabelled == "" {
		return
	}
	a.warn("solids-not-known", Warn, practice, "How much solids this holds is not known: the label or the data sheet of "+
		s.unlabelled+" says its per cent of solids, or dry and weigh a measured portion.")
}
