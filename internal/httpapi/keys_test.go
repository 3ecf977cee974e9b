package httpapi_test

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
)

// makeKey asks for a key as the holder of another one.
func (s *service) makeKey(as string, request object) reply {
	s.t.Helper()
	return send(s.t, s.url, as, http.MethodPost, "/v1/access-keys", request, header{"Idempotency-Key", uuid.NewString()})
}

// A key gives what it has and nothing more; every scope that it lacks is named.
func TestAKeyGivesOnlyItsOwnScopes(t *testing.T) {
	t.Parallel()
	s := newService(t)
	person := s.create("/v1/people", object{"name": "Tomas Brandl"}).id()
	asked := func(scopes ...any) object {
		return object{"name": "push", "person": object{"id": person}, "scopes": scopes}
	}
	narrow := s.keyWith("administer", "read")
	all := s.makeKey(narrow, asked("read", "record", "stock", "authorise", "report", "integrate", "export",
		"administer")).wantProblem(403, "scope-missing")
	if got := len(all.at("errors").(array)); got != 6 || all.at("errors", 0, "pointer") != "/scopes/1" ||
		all.at("errors", 0, "code") != "scope-not-yours" {
		t.Errorf("got %s, want the six scopes that it lacks", all.body)
	}
	for _, scope := range []string{"record", "stock", "authorise", "report", "integrate", "export"} {
		s.makeKey(narrow, asked(scope)).wantProblem(403, "scope-missing")
	}
	child := s.makeKey(narrow, asked("administer")).want(201).at("secret").(string)
	s.makeKey(child, asked("read")).wantProblem(403, "scope-missing")
	s.makeKey(narrow, asked("read", "read", "administer")).want(201)
	if got := strings.Count(string(s.do(http.MethodGet, "/v1/access-keys", nil).want(200).body), `"record"`); got != 1 {
		t.Errorf("got %d keys that record, want the first one alone", got)
	}
}

// A key whose end has passed would open nothing, and is not made.
func TestAKeyThatHasExpiredIsNotMade(t *testing.T) {
	t.Parallel()
	s := newService(t)
	person := s.create("/v1/people", object{"name": "Tomas Brandl"}).id()
	until := func(at time.Time) object {
		return object{"name": "push", "person": object{"id": person}, "scopes": array{"read"},
			"expiresAt": at.UTC().Format(time.RFC3339Nano)}
	}
	for _, passed := range []time.Time{time.Now(), time.Now().Add(-time.Hour), time.Date(1, 1, 1, 0, 0, 0, 0, time.UTC)} {
		got := s.makeKey(s.key, until(passed)).want(422)
		if got.at("errors", 0, "code") != "expired-already" || got.at("errors", 0, "pointer") != "/expiresAt" {
			t.Errorf("until %v: got %s, want the end named", passed, got.body)
		}
	}
	made := s.makeKey(s.key, until(time.Now().Add(time.Hour))).want(201)
	send(t, s.url, made.at("secret").(string), http.MethodGet, "/v1/institution", nil).want(200)
}

// A key that ends makes none that lasts longer: whoever was let in for a month
// cannot stay.
func TestAKeyGivesNothingBeyondItsEnd(t *testing.T) {
	t.Parallel()
	s := newService(t)
	person := s.create("/v1/people", object{"name": "Tomas Brandl"}).id()
	end := time.Now().Add(time.Hour).UTC().Truncate(time.Second)
	until := func(at time.Time) object {
		return object{"name": "guest", "person": object{"id": person}, "scopes": array{"administer"}, "expiresAt": at.Format(time.RFC3339)}
	}
	guest := s.makeKey(s.key, until(end)).want(201).at("secret").(string)
	lasting := until(end)
	delete(lasting, "expiresAt")
	for _, more := range []object{lasting, until(end.Add(time.Second))} {
		if got := s.makeKey(guest, more).want(403); got.at("errors", 0, "code") != "outlives-its-maker" ||
			got.at("errors", 0, "pointer") != "/expiresAt" {
			t.Errorf("got %s, want the end named", got.body)
		}
	}
	s.makeKey(guest, until(end)).want(201)
}

// Nobody gets a key in the name of a person whose record does not stand.
func TestNoKeyForAPersonWhoIsGone(t *testing.T) {
	t.Parallel()
	s := newService(t)
	for path, gone := range map[string]string{"/v1/records/": "/retraction", "/v1/people/": "/erasure"} {
		person := s.create("/v1/people", object{"name": "Tomas Brandl"}).id()
		s.makeKey(s.key, keyFor(person)).want(201)
		s.do(http.MethodPost, path+person+gone, object{"reason": "Asked for."}, anyTag).want(201)
		if got := s.makeKey(s.key, keyFor(person)).want(422); got.at("errors", 0, "code") != "person-not-in-force" ||
			got.at("errors", 0, "pointer") != "/person" {
			t.Errorf("after%s: got %s, want the person named", gone, got.body)
		}
	}
}

// A key may end itself, the last one that administers too; it stays ended, and
// nobody hears of its scopes any more.
func TestAKeyEndsItself(t *testing.T) {
	t.Parallel()
	s := newService(t)
	first := s.do(http.MethodGet, "/v1/access-keys", nil).want(200).at("items", 0, "id").(string)
	ended := s.do(http.MethodDelete, "/v1/access-keys/"+first, nil).want(200)
	if ended.at("revokedAt") == nil {
		t.Errorf("got %s, want when it was revoked", ended.body)
	}
	for range 2 {
		s.do(http.MethodDelete, "/v1/access-keys/"+first, nil).wantProblem(401, "access-key-unknown")
		s.do(http.MethodGet, "/v1/access-keys", nil).wantProblem(401, "access-key-unknown")
	}
}

// Who has no key that administers learns nothing of keys: neither which there
// are, nor whether an id is one.
func TestKeysAreSeenByThoseWhoAdministerThem(t *testing.T) {
	t.Parallel()
	s := newService(t)
	first := s.do(http.MethodGet, "/v1/access-keys", nil).want(200).at("items", 0, "id").(string)
	without := s.keyWith("read", "record", "stock", "authorise", "report", "integrate")
	send(t, s.url, without, http.MethodGet, "/v1/access-keys", nil).wantProblem(403, "scope-missing")
	for _, id := range []string{first, uuid.NewString()} {
		send(t, s.url, without, http.MethodDelete, "/v1/access-keys/"+id, nil).wantProblem(403, "scope-missing")
	}
	listed := s.do(http.MethodGet, "/v1/access-keys", nil).want(200)
	if strings.Contains(string(listed.body), "secret") {
		t.Errorf("got %s, want no secret", listed.body)
	}
}
