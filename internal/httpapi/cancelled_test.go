package httpapi_test

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"runtime"
	"runtime/pprof"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"meniscus/api"
	"meniscus/internal/access"
	"meniscus/internal/httpapi"
	"meniscus/internal/pgtest"
	"meniscus/internal/postgres"
	"meniscus/internal/webhook"
)

// pauses stops a request at one of the times that it asks the database, until its
// caller has gone.
type pauses struct{}

type pauseKey struct{}

// pause is the n-th time that the request of a context asks.
type pause struct {
	left    int
	reached chan struct{}
	gone    chan struct{}
	worked  int // how many statements were more than whose the request is and whether that still holds
}

// asksWhose matches what every request may ask first.
var asksWhose = regexp.MustCompile(`select secret_sha256|premise_broken|set_config`)

func tally(ctx context.Context, sql string) {
	if p, ok := ctx.Value(pauseKey{}).(*pause); ok && !asksWhose.MatchString(sql) {
		p.worked++
	}
}

func (p *pause) ask() {
	if p.left--; p.left == 0 {
		close(p.reached)
		<-p.gone
	}
}

func stopAt(ctx context.Context) context.Context {
	if p, ok := ctx.Value(pauseKey{}).(*pause); ok {
		p.ask()
	}
	return ctx
}

func (pauses) TraceQueryStart(ctx context.Context, _ *pgx.Conn, sent pgx.TraceQueryStartData) context.Context {
	tally(ctx, sent.SQL)
	return stopAt(ctx)
}
func (pauses) TraceQueryEnd(context.Context, *pgx.Conn, pgx.TraceQueryEndData) {}
func (pauses) TraceBatchStart(ctx context.Context, _ *pgx.Conn, _ pgx.TraceBatchStartData) context.Context {
	return stopAt(ctx)
}
func (pauses) TraceBatchQuery(ctx context.Context, _ *pgx.Conn, sent pgx.TraceBatchQueryData) {
	tally(ctx, sent.SQL)
}
func (pauses) TraceBatchEnd(context.Context, *pgx.Conn, pgx.TraceBatchEndData) {}

// example is an operation's example as a request.
type example struct {
	id, method, path, accept, mediaType, body string
	reads                                     bool
}

// examples are the contract's requests, those that read first.
func examples(t testing.TB, ids map[string]string) []example {
	t.Helper()
	doc, err := api.Document()
	if err != nil {
		t.Fatal(err)
	}
	var all []example
	for path, item := range doc.Paths.Map() {
		for method, o := range item.Operations() {
			e := example{id: o.OperationID, method: method, path: path, reads: o.Extensions["x-work"] != "write" &&
				o.Extensions["x-work"] != "import"}
			for name, id := range ids {
				e.path = strings.ReplaceAll(e.path, "{"+name+"}", id)
			}
			switch e.id {
			case "lookUpSpecimen":
				e.path += "?number=LV.1987/0042"
			case "proveInLog":
				e.path += "?sequence=1"
			case "findSourceRecord", "stateSourceRecord":
				e.path = sourcePath("specimen", "900")
			}
			for mediaType := range o.Responses.Value(firstSuccess(o)).Value.Content {
				e.accept = max(e.accept, mediaType)
			}
			if e.id == "exportRecords" {
				e.accept = "application/x-ndjson"
			}
			e.mediaType, e.body = exampleBody(o)
			all = append(all, e)
		}
	}
	slices.SortFunc(all, func(a, b example) int {
		if a.reads != b.reads {
			return map[bool]int{true: -1, false: 1}[a.reads]
		}
		return cmp.Compare(a.id, b.id)
	})
	return all
}

func firstSuccess(o *openapi3.Operation) string {
	best := "default"
	for code := range o.Responses.Map() {
		if strings.HasPrefix(code, "2") {
			best = code
		}
	}
	return best
}

func exampleBody(o *openapi3.Operation) (mediaType, body string) {
	if o.RequestBody == nil {
		return "", ""
	}
	for mediaType, content := range o.RequestBody.Value.Content {
		for _, ex := range content.Examples {
			if text, ok := ex.Value.Value.(string); ok {
				return mediaType, text
			}
			return mediaType, string(encoded(ex.Value.Value))
		}
	}
	return "", ""
}

