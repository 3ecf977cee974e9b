package pgtest

import (
	"context"
	"sync/atomic"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
)

// RoundTrips counts a pool's round trips to its server: a single statement and a batch
// of statements are one each. It also counts the statements.
type RoundTrips struct{ n, statements atomic.Int64 }

// Use makes a pool's connections count their round trips.
func (r *RoundTrips) Use(cfg *pgxpool.Config) { cfg.ConnConfig.Tracer = counting{r} }

// During counts the round trips that f makes.
func (r *RoundTrips) During(f func()) int64 {
	before := r.n.Load()
	f()
	return r.n.Load() - before
}

// Statements gives how many statements were sent since the last call.
func (r *RoundTrips) Statements() int64 { return r.statements.Swap(0) }

// counting is a tracer of a pool.
type counting struct{ trips *RoundTrips }

func (c counting) TraceQueryStart(ctx context.Context, _ *pgx.Conn, _ pgx.TraceQueryStartData) context.Context {
	c.trips.n.Add(1)
	c.trips.statements.Add(1)
	return ctx
}

func (counting) TraceQueryEnd(context.Context, *pgx.Conn, pgx.TraceQueryEndData) {}

func (c counting) TraceBatchStart(ctx context.Context, _ *pgx.Conn, _ pgx.TraceBatchStartData) context.Context {
	c.trips.n.Add(1)
	return ctx
}

func (c counting) TraceBatchQuery(context.Context, *pgx.Conn, pgx.TraceBatchQueryData) {
	c.trips.statements.Add(1)
}

func (counting) TraceBatchEnd(context.Context, *pgx.Conn, pgx.TraceBatchEndData) {}
