package calculation

import (
	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
	"meniscus/internal/substance"
)

// MakeUp works out a recipe.
var MakeUp = computation((*reader).makeUp, solution.MakeUp, writer.makeUp)

func (r *reader) makeUp(q api.MakeUpRequest) solution.MakeUpInput {
	return solution.MakeUpInput{
		Resin: r.resin("/resin", q.Resin), Strength: r.strength("/strength", q.Strength),
		Solvent: r.solvent("/solvent", q.Solvent),
		Amount:  r.amount("/amount", q.Amount), Container: r.vessel("/container", q.Container),
		Instruments: r.instruments("/instruments", q.Instruments),
		Tolerance:   r.quantity("/tolerance", q.Tolerance), Temperature: r.quantity("/temperature", q.Temperature),
		Observed: r.observed(q), Brief: r.brief,
	}
}

// observed looks up what was seen of the resin in each liquid by itself.
func (r *reader) observed(q api.MakeUpRequest) []solution.Observation {
	if q.Resin.Solid == nil || q.Resin.Solid.Material == nil || q.Solvent == nil {
		return nil
	}
	return r.Observed(*q.Resin.Solid.Material, deref(q.Resin.Solid.Grade), liquidsOf(*q.Solvent))
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
func (r *reader) resin(at string, q api.AskedResin) solution.Resin {
	switch {
	case q.Solid != nil:
		return r.solid(at+"/solid", *q.Solid)
	case q.Stock != nil:
		return solution.Resin{Stock: new(r.stock(at+"/stock", *q.Stock))}
	case q.Dispersion != nil:
		return solution.Resin{Dispersion: r.dispersion(at+"/dispersion", q.Dispersion)}
	case q.Recipe != nil:
		at += "/recipe"
		return solution.Resin{Recipe: &solution.Written{Name: deref(q.Recipe.Name),
			Parts: r.contents(at, q.Recipe.Parts), Density: r.quantity(at+"/density", q.Recipe.Density)}}
	}
	two := solution.TwoPart{By: solution.ShareBy(q.TwoPart.By)}
	for i, p := range q.TwoPart.Parts {
		place := item(at+"/twoPart/parts", i)
		part := solution.RatioPart{Ratio: p.Ratio}
		switch {
		case p.Name != nil:
			part.Component = solution.Component{ID: substance.OwnID(*p.Name), Name: *p.Name}
		case p.Material != nil:
			m, known := r.Base.Material(*p.Material)
			if !known {
				r.Faults.Add("material-unknown", place+"/material",
					"No material has this id; /v1/materials lists them. A part may be given by its name alone.")
			}
			r.Named = append(r.Named, m.ID)
			part.Component = solution.Component{ID: m.ID, Name: m.Name}
		default:
			r.Faults.Add("material-missing", place, "Name the part: resin, hardener, water.")
		}
		two.Parts = append(two.Parts, part)
	}
	return solution.Resin{TwoPart: &two}
}

// solid reads a solid with its purity.
func (r *reader) solid(at string, q api.AskedSolid) solution.Resin {
	of := api.Substance{Material: q.Material, Grade: q.Grade, Name: q.Name, Phase: q.Phase, Density: q.Density}
	out := solution.Resin{Solid: new(r.component(at, of, solution.Solid))}
	if q.Assay != nil || q.Moisture != nil {
		out.Purity = &solution.Purity{Assay: r.quantity(at+"/assay", q.Assay), Moisture: r.quantity(at+"/moisture", q.Moisture),
			Water: r.Of("water")}
	}
	return out
}

func (w writer) makeUp(m solution.MakeUpAnswer) api.MakeUpAnswer {
	out := api.MakeUpAnswer{
		Answer: m.Answer, Steps: texts(m.Steps), Advice: w.advice(m.Advice), Smallest: w.smallest(m.Smallest),
	}
	if m.Split != nil {
		out.Split, out.Preparation = split(*m.Split), fitted(m.Preparation)
		return out
	}
	if m.Scaled != nil {
		out.Preparation = fitted(m.Preparation)
		out.Scaled = new(each(m.Scaled, w.scaledPart))
		return out
	}
	out.Basis, out.Main, out.Preparation = basisOf(m.Basis), new(w.recipe(m.Main)), w.preparation(m.Preparation)
	if w.full {
		out.Target, out.ByWeight = new(Mixture(m.Target)), w.withSteps(m.ByWeight)
	}
	return out
}

func (w writer) scaledPart(p solution.ScaledPart) api.SplitPart {
	return api.SplitPart{Material: materialID(p.ID), Name: p.Name, Exact: Quantity(p.Exact, p.Unit),
		Rounded: Quantity(p.Rounded, p.Unit), Share: w.resultOr(p.Share, quantity.Percent)}
}

func split(s solution.Split) *api.TwoPartSplit {
	out := &api.TwoPartSplit{Ratio: figure(s.Ratio), Off: figure(s.Off)}
	for _, p := range s.Parts {
		out.Parts = append(out.Parts, api.SplitPart{
			Material: materialID(p.ID), Name: p.Name, Exact: Quantity(p.Exact, s.Unit),
			Rounded: Quantity(p.Rounded, s.Unit),
		})
	}
	out.AsRounded = new(Measured(s.AsRounded.Measured, quantity.One))
	return out
}
