// Package postgres is all of the service's SQL: one file for one noun.
//
// Every statement is an entry in one append-only table; the other tables are
// projections of the revision in force. Row-level security shows each statement its
// institution's rows alone: the first statement of each batch sets the institution, and
// the statements also name it. A batch is one implicit transaction.
//
// Database errors that a caller can do something about are returned as faults (package
// fault); all others are internal errors.
package postgres

import (
	"context"
	"errors"
	"fmt"
	"net"
	"strconv"
	"sync/atomic"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgxpool"
	"golang.org/x/sync/semaphore"

	"meniscus/internal/fault"
	"meniscus/migrations"
)

// Store is the application's access to the database, under the application's role.
type Store struct {
	pool     *pgxpool.Pool
	requests *semaphore.Weighted // the connections that are not kept for the worker
	atWork   atomic.Int64        // how many of them are used
	most     int                 // the number of those connections
	wait     time.Duration       // how long a request waits for one of them
	wrote    func()
	keys     *Remembered[[2]uuid.UUID, knownKey]
	subjects *Remembered[subject, uuid.UUID] // the people of tokens
	standby  *Store                          // another server to read from; nil if there is none
	away     atomic.Int64                    // until when it is left alone, in nanoseconds of Unix time
}

// A Tenant is the store for one institution: it reads and writes that institution's
// rows alone.
type Tenant struct {
	*Store
	institution uuid.UUID
}

// For gives the store for one institution.
func (s *Store) For(institution uuid.UUID) Tenant { return Tenant{s, institution} }

// ID is the institution.
func (s Tenant) ID() uuid.UUID { return s.institution }

// AfterEntries sets f to be called whenever entries were committed and wait for their
// sequence numbers. Call it before the store is used.
func (s *Store) AfterEntries(f func()) { s.wrote = f }

// Open connects with the application's role. The caller closes the store.
func Open(ctx context.Context, dsn string) (*Store, error) {
	return OpenSized(ctx, dsn, Connections{})
}

// OpenSized is Open with another number of connections.
func OpenSized(ctx context.Context, dsn string, size Connections) (*Store, error) {
	size = size.orDefault()
	cfg, err := poolConfig(dsn, size.Requests+size.Worker, lockLimit)
	if err != nil {
		return nil, err
	}
	trace(cfg, size.Telemetry)
	s, err := OpenWith(ctx, cfg)
	if err != nil {
		return nil, err
	}
	if err := recordPool(s.pool, size.Telemetry); err != nil {
		s.Close()
		return nil, err
	}
	s.requests, s.most, s.wait = semaphore.NewWeighted(int64(size.Requests)), size.Requests, size.Wait
	return s, nil
}

// OpenWith connects with a configuration of the caller's own, such as a dialer
// that fails.
func OpenWith(ctx context.Context, cfg *pgxpool.Config) (*Store, error) {
	pool, err := connect(ctx, cfg)
	if err != nil {
		return nil, err
	}
	return &Store{pool: pool, requests: semaphore.NewWeighted(int64(cfg.MaxConns)), most: int(cfg.MaxConns),
		wait: Connections{}.orDefault().Wait, keys: Remember[[2]uuid.UUID, knownKey](mostKeys),
		subjects: Remember[subject, uuid.UUID](mostKeys)}, nil
}

// ForRequests is how many connections there are for requests.
func (s *Store) ForRequests() int { return s.most }

func openPool(ctx context.Context, dsn string, most int, lock string) (*pgxpool.Pool, error) {
	cfg, err := poolConfig(dsn, most, lock)
	if err != nil {
		return nil, err
	}
	return connect(ctx, cfg)
}

func poolConfig(dsn string, most int, lock string) (*pgxpool.Config, error) {
	cfg, err := pgxpool.ParseConfig(dsn)
	if err != nil {
		return nil, errors.New("reading the database URL: it is not a Postgres URL")
	}
	cfg.MaxConns = int32(most)
	// For the whole session, because statements are prepared before the batch that sets
	// its own limits, and preparing waits for an operator's lock too.
	cfg.AfterConnect = func(ctx context.Context, conn *pgx.Conn) error {
		registerUUIDs(conn.TypeMap())
		_, err := conn.Exec(ctx, `set lock_timeout = '`+lock+`'`)
		return err
	}
	return cfg, nil
}

