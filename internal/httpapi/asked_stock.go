package httpapi

import (
	"meniscus/api"
	"meniscus/internal/solution"
)

// solvent reads one liquid or a blend.
func (a *asking) solvent(at string, s *api.AskedSolvent) solution.Solvent {
	switch {
	case s == nil:
		return solution.Solvent{}
	case s.Liquid != nil:
		return solution.Pure(a.component(at+"/liquid", *s.Liquid, solution.Liquid))
	}
	out := solution.Solvent{By: solution.ShareBy(s.Blend.By)}
	for i, share := range s.Blend.Shares {
		c := a.component(item(at+"/blend/shares", i), api.Substance{Material: share.Material, Grade: share.Grade, Name: share.Name, Density: share.Density, Alcohol: share.Alcohol}, solution.Liquid)
		later := share.AfterDissolving != nil && *share.AfterDissolving
		out.Shares = append(out.Shares, solution.SolventShare{Component: c, Fraction: share.Fraction.Float64(), AfterDissolving: later})
	}
	return out
}

// stock reads a solution that exists.
func (a *asking) stock(at string, k api.AskedStock) solution.Stock {
	switch {
	case k.Solution != nil:
		s := k.Solution
		at += "/solution"
		return solution.Stock{
			Name: text(s.Name), Solute: a.component(at+"/solute", s.Solute, solution.Solid),
			Solvent: a.solvent(at+"/solvent", &s.Solvent), Strength: a.strength(at+"/strength", &s.Strength),
			Density: a.quantity(at+"/density", s.Density),
		}
	case k.Dispersion != nil:
		d := k.Dispersion
		at += "/dispersion"
		return solution.Stock{
			Name: text(d.Name), Dispersion: a.dispersion(at, d),
			Solvent: a.dispersionSolvent(at, d), Strength: a.strength(at+"/strength", d.Strength),
		}
	}
	out := solution.Stock{Name: text(k.Contents.Name), Density: a.quantity(at+"/contents/density", k.Contents.Density)}
	for i, p := range k.Contents.Parts {
		place := item(at+"/contents/parts", i)
		c := a.component(place, api.Substance{Material: p.Material, Grade: p.Grade, Name: p.Name, Phase: p.Phase, Density: p.Density, Alcohol: p.Alcohol}, solution.Solid)
		out.Contents = append(out.Contents, solution.Content{Component: c, Amount: a.quantity(place+"/amount", &p.Amount)})
	}
	return out
}

// dispersion reads a dispersion as supplied; its water is the service's to know.
func (a *asking) dispersion(at string, d *api.AskedDispersion) *solution.Dispersion {
	product := api.Substance{Material: d.Material, Grade: d.Grade, Name: d.Name, Density: d.Density}
	return &solution.Dispersion{
		Product: a.look(at, product, solution.Liquid, true), Solids: a.quantity(at+"/solids", d.Solids), Water: a.Of("water"),
	}
}

// dispersionSolvent is what a dispersion was diluted with: water, unless it is said.
func (a *asking) dispersionSolvent(at string, d *api.AskedDispersion) solution.Solvent {
	if d.Solvent != nil {
		return a.solvent(at+"/solvent", d.Solvent)
	}
	return solution.Pure(a.Of("water"))
}