// cancelling is a service of which every request can be stopped in mid-work.
type cancelling struct {
	*service
	server  *httpapi.Server
	session access.Key // of somebody who signed in with a browser
	worked  int        // of the last request that was not stopped (pause)
}

func newCancelling(t *testing.T, connections int32) *cancelling {
	t.Helper()
	db := pgtest.New(t)
	cfg, err := pgxpool.ParseConfig(db.App())
	if err != nil {
		t.Fatal(err)
	}
	cfg.MaxConns, cfg.ConnConfig.Tracer = connections, pauses{}
	store, err := postgres.OpenWith(t.Context(), cfg)
	if err != nil {
		t.Fatal(err)
	}
	keeper, err := webhook.NewKeeper("AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8=")
	if err != nil {
		t.Fatal(err)
	}
	c := &cancelling{service: &service{t: t, store: store, db: db}}
	c.server = mustServe(t, httpapi.Config{Store: store, PublicURL: "https://meniscus.example", Keeper: keeper,
		LogKeys: logKeys})
	c.inst, c.key = addInstitution(t, db, store, "Museum of the Lower Valley")
	return c
}

// ask sends a request whose caller leaves when it asks the database for the n-th
// time, and tells whether it came to that.
func (c *cancelling) ask(e example, n int) (reached bool, answer *httptest.ResponseRecorder) {
	p := &pause{left: n, reached: make(chan struct{}), gone: make(chan struct{})}
	ctx, leave := context.WithCancel(context.WithValue(context.Background(), pauseKey{}, p))
	defer leave()
	if e.id == "recordAtBottle" {
		e.mediaType = "application/x-www-form-urlencoded"
		e.body = url.Values{"token": {c.session.FormToken()}, "once": {uuid.NewString()}, "form": {"use"}, "amount": {"1"},
			"unit": {"mL"}, "date": {"2026-03-04"}}.Encode()
	}
	r := httptest.NewRequestWithContext(ctx, e.method, e.path, strings.NewReader(e.body))
	for name, value := range map[string]string{"Authorization": "Bearer " + c.key, "Accept": e.accept,
		"Content-Type": e.mediaType, "Idempotency-Key": uuid.NewString(), "If-Match": "*"} {
		if value != "" {
			r.Header.Set(name, value)
		}
	}
	if e.id == "recordAtBottle" {
		r.Header.Del("Authorization")
		r.AddCookie(&http.Cookie{Name: "__Host-meniscus", Value: c.session.Text()})
	}
	answer = httptest.NewRecorder()
	w := unhurried{answer}
	done := make(chan struct{})
	go func() {
		defer close(done)
		defer func() { _ = recover() }() // a stream that breaks off
		c.server.ServeHTTP(w, r)
	}()
	select {
	case <-p.reached:
		leave()
		close(p.gone)
		<-done
		return true, answer
	case <-done:
		c.worked = p.worked
		return false, answer
	}
}

// unhurried is a recorder that takes deadlines, as a connection does.
type unhurried struct{ *httptest.ResponseRecorder }

func (unhurried) SetReadDeadline(time.Time) error  { return nil }
func (unhurried) SetWriteDeadline(time.Time) error { return nil }

