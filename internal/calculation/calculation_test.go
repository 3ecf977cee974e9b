package calculation_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"meniscus/api"
	"meniscus/internal/calculation"
	"meniscus/internal/fault"
	"meniscus/internal/material"
	"meniscus/internal/wire"
)

// asked answers a request that is written as JSON.
func asked[Request, Answer any](
	t *testing.T, work calculation.Computation[Request, Answer], words string,
) (Answer, error) {
	t.Helper()
	var request Request
	if err := wire.Decode([]byte(words), &request); err != nil {
		t.Fatal(err)
	}
	return work(material.Builtin(), request, api.Full)
}

// Whatever is wrong is told at once, each where it stands.
func TestEveryFaultAtOnce(t *testing.T) {
	t.Parallel()
	_, err := asked(t, calculation.Conversion, `{
		"stock": {"solution": {
			"solute": {"material": "no-such-resin"}, "solvent": {"liquid": {"material": "metal-pin"}},
			"strength": {"basis": "mass-fraction", "parts": [1, 3]}}},
		"amount": {"value": 1, "unit": "spoon"}}`)
	want := []string{
		"material-unknown /stock/solution/solute/material",
		"material-not-mixable /stock/solution/solvent/liquid/material",
		"strength-form /stock/solution/strength/value", "unit-unknown /amount/unit",
	}
	var got []string
	for _, f := range fault.From(err) {
		got = append(got, f.Code+" "+f.Pointer)
	}
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("got %q, want %q", got, want)
	}
}

// The faults of a question deeper in a request point below its place, both those of
// reading and those of computing.
func TestFaultsStandWhereTheirQuestionDoes(t *testing.T) {
	t.Parallel()
	for name, concentration := range map[string]string{
		"reading": `{"value": 1, "unit": "spoon"}`, "working": `{"value": -1, "unit": "[ppm]"}`,
	} {
		_, err := asked(t, calculation.Vapour,
			`{"air": {"solvents": [{"material": "acetone", "concentration": `+concentration+`}]}}`)
		list := fault.From(err)
		if len(list) != 1 || !strings.HasPrefix(list[0].Pointer, "/air/solvents/0/concentration") {
			t.Errorf("%s: got %v, want one fault of the concentration", name, err)
		}
	}
}

// The readings of a number without a basis come in the words of the contract.
func TestReadingsAreWorded(t *testing.T) {
	t.Parallel()
	_, err := asked(t, calculation.MakeUp, `{
		"resin": {"solid": {"material": "ethyl-methacrylate-methyl-acrylate-copolymer"}},
		"strength": {"value": 5, "unit": "%"},
		"solvent": {"liquid": {"material": "acetone"}}, "amount": {"finished": {"value": 100, "unit": "mL"}}}`)
	list := fault.From(err)
	if len(list) != 1 {
		t.Fatalf("got %v, want one fault", err)
	}
	readings, worded := list[0].Extra["readings"].([]api.StrengthReading)
	if !worded || len(readings) < 2 || readings[0].Said == "" {
		t.Errorf("got %+v, want the readings as the contract spells them", list[0].Extra)
	}
}

// An answer is a number with its unit. The strength of substances of the caller's own
// rests on the densities that are given, their volumes added.
func TestAnAnswerIsWritten(t *testing.T) {
	t.Parallel()
	found, err := asked(t, calculation.Conversion, `{
		"stock": {"solution": {"solute": {"name": "a resin", "density": {"value": 1.1, "unit": "g/mL"}},
			"solvent": {"liquid": {"name": "a solvent", "density": {"value": 0.8, "unit": "g/mL"}}},
			"strength": {"basis": "mass-fraction", "value": 10}}}}`)
	if err != nil || found.Mixture == nil {
		t.Fatalf("got %+v, %v", found, err)
	}
	// Ten grams of it hold 1 g of resin and 9 g of solvent.
	volume := 1/1.1 + 9/0.8
	for _, s := range found.Mixture.Strengths {
		if s.Basis == api.StrengthBasis("mass-per-solution-volume") {
			if s.Value == nil || math.Abs(*s.Value-100/volume) > 1e-8 || *s.Unit != "g/dL" {
				t.Errorf("got %+v, want %.9f g/dL", s, 100/volume)
			}
			return
		}
	}
	t.Error("no strength in g/dL")
}

