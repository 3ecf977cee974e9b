package postgres

import (
	"context"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/fault"
)

// ReportSchedule is a report that is made at scheduled times.
type ReportSchedule struct {
	ID        uuid.UUID  `db:"id"`
	Revision  int        `db:"revision"`
	Body      string     `db:"body"` // the statement as it was made
	CreatedAt time.Time  `db:"created_at"`
	NextDueAt *time.Time `db:"next_due_at"`
	EndedAt   *time.Time `db:"ended_at"`
	ReportTiming
}

// ReportTiming is which report is made, and when.
type ReportTiming struct {
	Report     string      `db:"report"`
	Query      string      `db:"query"` // a query string
	MediaType  string      `db:"media_type"`
	Rule       string      `db:"rule"`
	Starts     time.Time   `db:"starts"` // local time of the zone
	Zone       string      `db:"zone"`
	Period     string      `db:"period"`
	EachMissed bool        `db:"each_missed"`
	KeepDays   int         `db:"keep_days"`
	Webhooks   []uuid.UUID `db:"webhooks"`
}

// ReportRun is one time that a report was due.
type ReportRun struct {
	ID        uuid.UUID  `db:"id"`
	Schedule  uuid.UUID  `db:"schedule_id"`
	DueAt     time.Time  `db:"due_at"`
	Missed    int        `db:"missed"` // earlier due times that were missed and that it replaces
	From      *time.Time `db:"from_day"`
	Until     *time.Time `db:"until_day"`
	MediaType string     `db:"media_type"`
	Attempts  int        `db:"attempts"`
	TryAt     time.Time  `db:"try_at"`
	MadeAt    *time.Time `db:"made_at"`
	FailedAt  *time.Time `db:"failed_at"`
	Sentence  string     `db:"sentence"`
	File      *uuid.UUID `db:"file"`
	Size      *int64     `db:"size"`
	SHA256    []byte     `db:"sha256"`
	KeptUntil *time.Time `db:"kept_until"`
	DroppedAt *time.Time `db:"dropped_at"`
}

// ReportNotice is the state of notifying a webhook of a run.
type ReportNotice struct {
	Run         uuid.UUID  `db:"run_id"`
	Webhook     uuid.UUID  `db:"webhook_id"`
	Attempts    int        `db:"attempts"`
	DueAt       time.Time  `db:"due_at"`
	DeliveredAt *time.Time `db:"delivered_at"`
	GivenUpAt   *time.Time `db:"given_up_at"`
	Sentence    string     `db:"sentence"`
}

const (
	scheduleColumns = `id, revision, body, created_at, next_due_at, ended_at,
	report, query, media_type, rule, starts, zone, period, each_missed, keep_days, webhooks`
	runColumns = `id, schedule_id, due_at, missed, from_day, until_day, media_type, attempts,
	greatest(try_at, '1970-01-01') as try_at,
	made_at, failed_at, sentence, file, size, sha256, kept_until, dropped_at`
)

// mostReportSchedules is how many schedules that have not ended an institution may
// have.
const mostReportSchedules = 200

var errNoSchedule = fault.Of(fault.NotFound, "report-schedule-unknown",
	"There is no such report schedule in this institution.")

// CreateReportSchedule keeps a schedule. The same request again gives what it
// made.
func (s Tenant) CreateReportSchedule(
	ctx context.Context, w Write, r ReportSchedule,
) (made ReportSchedule, earlier bool, err error) {
	b := newBatch(s.institution)
	b.queueKey(w)
	b.Queue(`
		insert into report_schedule (institution_id, id, body, next_due_at, report, query, media_type, rule, starts, zone,
		                             period, each_missed, keep_days, webhooks, request_id, created_by)
		select $1, case when (select count(*) from report_schedule
		                       where institution_id = $1 and ended_at is null) < $17 then $2::uuid end,
		       $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16`,
		s.institution, r.ID, r.Body, r.NextDueAt, r.Report, r.Query, r.MediaType, r.Rule, r.Starts, r.Zone, r.Period,
		r.EachMissed, r.KeepDays, r.Webhooks,
		w.RequestID, w.Person, mostReportSchedules)
	if earlier, err = s.once(ctx, &w, b); err != nil {
		return made, earlier, err
	}
	found, err := collect[ReportSchedule](ctx, s,
		`select `+scheduleColumns+` from report_schedule where institution_id = $1 and request_id = $2`,
		s.institution, w.RequestID)
	if err == nil && len(found) == 0 {
		err = errNoSchedule
	}
	if err != nil {
		return made, earlier, err
	}
	return found[0], earlier, nil
}

// ReportSchedules lists the institution's schedules, oldest first; those that
// have ended are among them.
func (s Tenant) ReportSchedules(ctx context.Context, after uuid.UUID, limit int) ([]ReportSchedule, error) {
	return collect[ReportSchedule](ctx, s,
		`select `+scheduleColumns+` from report_schedule where institution_id = $1 and id > $2 order by id limit $3`,
		s.institution, after, limit)
}

