package deliver_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/access"
	"meniscus/internal/deliver"
	"meniscus/internal/httpapi"
	"meniscus/internal/httpapi/judge"
	"meniscus/internal/pgtest"
	"meniscus/internal/postgres"
	"meniscus/internal/webhook"
)

func TestMain(m *testing.M) { pgtest.Main(m) }

// museum is a running service, its worker with a clock of the test's own, and a
// catalogue that receives.
type museum struct {
	t       *testing.T
	db      *pgtest.DB
	api     *httpapi.Server
	url     string
	key     string
	inst    uuid.UUID
	sealer  *postgres.Sealer
	store   *postgres.Deliverer
	keeper  *webhook.Keeper
	targets webhook.Targets
	clock   *clock
}

const keeperKey = "AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8="

func newMuseum(t *testing.T) *museum {
	t.Helper()
	m := &museum{t: t, db: pgtest.New(t), clock: &clock{at: time.Now()}}
	store, err := postgres.Open(t.Context(), m.db.App())
	m.must(err)
	t.Cleanup(store.Close)
	m.keeper, err = webhook.NewKeeper(keeperKey)
	m.must(err)
	m.targets, err = webhook.ParseTargets("127.0.0.0/8")
	m.must(err)
	api, err := httpapi.New(httpapi.Config{Store: store, PublicURL: "https://meniscus.example", Keeper: m.keeper,
		Targets: m.targets, Now: m.clock.now})
	m.must(err)
	m.api = api
	server := httptest.NewServer(judge.Handler(t, api))
	t.Cleanup(server.Close)
	m.url = server.URL
	key, err := postgres.Found(t.Context(), m.db.Owner(), store, postgres.Founding{
		Institution: uuid.Must(uuid.NewV7()), Name: "Museum of the Lower Valley", TimeZone: "Europe/Vienna",
		Person: "Ilse Varga", Scopes: access.Scopes()})
	m.must(err)
	m.inst, m.key = key.Institution, key.Text()
	m.sealer, err = postgres.OpenSealer(t.Context(), m.db.Worker(), nil)
	m.must(err)
	t.Cleanup(m.sealer.Close)
	m.store, err = postgres.OpenDeliverer(t.Context(), m.db.Worker())
	m.must(err)
	t.Cleanup(m.store.Close)
	m.seal()
	return m
}

func (m *museum) must(err error) {
	m.t.Helper()
	if err != nil {
		m.t.Fatal(err)
	}
}

// worker makes a worker, after each change has altered its configuration.
func (m *museum) worker(change ...func(*deliver.Config)) *deliver.Worker {
	cfg := deliver.Config{
		Store: m.store, Keeper: m.keeper, Targets: m.targets, Change: httpapi.ChangeJSON,
		PublicURL: "https://meniscus.example",
		Now:       m.clock.now, Chance: func() float64 { return 0.5 },
	}
	for _, f := range change {
		f(&cfg)
	}
	return deliver.New(cfg)
}

func (m *museum) seal() {
	m.t.Helper()
	_, err := m.sealer.Round(m.t.Context(), 0)
	m.must(err)
}

// deliverAll runs rounds until nothing is due.
func (m *museum) deliverAll(w *deliver.Worker) {
	m.t.Helper()
	for {
		n, err := w.Round(m.t.Context())
		m.must(err)
		if n == 0 {
			return
		}
	}
}

// ask sends a request and fails unless the status is want.
func (m *museum) ask(method, path string, body any, want int) map[string]any {
	m.t.Helper()
	read, _ := m.fetch(method, path, body, want)
	var answer map[string]any
	if len(read) > 0 {
		m.must(json.Unmarshal(read, &answer))
	}
	return answer
}

