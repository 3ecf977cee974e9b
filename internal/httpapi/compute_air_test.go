package httpapi_test

import (
	"encoding/json"
	"math"
	"net/http"
	"strings"
	"testing"

	"meniscus/api"
	"meniscus/internal/material"

	"github.com/google/go-cmp/cmp"
)

// Where the contract prints the answer to an example of these computations, that
// is the answer given.
func TestPrintedAnswersAreTheOnesGiven(t *testing.T) {
	t.Parallel()
	s := open(t)
	doc, err := api.Document()
	if err != nil {
		t.Fatal(err)
	}
	compared := 0
	for _, name := range []string{"ethanol-water", "vapour", "uptake", "container", "formaldehyde", "solvent-blend"} {
		path := "/v1/compute/" + name
		item := doc.Paths.Value(path)
		answers := item.Post.Responses.Status(http.StatusOK).Value.Content["application/json"].Examples
		for name, example := range item.Post.RequestBody.Value.Content["application/json"].Examples {
			r := s.do(http.MethodPost, path, example.Value.Value).want(http.StatusOK)
			if printed := answers[name]; printed != nil {
				compared++
				if diff := cmp.Diff(r.at(), printed.Value.Value); diff != "" {
					t.Errorf("%s, %s: the printed answer is not the one given (- given, + printed):\n%s", path, name, diff)
				}
			}
		}
	}
	if compared < 6 {
		t.Errorf("compared %d answers, want one of each computation at least", compared)
	}
}

// number reads a member that must be a number.
func (r reply) numeric(path ...any) float64 {
	r.t.Helper()
	v, is := r.at(path...).(float64)
	if !is {
		r.t.Fatalf("no number at %v: %s", path, r.body)
	}
	return v
}

func (r reply) warnings() string {
	r.t.Helper()
	var codes []string
	list, _ := r.at("advice", "warnings").([]any)
	for _, w := range list {
		codes = append(codes, w.(object)["code"].(string))
	}
	return strings.Join(codes, " ")
}

func TestComputeEthanolWater(t *testing.T) {
	t.Parallel()
	s := open(t)
	// OIML R 22, evaluated outside of this program: 1000 mL of 96 % to 70 % by volume
	// takes 407.80 mL of water and makes 1371.43 mL.
	r := s.do(http.MethodPost, "/v1/compute/ethanol-water?detail=full", `{"dilution":{
		"stock":{"basis":"volume-fraction","value":96,"unit":"%","uncertainty":{"standard":0.2}},
		"target":{"basis":"volume-fraction","value":70,"unit":"%"},
		"amount":{"stock":{"value":1,"unit":"L"}}}}`).want(http.StatusOK)
	if got := r.numeric("dilution", "waterVolume", "value"); math.Abs(got-407.80) > 0.005 {
		t.Errorf("water: got %g, want 407.80", got)
	}
	if got := r.numeric("dilution", "finishedVolume", "value"); math.Abs(got-1371.43) > 0.005 {
		t.Errorf("made: got %g, want 1371.43", got)
	}
	if got := r.at("dilution", "waterVolume", "budget", 0, "input"); got != "the strength of the stock" {
		t.Errorf("largest in the budget: got %v", got)
	}
	for name, tt := range map[string]struct{ body, pointer string }{
		"too hot":    {`{"properties":{"strength":{"basis":"mass-fraction","value":70,"unit":"%"},"temperature":{"value":60,"unit":"Cel"}}}`, "/properties/temperature"},
		"°F as °C":   {`{"properties":{"strength":{"basis":"mass-fraction","value":70,"unit":"%"},"temperature":{"value":68,"unit":"Cel"}}}`, "/properties/temperature"},
		"no unit":    {`{"properties":{"strength":{"basis":"mass-fraction","value":70,"unit":"%"},"temperature":{"value":68}}}`, "/properties/temperature/unit"},
		"no basis":   {`{"dilution":{"stock":{"value":96,"unit":"%"},"target":{"basis":"volume-fraction","value":70,"unit":"%"},"amount":{"stock":{"value":1,"unit":"L"}}}}`, "/dilution/stock/basis"},
		"huge":       {`{"dilution":{"stock":{"basis":"volume-fraction","value":96,"unit":"%"},"target":{"basis":"volume-fraction","value":70,"unit":"%"},"amount":{"stock":{"value":1e308,"unit":"L"}}}}`, "/dilution/amount/stock/value"},
		"tiny":       {`{"dilution":{"stock":{"basis":"volume-fraction","value":96,"unit":"%"},"target":{"basis":"volume-fraction","value":70,"unit":"%"},"amount":{"stock":{"value":1e-308,"unit":"L"}}}}`, "/dilution/amount/stock/value"},
		"no unit so": {`{"dilution":{"stock":{"basis":"volume-fraction","value":96,"unit":"%"},"target":{"basis":"volume-fraction","value":70,"unit":"%"},"amount":{"stock":{"value":1,"unit":"jar"}}}}`, "/dilution/amount/stock/unit"},
		"two":        {`{"properties":{},"mixing":{"parts":[{"amount":{"value":1,"unit":"L"}},{"amount":{"value":1,"unit":"L"}}]}}`, ""},
	} {
		s.refused(name, "/v1/compute/ethanol-water?detail=full", tt.body, tt.pointer)
	}
}

