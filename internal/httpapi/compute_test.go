package httpapi_test

import (
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"strings"
	"testing"

	"meniscus/api"
)

// Every example request of a computation in the contract is answered; the judge
// holds the answers to the contract.
func TestContractsComputationsAreAnswered(t *testing.T) {
	t.Parallel()
	doc, err := api.Document()
	if err != nil {
		t.Fatal(err)
	}
	s := open(t)
	sent := 0
	for path, item := range doc.Paths.Map() {
		if !strings.HasPrefix(path, "/v1/compute/") || item.Post == nil {
			continue
		}
		for _, media := range item.Post.RequestBody.Value.Content {
			for name, example := range media.Examples {
				body, err := json.Marshal(example.Value.Value)
				if err != nil {
					t.Fatal(err)
				}
				r := s.do(http.MethodPost, path, string(body))
				if r.status != http.StatusOK {
					t.Errorf("%s, example %s: got %d: %s", path, name, r.status, r.body)
					continue
				}
				sent++
				content := item.Post.Responses.Value("200").Value.Content
				if answer := content.Get("application/json").Examples[name]; answer != nil {
					compareExample(t, path+" "+name, answer.Value.Value, r.at())
				}
				if text := content.Get("text/plain"); text != nil && text.Examples[name] != nil {
					r := s.do(http.MethodPost, path, string(body), header{"Accept", "text/plain"}).want(http.StatusOK)
					compareExample(t, path+" "+name+" as text", text.Examples[name].Value.Value, string(r.body))
				}
			}
		}
	}
	if sent < 8 {
		t.Errorf("examples sent: got %d, want all of the computations'", sent)
	}
}

// compareExample holds an answer that the contract shows against the one that is
// given. An example may leave members out and shorten lists; what it shows is true.
func compareExample(t *testing.T, at string, shown, given any) {
	t.Helper()
	switch shown := shown.(type) {
	case map[string]any:
		given, _ := given.(map[string]any)
		for name, value := range shown {
			compareExample(t, at+"/"+name, value, given[name])
		}
	case []any:
		given, _ := given.([]any)
		if len(shown) > len(given) {
			t.Errorf("%s: the example shows %d items, the answer has %d", at, len(shown), len(given))
			return
		}
		for i, value := range shown {
			compareExample(t, fmt.Sprint(at, "/", i), value, given[i])
		}
	case float64:
		if x, ok := given.(float64); !ok || math.Abs(x-shown) > 1e-9*math.Abs(shown) {
			t.Errorf("%s: the example shows %v, the answer is %v", at, shown, given)
		}
	default:
		if shown != given {
			t.Errorf("%s: the example shows %v, the answer is %v", at, shown, given)
		}
	}
}

const (
	inAcetone = `"solvent":{"liquid":{"material":"acetone"}}`
	resin     = `"ethyl-methacrylate-methyl-acrylate-copolymer"`
	solid     = `"resin":{"solid":{"material":` + resin + `}}`
	stock20   = `"stock":{"solution":{"solute":{"material":` + resin + `},` + inAcetone + `,"strength":{"value":20,"unit":"g/dL","basis":"mass-per-solution-volume"}}}`
)

// strength gives the number of a mixture on a basis.
func (r reply) strength(basis string, path ...any) float64 {
	r.t.Helper()
	views, _ := r.at(append(path, "strengths")...).([]any)
	for _, v := range views {
		if view := v.(object); view["basis"] == basis {
			x, ok := view["value"].(float64)
			if !ok {
				r.t.Fatalf("no value on %s: %v", basis, view)
			}
			return x
		}
	}
	r.t.Fatalf("no strength on %s at %v in %s", basis, path, r.body)
	return 0
}

// Common practice: 20 % of 150 mL made to volume is 30 g; the same by weight alone.
func TestMakeUpOverHTTP(t *testing.T) {
	t.Parallel()
	s := open(t)
	r := s.do(http.MethodPost, "/v1/compute/make-up?detail=full", `{`+solid+`,"strength":{"value":20,"unit":"g/dL","basis":"mass-per-solution-volume"},`+inAcetone+`,"amount":{"finished":{"value":150,"unit":"mL"}}}`).want(http.StatusOK)
	if got := r.at("main", "ingredients", 0, "rounded", "value"); got != 30.0 {
		t.Errorf("resin: got %v g, want 30", got)
	}
	if got := r.at("main", "ingredients", 1, "mark", "value"); got != 150.0 {
		t.Errorf("mark: got %v mL, want 150", got)
	}
	for n := range 2 {
		if got := r.at("byWeight", "ingredients", n, "how"); got != "weigh" {
			t.Errorf("by weight, ingredient %d: got %v", n, got)
		}
	}
}

