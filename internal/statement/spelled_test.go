package statement_test

import (
	"testing"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/quantity"
	"meniscus/internal/record"
	"meniscus/internal/solution"
	"meniscus/internal/statement"
)

// TestAskedStrengths: a unit that includes its basis gives it, one that leaves it open
// is kept for its readings, and one that contradicts the given basis is refused.
func TestAskedStrengths(t *testing.T) {
	t.Parallel()
	none := solution.Basis("")
	for _, c := range []struct {
		unit   string
		basis  solution.Basis // the basis that is sent
		want   solution.Basis
		number quantity.Unit
		code   string
	}{
		{"% w/w", none, solution.MassFraction, quantity.Percent, ""},
		{"% w/w", solution.MassFraction, solution.MassFraction, quantity.Percent, ""},
		{"%V/V", none, solution.VolumeFraction, quantity.Percent, ""},
		{"g/100 mL solution", none, solution.MassPerSolutionVolume, quantity.GramsPerDL, ""},
		{"g/100 mL of solvent", none, solution.MassPerSolventVolume, quantity.GramsPerDL, ""},
		{"US proof", none, solution.VolumeFraction, quantity.USProof, ""},
		{"British proof", none, solution.VolumeFraction, quantity.BritishProof, ""},
		{"% w/w", solution.VolumeFraction, none, "", "strength-unit-contradicts"},
		{"US proof", solution.MassFraction, none, "", "strength-unit-contradicts"},
		{"%", none, none, quantity.One, ""},
		{"w/v", none, none, quantity.GramsPerDL, ""},
		{"g/L", none, none, "g/L", ""},
		{"proof", none, none, solution.Proof, ""},
		{"proof", solution.VolumeFraction, solution.VolumeFraction, quantity.Percent, "proof-ambiguous"},
		{"g/dL", solution.MassPerSolutionVolume, solution.MassPerSolutionVolume, quantity.GramsPerDL, ""},
	} {
		asked := api.AskedStrength{Value: new(quantity.MustDecimal("20")), Unit: &c.unit}
		if c.basis != none {
			asked.Basis = new(api.StrengthBasis(c.basis))
		}
		var faults fault.List
		got := statement.Asked("", &asked, &faults)
		code := ""
		if len(faults) > 0 {
			code = faults[0].Code
		}
		if got.Basis != c.want || got.Number.Unit != c.number || code != c.code {
			t.Errorf("%q on %q: got %q in %q, fault %q; want %q in %q, fault %q", c.unit, c.basis, got.Basis,
				got.Number.Unit, code, c.want, c.number, c.code)
		}
	}
}

// TestStatedStrengths: a record takes the same units as a computation, and needs a basis
// where the unit does not say it.
func TestStatedStrengths(t *testing.T) {
	t.Parallel()
	for said, want := range map[string]struct {
		basis solution.Basis
		unit  quantity.Unit
		code  string
	}{
		`{"value":20,"unit":"% w/w"}`:                                  {solution.MassFraction, quantity.Percent, ""},
		`{"value":20,"unit":"% w/w","basis":"mass-fraction"}`:          {solution.MassFraction, quantity.Percent, ""},
		`{"value":70,"unit":"%v/v"}`:                                   {solution.VolumeFraction, quantity.Percent, ""},
		`{"value":20,"unit":"g/100 mL solution"}`:                      {solution.MassPerSolutionVolume, quantity.GramsPerDL, ""},
		`{"value":20,"unit":"g/dL","basis":"mass-per-solvent-volume"}`: {solution.MassPerSolventVolume, quantity.GramsPerDL, ""},
		`{"value":20,"unit":"% w/w","basis":"volume-fraction"}`:        {code: "strength-unit-contradicts"},
		`{"value":20,"unit":"w/v"}`:                                    {code: "strength-basis-missing"},
		`{"value":20,"unit":"g/dL"}`:                                   {code: "strength-basis-missing"},
		`{"value":20}`:                                                 {code: "strength-basis-missing"},
	} {
		read, err := statement.Read(record.KindBatch, []byte(`{"code":"B","kind":"solution","labelStrength":`+said+`}`))
		if err != nil {
			t.Fatal(err)
		}
		if want.code != "" {
			if len(read.Faults) != 1 || read.Faults[0].Code != want.code {
				t.Errorf("%s: got %v, want %s", said, read.Faults, want.code)
			}
			continue
		}
		got := read.Value.(*record.Batch).LabelStrength.Value
		if len(read.Faults) > 0 || got.Basis != want.basis || got.Number.Unit != want.unit {
			t.Errorf("%s: got %+v and %v, want %s in %s", said, got, read.Faults, want.basis, want.unit)
		}
	}
}