// ReportSchedule gives one schedule, or a fault of kind NotFound.
func (s Tenant) ReportSchedule(ctx context.Context, id uuid.UUID) (ReportSchedule, error) {
	return oneSchedule(collect[ReportSchedule](ctx, s,
		`select `+scheduleColumns+` from report_schedule where institution_id = $1 and id = $2`, s.institution, id))
}

// AmendReportSchedule replaces a schedule's statement, if its revision is still
// the one that was read. What was due before stays as it was.
func (s Tenant) AmendReportSchedule(ctx context.Context, r ReportSchedule) (ReportSchedule, error) {
	found, err := collect[ReportSchedule](ctx, s, `
		update report_schedule set revision = revision + 1, body = $4, next_due_at = $5, report = $6, query = $7,
		       media_type = $8, rule = $9, starts = $10,
		       zone = $11, period = $12, each_missed = $13, keep_days = $14, webhooks = $15
		 where institution_id = $1 and id = $2 and revision = $3 and ended_at is null returning `+scheduleColumns,
		s.institution, r.ID, r.Revision, r.Body, r.NextDueAt, r.Report, r.Query, r.MediaType, r.Rule, r.Starts, r.Zone,
		r.Period, r.EachMissed, r.KeepDays, r.Webhooks)
	if err == nil && len(found) == 0 {
		return r, fault.Of(fault.Stale, "report-schedule-changed",
			"The schedule has changed since it was read; read it again and decide.")
	}
	return oneSchedule(found, err)
}

// EndReportSchedule ends a schedule. What it made is kept for its time.
func (s Tenant) EndReportSchedule(ctx context.Context, id uuid.UUID) (ReportSchedule, error) {
	return oneSchedule(collect[ReportSchedule](ctx, s, `
		update report_schedule set ended_at = coalesce(ended_at, now()), next_due_at = null
		 where institution_id = $1 and id = $2 returning `+scheduleColumns, s.institution, id))
}

func oneSchedule(found []ReportSchedule, err error) (ReportSchedule, error) {
	if err != nil {
		return ReportSchedule{}, err
	}
	if len(found) == 0 {
		return ReportSchedule{}, errNoSchedule
	}
	return found[0], nil
}

// ReportRuns gives a schedule's runs, the latest first, before a run's id (the zero
// UUID is none), and the state of their notices.
func (s Tenant) ReportRuns(
	ctx context.Context, schedule, before uuid.UUID, limit int,
) ([]ReportRun, []ReportNotice, error) {
	runs, err := collect[ReportRun](ctx, s, `
		select `+runColumns+` from report_run
		 where institution_id = $1 and schedule_id = $2 and ($3::uuid = '00000000-0000-0000-0000-000000000000' or id < $3)
		 order by id desc limit $4`, s.institution, schedule, before, limit)
	if err != nil || len(runs) == 0 {
		return runs, nil, err
	}
	ids := make([]uuid.UUID, len(runs))
	for i, r := range runs {
		ids[i] = r.ID
	}
	notices, err := collect[ReportNotice](ctx, s, `
		select run_id, webhook_id, attempts, greatest(due_at, '1970-01-01') as due_at, delivered_at, given_up_at, sentence
		  from report_notice
		 where institution_id = $1 and run_id = any($2) order by run_id, webhook_id`, s.institution, ids)
	return runs, notices, err
}

// ReportRun gives one run of a schedule, or a fault of kind NotFound.
func (s Tenant) ReportRun(ctx context.Context, schedule, id uuid.UUID) (ReportRun, error) {
	found, err := collect[ReportRun](ctx, s,
		`select `+runColumns+` from report_run where institution_id = $1 and schedule_id = $2 and id = $3`, s.institution,
		schedule, id)
	if err == nil && len(found) == 0 {
		err = fault.Of(fault.NotFound, "report-run-unknown", "This schedule has no such run.")
	}
	if err != nil {
		return ReportRun{}, err
	}
	return found[0], nil
}

// ReportPiece gives a piece of a run's file, compressed; nil after the last.
func (s Tenant) ReportPiece(ctx context.Context, r ReportRun, position int) ([]byte, error) {
	type piece struct{ Body []byte }
	found, err := collect[piece](ctx, s,
		`select body from report_piece where institution_id = $1 and run_id = $2 and file = $3 and position = $4`,
		s.institution, r.ID, r.File, position)
	if err != nil || len(found) == 0 {
		return nil, err
	}
	return found[0].Body, nil
}

// WebhooksKnown counts how many of these webhooks exist.
func (s Tenant) WebhooksKnown(ctx context.Context, ids []uuid.UUID) (int, error) {
	found, err := collect[idRow](ctx, s, `select id from webhook where institution_id = $1 and id = any($2)`,
		s.institution, ids)
	return len(found), err
}
