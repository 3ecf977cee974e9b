package statement_test

import (
	"encoding/json"
	"math"
	"testing"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
	"meniscus/internal/statement"
)

// spelt decodes JSON of the contract.
func spelt[T any](t *testing.T, words string) *T {
	t.Helper()
	v := new(T)
	if err := json.Unmarshal([]byte(words), v); err != nil {
		t.Fatal(err)
	}
	return v
}

// faultAt is the one fault of a list, as its code and its pointer.
func faultAt(t *testing.T, list fault.List) string {
	t.Helper()
	switch len(list) {
	case 0:
		return ""
	case 1:
		return list[0].Code + " " + list[0].Pointer
	}
	t.Errorf("got %v, want one fault", list)
	return list[0].Code + " " + list[0].Pointer
}

func TestQuantity(t *testing.T) {
	t.Parallel()
	for words, want := range map[string]struct {
		value string
		unit  quantity.Unit
		fault string
	}{
		`{"value":0.10,"unit":"g"}`:               {"0.10", quantity.Gram, ""},
		`{"value":7.50,"unit":"g/dL"}`:            {"7.50", quantity.GramsPerDL, ""},
		`{"value":1,"unit":"spoon"}`:              {"0", "", "unit-unknown /at/unit"},
		`{"value":4,"unit":"fl oz"}`:              {"0", "", "unit-ambiguous /at/unit"},
		`{"value":4,"unit":"grains"}`:             {"0", "", "unit-unknown /at/unit"},
		`{"value":2,"unit":"g","uncertainty":{}}`: {"2", quantity.Gram, "uncertainty-one-of /at/uncertainty"},
	} {
		var faults fault.List
		q := statement.Quantity("/at", spelt[api.Quantity](t, words), &faults)
		if q.Value.String() != want.value || q.Unit != want.unit || faultAt(t, faults) != want.fault {
			t.Errorf("%s: got %s %s, %v", words, q.Value, q.Unit, faults)
		}
	}
	if q := statement.Quantity("", nil, nil); !q.IsZero() {
		t.Errorf("nothing: got %v", q)
	}
}

// A word of an old recipe gets its readings, each with the amount that it is. A UK fluid
// ounce is 28.41 mL, a US one 29.57 mL (sizes.com, apothecaries' measure, 2001).
func TestOldUnits(t *testing.T) {
	t.Parallel()
	var faults fault.List
	statement.Quantity("/at", spelt[api.Quantity](t, `{"value":10,"unit":"fl. oz."}`), &faults)
	readings, _ := faults[0].Extra["readings"].([]statement.UnitReading)
	if len(readings) != 2 || math.Abs(readings[0].Gives.Value-284.1) > 0.05 || math.Abs(readings[1].Gives.Value-295.7) > 0.05 ||
		readings[0].Unit != "[foz_br]" || readings[0].Said != "10 UK fl oz" || readings[0].Gives.Unit != "mL" {
		t.Errorf("got %+v, want 284.1 mL of the UK and 295.7 mL of the US", readings)
	}
}

// A spirit may be said in proof, and a proof that is not named has two readings.
func TestAlcohol(t *testing.T) {
	t.Parallel()
	for words, want := range map[string]struct {
		unit  quantity.Unit
		fault string
	}{
		`{"value":95,"unit":"%"}`:             {quantity.Percent, ""},
		`{"value":95,"unit":"% v/v"}`:         {quantity.Percent, ""},
		`{"value":190,"unit":"US proof"}`:     {quantity.USProof, ""},
		`{"value":66,"unit":"British proof"}`: {quantity.BritishProof, ""},
		`{"value":190,"unit":"Proof"}`:        {"", "proof-ambiguous /at/unit"},
		`{"value":95,"unit":"% w/w"}`:         {"", "unit-unknown /at/unit"},
	} {
		var faults fault.List
		q := statement.Alcohol("/at", spelt[api.Quantity](t, words), &faults)
		if q.Unit != want.unit || faultAt(t, faults) != want.fault {
			t.Errorf("%s: got %v, %v", words, q, faults)
		}
	}
}