// refused wants a problem with a pointer.
func (s *service) refused(name, path, body, pointer string) {
	s.t.Helper()
	r := s.do(http.MethodPost, path, body)
	if r.status != http.StatusUnprocessableEntity {
		s.t.Errorf("%s: got %d, want 422: %s", name, r.status, r.body)
		return
	}
	var p struct {
		Errors []struct{ Pointer, Detail string }
	}
	if err := json.Unmarshal(r.body, &p); err != nil {
		s.t.Fatal(err)
	}
	for _, e := range p.Errors {
		if e.Pointer == pointer {
			return
		}
	}
	s.t.Errorf("%s: no fault at %s: %s", name, pointer, r.body)
}

func TestComputeVapour(t *testing.T) {
	t.Parallel()
	s := open(t)
	r := s.do(http.MethodPost, "/v1/compute/vapour?detail=full", `{"work":{
		"solvents":[{"material":"acetone","amount":{"value":150,"unit":"mL"}},{"material":"toluene","amount":{"value":50,"unit":"mL"}}],
		"release":{"steady":{"duration":{"value":2,"unit":"h"}}},
		"room":{"volume":{"value":60,"unit":"m3"},"air":{"changes":{"value":2,"unit":"1/h"}}}}}`).want(http.StatusOK)
	for i, name := range []string{"acetone", "toluene"} {
		if got := r.at("work", "solvents", i, "solvent"); got != name {
			t.Errorf("solvent %d: got %v, want %s", i, got, name)
		}
		near := r.numeric("work", "solvents", i, "nearField", "over8Hours", "ppm", "value")
		room := r.numeric("work", "solvents", i, "room", "over8Hours", "ppm", "value")
		if !(near > room) {
			t.Errorf("%s: near the work %g ppm, room %g", name, near, room)
		}
	}
	if got := r.warnings(); !strings.Contains(got, "breathing-zone") || !strings.Contains(got, "above-flash-point") {
		t.Errorf("warnings: got %s", got)
	}
	if strings.Contains(strings.ToLower(string(r.body)), "is safe") {
		t.Errorf("it calls something safe: %s", r.body)
	}
	// The mixing factor, the pressure, the temperature and the near field were left out, and are said.
	if list, _ := r.at("assumed").([]any); len(list) != 5 {
		t.Errorf("assumed: got %v, want five", list)
	}
	// Saturation at 20 °C by Poling, Prausnitz and O'Connell, 5th ed.: 243 870 ppm.
	if got := r.numeric("work", "solvents", 0, "saturation", "value"); math.Abs(got/243870-1) > 0.001 {
		t.Errorf("saturation of acetone: got %g, want 243 870", got)
	}
	for name, tt := range map[string]struct{ body, pointer string }{
		"no solvent":  {work(`"unobtainium"`, "150", "60"), "/work/solvents/0/material"},
		"a resin":     {work(`"poly-vinyl-acetate-resin"`, "150", "60"), "/work/solvents/0/material"},
		"negative":    {work(`"acetone"`, "-150", "60"), "/work/solvents/0/amount"},
		"no room":     {work(`"acetone"`, "150", "0"), "/work/room/volume"},
		"no mixtures": {work(`"methylated-spirit"`, "150", "60"), "/work/solvents/0"},
	} {
		s.refused(name, "/v1/compute/vapour?detail=full", tt.body, tt.pointer)
	}
	// A spirit counts as ethanol and water; white spirit has no equation and a limit in mg/m³ alone.
	r = s.do(http.MethodPost, "/v1/compute/vapour?detail=full", work(`"ethanol-96"`, "100", "60")).want(http.StatusOK)
	if got := r.at("work", "solvents", 1, "solvent"); got != "water" {
		t.Errorf("spirit: got %v, want ethanol and water", got)
	}
	r = s.do(http.MethodPost, "/v1/compute/vapour?detail=full", work(`"white-spirit-stoddard-solvent"`, "100", "60")).want(http.StatusOK)
	if got := r.numeric("work", "limits", 0, "parts", 0, "limit", "value"); got < 50 {
		t.Errorf("limit of white spirit: got %g ppm", got)
	}
}