// load records the demo's museum, and what else the paths name.
func (c *cancelling) load() map[string]string {
	c.t.Helper()
	for _, line := range demoRequests(c.t) {
		c.made(example{method: http.MethodPost, path: line.path, mediaType: "application/json", body: line.body})
	}
	c.seal()
	c.session = access.Key{Institution: c.inst, ID: uuid.Must(uuid.NewV7())}
	if err := c.store.For(c.inst).OpenSession(c.t.Context(), c.session, access.Principal{
		Person: uuid.MustParse("01900000-0000-7000-8000-000000000002"), Scopes: access.Scopes()}, time.Hour); err != nil {
		c.t.Fatal(err)
	}
	at := func(n int) string { return fmt.Sprintf("01900000-0000-7000-8000-0000000000%02d", n) }
	ids := map[string]string{"specimenId": at(22), "treatmentId": at(28), "recordId": at(28), "batchId": at(17),
		"supplyId": at(5), "personId": at(1),
		"amountChangeId": at(20), "revision": "1", "rule": "solvent-resin-on-damp-body", "term": "cleaning",
		"paper": "examination-report", "materialId": "0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7a11", "reportRunId": at(99)}
	for _, e := range examples(c.t, ids) {
		e.accept, e.body = "", withoutWebhooks.ReplaceAllString(personInExample.ReplaceAllString(e.body, `"person":"`+at(1)+`"`), "")
		switch name := map[string]string{"createImport": "importId", "createReportSchedule": "reportScheduleId",
			"createWebhook": "webhookId", "createAccessKey": "keyId"}[e.id]; {
		case name != "":
			ids[name] = c.made(e)
		case e.id == "createPlan":
			e.body = strings.ReplaceAll(e.body, "0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7a10", at(22))
			ids["planId"] = c.made(e)
		}
	}
	return ids
}

var (
	personInExample = regexp.MustCompile(`"person":"[^"]*"`)
	withoutWebhooks = regexp.MustCompile(`,"webhooks":\[[^\]]*\]`)
)

// calendarKey makes a key for the calendar alone.
func (c *cancelling) calendarKey(person string) string {
	c.t.Helper()
	asked := object{"name": "calendar", "person": object{"id": person}, "scopes": array{"calendar"}}
	_, answer := c.ask(example{method: http.MethodPost, path: "/v1/access-keys", mediaType: "application/json",
		body: string(encoded(asked))}, 0)
	var made struct{ Secret string }
	if err := json.Unmarshal(answer.Body.Bytes(), &made); err != nil || made.Secret == "" {
		c.t.Fatalf("got %d: %s", answer.Code, answer.Body)
	}
	return made.Secret
}

// made records something and gives its id.
func (c *cancelling) made(e example) string {
	c.t.Helper()
	_, answer := c.ask(e, 0)
	var made struct{ ID string }
	if err := json.Unmarshal(answer.Body.Bytes(), &made); err != nil || answer.Code != http.StatusCreated {
		c.t.Fatalf("%s: got %d: %s", e.path, answer.Code, answer.Body)
	}
	return made.ID
}

// leftBehind lists the goroutines that are still in the service's code. Tests that
// wait for their turn are none.
func leftBehind() string {
	var all bytes.Buffer
	_ = pprof.Lookup("goroutine").WriteTo(&all, 1)
	var left []string
	for stack := range strings.SplitSeq(all.String(), "\n\n") {
		if strings.Contains(stack, "testing.(*T).Parallel") {
			continue
		}
		if strings.Contains(stack, "meniscus/internal/httpapi.") || strings.Contains(stack, "meniscus/internal/postgres.") {
			left = append(left, stack)
		}
	}
	return strings.Join(left, "\n\n")
}

// withoutDatabase are the operations that may answer without asking it more than
// whose key it is, and whether the institution's own materials are as they were.
var withoutDatabase = []string{"checkLive", "checkReady", "readContract", "readVocabulary", "readTerm", "readLinkedArtContext",
	"listContainers", "listHazardStatements", "listSources", "listMaterials",
	"readMaterial", "readStrengths"}

