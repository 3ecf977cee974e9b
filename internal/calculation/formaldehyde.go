package calculation

import (
	"meniscus/api"
	"meniscus/internal/material"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// Formaldehyde says how to dilute formaldehyde.
var Formaldehyde = computation((*reader).formaldehyde, solution.ComputeFormaldehyde, writer.formaldehyde)

func (r *reader) formaldehyde(q api.FormaldehydeRequest) solution.Formaldehyde {
	r.Named = append(r.Named, material.Formalin)
	stock := r.strength("/stock/strength", &q.Stock.Strength)
	out := solution.Formaldehyde{
		Stock: solution.FormaldehydeStock{
			Density: r.quantity("/stock/density", q.Stock.Density), Buffered: deref(q.Stock.Buffered),
		},
		Target:      r.formaldehydeTarget(q.Target),
		Amount:      r.quantity("/amount", &q.Amount),
		Instruments: r.instruments("/instruments", q.Instruments),
	}
	switch stock.Basis {
	case solution.MassFraction:
		out.Stock.ByMass = stock.Number
	case solution.MassPerSolutionVolume:
		out.Stock.PerVolume = stock.Number
	default:
		r.Faults.Add("strength-basis", "/stock/strength/basis", "Say what the number on the stock's label counts: "+
			"mass-fraction for per cent by mass, mass-per-solution-volume for grams in 100 mL; "+
			"37 %% by mass is about 40 g in 100 mL.")
	}
	if b := q.Buffer; b != nil {
		out.Buffer = &solution.PhosphateBuffer{
			Monobasic: solution.Hydrate(deref(b.Monobasic)), MonobasicMeant: solution.Hydrate(deref(b.MonobasicMeant)),
			Dibasic: solution.Hydrate(deref(b.Dibasic)), Alone: deref(b.Alone),
		}
	}
	return out
}

// formaldehydeTarget takes the wanted strength by what its basis counts.
func (r *reader) formaldehydeTarget(s api.AskedStrength) solution.FormaldehydeTarget {
	target := r.strength("/target", &s)
	if t, known := solution.FormaldehydeTargetOf(target); known {
		return t
	}
	r.Faults.Add("strength-basis", "/target/basis",
		"Say what the number counts: as-supplied-volume for per cent formalin, parts-by-volume for stock to water, "+
			"mass-per-solution-volume, mass-fraction or one-in for formaldehyde itself. "+
			"10 %% formalin holds about 4 g in 100 mL.")
	return solution.FormaldehydeTarget{}
}

// roundedFormaldehyde renders what the rounded amounts give.
func (w writer) roundedFormaldehyde(r solution.FormaldehydeRounded) api.FormaldehydeRounded {
	return api.FormaldehydeRounded{
		Stock: Quantity(r.Stock, r.StockUnit), MadeUpTo: Quantity(r.MadeUpTo, r.StockUnit),
		Formalin: w.resultOr(r.Formalin, quantity.Percent), PerVolume: w.resultOr(r.PerVolume, quantity.GramsPerDL),
		ByMass: w.resultOr(r.ByMass, quantity.Percent),
	}
}

func (w writer) formaldehyde(a solution.FormaldehydeAnswer) api.FormaldehydeAnswer {
	out := api.FormaldehydeAnswer{
		Answer: a.Answer, AsRounded: w.roundedFormaldehyde(a.AsRounded),
		Salts: each(a.Salts, func(s solution.BufferSalt) api.BufferSalt {
			salt := api.BufferSalt{
				Name: s.Name, Formula: s.Formula, Mass: Quantity(s.Grams, quantity.Gram),
			}
			if w.full {
				salt.Note = &s.Note
			}
			if s.Form != "" {
				salt.Form = new(api.HydrateForm(s.Form))
			}
			if s.GramsHigh > 0 {
				salt.MassIfAnhydrousWasMeant = quantityOr(&s.GramsHigh, quantity.Gram)
			}
			return salt
		}),
		Hazards: each(a.Hazards, hazardLine),
		Steps:   texts(a.Steps), Advice: w.advice(a.Advice),
	}
	if w.full {
		out.StockVolume, out.StockMass = new(w.result(a.StockVolume, quantity.Millilitre)),
			new(w.result(a.StockMass, quantity.Gram))
		out.Water, out.Formalin = new(w.result(a.Water, a.WaterUnit)), w.resultOr(a.Formalin, quantity.Percent)
		out.PerVolume, out.ByMass = w.resultOr(a.PerVolume, quantity.GramsPerDL), w.resultOr(a.ByMass, quantity.Percent)
		out.StockStrength = new(w.result(a.StockPerVolume, quantity.GramsPerDL))
	}
	return out
}

func hazardLine(h solution.HazardLine) api.HazardLine {
	return api.HazardLine{Code: h.Code, Text: h.Text, Source: h.Source.ID}
}
