package httpapi_test

import (
	"bytes"
	"fmt"
	"net/http"
	"testing"

	"meniscus/internal/postgres"
)

// digests are what proves each entry: its digest and its sequence number.
func (s *service) digests() map[string]string {
	s.t.Helper()
	s.seal()
	rows, _, err := s.store.For(s.inst).Changes(s.t.Context(), postgres.Cursor{}, 1000)
	if err != nil {
		s.t.Fatal(err)
	}
	of := map[string]string{}
	for _, row := range rows {
		of[row.EntryID.String()] = fmt.Sprintf("%x at %d", row.Digest, *row.Sequence)
	}
	return of
}

// After an erasure the name is nowhere, and every digest and sequence number is as it was.
func TestErasureOfAPerson(t *testing.T) {
	t.Parallel()
	s := newService(t)
	made := s.create("/v1/people", object{"name": "Oldrich Sebald"})
	person := s.amend(made, object{"name": "Oldrich Sebald-Maar", "orcid": "9999-1234-5678-9011"})
	skull := s.create("/v1/specimens", specimen("LV.80")).id()
	st := treatment(skull, "cleaning", "2001")
	st["people"] = array{object{"person": object{"id": person.id()}, "part": "carried-out"}}
	treated := s.create("/v1/treatments", st).id()
	at := s.now()
	before := s.digests()

	s.do(http.MethodPost, "/v1/people/"+skull+"/erasure", object{"reason": "Asked for."}, anyTag).wantProblem(404, "person-unknown")
	s.do(http.MethodPost, "/v1/people/"+person.id()+"/erasure", object{"reason": "Asked for."}).want(428)
	erased := s.do(http.MethodPost, "/v1/people/"+person.id()+"/erasure", object{"reason": "Asked for."}, header{"If-Match", person.header.Get("ETag")}).want(201)
	if erased.at("act") != "redacted" || len(erased.at("redactedRevisions").([]any)) != 2 {
		t.Errorf("got %s, want both revisions redacted", erased.body)
	}
	after := s.digests()
	for entry, proof := range before {
		if after[entry] != proof {
			t.Errorf("entry %s: got %s, want %s", entry, after[entry], proof)
		}
	}
	if len(after) != len(before)+1 {
		t.Errorf("got %d entries, want one more than %d", len(after), len(before))
	}
	for _, path := range []string{
		"/v1/changes", "/v1/people", "/v1/people/" + person.id(), "/v1/records/" + person.id() + "/revisions", "/v1/records/" + person.id() + "/revisions/1",
		"/v1/records/" + person.id() + "?believedAt=" + at, "/v1/treatments/" + treated, "/v1/specimens/" + skull + "/treatments?believedAt=" + at,
		"/v1/specimens/" + skull + "/summary", "/v1/specimens/" + skull + "/sheet", "/v1/specimens/" + skull + "/provenance", "/v1/treatments/" + treated + "/provenance",
		"/v1/exports/darwin-core",
	} {
		got := s.do(http.MethodGet, path, nil).want(200)
		for _, word := range []string{"Oldrich", "Sebald", "5678-9011"} {
			if bytes.Contains(got.body, []byte(word)) {
				t.Errorf("%s: %q is still there: %s", path, word, got.body)
			}
		}
	}
	st["people"] = array{object{"person": object{"name": "Oldrich Sebald-Maar"}, "part": "carried-out"}}
	if again := s.create("/v1/treatments", st); again.at("statement", "people", 0, "person", "id") == person.id() {
		t.Error("the erased name still leads to the person")
	}
	if got := s.do(http.MethodGet, "/v1/treatments/"+treated, nil).want(200); got.at("statement", "people", 0, "person", "id") != person.id() {
		t.Errorf("got %s, want what was done to stay under the id", got.body)
	}
}

// The redaction of one statement touches no other digest and no sequence number.
func TestRedactionLeavesTheProofsOfOthers(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull := s.create("/v1/specimens", specimen("LV.81")).id()
	first, second := s.create("/v1/treatments", treatment(skull, "cleaning", "2001")), s.create("/v1/treatments", treatment(skull, "cleaning", "2002"))
	before := s.digests()
	s.do(http.MethodPost, "/v1/records/"+first.id()+"/redaction", object{"reason": "Asked for."}, anyTag).want(201)
	after := s.digests()
	for entry, proof := range before {
		if after[entry] != proof {
			t.Errorf("entry %s: got %s, want %s", entry, after[entry], proof)
		}
	}
	if got := s.do(http.MethodGet, "/v1/treatments/"+second.id(), nil).want(200); got.header.Get("ETag") != second.header.Get("ETag") {
		t.Errorf("got %s, want the other record as it was", got.header.Get("ETag"))
	}
}

// What opens in a person's name ends when the person is erased, and does not tell the name.
func TestErasedPeopleOpenNothing(t *testing.T) {
	t.Parallel()
	s := newSignIn(t)
	bottle := s.bottle()
	b := s.signedIn(bottle, "u-17", "bench")
	asToken := func() string {
		got := s.as(s.token("u-17", "bench"), http.MethodPost, "/v1/people", object{"statement": object{"name": "Tomas Brandl"}}).want(201)
		return idOf(got.at("recordedBy"))
	}
	person := asToken()
	key := s.do(http.MethodPost, "/v1/access-keys", object{"name": "laptop of Ada", "person": object{"id": person},
		"scopes": array{"read"}}, header{"Idempotency-Key", "laptop"}).want(201)
	holder := s.in(t)
	holder.key = key.at("secret").(string)
	holder.do(http.MethodGet, "/v1/institution", nil).want(200)
	b.ask(http.MethodGet, bottle, nil).want(200)

	s.do(http.MethodPost, "/v1/people/"+person+"/erasure", object{"reason": "Asked for."}, anyTag).want(201)
	holder.do(http.MethodGet, "/v1/institution", nil).wantProblem(401, "access-key-unknown")
	b.ask(http.MethodGet, bottle, nil).want(401)
	if again := asToken(); again == person {
		t.Error("a token still stands for the person who was erased")
	}
	if keys := s.do(http.MethodGet, "/v1/access-keys", nil).want(200); bytes.Contains(keys.body, []byte("Ada")) {
		t.Errorf("a key still tells the name: %s", keys.body)
	}
	revoked := s.do(http.MethodGet, "/v1/access-log?record="+person, nil).want(200)
	if !bytes.Contains(revoked.body, []byte("key-revoked")) {
		t.Errorf("got %s, want that keys were revoked", revoked.body)
	}
}
