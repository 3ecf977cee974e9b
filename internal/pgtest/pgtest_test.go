package pgtest_test

import (
	"context"
	"errors"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"meniscus/internal/pgtest"
)

func TestMain(m *testing.M) { pgtest.Main(m) }

func TestDatabasesAreSeparate(t *testing.T) {
	t.Parallel()
	one, two := pgtest.New(t), pgtest.New(t)
	for db, dsn := range map[string]string{one.Name(): one.Super(), two.Name(): two.Super()} {
		pool := pgtest.Pool(t, dsn)
		var got string
		if err := pool.QueryRow(t.Context(), "select current_database()").Scan(&got); err != nil {
			t.Fatal(err)
		}
		if got != db {
			t.Errorf("connected to %q, want %q", got, db)
		}
	}
	if one.Name() == two.Name() {
		t.Errorf("both databases are called %q", one.Name())
	}
}

func TestRolesConnectAsThemselves(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t)
	for want, dsn := range map[string]string{
		pgtest.OwnerRole:  db.Owner(),
		pgtest.AppRole:    db.App(),
		pgtest.WorkerRole: db.Worker(),
	} {
		var got string
		var powers bool
		err := pgtest.Pool(t, dsn).QueryRow(t.Context(),
			"select current_user, rolsuper or rolbypassrls from pg_roles where rolname = current_user").Scan(&got, &powers)
		if err != nil {
			t.Fatal(err)
		}
		if got != want || powers {
			t.Errorf("got role %q with powers over walls %v, want %q without", got, powers, want)
		}
	}
}

// tally is a table whose rows show what was committed.
func tally(t *testing.T, db *pgtest.DB) (count func() int) {
	t.Helper()
	_, err := pgtest.Pool(t, db.Super()).Exec(t.Context(), "create table tally (n int); grant all on tally to "+
		pgtest.AppRole)
	if err != nil {
		t.Fatal(err)
	}
	return func() int {
		var n int
		if err := pgtest.Pool(t, db.Super()).QueryRow(t.Context(), "select count(*) from tally").Scan(&n); err != nil {
			t.Fatal(err)
		}
		return n
	}
}

func TestWireIsCut(t *testing.T) {
	t.Parallel()
	for name, tc := range map[string]struct {
		sent pgtest.Sent
		want int
	}{
		"request lost": {pgtest.SentNothing, 0},
		"request torn": {pgtest.SentHalf, 0},
		"reply lost":   {pgtest.SentAll, 1},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			db := pgtest.New(t)
			count := tally(t, db)
			var wire pgtest.Wire
			pool := pgtest.Pool(t, db.App(), wire.Use)
			if err := pool.Ping(t.Context()); err != nil {
				t.Fatal(err)
			}
			wire.Cut(1, tc.sent)
			// The server is slow, so that a client which notices the cut before the
			// commit has time to have it cancelled.
			_, err := pool.Exec(t.Context(), "insert into tally select 1 from pg_sleep(0.2)", pgx.QueryExecModeExec)
			wire.Settle()
			if err == nil {
				t.Errorf("a write on a cut wire succeeded")
			}
			if got := count(); got != tc.want {
				t.Errorf("committed %d rows, want %d", got, tc.want)
			}
			if _, err := pool.Exec(t.Context(), "insert into tally values (2)"); err != nil {
				t.Errorf("after the cut the pool connects anew: got %v", err)
			}
		})
	}
}

func TestBackendsAreKilled(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t)
	pool := pgtest.Pool(t, db.App())
	conn, err := pool.Acquire(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Release()
	if got := db.KillBackends(t); got != 1 {
		t.Errorf("ended %d sessions, want 1", got)
	}
	// Read the session's last message without sending a query: a query to an ended
	// session may fail on the closed socket first.
	_, err = conn.Conn().WaitForNotification(t.Context())
	var refusal *pgconn.PgError
	if !errors.As(err, &refusal) || refusal.Code != "57P01" {
		t.Errorf("got %v, want 57P01, ended by an administrator", err)
	}
	if _, err := conn.Exec(t.Context(), "select 1"); err == nil {
		t.Error("a session that was ended answered")
	}
}

func TestServerCrashesAndComesBack(t *testing.T) {
	t.Parallel()
	srv := pgtest.NewServer(t)
	count := tally(t, &srv.DB)
	pool := pgtest.Pool(t, srv.App())
	if _, err := pool.Exec(t.Context(), "insert into tally values (1)"); err != nil {
		t.Fatal(err)
	}
	tx, err := pool.Begin(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if _, err := tx.Exec(t.Context(), "insert into tally values (2)"); err != nil {
		t.Fatal(err)
	}
	srv.Crash()
	if err := tx.Commit(t.Context()); err == nil {
		t.Errorf("a crashed server committed")
	}
	srv.Start(t)
	pool.Reset()
	if got := count(); got != 1 {
		t.Errorf("after the crash: got %d rows, want the committed one", got)
	}
}

// A test's database has no sessions once the test has ended, and is dropped together with
// others, so that at most a few are left.
func TestEndedDatabasesAreDropped(t *testing.T) {
	t.Parallel()
	var names []string
	for range pgtest.DropTogether + 1 {
		t.Run("one", func(t *testing.T) {
			db := pgtest.New(t)
			names = append(names, db.Name())
			conn, err := pgx.Connect(context.Background(), db.Super()) // left open on purpose
			if err != nil || conn.Ping(t.Context()) != nil {
				t.Fatal("got no session")
			}
		})
	}
	conn, err := pgx.Connect(t.Context(), pgtest.New(t).Super())
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(context.Background())
	var left, sessions int
	err = conn.QueryRow(t.Context(), `select count(*), (select count(*) from pg_stat_activity where datname = any($1))
		from pg_database where datname = any($1)`, names).Scan(&left, &sessions)
	for err == nil && sessions > 0 { // sessions end when they notice the signal
		err = conn.QueryRow(t.Context(), `select count(*) from pg_stat_activity where datname = any($1)`, names).Scan(&sessions)
	}
	if err != nil || left == len(names) || left > pgtest.DropTogether {
		t.Errorf("got %d of %d databases left, %v", left, len(names), err)
	}
}