func work(solvent, amount, volume string) string {
	return `{"work":{"solvents":[{"material":` + solvent + `,"amount":{"value":` + amount + `,"unit":"mL"}}],
		"release":{"atOnce":true},"room":{"volume":{"value":` + volume + `,"unit":"m3"},"air":{"flow":{"value":100,"unit":"m3/h"}}}}}`
}

// Every solvent of the tables can be computed with.
func TestComputeVapourOfEverySolvent(t *testing.T) {
	t.Parallel()
	s := open(t)
	for _, id := range []string{
		"acetone", "ethanol", "water", "propan-2-ol", "methanol", "toluene", "xylene-mixed-isomers", "o-xylene", "m-xylene", "p-xylene", "ethyl-acetate",
		"n-butyl-acetate", "butanone", "1-methoxy-2-propanol", "diacetone-alcohol", "dichloromethane", "n-heptane", "cyclohexane", "white-spirit-stoddard-solvent", "ethanol-96",
	} {
		s.do(http.MethodPost, "/v1/compute/vapour?detail=full", work(`"`+id+`"`, "100", "60")).want(http.StatusOK)
		s.do(http.MethodPost, "/v1/compute/vapour?detail=full", `{"bottleInWarmth":{"solvents":[{"material":"`+id+`","amount":{"value":400,"unit":"mL"}}],"capacity":{"value":500,"unit":"mL"}}}`).want(http.StatusOK)
		s.do(http.MethodPost, "/v1/compute/container?detail=full", `{"solvents":["`+id+`"],"body":{"material":"glass"}}`).want(http.StatusOK)
		s.do(http.MethodPost, "/v1/compute/solvent-blend?detail=full", `{"by":"volume","solvents":[{"material":"`+id+`","fraction":{"value":1,"unit":"1"}}]}`).want(http.StatusOK)
	}
}

func TestComputeContainer(t *testing.T) {
	t.Parallel()
	s := open(t)
	for name, tt := range map[string]struct{ body, verdict, known, warning string }{
		"acetone in HDPE":        {`{"solvents":["acetone"],"body":{"code":"2"}}`, "unsuitable", "read", "container-unsuitable"},
		"toluene in PC":          {`{"solvents":["toluene"],"body":{"material":"pc"}}`, "unsuitable", "read-class", "container-unsuitable"},
		"anything in code 7":     {`{"solvents":["acetone"],"body":{"code":"7"}}`, "unknown", "unknown", "container-unknown"},
		"glass, recalled":        {`{"solvents":["acetone","ethanol"],"body":{"material":"glass"}}`, "satisfactory", "memory", "container-memory"},
		"an unrated solvent":     {`{"solvents":["chloroform"],"body":{"material":"glass"}}`, "unknown", "unknown", "container-unknown"},
		"the liner decides":      {`{"solvents":["toluene"],"body":{"material":"glass"},"closure":{"material":"ptfe"},"liner":{"material":"silicone"}}`, "unsuitable", "read-class", "container-unsuitable"},
		"a spirit is its parts":  {`{"solvents":["ethanol-96"],"body":{"material":"carbon-steel"}}`, "limited", "memory", "container-limited"},
		"isomers stand together": {`{"solvents":["o-xylene"],"body":{"material":"ps"}}`, "unsuitable", "read-class", "container-unsuitable"},
	} {
		r := s.do(http.MethodPost, "/v1/compute/container?detail=full", tt.body).want(http.StatusOK)
		if r.at("verdict") != tt.verdict || r.at("knownBy") != tt.known || !strings.Contains(r.warnings(), tt.warning) {
			t.Errorf("%s: got %v (%v), %s; want %s (%s), %s", name, r.at("verdict"), r.at("knownBy"), r.warnings(), tt.verdict, tt.known, tt.warning)
		}
	}
	s.refused("no such material", "/v1/compute/container?detail=full", `{"solvents":["acetone"],"body":{"material":"unobtainium"}}`, "/body")
	s.refused("no such code", "/v1/compute/container?detail=full", `{"solvents":["acetone"],"body":{"code":"8"}}`, "/body/code")
}

