package postgres

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
)

// The worker's side of scheduled reports. As with deliveries, a lease is a token that
// expires, nothing is changed without a valid lease, and the caller passes the times.

// DueSchedule is a schedule whose time has come.
type DueSchedule struct {
	Institution uuid.UUID `db:"institution_id"`
	ID          uuid.UUID `db:"id"`
	NextDueAt   time.Time `db:"next_due_at"`
	ReportTiming
}

// DueSchedules gives schedules whose time has come, except those named.
func (d *Deliverer) DueSchedules(
	ctx context.Context, now time.Time, without []uuid.UUID, limit int,
) ([]DueSchedule, error) {
	return ask[DueSchedule](ctx, d, `
		select institution_id, id, next_due_at, report, query, media_type, rule, starts, zone, period, each_missed,
		       keep_days, webhooks
		  from report_schedule where next_due_at <= $1 and ended_at is null and id <> all($2) order by next_due_at limit $3`,
		now, without, limit)
}

// NewRun is a run to be made.
type NewRun struct {
	DueAt       time.Time
	Missed      int
	From, Until *time.Time
}

// Begin makes a schedule's runs and moves it on to its next time, both or
// neither: if another server has moved it already, or it was amended or ended,
// nothing is done.
func (d *Deliverer) Begin(ctx context.Context, s DueSchedule, runs []NewRun, next *time.Time) error {
	var ids []uuid.UUID
	var due []time.Time
	var missed []int32
	var from, until []*time.Time
	for _, r := range runs {
		ids, due, missed = append(ids, uuid.Must(uuid.NewV7())), append(due, r.DueAt), append(missed, int32(r.Missed))
		from, until = append(from, r.From), append(until, r.Until)
	}
	b := &pgx.Batch{}
	b.Queue(`
		with moved as (
			update report_schedule set next_due_at = $4
			 where institution_id = $1 and id = $2 and next_due_at = $3 and ended_at is null
			returning institution_id, id, report, query, media_type, keep_days, webhooks
		), made as (
			insert into report_run (institution_id, id, schedule_id, due_at, missed, from_day, until_day, report, query,
			                        media_type, keep_days)
			select m.institution_id, r.id, m.id, r.due, r.missed, r.from_day, r.until_day, m.report, m.query, m.media_type,
			       m.keep_days
			  from moved m cross join unnest($5::uuid[], $6::timestamptz[], $7::int[], $8::date[], $9::date[])
			                              as r(id, due, missed, from_day, until_day)
			on conflict (institution_id, schedule_id, due_at) do nothing
			returning id)
		insert into report_notice (institution_id, run_id, webhook_id)
		select m.institution_id, r.id, w.id from moved m cross join made r
		  join webhook w on w.institution_id = m.institution_id and w.id = any(m.webhooks)`,
		s.Institution, s.ID, s.NextDueAt, next, ids, due, missed, from, until)
	return d.send(ctx, b)
}

// RunLease is a run that no other worker makes until the lease expires.
type RunLease struct {
	Institution uuid.UUID  `db:"institution_id"`
	ID          uuid.UUID  `db:"id"`
	Schedule    uuid.UUID  `db:"schedule_id"`
	DueAt       time.Time  `db:"due_at"`
	From        *time.Time `db:"from_day"`
	Until       *time.Time `db:"until_day"`
	Report      string     `db:"report"`
	Query       string     `db:"query"`
	MediaType   string     `db:"media_type"`
	KeepDays    int        `db:"keep_days"`
	Attempts    int        `db:"attempts"` // this one included
	Token       uuid.UUID  `db:"lease"`
}

