package postgres

import (
	"context"
	"strconv"
	"sync/atomic"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"meniscus/internal/fault"
)

// A Position is how far the record was: the number of a transaction of the server that takes
// writes. 0 is none. Callers keep it and pass it on, and do not look into it.
type Position uint64

// positionBase writes positions in few characters that mean nothing.
const positionBase = 36

// ParsePosition reads a position as String writes it.
func ParsePosition(text string) (Position, error) {
	p, err := strconv.ParseUint(text, positionBase, 63)
	if err != nil || p == 0 {
		return 0, fault.Of(fault.Malformed, "position-unreadable",
			"Record-Position is not a position: send one as it was answered, or leave it out.")
	}
	return Position(p), nil
}

func (p Position) String() string { return strconv.FormatUint(uint64(p), positionBase) }

// ReadAlsoFrom gives requests another server to read from: a standby, which follows the first.
// Call it before the store is used; the store closes it.
func (s *Store) ReadAlsoFrom(standby *Store) { s.standby = standby }

// HasStandby tells whether there is one.
func (s *Store) HasStandby() bool { return s.standby != nil }

// standbyWait is how long a request waits until a standby has what it asks for, and
// standbyAway how long one that did not answer is left alone.
const (
	standbyWait = 250 * time.Millisecond
	standbyAway = 5 * time.Second
)

type standbyKey struct{}

// FromStandby is a context whose batches are read from the standby, once that has what was
// written at a position, and the position that it has. Where it has not in a short time, or does
// not answer, the context is as it was, and the position 0.
func (s *Store) FromStandby(ctx context.Context, institution uuid.UUID, after Position) (context.Context, Position) {
	if s.standby == nil || time.Now().UnixNano() < s.away.Load() {
		return ctx, 0
	}
	waiting, cancel := context.WithTimeout(ctx, standbyWait)
	defer cancel()
	for pause := 5 * time.Millisecond; ; pause *= 2 {
		has, there, err := s.reached(context.WithValue(waiting, standbyKey{}, true), institution, after)
		if there {
			return context.WithValue(ctx, standbyKey{}, true), has
		}
		if err != nil {
			if ctx.Err() == nil && waiting.Err() == nil {
				s.away.Store(time.Now().Add(standbyAway).UnixNano())
			}
			return ctx, 0
		}
		select {
		case <-waiting.Done():
			return ctx, 0
		case <-time.After(pause):
		}
	}
}

// reached asks the standby what it has, and whether a transaction is there. A standby knows of
// those below its xmin that they have ended, and of others by their status; one that it has not
// heard of is not there.
func (s *Store) reached(ctx context.Context, institution uuid.UUID, after Position) (has Position, there bool, err error) {
	type known struct {
		Has   int64
		There bool
	}
	rows, err := collect[known](ctx, s.For(institution), `
		select pg_snapshot_xmin(shot)::text::bigint - 1 as has,
		       case when $1::text::xid8 < pg_snapshot_xmin(shot) then true
		            when $1::text::xid8 < pg_snapshot_xmax(shot) then pg_xact_status($1::text::xid8) = 'committed'
		            else false end as there
		  from pg_current_snapshot() shot`, strconv.FormatUint(uint64(after), 10))
	if err != nil || len(rows) == 0 {
		return 0, false, err
	}
	return Position(rows[0].Has), rows[0].There, nil
}

// server is the store whose connections a context's batches are sent on.
func (s *Store) server(ctx context.Context) *Store {
	if s.standby != nil && ctx.Value(standbyKey{}) != nil {
		return s.standby
	}
	return s
}

type tellKey struct{}

// Telling is a context whose batches tell the position of what they write; it is 0 until then.
func Telling(ctx context.Context) (context.Context, *atomic.Uint64) {
	wrote := &atomic.Uint64{}
	return context.WithValue(ctx, tellKey{}, wrote), wrote
}

// tell has a batch that wrote something tell its transaction, as the last that it does.
func (b *batch) tell(ctx context.Context) {
	wrote, ok := ctx.Value(tellKey{}).(*atomic.Uint64)
	if !ok {
		return
	}
	b.Queue(`select coalesce(pg_current_xact_id_if_assigned()::text::bigint, 0)`).QueryRow(func(row pgx.Row) error {
		var transaction uint64
		err := row.Scan(&transaction)
		wrote.Store(max(wrote.Load(), transaction))
		return err
	})
}
