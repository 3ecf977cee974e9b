package httpapi_test

import (
	"context"
	"fmt"
	"net/http"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"meniscus/internal/pgtest"
	"meniscus/internal/postgres"
)

// wired is a service whose connections to the database run over a wire that
// can be cut.
func wired(t *testing.T, db *pgtest.DB) (*service, *pgtest.Wire) {
	t.Helper()
	wire := &pgtest.Wire{}
	cfg, err := pgxpool.ParseConfig(db.App())
	if err != nil {
		t.Fatal(err)
	}
	// One connection, which is not asked whether it still lives when it was idle
	// for a second: so that the writes of one request can be counted.
	cfg.MaxConns = 1
	cfg.ShouldPing = func(context.Context, pgxpool.ShouldPingParams) bool { return false }
	wire.Use(cfg)
	store, err := postgres.OpenWith(t.Context(), cfg)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(store.Close)
	s := &service{t: t, store: store, db: db, url: newServer(t, store).URL}
	s.inst, s.key = addInstitution(t, db, store, "Museum of the Lower Valley")
	return s, wire
}

// sprawling is a treatment that makes a specimen and two people on its way, so
// that one request writes many rows in many tables.
func sprawling(n int) object {
	statement := treatment("", "consolidation", "1998")
	statement["specimen"] = object{"identifier": object{"kind": "catalogue-number", "value": fmt.Sprintf("LV.%d", n)}}
	statement["people"] = array{
		object{"person": object{"name": fmt.Sprintf("Person %d", n)}, "part": "carried-out"},
		object{"person": object{"name": fmt.Sprintf("Other person %d", n)}, "part": "authorised"},
	}
	return object{"statement": statement}
}

// rows counts the rows of every table, as the superuser sees them.
func rows(t *testing.T, db *pgtest.DB) map[string]int {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), db.Super())
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(context.Background())
	found, err := conn.Query(t.Context(), `
		select relname, (xpath('/row/n/text()', query_to_xml(format('select count(*) as n from %I', relname), false, true, '')))[1]::text::int as n
		  from pg_class where relkind = 'r' and relnamespace = 'public'::regnamespace`)
	if err != nil {
		t.Fatal(err)
	}
	counts := map[string]int{}
	var table string
	var n int
	if _, err := pgx.ForEachRow(found, []any{&table, &n}, func() error { counts[table] = n; return nil }); err != nil {
		t.Fatal(err)
	}
	return counts
}

// grown gives the tables that have more rows than before, and by how many.
func grown(before, after map[string]int) map[string]int {
	more := map[string]int{}
	for table, n := range after {
		if n != before[table] {
			more[table] = n - before[table]
		}
	}
	return more
}

// Wherever the wire is cut, a request is recorded whole or not at all, the
// caller is told 503, and the same request with the same key makes one record.
func TestCutWireNeverTearsAWrite(t *testing.T) {
	t.Parallel()
	for name, sent := range map[string]pgtest.Sent{
		"request lost": pgtest.SentNothing, "request torn": pgtest.SentHalf, "reply lost": pgtest.SentAll,
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			db := pgtest.New(t)
			s, wire := wired(t, db)
			ask := func(n int) reply {
				return s.do(http.MethodPost, "/v1/treatments", sprawling(n), header{"Idempotency-Key", fmt.Sprintf("key-%d", n)})
			}
			ask(0).want(http.StatusCreated) // looks the key up
			ask(1).want(http.StatusCreated) // prepares the statements, with the key from memory
			before := rows(t, db)
			wire.Cut(0, sent) // counts, and cuts nothing
			ask(2).want(http.StatusCreated)
			writes := wire.Mend()
			whole := grown(before, rows(t, db))
			if whole["entry"] != 4 || whole["request_key"] != 1 || writes < 2 {
				t.Fatalf("an ordinary request made %v in %d writes; the test wants one that sprawls", whole, writes)
			}
			committed := 0
			for n := 1; n <= writes; n++ {
				before := rows(t, db)
				wire.Cut(n, sent)
				ask(100+n).wantProblem(http.StatusServiceUnavailable, "database-unavailable")
				wire.Settle()
				made := grown(before, rows(t, db))
				if len(made) > 0 {
					committed++
					if diff := cmp.Diff(whole, made); diff != "" {
						t.Errorf("cut at write %d of %d: torn (-whole +made):\n%s", n, writes, diff)
					}
				}
				again := ask(100 + n).want(http.StatusCreated)
				if got, want := again.header.Get("Idempotency-Replayed") == "true", len(made) > 0; got != want {
					t.Errorf("cut at write %d: replayed %v, want %v", n, got, want)
				}
				if diff := cmp.Diff(whole, grown(before, rows(t, db))); diff != "" {
					t.Errorf("cut at write %d of %d: not one record after the retry (-want +got):\n%s", n, writes, diff)
				}
			}
			if want := map[pgtest.Sent]int{pgtest.SentAll: 1}[sent]; committed != want {
				t.Errorf("committed %d times without a reply, want %d", committed, want)
			}
		})
	}
}

