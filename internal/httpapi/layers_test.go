package httpapi_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
)

// awkward is a specimen with an old card, a loaded joint, a batch of its own, a
// removal, a test, a bone that lies apart, and a number that is recorded nowhere.
type awkward struct {
	*service
	specimen                              string
	lacquer, joint, coat, number, removal string
}

func newAwkward(t *testing.T) awkward {
	t.Helper()
	a := awkward{service: newService(t)}
	a.specimen = a.create("/v1/specimens", object{
		"identifiers": array{object{"kind": "catalogue-number", "value": "LV.1987/0042"}}, "collection": "palaeontology",
		"bodyKind": "bone", "condition": "dry", "plannedSampling": array{object{"areas": object{"paths": array{"left-femur"}}, "analysis": "radiocarbon"}},
		"areas":      array{object{"path": "left-femur", "separate": true}, object{"path": "skull"}},
		"bodyTraits": array{object{"trait": "friable", "answer": "no"}},
		"hazards":    array{object{"hazard": "arsenic", "status": "suspected"}},
	}).id()
	a.lacquer = a.treat("consolidation", "1955", "skull", object{"method": "immersion", "materials": array{
		object{"used": object{"words": object{"verbatim": "lacquer", "certainty": "inferred"}}, "role": "consolidant"}}})
	a.joint = a.treat("joining", "1985", "skull/jaw", object{"method": "brush", "joint": object{"carriesLoad": "yes"}, "materials": array{
		object{"used": object{"material": object{"id": "poly-vinyl-acetate-resin", "solvents": array{object{"id": "acetone"}}}}}}})
	a.coat = a.treat("coating", "2004/2009", "skull/jaw", object{"method": "brush", "materials": array{object{"used": object{"batch": object{"id": a.bottle()}}}}})
	a.number = a.treat("labelling", "1972", "skull/occipital", object{"label": object{"numberRecorded": false}, "materials": array{
		object{"used": object{"material": object{"id": "poly-isobutyl-methacrylate", "solvents": array{object{"id": "naphtha"}}}}, "role": "label-base"}}})
	a.removal = a.treat("removal", "2016-05", "skull/jaw", object{"method": "poultice",
		"removal": object{"treatments": array{object{"id": a.coat}}, "left": "reduced"},
		"solventExposure": array{object{"solvent": "ethanol", "time": object{"quantity": object{"value": 90,
			"unit": "min"}}}}})
	return a
}

func (a awkward) treat(action, date, area string, more object) string {
	a.t.Helper()
	st := object{"specimen": object{"id": a.specimen}, "action": action, "areas": object{"paths": array{area}}, "dates": object{"edtf": date}}
	for name, value := range more {
		st[name] = value
	}
	return a.create("/v1/treatments", st).id()
}

// bottle is a bottle from a batch from two supplies: what is in it is found by
// following it.
func (a awkward) bottle() string {
	a.t.Helper()
	supply := func(code, material string) string {
		return a.create("/v1/supplies", object{"code": code, "material": object{"id": material}}).id()
	}
	amount := func(value float64, unit string) object {
		return object{"quantity": object{"value": value, "unit": unit}}
	}
	batch := a.create("/v1/batches", object{"code": "B-1", "kind": "solution", "inputs": array{
		object{"from": object{"supply": object{"id": supply("R-1", "ethyl-methacrylate-methyl-acrylate-copolymer")}}, "part": "solute", "amount": amount(20, "g")},
		object{"from": object{"supply": object{"id": supply("A-1", "toluene")}}, "part": "solvent", "amount": amount(180, "mL")},
	}, "referenceSample": object{"text": "Drawer 4"}}).id()
	return a.create("/v1/batches", object{"code": "B-1/1", "kind": "bottle", "inputs": array{
		object{"from": object{"batch": object{"id": batch}}, "part": "stock", "amount": amount(30, "mL")}}}).id()
}

func (a awkward) get(t *testing.T, path string) reply {
	t.Helper()
	return a.in(t).do(http.MethodGet, "/v1/specimens/"+a.specimen+path, nil).want(http.StatusOK)
}

