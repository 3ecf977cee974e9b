package httpapi_test

import (
	"bufio"
	"errors"
	"io"
	"iter"
	"log/slog"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/httpapi"
	"meniscus/internal/pgtest"
	"meniscus/internal/postgres"
)

// event is one Server-Sent Event; a comment has neither name nor data.
type event struct{ id, name, data, comment string }

// events reads a stream as the HTML standard says, until it ends.
func events(r io.Reader) iter.Seq[event] {
	return func(yield func(event) bool) {
		var e event
		for lines := bufio.NewReader(r); ; {
			line, err := lines.ReadString('\n')
			if err != nil {
				return // an event that was not finished is no event
			}
			name, value, _ := strings.Cut(strings.TrimSuffix(line, "\n"), ":")
			value = strings.TrimPrefix(value, " ")
			switch {
			case line == "\n":
				if !yield(e) {
					return
				}
				e = event{}
			case name == "":
				e.comment = value
			case name == "id":
				e.id = value
			case name == "event":
				e.name = value
			case name == "data":
				e.data = value
			}
		}
	}
}

// streaming is a service with streams of the given bounds.
func streaming(t *testing.T, bounds httpapi.Streams) (*service, *httpapi.Server) {
	t.Helper()
	s := newService(t)
	server := mustServe(t, httpapi.Config{Store: s.store, PublicURL: "https://meniscus.example", Streams: bounds})
	s.url = listen(t, server).URL
	return s, server
}

// follow opens a stream that ends with the test.
func (s *service) follow(after string) *http.Response {
	s.t.Helper()
	response := openStream(s.t, s.t.Context(), s.url, s.key, after)
	s.t.Cleanup(func() { response.Body.Close() })
	return response
}

// next gives the next event that satisfies ok, or fails when the stream ends.
func next(t *testing.T, from func() (event, bool), ok func(event) bool) event {
	t.Helper()
	for {
		e, more := from()
		if !more {
			t.Fatal("the stream ended")
		}
		if ok(e) {
			return e
		}
	}
}

func named(name string) func(event) bool { return func(e event) bool { return e.name == name } }

func pull(t *testing.T, response *http.Response) func() (event, bool) {
	t.Helper()
	if response.StatusCode != http.StatusOK || response.Header.Get("Content-Type") != "text/event-stream" {
		t.Fatalf("got %d %q, want a stream", response.StatusCode, response.Header.Get("Content-Type"))
	}
	from, stop := iter.Pull(events(response.Body))
	t.Cleanup(stop)
	return from
}

// What was there comes first, then what happens; after a break it goes on where
// it was.
func TestStreamGoesOn(t *testing.T) {
	t.Parallel()
	s := newService(t)
	s.create("/v1/specimens", specimen("LV.1"))
	s.seal()
	first := pull(t, s.follow(""))
	next(t, first, named("change")) // the person of the key
	second := next(t, first, named("change"))
	s.create("/v1/specimens", specimen("LV.2"))
	s.seal()
	third := next(t, first, named("change"))
	if !strings.Contains(third.data, "LV.2") {
		t.Errorf("got %s, want the new specimen", third.data)
	}
	again := pull(t, s.follow(second.id))
	if got := next(t, again, named("change")); got != third {
		t.Errorf("got %+v after Last-Event-ID, want %+v", got, third)
	}
}

// A cursor whose entry stands at its sequence number no longer ends the stream with a
// reset, also in the middle.
func TestStreamResets(t *testing.T) {
	t.Parallel()
	s := newService(t)
	s.seal()
	begun := pull(t, s.follow(""))
	next(t, begun, named("change"))
	super := pgtest.Pool(t, s.db.Super())
	if _, err := super.Exec(t.Context(), `update sequenced set seq = seq + 1`); err != nil { // as after a restore
		t.Fatal(err)
	}
	next(t, begun, named("reset"))
	if e, more := begun(); more {
		t.Errorf("got %+v after the reset, want the end", e)
	}
	next(t, pull(t, s.follow("AAAAAAAAAAEAAAAAAAAAAAAAAAAAAAAA")), named("reset"))
	next(t, pull(t, s.follow("AAAA")), named("reset")) // no feed gave it
}

// Nothing happening is said too, and a revoked key ends its stream.
func TestStreamStaysAliveAsLongAsItsKey(t *testing.T) {
	t.Parallel()
	s, _ := streaming(t, httpapi.Streams{KeepAlive: 20 * time.Millisecond})
	from := pull(t, s.follow(""))
	next(t, from, func(e event) bool { return e.comment != "" })
	if _, err := pgtest.Pool(t, s.db.Super()).Exec(t.Context(), `update access_key set revoked_at = now()`); err != nil {
		t.Fatal(err)
	}
	for _, more := from(); more; _, more = from() {
	}
}

// A service that shuts down ends its streams, so that readers go elsewhere.
func TestStreamEndsOnShutdown(t *testing.T) {
	t.Parallel()
	s, server := streaming(t, httpapi.Streams{})
	from := pull(t, s.follow(""))
	from() // the first line is there: the stream is open
	server.Drain()
	for _, more := from(); more; _, more = from() {
	}
	s.do(http.MethodGet, "/readyz", nil).wantProblem(503, "shutting-down")
}

