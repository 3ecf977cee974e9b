package postgres

import (
	"context"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5/pgxpool"
)

// Ask runs a query that gives one text.
func (s *Store) Ask(ctx context.Context, sql string) (string, error) {
	type one struct{ Text string }
	rows, err := collect[one](ctx, s.For(uuid.New()), sql)
	if err != nil {
		return "", err
	}
	return rows[0].Text, nil
}

// Raise makes the server fail with a SQLSTATE.
func (s *Store) Raise(ctx context.Context, state string) error {
	b := newBatch(uuid.New())
	b.Queue(`do $$ begin raise exception 'for a test' using errcode = '` + state + `'; end $$`)
	return s.run(ctx, b)
}

// Hold takes a connection, until it is released.
func (s *Store) Hold(ctx context.Context) (release func(), err error) {
	_, release, err = s.acquire(ctx)
	return release, err
}

// Stat gives the pool's statistics.
func (s *Store) Stat() *pgxpool.Stat { return s.pool.Stat() }

// WaitFor sets how long a request waits for a connection from now on.
func (s *Store) WaitFor(d time.Duration) { s.wait = d }

// Translate exports translate for tests.
var Translate = translate

// UnseenSpecimens are the specimens that the next entries concern.
var UnseenSpecimens = unseenEntries + unseenSpecimens
