package httpapi_test

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"
)

// newCoats is a specimen to lay coats on.
func newCoats(t *testing.T) awkward {
	t.Helper()
	a := awkward{service: newService(t)}
	a.specimen = a.create("/v1/specimens", specimen("LV.1990/0007")).id()
	return a
}

func coat(material string) object {
	return object{"materials": array{object{"used": object{"material": object{"id": material, "solvents": array{object{"id": "acetone"}}}}}}}
}

// contradictionsOf are the contradictions of an answer with the treatments of each.
func contradictionsOf(r reply) string {
	var out []string
	for i := range r.at("contradictions").([]any) {
		out = append(out, fmt.Sprint(r.at("contradictions", i, "code"), idsIn(r.at("contradictions", i, "treatments"))))
	}
	return strings.Join(out, " ")
}

// TestLayersInACircle: A over B over A is recorded, and named wherever the order
// matters.
func TestLayersInACircle(t *testing.T) {
	t.Parallel()
	a := newCoats(t)
	first := a.treat("coating", "1990", "skull", coat("shellac"))
	over := coat("cellulose-nitrate")
	over["relations"] = array{object{"relation": "over", "treatment": object{"id": first}}}
	second := a.treat("coating", "1990", "skull", over)
	record := a.do(http.MethodGet, "/v1/treatments/"+first, nil).want(http.StatusOK)
	statement := record.at("statement").(object)
	statement["relations"] = array{object{"relation": "over", "treatment": object{"id": second}}}
	a.do(http.MethodPost, "/v1/records/"+first+"/amendments", object{"reason": "The card says so.", "statement": statement},
		header{"If-Match", record.header.Get("ETag")}, header{"Idempotency-Key", uuid.NewString()}).want(http.StatusCreated)
	both := []string{first, second}
	slices.Sort(both)
	want := fmt.Sprintf("over-each-other%v", both)
	for _, path := range []string{"/present-state?detail=full", "/removal-plan?detail=full"} {
		if got := contradictionsOf(a.get(t, path)); got != want {
			t.Errorf("%s: got contradictions %q, want %q", path, got, want)
		}
	}
	plan := a.get(t, "/removal-plan?detail=full")
	if len(plan.at("steps").([]any)) != 0 || len(plan.at("unreachable").([]any)) != 2 {
		t.Errorf("got %s, want neither layer given a turn", plan.body)
	}
	for _, path := range []string{"/suitability?detail=full", "/travel-temperature?detail=full", "/timeline"} {
		a.get(t, path)
	}
}

// TestOverlappingDatesAreAsked: which of two lies on top is asked, not guessed.
func TestOverlappingDatesAreAsked(t *testing.T) {
	t.Parallel()
	a := newCoats(t)
	one, other := a.treat("coating", "1990/2010", "skull", coat("shellac")), a.treat("coating", "2000~", "skull", coat("cellulose-nitrate"))
	for path, list := range map[string]string{"/present-state?detail=full": "undetermined", "/removal-plan?detail=full": "questions"} {
		got := fmt.Sprint(idsIn(a.get(t, path).at(list, 0, "treatments")))
		if !strings.Contains(got, one) || !strings.Contains(got, other) {
			t.Errorf("%s: got %s, want the pair asked for", path, got)
		}
	}
}

// TestRemovalOfALayerElsewhere is recorded, with a finding that names it; the
// layer stays as it was.
func TestRemovalOfALayerElsewhere(t *testing.T) {
	t.Parallel()
	a := newCoats(t)
	other := awkward{service: a.service, specimen: a.create("/v1/specimens", specimen("LV.1990/0008")).id()}
	here := a.treat("coating", "1990", "skull", coat("shellac"))
	there := other.treat("coating", "1990", "skull", coat("shellac"))
	for what, c := range map[string]struct{ treatment, code string }{
		"another area": {here, "removal-elsewhere"}, "another specimen": {there, "names-unknown-treatment"},
	} {
		removal := a.treat("removal", "2020", "left-femur", object{"method": "swab",
			"removal": object{"treatments": array{object{"id": c.treatment}}, "left": "reduced"}})
		a.refresh()
		found := a.do(http.MethodGet, "/v1/treatments/"+removal+"/findings?detail=full", nil).want(http.StatusOK)
		if got := string(found.body); !strings.Contains(got, `"rule":"removal-record-incomplete","severity":"warn"`) || !strings.Contains(got, c.treatment) {
			t.Errorf("%s: got %s, want a warning that names the layer", what, got)
		}
		state := a.get(t, "/present-state?detail=full")
		if got := contradictionsOf(state); !strings.Contains(got, c.code) {
			t.Errorf("%s: got contradictions %q, want %s", what, got, c.code)
		}
		if strings.Contains(string(state.body), `"state":"reduced"`) {
			t.Errorf("%s: got %s, want no layer reduced", what, state.body)
		}
	}
}

