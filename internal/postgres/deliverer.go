package postgres

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
)

// Deliverer is the worker's side of deliveries: it leases cursors, reads the entries
// that they deliver, and moves them. It uses the worker's role.
//
// A lease is a token that expires: without a valid lease no cursor is moved. The caller
// passes the times, so that a test can use its own clock.
type Deliverer struct{ pool *pgxpool.Pool }

// OpenDeliverer connects with the worker's role. The caller closes it.
func OpenDeliverer(ctx context.Context, dsn string) (*Deliverer, error) {
	pool, err := openPool(ctx, dsn, workerRoleConnections, workerLockLimit)
	if err != nil {
		return nil, err
	}
	return &Deliverer{pool: pool}, nil
}

// Close ends its connections.
func (d *Deliverer) Close() { d.pool.Close() }

// Lease is a cursor that no other worker moves until the lease expires.
type Lease struct {
	Institution  uuid.UUID  `db:"institution_id"`
	ID           uuid.UUID  `db:"id"`
	Webhook      uuid.UUID  `db:"webhook_id"`
	URL          string     `db:"url"`
	Kinds        []string   `db:"kinds"`
	Content      string     `db:"content"`
	NextSeq      int64      `db:"next_seq"`
	LastSeq      *int64     `db:"last_seq"`
	Attempts     int        `db:"attempts"`
	FailingSince *time.Time `db:"failing_since"`
	Token        uuid.UUID  `db:"lease"`
}

// Deliverable is an entry that a cursor delivers, with the record that the receiver
// sees as its subject: a treatment's specimen, else the record itself.
type Deliverable struct {
	Row
	Subject uuid.UUID `db:"subject"`
}

// Lease takes the cursors that are due and have entries left to deliver.
func (d *Deliverer) Lease(ctx context.Context, now, until time.Time, limit int) ([]Lease, error) {
	return ask[Lease](ctx, d, `
		with due as (
			select d.id, d.institution_id from delivery d
			  join webhook w on w.institution_id = d.institution_id and w.id = d.webhook_id and w.stopped_at is null
			 where d.ended_at is null and d.due_at <= $1 and (d.leased_until is null or d.leased_until <= $1)
			   and exists (select from sequenced p where p.institution_id = d.institution_id and p.seq >= d.next_seq)
			 order by d.due_at limit $3 for update of d skip locked)
		update delivery d set lease = $4, leased_until = $2
		  from due, webhook w
		 where d.id = due.id and d.institution_id = due.institution_id and w.institution_id = d.institution_id
		   and w.id = d.webhook_id
		returning d.institution_id, d.id, d.webhook_id, w.url, w.kinds, w.content, d.next_seq, d.last_seq, d.attempts,
		          d.failing_since, d.lease`,
		now, until, limit, uuid.New())
}

// window is how many sequence numbers a cursor looks at once; most of them may be of kinds
// that it does not deliver.
const window = 1000

// Next gives the entries that a cursor delivers next, at most limit, and the last
// sequence number that it has read.
func (d *Deliverer) Next(ctx context.Context, l Lease, limit int) ([]Deliverable, int64, error) {
	last := l.NextSeq + window - 1
	if l.LastSeq != nil {
		last = min(last, *l.LastSeq)
	}
	type one struct{ Seq int64 }
	end, err := ask[one](ctx, d, `select coalesce(max(seq), 0) as seq from sequenced where institution_id = $1 and seq <= $2`,
		l.Institution, last)
	if err != nil {
		return nil, 0, err
	}
	var rows []Deliverable
	var b pgx.Batch // whoever hears a webhook is told what a key is that may not see restricted records
	b.Queue(`select set_config('app.institution', $1, true), set_config('app.withhold', 'on', true)`, l.Institution.String())
	b.Queue(`
		select `+entryColumns+`, p.seq, coalesce(t.specimen_id, e.record_id) as subject
		  from sequenced p
		  `+ofSequence+`
		  left join treatment t on e.kind = 'treatment' and t.id = e.record_id and t.institution_id = e.institution_id
		 where p.institution_id = $1 and p.seq between $2 and $3 and ($4::text[] = '{}' or e.kind = any($4))
		 order by p.seq limit $5`, l.Institution, l.NextSeq, end[0].Seq, l.Kinds, limit).Query(func(found pgx.Rows) (err error) {
		rows, err = pgx.CollectRows(found, pgx.RowToStructByName[Deliverable])
		return err
	})
	if err := d.pool.SendBatch(ctx, &b).Close(); err != nil {
		return nil, 0, fmt.Errorf("reading what is delivered: %w", err)
	}
	if len(rows) == limit {
		return rows, *rows[limit-1].Sequence, nil
	}
	return rows, end[0].Seq, nil
}