func TestComputeFormaldehyde(t *testing.T) {
	t.Parallel()
	s := open(t)
	// Histology supplier's data sheet: 1 part of stock with 9 of water, 3.7 to 4.0 %
	// formaldehyde; 6.5 g of the anhydrous salt are 12.27 g of the heptahydrate.
	r := s.do(http.MethodPost, "/v1/compute/formaldehyde?detail=full", `{"stock":{"strength":{"basis":"mass-fraction","value":37,"unit":"%"}},
		"target":{"basis":"as-supplied-volume","value":10,"unit":"%"},"amount":{"value":1,"unit":"L"},"buffer":{"dibasic":"heptahydrate"}}`).want(http.StatusOK)
	if got := r.numeric("stockVolume", "value"); math.Abs(got-100) > 1e-9 {
		t.Errorf("stock: got %g mL, want 100", got)
	}
	if got := r.numeric("perVolume", "value"); got < 3.7 || got > 4.02 {
		t.Errorf("formaldehyde: got %g g in 100 mL, want 3.7 to 4.0", got)
	}
	if got := r.numeric("salts", 1, "mass", "value"); math.Abs(got-12.27) > 0.005 {
		t.Errorf("salt: got %g g, want 12.27", got)
	}
	r = s.do(http.MethodPost, "/v1/compute/formaldehyde?detail=full", `{"stock":{"strength":{"basis":"mass-per-solution-volume","value":40,"unit":"g/dL"}},
		"target":{"basis":"parts-by-volume","parts":[1,9]},"amount":{"value":1,"unit":"L"},"instruments":{"measure":{"readability":{"value":10,"unit":"mL"}}}}`).want(http.StatusOK)
	if got := r.numeric("asRounded", "perVolume", "value"); math.Abs(got-4) > 1e-9 {
		t.Errorf("1 part to 9: got %g g in 100 mL, want 4", got)
	}
	s.refused("basis of the target", "/v1/compute/formaldehyde?detail=full", `{"stock":{"strength":{"basis":"mass-fraction","value":37,"unit":"%"}},
		"target":{"basis":"parts-by-mass","parts":[1,9]},"amount":{"value":1,"unit":"L"}}`, "/target/basis")
	s.refused("stronger than the stock", "/v1/compute/formaldehyde?detail=full", `{"stock":{"strength":{"basis":"mass-fraction","value":37,"unit":"%"}},
		"target":{"basis":"mass-fraction","value":40,"unit":"%"},"amount":{"value":1,"unit":"kg"}}`, "/target")
}

func TestComputeUptake(t *testing.T) {
	t.Parallel()
	s := open(t)
	r := s.do(http.MethodPost, "/v1/compute/uptake?detail=full", `{"byWeight":{"before":{"value":412.6,"unit":"g","uncertainty":{"readability":0.1}},
		"after":{"value":421.9,"unit":"g","uncertainty":{"readability":0.1}},"drying":{"state":"dried","days":7}}}`).want(http.StatusOK)
	if got := r.numeric("atMost", "value"); math.Abs(got-9.3) > 1e-6 {
		t.Errorf("at most: got %g g, want 9.3", got)
	}
	if got := r.numeric("atLeast", "value"); math.Abs(got-9.3*0.96) > 1e-6 {
		t.Errorf("at least: got %g g, want 8.928", got)
	}
	s.refused("other basis", "/v1/compute/uptake?detail=full", `{"byVolume":{"strength":{"basis":"mass-fraction","value":5,"unit":"%"},"applied":{"value":40,"unit":"mL"}}}`, "/byVolume/strength/basis")
	s.refused("it lost weight", "/v1/compute/uptake?detail=full", `{"byWeight":{"before":{"value":2,"unit":"g"},"after":{"value":1,"unit":"g"},"drying":{"state":"dried"}}}`, "/byWeight/after")
	s.refused("half-width alone", "/v1/compute/uptake?detail=full", `{"byWeight":{"before":{"value":2,"unit":"g","uncertainty":{"halfWidth":1}},"after":{"value":3,"unit":"g"},"drying":{"state":"dried"}}}`, "/byWeight/before/uncertainty/distribution")
}

