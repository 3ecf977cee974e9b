package httpapi

import (
	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// computeUptake answers how much solids went into a specimen.
func computeUptake(s *Server, c *call) (*answer, error) {
	in, request, err := asked[api.UptakeRequest](s, c)
	if err != nil {
		return nil, err
	}
	var q solution.Uptake
	if v := request.Question.ByVolume; v != nil {
		q.ByVolume = in.uptakeByVolume(*v)
	}
	if w := request.Question.ByWeight; w != nil {
		q.ByWeight = in.uptakeByWeight(*w)
	}
	if per := request.Per; per != nil {
		q.Area, q.Mass = in.quantity("/per/area", per.Area), in.quantity("/per/specimenMass", per.SpecimenMass)
	}
	if err := in.Faults.Err(); err != nil {
		return nil, err
	}
	a, err := solution.ComputeUptake(q)
	if err != nil {
		return nil, err
	}
	return ok(api.UptakeAnswer{
		Solids:  resultOr(a.Solids, quantity.Gram),
		AtLeast: computed(a.AtLeast, quantity.Gram), AtMost: computed(a.AtMost, quantity.Gram),
		PerArea: resultOr(a.PerArea, "g/m2"), PerMass: resultOr(a.PerMass, quantity.Percent), Sentence: a.Sentence,
		Steps: steps(a.Steps), Advice: advice(a.Advice),
	})
}

func (a *asking) uptakeByVolume(v api.UptakeByVolume) *solution.UptakeByVolume {
	const at = "/question/byVolume"
	strength := a.strength(at+"/strength", &v.Strength)
	if strength.Basis != solution.MassPerSolutionVolume {
		a.Faults.Add("strength-basis", at+"/strength/basis", "The solids in a volume of solution are needed here: mass-per-solution-volume. /v1/compute/convert gives it from any other basis.")
	}
	return &solution.UptakeByVolume{
		Solids: strength.Number, Applied: a.quantity(at+"/applied", &v.Applied), Returned: a.quantity(at+"/returned", v.Returned),
	}
}

func (a *asking) uptakeByWeight(w api.UptakeByWeight) *solution.UptakeByWeight {
	const at = "/question/byWeight"
	q := &solution.UptakeByWeight{
		Before: a.quantity(at+"/before", &w.Before), After: a.quantity(at+"/after", &w.After),
		Drying: solution.Drying(w.Drying.State), Retained: a.quantity(at+"/retained", w.Retained),
	}
	if w.Solution != nil {
		s := a.strength(at+"/solution", w.Solution)
		if s.Basis != solution.MassFraction {
			a.Faults.Add("strength-basis", at+"/solution/basis", "The solids in the mass of the solution are needed here: mass-fraction. /v1/compute/convert gives it from any other basis.")
		}
		q.Solution = s.Number
	}
	return q
}
