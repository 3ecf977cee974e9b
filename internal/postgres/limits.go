package postgres

import (
	"cmp"
	"context"
	"errors"
	"runtime"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"meniscus/internal/fault"
	"meniscus/internal/telemetry"
)

// Connections is how many connections a store opens; what is zero has its
// default. A server of Postgres takes 100 unless it is told otherwise.
type Connections struct {
	// Requests are for what callers ask: 8 for each processor (GOMAXPROCS), at least
	// 16. Long work (package httpapi, admission.times) takes at most half of them.
	Requests int
	// Worker are kept for the worker, so that no number of requests can stop it: 2.
	Worker int
	// Wait is how long a request waits for a connection: 5 s.
	Wait time.Duration
	// Telemetry measures the connections and what is sent on them; nothing if zero.
	Telemetry telemetry.Providers
}

func (c Connections) orDefault() Connections {
	return Connections{Requests: cmp.Or(c.Requests, max(16, 8*runtime.GOMAXPROCS(0))), Worker: cmp.Or(c.Worker, 2),
		Wait:      cmp.Or(c.Wait, 5*time.Second),
		Telemetry: c.Telemetry}
}

// workerRoleConnections is the size of each pool under the worker's role: its users do
// one thing at a time.
const workerRoleConnections = 2

// lockLimit is how long a statement waits for a lock: of another request with the same
// key, or of an operator who changes a table. It is short, because a waiting statement
// holds a connection.
const lockLimit = "100ms"

// workerLockLimit is the same under the worker's role, for which no caller waits.
const workerLockLimit = "5s"

// workerStatement is how long a statement of the worker's may take.
const workerStatement = 10 * time.Minute

// limits are what a piece of work may ask of the database.
type limits struct {
	statement time.Duration // for one statement; 0 is no limit
	worker    bool          // takes the connections that are kept for the worker
}

type limitsKey struct{}

// Within bounds each statement that is sent with the context.
func Within(ctx context.Context, statement time.Duration) context.Context {
	return context.WithValue(ctx, limitsKey{}, limits{statement: statement})
}

// AsWorker marks work that no caller waits for: it does not queue with requests.
func AsWorker(ctx context.Context) context.Context {
	return context.WithValue(ctx, limitsKey{}, limits{statement: workerStatement, worker: true})
}

func limitsOf(ctx context.Context) limits {
	l, _ := ctx.Value(limitsKey{}).(limits)
	return l
}

// errBusy says that the database cannot do it now: there is no connection, no
// time, no room, or a lock in the way.
var errBusy = &fault.Fault{Kind: fault.Unavailable, Code: "database-busy", Wait: time.Second,
	Detail: "The database is busy. Nothing is half-written: send the same request again, with the same Idempotency-Key."}

// acquire gives a connection and the function that releases it. A request waits for one
// up to its limit, or until its caller disconnects.
func (s *Store) acquire(ctx context.Context) (*pgxpool.Conn, func(), error) {
	if limitsOf(ctx).worker {
		conn, err := s.pool.Acquire(ctx)
		if err != nil {
			return nil, nil, err
		}
		return conn, conn.Release, nil
	}
	waiting, cancel := context.WithTimeoutCause(ctx, s.wait, errBusy)
	defer cancel()
	if err := s.requests.Acquire(waiting, 1); err != nil {
		return nil, nil, context.Cause(waiting)
	}
	conn, err := s.pool.Acquire(waiting)
	if err != nil {
		s.requests.Release(1)
		if errors.Is(context.Cause(waiting), errBusy) {
			err = errors.Join(errBusy, err)
		}
		return nil, nil, err
	}
	s.atWork.Add(1)
	return conn, func() { conn.Release(); s.atWork.Add(-1); s.requests.Release(1) }, nil
}

// AtWork is how many connections requests use at the moment.
func (s *Store) AtWork() int { return int(s.atWork.Load()) }

// begin does work in a transaction.
func (s *Store) begin(ctx context.Context, work func(pgx.Tx) error) error {
	conn, release, err := s.acquire(ctx)
	if err != nil {
		return err
	}
	defer release()
	return pgx.BeginFunc(ctx, conn, work)
}