// Fill to the mark: 10 g of any solid made up to 100 mL is 10 g per 100 mL (the meaning of
// the basis), so that it is answered without a density, and nothing else is.
func TestMakeUpToTheMarkWithoutDensity(t *testing.T) {
	t.Parallel()
	s := open(t)
	r := s.do(http.MethodPost, "/v1/compute/make-up?detail=full", `{"resin":{"solid":{"name":"an old resin"}},`+inAcetone+`,"strength":{"value":10,"unit":"g/dL","basis":"mass-per-solution-volume"},"amount":{"finished":{"value":100,"unit":"mL"}}}`).want(http.StatusOK)
	if got := r.strength("mass-per-solution-volume", "main", "asRounded"); got != 10 {
		t.Errorf("got %v g per 100 mL, want 10", got)
	}
	filler, _ := r.at("main", "ingredients", 1).(object)
	for _, left := range []string{"exact", "rounded", "mass", "volume"} {
		if filler[left] != nil {
			t.Errorf("%s of the acetone depends on the density, got %v", left, filler[left])
		}
	}
	if r.at("byWeight", "unanswered") == nil {
		t.Error("by weight depends on the density, and was answered")
	}
}

// Common practice: one part of 20 g per 100 mL of solution with three parts of solvent
// by volume is 5 g per 100 mL; said on the other bases it is something else.
func TestDilutionAtEachBasis(t *testing.T) {
	t.Parallel()
	s := open(t)
	for basis, holds := range map[string]bool{"mass-per-solution-volume": true, "mass-per-solvent-volume": false, "mass-fraction": false} {
		unit := "g/dL"
		if basis == "mass-fraction" {
			unit = "%"
		}
		stock := strings.Replace(strings.Replace(stock20, "mass-per-solution-volume", basis, 1), "g/dL", unit, 1)
		r := s.do(http.MethodPost, "/v1/compute/dilute?detail=full", `{`+stock+`,"strength":{"basis":"parts-by-volume","parts":[1,3]},"amount":{"onHand":{"value":50,"unit":"mL"}}}`).want(http.StatusOK)
		got := r.strength(basis, "target")
		if (math.Abs(got-5) < 1e-9) != holds {
			t.Errorf("%s: got %v, want 5: %v", basis, got, holds)
		}
		if r.at("simpleRule", "holds") != holds {
			t.Errorf("%s: got rule %v", basis, r.at("simpleRule"))
		}
	}
}

func TestNoBasisNoAnswer(t *testing.T) {
	t.Parallel()
	s := open(t)
	r := s.do(http.MethodPost, "/v1/compute/make-up?detail=full", `{`+solid+`,"strength":{"value":20,"unit":"%"},`+inAcetone+`,"amount":{"finished":{"value":150,"unit":"mL"}}}`)
	r.wantProblem(http.StatusUnprocessableEntity, "strength-basis-missing")
	readings, _ := r.at("readings").([]any)
	if len(readings) != 4 || r.at("errors", 0, "pointer") != "/strength/basis" {
		t.Fatalf("got %d readings at %v: %s", len(readings), r.at("errors", 0, "pointer"), r.body)
	}
	// Grams in 100 mL of finished solution, by the computed basis table of the copolymer
	// in acetone: 20, 17.04 and 16.87 (with acetone of 0.7908 g/mL; here 0.7901).
	for i, want := range []float64{20, 17.04, 16.87} {
		got, _ := r.at("readings", i, "in100mL", "value").(float64)
		if math.Abs(got-want) > 0.02 {
			t.Errorf("reading %v: got %v g in 100 mL, want %v", r.at("readings", i, "basis"), got, want)
		}
	}
	s.do(http.MethodPost, "/v1/compute/convert?detail=full", `{"stock":{"solution":{"solute":{"material":`+resin+`},`+inAcetone+`,"strength":{"value":20}}}}`).
		wantProblem(http.StatusUnprocessableEntity, "strength-basis-missing")
}

