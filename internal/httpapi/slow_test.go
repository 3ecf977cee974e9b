package httpapi_test

import (
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/httpapi"
	"meniscus/internal/pgtest"
)

// unjudged serves without the judge, which keeps a handler from the connection
// and its deadlines.
func unjudged(t *testing.T, cfg httpapi.Config) string {
	t.Helper()
	server := httptest.NewServer(mustServe(t, cfg))
	t.Cleanup(server.Close)
	return server.URL
}

// stopped sends a body that stops coming, and waits until the service has had
// enough of it and closes the connection.
func stopped(t *testing.T, url string) string {
	t.Helper()
	connection, err := net.Dial("tcp", strings.TrimPrefix(url, "http://"))
	if err != nil {
		t.Fatal(err)
	}
	defer connection.Close()
	fmt.Fprint(connection, "POST /v1/compute/make-up HTTP/1.1\r\nHost: meniscus.example\r\nContent-Type: application/json\r\nContent-Length: 100\r\n\r\n{")
	answer, err := io.ReadAll(connection)
	if err != nil {
		t.Fatal(err)
	}
	return string(answer)
}

// A body that stops coming is answered, and holds its connection no longer.
func TestBodyThatStopsComing(t *testing.T) {
	t.Parallel()
	got := stopped(t, unjudged(t, httpapi.Config{PublicURL: "https://meniscus.example", BodyWithin: 50 * time.Millisecond}))
	if !strings.HasPrefix(got, "HTTP/1.1 400 ") || !strings.Contains(got, "body-too-slow") {
		t.Errorf("got %q, want the body called too slow", got)
	}
}

// The time that a body has ends with the body: a request whose body came is
// answered, however long the database makes it wait.
func TestBodyTimeEndsWithTheBody(t *testing.T) {
	t.Parallel()
	s, wire := wired(t, pgtest.New(t))
	s.url = unjudged(t, httpapi.Config{Store: s.store, PublicURL: "https://meniscus.example", BodyWithin: 200 * time.Millisecond})
	record := func(name string) reply {
		return s.do(http.MethodPost, "/v1/people", object{"statement": object{"name": name}}, header{"Idempotency-Key", uuid.NewString()})
	}
	for range 2 {
		record("Ilse Varga").want(201) // the second prepares what is asked of the database with the key from memory
	}
	wire.Cut(0, pgtest.SentNothing)
	record("Tomas Brandl").want(201)
	held, letGo := wire.Hold(wire.Mend()) // the last write of the next request, when its body has long come
	answered := make(chan reply)
	go func() { answered <- record("Orsolya Keller") }()
	<-held
	for range 2 { // the second begins when the first body's time is over
		stopped(t, s.url)
	}
	letGo()
	(<-answered).want(201)
}

// A thousand streams are open, and each is told of what is recorded; other
// requests are answered meanwhile. One processor gives one institution half as many.
func TestThousandStreams(t *testing.T) {
	t.Parallel()
	streams := min(1000, 500*runtime.GOMAXPROCS(0))
	s, _ := streaming(t, httpapi.Streams{Most: 2 * streams}) // half of them for one institution
	opened := make([]func() (event, bool), streams)
	var opening sync.WaitGroup
	for lane := range 20 {
		opening.Go(func() {
			for i := lane; i < streams; i += 20 {
				response := openStream(t, t.Context(), s.url, s.key, "")
				t.Cleanup(func() { response.Body.Close() })
				opened[i] = pull(t, response)
				next(t, opened[i], named("")) // what it begins with
			}
		})
	}
	opening.Wait()
	if t.Failed() {
		return
	}
	s.do(http.MethodPost, "/v1/specimens", object{"statement": object{"identifiers": []object{{"kind": "catalogue-number", "value": "LV.1"}}}}, header{"Idempotency-Key", "x"}).want(201)
	s.seal()
	s.do(http.MethodGet, "/v1/institution", nil).want(200)
	for _, from := range opened {
		next(t, from, func(e event) bool { return strings.Contains(e.data, `"LV.1"`) })
	}
}

// Another institution's cursor is none of ours.
func TestForeignCursor(t *testing.T) {
	t.Parallel()
	s := newService(t)
	_, other := addInstitution(t, s.db, s.store, "Museum of the Upper Valley")
	s.seal()
	theirs := send(t, s.url, other, http.MethodGet, "/v1/changes", nil).want(200).at("cursor")
	s.do(http.MethodGet, fmt.Sprintf("/v1/changes?cursor=%s", theirs), nil).wantProblem(409, "feed-reset")
	from := pull(t, s.follow(fmt.Sprint(theirs)))
	next(t, from, named("reset"))
	if e, more := from(); more {
		t.Errorf("got %v after the reset, want the end", e)
	}
}

// Whoever writes entries is heard of, so that they get their sequence numbers soon; who
// only reads is not.
func TestEntriesAreHeardOf(t *testing.T) {
	t.Parallel()
	s := newService(t)
	heard := 0
	s.store.AfterEntries(func() { heard++ })
	person := object{"statement": object{"name": "Ilse Varga"}}
	for range 2 { // the second is a replay
		s.do(http.MethodPost, "/v1/people", person, header{"Idempotency-Key", "x"}).want(201)
	}
	s.do(http.MethodGet, "/v1/people", nil).want(200)
	if heard != 1 {
		t.Errorf("got %d, want 1", heard)
	}
}
