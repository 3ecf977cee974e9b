package postgres

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
)

// Why something was set aside.
const (
	AsidePanic      = "panic"
	AsideExcess     = "excess"     // it is beyond a bound of what is worked out
	AsideFailed     = "failed"     // it could not be read, worked out or kept
	AsideUnfinished = "unfinished" // it was begun, and the worker ended
)

// Aside is what the worker could not work out, and when it is tried again. It
// stands until the record was worked out.
type Aside struct {
	Institution uuid.UUID `db:"institution_id"`
	Record      uuid.UUID `db:"record_id"`
	// Kind is specimen, plan, or that of a record of which an entry could not be
	// read.
	Kind     string    `db:"kind"`
	Sequence int64     `db:"sequence"`
	Why      string    `db:"why"`
	Attempts int       `db:"attempts"`
	Since    time.Time `db:"since"`
	TryAt    time.Time `db:"try_at"`
}

const asideColumns = `a.institution_id, a.record_id, a.kind, a.sequence, a.why, a.attempts, a.since, a.try_at`

// SetAside keeps that a record could not be worked out.
func (s *Store) SetAside(ctx context.Context, a Aside) error {
	b := newBatch(a.Institution)
	b.Queue(`
		insert into set_aside (institution_id, record_id, kind, sequence, why, attempts, since, try_at)
		values ($1, $2, $3, $4, $5, $6, $7, $8)
		on conflict (record_id, institution_id) do update
		set kind = excluded.kind, sequence = excluded.sequence, why = excluded.why,
			attempts = excluded.attempts, try_at = excluded.try_at`,
		a.Institution, a.Record, a.Kind, a.Sequence, a.Why, a.Attempts, a.Since, a.TryAt)
	return s.run(ctx, b)
}

const takeBack = `delete from set_aside where institution_id = $1 and record_id = any($2)`

// TakeBack forgets that records were set aside.
func (s Tenant) TakeBack(ctx context.Context, records ...uuid.UUID) error {
	b := newBatch(s.institution)
	b.Queue(takeBack, s.institution, records)
	return s.run(ctx, b)
}

// Asides lists what is set aside in an institution, the earliest first, at most
// limit of it.
func (s Tenant) Asides(ctx context.Context, limit int) ([]Aside, error) {
	return collect[Aside](ctx, s,
		`select `+asideColumns+` from set_aside a where a.institution_id = $1 order by a.since, a.record_id limit $2`,
		s.institution, limit)
}

// BeginStates notes which specimens are being worked out, so that a worker that
// ends in the midst of it is noticed by the next, and gives those of them that
// are set aside.
func (s Tenant) BeginStates(ctx context.Context, specimens []uuid.UUID) (map[uuid.UUID]Aside, error) {
	var found []Aside
	b := newBatch(s.institution)
	b.Queue(`insert into layers_cursor (institution_id, seq, trying) values ($1, 0, $2)
		on conflict (institution_id) do update set trying = excluded.trying`, s.institution, specimens)
	queue(b, &found, `select `+asideColumns+` from set_aside a where a.institution_id = $1 and a.record_id = any($2)`,
		s.institution, specimens)
	err := s.run(ctx, b)
	by := make(map[uuid.UUID]Aside, len(found))
	for _, a := range found {
		by[a.Record] = a
	}
	return by, err
}

// AsideOf gives what is known of a record that is set aside; ok tells whether it
// is.
func (s Tenant) AsideOf(ctx context.Context, record uuid.UUID) (a Aside, ok bool, err error) {
	found, err := collect[Aside](ctx, s,
		`select `+asideColumns+` from set_aside a where a.institution_id = $1 and a.record_id = $2`, s.institution, record)
	if err != nil || len(found) == 0 {
		return a, false, err
	}
	return found[0], true, nil
}

// Unfinished are the specimens that were being worked out when a worker ended.
func (s Tenant) Unfinished(ctx context.Context) ([]uuid.UUID, error) {
	return s.ids(ctx, `select unnest(trying) as id from layers_cursor where institution_id = $1`, s.institution)
}

// NextUnseen gives an institution's next entry that was not looked at.
func (s Tenant) NextUnseen(ctx context.Context) (Row, error) {
	rows, err := collectPlannedAnew[Row](ctx, s, `
		select `+entryColumns+`, p.seq from sequenced p `+ofSequence+`
		 where p.institution_id = $1 and p.seq > coalesce((select seq from layers_cursor where institution_id = $1), 0)
		 order by p.seq limit 1`, s.institution)
	if err == nil && len(rows) == 0 {
		err = errNoRecord
	}
	if err != nil {
		return Row{}, err
	}
	return rows[0], nil
}

// DueAsides lists what is to be tried again, of all institutions but some.
func (w *Watch) DueAsides(ctx context.Context, now time.Time, without []uuid.UUID, limit int) ([]Aside, error) {
	rows, err := w.pool.Query(ctx, `select `+asideColumns+` from set_aside a where a.try_at <= $1
		and a.institution_id <> all($2) order by a.try_at limit $3`, now, without, limit)
	if err != nil {
		return nil, fmt.Errorf("asking what is set aside: %w", err)
	}
	return pgx.CollectRows(rows, pgx.RowToStructByName[Aside])
}

// Lag is how far the layers are behind, over all institutions.
type Lag struct {
	Entries  int64 `db:"entries"` // that have their sequence number and were not looked at
	SetAside int64 `db:"set_aside"`
}

// Lag tells how far the layers are behind.
func (w *Watch) Lag(ctx context.Context) (Lag, error) {
	rows, err := w.pool.Query(ctx, `
		select coalesce(sum(greatest(h.seq - coalesce(c.seq, 0), 0)), 0)::bigint as entries,
		       (select count(*) from set_aside) as set_aside
		  from institution i
		  cross join lateral (select seq from sequenced p where p.institution_id = i.id order by seq desc limit 1) h
		  left join layers_cursor c on c.institution_id = i.id`)
	if err != nil {
		return Lag{}, fmt.Errorf("asking how far the layers are behind: %w", err)
	}
	return pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[Lag])
}

// Passing tells whether an error is of the moment (the database is away, busy or
// locked, or the work was told to end) and not of what was asked for.
func Passing(err error) bool {
	var pg *pgconn.PgError
	if errors.As(err, &pg) {
		return away(err) || pg.Code == lockNotAvailable || pg.Code[:2] == "40" || pg.Code[:2] == "53"
	}
	return errors.Is(err, context.Canceled) || away(err)
}