func connect(ctx context.Context, cfg *pgxpool.Config) (*pgxpool.Pool, error) {
	pool, err := pgxpool.NewWithConfig(ctx, cfg)
	if err != nil {
		return nil, fmt.Errorf("opening the pool: %w", err)
	}
	return pool, nil
}

// Close ends every connection; it waits for those at work.
func (s *Store) Close() {
	if s.standby != nil {
		s.standby.Close()
	}
	s.pool.Close()
}

// Ready tells whether the database answers and has this program's schema.
func (s *Store) Ready(ctx context.Context) error {
	var version int64
	err := s.pool.QueryRow(ctx,
		`select coalesce(max(version_id), 0) from goose_db_version where is_applied`).Scan(&version)
	if _, empty := violated(err, undefinedTable); empty {
		return migrations.ErrOld
	}
	if err != nil {
		return translate(ctx, fmt.Errorf("asking the schema's version: %w", err))
	}
	return migrations.Check(version)
}

// batch is the statements of one institution's transaction; the first sets the
// tenant.
type batch struct {
	pgx.Batch
	institution uuid.UUID
	tenant      *pgx.QueuedQuery
	entries     bool             // it contains entries
	waiting     map[*table]*rows // rows that were put and are not queued yet
}

// setTenant sets what row-level security reads, how long a statement and its wait for a
// lock may take, and turns just-in-time compilation off: the costs of functions and
// recursions are overestimated. A report that takes 0.02 s took 27 s on a busy machine,
// nearly all of it compiling.
const setTenant = `select set_config('app.institution', $1, true), set_config('statement_timeout', $2, true),
	set_config('lock_timeout', '` + lockLimit + `', true), set_config('jit', 'off', true)`

func newBatch(institution uuid.UUID) *batch {
	b := &batch{institution: institution}
	b.tenant = b.Queue(setTenant, institution.String(), "0")
	return b
}

// within is the batch, ready to be sent with the limits of a piece of work and its premises.
func (b *batch) within(ctx context.Context) *pgx.Batch {
	b.flush()
	b.tell(ctx)
	b.tenant.Arguments[1] = strconv.FormatInt(limitsOf(ctx).statement.Milliseconds(), 10)
	withhold(ctx, b)
	premisesOf(ctx).ask(b)
	return &b.Batch
}

// plannedAnew has the server plan the queries of a batch for the tables as they are. A
// cached plan from when they were small scans whole tables until their statistics are
// renewed, and by then an import may have made millions of rows.
const plannedAnew = `select set_config('plan_cache_mode', 'force_custom_plan', true)`

// plannedAsUsual is the end of plannedAnew in a batch that goes on.
const plannedAsUsual = `select set_config('plan_cache_mode', 'auto', true)`

// newBatchPlannedAnew is newBatch with plannedAnew, for reading while tables grow.
func newBatchPlannedAnew(institution uuid.UUID) *batch {
	b := newBatch(institution)
	b.Queue(plannedAnew)
	return b
}

// byIndex has the server prefer an index to reading a whole table. A plan from when a table
// was small is then still the right one when it has grown, and need not be made anew.
const byIndex = `select set_config('enable_seqscan', 'off', true)`

// newBatchByIndex is newBatch with byIndex, for look-ups that are done often.
func newBatchByIndex(institution uuid.UUID) *batch {
	b := newBatch(institution)
	b.Queue(byIndex)
	return b
}

// run sends a batch and reads every result through its own callback.
func (s *Store) run(ctx context.Context, b *batch) error {
	server := s.server(ctx)
	err := server.send(ctx, b)
	if err != nil && ctx.Err() == nil && away(err) {
		server.pool.Reset() // the other idle connections have most likely lost the same server
	}
	if err == nil && b.entries && s.wrote != nil {
		s.wrote()
	}
	return translate(ctx, err)
}