// Wherever in its work the caller of an operation leaves, the work ends: what it
// was admitted with is given back, its connection too, and nothing of it goes on.
func TestWorkEndsWhenItsCallerLeaves(t *testing.T) { // alone, because it counts goroutines
	c := newCancelling(t, 3)
	ids := c.load()
	own := c.key
	_, other := addInstitution(t, c.db, c.store, "Museum on the Hill")
	_, parcel := c.ask(example{method: http.MethodGet, path: "/v1/specimens/" + ids["specimenId"] + "/package"}, 0)
	calendar := c.calendarKey(ids["personId"])
	for _, e := range examples(t, ids) {
		most := 60
		c.key = own
		if e.id == "receiveSpecimen" {
			c.key, e.body = other, parcel.Body.String()
		}
		if e.id == "readDueCalendar" {
			c.key = calendar
		}
		if e.id == "streamChanges" {
			most = 2 // then it waits for what is recorded next
		}
		n := 1
		for ; n <= most; n++ {
			reached, answer := c.ask(e, n)
			for !c.server.AtRest() {
				runtime.Gosched()
			}
			for leftBehind() != "" {
				runtime.Gosched()
			}
			if !reached {
				if answer.Code >= 500 {
					t.Errorf("%s: got %d: %s", e.id, answer.Code, answer.Body)
				}
				break
			}
		}
		worked := c.worked > 0 || e.id == "streamChanges" && n > most
		if !worked && !slices.Contains(withoutDatabase, e.id) && !strings.HasPrefix(e.id, "compute") {
			_, answer := c.ask(e, 0)
			t.Errorf("%s asked the database nothing but whose it is; the test wants one that gets to work: %d %.300s", e.id,
				answer.Code, answer.Body)
		}
	}
	c.store.Close() // waits for every connection
}

// However many institutions wait for their reports, lookups and writes have
// connections.
func TestLongReadsLeaveConnectionsForTheOthers(t *testing.T) {
	t.Parallel()
	processors := runtime.GOMAXPROCS(0)
	c := newCancelling(t, int32(max(16, 8*processors)))
	c.made(example{method: http.MethodPost, path: "/v1/specimens", mediaType: "application/json",
		body: `{"statement":{"identifiers":[{"kind":"catalogue-number","value":"LV.1"}]}}`})
	gone := make(chan struct{})
	var reports sync.WaitGroup
	reached := make(chan struct{}, 1000)
	for n := range 2*processors + 4 {
		_, key := addInstitution(t, c.db, c.store, fmt.Sprintf("Museum %d", n))
		for range 3 {
			reports.Go(func() {
				p := &pause{left: 3, reached: make(chan struct{}), gone: gone}
				ctx, leave := context.WithCancel(context.WithValue(context.Background(), pauseKey{}, p))
				go func() {
					select {
					case <-p.reached:
						reached <- struct{}{}
					case <-ctx.Done():
					}
				}()
				defer leave()
				r := httptest.NewRequestWithContext(ctx, http.MethodGet, "/v1/reports/reversible-treatments", nil)
				r.Header.Set("Authorization", "Bearer "+key)
				w := httptest.NewRecorder()
				if c.server.ServeHTTP(w, r); w.Code != http.StatusOK {
					t.Errorf("a report: got %d: %s", w.Code, w.Body)
				}
			})
		}
	}
	for range 2 * processors { // as many as go on at once, stopped in mid-work
		<-reached
	}
	for range 5 {
		c.made(example{method: http.MethodPost, path: "/v1/people", mediaType: "application/json", body: `{"id":"` +
			uuid.NewString() + `","statement":{"name":"` + uuid.NewString() + `"}}`})
		if _, got := c.ask(example{method: http.MethodGet, path: "/v1/specimen-lookup?number=LV.1"}, 0); got.Code != http.StatusOK {
			t.Errorf("a lookup: got %d: %s", got.Code, got.Body)
		}
	}
	close(gone)
	reports.Wait()
}

// A caller who leaves while the database is asked whether it is ready is no
// failure of the database, and none in the log.
func TestWhoLeavesIsNoFailure(t *testing.T) {
	t.Parallel()
	c := newCancelling(t, 3)
	var log bytes.Buffer
	c.server = mustServe(t, httpapi.Config{Store: c.store, PublicURL: "https://meniscus.example",
		Log: slog.New(slog.NewTextHandler(&log, nil))})
	for _, path := range []string{"/readyz", "/v1/people", "/v1/changes", "/v1/exports/records"} {
		log.Reset()
		if reached, _ := c.ask(example{method: http.MethodGet, path: path}, 1); !reached {
			t.Fatalf("%s: the database was not asked", path)
		}
		if got := log.String(); strings.Contains(got, "ERROR") || !strings.Contains(got, `outcome="client gone"`) {
			t.Errorf("%s: got %s, want a caller who went", path, got)
		}
	}
}