func TestComputeSolventBlend(t *testing.T) {
	t.Parallel()
	s := open(t)
	const eighty = `{"by":"volume","solvents":[{"material":"acetone","fraction":{"value":80,"unit":"%"}},{"material":"ethanol","fraction":{"value":20,"unit":"%"}}],
		"resin":{"material":"ethyl-methacrylate-methyl-acrylate-copolymer"}}`
	r := s.do(http.MethodPost, "/v1/compute/solvent-blend?detail=full", eighty).want(http.StatusOK)
	// What was observed of the mixture itself comes first.
	if got := r.at("resin", "observations", 0, "solvent"); got != "acetone with some ethanol" {
		t.Errorf("first observation: got %v, want that on the mixture", got)
	}
	if got, _ := r.at("resin", "estimate", "sentence").(string); !strings.Contains(got, "poly(ethyl methacrylate)") || !strings.Contains(got, "known to be wrong") {
		t.Errorf("estimate: got %q", got)
	}
	if got := r.at("evaporation", 0, "solvent"); got != "acetone" {
		t.Errorf("leaves first: got %v", got)
	}
	// The drawing.
	drawn := s.do(http.MethodPost, "/v1/compute/solvent-blend?detail=full", eighty, header{"Accept", "image/svg+xml"}).want(http.StatusOK)
	if got := drawn.header.Get("Content-Type"); got != "image/svg+xml" || !strings.HasPrefix(string(drawn.body), "<svg ") {
		t.Errorf("drawing: got %s, %.60s", got, drawn.body)
	}
	// A grade that nothing was observed of, and a resin whose grade decides.
	r = s.do(http.MethodPost, "/v1/compute/solvent-blend?detail=full", `{"by":"volume","solvents":[{"material":"acetone","fraction":{"value":1,"unit":"1"}}],
		"resin":{"material":"polyethylene-glycol","grade":"123"}}`).want(http.StatusOK)
	if got := r.warnings(); !strings.Contains(got, "no-observation") {
		t.Errorf("an unheard-of grade: got %s", got)
	}
	s.refused("two layers", "/v1/compute/solvent-blend?detail=full", `{"by":"volume","solvents":[{"material":"water","fraction":{"value":50,"unit":"%"}},{"material":"toluene","fraction":{"value":50,"unit":"%"}}]}`, "/solvents")
	s.refused("not a whole", "/v1/compute/solvent-blend?detail=full", `{"by":"mass","solvents":[{"material":"acetone","fraction":{"value":50,"unit":"%"}},{"material":"toluene","fraction":{"value":40,"unit":"%"}}]}`, "/solvents")
	s.refused("no such resin", "/v1/compute/solvent-blend?detail=full", `{"by":"mass","solvents":[{"material":"acetone","fraction":{"value":1,"unit":"1"}}],"resin":{"material":"unobtainium"}}`, "/resin/material")
}

