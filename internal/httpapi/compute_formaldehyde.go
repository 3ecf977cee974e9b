package httpapi

import (
	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// computeFormaldehyde answers how to dilute formaldehyde.
func computeFormaldehyde(s *Server, c *call) (*answer, error) {
	in, request, err := asked[api.FormaldehydeRequest](s, c)
	if err != nil {
		return nil, err
	}
	stock := in.strength("/stock/strength", &request.Stock.Strength)
	q := solution.Formaldehyde{
		Stock:       solution.FormaldehydeStock{Density: in.quantity("/stock/density", request.Stock.Density)},
		Target:      in.formaldehydeTarget(request.Target),
		Amount:      in.quantity("/amount", &request.Amount),
		Instruments: in.instruments("/instruments", request.Instruments),
	}
	switch stock.Basis {
	case solution.MassFraction:
		q.Stock.ByMass = stock.Number
	case solution.MassPerSolutionVolume:
		q.Stock.PerVolume = stock.Number
	default:
		in.Faults.Add("strength-basis", "/stock/strength/basis", "Say what the number on the stock's label counts: mass-fraction for per cent by mass, mass-per-solution-volume for grams in 100 mL; 37 %% by mass is about 40 g in 100 mL.")
	}
	if b := request.Buffer; b != nil {
		q.Buffer = &solution.PhosphateBuffer{}
		if b.Monobasic != nil {
			q.Buffer.Monobasic = solution.Hydrate(*b.Monobasic)
		}
		if b.Dibasic != nil {
			q.Buffer.Dibasic = solution.Hydrate(*b.Dibasic)
		}
	}
	if err := in.Faults.Err(); err != nil {
		return nil, err
	}
	a, err := solution.ComputeFormaldehyde(q)
	if err != nil {
		return nil, err
	}
	return ok(formaldehydeAnswer(a))
}

// formaldehydeTarget takes the wanted strength by what its basis counts.
func (a *asking) formaldehydeTarget(s api.AskedStrength) solution.FormaldehydeTarget {
	target := a.strength("/target", &s)
	if t, known := solution.FormaldehydeTargetOf(target); known {
		return t
	}
	a.Faults.Add("strength-basis", "/target/basis", "Say what the number counts: as-supplied-volume for per cent formalin, parts-by-volume for stock to water, mass-per-solution-volume, mass-fraction or one-in for formaldehyde itself. 10 %% formalin holds about 4 g in 100 mL.")
	return solution.FormaldehydeTarget{}
}

// roundedFormaldehyde renders what the rounded amounts give.
func roundedFormaldehyde(r solution.FormaldehydeRounded) api.FormaldehydeRounded {
	return api.FormaldehydeRounded{
		Stock: computed(r.Stock, r.StockUnit), MadeUpTo: computed(r.MadeUpTo, r.StockUnit),
		Formalin: resultOr(r.Formalin, quantity.Percent), PerVolume: resultOr(r.PerVolume, quantity.GramsPerDL), ByMass: resultOr(r.ByMass, quantity.Percent),
	}
}

func formaldehydeAnswer(a solution.FormaldehydeAnswer) api.FormaldehydeAnswer {
	return api.FormaldehydeAnswer{
		StockVolume: result(a.StockVolume, quantity.Millilitre), StockMass: result(a.StockMass, quantity.Gram),
		Water: result(a.Water, a.WaterUnit), Formalin: resultOr(a.Formalin, quantity.Percent),
		PerVolume: resultOr(a.PerVolume, quantity.GramsPerDL), ByMass: resultOr(a.ByMass, quantity.Percent),
		StockStrength: result(a.StockPerVolume, quantity.GramsPerDL), AsRounded: roundedFormaldehyde(a.AsRounded),
		Salts: each(a.Salts, func(s solution.BufferSalt) api.BufferSalt {
			salt := api.BufferSalt{Name: s.Name, Formula: s.Formula, Mass: computed(s.Grams, quantity.Gram), Note: s.Note}
			if s.Form != "" {
				form := api.HydrateForm(s.Form)
				salt.Form = &form
			}
			if s.GramsHigh > 0 {
				salt.MassIfAnhydrousWasMeant = computedOr(&s.GramsHigh, quantity.Gram)
			}
			return salt
		}),
		Hazards: each(a.Hazards, hazardLine),
		Steps:   steps(a.Steps), Advice: advice(a.Advice),
	}
}

func hazardLine(h solution.HazardLine) api.HazardLine {
	return api.HazardLine{Code: h.Code, Text: h.Text, Source: cited(h.Source)}
}
