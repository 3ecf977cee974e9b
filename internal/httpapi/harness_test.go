package httpapi_test

import (
	"bytes"
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/google/uuid"

	"meniscus/internal/access"
	"meniscus/internal/httpapi"
	"meniscus/internal/httpapi/judge"
	"meniscus/internal/pgtest"
	"meniscus/internal/postgres"
	"meniscus/internal/webhook"
)

func TestMain(m *testing.M) { pgtest.Main(m) }

// service is one running service on a database of its own, whose every answer
// is held against the contract.
type service struct {
	t     testing.TB
	url   string
	key   string
	store *postgres.Store
	db    *pgtest.DB
	inst  uuid.UUID
	api   *httpapi.Server

	// The worker's connections are opened by the first that needs them.
	sealer *postgres.Sealer
	watch  *postgres.Watch
}

// newService starts a service with one institution and a key of every scope.
func newService(t testing.TB) *service {
	t.Helper()
	db := pgtest.New(t)
	store, err := postgres.Open(t.Context(), db.App())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(store.Close)
	s := &service{t: t, store: store, db: db}
	s.api = mustServe(t, ordinary(t, store))
	s.url = listen(t, s.api).URL
	s.inst, s.key = addInstitution(t, db, store, "Museum of the Lower Valley")
	return s
}

func newServer(t testing.TB, store *postgres.Store) *httptest.Server {
	t.Helper()
	return listen(t, mustServe(t, ordinary(t, store)))
}

// ordinary is the configuration of most tests.
func ordinary(t testing.TB, store *postgres.Store) httpapi.Config {
	t.Helper()
	keeper, err := webhook.NewKeeper("AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8=")
	if err != nil {
		t.Fatal(err)
	}
	return httpapi.Config{Store: store, PublicURL: "https://meniscus.example", Keeper: keeper, LogKeys: logKeys}
}

// mustServe makes a server with a configuration of the test's own.
func mustServe(t testing.TB, cfg httpapi.Config) *httpapi.Server {
	t.Helper()
	h, err := httpapi.New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

// listen serves h, every answer held against the contract, until t has ended.
func listen(t testing.TB, h http.Handler) *httptest.Server {
	t.Helper()
	server := httptest.NewServer(judge.Handler(t, h))
	t.Cleanup(server.Close)
	return server
}

// addInstitution makes an institution, a person, and a key of every scope.
func addInstitution(t testing.TB, db *pgtest.DB, store *postgres.Store, name string) (uuid.UUID, string) {
	t.Helper()
	key, err := postgres.Found(t.Context(), db.Owner(), store, postgres.Founding{Institution: uuid.Must(uuid.NewV7()), Name: name, TimeZone: "Europe/Vienna", Person: "Ilse Varga", Scopes: access.Scopes()})
	if err != nil {
		t.Fatal(err)
	}
	return key.Institution, key.Text()
}

// awaitReady asks until the service says that it is ready: a busy machine's
// database may take longer than one question waits.
func (s *service) awaitReady() {
	s.t.Helper()
	for s.do(http.MethodGet, "/readyz", nil).status != http.StatusOK {
	}
}

// in is the same service for a subtest.
func (s *service) in(t testing.TB) *service {
	copied := *s
	copied.t = t
	return &copied
}

// seal gives every committed entry its sequence number.
func (s *service) seal() {
	s.t.Helper()
	if s.sealer == nil {
		sealer, err := postgres.OpenSealer(s.t.Context(), s.db.Worker(), nil)
		if err != nil {
			s.t.Fatal(err)
		}
		s.t.Cleanup(sealer.Close)
		s.sealer = sealer
	}
	if _, err := s.sealer.Round(s.t.Context(), 0); err != nil {
		s.t.Fatal(err)
	}
}

// reply is an answer that was read whole.
type reply struct {
	t      testing.TB
	status int
	header http.Header
	body   []byte
}

// header is one request header.
type header struct{ name, value string }

// do sends a request with the service's key; body may be nil, a string of JSON
// or anything that encodes as JSON.
func (s *service) do(method, path string, body any, headers ...header) reply {
	s.t.Helper()
	return send(s.t, s.url, s.key, method, path, body, headers...)
}

func send(t testing.TB, base, key, method, path string, body any, headers ...header) reply {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), method, base+path, reader(t, body))
	if err != nil {
		t.Fatal(err)
	}
	if body != nil {
		r.Header.Set("Content-Type", "application/json")
	}
	if key != "" {
		r.Header.Set("Authorization", "Bearer "+key)
	}
	for _, h := range headers {
		r.Header.Set(h.name, h.value)
	}
	response, err := http.DefaultClient.Do(r) // a request that hangs is ended, and shown, by the time limit of all tests
	if err != nil {
		t.Fatal(err)
	}
	defer response.Body.Close()
	read, err := io.ReadAll(response.Body)
	if err != nil {
		t.Fatal(err)
	}
	return reply{t: t, status: response.StatusCode, header: response.Header, body: read}
}

func reader(t testing.TB, body any) io.Reader {
	t.Helper()
	switch b := body.(type) {
	case nil:
		return nil
	case string:
		return strings.NewReader(b)
	case []byte:
		return bytes.NewReader(b)
	}
	return bytes.NewReader(encoded(body))
}

// encoded is a body as JSON.
func encoded(body any) []byte {
	b, err := json.Marshal(body)
	if err != nil {
		panic(err)
	}
	return b
}

// create posts a statement with a fresh request key and wants it recorded.
func (s *service) create(path string, statement any) reply {
	s.t.Helper()
	return s.do(http.MethodPost, path, map[string]any{"statement": statement}, header{"Idempotency-Key", uuid.NewString()}).want(http.StatusCreated)
}

// want fails the test when the status is another.
func (r reply) want(status int) reply {
	r.t.Helper()
	if r.status != status {
		r.t.Fatalf("got status %d, want %d: %s", r.status, status, r.body)
	}
	return r
}

// wantProblem wants a problem of this status with this code.
func (r reply) wantProblem(status int, slug string) reply {
	r.t.Helper()
	r.want(status)
	if got := r.at("code"); got != slug || r.at("type") != "tag:meniscus.example,2026:problem/"+slug {
		r.t.Fatalf("got problem %v, want %s: %s", got, slug, r.body)
	}
	return r
}

// at gives a member of the JSON body by its path: names, and numbers for items.
func (r reply) at(path ...any) any {
	r.t.Helper()
	var v any
	if err := json.Unmarshal(r.body, &v); err != nil {
		r.t.Fatalf("the body is not JSON: %s", r.body)
	}
	for _, step := range path {
		switch k := step.(type) {
		case string:
			m, _ := v.(map[string]any)
			v = m[k]
		case int:
			l, _ := v.([]any)
			if k >= len(l) {
				r.t.Fatalf("no item %d at %v in %s", k, path, r.body)
			}
			v = l[k]
		}
	}
	return v
}

// id is the record's id.
func (r reply) id() string {
	r.t.Helper()
	id, ok := r.at("id").(string)
	if !ok {
		r.t.Fatalf("no id in %s", r.body)
	}
	return id
}

type object = map[string]any
type array = []any

// idOf is the id of a reference to a record, or nothing.
func idOf(reference any) string {
	of, _ := reference.(object)
	id, _ := of["id"].(string)
	return id
}