// Concentrations as a meter shows them: 500 ppm of acetone is twice the NIOSH limit of
// 250 ppm and a fiftieth of its lower explosive limit of 2.5 % (Pocket Guide, read), and
// six air changes an hour with a mixing factor of 3 leave 1/e of it after half an hour.
func TestMeasuredAirOverHTTP(t *testing.T) {
	t.Parallel()
	s := open(t)
	ask := func(solvents, room string) reply {
		return s.do(http.MethodPost, "/v1/compute/vapour?detail=full", `{"air":{"solvents":[`+solvents+`]`+room+`}}`)
	}
	r := ask(`{"material":"acetone","concentration":{"value":500,"unit":"[ppm]"}}`,
		`,"room":{"volume":{"value":60,"unit":"m3"},"air":{"changes":{"value":6,"unit":"1/h"}},"mixingFactor":{"value":3,"unit":"1"}},"after":[{"value":30,"unit":"min"}]`).want(http.StatusOK)
	if got := r.numeric("air", "explosive", "share", "value"); math.Abs(got-0.02) > 1e-9 {
		t.Errorf("share of the lower explosive limit: got %v, want 0.02", got)
	}
	if got := r.numeric("air", "later", 0, "solvents", 0, "ppm", "value"); math.Abs(got-500/math.E) > 1e-6 {
		t.Errorf("after half an hour: got %v, want 500/e", got)
	}
	if got := r.numeric("air", "limits", 0, "sum"); got != 2 {
		t.Errorf("got %v times the limit, want 2", got)
	}
	ask(`{"material":"acetone","concentration":{"value":500,"unit":"[ppm]"}}`, `,"after":[{"value":30,"unit":"min"}]`).want(http.StatusUnprocessableEntity)
	ask(`{"material":"acetone","concentration":{"value":-1,"unit":"mg/m3"}}`, ``).want(http.StatusUnprocessableEntity)
	ask(`{"material":"acetone","concentration":{"value":1,"unit":"g"}}`, ``).want(http.StatusUnprocessableEntity)
	ask(`{"material":"acetone","concentration":{"value":1,"unit":"[ppm]"},"limits":[{"kind":"working-day","value":{"value":0,"unit":"[ppm]"}}]}`, ``).want(http.StatusUnprocessableEntity)
}

// A limit of one's own: Abulencia and Theodore, Fluid Flow for the Practicing Chemical
// Engineer, Ex. 20.2 (read): 8.24 g of toluene a minute, mixing factor 5, 80 ppm, are
// 134 375 L of air a minute.
func TestAirForALimitOfOnesOwn(t *testing.T) {
	t.Parallel()
	s := open(t)
	r := s.do(http.MethodPost, "/v1/compute/vapour?detail=full", `{"work":{
		"solvents":[{"material":"toluene","amount":{"value":494.4,"unit":"g"},"limits":[{"kind":"working-day","value":{"value":80,"unit":"[ppm]"}}]}],
		"release":{"steady":{"duration":{"value":1,"unit":"h"}}},
		"room":{"volume":{"value":500,"unit":"m3"},"air":{"changes":{"value":2,"unit":"ACH"}}}}}`).want(http.StatusOK)
	needed, _ := r.at("work", "airNeeded").([]any)
	for i := range needed {
		if r.at("work", "airNeeded", i, "list") == "your own limit" {
			if got := r.numeric("work", "airNeeded", i, "forTheRoom", "value") * 1000 / 60; math.Abs(got/134375-1) > 0.002 {
				t.Errorf("got %v L a minute, want 134375", got)
			}
			return
		}
	}
	t.Errorf("no air for the limit given: %v", needed)
}