// A stock whose basis is not recorded is answered on every reading, and as a range: of
// the strength, or, where a strength was asked for, of what each reading's amounts come to.
func TestUnknownStockIsARange(t *testing.T) {
	t.Parallel()
	s := open(t)
	unknown := strings.Replace(stock20, `"unit":"g/dL","basis":"mass-per-solution-volume"`, `"basis":"unknown"`, 1)
	onHand := `"onHand":{"value":50,"unit":"mL"}`
	for _, tt := range []struct {
		path, body string
		at         []any
		readings   int
	}{
		{"dilute", `{` + unknown + `,"strength":{"basis":"parts-by-volume","parts":[1,3]},"amount":{` + onHand + `}}`, []any{"ranges", 0}, 4},
		{"adjust", `{` + unknown + `,` + onHand + `,"weaken":{"strength":{"value":2,"basis":"mass-fraction"}}}`, []any{"readings", 0, "poured"}, 4},
		{"blend", `{"stocks":[{` + unknown + `,` + onHand + `},{` + unknown + `,` + onHand + `}]}`, []any{"ranges", 0}, 4},
		{"blend", `{"stocks":[{` + unknown + `,` + onHand + `}],"fresh":{"liquid":{"material":"acetone"}},"strength":{"value":5,"unit":"g/dL","basis":"mass-per-solution-volume"},"total":{"value":50,"unit":"mL"}}`, []any{"readings", 0, "poured"}, 4},
	} {
		r := s.do(http.MethodPost, "/v1/compute/"+tt.path+"?detail=full", tt.body).want(http.StatusOK)
		if readings, _ := r.at("readings").([]any); len(readings) != tt.readings {
			t.Errorf("%s: got %d readings: %s", tt.path, len(readings), r.body)
		}
		lowest, _ := r.at(append(tt.at, "lowest", "value")...).(float64)
		highest, _ := r.at(append(tt.at, "highest", "value")...).(float64)
		if !(lowest > 0 && highest > lowest) {
			t.Errorf("%s: got %v to %v: %s", tt.path, lowest, highest, r.body)
		}
	}
}

func TestUnreachableBlendShowsItsReach(t *testing.T) {
	t.Parallel()
	s := open(t)
	r := s.do(http.MethodPost, "/v1/compute/blend?detail=full", `{"stocks":[{`+stock20+`,"onHand":{"value":100,"unit":"mL"}}],"fresh":{"liquid":{"material":"acetone"}},"strength":{"value":15,"unit":"g/dL","basis":"mass-per-solution-volume"},"total":{"value":200,"unit":"mL"}}`)
	r.wantProblem(http.StatusUnprocessableEntity, "target-unreachable")
	if got := fmt.Sprint(r.at("reach", "highest", "value")); got != "10" {
		t.Errorf("highest: got %v, want 10 (100 mL of 20 in 200 mL)", got)
	}
}