// fetch sends a request, with a header if one is given, and fails unless the status is
// want.
func (m *museum) fetch(method, path string, body any, want int, headers ...string) ([]byte, http.Header) {
	m.t.Helper()
	encoded, err := json.Marshal(body)
	m.must(err)
	r, err := http.NewRequestWithContext(m.t.Context(), method, m.url+path, bytes.NewReader(encoded))
	m.must(err)
	r.Header.Set("Authorization", "Bearer "+m.key)
	r.Header.Set("Idempotency-Key", uuid.NewString())
	if body != nil {
		r.Header.Set("Content-Type", "application/json")
	}
	for _, h := range headers {
		name, value, _ := strings.Cut(h, ": ")
		r.Header.Set(name, value)
	}
	response, err := http.DefaultClient.Do(r)
	m.must(err)
	defer response.Body.Close()
	read, err := io.ReadAll(response.Body)
	m.must(err)
	if response.StatusCode != want {
		m.t.Fatalf("%s %s: got %d, want %d: %s", method, path, response.StatusCode, want, read)
	}
	return read, response.Header
}

// specimen records a specimen under a number and gives its id.
func (m *museum) specimen(number string) string {
	m.t.Helper()
	return m.ask(http.MethodPost, "/v1/specimens", map[string]any{"statement": map[string]any{
		"identifiers": []any{map[string]any{"kind": "catalogue-number", "value": number}}}},
		http.StatusCreated)["id"].(string)
}

// hook makes a webhook for a receiver's URL, and gives its path and secret.
func (m *museum) hook(url string, more map[string]any) (path, secret string) {
	m.t.Helper()
	request := map[string]any{"url": url, "name": "catalogue"}
	for name, value := range more {
		request[name] = value
	}
	made := m.ask(http.MethodPost, "/v1/webhooks", request, http.StatusCreated)
	return "/v1/webhooks/" + made["id"].(string), made["secret"].(string)
}

// read gives a webhook's present state.
func (m *museum) read(path string) map[string]any {
	m.t.Helper()
	return m.ask(http.MethodGet, path, nil, http.StatusOK)
}

// lastSentence is the sentence of the last attempt.
func (m *museum) lastSentence(path string) string {
	m.t.Helper()
	items := m.read(path + "/deliveries")["items"].([]any)
	if len(items) == 0 {
		return ""
	}
	return items[0].(map[string]any)["sentence"].(string)
}

// clock stands still until it is moved.
type clock struct {
	mu sync.Mutex
	at time.Time
}

func (c *clock) now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.at
}

func (c *clock) move(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = c.at.Add(d)
}

// catalogue receives deliveries as a catalogue would.
type catalogue struct {
	*httptest.Server
	mu       sync.Mutex
	answer   func(w http.ResponseWriter, r *http.Request) // nil accepts
	tried    int
	accepted []received
}

type received struct {
	header http.Header
	body   []byte
	event  map[string]any
}

func newCatalogue(t *testing.T) *catalogue {
	t.Helper()
	c := &catalogue{}
	c.Server = httptest.NewServer(c)
	t.Cleanup(c.Close)
	return c
}

func (c *catalogue) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	body, _ := io.ReadAll(r.Body)
	c.mu.Lock()
	defer c.mu.Unlock()
	c.tried++
	if c.answer != nil {
		c.answer(w, r)
		return
	}
	got := received{header: r.Header, body: body}
	_ = json.Unmarshal(body, &got.event)
	c.accepted = append(c.accepted, got)
	w.WriteHeader(http.StatusNoContent)
}

// answers sets what the catalogue answers from now on.
func (c *catalogue) answers(status int, headers ...string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if status == 0 {
		c.answer = nil
		return
	}
	c.answer = func(w http.ResponseWriter, _ *http.Request) {
		for _, h := range headers {
			name, value, _ := strings.Cut(h, ": ")
			w.Header().Set(name, value)
		}
		w.WriteHeader(status)
	}
}

// got is what was accepted so far.
func (c *catalogue) got() []received {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.accepted[:len(c.accepted):len(c.accepted)]
}

func (c *catalogue) attempts() int {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.tried
}

// sequences are the sequence numbers of what was accepted, in the order in which it came.
func (c *catalogue) sequences() []string {
	var sequences []string
	for _, r := range c.got() {
		sequences = append(sequences, strings.TrimLeft(r.event["sequence"].(string), "0"))
	}
	return sequences
}

// from gives the sequence numbers from low to high, as texts.
func from(low, high int) []string {
	var sequences []string
	for n := low; n <= high; n++ {
		sequences = append(sequences, fmt.Sprint(n))
	}
	return sequences
}
