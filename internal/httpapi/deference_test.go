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
		for _, page := range []string{at, at + "/sheet"} {
			wantDeference(t, page, string(s.as(asPage, page).want(200).body))
		}
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
	wantLabelsDefer(t, s, specimens, batches)
	for _, path := range []string{"/v1/materials/acetone", "/v1/containers", "/v1/hazard-statements"} {
		wantDeference(t, path, string(s.do(http.MethodGet, path, nil).want(200).body))
	}
	if len(paths) < 40 {
		t.Errorf("asked %d views, want those of the museum", len(paths))
	}
}

// wantLabelsDefer holds that every piece of every label defers, in few words where there is no room
// for the sentence, or says that the full label, which has it, is on the outer package.
func wantLabelsDefer(t *testing.T, s *service, specimens, batches []string) {
	t.Helper()
	var labels []string
	for _, id := range specimens {
		labels = append(labels, "/v1/specimens/"+id+"/label")
	}
	for _, id := range batches {
		labels = append(labels, "/v1/batches/"+id+"/label")
	}
	for _, path := range labels {
		for _, capacity := range []string{"", "?capacity=10", "?capacity=1"} {
			made := s.do(http.MethodGet, path+capacity, nil).want(200)
			pieces, full := objectsIn(made.at("pieces")), false
			if piece, one := made.at("piece").(object); one {
				pieces = []object{piece}
			}
			for _, piece := range pieces {
				var said string
				for _, line := range objectsIn(piece["says"]) {
					said += line["text"].(string) + " "
				}
				sentence := strings.Contains(said, material.SheetFirst)
				short := strings.Contains(said, "See the safety data sheet.")
				full = full || sentence
				if !sentence && !short && !strings.Contains(said, "Full label on the outer package.") {
					t.Errorf("%s%s: %v defers to nothing: %s", path, capacity, piece["place"], said)
				}
			}
			if !full && len(pieces) > 1 {
				t.Errorf("%s%s: no piece has the sentence: %s", path, capacity, made.body)
			}
			picture := string(s.as("image/svg+xml", path+capacity).want(200).body)
			if !strings.Contains(picture, material.SheetFirst) && !strings.Contains(picture, "See the safety data sheet.") {
				t.Errorf("%s%s: the picture defers to nothing", path, capacity)
			}
		}
	}
}
