package calculation_test

import (
	"testing"

	"meniscus/api"
	"meniscus/internal/calculation"
	"meniscus/internal/material"
	"meniscus/internal/wire"
)

// TestDilutionsOfUnknownBasesAreBrief: a dilution of a stock on an unknown basis says in
// less than 3 kB what each reading comes to, and in full the numbers of that.
func TestDilutionsOfUnknownBasesAreBrief(t *testing.T) {
	t.Parallel()
	for _, words := range []string{
		`"strength": {"value": 5, "unit": "g/dL", "basis": "mass-per-solution-volume"}, "amount": {"finished": {"value": 100, "unit": "mL"}}`,
		`"strength": {"value": 4.75, "unit": "%", "basis": "volume-fraction"}, "amount": {"finished": {"value": 1.333, "unit": "L"}}`,
		`"madeUpTo": {"value": 125, "unit": "mL"}, "amount": {"onHand": {"value": 37.5, "unit": "mL"}}`,
	} {
		request := `{"stock": {"solution": {"solute": {"material": "ethyl-methacrylate-methyl-acrylate-copolymer"},
			"solvent": {"liquid": {"material": "acetone"}}, "strength": {"value": 9.5, "basis": "unknown"}}}, ` + words + `}`
		full, err := asked(t, calculation.Dilution, request)
		if err != nil {
			t.Fatal(err)
		}
		var q api.DiluteRequest
		if err := wire.Decode([]byte(request), &q); err != nil {
			t.Fatal(err)
		}
		brief, err := calculation.Dilution(material.Builtin(), q, api.Brief)
		if err != nil {
			t.Fatal(err)
		}
		told, err := wire.Encode(brief)
		if err != nil {
			t.Fatal(err)
		}
		if len(told) >= 3000 || brief.Readings == nil || len(*brief.Readings) < 4 {
			t.Errorf("%s: got %d bytes, want every reading in fewer than 3000: %s", words, len(told), told)
			continue
		}
		for i, r := range *brief.Readings {
			of := (*full.Readings)[i]
			if r.Poured != nil || (of.Poured == nil) != (r.ComesTo == nil) || r.ComesTo != nil && *r.ComesTo != of.Poured.Sentence {
				t.Errorf("%s: got %v in brief and %v in full, want the same sentence", r.Said, r.ComesTo, of.Poured)
			}
		}
	}
}
