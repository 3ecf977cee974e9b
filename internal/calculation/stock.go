package calculation

import (
	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// solvent reads one liquid or a blend.
func (r *reader) solvent(at string, s *api.AskedSolvent) solution.Solvent {
	switch {
	case s == nil:
		return solution.Solvent{}
	case s.Liquid != nil:
		return solution.Pure(r.component(at+"/liquid", *s.Liquid, solution.Liquid))
	}
	out := solution.Solvent{By: solution.ShareBy(s.Blend.By)}
	for i, share := range s.Blend.Shares {
		of := api.Substance{
			Material: share.Material, Grade: share.Grade, Name: share.Name,
			Density: share.Density, Alcohol: share.Alcohol,
		}
		out.Shares = append(out.Shares, solution.SolventShare{
			Component: r.component(item(at+"/blend/shares", i), of, solution.Liquid),
			Fraction:  share.Fraction.Float64(), AfterDissolving: deref(share.AfterDissolving),
		})
	}
	return out
}

// stock reads a solution that exists.
func (r *reader) stock(at string, k api.AskedStock) solution.Stock {
	switch {
	case k.Solution != nil:
		s := k.Solution
		at += "/solution"
		return solution.Stock{
			Name: deref(s.Name), Solute: r.component(at+"/solute", s.Solute, solution.Solid),
			Solvent: r.solvent(at+"/solvent", &s.Solvent), Strength: r.strength(at+"/strength", &s.Strength),
			Density: r.quantity(at+"/density", s.Density),
		}
	case k.Dispersion != nil:
		d := k.Dispersion
		at += "/dispersion"
		return solution.Stock{
			Name: deref(d.Name), Dispersion: r.dispersion(at, d),
			Solvent: r.dispersionSolvent(at, d), Strength: r.strength(at+"/strength", d.Strength),
		}
	}
	return solution.Stock{Name: deref(k.Contents.Name), Density: r.quantity(at+"/contents/density", k.Contents.Density),
		Contents: r.contents(at+"/contents", k.Contents.Parts)}
}

// contents reads amounts of materials. Where neither the material nor the request says which it
// is, what is measured by volume is a liquid, and what is weighed a solid.
func (r *reader) contents(at string, parts []api.AskedContent) (out []solution.Content) {
	for i, p := range parts {
		place := item(at+"/parts", i)
		of := api.Substance{
			Material: p.Material, Grade: p.Grade, Name: p.Name, Phase: p.Phase, Density: p.Density, Alcohol: p.Alcohol,
		}
		amount, phase := r.quantity(place+"/amount", &p.Amount), solution.Solid
		if amount.Unit.Kind() == quantity.Volume {
			phase = solution.Liquid
		}
		out = append(out, solution.Content{Component: r.component(place, of, phase), Amount: amount})
	}
	return out
}

// dispersion reads a dispersion as supplied; its water is looked up.
func (r *reader) dispersion(at string, d *api.AskedDispersion) *solution.Dispersion {
	product := api.Substance{Material: d.Material, Grade: d.Grade, Name: d.Name, Density: d.Density}
	return &solution.Dispersion{
		Product: r.look(at, product, solution.Liquid, true), Solids: r.quantity(at+"/solids", d.Solids),
		Water: r.Of("water"),
	}
}

// dispersionSolvent is what a dispersion was diluted with; water by default.
func (r *reader) dispersionSolvent(at string, d *api.AskedDispersion) solution.Solvent {
	if d.Solvent != nil {
		return r.solvent(at+"/solvent", d.Solvent)
	}
	return solution.Pure(r.Of("water"))
}