// Bad input: each a problem at its place. Detail must name what is allowed where there
// is a range.
func TestComputationsRefuse(t *testing.T) {
	t.Parallel()
	s := open(t)
	finished := `"amount":{"finished":{"value":150,"unit":"mL"}}`
	strength := `"strength":{"value":20,"unit":"g/dL","basis":"mass-per-solution-volume"}`
	tests := []struct {
		name, path, body, pointer, code string
		status                          int
	}{
		{"zero amount", "make-up", `{` + solid + `,` + strength + `,` + inAcetone + `,"amount":{"finished":{"value":0,"unit":"mL"}}}`, "/amount/finished", "out-of-range", 422},
		{"negative amount", "make-up", `{` + solid + `,` + strength + `,` + inAcetone + `,"amount":{"finished":{"value":-5,"unit":"mL"}}}`, "/amount/finished", "out-of-range", 422},
		{"1e308", "make-up", `{` + solid + `,` + strength + `,` + inAcetone + `,"amount":{"finished":{"value":1e308,"unit":"mL"}}}`, "/amount/finished/value", "number-out-of-range", 422},
		{"1e-308", "make-up", `{` + solid + `,"strength":{"value":1e-308,"unit":"g/dL","basis":"mass-per-solution-volume"},` + inAcetone + `,` + finished + `}`, "/strength/value", "number-out-of-range", 422},
		{"above 100 %", "make-up", `{` + solid + `,"strength":{"value":120,"unit":"%","basis":"mass-fraction"},` + inAcetone + `,` + finished + `}`, "/strength", "out-of-range", 422},
		{"beyond the resin's own density", "make-up", `{` + solid + `,"strength":{"value":116,"unit":"g/dL","basis":"mass-per-solution-volume"},` + inAcetone + `,` + finished + `}`, "/strength", "strength-beyond-volume", 422},
		{"density of a powder", "make-up", `{"resin":{"solid":{"name":"powder","density":{"value":0.24,"unit":"g/mL"}}},` + strength + `,` + inAcetone + `,` + finished + `}`, "/resin/solid/density", "density-out-of-range", 422},
		{"degrees Fahrenheit as Celsius", "make-up", `{` + solid + `,` + strength + `,` + inAcetone + `,` + finished + `,"temperature":{"value":70,"unit":"Cel"}}`, "/temperature", "out-of-range", 422},
		{"container too small", "make-up", `{` + solid + `,` + strength + `,` + inAcetone + `,` + finished + `,"container":{"capacity":{"value":100,"unit":"mL"}}}`, "/container/capacity", "container-too-small", 422},
		{"unknown material", "make-up", `{"resin":{"solid":{"material":"unobtainium"}},` + strength + `,` + inAcetone + `,` + finished + `}`, "/resin/solid/material", "material-unknown", 422},
		{"fractions that do not sum to one", "make-up", `{` + solid + `,` + strength + `,"solvent":{"blend":{"by":"volume","shares":[{"material":"acetone","fraction":0.7},{"material":"ethanol","fraction":0.2}]}},` + finished + `}`, "/solvent/blend", "fractions-sum", 422},
		{"liquids that do not mix", "make-up", `{` + solid + `,` + strength + `,"solvent":{"blend":{"by":"volume","shares":[{"material":"toluene","fraction":0.5},{"material":"water","fraction":0.5}]}},` + finished + `}`, "/solvent/blend/shares/1", "solvents-do-not-mix", 422},
		{"a reacting resin", "make-up", `{"resin":{"solid":{"material":"epoxy-bisphenol-a-amine"}},` + strength + `,` + inAcetone + `,` + finished + `}`, "/resin/solid", "reacts", 422},
		{"plaster", "make-up", `{"resin":{"solid":{"material":"plaster-of-paris","grade":"gypsum"}},` + strength + `,"solvent":{"liquid":{"material":"water"}},` + finished + `}`, "/resin/solid", "reacts", 422},
		{"a dispersion without its solids", "make-up", `{"resin":{"dispersion":{"material":"acrylic-dispersion"}},"strength":{"value":5,"unit":"%","basis":"mass-fraction"},` + finished + `}`, "/resin/dispersion/solids", "solids-missing", 422},
		{"a dispersion as if it were a solid", "make-up", `{"resin":{"solid":{"material":"acrylic-dispersion"}},` + strength + `,` + inAcetone + `,` + finished + `}`, "/resin/solid/material", "dispersion-needs-solids", 422},
		{"unknown basis where one is needed", "make-up", `{` + solid + `,"strength":{"value":20,"basis":"unknown"},` + inAcetone + `,` + finished + `}`, "/strength/basis", "strength-basis-unknown", 422},
		{"grams in a volume's place", "make-up", `{` + solid + `,"strength":{"value":20,"unit":"g","basis":"mass-per-solution-volume"},` + inAcetone + `,` + finished + `}`, "/strength/unit", "unit-kind", 422},
		{"unknown unit", "make-up", `{` + solid + `,` + strength + `,` + inAcetone + `,"amount":{"finished":{"value":1,"unit":"cup"}}}`, "/amount/finished/unit", "unit-unknown", 422},
		{"two amounts", "make-up", `{` + solid + `,` + strength + `,` + inAcetone + `,"amount":{"finished":{"value":1,"unit":"mL"},"solvent":{"value":1,"unit":"mL"}}}`, "/amount", "choice", 422},
		{"target above stock", "dilute", `{` + stock20 + `,"strength":{"value":25,"unit":"%","basis":"mass-fraction"},"amount":{"finished":{"value":100,"unit":"mL"}}}`, "/strength", "target-above-stock", 422},
		{"volume of loose pellets", "make-up", `{` + solid + `,"strength":{"basis":"parts-by-volume","parts":[1,1]},` + inAcetone + `,` + finished + `}`, "/resin", "parts-of-loose-solid", 422},
		{"topping up after taking out", "adjust", `{` + stock20 + `,"restore":{"byLevel":{"mark":{"value":500,"unit":"mL"},"now":{"value":430,"unit":"mL"},"takenOut":"yes"}}}`, "/restore/byLevel/takenOut", "taken-out-since-mark", 422},
		{"forty-one stocks", "blend", `{"stocks":[` + strings.Repeat(`{`+stock20+`},`, 40) + `{` + stock20 + `}]}`, "/stocks", "item-count", 422},
		{"dry film heavier than the portion", "dry-check", `{"solute":{"material":` + resin + `},` + inAcetone + `,"portionMass":{"value":1,"unit":"g"},"residue":{"value":2,"unit":"g"}}`, "/portionMass", "residue-above-portion", 422},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			r := s.do(http.MethodPost, "/v1/compute/"+test.path+"?detail=full", test.body).want(test.status)
			if r.at("errors", 0, "pointer") != test.pointer || r.at("errors", 0, "code") != test.code {
				t.Errorf("got %s", r.body)
			}
		})
	}
}