// TestMaterialRetractedAfterUse: the layers of a material that the institution
// took off its list still answer, and say that it is not known any more.
func TestMaterialRetractedAfterUse(t *testing.T) {
	t.Parallel()
	a := newCoats(t)
	own := uuid.NewString()
	made := a.do(http.MethodPut, "/v1/materials/"+own, object{"statement": beads()}).want(http.StatusCreated)
	layer := a.treat("coating", "2020", "skull", coat(own))
	a.do(http.MethodPost, "/v1/records/"+own+"/retraction", object{"reason": "Never bought."}, header{"If-Match", made.header.Get("ETag")}).want(http.StatusCreated)
	state := a.get(t, "/present-state?detail=full&area=skull")
	if got := fmt.Sprint(state.at("areas")); !strings.Contains(got, layer) || !strings.Contains(got, own) {
		t.Errorf("got %s, want the layer with its material", state.body)
	}
	plan := a.get(t, "/removal-plan?detail=full")
	if plan.at("steps", 0, "spotTest") != true {
		t.Errorf("got %s, want a spot test: nothing is known of it", plan.body)
	}
	for _, path := range []string{"/suitability?detail=full", "/travel-temperature?detail=full", "/timeline"} {
		a.get(t, path)
	}
	check := a.do(http.MethodPost, "/v1/treatment-checks?detail=full", object{"treatment": object{"specimen": object{"id": a.specimen}, "action": "coating", "areas": object{"paths": array{"skull"}},
		"dates": object{"edtf": "2026-03-09"}, "materials": coat("shellac")["materials"]}}).want(http.StatusOK)
	if got := string(check.body); !strings.Contains(got, `"rule":"earlier-layer-unknown"`) || !strings.Contains(got, layer) {
		t.Errorf("got %s, want the layer among those that cannot be named for certain", got)
	}
}

// TestOrderOfRecordingDoesNotMatter: two museums record the same treatments in
// opposite orders; what is on the specimen, and what is said of it, is the same.
func TestOrderOfRecordingDoesNotMatter(t *testing.T) {
	t.Parallel()
	s := newService(t)
	_, otherKey := addInstitution(t, s.db, s.store, "Museum on the Hill")
	one := uuid.NewString()
	record := func(path, id string, statement object) object {
		return object{"id": id, "statement": statement, "path": path}
	}
	var treatments []object
	for i, area := range []string{"skull", "skull/jaw", "whole", "skull", "left-femur", "skull/jaw"} {
		st := object{"specimen": object{"id": one}, "action": "coating", "areas": object{"paths": array{area}}, "dates": object{"edtf": []string{"1950", "1990/2010", "2000~", "1985-05"}[i%4]}}
		st["materials"] = coat([]string{"shellac", "cellulose-nitrate", "poly-vinyl-acetate-resin"}[i%3])["materials"]
		treatments = append(treatments, record("/v1/treatments", fmt.Sprintf("0193a5b4-7c1e-7d2f-9a64-3c2f1f0f%04x", i), st))
	}
	tell := func(key string, inOrder []object) (answers []string) {
		t.Helper()
		for _, r := range append([]object{record("/v1/specimens", one, specimen("LV.1990/0007"))}, inOrder...) {
			send(t, s.url, key, http.MethodPost, r["path"].(string), object{"id": r["id"], "statement": r["statement"]}).want(http.StatusCreated)
		}
		for _, view := range []string{"present-state", "removal-plan", "suitability", "travel-temperature", "timeline"} {
			got := send(t, s.url, key, http.MethodGet, "/v1/specimens/"+one+"/"+view+"?at=2026-03-02", nil).want(http.StatusOK)
			body, _, _ := strings.Cut(string(got.body), `"sequence"`) // the log's sequence number is the order of recording
			if view != "present-state" {
				body = string(got.body)
			}
			answers = append(answers, body)
		}
		return answers
	}
	forward := tell(s.key, treatments)
	slices.Reverse(treatments)
	for i, got := range tell(otherKey, treatments) {
		if got != forward[i] {
			t.Errorf("got %s, want %s", got, forward[i])
		}
	}
}
