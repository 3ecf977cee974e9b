package httpapi_test

import (
	"net/http"
	"testing"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/pgtest"
	"meniscus/internal/postgres"
)

// makeUp asks for 150 mL of a solution of a resin.
func makeUp(resin string) string {
	return `{"resin":{"solid":{"material":"` + resin + `"}},` + inAcetone + `,` +
		`"strength":{"value":20,"unit":"g/dL","basis":"mass-per-solution-volume"},"amount":{"finished":{"value":150,"unit":"mL"}}}`
}

// elsewhere is the same service as another instance of it runs.
func (s *service) elsewhere() *service {
	s.t.Helper()
	store, err := postgres.Open(s.t.Context(), s.db.App())
	if err != nil {
		s.t.Fatal(err)
	}
	s.t.Cleanup(store.Close)
	other := *s
	other.store, other.url = store, newServer(s.t, store).URL
	return &other
}

// owner runs a statement as the owner of the tables.
func (s *service) owner(sql string, args ...any) {
	s.t.Helper()
	if _, err := pgtest.Pool(s.t, s.db.Super()).Exec(s.t.Context(), sql, args...); err != nil {
		s.t.Fatal(err)
	}
}

// questions are requests of all sorts: with and without a body or a question to the database,
// sound and not.
func questions() map[string]func(s *service, key string) reply {
	ask := func(method, path string, body any, headers ...header) func(*service, string) reply {
		return func(s *service, key string) reply { return send(s.t, s.url, key, method, path, body, headers...) }
	}
	named := object{"statement": object{"name": "Tomas Brandl"}}
	return map[string]func(*service, string) reply{
		"a list":         ask(http.MethodGet, "/v1/people", nil),
		"no such record": ask(http.MethodGet, "/v1/records/"+uuid.NewString(), nil),
		"a write":        ask(http.MethodPost, "/v1/people", named, header{"Idempotency-Key", "a-write"}),
		"a wrong write":  ask(http.MethodPost, "/v1/people", object{"statement": object{}}, header{"Idempotency-Key", "wrong"}),
		"no JSON":        ask(http.MethodPost, "/v1/people", "{", header{"Idempotency-Key", "broken"}),
		"no such query":  ask(http.MethodGet, "/v1/people?colour=red", nil),
		"a computation":  ask(http.MethodPost, "/v1/compute/make-up", makeUp(copolymer)),
		"materials":      ask(http.MethodGet, "/v1/materials", nil),
		"an export":      ask(http.MethodGet, "/v1/exports/records", nil),
		"keys":           ask(http.MethodGet, "/v1/access-keys", nil),
		"a material":     ask(http.MethodPut, beadsPath, object{"statement": beads()}),
		"an import": ask(http.MethodPut, "/v1/imports/"+uuid.NewString()+"/cards", "{}",
			header{"Content-Type", "application/x-ndjson"}),
	}
}

// A key that is revoked, has expired or was exchanged opens nothing from then on, on every
// instance, also on one that has just served it; and what it may no longer do it cannot.
func TestAKeyEndsEverywhereAtOnce(t *testing.T) {
	t.Parallel()
	s := newService(t)
	ends := map[string]func(s *service, id string){
		"revoked": func(s *service, id string) {
			s.do(http.MethodDelete, "/v1/access-keys/"+id, nil).want(http.StatusOK)
		},
		"expired": func(s *service, id string) {
			s.owner(`update access_key set expires_at = now() where id = $1`, id)
		},
		"replaced, and ended": func(s *service, id string) {
			s.do(http.MethodPost, "/v1/access-keys/"+id+"/rotation", object{"endsAt": "2020-01-01T00:00:00Z"},
				header{"Idempotency-Key", uuid.NewString()}).want(http.StatusCreated)
		},
		"exchanged": func(s *service, id string) {
			s.owner(`update access_key set secret_sha256 = sha256('another') where id = $1`, id)
		},
		"removed": func(s *service, id string) { s.owner(`delete from access_key where id = $1`, id) },
	}
	person := s.create("/v1/people", object{"name": "Ada Lenz"}).id()
	here := s.elsewhere()
	for end, do := range ends {
		for question, ask := range questions() {
			made := s.makeKey(s.key, object{"name": end, "person": object{"id": person},
				"scopes": array{"read", "record", "stock", "report", "integrate", "export", "administer"}}).want(http.StatusCreated)
			key, id := made.at("secret").(string), made.id()
			send(t, here.url, key, http.MethodGet, "/v1/institution", nil).want(http.StatusOK)
			if got := ask(here, key); got.status == http.StatusUnauthorized {
				t.Fatalf("%s before it was %s: got %s", question, end, got.body)
			}
			do(s, id)
			for range 2 {
				if got := ask(here, key); got.status != http.StatusUnauthorized || got.at("code") != "access-key-unknown" {
					t.Errorf("%s of a key that was %s: got %d, %s", question, end, got.status, got.body)
				}
			}
		}
	}
	s.do(http.MethodGet, "/v1/people?name=Tomas", nil)
}