func TestLayersOfASpecimen(t *testing.T) {
	t.Parallel()
	a := newAwkward(t)
	t.Run("present state", func(t *testing.T) {
		state := a.get(t, "/present-state?detail=full&at=2026-03-02")
		areas := map[string]object{}
		for i := range state.at("areas").([]any) {
			area := state.at("areas", i).(object)
			areas[area["area"].(string)] = area
		}
		if got := areas["left-femur"]["status"]; got != "not-recorded" {
			t.Errorf("left-femur: got %v, want not-recorded: %s", got, state.body)
		}
		jaw := areas["skull/jaw"]
		if len(jaw["layers"].([]any)) != 2 || fmt.Sprint(jaw["through"]) != "[skull whole]" {
			t.Errorf("skull/jaw: got %v, want its joint and coat, and the bath through skull", jaw)
		}
		coat := layer(jaw, a.coat)
		if coat["state"] != "reduced" || idOf(coat["event"].(object)["treatment"]) != a.removal {
			t.Errorf("coat: got %v, want reduced by the removal", coat)
		}
		if got := fmt.Sprint(coat["material"].(object)["solids"], coat["solvents"]); !strings.Contains(got, "ethyl-methacrylate") || !strings.Contains(got, "toluene") {
			t.Errorf("coat: got %s, want what was in the bottle", got)
		}
		if got := coat["reversibility"].(object)["redissolvable"].(object); got["answer"] != "yes" || len(got["evidence"].([]any)) == 0 {
			t.Errorf("coat: got %v, want yes with its evidence", got)
		}
		if got := layer(areas["skull"], a.lacquer)["material"].(object)["candidates"]; len(got.([]any)) != 2 {
			t.Errorf("lacquer: got %v, want the two that the word may mean", got)
		}
		early := a.get(t, "/present-state?detail=full&at=1970-01-01&area=skull%2Fjaw")
		if strings.Contains(string(early.body), a.joint) || !strings.Contains(string(early.body), a.lacquer) {
			t.Errorf("in 1970: got %s, want the bath alone", early.body)
		}
	})
	t.Run("as believed", func(t *testing.T) {
		a.in(t).do(http.MethodGet, "/v1/specimens/"+a.specimen+"/present-state?detail=full&believedAt=2000-01-01T00:00:00Z", nil).want(http.StatusOK)
	})
	t.Run("removal plan", func(t *testing.T) {
		plan := a.get(t, "/removal-plan?detail=full&at=2026-03-02&treatments="+a.coat+"&evaporatedGrams=50&roomVolume=60")
		if got := len(plan.at("steps").([]any)); got != 1 || plan.at("steps", 0, "treatment", "id") != a.coat {
			t.Fatalf("got %d steps, want one for the coat: %s", got, plan.body)
		}
		if !strings.Contains(string(plan.body), "suspected to hold arsenic") {
			t.Errorf("got %v, want the specimen's own hazard before any step", plan.at("before"))
		}
		first := plan.at("steps", 0, "candidates", 0).(object)
		// 50 g in 60 m³ is 833.3 mg/m³.
		if got := fmt.Sprint(first["vapour"].(object)["concentration"]); !strings.Contains(got, "833.3") {
			t.Errorf("got vapour %s, want 833.3 mg/m3", got)
		}
		a.in(t).do(http.MethodGet, "/v1/specimens/"+a.specimen+"/removal-plan?detail=full&treatments="+a.specimen, nil).wantProblem(404, "not-found")
		a.in(t).do(http.MethodGet, "/v1/specimens/"+a.specimen+"/removal-plan?detail=full&treatments=coat", nil).want(http.StatusBadRequest)
	})
	t.Run("suitability", func(t *testing.T) {
		got := a.get(t, "/suitability?detail=full&at=2026-03-02&analysis=radiocarbon")
		if n := len(got.at("analyses").([]any)); n != 1 || len(got.at("analyses", 0, "bearing").([]any)) == 0 {
			t.Errorf("got %s, want what bears on radiocarbon", got.body)
		}
		if got.at("references", 0, "where") != "Drawer 4" || got.at("unrecorded", 0, "area") != "left-femur" || got.at("unrecorded", 0, "sure") != "not-recorded" {
			t.Errorf("got %v and %v, want the sample that is kept and the bone without a record", got.at("references"), got.at("unrecorded"))
		}
		if !strings.Contains(string(got.body), `"hours":1.5`) {
			t.Errorf("got %v, want ninety minutes as hours", got.at("exposures"))
		}
		if n := len(a.get(t, "/suitability?detail=full").at("analyses").([]any)); n != 13 {
			t.Errorf("got %d kinds of analysis, want 13", n)
		}
		a.in(t).do(http.MethodGet, "/v1/specimens/"+a.specimen+"/suitability?detail=full&analysis=magic", nil).want(http.StatusBadRequest)
	})
	t.Run("travel temperature", func(t *testing.T) {
		got := a.get(t, "/travel-temperature?detail=full&at=2026-03-02")
		if got.at("known") != false || got.at("atMost", "value") != 35.0 || got.at("atMost", "unit") != "Cel" {
			t.Errorf("got %s, want unknown, bounded by 35 °C", got.body)
		}
	})
	t.Run("timeline", func(t *testing.T) {
		got := a.get(t, "/timeline?at=2026-03-02")
		if got.header.Get("Content-Type") != "image/svg+xml" || !strings.Contains(string(got.body), "LV.1987/0042") {
			t.Errorf("got %s: %.200s, want a picture with the number", got.header.Get("Content-Type"), got.body)
		}
		tag := header{"If-None-Match", got.header.Get("ETag")}
		a.in(t).do(http.MethodGet, "/v1/specimens/"+a.specimen+"/timeline?at=2026-03-02", nil, tag).want(http.StatusNotModified)
	})
	t.Run("nobody's specimen", func(t *testing.T) {
		for _, path := range []string{"present-state", "removal-plan", "suitability", "travel-temperature", "timeline"} {
			a.in(t).do(http.MethodGet, "/v1/specimens/0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7aaa/"+path, nil).wantProblem(404, "specimen-unknown")
		}
	})
}

