package postgres

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
)

// Sealer gives committed entries their sequence numbers: one sequence without gaps for
// each institution, in which every committed entry stands exactly once.
//
// Any number of sealers may run; a transaction-level advisory lock lets one at a
// time do a round. There is no leader and no session lock. It uses the worker's
// role.
type Sealer struct {
	pool *pgxpool.Pool
	// after is called when a round has sealed something.
	after func()
	woken chan struct{}
}

const (
	// sealLock is the advisory lock's number: "seal" in ASCII.
	sealLock = 0x7365616c
	// sealMost is how many tickets one round moves at most.
	sealMost = 5000
	// sealSlack is how far below the highest sealed ticket a round looks for tickets
	// that were committed late; once a second it looks at all tickets.
	sealSlack = 2000
	sealEvery = 10 * time.Millisecond
	// sealIdle is how often an idle sealer looks: the most that an entry of another
	// process waits for its sequence number. A write of this process wakes it.
	sealIdle = 250 * time.Millisecond
	// forgetEvery is how often old request keys are deleted.
	forgetEvery = time.Hour
)

// OpenSealer connects with the worker's role; after, if not nil, is called
// whenever a round has sealed something. The caller closes the sealer.
func OpenSealer(ctx context.Context, dsn string, after func()) (*Sealer, error) {
	pool, err := openPool(ctx, dsn, workerRoleConnections, workerLockLimit)
	if err != nil {
		return nil, err
	}
	return &Sealer{pool: pool, after: after, woken: make(chan struct{}, 1)}, nil
}

// Close ends the sealer's connections.
func (s *Sealer) Close() { s.pool.Close() }

// Wake tells an idle sealer that something was written.
func (s *Sealer) Wake() {
	select {
	case s.woken <- struct{}{}:
	default:
	}
}

// Run seals until the context ends: every 10 ms while there is something to seal, and
// at growing intervals while there is not. A failed round is reported and tried again.
func (s *Sealer) Run(ctx context.Context, report func(error)) {
	work := sealing{Sealer: s, report: report}
	wait := sealEvery
	due := time.Now().Add(wait)
	timer := time.NewTimer(wait)
	defer timer.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-s.woken:
			if time.Until(due) <= sealEvery {
				continue // the next round comes soon anyway
			}
			wait = sealEvery
		case now := <-timer.C:
			if wait = min(2*wait, sealIdle); work.round(ctx, now) {
				wait = sealEvery
			}
		}
		due = time.Now().Add(wait)
		timer.Reset(wait)
	}
}

// sealing is the state of a running sealer between rounds.
type sealing struct {
	*Sealer
	report       func(error)
	floor        int64
	full, forgot time.Time // when it last looked at all tickets, and at old request keys
}

// round does one round, and tells whether it sealed something.
func (s *sealing) round(ctx context.Context, now time.Time) bool {
	from := s.floor
	if now.Sub(s.full) >= time.Second {
		from, s.full = 0, now
	}
	if now.Sub(s.forgot) >= forgetEvery {
		s.forgot = now
		if err := s.forgetRequestKeys(ctx); err != nil && ctx.Err() == nil {
			s.report(err)
		}
	}
	did, err := s.Round(ctx, from)
	if err != nil && ctx.Err() == nil {
		s.report(err)
	}
	if did.Logged == sealMost {
		s.full = time.Time{} // more may wait for their logs
	}
	if did.Sealed == 0 {
		return did.Logged > 0
	}
	s.floor = max(s.floor, did.Highest-sealSlack)
	if s.after != nil {
		s.after()
	}
	return true
}

// Rounded is what a round did.
type Rounded struct {
	Sealed  int   // how many entries it gave sequence numbers
	Highest int64 // the highest of their tickets
	Logged  int   // how many entries it added to logs
}

// Round seals the tickets above floor, at most 5,000, and adds their entries to the logs
// of their institutions, in one transaction. With a floor of 0 it also adds entries that
// are not in their logs yet. While another sealer does a round, it does nothing. An entry
// that is missing is an error, and what the round did is kept.
func (s *Sealer) Round(ctx context.Context, floor int64) (did Rounded, err error) {
	var gap error
	err = pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error {
		var mine bool
		if err := tx.QueryRow(ctx, `select pg_try_advisory_xact_lock($1)`, sealLock).Scan(&mine); err != nil || !mine {
			return err
		}
		if _, err := tx.Exec(ctx, plannedAnew); err != nil {
			return err
		}
		// A statement of its own: at READ COMMITTED its snapshot is taken after
		// the lock, so that it sees what the round before has sealed.
		var institutions []uuid.UUID
		err := tx.QueryRow(ctx, sealRound, floor, sealMost).Scan(&did.Sealed, &did.Highest, &institutions)
		if err == nil {
			did.Logged, gap, err = logEntries(ctx, tx, institutions, floor == 0)
		}
		return err
	})
	switch {
	case errors.Is(err, context.Canceled):
		return Rounded{}, nil
	case err != nil:
		return Rounded{}, fmt.Errorf("sealing: %w", err)
	}
	return did, gap
}

// forgetRequestKeys deletes request keys that are older than two days; the contract
// promises to keep them for one.
func (s *Sealer) forgetRequestKeys(ctx context.Context) error {
	if _, err := s.pool.Exec(ctx, `delete from request_key where recorded_at < now() - interval '2 days'`); err != nil {
		return fmt.Errorf("forgetting request keys: %w", err)
	}
	return nil
}

// The CTEs are materialized: inlined, one round took 48 s.
const sealRound = `
	with taken as materialized (
		select ctid as lies, ticket, institution_id, entry_id from unsealed where ticket > $1 order by ticket limit $2
	), heads as materialized (
		select i.institution_id, coalesce(p.seq, 0) as seq, greatest(now(), p.sealed_at) as sealed_at
		  from (select distinct institution_id from taken) i
		  left join lateral (select seq, sealed_at from sequenced where institution_id = i.institution_id
		                      order by seq desc limit 1) p on true
	), numbered as (
		insert into sequenced (institution_id, seq, entry_id, record_id, sealed_at)
		select t.institution_id, h.seq + row_number() over (partition by t.institution_id order by t.ticket), t.entry_id,
		       e.record_id, h.sealed_at
		  from taken t join heads h on h.institution_id = t.institution_id
		  join entry e on e.id = t.entry_id and e.institution_id = t.institution_id
		returning institution_id
	), gone as (
		delete from unsealed where ctid = any(array(select lies from taken)) returning ticket
	)
	select (select count(*) from numbered)::int, coalesce((select max(ticket) from gone), 0),
	       array(select distinct institution_id from numbered)`
