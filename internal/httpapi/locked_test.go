package httpapi_test

import (
	"net/http"
	"testing"

	"github.com/google/uuid"
)

// While an operator changes one table, what needs it is told to come again, and
// the rest goes on.
func TestOneTableIsLocked(t *testing.T) {
	t.Parallel()
	s := newService(t)
	bone := s.create("/v1/specimens", specimen("LV.1")).id()
	coat := s.create("/v1/treatments", treatment(bone, "coating", "2001")).id()
	undo := s.db.Lock(t, "treatment")
	for _, path := range []string{"/v1/treatments", "/v1/treatments/" + coat + "/findings?detail=full", "/v1/specimens/" + bone + "/treatments",
		"/v1/specimens/" + bone + "/present-state?detail=full", "/v1/specimens/" + bone + "/removal-plan?detail=full", "/v1/reports/reversible-treatments"} {
		r := s.do(http.MethodGet, path, nil).wantProblem(http.StatusServiceUnavailable, "database-busy")
		if r.header.Get("Retry-After") == "" {
			t.Errorf("%s: got no Retry-After", path)
		}
	}
	key := header{"Idempotency-Key", uuid.NewString()}
	again := func() reply {
		return s.do(http.MethodPost, "/v1/treatments", object{"statement": treatment(bone, "cleaning", "2002")}, key)
	}
	again().wantProblem(http.StatusServiceUnavailable, "database-busy")
	for _, path := range []string{"/v1/specimens/" + bone, "/v1/people", "/v1/batches", "/v1/institution", "/readyz"} {
		s.do(http.MethodGet, path, nil).want(http.StatusOK)
	}
	s.create("/v1/people", object{"name": "Ilse Varga the Younger"})
	undo()
	again().want(http.StatusCreated)
	if got := s.do(http.MethodGet, "/v1/treatments", nil).want(http.StatusOK).ids(); len(got) != 2 {
		t.Errorf("got %d treatments, want the first one and the one that was sent again", len(got))
	}
}

// Of two writes with one key at the same time, the second is still told that the
// first is at work.
func TestTheSameWriteAtWorkIsTold(t *testing.T) {
	t.Parallel()
	s := newService(t)
	key := header{"Idempotency-Key", uuid.NewString()}
	again := func() reply {
		return s.do(http.MethodPost, "/v1/people", object{"statement": object{"name": "Ilse Varga"}}, key)
	}
	again().want(http.StatusCreated)
	undo := s.db.Hold(t, `delete from request_key`)
	again().wantProblem(http.StatusConflict, "request-at-work")
	undo()
	if got := again().want(http.StatusCreated).header.Get("Idempotency-Replayed"); got != "true" {
		t.Errorf("got Idempotency-Replayed %q afterwards", got)
	}
}