// A spill, how much may be used, and air changes come in brief, in full and as text, and each defers to the safety data
// sheet; what is wrong with them is told where it is wrong.
func TestRoomQuestionsOverHTTP(t *testing.T) {
	t.Parallel()
	s := open(t)
	const path, room = "/v1/compute/vapour", `"room":{"volume":{"value":60,"unit":"m3"},"air":{"changes":{"value":2,"unit":"1/h"}}}`
	of := func(solvent, release, rest string) string {
		return `{"work":{"solvents":[{"material":"acetone"` + solvent + `}],"release":{` + release + `},` + rest + room + `}}`
	}
	const some, pool, steady = `,"amount":{"value":50,"unit":"mL"}`, `"spill":{"area":{"value":500,"unit":"cm2"}}`,
		`"steady":{"duration":{"value":2,"unit":"h"}}`
	for name, body := range map[string]string{
		"spill": of(some, pool, `"country":"GB",`), "at once": of(some, `"atOnce":true`, ``),
		"how much": of(``, steady, `"country":"US",`),
		"changes":  `{"airChanges":{"first":{"value":1400,"unit":"[ppm]"},"second":{"value":700,"unit":"[ppm]"},"between":{"value":30,"unit":"min"}}}`,
	} {
		brief := s.do(http.MethodPost, path, body).want(http.StatusOK)
		if len(brief.body) > 3000 {
			t.Errorf("%s: got %d bytes in brief, want 3000 at most", name, len(brief.body))
		}
		full := s.do(http.MethodPost, path+"?detail=full", body).want(http.StatusOK)
		text := s.do(http.MethodPost, path, body, header{"Accept", "text/plain"}).want(http.StatusOK)
		for _, r := range []reply{brief, full, text} {
			if !strings.Contains(strings.Join(strings.Fields(string(r.body)), " "), material.SheetFirst) {
				t.Errorf("%s: it does not defer to the safety data sheet: %s", name, r.body)
			}
		}
	}
	r := s.do(http.MethodPost, path+"?detail=full", of(some, pool, `"country":"GB",`)).want(http.StatusOK)
	if unit := r.at("work", "evaporation", "rate", "budget", 0, "unit"); unit != "1" {
		t.Errorf("the rate's budget: got %v, want a line with its unit", unit)
	}
	if got := r.at("work", "limits", 0, "above"); got != "no" {
		t.Errorf("above the limit of the country: got %v, want no", got)
	}
	r = s.do(http.MethodPost, path, of(some, `"atOnce":true`, `"country":"CH",`)).want(http.StatusOK)
	if got := r.at("work", "limits", 0, "above"); got != "unknown" {
		t.Errorf("above the limit of a country that is not held: got %v, want unknown", got)
	}
	if list, _ := r.at("work", "clearing").([]any); len(list) != 0 {
		t.Errorf("a time of clearing for a spill all at once: %v", list)
	}
	for name, tt := range map[string]struct{ body, pointer string }{
		"a country by its name":  {of(some, pool, `"country":"France",`), "/work/country"},
		"no area":                {of(some, `"spill":{}`, ``), "/work/release/spill/area"},
		"an area in metres":      {of(some, `"spill":{"area":{"value":1,"unit":"m"}}`, ``), "/work/release/spill/area/unit"},
		"a spill of no amount":   {of(``, pool, ``), "/work/solvents/0/amount"},
		"two ways":               {of(some, pool+`,"atOnce":true`, ``), "/work/release"},
		"incoming in grams":      {of(some+`,"incoming":{"value":1,"unit":"g"}`, steady, ``), "/work/solvents/0/incoming/unit"},
		"incoming at the limit":  {of(`,"incoming":{"value":900,"unit":"[ppm]"}`, steady, ``), "/work/solvents/0/incoming"},
		"a limit without a kind": {of(some+`,"limits":[{"value":{"value":1,"unit":"[ppm]"}}]`, steady, ``), "/work/solvents/0/limits/0/kind"},
		"no limit is held":       {strings.Replace(of(``, steady, ``), "acetone", "water", 1), "/work/solvents/0/limits"},
		"rising":                 {`{"airChanges":{"first":{"value":1,"unit":"[ppm]"},"second":{"value":7,"unit":"[ppm]"},"between":{"value":30,"unit":"min"}}}`, "/airChanges/second"},
	} {
		s.refused(name, path, tt.body, tt.pointer)
	}
}

// A blend is measured out where an amount is asked (fractions of it, by definition).
func TestSolventBlendIsMeasuredOverHTTP(t *testing.T) {
	t.Parallel()
	s := open(t)
	ask := `{"by":"volume","solvents":[{"material":"acetone","fraction":{"value":80,"unit":"%"}},{"material":"ethanol","fraction":{"value":20,"unit":"%"}}],
		"instruments":{"measure":{"readability":{"value":5,"unit":"mL"}}},"amount":`
	r := s.do(http.MethodPost, "/v1/compute/solvent-blend?detail=full", ask+`{"value":250,"unit":"mL"}}`).want(http.StatusOK)
	if got := r.numeric("parts", 1, "measure", "rounded", "value"); got != 50 {
		t.Errorf("got %v mL of ethanol, want 50", got)
	}
	s.refused("no amount", "/v1/compute/solvent-blend?detail=full", ask+`{"value":0,"unit":"mL"}}`, "/amount")
}
