package httpapi_test

import (
	"net/http"
	"strings"
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

// TestACollectionsBody: what a specimen's own record does not say of its body, its collection's
// default says, in every view, which names it; the record comes first; without traits there is no
// default any more; another museum's collection of the same name is none of it.
func TestACollectionsBody(t *testing.T) {
	t.Parallel()
	s := newService(t)
	_, stranger := addInstitution(t, s.db, s.store, "Museum on the Hill")
	words := func(number string, traits ...any) object {
		return object{"identifiers": array{object{"kind": "catalogue-number", "value": number}}, "collection": "cave finds",
			"bodyKind": "bone", "condition": "dry", "bodyTraits": append(array{}, traits...)}
	}
	silent := s.create("/v1/specimens", words("LV.1962/0008")).id()
	own := s.create("/v1/specimens", words("LV.1971/0110", object{"trait": "fossil", "answer": "yes"})).id()
	glued := func(bone string) object {
		x := treatment(bone, "consolidation", "1962")
		x["materials"] = array{object{"used": object{"material": object{"id": "animal-glue", "solvents": array{object{"id": "water"}}}}}}
		return x
	}
	kept := s.create("/v1/treatments", glued(silent)).id()
	s.refresh()
	asks := func(bone, trait string) bool {
		t.Helper()
		got := s.do(http.MethodPost, "/v1/treatment-checks", object{"treatment": glued(bone)}).want(http.StatusOK)
		for _, x := range objectsIn(got.at("ask", "bodyTraits")) {
			if x["trait"] == trait {
				return true
			}
		}
		return false
	}
	const saysSo = "By its collection's default, and not by its own record, the body is taken so: fossil no."
	named := func(bone string) bool {
		t.Helper()
		return strings.Contains(string(s.do(http.MethodGet, "/v1/specimens/"+bone+"/present-state", nil).want(http.StatusOK).body), saysSo)
	}
	choose := func(key string, traits array) {
		t.Helper()
		send(t, s.url, key, http.MethodPut, "/v1/collection-bodies", object{"collection": "cave finds", "bodyTraits": traits}).want(http.StatusOK)
	}
	no := array{object{"trait": "fossil", "answer": "no"}}
	choose(stranger, no)
	if !asks(silent, "fossil") || asks(own, "fossil") || named(silent) {
		t.Error("before: got it not asked of the silent record, or asked of the other, or another museum's default")
	}
	checked := s.do(http.MethodPost, "/v1/treatment-checks", object{"treatment": glued(silent)}).want(http.StatusOK)
	found := s.do(http.MethodGet, "/v1/treatments/"+kept+"/findings", nil).want(http.StatusOK)
	if checked.at("ask", "collection") != "cave finds" || found.at("ask", "collection") != "cave finds" {
		t.Errorf("got the questions %v and %v, want the collection in both", checked.at("ask"), found.at("ask"))
	}
	asIs := checked.at("ask").(object)
	send(t, s.url, s.key, http.MethodPut, "/v1/collection-bodies", object{"collection": asIs["collection"],
		"bodyTraits": asIs["bodyTraits"]}).want(http.StatusOK) // it can be sent as it stands, and says that nobody knows
	if !asks(silent, "fossil") {
		t.Error("a default that says unknown: got it taken for an answer")
	}
	choose(s.key, no)
	if asks(silent, "fossil") || !named(silent) || named(own) {
		t.Error("with a default: got it asked still, or not named, or named beside the own record")
	}
	if got := s.do(http.MethodGet, "/v1/treatments/"+kept+"/findings?detail=full", nil).want(http.StatusOK); strings.Contains(string(got.body), `"fossil"`) {
		t.Errorf("kept findings: got %s, want them made anew", got.body)
	}
	s.refresh()
	if wrong := s.verify(); len(wrong) > 0 {
		t.Errorf("got %v, want nothing wrong", wrong)
	}
	if got := s.do(http.MethodGet, "/v1/collection-bodies", nil).want(http.StatusOK); got.at("items", 0, "collection") != "cave finds" ||
		len(got.at("items").([]any)) != 1 {
		t.Errorf("got %s, want the one default", got.body)
	}
	choose(s.key, array{})
	if !asks(silent, "fossil") || named(silent) {
		t.Error("taken back: got it not asked again, or named still")
	}
}