func TestSVGOfABlend(t *testing.T) {
	t.Parallel()
	words := `{"by": "volume", "solvents": [
		{"material": "acetone", "fraction": {"value": 50, "unit": "%"}},
		{"material": "ethanol", "fraction": {"value": 50, "unit": "%"}}]}`
	drawing, err := asked(t, calculation.TeasTriangle, words)
	if err != nil || !strings.HasPrefix(string(drawing), "<svg ") {
		t.Errorf("got %.40s, %v, want a drawing", drawing, err)
	}
	answer, err := asked(t, calculation.SolventBlend, words)
	if err != nil || len(answer.Parts) != 2 || answer.Teas == nil {
		t.Errorf("got %+v, %v, want two parts and a place in the triangle", answer, err)
	}
}

// A class of instrument is in the budget, and in full its source says whether its limits
// were read; what it cannot measure is told where the class stands.
func TestClassesOfInstruments(t *testing.T) {
	t.Parallel()
	checked := `{"solute": {"material": "ethyl-methacrylate-methyl-acrylate-copolymer"},
		"solvent": {"liquid": {"material": "acetone"}}, "residue": {"value": 2.08, "unit": "g"},
		"instruments": {"scale": {"readability": {"value": 0.01, "unit": "g"}}},
		"portionVolume": {"value": %s, "unit": "mL", "uncertainty": {"class": %q}}}`
	for class, want := range map[string]string{"iso-648-b": "memory", "astm-e969-a": "read", "astm-e1272-b": "read"} {
		found, err := asked(t, calculation.DryCheck, fmt.Sprintf(checked, "10", class))
		if err != nil {
			t.Fatal(err)
		}
		if got := slices.IndexFunc(*found.Advice.Sources, func(s api.AnswerSource) bool {
			return strings.HasPrefix(class, s.Id) && string(s.Status) == want
		}); got < 0 {
			t.Errorf("%s: got the sources %+v, want its standard, %s", class, *found.Advice.Sources, want)
		}
	}
	_, err := asked(t, calculation.DryCheck, fmt.Sprintf(checked, "12", "iso-648-b"))
	if list := fault.From(err); len(list) != 1 || list[0].Code != "class-size" ||
		list[0].Pointer != "/portionVolume/uncertainty/class" {
		t.Errorf("12 mL with a pipette: got %v, want class-size at its class", err)
	}
	_, err = asked(t, calculation.MakeUp, `{"resin": {"solid": {"material": "ethyl-methacrylate-methyl-acrylate-copolymer"}},
		"strength": {"basis": "mass-per-solution-volume", "value": 5}, "solvent": {"liquid": {"material": "acetone"}},
		"amount": {"finished": {"value": 600, "unit": "mL"}},
		"instruments": {"measure": {"uncertainty": {"class": "astm-e1272-a"}}}}`)
	if list := fault.From(err); len(list) != 1 || list[0].Code != "class-range" ||
		list[0].Pointer != "/instruments/measure/uncertainty/class" {
		t.Errorf("600 mL in a cylinder known to 500: got %v, want class-range, once, at its class", err)
	}
}

// US proof is twice the percentage by volume (27 CFR 30.11), at 60 °F: 190 proof is 95 %
// there, and within 0.08 of it at 20 °C. A proof that is not named has two readings.
func TestSpiritsInProof(t *testing.T) {
	t.Parallel()
	convert := func(value, unit string) (api.ConvertAnswer, error) {
		return asked(t, calculation.Conversion, fmt.Sprintf(`{"stock": {"solution": {
			"solute": {"name": "a resin", "density": {"value": 1.1, "unit": "g/mL"}},
			"solvent": {"liquid": {"material": "ethanol", "alcohol": {"value": %s, "unit": %q}}},
			"strength": {"basis": "mass-per-solvent-volume", "value": 10}}}}`, value, unit))
	}
	proof, err := convert("190", "US proof")
	if err != nil {
		t.Fatal(err)
	}
	weaker, _ := convert("94.92", "%")
	stronger, _ := convert("95.08", "%")
	density := func(a api.ConvertAnswer) float64 { return a.Mixture.Density.Quantity.Value }
	if density(proof) >= density(weaker) || density(proof) <= density(stronger) {
		t.Errorf("190 US proof: got a density of %v, want one between %v and %v", density(proof), density(stronger),
			density(weaker))
	}
	_, err = convert("190", "proof")
	list := fault.From(err)
	if len(list) != 1 || list[0].Code != "proof-ambiguous" {
		t.Fatalf("190 proof: got %v, want proof-ambiguous", err)
	}
	if readings, worded := list[0].Extra["readings"].([]api.StrengthReading); !worded || len(readings) != 2 {
		t.Errorf("190 proof: got %+v, want two readings", list[0].Extra)
	}
}

