package statement

import (
	"strings"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// Quantity reads a quantity; the zero Quantity for one that was left out or has an
// unknown unit.
func Quantity(at string, q *api.Quantity, faults *fault.List) quantity.Quantity {
	if q == nil {
		return quantity.Quantity{}
	}
	unit, err := quantity.ParseUnit(q.Unit)
	if err != nil {
		if meanings := quantity.Meanings(q.Unit); len(meanings) > 0 {
			err = oldUnit(q.Value, meanings)
		}
		_ = faults.Merge(at+"/unit", err) // ParseUnit returns only faults
		return quantity.Quantity{}
	}
	return quantity.Quantity{
		Value: q.Value, Unit: unit, Uncertainty: Uncertainty(at+"/uncertainty", q.Uncertainty, faults),
	}
}

// UnitReading is an amount in a unit that an old word may name.
type UnitReading struct {
	Unit  string               `json:"unit"`
	Said  string               `json:"said"`
	Gives api.ComputedQuantity `json:"gives"`
}

// oldUnit is the fault of a word of an old recipe, with what the amount is in each unit
// that it may name.
func oldUnit(value quantity.Decimal, meanings []quantity.Unit) *fault.Fault {
	var names []string
	var readings []UnitReading
	for _, unit := range meanings {
		base := quantity.Gram
		if unit.Kind() == quantity.Volume {
			base = quantity.Millilitre
		}
		x, _ := quantity.Quantity{Value: value, Unit: unit}.In(base) // of one kind
		one := quantity.Digits(quantity.Factor(unit, base), 4) + " " + string(base)
		names = append(names, string(unit)+" ("+unit.Said()+", "+one+" each)")
		readings = append(readings, UnitReading{string(unit), value.String() + " " + unit.Said(),
			api.ComputedQuantity{Value: quantity.Significant(x, 10), Unit: string(base)}})
	}
	said := strings.Join(names, ", ")
	f := fault.New("unit-ambiguous", "",
		"This word names several units, and they are different amounts. Write the one that is meant: %s.", said)
	if len(meanings) == 1 {
		f = fault.New("unit-unknown", "", "Write this unit by its code: %s.", said)
	}
	f.Extra = map[string]any{"readings": readings}
	return f
}

// Alcohol reads how strong a spirit is by volume, which may be said in proof.
func Alcohol(at string, q *api.Quantity, faults *fault.List) quantity.Quantity {
	said, ok := spelled[folded(q.Unit)]
	switch {
	case ok && said.basis == solution.VolumeFraction:
		return quantity.Quantity{Value: q.Value, Unit: said.unit, Uncertainty: Uncertainty(at+"/uncertainty", q.Uncertainty, faults)}
	case folded(q.Unit) == proof:
		f := proofAmbiguous()
		f.Extra = map[string]any{"readings": solution.ProofReadings(q.Value)}
		_ = faults.Merge(at+"/unit", f)
		return quantity.Quantity{}
	}
	return Quantity(at, q, faults)
}

// proofAmbiguous is the fault of a proof that may be either.
func proofAmbiguous() *fault.Fault {
	return fault.New("proof-ambiguous", "", "Proof is US proof or British proof; write US proof, British proof or %% v/v.")
}

// Uncertainty reads an uncertainty, which is given in exactly one way.
func Uncertainty(at string, u *api.Uncertainty, faults *fault.List) quantity.Uncertainty {
	if u == nil {
		return quantity.Uncertainty{}
	}
	ways := 0
	for _, said := range []bool{u.Standard != nil, u.HalfWidth != nil, u.Readability != nil, u.Class != nil} {
		if said {
			ways++
		}
	}
	if ways != 1 || (u.Distribution != nil && u.HalfWidth == nil) || (u.Interval != nil && u.Class == nil) {
		faults.Add("uncertainty-one-of", at,
			"Say it in exactly one way: standard, halfWidth with its distribution, readability, "+
				"or class (of a weighing instrument with its interval).")
		return quantity.Uncertainty{}
	}
	switch {
	case u.Standard != nil:
		return quantity.Standard(*u.Standard)
	case u.Readability != nil:
		return quantity.Readability(*u.Readability)
	case u.Class != nil:
		return class(at, u, faults)
	case u.Distribution == nil:
		faults.Add("distribution-missing", at+"/distribution",
			"A half-width needs its distribution: rectangular or triangular.")
		return quantity.Uncertainty{}
	}
	return quantity.HalfWidth(*u.HalfWidth, quantity.Distribution(*u.Distribution))
}

func class(at string, u *api.Uncertainty, faults *fault.List) quantity.Uncertainty {
	class, err := quantity.ParseClass(*u.Class)
	if err != nil {
		_ = faults.Merge(at+"/class", err) // ParseClass returns only faults
		return quantity.Uncertainty{}
	}
	return quantity.ByClass(class, deref(u.Interval))
}

// Strength reads a strength, with the unit of its basis where none was given. Package
// solution checks that there is a basis.
func Strength(at string, s *api.AskedStrength, faults *fault.List) solution.Strength {
	if s == nil {
		return solution.Strength{}
	}
	out := solution.Strength{Basis: solution.Basis(deref(s.Basis))}
	parts, value, in := s.Parts != nil, s.Value != nil, s.In != nil
	switch out.Basis {
	case solution.PartsByVolume, solution.PartsByMass:
		if !parts || len(*s.Parts) != 2 || value || in {
			faults.Add("strength-form", at+"/parts",
				"On this basis the strength is a ratio of parts, such as [1, 3], and has no value.")
			return out
		}
		out.Parts = [2]quantity.Decimal{(*s.Parts)[0], (*s.Parts)[1]}
	case solution.OneIn:
		if !in || value || parts {
			faults.Add("strength-form", at+"/in", "On this basis the strength is a number n, as in: 1 g in n mL.")
			return out
		}
		out.Number = number(at, *s.In, s, out.Basis, faults)
	default:
		if !value || parts || in {
			faults.Add("strength-form", at+"/value",
				"The strength is a value; parts go with parts-by-volume and parts-by-mass, and in with one-in.")
			return out
		}
		out.Number = number(at, *s.Value, s, out.Basis, faults)
	}
	return out
}

// number reads the number of a strength with its unit.
func number(
	at string, value quantity.Decimal, s *api.AskedStrength, basis solution.Basis, faults *fault.List,
) quantity.Quantity {
	q := quantity.Quantity{
		Value: value, Unit: basis.Unit(), Uncertainty: Uncertainty(at+"/uncertainty", s.Uncertainty, faults),
	}
	if s.Unit == nil || basis == "" {
		return q
	}
	if basis == solution.UnknownBasis {
		faults.Add("strength-form", at+"/unit",
			"A strength whose basis is unknown is the number as it was written, without a unit.")
		return q
	}
	unit, err := quantity.ParseUnit(*s.Unit)
	if err != nil && folded(*s.Unit) == proof {
		err = proofAmbiguous()
	}
	if err != nil {
		_ = faults.Merge(at+"/unit", err)
		return q
	}
	q.Unit = unit
	return q
}
