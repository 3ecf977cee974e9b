package postgres

import (
	"context"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/fault"
)

// Redelivery is a range of sequence numbers that is delivered again.
type Redelivery struct {
	ID       uuid.UUID  `db:"id"`
	From     int64      `db:"from_seq"`
	To       int64      `db:"last_seq"`
	NextSeq  int64      `db:"next_seq"`
	Attempts int        `db:"attempts"`
	EndedAt  *time.Time `db:"ended_at"`
}

// Attempt is one delivery that was tried.
type Attempt struct {
	ID          uuid.UUID  `db:"id"`
	Redelivery  *uuid.UUID `db:"redelivery_id"` // nil: a regular delivery
	Entry       uuid.UUID  `db:"entry_id"`
	Sequence    int64      `db:"seq"`
	Attempt     int        `db:"attempt"` // 1 is the first for this entry
	AttemptedAt time.Time  `db:"attempted_at"`
	TookMs      int        `db:"took_ms"`
	Outcome     string     `db:"outcome"` // accepted, refused, unreachable or gone
	Status      *int       `db:"status"`
	Sentence    string     `db:"sentence"`
}

const attemptColumns = `id, redelivery_id, entry_id, seq, attempt, attempted_at, took_ms, outcome, status, sentence`

// mostRedeliveries is how many redeliveries of one webhook may run at once.
const mostRedeliveries = 20

const redeliveryColumns = `id, from_seq, last_seq, next_seq, attempts, ended_at`

// Redeliver delivers a range of sequence numbers again, beside the regular deliveries.
// The same request again gives what it made.
func (s Tenant) Redeliver(ctx context.Context, w Write, id uuid.UUID, from, to int64) (Redelivery, bool, error) {
	b := newBatch(s.institution)
	b.queueKey(w)
	b.Queue(`
		insert into delivery (institution_id, id, webhook_id, request_id, from_seq, next_seq, last_seq)
		select $1, case when (select count(*) from delivery
		                       where institution_id = $1 and webhook_id = $3 and last_seq is not null
		                         and ended_at is null) < $7 then $2::uuid end,
		       $3, $4, $5, $5, $6`, s.institution, uuid.Must(uuid.NewV7()), id, w.RequestID, from, to, mostRedeliveries)
	earlier, err := s.once(ctx, &w, b)
	if err != nil {
		return Redelivery{}, false, err
	}
	made, err := collect[Redelivery](ctx, s,
		`select `+redeliveryColumns+` from delivery where institution_id = $1 and request_id = $2`,
		s.institution, w.RequestID)
	if err == nil && len(made) == 0 {
		err = errNoWebhook
	}
	if err != nil {
		return Redelivery{}, false, err
	}
	return made[0], earlier, nil
}

// Redeliveries lists a webhook's redeliveries, newest first.
func (s Tenant) Redeliveries(ctx context.Context, id uuid.UUID) ([]Redelivery, error) {
	return collect[Redelivery](ctx, s, `
		select `+redeliveryColumns+` from delivery
		 where institution_id = $1 and webhook_id = $2 and last_seq is not null order by id desc limit 100`,
		s.institution, id)
}

// Attempts gives the attempts, newest first, before an attempt's id (the zero UUID is
// none).
func (s Tenant) Attempts(ctx context.Context, id, before uuid.UUID, limit int) ([]Attempt, error) {
	return collect[Attempt](ctx, s, `
		select `+attemptColumns+` from delivery_attempt
		 where institution_id = $1 and webhook_id = $2 and ($3::uuid = '00000000-0000-0000-0000-000000000000' or id < $3)
		 order by id desc limit $4`, s.institution, id, before, limit)
}

// SequenceOfEntry gives an entry's sequence number, or a fault of kind NotFound.
func (s Tenant) SequenceOfEntry(ctx context.Context, entry uuid.UUID) (int64, error) {
	type one struct{ Seq int64 }
	found, err := collect[one](ctx, s, `select seq from sequenced where institution_id = $1 and entry_id = $2`,
		s.institution, entry)
	if err != nil {
		return 0, err
	}
	if len(found) == 0 {
		return 0, fault.Of(fault.NotFound, "entry-unknown", "There is no such entry in this institution's order.")
	}
	return found[0].Seq, nil
}
