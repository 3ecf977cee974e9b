package calculation

import (
	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// Uptake says how much solids went into a specimen.
var Uptake = computation((*reader).uptake, solution.ComputeUptake, writer.uptake)

func (r *reader) uptake(q api.UptakeRequest) solution.Uptake {
	var out solution.Uptake
	if v := q.ByVolume; v != nil {
		out.ByVolume = r.uptakeByVolume(*v)
		out.Area, out.Mass = r.uptakePer("/byVolume/per", v.Per)
	}
	if w := q.ByWeight; w != nil {
		out.ByWeight = r.uptakeByWeight(*w)
		out.Area, out.Mass = r.uptakePer("/byWeight/per", w.Per)
	}
	return out
}

func (r *reader) uptakePer(at string, per *api.UptakePer) (area, mass quantity.Quantity) {
	if per == nil {
		return area, mass
	}
	return r.quantity(at+"/area", per.Area), r.quantity(at+"/specimenMass", per.SpecimenMass)
}

func (w writer) uptake(a solution.UptakeAnswer) api.UptakeAnswer {
	return api.UptakeAnswer{
		Answer:  a.Answer,
		Solids:  w.resultOr(a.Solids, quantity.Gram),
		AtLeast: Quantity(a.AtLeast, quantity.Gram), AtMost: Quantity(a.AtMost, quantity.Gram),
		PerArea: w.resultOr(a.PerArea, "g/m2"), PerMass: w.resultOr(a.PerMass, quantity.Percent),
		Steps: texts(a.Steps), Advice: w.advice(a.Advice),
	}
}

func (r *reader) uptakeByVolume(v api.UptakeByVolume) *solution.UptakeByVolume {
	const at = "/byVolume"
	strength := r.strength(at+"/strength", &v.Strength)
	if strength.Basis != solution.MassPerSolutionVolume {
		r.Faults.Add("strength-basis", at+"/strength/basis",
			"The solids in a volume of solution are needed here: mass-per-solution-volume. /v1/compute/convert "+
				"gives it from any other basis.")
	}
	return &solution.UptakeByVolume{
		Solids: strength.Number, Applied: r.quantity(at+"/applied", &v.Applied),
		Returned: r.quantity(at+"/returned", v.Returned),
	}
}

func (r *reader) uptakeByWeight(w api.UptakeByWeight) *solution.UptakeByWeight {
	const at = "/byWeight"
	q := &solution.UptakeByWeight{
		Before: r.measured(at+"/before", &w.Before), After: r.measured(at+"/after", &w.After),
		Drying: solution.Drying(w.Drying.State), Retained: r.quantity(at+"/retained", w.Retained),
	}
	if w.Solution != nil {
		s := r.strength(at+"/solution", w.Solution)
		if s.Basis != solution.MassFraction {
			r.Faults.Add("strength-basis", at+"/solution/basis",
				"The solids in the mass of the solution are needed here: mass-fraction. /v1/compute/convert gives "+
					"it from any other basis.")
		}
		q.Solution = s.Number
	}
	return q
}
