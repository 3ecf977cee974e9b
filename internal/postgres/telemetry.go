package postgres

import (
	"context"
	"fmt"
	"sync/atomic"

	"github.com/exaring/otelpgx"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/multitracer"
	"github.com/jackc/pgx/v5/pgxpool"

	"meniscus/internal/telemetry"
)

// trace gives the connections of a pool their spans and measurements. Spans have the
// statement's text and never its arguments.
func trace(cfg *pgxpool.Config, to telemetry.Providers) {
	if !to.Measured() {
		return
	}
	to = to.OrNone()
	cfg.ConnConfig.Tracer = multitracer.New(roundTrips{}, otelpgx.NewTracer(otelpgx.WithMeterProvider(to.Meters),
		otelpgx.WithTracerProvider(to.Spans), otelpgx.WithDisableConnectionDetailsInAttributes()))
}

// recordPool measures how many connections of a pool are used and waited for.
func recordPool(pool *pgxpool.Pool, to telemetry.Providers) error {
	if !to.Measured() {
		return nil
	}
	if err := otelpgx.RecordStats(pool, otelpgx.WithStatsMeterProvider(to.OrNone().Meters)); err != nil {
		return fmt.Errorf("measuring the pool: %w", err)
	}
	return nil
}

type tripsKey struct{}

// CountingTrips is a context in which what is sent to the database is counted: a batch is
// one round trip, and so is a statement that is sent alone or prepared.
func CountingTrips(ctx context.Context) (context.Context, *atomic.Int64) {
	trips := &atomic.Int64{}
	return context.WithValue(ctx, tripsKey{}, trips), trips
}

// roundTrips counts for the contexts of CountingTrips.
type roundTrips struct{}

func (roundTrips) count(ctx context.Context) context.Context {
	if trips, ok := ctx.Value(tripsKey{}).(*atomic.Int64); ok {
		trips.Add(1)
	}
	return ctx
}

func (r roundTrips) TraceQueryStart(ctx context.Context, _ *pgx.Conn, _ pgx.TraceQueryStartData) context.Context {
	return r.count(ctx)
}
func (roundTrips) TraceQueryEnd(context.Context, *pgx.Conn, pgx.TraceQueryEndData) {}

func (r roundTrips) TraceBatchStart(ctx context.Context, _ *pgx.Conn, _ pgx.TraceBatchStartData) context.Context {
	return r.count(ctx)
}
func (roundTrips) TraceBatchQuery(context.Context, *pgx.Conn, pgx.TraceBatchQueryData) {}
func (roundTrips) TraceBatchEnd(context.Context, *pgx.Conn, pgx.TraceBatchEndData)     {}

func (r roundTrips) TracePrepareStart(ctx context.Context, _ *pgx.Conn, _ pgx.TracePrepareStartData) context.Context {
	return r.count(ctx)
}
func (roundTrips) TracePrepareEnd(context.Context, *pgx.Conn, pgx.TracePrepareEndData) {}

// Backlog is what waits for the worker, over all institutions.
type Backlog struct {
	Unsealed   int64   `db:"unsealed"`    // entries without a sequence number, counted to 100,000
	OldestWait float64 `db:"oldest_wait"` // how long the first of them has waited, in seconds
	Lag
	Deliveries int64 `db:"deliveries"` // entries that webhooks have not been sent, of kinds that they take or not
	Failing    int64 `db:"failing"`    // webhooks whose last delivery failed
	Importing  int64 `db:"importing"`  // imports that run or wait to go on
	LinesRead  int64 `db:"lines_read"` // lines of all imports so far
}

// Backlog counts what waits. Its cost grows with the institutions, webhooks and imports,
// and not with their records.
func (w *Watch) Backlog(ctx context.Context) (Backlog, error) {
	rows, err := w.pool.Query(ctx, `
		select (select count(*) from (select from unsealed limit 100000) u) as unsealed,
		       coalesce((select greatest(extract(epoch from now() - e.recorded_at), 0)::float8
		                   from (select * from unsealed order by ticket limit 1) u
		                   join entry e on e.id = u.entry_id and e.institution_id = u.institution_id), 0) as oldest_wait,
		       l.entries, l.set_aside, d.deliveries, d.failing, i.importing, i.lines_read
		  from (`+lag+`) l,
		       (select coalesce(sum(greatest(coalesce(d.last_seq, h.seq) - d.next_seq + 1, 0)), 0)::bigint as deliveries,
		               count(*) filter (where d.failing_since is not null) as failing
		          from delivery d
		          join webhook w on w.institution_id = d.institution_id and w.id = d.webhook_id and w.stopped_at is null
		         cross join lateral (select seq from sequenced p where p.institution_id = d.institution_id
		                              order by seq desc limit 1) h
		         where d.ended_at is null) d,
		       (select count(*) filter (where state in ('waiting', 'running')) as importing,
		               coalesce(sum(lines_read), 0)::bigint as lines_read from import) i`)
	if err != nil {
		return Backlog{}, fmt.Errorf("asking what waits for the worker: %w", err)
	}
	return pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[Backlog])
}