func (s *Store) send(ctx context.Context, b *batch) error {
	conn, release, err := s.acquire(ctx)
	if err != nil {
		return err
	}
	defer release()
	return conn.SendBatch(ctx, b.within(ctx)).Close()
}

// collect runs one query of the tenant and reads all rows into T by name.
func collect[T any](ctx context.Context, s Tenant, sql string, args ...any) ([]T, error) {
	b := newBatch(s.institution)
	var found []T
	queue(b, &found, sql, args...)
	return found, s.run(ctx, b)
}

// collectPlannedAnew is collect with plannedAnew, for reading while tables grow.
func collectPlannedAnew[T any](ctx context.Context, s Tenant, sql string, args ...any) ([]T, error) {
	b := newBatchPlannedAnew(s.institution)
	var found []T
	queue(b, &found, sql, args...)
	return found, s.run(ctx, b)
}

// collectByIndex is collect with byIndex.
func collectByIndex[T any](ctx context.Context, s Tenant, sql string, args ...any) ([]T, error) {
	b := newBatchByIndex(s.institution)
	var found []T
	queue(b, &found, sql, args...)
	return found, s.run(ctx, b)
}

// queue adds a query whose rows are read into T by name when the batch runs.
func queue[T any](b *batch, into *[]T, sql string, args ...any) {
	b.Queue(sql, args...).Query(func(rows pgx.Rows) error {
		found, err := pgx.CollectRows(rows, pgx.RowToStructByName[T])
		*into = found
		return err
	})
}

// SQLSTATEs that mean something to a caller.
const (
	uniqueViolation     = "23505"
	lockNotAvailable    = "55P03"
	checkViolation      = "23514"
	undefinedTable      = "42P01"
	recordWithheld      = "MN002" // of the function not_withheld
	foreignKeyViolation = "23503"
)

// violated gives the constraint that a statement broke, if it broke one of this
// SQLSTATE.
func violated(err error, state string) (constraint string, ok bool) {
	var pg *pgconn.PgError
	if errors.As(err, &pg) && pg.Code == state {
		return pg.ConstraintName, true
	}
	return "", false
}

// translate makes a fault of an error that says that the database is away or
// overloaded. A cancelled context, the caller's or another, is no failure of the
// database and gives no fault.
func translate(ctx context.Context, err error) error {
	switch {
	case err == nil || errors.Is(ctx.Err(), context.Canceled) || errors.Is(err, context.Canceled) ||
		fault.From(err) != nil:
		return err
	case away(err):
		return errors.Join(fault.Of(fault.Unavailable, "database-unavailable",
			"The database cannot be reached. Nothing is half-written: send the same request again, "+
				"with the same Idempotency-Key."), err)
	}
	var pg *pgconn.PgError
	if errors.As(err, &pg) && overloaded(pg.Code) {
		return errors.Join(errBusy, err)
	}
	if _, withheld := violated(err, recordWithheld); withheld {
		return ErrWithheld
	}
	return err
}

// overloaded tells whether the server could not run a statement for lack of time,
// resources or a lock: out of resources (class 53), a deadlock (40P01), a statement
// that took longer than it may (57014), and a lock that another session holds.
func overloaded(state string) bool {
	return state[:2] == "53" || state == "40001" || state == "40P01" || state == "57014" || state == lockNotAvailable
}

// away tells whether an error means that the connection or the server is gone: SQLSTATE
// classes 08 (connection) and 57P (shutdown), and failures of the network.
func away(err error) bool {
	if fault.From(err) != nil {
		return false
	}
	var pg *pgconn.PgError
	if errors.As(err, &pg) {
		return pg.Code[:2] == "08" || pg.Code[:3] == "57P"
	}
	var connect *pgconn.ConnectError
	var wire net.Error
	return errors.As(err, &connect) || errors.As(err, &wire) ||
		errors.Is(err, net.ErrClosed) || errors.Is(err, errClosedPool) || pgconn.SafeToRetry(err) || broken(err)
}