// Measured air takes readings wherever it takes a measured quantity, and the scatter of their average is in the answer:
// 412, 405 and 410 ppm average 409 with s/√n = 3.6056/√3 ppm (GUM, 4.2.3).
func TestReadingsOfTheAirAreAveraged(t *testing.T) {
	t.Parallel()
	readings := `{"readings": [412, 405, 410], "unit": "[ppm]"}`
	scatter := math.Sqrt(13) / math.Sqrt(3)
	air, err := asked(t, calculation.Vapour, `{"air": {"solvents": [{"material": "acetone", "concentration": `+readings+`}],
		"temperature": {"readings": [24, 26], "unit": "Cel"}, "pressure": {"readings": [101, 101.4], "unit": "kPa"}}}`)
	if err != nil {
		t.Fatal(err)
	}
	if got := air.Air.Solvents[0].Ppm; math.Abs(got.Value-409) > 1e-9 || math.Abs(got.Uncertainty.Standard-scatter) > 1e-6 {
		t.Errorf("got %+v, want 409 ± %v ppm", got, scatter)
	}
	// k = ln(409/200)/1 h, u(k) = u(C)/C where the second reading is exact.
	changes, err := asked(t, calculation.Vapour, `{"airChanges": {"first": `+readings+`, "second": {"value": 200, "unit": "[ppm]"},
		"between": {"value": 1, "unit": "h"}}}`)
	if err != nil {
		t.Fatal(err)
	}
	if got := changes.AirChanges.Changes; math.Abs(got.Value-math.Log(409./200)) > 1e-9 ||
		math.Abs(got.Uncertainty.Standard-scatter/409) > 1e-6 {
		t.Errorf("got %+v, want ln(409/200) ± %v", got, scatter/409)
	}
	for _, w := range changes.Advice.Warnings {
		if w.Code == "readings-exact" {
			t.Errorf("got %q beside readings that scatter", w.Sentence)
		}
	}
	if _, err := asked(t, calculation.Vapour, `{"work": {"solvents": [{"material": "acetone", "amount": {"value": 50, "unit": "mL"},
		"incoming": {"readings": [3, 5], "unit": "[ppm]"}}], "release": {"spill": {"area": {"value": 500, "unit": "cm2"}}},
		"nearField": {"airSpeed": {"readings": [0.08, 0.12], "unit": "m/s"}},
		"room": {"volume": {"value": 60, "unit": "m3"}, "air": {"flow": {"readings": [95, 105], "unit": "m3/h"}},
		"temperature": {"readings": [19, 21], "unit": "Cel"}, "pressure": {"readings": [101, 101.4], "unit": "kPa"}}}}`); err != nil {
		t.Error(err)
	}
}

// Three weighings of 421.9, 422.1 and 422.0 g average 422 g, ± 0.1/√3 g (GUM, 4.2.3), and the
// scale's 0.1/(2√3) g is added to that; before, one weighing has the scale alone.
func TestReadingsAreAveraged(t *testing.T) {
	t.Parallel()
	weighed := `{"byWeight": {"before": {"value": 412.6, "unit": "g", "uncertainty": {"readability": 0.1}},
		"after": {%s, "unit": "g", "uncertainty": {"readability": 0.1}}, "drying": {"state": "dried", "days": 400}, "retained": {"value": 0, "unit": "%"}}}`
	found, err := asked(t, calculation.Uptake, strings.Replace(weighed, "%s", `"readings": [421.9, 422.1, 422.0]`, 1))
	if err != nil || found.Solids == nil {
		t.Fatalf("got %+v, %v", found, err)
	}
	scale := 0.1 / (2 * math.Sqrt(3))
	if want := math.Hypot(scale, math.Hypot(scale, 0.1/math.Sqrt(3))); math.Abs(found.Solids.Value-9.4) > 1e-9 ||
		math.Abs(found.Solids.Uncertainty.Standard-want) > 1e-6 {
		t.Errorf("got %+v, want 9.4 ± %v g", found.Solids, want)
	}
	if !slices.ContainsFunc(found.Advice.Warnings, func(w api.ComputeWarning) bool {
		return w.Code == "readings-averaged" && strings.HasPrefix(w.Sentence, "The 3 readings of `after` average 422 g, ")
	}) {
		t.Errorf("got the warnings %+v, want the average", found.Advice.Warnings)
	}
	for _, words := range []string{`"value": 422, "readings": [422, 421], "unit": "g"`, `"unit": "g"`} {
		_, err := asked(t, calculation.Uptake, strings.Replace(weighed, `%s, "unit": "g"`, words, 1))
		if list := fault.From(err); len(list) != 1 || list[0].Code+list[0].Pointer != "value-or-readings/byWeight/after" {
			t.Errorf("%s: got %v, want value-or-readings at the quantity", words, err)
		}
	}
}
