package httpapi_test

import (
	"net/http"
	"strings"
	"testing"

	"meniscus/internal/material"
)

// wantDeference holds that an answer defers to what comes before it, once and in the one wording.
func wantDeference(t *testing.T, name, body string) {
	t.Helper()
	body = strings.Join(strings.Fields(body), " ")
	if n := strings.Count(body, material.SheetFirst); n != 1 {
		t.Errorf("%s: says %d times, not once, %q: %.1500s", name, n, material.SheetFirst, body)
	}
	for _, other := range []string{"local rules", "trained advice", "local codes"} {
		if strings.Contains(strings.ReplaceAll(body, material.SheetFirst, ""), other) {
			t.Errorf("%s: says %q in other words than %q", name, other, material.SheetFirst)
		}
	}
}

// Every computation that the contract shows defers, in brief, in full and as text.
func TestEveryComputationDefers(t *testing.T) {
	t.Parallel()
	s := open(t)
	asked := map[string]bool{}
	for _, u := range contractsRequests(t) {
		if !answers(t, u.path) {
			continue
		}
		asked[u.path] = true
		for _, ask := range []struct{ query, accept string }{
			{"", jsonMedia}, {"?detail=full", jsonMedia}, {"", "text/plain"},
		} {
			r := s.do(http.MethodPost, u.path+ask.query, u.body, header{"Accept", ask.accept}).want(http.StatusOK)
			wantDeference(t, u.name+ask.query+" as "+ask.accept, string(r.body))
		}
	}
	if len(asked) < 12 {
		t.Errorf("asked %d computations, want all of them: %v", len(asked), asked)
	}
}

// So does every view of the demo's museum that leads to work, and what is said of materials.
func TestEveryViewDefers(t *testing.T) {
	t.Parallel()
	s := newPastService(t)
	specimens, batches := s.loadDemo()
	s.refreshPast()
	paths := []string{"/v1/materials/acetone/strengths", "/v1/materials/poly-vinyl-butyral/strengths"}
	for _, id := range specimens {
		at := "/v1/specimens/" + id
		paths = append(paths, at+"/present-state", at+"/suitability", at+"/travel-temperature", at+"/removal-plan")
		for _, item := range s.do(http.MethodGet, at+"/treatments?limit=500", nil).want(200).at("items").([]any) {
			paths = append(paths, "/v1/treatments/"+item.(object)["id"].(string)+"/findings")
		}
		const check = "/v1/treatment-checks"
		proposed := object{"treatment": treatment(id, "consolidation", "2026-03-09")}
		wantDeference(t, check, string(s.do(http.MethodPost, check, proposed).want(200).body))
		wantDeference(t, check, string(s.do(http.MethodPost, check, proposed, header{"Accept", asText}).want(200).body))
	}
	for _, id := range batches {
		paths = append(paths, "/v1/batches/"+id+"/contents")
	}
	for _, path := range paths {
		wantDeference(t, path, string(s.do(http.MethodGet, path, nil).want(200).body))
		wantDeference(t, path+" in full", string(s.do(http.MethodGet, path+"?detail=full", nil).want(200).body))
		wantDeference(t, path+" as text", string(s.as(asText, path).want(200).body))
	}
	for _, path := range []string{"/v1/materials/acetone", "/v1/containers", "/v1/hazard-statements"} {
		wantDeference(t, path, string(s.do(http.MethodGet, path, nil).want(200).body))
	}
	if len(paths) < 40 {
		t.Errorf("asked %d views, want those of the museum", len(paths))
	}
}
