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
	AsideExcess     = "excess"     // it exceeds a limit of what is computed
	AsideFailed     = "failed"     // it could not be read, computed or stored
	AsideUnfinished = "unfinished" // the worker ended before it was done
)

// Aside is a record that the worker could not compute, and when it is tried again. It
// stays until the record has been computed.
type Aside struct {
	Institution uuid.UUID `db:"institution_id"`
	Record      uuid.UUID `db:"record_id"`
	// Kind is specimen or plan, or the kind of a record with an entry that could not be
	// read.
	Kind     string    `db:"kind"`
	Sequence int64     `db:"sequence"`
	Why      string    `db:"why"`
	Attempts int       `db:"attempts"`
	Since    time.Time `db:"since"`
	TryAt    time.Time `db:"try_at"`
}

const asideColumns = `a.institution_id, a.record_id, a.kind, a.sequence, a.why, a.attempts, a.since, a.try_at`

// SetAside stores that a record could not be computed.
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

// TakeBack deletes that records were set aside.
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

// BeginStates stores which specimens are being computed, so that the next worker finds
// those that a worker left unfinished. It gives those of them that are set aside.
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

// AsideOf gives the Aside of a record; ok tells whether it is set aside.
func (s Tenant) AsideOf(ctx context.Context, record uuid.UUID) (a Aside, ok bool, err error) {
	found, err := collect[Aside](ctx, s,
		`select `+asideColumns+` from set_aside a where a.institution_id = $1 and a.record_id = $2`, s.institution, record)
	if err != nil || len(found) == 0 {
		return a, false, err
	}
	return found[0], true, nil
}

// Unfinished gives the specimens that were being computed when a worker ended.
func (s Tenant) Unfinished(ctx context.Context) ([]uuid.UUID, error) {
	return s.ids(ctx, `select unnest(trying) as id from layers_cursor where institution_id = $1`, s.institution)
}

// NextUnseen gives an institution's first entry after its cursor.
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

// DueAsides lists what is to be tried again, of all institutions except those given.
func (w *Watch) DueAsides(ctx context.Context, now time.Time, without []uuid.UUID, limit int) ([]Aside, error) {
	rows, err := w.pool.Query(ctx, `select `+asideColumns+` from set_aside a where a.try_at <= $1
		and a.institution_id <> all($2) order by a.try_at limit $3`, now, without, limit)
	if err != nil {
		return nil, fmt.Errorf("asking what is set aside: %w", err)
	}
	return pgx.CollectRows(rows, pgx.RowToStructByName[Aside])
}

// Lag is how much the computed layers are behind the entries, over all institutions.
type Lag struct {
	Entries  int64 `db:"entries"` // sequenced entries after the cursor
	SetAside int64 `db:"set_aside"`
}

// lag is the statement of Lag.
const lag = `
	select coalesce(sum(greatest(h.seq - coalesce(c.seq, 0), 0)), 0)::bigint as entries,
	       (select count(*) from set_aside) as set_aside
	  from institution i
	  cross join lateral (select seq from sequenced p where p.institution_id = i.id order by seq desc limit 1) h
	  left join layers_cursor c on c.institution_id = i.id`

// Lag gives how much the layers are behind.
func (w *Watch) Lag(ctx context.Context) (Lag, error) {
	rows, err := w.pool.Query(ctx, lag)
	if err != nil {
		return Lag{}, fmt.Errorf("asking how far the layers are behind: %w", err)
	}
	return pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[Lag])
}

// Passing tells whether an error is transient: the database is away, busy or locked, or
// the work was cancelled.
func Passing(err error) bool {
	var pg *pgconn.PgError
	if errors.As(err, &pg) {
		return away(err) || pg.Code == lockNotAvailable || pg.Code[:2] == "40" || pg.Code[:2] == "53"
	}
	return errors.Is(err, context.Canceled) || away(err)
}
