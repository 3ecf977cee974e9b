package statement

import (
	"strings"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// proof is the unit of a strength that may be US or British proof.
const proof = "proof"

// spelled are the units of strengths that include their basis, as labels and papers
// write them, without spaces and in lower case.
var spelled = map[string]struct {
	basis solution.Basis
	unit  quantity.Unit
}{
	"%w/w":              {solution.MassFraction, quantity.Percent},
	"%v/v":              {solution.VolumeFraction, quantity.Percent},
	"g/100mlsolution":   {solution.MassPerSolutionVolume, quantity.GramsPerDL},
	"g/100mlofsolution": {solution.MassPerSolutionVolume, quantity.GramsPerDL},
	"g/100mlsolvent":    {solution.MassPerSolventVolume, quantity.GramsPerDL},
	"g/100mlofsolvent":  {solution.MassPerSolventVolume, quantity.GramsPerDL},
	"usproof":           {solution.VolumeFraction, quantity.USProof},
	"britishproof":      {solution.VolumeFraction, quantity.BritishProof},
}

// bare are the spellings of units that leave the basis open, with the unit that their
// readings are in.
var bare = map[string]quantity.Unit{
	"%": "", "percent": "", "w/v": quantity.GramsPerDL, "%w/v": quantity.GramsPerDL, proof: solution.Proof,
}

// folded is a unit without spaces, in lower case.
func folded(unit string) string {
	return strings.ToLower(strings.Join(strings.Fields(unit), ""))
}

// Asked reads the strength of a request as Strength does. Its unit may include the
// basis ("% w/w") or have several readings ("w/v", "proof").
func Asked(at string, s *api.AskedStrength, faults *fault.List) solution.Strength {
	if s == nil || s.Unit == nil {
		return Strength(at, s, faults)
	}
	said, says := spelled[folded(*s.Unit)]
	if says && s.Basis != nil && solution.Basis(*s.Basis) != said.basis {
		faults.Add("strength-unit-contradicts", at+"/unit",
			"The unit says %s and the basis says %s; leave one of them out.", said.basis, string(*s.Basis))
		return solution.Strength{}
	}
	if says {
		out := Strength(at, &api.AskedStrength{Basis: new(api.StrengthBasis(said.basis)), Value: s.Value, In: s.In,
			Parts: s.Parts, Uncertainty: s.Uncertainty}, faults)
		out.Number.Unit = said.unit
		return out
	}
	out := Strength(at, s, faults)
	if out.Basis != "" || out.Number.IsZero() {
		return out
	}
	if unit := bare[folded(*s.Unit)]; unit != "" {
		out.Number.Unit = unit
	} else if unit, err := quantity.ParseUnit(*s.Unit); err == nil && unit.Kind() == quantity.MassPerVolume {
		out.Number.Unit = unit
	}
	return out
}
