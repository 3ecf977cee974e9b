// Package pgtest gives a test a fresh, migrated database on a real Postgres,
// and ways to break it. Only tests import it.
//
// Guarantees: a test never skips because it has no database; databases are cloned from
// one migrated template, so that the migrations run once for all tests; tests that run
// in parallel share nothing; everything is removed afterwards.
//
// The Postgres is, in this order: the one named in MENISCUS_TEST_DATABASE_URL; a
// container of the image in MENISCUS_TEST_IMAGE (then no other source is tried); a
// container of a stock image, when a container engine answers within two seconds and
// the image is there or can be pulled; a private one from this machine's binaries.
//
// A package that uses it has
//
//	func TestMain(m *testing.M) { pgtest.Main(m) }
package pgtest

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"runtime"
	"strconv"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
)

// shared is the server of this test process.
var shared struct {
	running  atomic.Bool // Main runs and will stop it
	once     sync.Once
	err      error
	server   *server
	admin    *pgxpool.Pool
	template string
	clones   atomic.Int64
	ended    chan string // databases whose tests have ended, to be dropped together
}

// dropTogether is how many databases are dropped at once. Each drop makes a checkpoint,
// which writes out what all other tests have changed; of drops in a row only the first
// has much to write.
const dropTogether = 12

// startLimit bounds everything that happens before the first test has its
// database, pulling an image included.
const startLimit = 3 * time.Minute

// Main runs a package's tests and then stops what New started. Such tests wait for Postgres
// half of their time: more of them run at once than there are processors, unless -parallel
// says how many.
func Main(m *testing.M) {
	shared.running.Store(true)
	if err := flag.Set("test.parallel", strconv.Itoa(3*runtime.NumCPU())); err != nil {
		panic(err)
	}
	code := m.Run()
	if err := stopShared(); err != nil {
		fmt.Fprintln(os.Stderr, "pgtest:", err)
		code = max(code, 1)
	}
	os.Exit(code)
}

// DB is one test's database.
type DB struct {
	name   string
	server *server
}

// New gives t a migrated database of its own. It is dropped some time after t has
// ended.
func New(t testing.TB) *DB {
	t.Helper()
	if !shared.running.Load() {
		t.Fatal("pgtest: the package needs func TestMain(m *testing.M) { pgtest.Main(m) }")
	}
	shared.once.Do(func() { shared.err = startShared() })
	if shared.err != nil {
		t.Fatalf("pgtest: %v", shared.err)
	}
	name := fmt.Sprintf("%s_%d", shared.template, shared.clones.Add(1))
	if err := clone(t.Context(), shared.admin, shared.template, name); err != nil {
		t.Fatalf("pgtest: %v", err)
	}
	t.Cleanup(func() {
		if err := ended(context.Background(), name); err != nil {
			t.Errorf("pgtest: %v", err)
		}
	})
	return &DB{name: name, server: shared.server}
}

// Name is the database's name.
func (db *DB) Name() string { return db.name }

// Owner connects as the role that owns the tables.
func (db *DB) Owner() string { return db.server.dsn(OwnerRole, db.name) }

// App connects as the role of the service, under row-level security.
func (db *DB) App() string { return db.server.dsn(AppRole, db.name) }

// Worker connects as the role that seals and delivers.
func (db *DB) Worker() string { return db.server.dsn(WorkerRole, db.name) }

// Super connects as the server's superuser, which bypasses row-level security.
func (db *DB) Super() string { return db.server.dsn("", db.name) }

// Pool connects a pool to dsn, after each change has altered its configuration, and
// closes it when t has ended.
func Pool(t testing.TB, dsn string, change ...func(*pgxpool.Config)) *pgxpool.Pool {
	t.Helper()
	cfg, err := pgxpool.ParseConfig(dsn)
	if err != nil {
		t.Fatalf("pgtest: %v", err)
	}
	for _, f := range change {
		f(cfg)
	}
	pool, err := pgxpool.NewWithConfig(context.Background(), cfg)
	if err != nil {
		t.Fatalf("pgtest: %v", err)
	}
	t.Cleanup(pool.Close)
	return pool
}

// ended ends the sessions of a database and queues it for dropping. A test that finds
// the queue full drops its own database and all in the queue.
func ended(ctx context.Context, name string) error {
	if _, err := shared.admin.Exec(ctx, `select pg_terminate_backend(pid) from pg_stat_activity where datname = $1`,
		name); err != nil {
		return fmt.Errorf("ending sessions: %w", err)
	}
	select {
	case shared.ended <- name:
		return nil
	default:
	}
	return errors.Join(drop(ctx, shared.admin, name), dropEnded(ctx))
}

// dropEnded drops the databases in the queue.
func dropEnded(ctx context.Context) (err error) {
	for {
		select {
		case name := <-shared.ended:
			err = errors.Join(err, drop(ctx, shared.admin, name))
		default:
			return err
		}
	}
}

func startShared() error {
	ctx, cancel := context.WithTimeout(context.Background(), startLimit)
	defer cancel()
	srv, err := findServer(ctx)
	if err != nil {
		return err
	}
	shared.server, shared.ended = srv, make(chan string, dropTogether)
	shared.admin, err = pgxpool.New(ctx, srv.dsn("", ""))
	if err != nil {
		return fmt.Errorf("connecting to %s: %w", srv.what, err)
	}
	shared.template = fmt.Sprintf("meniscus_test_%d_%d", os.Getpid(), time.Now().UnixMilli()%1e6)
	if err := prepare(ctx, shared.admin, srv, shared.template); err != nil {
		return fmt.Errorf("preparing %s: %w", srv.what, err)
	}
	return nil
}

func stopShared() error {
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	if shared.admin != nil {
		if shared.template != "" && !shared.server.ours {
			_ = errors.Join(dropEnded(ctx), drop(ctx, shared.admin, shared.template))
		}
		shared.admin.Close()
	}
	if shared.server == nil {
		return nil
	}
	return shared.server.stop(ctx)
}

// clone copies the template through the write-ahead log, which is the default strategy.
// Copying its files (strategy file_copy) makes two checkpoints each time, which write
// out what all other tests have changed meanwhile.
func clone(ctx context.Context, admin *pgxpool.Pool, template, name string) error {
	_, err := admin.Exec(ctx, fmt.Sprintf("create database %s template %s owner %s",
		ident(name), ident(template), ident(OwnerRole)))
	if err != nil {
		return fmt.Errorf("cloning a database: %w", err)
	}
	return nil
}

func drop(ctx context.Context, admin *pgxpool.Pool, name string) error {
	if _, err := admin.Exec(ctx, fmt.Sprintf("drop database if exists %s with (force)", ident(name))); err != nil {
		return fmt.Errorf("dropping a database: %w", err)
	}
	return nil
}

func ident(name string) string { return pgx.Identifier{name}.Sanitize() }