// A read on a cut wire is a 503 as well, and the next one is answered.
func TestCutWireOnARead(t *testing.T) {
	t.Parallel()
	s, wire := wired(t, pgtest.New(t))
	id := s.create("/v1/specimens", specimen("LV.1")).id()
	for _, path := range []string{"/v1/specimens/" + id, "/v1/specimens", "/v1/specimen-lookup?number=LV.1", "/v1/changes"} {
		wire.Cut(1, pgtest.SentAll)
		s.do(http.MethodGet, path, nil).wantProblem(http.StatusServiceUnavailable, "database-unavailable")
		wire.Settle()
		s.do(http.MethodGet, path, nil).want(http.StatusOK)
	}
}

// Sessions that are ended under the service cost each waiting request a 503 at
// most, and no record.
func TestEndedSessions(t *testing.T) {
	t.Parallel()
	s := newService(t)
	for n := range 5 {
		key := header{"Idempotency-Key", uuid.NewString()}
		s.db.KillBackends(t)
		r := s.do(http.MethodPost, "/v1/treatments", sprawling(n), key)
		if r.status != http.StatusCreated {
			r.wantProblem(http.StatusServiceUnavailable, "database-unavailable")
			s.do(http.MethodPost, "/v1/treatments", sprawling(n), key).want(http.StatusCreated)
		}
	}
	if got := rows(t, s.db)["treatment"]; got != 5 {
		t.Errorf("got %d treatments, want 5", got)
	}
}

// A server that crashes and comes back under the running service loses nothing
// that was answered with 201.
func TestServerCrashesUnderTheService(t *testing.T) {
	t.Parallel()
	srv := pgtest.NewServer(t)
	store, err := postgres.Open(t.Context(), srv.App())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(store.Close)
	s := &service{t: t, store: store, db: &srv.DB, url: newServer(t, store).URL}
	s.inst, s.key = addInstitution(t, s.db, store, "Museum of the Lower Valley")
	made := s.create("/v1/specimens", specimen("LV.1")).id()

	srv.Crash()
	s.do(http.MethodPost, "/v1/treatments", sprawling(1), header{"Idempotency-Key", "down"}).wantProblem(http.StatusServiceUnavailable, "database-unavailable")
	s.do(http.MethodGet, "/readyz", nil).want(http.StatusServiceUnavailable)
	s.do(http.MethodGet, "/livez", nil).want(http.StatusOK)

	srv.Start(t)
	// Each session that died with the server may cost one more 503.
	back := s.do(http.MethodGet, "/v1/specimens/"+made, nil)
	for range 10 {
		if back.status != http.StatusServiceUnavailable {
			break
		}
		back = s.do(http.MethodGet, "/v1/specimens/"+made, nil)
	}
	back.want(http.StatusOK)
	s.do(http.MethodPost, "/v1/treatments", sprawling(1), header{"Idempotency-Key", "down"}).want(http.StatusCreated)
	s.awaitReady()
}
