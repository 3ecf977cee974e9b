package httpapi_test

import (
	"net/http"
	"net/http/httptest"
	"testing"

	"github.com/google/uuid"

	"meniscus/internal/httpapi"
	"meniscus/internal/httpapi/judge"
)

// What the operator publishes is read without a key; everything else, of the
// same institution and of others, asks for one as before.
func TestPublishedInstitutions(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull, consolidation, _ := treated(s)
	_, strangerKey := addInstitution(t, s.db, s.store, "Museum on the Hill")
	hidden := send(t, s.url, strangerKey, http.MethodPost, "/v1/specimens", object{"id": uuid.NewString(), "statement": specimen("H.1")}).want(201).id()
	h, err := httpapi.New(httpapi.Config{Store: s.store, PublicURL: "https://meniscus.example", Published: []uuid.UUID{s.inst}})
	if err != nil {
		t.Fatal(err)
	}
	open := httptest.NewServer(judge.Handler(t, h))
	t.Cleanup(open.Close)

	for _, path := range []string{
		"/v1/specimens/" + skull, "/v1/treatments/" + consolidation, "/v1/specimens/" + skull + "/summary",
		"/v1/specimens/" + skull + "/provenance", "/v1/treatments/" + consolidation + "/provenance",
	} {
		got := send(t, open.URL, "", http.MethodGet, path, nil).want(200)
		if got.header.Get("Access-Control-Allow-Origin") != "*" {
			t.Errorf("%s: got no word that any page may read it: %v", path, got.header)
		}
		send(t, s.url, "", http.MethodGet, path, nil).wantProblem(http.StatusUnauthorized, "access-key-missing")
		send(t, open.URL, strangerKey, http.MethodGet, path, nil).want(http.StatusNotFound) // a key is honoured, and its wall with it
		if keyed := send(t, open.URL, s.key, http.MethodGet, path, nil).want(200); keyed.header.Get("Access-Control-Allow-Origin") != "" {
			t.Errorf("%s: got CORS with a key", path)
		}
	}
	send(t, open.URL, "", http.MethodGet, "/v1/treatments/"+consolidation, nil, header{"Accept", asPage}).want(200)
	for _, path := range []string{
		"/v1/specimens/" + hidden, "/v1/specimens/" + hidden + "/summary", "/v1/specimens/" + uuid.NewString(), "/v1/specimens/not-an-id",
		"/v1/treatments/" + skull, "/v1/specimens", "/v1/records/" + skull, "/v1/specimens/" + skull + "/sheet", "/v1/exports/darwin-core", "/v1/people",
	} {
		send(t, open.URL, "", http.MethodGet, path, nil).want(http.StatusUnauthorized)
	}
	send(t, open.URL, "", http.MethodPost, "/v1/specimens", object{"statement": specimen("X")}).want(http.StatusUnauthorized)
}