func layer(area object, treatment string) object {
	for _, l := range area["layers"].([]any) {
		if idOf(l.(object)["treatment"]) == treatment {
			return l.(object)
		}
	}
	return object{}
}

func TestTreatmentCheck(t *testing.T) {
	t.Parallel()
	a := newAwkward(t)
	propose := func(area string, more object) object {
		st := object{"specimen": object{"id": a.specimen}, "action": "consolidation", "method": "brush", "areas": object{"paths": array{area}}, "dates": object{"edtf": "2026-03-09"},
			"materials":   array{object{"used": object{"material": object{"id": "ethyl-methacrylate-methyl-acrylate-copolymer", "solvents": array{object{"id": "acetone"}}, "strength": object{"value": 5, "unit": "g/dL", "basis": "mass-per-solution-volume"}}}, "role": "consolidant"}},
			"environment": object{"airTemperature": object{"quantity": object{"value": 68, "unit": "[degF]"}}, "relativeHumidity": object{"quantity": object{"value": 60, "unit": "%"}}}}
		for name, value := range more {
			st[name] = value
		}
		return object{"treatment": st}
	}
	ask := func(body object) reply {
		t.Helper()
		return a.do(http.MethodPost, "/v1/treatment-checks?detail=full", body).want(http.StatusOK)
	}
	got := ask(propose("skull/jaw", nil))
	if got.at("blocked") != true || got.at("findings", 0, "rule") != "work-on-hazardous-specimen" ||
		got.at("findings", 1, "severity") != "block" || got.at("findings", 1, "rule") != "known-solvent-of-earlier-layer" {
		t.Errorf("got %s, want the hazards, then a block over the joint that carries load", got.body)
	}
	for _, want := range []string{`"rule":"earlier-layer-unknown"`, `"rule":"film-may-whiten"`, "12.0 °C"} {
		if !strings.Contains(string(got.body), want) {
			t.Errorf("got no %s in %s", want, got.body)
		}
	}
	override := propose("skull/jaw", nil)
	override["overrides"] = array{object{"rule": "known-solvent-of-earlier-layer", "reason": "The jaw is bedded in sand."}}
	if got := ask(override); got.at("blocked") != false {
		t.Errorf("got %s, want the block set aside with its reason", got.body)
	}
	if got := ask(propose("left-femur", nil)); got.at("blocked") != true || !strings.Contains(string(got.body), `"rule":"sample-before-treatment"`) {
		t.Errorf("got %s, want the planned sample to block", got.body)
	}
	if got := ask(propose("skull/occipital", nil)); got.at("blocked") != true {
		t.Errorf("got %s, want the number that is recorded nowhere to block", got.body)
	}
	unknown := propose("skull", object{"specimen": object{"identifier": object{"kind": "catalogue-number", "value": "LV.9999"}}})
	if got := ask(unknown); got.at("specimen") != nil || !strings.Contains(string(got.body), "does not mean untreated") {
		t.Errorf("got %s, want nothing recorded, and a warning of it", got.body)
	}
	if got := a.do(http.MethodGet, "/v1/specimen-lookup?value=LV.9999", nil); strings.Contains(string(got.body), `"answer":"registered`) {
		t.Errorf("got %s, want a check to register nothing", got.body)
	}
	a.do(http.MethodPost, "/v1/treatment-checks?detail=full", object{}).want(http.StatusUnprocessableEntity)
	bad := propose("skull", object{"dates": object{"edtf": "2026-02-31"}})
	if got := a.do(http.MethodPost, "/v1/treatment-checks?detail=full", bad).want(http.StatusUnprocessableEntity); got.at("errors", 0, "pointer") != "/treatment/dates/edtf" {
		t.Errorf("got %s, want the fault where it stands", got.body)
	}
}