// LeaseRun takes a run that is to be made, or nil. Pieces of the file from an earlier
// lease are deleted.
func (d *Deliverer) LeaseRun(ctx context.Context, now, until time.Time) (*RunLease, error) {
	found, err := ask[RunLease](ctx, d, `
		with due as (
			select id, institution_id from report_run
			 where made_at is null and failed_at is null and try_at <= $1 and (leased_until is null or leased_until <= $1)
			 order by try_at, due_at limit 1 for update skip locked)
		update report_run r set lease = $3, leased_until = $2, attempts = r.attempts + 1
		  from due where r.id = due.id and r.institution_id = due.institution_id
		returning r.institution_id, r.id, r.schedule_id, r.due_at, r.from_day, r.until_day, r.report, r.query, r.media_type,
		          r.keep_days, r.attempts, r.lease`,
		now, until, uuid.New())
	if err != nil || len(found) == 0 {
		return nil, err
	}
	b := &pgx.Batch{}
	b.Queue(`delete from report_piece where institution_id = $1 and run_id = $2 and file <> $3`, found[0].Institution,
		found[0].ID, found[0].Token)
	return &found[0], d.send(ctx, b)
}

// KeepPiece stores a piece of the file and extends the lease. It tells whether the
// lease was still valid.
func (d *Deliverer) KeepPiece(
	ctx context.Context, l RunLease, position int, body []byte, until time.Time,
) (held bool, err error) {
	b := &pgx.Batch{}
	b.Queue(`
		with held as (update report_run set leased_until = $6 where institution_id = $1 and id = $2 and lease = $3
		               returning id)
		insert into report_piece (institution_id, run_id, file, position, body) select $1, id, $3, $4, $5 from held
		returning run_id`,
		l.Institution, l.ID, l.Token, position, body, until).Query(foundIts(&held))
	return held, d.send(ctx, b)
}

// Made ends a run whose file is kept.
func (d *Deliverer) Made(
	ctx context.Context, l RunLease, size int64, sha256 []byte, now, keptUntil time.Time,
) (held bool, err error) {
	b := &pgx.Batch{}
	b.Queue(`
		update report_run set made_at = $4, file = $3, size = $5, sha256 = $6, kept_until = $7, sentence = '', lease = null,
		       leased_until = null
		 where institution_id = $1 and id = $2 and lease = $3 returning id`,
		l.Institution, l.ID, l.Token, now, size, sha256, keptUntil).Query(foundIts(&held))
	return held, d.send(ctx, b)
}

// NotMade stores why a run failed, and when it is tried again; never if again is nil.
func (d *Deliverer) NotMade(ctx context.Context, l RunLease, sentence string, now time.Time, again *time.Time) error {
	b := &pgx.Batch{}
	b.Queue(`
		update report_run set sentence = $4, try_at = coalesce($6::timestamptz, try_at),
		       failed_at = case when $6::timestamptz is null then $5::timestamptz end,
		       lease = null, leased_until = null
		 where institution_id = $1 and id = $2 and lease = $3`, l.Institution, l.ID, l.Token, sentence, now, again)
	b.Queue(`delete from report_piece where institution_id = $1 and run_id = $2 and file = $3`,
		l.Institution, l.ID, l.Token)
	return d.send(ctx, b)
}

// Notice is a run that a webhook is to be notified of; no other worker sends it until
// the lease expires.
type Notice struct {
	Institution  uuid.UUID  `db:"institution_id"`
	Run          uuid.UUID  `db:"run_id"`
	Webhook      uuid.UUID  `db:"webhook_id"`
	URL          string     `db:"url"`
	Attempts     int        `db:"attempts"`
	FailingSince *time.Time `db:"failing_since"`
	Token        uuid.UUID  `db:"lease"`

	Schedule  uuid.UUID  `db:"schedule_id"`
	DueAt     time.Time  `db:"due_at"`
	From      *time.Time `db:"from_day"`
	Until     *time.Time `db:"until_day"`
	Report    string     `db:"report"`
	MediaType string     `db:"media_type"`
	MadeAt    *time.Time `db:"made_at"`
	FailedAt  *time.Time `db:"failed_at"`
	Sentence  string     `db:"sentence"`
	Size      *int64     `db:"size"`
	SHA256    []byte     `db:"sha256"`
	KeptUntil *time.Time `db:"kept_until"`
}

