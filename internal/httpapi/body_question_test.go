package httpapi_test

import (
	"net/http"
	"testing"

	"github.com/google/uuid"
)

// TestWhatTheBodySettlesIsAskedOnce: of a card of 1962, what nobody can answer any more is
// counted, and what the body would settle is asked in one question, whose answer, sent to its
// address, settles it; in full all of it is listed.
func TestWhatTheBodySettlesIsAskedOnce(t *testing.T) {
	t.Parallel()
	s := newService(t)
	words := object{"identifiers": array{object{"kind": "catalogue-number", "value": "LV.1962/0007"}}, "bodyKind": "bone", "condition": "dry"}
	bone := s.create("/v1/specimens", words).id()
	glued := treatment(bone, "consolidation", "1962")
	glued["materials"] = array{object{"used": object{"material": object{"id": "animal-glue", "solvents": array{object{"id": "water"}}}}}}
	card := s.create("/v1/treatments", glued).id()
	for _, when := range []string{"just recorded", "kept"} {
		brief := s.do(http.MethodGet, "/v1/treatments/"+card+"/findings", nil).want(http.StatusOK)
		full := s.do(http.MethodGet, "/v1/treatments/"+card+"/findings?detail=full", nil).want(http.StatusOK)
		hidden, open := 0, 0
		for _, f := range objectsIn(full.at("items")) {
			if f["unanswerable"] == true {
				hidden++
			}
			if f["traits"] != nil {
				open++
			}
		}
		if hidden == 0 || brief.at("unanswerable") != float64(hidden) || full.at("unanswerable") != float64(hidden) {
			t.Errorf("%s: got %v unanswerable of %d: %s", when, brief.at("unanswerable"), hidden, full.body)
		}
		if open < 2 || brief.at("ask", "findings") != float64(open) || brief.at("ask", "amendments") != "/v1/records/"+bone+"/amendments" {
			t.Errorf("%s: got the question %v, want one about %d findings", when, brief.at("ask"), open)
		}
		for _, f := range objectsIn(brief.at("items")) {
			if f["unanswerable"] == true || f["traits"] != nil {
				t.Errorf("%s: got %v listed in brief", when, f)
			}
		}
		s.refresh()
	}
	ask := s.do(http.MethodGet, "/v1/treatments/"+card+"/findings", nil).want(http.StatusOK).at("ask").(object)
	var traits array
	for _, trait := range objectsIn(ask["bodyTraits"]) {
		traits = append(traits, object{"trait": trait["trait"], "answer": "no"})
	}
	words["bodyTraits"] = traits
	record := s.do(http.MethodGet, "/v1/specimens/"+bone, nil).want(http.StatusOK)
	s.do(http.MethodPost, ask["amendments"].(string), object{"reason": "Looked at.", "statement": words},
		header{"If-Match", record.header.Get("ETag")}, header{"Idempotency-Key", uuid.NewString()}).want(http.StatusCreated)
	s.refresh()
	if got := s.do(http.MethodGet, "/v1/treatments/"+card+"/findings?detail=full", nil).want(http.StatusOK); got.at("ask") != nil {
		t.Errorf("after the answer: got %s, want it asked no more", got.body)
	}
}
