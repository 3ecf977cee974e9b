package pgtest

import (
	"context"
	"sync/atomic"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
)

// RoundTrips counts how often a pool asks its server: each statement by itself, and
// each batch of statements, is one.
type RoundTrips struct{ n atomic.Int64 }

// Use makes a pool's connections count.
func (r *RoundTrips) Use(cfg *pgxpool.Config) { cfg.ConnConfig.Tracer = counting{r} }

// During counts those that f makes.
func (r *RoundTrips) During(f func()) int64 {
	before := r.n.Load()
	f()
	return r.n.Load() - before
}

// counting is a tracer of a pool.
type counting struct{ trips *RoundTrips }

func (c counting) TraceQueryStart(ctx context.Context, _ *pgx.Conn, _ pgx.TraceQueryStartData) context.Context {
	c.trips.n.Add(1)
	return ctx
}

func (counting) TraceQueryEnd(context.Context, *pgx.Conn, pgx.TraceQueryEndData) {}

func (c counting) TraceBatchStart(ctx context.Context, _ *pgx.Conn, _ pgx.TraceBatchStartData) context.Context {
	c.trips.n.Add(1)
	return ctx
}

func (counting) TraceBatchQuery(context.Context, *pgx.Conn, pgx.TraceBatchQueryData) {}

func (counting) TraceBatchEnd(context.Context, *pgx.Conn, pgx.TraceBatchEndData) {}