// What a key may do and in whose name is as it is now, on an instance that remembers it as it was.
func TestAKeyIsAsItIsNow(t *testing.T) {
	t.Parallel()
	s := newService(t)
	here := s.elsewhere()
	person, other := s.create("/v1/people", object{"name": "Ada Lenz"}).id(), s.create("/v1/people", object{"name": "Bela Orth"}).id()
	made := s.makeKey(s.key, object{"name": "changing", "person": object{"id": person},
		"scopes": array{"read", "record"}}).want(http.StatusCreated)
	key, id := made.at("secret").(string), made.id()
	said := func() reply {
		return send(t, here.url, key, http.MethodPost, "/v1/people", object{"statement": object{"name": "Tomas Brandl"}},
			header{"Idempotency-Key", uuid.NewString()})
	}
	if got := said().want(http.StatusCreated).at("recordedBy", "id"); got != person {
		t.Errorf("got it recorded by %v, want %v", got, person)
	}
	s.owner(`update access_key set person_id = $2 where id = $1`, id, other)
	if got := said().want(http.StatusCreated).at("recordedBy", "id"); got != other {
		t.Errorf("got it recorded by %v, want %v", got, other)
	}
	s.owner(`update access_key set scopes = '{read}' where id = $1`, id)
	said().wantProblem(http.StatusForbidden, "scope-missing")
	s.owner(`update access_key set scopes = '{read,record}' where id = $1`, id)
	said().want(http.StatusCreated)
	s.owner(`update access_key set expires_at = $2 where id = $1`, id, time.Now().Add(time.Hour))
	said().want(http.StatusCreated)
}

// The same id is a key of two institutions, each with its own secret.
func TestARememberedKeyIsOfItsInstitution(t *testing.T) {
	t.Parallel()
	s := newService(t)
	inst, other := addInstitution(t, s.db, s.store, "Museum of the Upper Valley")
	s.owner(`update access_key set id = (select id from access_key where institution_id = $1) where institution_id = $2`, inst, s.inst)
	for range 3 {
		s.do(http.MethodGet, "/v1/institution", nil).wantProblem(http.StatusUnauthorized, "access-key-unknown") // its id is another
		got := send(t, s.url, other, http.MethodGet, "/v1/institution", nil).want(http.StatusOK).at("name")
		if got != "Museum of the Upper Valley" {
			t.Errorf("got %v", got)
		}
	}
}