func TestUncertainty(t *testing.T) {
	t.Parallel()
	d := func(s string) quantity.Decimal { return *spelt[quantity.Decimal](t, s) }
	for words, want := range map[string]struct {
		uncertainty quantity.Uncertainty
		fault       string
	}{
		`{"standard":0.01}`:                              {quantity.Standard(d("0.01")), ""},
		`{"readability":0.1}`:                            {quantity.Readability(d("0.1")), ""},
		`{"halfWidth":0.5,"distribution":"rectangular"}`: {quantity.HalfWidth(d("0.5"), quantity.Rectangular), ""},
		`{"halfWidth":0.5,"distribution":"triangular"}`:  {quantity.HalfWidth(d("0.5"), quantity.Triangular), ""},
		`{"class":"oiml-r76-ii","interval":0.01}`:        {quantity.ByClass("oiml-r76-ii", d("0.01")), ""},
		`{"class":"iso-1042-a"}`:                         {quantity.ByClass("iso-1042-a", quantity.Decimal{}), ""},
		`{}`:                                             {fault: "uncertainty-one-of /at"},
		`{"standard":1,"readability":1}`:                 {fault: "uncertainty-one-of /at"},
		`{"standard":1,"distribution":"rectangular"}`:    {fault: "uncertainty-one-of /at"},
		`{"readability":1,"interval":0.1}`:               {fault: "uncertainty-one-of /at"},
		`{"halfWidth":0.5}`:                              {fault: "distribution-missing /at/distribution"},
		`{"class":"no-such-class"}`:                      {fault: "class-unknown /at/class"},
	} {
		var faults fault.List
		u := statement.Uncertainty("/at", spelt[api.Uncertainty](t, words), &faults)
		if u != want.uncertainty || faultAt(t, faults) != want.fault {
			t.Errorf("%s: got %+v, %v, want %+v, %s", words, u, faults, want.uncertainty, want.fault)
		}
	}
}

func TestStrength(t *testing.T) {
	t.Parallel()
	for words, want := range map[string]struct {
		said  string // value and unit, or the parts
		basis solution.Basis
		fault string
	}{
		`{"basis":"mass-per-solution-volume","value":5.0}`:             {"5.0 g/dL", solution.MassPerSolutionVolume, ""},
		`{"basis":"mass-per-solution-volume","value":50,"unit":"g/L"}`: {"50 g/L", solution.MassPerSolutionVolume, ""},
		`{"basis":"mass-fraction","value":5}`:                          {"5 %", solution.MassFraction, ""},
		`{"basis":"parts-by-volume","parts":[1,3]}`:                    {"1:3", solution.PartsByVolume, ""},
		`{"basis":"unknown","value":5}`:                                {"5 1", solution.UnknownBasis, ""},
		`{"value":5,"unit":"spoon"}`:                                   {"5 1", "", ""},
		`{"basis":"one-in","in":10}`:                                   {"10 mL/g", solution.OneIn, ""},
		`{"basis":"parts-by-mass","value":3}`: {
			" ", solution.PartsByMass, "strength-form /at/parts",
		},
		`{"basis":"parts-by-mass","parts":[1,3],"in":3}`:     {" ", solution.PartsByMass, "strength-form /at/parts"},
		`{"basis":"one-in","value":10}`:                      {" ", solution.OneIn, "strength-form /at/in"},
		`{"basis":"mass-fraction","parts":[1,3]}`:            {" ", solution.MassFraction, "strength-form /at/value"},
		`{"basis":"mass-fraction"}`:                          {" ", solution.MassFraction, "strength-form /at/value"},
		`{"basis":"unknown","value":5,"unit":"%"}`:           {"5 1", solution.UnknownBasis, "strength-form /at/unit"},
		`{"basis":"mass-fraction","value":5,"unit":"spoon"}`: {"5 %", solution.MassFraction, "unit-unknown /at/unit"},
		`{"basis":"mass-fraction","value":5,"uncertainty":{}}`: {
			"5 %", solution.MassFraction, "uncertainty-one-of /at/uncertainty",
		},
	} {
		var faults fault.List
		s := statement.Strength("/at", spelt[api.AskedStrength](t, words), &faults)
		if strengthSaid(s) != want.said || s.Basis != want.basis || faultAt(t, faults) != want.fault {
			t.Errorf("%s: got %q by %q, %v", words, strengthSaid(s), s.Basis, faults)
		}
	}
	if s := statement.Strength("", nil, nil); s.Basis != "" || strengthSaid(s) != " " {
		t.Errorf("nothing: got %v", s)
	}
}

// strengthSaid is the number of a strength with its unit, or its parts.
func strengthSaid(s solution.Strength) string {
	switch {
	case s.Parts[0].Sign() != 0:
		return s.Parts[0].String() + ":" + s.Parts[1].String()
	case s.Number.IsZero():
		return " "
	}
	return s.Number.Value.String() + " " + string(s.Number.Unit)
}