func TestCheckRules(t *testing.T) {
	t.Parallel()
	s := newService(t)
	got := send(t, s.url, "", http.MethodGet, "/v1/check-rules", nil).want(http.StatusOK)
	if n := len(got.at("items").([]any)); n < 35 || strings.Contains(string(got.body), "koob-1995") {
		t.Errorf("got %d rules: %s, want all of them, with citations that a reader can follow", n, got.body)
	}
}

// TestTuningOfAMuseum: its own severity, with its reason, in every check of its
// own and of nobody else's; choosing the rule's own takes it back.
func TestTuningOfAMuseum(t *testing.T) {
	t.Parallel()
	a := newAwkward(t)
	_, stranger := addInstitution(t, a.db, a.store, "Museum on the Hill")
	damp := a.create("/v1/specimens", object{"identifiers": array{object{"kind": "catalogue-number", "value": "LV.3"}}, "condition": "damp"}).id()
	proposed := object{"treatment": object{"specimen": object{"id": damp}, "action": "consolidation", "areas": object{"paths": array{"whole"}}, "dates": object{"edtf": "2026-03-09"},
		"materials": array{object{"used": object{"material": object{"id": "ethyl-methacrylate-methyl-acrylate-copolymer", "solvents": array{object{"id": "acetone"}}}}}}}}
	onDamp := func() object {
		t.Helper()
		got := a.do(http.MethodPost, "/v1/treatment-checks?detail=full", proposed).want(http.StatusOK)
		for i := range got.at("findings").([]any) {
			if f := got.at("findings", i).(object); f["rule"] == "solvent-resin-on-damp-body" {
				return f
			}
		}
		t.Fatalf("no solvent-resin-on-damp-body in %s", got.body)
		return nil
	}
	if got := onDamp(); got["severity"] != "block" {
		t.Errorf("got %v, want a block", got)
	}
	tune := func(severity, reason string) reply {
		return a.do(http.MethodPut, "/v1/check-rules/solvent-resin-on-damp-body/severity", object{"severity": severity, "reason": reason})
	}
	if got := tune("warn", "Dried under vacuum first.").want(http.StatusOK); got.at("own", "severity") != "warn" {
		t.Errorf("got %s, want the choice", got.body)
	}
	if got := onDamp(); got["severity"] != "warn" || got["tunedFrom"] != "block" || got["tunedBecause"] != "Dried under vacuum first." {
		t.Errorf("got %v, want it tuned, with the reason", got)
	}
	if got := send(t, a.url, stranger, http.MethodGet, "/v1/check-rules", nil).want(http.StatusOK); strings.Contains(string(got.body), "vacuum first") {
		t.Errorf("another museum: got %s, want its own list", got.body)
	}
	tune("warn", "  ").want(http.StatusUnprocessableEntity)
	a.do(http.MethodPut, "/v1/check-rules/no-such-rule/severity", object{"severity": "warn", "reason": "x"}).wantProblem(404, "not-found")
	if got := tune("block", "Back to the rule.").want(http.StatusOK); got.at("own") != nil {
		t.Errorf("got %s, want the choice taken back", got.body)
	}
	if got := onDamp(); got["severity"] != "block" || got["tunedFrom"] != nil {
		t.Errorf("got %v, want the rule's own severity", got)
	}
}