// An own material that one instance changes is used as it is by the next request of another
// that remembers it as it was: in computations, checks, lists and what is recorded.
func TestOwnMaterialsAreAsTheyAreNow(t *testing.T) {
	t.Parallel()
	s := newService(t)
	here := s.elsewhere()
	for range 2 {
		here.do(http.MethodGet, beadsPath, nil).wantProblem(http.StatusNotFound, "material-unknown")
	}
	made := s.do(http.MethodPut, beadsPath, object{"statement": beads()}).want(http.StatusCreated)
	density := func() any {
		return here.do(http.MethodGet, beadsPath, nil).want(http.StatusOK).property("density")["values"].([]any)[0].(object)["value"]
	}
	mixture := func() string {
		return string(here.do(http.MethodPost, "/v1/compute/make-up", makeUp(made.id())).want(http.StatusOK).body)
	}
	was, answer := density(), mixture()
	if was != 1.16 || density() != was || mixture() != answer {
		t.Errorf("got the density %v, want 1.16, twice alike", was)
	}
	changed := beads()
	changed["values"] = array{rawObject(`{"property":"density","value":1.400,"unit":"g/mL"}`)}
	amended := s.do(http.MethodPut, beadsPath, object{"statement": changed, "reason": "Weighed again"},
		header{"If-Match", made.header.Get("ETag")}).want(http.StatusOK)
	if now := mixture(); now == answer {
		t.Errorf("got the answer of the material as it was: %s", now)
	}
	if got := density(); got != 1.4 {
		t.Errorf("got the density %v, want 1.4", got)
	}
	s.do(http.MethodPost, "/v1/records/"+made.id()+"/retraction", object{"reason": "Entered twice"},
		header{"If-Match", amended.header.Get("ETag")}).want(http.StatusCreated)
	unknown := here.do(http.MethodPost, "/v1/supplies", object{"statement": object{"code": "S-1", "material": of(made.id())}},
		header{"Idempotency-Key", "of-nothing"})
	unknown.want(http.StatusUnprocessableEntity)
	here.do(http.MethodGet, beadsPath, nil).wantProblem(http.StatusNotFound, "material-unknown")
}

// Once the key and the materials are remembered, recording is two questions to the database,
// and reading, computing and refusing are one.
func TestRoundTripsOfARequest(t *testing.T) {
	t.Parallel()
	s, trips := counted(t)
	specimen := s.create("/v1/specimens", object{"identifiers": array{object{"kind": "catalogue-number", "value": "MLV 12"}}}).id()
	person := s.create("/v1/people", object{"name": "Ada Lenz"}).id()
	supply := s.create("/v1/supplies", object{"code": "S-1", "material": of(copolymer)}).id()
	s.do(http.MethodPut, beadsPath, object{"statement": beads()}).want(http.StatusCreated)
	record := func(on, by object) func() {
		said := treatment(specimen, "consolidation", "2024-05-02")
		said["specimen"], said["people"] = on, array{object{"person": by, "part": "carried-out"}}
		said["materials"] = array{object{"used": object{"supply": of(supply)}}}
		return func() { s.create("/v1/treatments", said) }
	}
	byID := record(of(specimen), of(person))
	get := func(path string) func() { return func() { s.do(http.MethodGet, path, nil).want(http.StatusOK) } }
	for _, c := range []struct {
		name string
		do   func()
		want int64
	}{
		{"a treatment by ids", byID, 2},
		{"a treatment by a number and a name",
			record(object{"identifier": object{"kind": "catalogue-number", "value": "MLV 12"}},
				object{"name": "Ada Lenz"}), 2},
		{"a person", func() { s.create("/v1/people", object{"name": "Bela Orth"}) }, 1},
		{"a record", get("/v1/people/" + person), 1},
		{"a list", get("/v1/people"), 1},
		{"a material", get(beadsPath), 1},
		{"a computation", func() { s.do(http.MethodPost, "/v1/compute/make-up", makeUp(copolymer)).want(http.StatusOK) }, 1},
		{"a wrong statement", func() {
			s.do(http.MethodPost, "/v1/people", object{"statement": object{}},
				header{"Idempotency-Key", "x"}).want(http.StatusUnprocessableEntity)
		}, 1},
	} {
		c.do() // what is met first is remembered, and its statements are prepared
		if got := trips.During(c.do); got != c.want {
			t.Errorf("%s: got %d round trips, want %d", c.name, got, c.want)
		}
	}
}
