package httpapi_test

import (
	"net/http"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"meniscus/internal/httpapi"
)

// A key has its requests in each window; an answer 304 is one of them, the health
// is not counted, and one key's use is not another's.
func TestLimit(t *testing.T) {
	t.Parallel()
	s := newService(t)
	var moved atomic.Int64
	start := time.Now()
	s.url = listen(t, mustServe(t, httpapi.Config{Store: s.store, PublicURL: "https://meniscus.example",
		Limit: httpapi.Limit{Requests: 5, Window: time.Minute}, Now: func() time.Time { return start.Add(time.Duration(moved.Load())) }})).URL
	_, other := addInstitution(t, s.db, s.store, "Museum on the Hill")
	first := s.do(http.MethodGet, "/v1/institution", nil).want(200)
	if p, l := first.header.Get("RateLimit-Policy"), first.header.Get("RateLimit"); p != `"default";q=5;w=60` || l != `"default";r=4;t=60` {
		t.Errorf("got %q and %q", p, l)
	}
	for _, held := range []string{first.header.Get("ETag"), "*"} {
		s.do(http.MethodGet, "/v1/institution", nil, header{"If-None-Match", held}).want(304)
		s.do(http.MethodGet, "/readyz", nil).want(200)
	}
	s.do(http.MethodGet, "/v1/specimens/none", nil).want(404) // failures are counted
	moved.Store(int64(20 * time.Second))
	if got := s.do(http.MethodGet, "/v1/institution", nil).want(200).header.Get("RateLimit"); got != `"default";r=0;t=40` {
		t.Errorf("got %q, want none left for 40 s", got)
	}
	over := s.do(http.MethodGet, "/v1/institution", nil).wantProblem(429, "quota-exceeded")
	if got := over.header.Get("Retry-After"); got != "40" {
		t.Errorf("got Retry-After %q, want 40", got)
	}
	send(t, s.url, other, http.MethodGet, "/v1/institution", nil).want(200)
	for range 5 {
		send(t, s.url, "meniscus_guess", http.MethodGet, "/v1/institution", nil).want(401)
	}
	send(t, s.url, "meniscus_guess", http.MethodGet, "/v1/institution", nil).want(429)
	moved.Store(int64(61 * time.Second))
	s.do(http.MethodGet, "/v1/institution", nil).want(200)
}

// Browsers of other origins read the public documents, and the rest only where
// the operator has named them.
func TestCrossOrigin(t *testing.T) {
	t.Parallel()
	s := newService(t)
	closed := s.url
	open := listen(t, mustServe(t, httpapi.Config{Store: s.store, PublicURL: "https://meniscus.example", Origins: []string{"https://catalogue.museum.example"}})).URL
	for name, tc := range map[string]struct {
		at, path, origin, want string
	}{
		"off":              {closed, "/v1/institution", "https://catalogue.museum.example", ""},
		"named":            {open, "/v1/institution", "https://catalogue.museum.example", "https://catalogue.museum.example"},
		"another":          {open, "/v1/institution", "https://elsewhere.example", ""},
		"part of a name":   {open, "/v1/institution", "https://catalogue.museum.example.evil.example", ""},
		"nowhere":          {open, "/v1/institution", "null", ""},
		"public document":  {closed, "/openapi.json", "https://elsewhere.example", "*"},
		"reference":        {closed, "/docs", "https://elsewhere.example", "*"},
		"kinds of problem": {closed, "/problems/validation", "https://elsewhere.example", "*"},
	} {
		s.url = tc.at
		got := s.bare(http.MethodGet, tc.path, header{"Origin", tc.origin})
		if h := got.Header.Get("Access-Control-Allow-Origin"); h != tc.want || got.StatusCode != 200 {
			t.Errorf("%s: got %q and %d, want %q", name, h, got.StatusCode, tc.want)
		}
		if tc.at == open && !strings.Contains(strings.Join(got.Header.Values("Vary"), ","), "Origin") {
			t.Errorf("%s: got Vary %q", name, got.Header.Values("Vary"))
		}
	}
	s.url = open
	preflight := s.bare(http.MethodOptions, "/v1/treatments", header{"Origin", "https://catalogue.museum.example"}, header{"Access-Control-Request-Method", "POST"})
	if preflight.StatusCode != 204 || !strings.Contains(preflight.Header.Get("Access-Control-Allow-Headers"), "Idempotency-Key") || preflight.Header.Get("Access-Control-Allow-Credentials") != "" {
		t.Errorf("got %d %v", preflight.StatusCode, preflight.Header)
	}
	stranger := s.bare(http.MethodOptions, "/v1/treatments", header{"Origin", "https://elsewhere.example"}, header{"Access-Control-Request-Method", "POST"})
	for name := range stranger.Header {
		if strings.HasPrefix(name, "Access-Control-") {
			t.Errorf("got %s for a stranger's preflight, want nothing", name)
		}
	}
}
