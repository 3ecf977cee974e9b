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
	if stock.Basis != solution.MassFraction {
		in.faults.Add("strength-basis", "/stock/strength/basis", "The strength of the stock is by mass (mass-fraction), as its label says; 37 %% by mass is about 40 g in 100 mL.")
	}
	q := solution.Formaldehyde{
		Stock:  solution.FormaldehydeStock{ByMass: stock.Number, Density: in.quantity("/stock/density", request.Stock.Density)},
		Target: in.formaldehydeTarget(request.Target),
		Amount: in.quantity("/amount", &request.Amount),
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
	if err := in.faults.Err(); err != nil {
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
	switch target.Basis {
	case solution.AsSuppliedVolume:
		return solution.FormaldehydeTarget{AsSupplied: target.Number}
	case solution.MassPerSolutionVolume:
		return solution.FormaldehydeTarget{PerVolume: target.Number}
	case solution.MassFraction:
		return solution.FormaldehydeTarget{ByMass: target.Number}
	}
	a.faults.Add("strength-basis", "/target/basis", "Say what the number counts: as-supplied-volume for per cent formalin, mass-per-solution-volume or mass-fraction for formaldehyde itself. 10 %% formalin holds about 4 g in 100 mL.")
	return solution.FormaldehydeTarget{}
}

func formaldehydeAnswer(a solution.FormaldehydeAnswer) api.FormaldehydeAnswer {
	return api.FormaldehydeAnswer{
		StockVolume: result(a.StockVolume, quantity.Millilitre), StockMass: result(a.StockMass, quantity.Gram),
		Water: result(a.Water, a.WaterUnit), Formalin: resultOr(a.Formalin, quantity.Percent),
		PerVolume: resultOr(a.PerVolume, quantity.GramsPerDL), ByMass: resultOr(a.ByMass, quantity.Percent),
		StockStrength: result(a.StockPerVolume, quantity.GramsPerDL),
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
