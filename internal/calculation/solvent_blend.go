package calculation

import (
	"meniscus/api"
	"meniscus/internal/material"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// SolventBlend says what a mixture of solvents is like.
var SolventBlend = computation((*reader).solventBlend, solution.ComputeSolventBlend, writer.solventBlend)

// TeasTriangle draws it, as SVG.
var TeasTriangle = computation((*reader).solventBlend, solution.ComputeSolventBlend, writer.teasTriangle)

// solventBlend finds what is known of the solvents of a blend, of each two of
// them, and of a resin in them.
func (r *reader) solventBlend(q api.SolventBlendRequest) solution.SolventBlend {
	out := solution.SolventBlend{
		ByMass: q.By == "mass", Amount: r.quantity("/amount", q.Amount),
		Instruments: r.instruments("/instruments", q.Instruments),
	}
	var found []material.Material
	for i, s := range q.Solvents {
		at := item("/solvents", i)
		fraction := r.quantity(at+"/fraction", &s.Fraction)
		if m, known := r.Solvent(at+"/material", s.Material); known {
			found = append(found, m)
			out.Shares = append(out.Shares, solution.BlendShare{Solvent: r.BlendSolvent(m), Fraction: fraction})
		}
	}
	for i, y := range found {
		for _, x := range found[:i] {
			out.Pairs = append(out.Pairs, r.SolventPair(x, y))
		}
	}
	if asked := q.Resin; asked != nil {
		age := material.AnyAge
		if asked.Age != nil {
			age = material.Age(*asked.Age)
		}
		out.Resin = r.ResinEvidence("/resin", asked.Material, deref(asked.Grade), age, found)
	}
	return out
}

func (writer) teasTriangle(a solution.SolventBlendAnswer) []byte { return solution.TeasTriangle(a) }

func (w writer) solventBlend(a solution.SolventBlendAnswer) api.SolventBlendAnswer {
	pictograms, _ := material.Pictograms(a.Symbols)
	out := api.SolventBlendAnswer{
		Answer: a.Answer, Parts: each(a.Parts, w.blendPart),
		Density: w.resultOr(a.Density, quantity.GramsPerML), Teas: teas(a.Teas),
		Evaporation: each(a.Evaporation, w.leaving),
		Hazards:     each(a.Hazards, hazardLine),
		Pictograms:  each(pictograms, func(s string) api.Pictogram { return api.Pictogram(s) }),
		Steps:       texts(a.Steps), Advice: w.advice(a.Advice),
	}
	if w.full {
		out.Hansen, out.VolumeModel = hansen(a.Hansen), &a.Model
	}
	if a.Signal != "" {
		out.SignalWord = new(api.SignalWord(a.Signal))
	}
	if a.Resin != nil {
		out.Resin = new(w.resinInBlend(*a.Resin))
	}
	return out
}

func (w writer) blendPart(p solution.BlendPart) api.BlendPart {
	percent := func(f *float64) *api.ComputedQuantity {
		if f == nil {
			return nil
		}
		percent := 100 * *f
		return quantityOr(&percent, quantity.Percent)
	}
	out := api.BlendPart{Solvent: p.Name, ByVolume: percent(p.ByVolume), ByMass: percent(p.ByMass)}
	if w.full {
		out.Teas = teas(p.Teas)
	}
	if w := p.Pour; w != nil {
		out.Measure = &api.BlendMeasure{
			Exact: Quantity(w.Exact, w.Unit), Rounded: Quantity(w.Rounded, w.Unit),
			Gives: Quantity(100*w.Share, quantity.Percent),
		}
	}
	return out
}

func teas(t *solution.Teas) *api.TeasFractions {
	if t == nil {
		return nil
	}
	return &api.TeasFractions{
		Dispersion: figure(t.Dispersion), Polar: figure(t.Polar), HydrogenBonding: figure(t.Hydrogen),
		Source: t.Source.ID,
	}
}

func hansen(h *solution.Hansen) *api.HansenParameters {
	if h == nil {
		return nil
	}
	return &api.HansenParameters{
		Dispersion: figure(h.Dispersion), Polar: figure(h.Polar), HydrogenBonding: figure(h.Hydrogen),
		Source: h.Source.ID,
	}
}

func (w writer) leaving(l solution.Leaving) api.Leaving {
	rate := func(e solution.EvaporationRate) api.EvaporationRate {
		return api.EvaporationRate{Value: figure(e.Value), Source: e.Source.ID}
	}
	out := api.Leaving{Solvent: l.Name}
	if w.full {
		out.Others = new(each(l.Others, rate))
	}
	if l.Rate != nil {
		out.Rate = new(rate(*l.Rate))
	}
	return out
}

func (w writer) resinInBlend(a solution.ResinAnswer) api.ResinInBlend {
	out := api.ResinInBlend{Resin: a.Resin, Grade: said(a.Grade), Unobserved: texts(a.Unobserved)}
	if !w.full {
		out.Observations = each(a.Leading(), func(o solution.Observation) api.ResinObservation {
			return api.ResinObservation{Solvent: o.Solvent, Observed: api.Observed(o.Observed), Source: o.Source.ID}
		})
		return out
	}
	out.Seen = &a.Seen
	out.Observations = each(a.Observations, func(o solution.Observation) api.ResinObservation {
		return api.ResinObservation{
			Solvent: o.Solvent, Grade: said(o.Grade), Age: new(api.FilmAge(o.Age)), Observed: api.Observed(o.Observed),
			ByClass: &o.ByClass, Remark: said(o.Remark), Source: o.Source.ID,
		}
	})
	if e := a.Estimate; e != nil {
		out.Estimate = &api.ResinEstimate{
			Distance: figure(e.Distance), Radius: figure(e.Radius), RelativeToRadius: figure(e.Relative),
			Sentence: e.Sentence, Source: e.Source.ID,
		}
	}
	return out
}
