package postgres_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"runtime"
	"testing"
	"time"

	"meniscus/internal/fault"
	"meniscus/internal/pgtest"
	"meniscus/internal/postgres"
)

func open(t *testing.T, size postgres.Connections) (*postgres.Store, *pgtest.DB) {
	t.Helper()
	db := pgtest.New(t)
	s, err := postgres.OpenSized(t.Context(), db.App(), size)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	return s, db
}

func ask(ctx context.Context, s *postgres.Store, sql string) error {
	_, err := s.Ask(ctx, sql)
	return err
}

func wantBusy(t *testing.T, what string, err error) {
	t.Helper()
	if found := fault.From(err); len(found) != 1 || found[0].Code != "database-busy" ||
		found[0].Kind != fault.Unavailable || found[0].Wait == 0 {
		t.Errorf("%s: got %v, want database-busy", what, err)
	}
}

// A statement has the time of its class of work, and no longer.
func TestStatementsHaveALimit(t *testing.T) {
	t.Parallel()
	s, _ := open(t, postgres.Connections{})
	setting := `select current_setting('statement_timeout') as text`
	for want, ctx := range map[string]context.Context{
		"0": t.Context(), "7s": postgres.Within(t.Context(), 7*time.Second), "10min": postgres.AsWorker(t.Context()),
	} {
		if got, err := s.Ask(ctx, setting); err != nil || got != want {
			t.Errorf("got %v and %v, want %s", got, err, want)
		}
	}
	wantBusy(t, "a statement without end",
		ask(postgres.Within(t.Context(), 20*time.Millisecond), s, `select 'x' as text from pg_sleep(3600)`))
	if err := ask(t.Context(), s, setting); err != nil {
		t.Errorf("the next one: %v", err)
	}
}

// Failures for lack of resources, and deadlocks, are retryable.
func TestWhatIsWorthAnotherTry(t *testing.T) {
	t.Parallel()
	s, _ := open(t, postgres.Connections{})
	for _, state := range []string{"53100", "53200", "53300", "40P01", "40001", "55P03", "57014"} {
		wantBusy(t, state, s.Raise(t.Context(), state))
	}
	for _, state := range []string{"57P01", "57P02", "57P03"} {
		if err := s.Raise(t.Context(), state); !fault.Is(err, fault.Unavailable) {
			t.Errorf("%s: got %v, want unavailable", state, err)
		}
	}
	if err := s.Raise(t.Context(), "22012"); err == nil || fault.From(err) != nil {
		t.Errorf("a fault of the program: got %v, want it untranslated", err)
	}
}

// While requests hold all of their connections, the next one gets an error after its
// wait, one whose caller disconnects ends at once, and the worker still has its own
// connections.
func TestConnectionsHaveAWaitAndAShareForTheWorker(t *testing.T) {
	t.Parallel()
	s, _ := open(t, postgres.Connections{Requests: 2, Worker: 1, Wait: time.Hour})
	hello := `select 'hello' as text`
	for range 2 {
		release, err := s.Hold(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		defer release()
	}
	s.WaitFor(time.Millisecond)
	wantBusy(t, "no connection", ask(t.Context(), s, hello))
	if err := ask(postgres.AsWorker(t.Context()), s, hello); err != nil {
		t.Errorf("the worker: %v", err)
	}
	gone, leave := context.WithCancel(t.Context())
	leave()
	if err := ask(gone, s, hello); !errors.Is(err, context.Canceled) || fault.From(err) != nil {
		t.Errorf("a caller who has gone: got %v, want the context's end", err)
	}
}

// A caller who disconnects during a statement costs the connection of that statement
// and no other.
func TestACallerWhoLeavesCostsOneConnection(t *testing.T) {
	t.Parallel()
	s, db := open(t, postgres.Connections{})
	var releases []func()
	for range 3 {
		release, err := s.Hold(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		releases = append(releases, release)
	}
	for _, release := range releases {
		release()
	}
	ctx, leave := context.WithCancel(t.Context())
	go func() {
		defer leave()
		for db.Sleeping(t) == 0 {
		}
	}()
	if err := ask(ctx, s, `select 'x' as text from pg_sleep(3600)`); err == nil || fault.From(err) != nil {
		t.Errorf("got %v, want the context's end", err)
	}
	for s.Stat().AcquiredConns() > 0 { // another goroutine closes it
		runtime.Gosched()
	}
	if got := s.Stat().IdleConns(); got != 2 {
		t.Errorf("got %d idle connections, want the two others", got)
	}
	for db.Sleeping(t) > 0 { // until the server has noticed
	}
}

// A cancelled context is no failure of the database, however the error is wrapped; a
// timeout is.
func TestWhatIsCalledOffIsNoFailure(t *testing.T) {
	t.Parallel()
	off, cancel := context.WithCancel(t.Context())
	cancel()
	s, _ := open(t, postgres.Connections{})
	called := ask(off, s, `select 'x' as text`)
	if called == nil || fault.From(called) != nil {
		t.Fatalf("got %v, want it called off without a fault", called)
	}
	for _, err := range []error{
		called, fmt.Errorf("reading: %w", called), errors.Join(io.ErrUnexpectedEOF, context.Canceled),
	} {
		if got := postgres.Translate(t.Context(), err); fault.From(got) != nil || !errors.Is(got, context.Canceled) {
			t.Errorf("%v became %v", err, got)
		}
	}
	if got := postgres.Translate(t.Context(), io.ErrUnexpectedEOF); !fault.Is(got, fault.Unavailable) {
		t.Errorf("a broken wire became %v, want it unavailable", got)
	}
}