// LeaseNotices takes the due notices of runs that have ended.
func (d *Deliverer) LeaseNotices(ctx context.Context, now, until time.Time, limit int) ([]Notice, error) {
	return ask[Notice](ctx, d, `
		with due as (
			select n.run_id, n.institution_id, n.webhook_id from report_notice n
			  join report_run r on r.id = n.run_id and r.institution_id = n.institution_id
			   and (r.made_at is not null or r.failed_at is not null)
			  join webhook w on w.id = n.webhook_id and w.institution_id = n.institution_id and w.stopped_at is null
			 where n.delivered_at is null and n.given_up_at is null and n.due_at <= $1
			   and (n.leased_until is null or n.leased_until <= $1)
			 order by n.due_at limit $3 for update of n skip locked)
		update report_notice n set lease = $4, leased_until = $2
		  from due, report_run r, webhook w
		 where n.run_id = due.run_id and n.institution_id = due.institution_id and n.webhook_id = due.webhook_id
		   and r.id = n.run_id and r.institution_id = n.institution_id and w.id = n.webhook_id
		   and w.institution_id = n.institution_id
		returning n.institution_id, n.run_id, n.webhook_id, w.url, n.attempts, n.failing_since, n.lease,
		          r.schedule_id, r.due_at, r.from_day, r.until_day, r.report, r.media_type, r.made_at, r.failed_at,
		          r.sentence, r.size, r.sha256, r.kept_until`,
		now, until, limit, uuid.New())
}

// Told stores that a webhook accepted a notice.
func (d *Deliverer) Told(ctx context.Context, n Notice, status int, sentence string, now time.Time) error {
	b := &pgx.Batch{}
	b.Queue(`
		update report_notice set attempts = attempts + 1, delivered_at = $5, status = $6, sentence = $7, lease = null,
		       leased_until = null
		 where institution_id = $1 and run_id = $2 and webhook_id = $3 and lease = $4`,
		n.Institution, n.Run, n.Webhook, n.Token, now, status, sentence)
	return d.send(ctx, b)
}

// NotTold sets when a notice is due again or, if again is nil, gives it up; a webhook
// that is gone is switched off.
func (d *Deliverer) NotTold(
	ctx context.Context, n Notice, status *int, sentence string, now time.Time, again *time.Time, gone bool,
) error {
	b := &pgx.Batch{}
	b.Queue(`
		update report_notice set attempts = attempts + 1, failing_since = coalesce(failing_since, $5::timestamptz),
		       due_at = coalesce($6::timestamptz, due_at),
		       given_up_at = case when $6::timestamptz is null then $5::timestamptz end, status = $7, sentence = $8,
		       lease = null, leased_until = null
		 where institution_id = $1 and run_id = $2 and webhook_id = $3 and lease = $4`,
		n.Institution, n.Run, n.Webhook, n.Token, now, again, status, sentence)
	if gone {
		b.Queue(`update webhook set stopped_at = $3, stopped_why = 'gone'
			where institution_id = $1 and id = $2 and stopped_at is null`, n.Institution, n.Webhook, now)
	}
	return d.send(ctx, b)
}

// DropReports deletes the files that have expired; their runs stay.
func (d *Deliverer) DropReports(ctx context.Context, now time.Time) error {
	b := &pgx.Batch{}
	b.Queue(`
		delete from report_piece p using report_run r
		 where r.id = p.run_id and r.institution_id = p.institution_id and r.kept_until <= $1 and r.dropped_at is null`, now)
	b.Queue(`update report_run set dropped_at = $1 where kept_until <= $1 and dropped_at is null`, now)
	if err := d.send(ctx, b); err != nil {
		return fmt.Errorf("dropping reports: %w", err)
	}
	return nil
}
