package httpapi

import (
	"meniscus/api"
	"meniscus/internal/material"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
	"meniscus/internal/substance"
)

// computeMakeUp works out a recipe.
func computeMakeUp(s *Server, c *call) (*answer, error) {
	a, request, err := asked[api.MakeUpRequest](s, c)
	if err != nil {
		return nil, err
	}
	in := a.makeUp(request)
	if err := a.Faults.Err(); err != nil {
		return nil, err
	}
	made, err := solution.MakeUp(in)
	if err != nil {
		return nil, computedProblem(err)
	}
	return ok(makeUpAnswer(made))
}

func (a *asking) makeUp(r api.MakeUpRequest) solution.MakeUpInput {
	return solution.MakeUpInput{
		Resin: a.resin("/resin", r.Resin), Strength: a.strength("/strength", r.Strength), Solvent: a.solvent("/solvent", r.Solvent),
		Amount: a.amount("/amount", r.Amount), Container: a.container("/container", r.Container),
		Instruments: a.instruments("/instruments", r.Instruments),
		Tolerance:   a.quantity("/tolerance", r.Tolerance), Temperature: a.quantity("/temperature", r.Temperature),
		Observed: a.observed(r),
	}
}

// observed looks up what was seen of the resin in each liquid by itself.
func (a *asking) observed(r api.MakeUpRequest) []solution.Observation {
	if r.Resin.Solid == nil || r.Resin.Solid.Material == nil || r.Solvent == nil {
		return nil
	}
	var all []solution.Observation
	for _, id := range liquidsOf(*r.Solvent) {
		m, known := a.Base.Material(id)
		if !known {
			continue // said elsewhere
		}
		s := a.Base.Solubility(*r.Resin.Solid.Material, text(r.Resin.Solid.Grade), id, material.Fresh)
		o := solution.Observation{Solvent: m.Name, Grade: text(r.Resin.Solid.Grade), Observed: string(s.Observed)}
		if len(s.Rows) > 0 {
			o.Source = substance.Cited(s.Rows[0].Evidence)
		}
		all = append(all, o)
	}
	return all
}

// liquidsOf gives the ids of the known liquids of a solvent.
func liquidsOf(s api.AskedSolvent) []string {
	var ids []string
	if s.Liquid != nil && s.Liquid.Material != nil {
		ids = append(ids, *s.Liquid.Material)
	}
	if s.Blend != nil {
		for _, share := range s.Blend.Shares {
			if share.Material != nil {
				ids = append(ids, *share.Material)
			}
		}
	}
	return ids
}

// resin reads what is dissolved.
func (a *asking) resin(at string, r api.AskedResin) solution.Resin {
	switch {
	case r.Solid != nil:
		c := a.component(at+"/solid", *r.Solid, solution.Solid)
		return solution.Resin{Solid: &c}
	case r.Stock != nil:
		k := a.stock(at+"/stock", *r.Stock)
		return solution.Resin{Stock: &k}
	case r.Dispersion != nil:
		return solution.Resin{Dispersion: a.dispersion(at+"/dispersion", r.Dispersion)}
	}
	two := solution.TwoPart{By: solution.ShareBy(r.TwoPart.By)}
	for i, p := range r.TwoPart.Parts {
		place := item(at+"/twoPart/parts", i)
		part := solution.RatioPart{Ratio: p.Ratio}
		switch {
		case p.Name != nil:
			part.Component = solution.Component{ID: substance.OwnID(*p.Name), Name: *p.Name}
		case p.Material != nil:
			m, known := a.Base.Material(*p.Material)
			if !known {
				a.Faults.Add("material-unknown", place+"/material", "No material has this id; /v1/materials lists them. A part may be given by its name alone.")
			}
			part.Component = solution.Component{ID: m.ID, Name: m.Name}
		default:
			a.Faults.Add("material-missing", place, "Name the part: resin, hardener, water.")
		}
		two.Parts = append(two.Parts, part)
	}
	return solution.Resin{TwoPart: &two}
}

func makeUpAnswer(m solution.MakeUpAnswer) api.MakeUpAnswer {
	out := api.MakeUpAnswer{Steps: steps(m.Steps), Advice: advice(m.Advice), Smallest: smallest(m.Smallest)}
	if m.Split != nil {
		out.Split = split(*m.Split)
		return out
	}
	target, main, byWeight, prepared := mixture(m.Target), recipe(m.Main), recipe(m.ByWeight), preparation(m.Preparation)
	out.Basis, out.Target, out.Main, out.ByWeight, out.Preparation = basisOf(m.Basis), &target, &main, &byWeight, &prepared
	return out
}

func split(s solution.Split) *api.TwoPartSplit {
	out := &api.TwoPartSplit{Ratio: figure(s.Ratio), Off: figure(s.Off)}
	for _, p := range s.Parts {
		out.Parts = append(out.Parts, api.SplitPart{Material: materialID(p.ID), Name: p.Name, Exact: computed(p.Exact, s.Unit), Rounded: computed(p.Rounded, s.Unit)})
	}
	asRounded := measured(s.AsRounded.Measured, quantity.One)
	out.AsRounded = &asRounded
	return out
}