// Streams are bounded: an institution has its share, the process its total, and
// who leaves makes room.
func TestStreamsAreBounded(t *testing.T) {
	t.Parallel()
	s, _ := streaming(t, httpapi.Streams{Most: 4})
	_, other := addInstitution(t, s.db, s.store, "Museum of the Upper Valley")
	_, third := addInstitution(t, s.db, s.store, "Museum of the Side Valley")
	var opened []*http.Response
	for _, key := range []string{s.key, s.key, other, other} {
		response := openStream(t, t.Context(), s.url, key, "")
		t.Cleanup(func() { response.Body.Close() })
		if response.StatusCode != http.StatusOK {
			t.Fatalf("got %d, want the stream", response.StatusCode)
		}
		opened = append(opened, response)
	}
	full := send(t, s.url, third, http.MethodGet, "/v1/changes/stream", nil).wantProblem(503, "streams-full")
	if full.header.Get("Retry-After") == "" {
		t.Error("want Retry-After")
	}
	opened[3].Body.Close()
	var freed reply
	for freed.status != http.StatusTooManyRequests { // until the service has seen that the reader is gone
		freed = send(t, s.url, s.key, http.MethodGet, "/v1/changes/stream", nil)
	}
	freed.wantProblem(429, "streams-too-many")
	if got := openStream(t, t.Context(), s.url, third, ""); got.StatusCode != http.StatusOK {
		t.Errorf("got %d after a reader left, want room", got.StatusCode)
	}
}

// A reader that hardly reads holds no connection to the database, and is cut off.
func TestSlowReaderHoldsNoConnection(t *testing.T) {
	t.Parallel()
	s := newService(t)
	cfg := pgtest.Pool(t, s.db.App()).Config()
	cfg.MaxConns = 1
	store, err := postgres.OpenWith(t.Context(), cfg)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(store.Close)
	over := make(ended, 100)
	server := mustServe(t, httpapi.Config{Store: store, PublicURL: "https://meniscus.example", Log: slog.New(slog.NewTextHandler(over, nil)),
		Streams: httpapi.Streams{WriteLimit: 400 * time.Millisecond}})
	s.url = listen(t, server).URL
	if _, err := pgtest.Pool(t, s.db.Super()).Exec(t.Context(), fill, s.inst, 2000, 30_000); err != nil {
		t.Fatal(err)
	}
	s.seal()
	slow := s.follow("")      // 60 MB, far more than the buffers of a connection hold
	for cut := false; !cut; { // a byte now and then, and the only connection is free all the while
		if _, err := io.ReadFull(slow.Body, make([]byte, 1)); err != nil {
			t.Fatal(err)
		}
		s.do(http.MethodGet, "/v1/institution", nil).want(200)
		cut = strings.Contains(<-over, "streamChanges")
	}
	read, err := io.Copy(io.Discard, slow.Body)
	if !errors.Is(err, io.ErrUnexpectedEOF) || read > 60<<20 {
		t.Errorf("got %d bytes and %v, want a stream that was cut off", read, err)
	}
}

// ended is a log that passes on its lines: one for each request that has ended.
type ended chan string

func (e ended) Write(line []byte) (int, error) {
	e <- string(line)
	return len(line), nil
}

// fill records a number of entries of a size for an institution.
const fill = `
	with made as (
		insert into entry (institution_id, id, kind, record_id, revision, act, request_id, recorded_by, nonce, digest, body)
		select $1, gen_random_uuid(), 'person', gen_random_uuid(), 1, 'stated', $1, $1, ''::bytea, sha256(''), '{"statement":{"name":"' || repeat('x', $3) || '"}}'
		  from generate_series(1, $2) returning id)
	insert into unsealed (institution_id, entry_id) select $1, id from made`

// A key that is revoked ends its streams at once, also one that another process
// revoked or that expired; the streams of other keys go on. Nothing is sent to keep
// these alive, so that nothing else ends them.
func TestStreamEndsWithItsKey(t *testing.T) {
	t.Parallel()
	s, _ := streaming(t, httpapi.Streams{KeepAlive: time.Hour})
	elsewhere := newServer(t, s.store).URL
	person := s.create("/v1/people", object{"name": "Tomas Brandl"}).id()
	made := func() (id, secret string) {
		k := s.do(http.MethodPost, "/v1/access-keys", object{"name": "catalogue", "person": object{"id": person},
			"scopes": array{"read"}}, header{"Idempotency-Key", uuid.NewString()}).want(201)
		return k.id(), k.at("secret").(string)
	}
	others := s.follow("")
	for name, revoke := range map[string]func(id string){
		"here":      func(id string) { s.do(http.MethodDelete, "/v1/access-keys/"+id, nil).want(200) },
		"elsewhere": func(id string) { send(t, elsewhere, s.key, http.MethodDelete, "/v1/access-keys/"+id, nil).want(200) },
		"expired": func(id string) {
			if _, err := pgtest.Pool(t, s.db.Super()).Exec(t.Context(), `update access_key set expires_at = now() where id = $1`, id); err != nil {
				t.Fatal(err)
			}
		},
	} {
		id, secret := made()
		of := *s
		of.key = secret
		response := of.follow("")
		revoke(id)
		if _, err := io.ReadAll(response.Body); err != nil {
			t.Errorf("%s: the stream did not end: %v", name, err)
		}
	}
	s.create("/v1/specimens", specimen("LV.1"))
	s.seal()
	next(t, pull(t, others), func(e event) bool { return strings.Contains(e.data, "LV.1") })
}