// Secrets gives a webhook's secrets in force, newest first, as they are kept.
func (d *Deliverer) Secrets(ctx context.Context, l Lease, now time.Time) ([]KeptSecret, error) {
	return ask[KeptSecret](ctx, d, `
		select `+secretColumns+` from webhook_secret
		 where institution_id = $1 and webhook_id = $2 and (ends_at is null or ends_at > $3) order by id desc limit 100`,
		l.Institution, l.Webhook, now)
}

// move ends a cursor that has reached its last sequence number.
const move = `
	update delivery set next_seq = $4::bigint, attempts = 0, failing_since = null, due_at = $5::timestamptz,
	       leased_until = $6,
	       ended_at = case when $4::bigint > last_seq then $5::timestamptz end
	 where institution_id = $1 and id = $2 and lease = $3 returning id`

// Move sets a cursor's next sequence number, stores the attempt that led there, if there
// was one, and extends the lease. It tells whether the lease was still valid.
func (d *Deliverer) Move(
	ctx context.Context, l Lease, next int64, a *Attempt, now, until time.Time,
) (held bool, err error) {
	b := &pgx.Batch{}
	queueAttempt(b, l, a)
	b.Queue(move, l.Institution, l.ID, l.Token, next, now, until).Query(foundIts(&held))
	return held, d.send(ctx, b)
}

// Failed stores a failed attempt and sets when the cursor is due again. With a reason
// to stop, deliveries to the webhook end until they are resumed.
func (d *Deliverer) Failed(
	ctx context.Context, l Lease, a Attempt, now, due time.Time, stop string,
) (held bool, err error) {
	b := &pgx.Batch{}
	queueAttempt(b, l, &a)
	b.Queue(`
		update delivery set attempts = attempts + 1, failing_since = coalesce(failing_since, $4), due_at = $5, lease = null,
		       leased_until = null
		 where institution_id = $1 and id = $2 and lease = $3 returning id`,
		l.Institution, l.ID, l.Token, now, due).Query(foundIts(&held))
	if stop != "" {
		b.Queue(`update webhook set stopped_at = $3, stopped_why = $4
			where institution_id = $1 and id = $2 and stopped_at is null`, l.Institution, l.Webhook, now, stop)
	}
	return held, d.send(ctx, b)
}

// Release gives a lease back.
func (d *Deliverer) Release(ctx context.Context, l Lease) error {
	b := &pgx.Batch{}
	b.Queue(`update delivery set lease = null, leased_until = null where institution_id = $1 and id = $2 and lease = $3`,
		l.Institution, l.ID, l.Token)
	return d.send(ctx, b)
}

// Forget deletes the attempts before a moment.
func (d *Deliverer) Forget(ctx context.Context, before time.Time) error {
	b := &pgx.Batch{}
	b.Queue(`delete from delivery_attempt where attempted_at < $1`, before)
	return d.send(ctx, b)
}

func queueAttempt(b *pgx.Batch, l Lease, a *Attempt) {
	if a == nil {
		return
	}
	b.Queue(`
		insert into delivery_attempt (institution_id, webhook_id, `+attemptColumns+`)
		select $1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12
		 where exists (select from webhook where institution_id = $1 and id = $2)`,
		l.Institution, l.Webhook, a.ID, a.Redelivery, a.Entry, a.Sequence, a.Attempt, a.AttemptedAt, a.TookMs, a.Outcome,
		a.Status, a.Sentence)
}

// foundIts reads whether a statement found the lease that it names.
func foundIts(held *bool) func(pgx.Rows) error {
	return func(rows pgx.Rows) error {
		found, err := pgx.CollectRows(rows, pgx.RowTo[uuid.UUID])
		*held = len(found) == 1
		return err
	}
}

func (d *Deliverer) send(ctx context.Context, b *pgx.Batch) error {
	if err := d.pool.SendBatch(ctx, b).Close(); err != nil {
		return fmt.Errorf("moving a delivery: %w", err)
	}
	return nil
}

// ask runs one query under the worker's role and reads all rows into T by name.
func ask[T any](ctx context.Context, d *Deliverer, sql string, args ...any) ([]T, error) {
	rows, err := d.pool.Query(ctx, sql, args...)
	if err != nil {
		return nil, fmt.Errorf("asking for deliveries: %w", err)
	}
	found, err := pgx.CollectRows(rows, pgx.RowToStructByName[T])
	if err != nil {
		return nil, fmt.Errorf("reading deliveries: %w", err)
	}
	return found, nil
}
