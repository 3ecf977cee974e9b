package pgtest

import (
	"context"
	"maps"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"meniscus/internal/localpg"
)

// KillBackends ends every session of this database but the caller's own, as an
// administrator or a fail-over would, waits until they have ended, and gives how many
// there were.
func (db *DB) KillBackends(t testing.TB) int {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), db.Super())
	if err != nil {
		t.Fatalf("pgtest: ending sessions: %v", err)
	}
	defer conn.Close(context.Background())
	var ended []int32
	err = conn.QueryRow(t.Context(), `
		select coalesce(array_agg(pid) filter (where pg_terminate_backend(pid)), '{}') from pg_stat_activity
		 where datname = $1 and backend_type = 'client backend' and pid <> pg_backend_pid()`, db.name).Scan(&ended)
	for alive := true; alive && err == nil; {
		const still = `select exists (select from pg_stat_activity where pid = any($1))`
		err = conn.QueryRow(t.Context(), still, ended).Scan(&alive)
	}
	if err != nil {
		t.Fatalf("pgtest: ending sessions: %v", err)
	}
	return len(ended)
}

// Server is a private Postgres of one test, which the test can stop, crash and start
// again while the service uses it.
type Server struct {
	DB
	dir      string
	settings map[string]string
	pg       *localpg.Server
}

// NewServer starts a private server with one migrated database.
func NewServer(t testing.TB) *Server {
	t.Helper()
	dir, err := os.MkdirTemp("", "meniscus-pgtest-")
	if err != nil {
		t.Fatalf("pgtest: %v", err)
	}
	t.Cleanup(func() { _ = os.RemoveAll(dir) })
	if err := os.Chmod(dir, 0o755); err != nil {
		t.Fatalf("pgtest: %v", err)
	}
	s := &Server{dir: filepath.Join(dir, "cluster")}
	s.Start(t)
	t.Cleanup(func() { _ = s.pg.Stop(context.Background()) })
	s.DB = DB{name: "meniscus", server: &server{what: "a test's own Postgres", admin: s.address(t)}}
	admin, err := pgxpool.New(t.Context(), s.server.dsn("", ""))
	if err != nil {
		t.Fatalf("pgtest: %v", err)
	}
	defer admin.Close()
	if err := prepare(t.Context(), admin, s.server, s.name); err != nil {
		t.Fatalf("pgtest: %v", err)
	}
	return s
}

func (s *Server) address(t testing.TB) url.URL {
	t.Helper()
	u, err := url.Parse(s.pg.DSN(localpg.Superuser, "postgres"))
	if err != nil {
		t.Fatalf("pgtest: %v", err)
	}
	return *u
}

// Start starts the server again, on the same data and at the same address.
func (s *Server) Start(t testing.TB) {
	t.Helper()
	settings := map[string]string{"fsync": "off"}
	maps.Copy(settings, s.settings)
	pg, err := localpg.Start(t.Context(), localpg.Config{Dir: s.dir, Settings: settings})
	if err != nil {
		t.Fatalf("pgtest: %v", err)
	}
	s.pg = pg
}

// Stop shuts the server down.
func (s *Server) Stop(t testing.TB) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	if err := s.pg.Stop(ctx); err != nil {
		t.Fatalf("pgtest: %v", err)
	}
}

// Crash kills the server with its sessions; what it had not committed is lost.
func (s *Server) Crash() {
	ended, cancel := context.WithCancel(context.Background())
	cancel()
	_ = s.pg.Stop(ended) // the error only says that the server was killed
}

// Sleeping counts the sessions of this database that are in pg_sleep.
func (db *DB) Sleeping(t testing.TB) int { return db.sessions(t, `wait_event = 'PgSleep'`) }

func (db *DB) sessions(t testing.TB, which string) (n int) {
	t.Helper()
	err := shared.admin.QueryRow(context.Background(), `select count(*) from pg_stat_activity where datname = $1 and `+
		which, db.name).Scan(&n)
	if err != nil {
		t.Errorf("pgtest: counting sessions: %v", err)
	}
	return n
}

// Lock locks tables, as an operator who changes them would, until undo is called or t
// has ended.
func (db *DB) Lock(t testing.TB, tables ...string) (undo func()) {
	t.Helper()
	names := make([]string, len(tables))
	for i, table := range tables {
		names[i] = ident(table)
	}
	return db.Hold(t, `lock table `+strings.Join(names, ", ")+` in access exclusive mode`)
}

// Hold runs a statement in a transaction that stays open until undo is called or t has
// ended.
func (db *DB) Hold(t testing.TB, sql string) (undo func()) {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), db.Super())
	if err != nil {
		t.Fatalf("pgtest: holding: %v", err)
	}
	undo = sync.OnceFunc(func() { _ = conn.Close(context.Background()) })
	t.Cleanup(undo)
	if _, err := conn.Exec(t.Context(), `begin; `+sql); err != nil {
		t.Fatalf("pgtest: holding: %v", err)
	}
	return undo
}
