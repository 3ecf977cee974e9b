package httpapi

import (
	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// svgType is the media type of drawings.
const svgType = "image/svg+xml"

// computeSolventBlend answers what a mixture of solvents is like, or draws it.
func computeSolventBlend(s *Server, c *call) (*answer, error) {
	in, request, err := asked[api.SolventBlendRequest](s, c)
	if err != nil {
		return nil, err
	}
	q := in.solventBlend(request)
	if err := in.Faults.Err(); err != nil {
		return nil, err
	}
	a, err := solution.ComputeSolventBlend(q)
	if err != nil {
		return nil, err
	}
	if c.mediaType == svgType {
		return &answer{body: solution.TeasTriangle(a)}, nil
	}
	return ok(solventBlend(a))
}

func solventBlend(a solution.SolventBlendAnswer) api.SolventBlendAnswer {
	out := api.SolventBlendAnswer{
		Parts:   each(a.Parts, blendPart),
		Density: resultOr(a.Density, quantity.GramsPerML), VolumeModel: a.Model, Teas: teas(a.Teas), Hansen: hansen(a.Hansen),
		Evaporation: each(a.Evaporation, leaving),
		Hazards:     each(a.Hazards, hazardLine), Pictograms: each(a.Symbols, func(s string) api.Pictogram { return api.Pictogram(s) }),
		Steps: steps(a.Steps), Advice: advice(a.Advice),
	}
	if a.Signal != "" {
		word := api.SignalWord(a.Signal)
		out.SignalWord = &word
	}
	if a.Resin != nil {
		resin := resinInBlend(*a.Resin)
		out.Resin = &resin
	}
	return out
}

func blendPart(p solution.BlendPart) api.BlendPart {
	percent := func(f *float64) *api.ComputedQuantity {
		if f == nil {
			return nil
		}
		percent := 100 * *f
		return computedOr(&percent, quantity.Percent)
	}
	out := api.BlendPart{Solvent: p.Name, ByVolume: percent(p.ByVolume), ByMass: percent(p.ByMass), Teas: teas(p.Teas)}
	if w := p.Pour; w != nil {
		out.Measure = &api.BlendMeasure{Exact: computed(w.Exact, w.Unit), Rounded: computed(w.Rounded, w.Unit), Gives: computed(100*w.Share, quantity.Percent)}
	}
	return out
}

func teas(t *solution.Teas) *api.TeasFractions {
	if t == nil {
		return nil
	}
	return &api.TeasFractions{Dispersion: figure(t.Dispersion), Polar: figure(t.Polar), HydrogenBonding: figure(t.Hydrogen), Source: cited(t.Source)}
}

func hansen(h *solution.Hansen) *api.HansenParameters {
	if h == nil {
		return nil
	}
	return &api.HansenParameters{Dispersion: figure(h.Dispersion), Polar: figure(h.Polar), HydrogenBonding: figure(h.Hydrogen), Source: cited(h.Source)}
}

func leaving(l solution.Leaving) api.Leaving {
	rate := func(e solution.EvaporationRate) api.EvaporationRate {
		return api.EvaporationRate{Value: figure(e.Value), Source: cited(e.Source)}
	}
	out := api.Leaving{Solvent: l.Name, Others: each(l.Others, rate)}
	if l.Rate != nil {
		first := rate(*l.Rate)
		out.Rate = &first
	}
	return out
}

func resinInBlend(a solution.ResinAnswer) api.ResinInBlend {
	out := api.ResinInBlend{
		Resin: a.Resin, Grade: said(a.Grade), Seen: a.Seen, Unobserved: each(a.Unobserved, same),
		Observations: each(a.Observations, func(o solution.Observation) api.ResinObservation {
			return api.ResinObservation{
				Solvent: o.Solvent, Grade: said(o.Grade), Age: api.FilmAge(o.Age), Observed: api.Observed(o.Observed),
				ByClass: o.ByClass, Remark: said(o.Remark), Source: cited(o.Source),
			}
		}),
	}
	if e := a.Estimate; e != nil {
		out.Estimate = &api.ResinEstimate{
			Distance: figure(e.Distance), Radius: figure(e.Radius), RelativeToRadius: figure(e.Relative),
			Sentence: e.Sentence, Source: cited(e.Source),
		}
	}
	return out
}
