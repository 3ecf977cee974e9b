package postgres

import (
	"context"
	"errors"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5/pgconn"

	"meniscus/internal/fault"
)

// Webhook is an endpoint to which an institution's changes are delivered, with its
// cursor.
type Webhook struct {
	ID           uuid.UUID  `db:"id"`
	URL          string     `db:"url"`
	Name         string     `db:"name"`
	Kinds        []string   `db:"kinds"` // kinds of record; empty means all
	Content      string     `db:"content"`
	CreatedAt    time.Time  `db:"created_at"`
	StoppedAt    *time.Time `db:"stopped_at"`
	StoppedWhy   *string    `db:"stopped_why"` // asked, gone or failing
	NextSeq      int64      `db:"next_seq"`
	Attempts     int        `db:"attempts"` // failed attempts in a row
	FailingSince *time.Time `db:"failing_since"`
	DueAt        *time.Time `db:"due_at"` // when the next attempt is due, while it fails
}

// KeptSecret is a signing secret, encrypted.
type KeptSecret struct {
	ID      uuid.UUID  `db:"id"`
	Webhook uuid.UUID  `db:"webhook_id"`
	Kept    []byte     `db:"kept"`
	MadeAt  time.Time  `db:"made_at"`
	EndsAt  *time.Time `db:"ends_at"`
}

const (
	// mostWebhooks is how many webhooks an institution may have.
	mostWebhooks = 50
	// mostSecrets is how many secrets of one webhook may be in force at once.
	mostSecrets = 3
)

const webhookColumns = `w.id, w.url, w.name, w.kinds, w.content, w.created_at, w.stopped_at, w.stopped_why,
	d.next_seq, d.attempts, d.failing_since, case when d.attempts > 0 then d.due_at end as due_at`

const webhooksJoined = `
	select ` + webhookColumns + `
	  from webhook w join delivery d on d.institution_id = w.institution_id and d.webhook_id = w.id and d.last_seq is null
	 where w.institution_id = $1 `

const secretColumns = `id, webhook_id, kept, made_at, ends_at`

// CreateWebhook keeps an endpoint with its first secret; deliveries begin after a
// sequence number, or after the last one if that is nil. The same request again gives
// what it made.
func (s Tenant) CreateWebhook(
	ctx context.Context, w Write, hook Webhook, after *int64, secret KeptSecret,
) (Webhook, KeptSecret, bool, error) {
	b := newBatch(s.institution)
	b.queueKey(w)
	b.Queue(`
		insert into webhook (institution_id, id, url, name, kinds, content, request_id, created_by)
		select $1, case when (select count(*) from webhook where institution_id = $1) < $9 then $2::uuid end, $3, $4, $5, $6,
		       $7, $8`,
		s.institution, hook.ID, hook.URL, hook.Name, hook.Kinds, hook.Content, w.RequestID, w.Person, mostWebhooks)
	b.queueSecret(w, hook.ID, secret)
	b.Queue(`
		insert into delivery (institution_id, id, webhook_id, request_id, next_seq)
		select $1, $2, $3, $4, 1 + coalesce($5, (select max(seq) from sequenced where institution_id = $1), 0)`,
		s.institution, uuid.Must(uuid.NewV7()), hook.ID, w.RequestID, after)
	earlier, err := s.once(ctx, &w, b)
	if err != nil {
		return Webhook{}, KeptSecret{}, false, err
	}
	kept, err := s.secretOf(ctx, w)
	if err != nil {
		return Webhook{}, KeptSecret{}, false, err
	}
	shown, err := s.Webhook(ctx, kept.Webhook)
	return shown, kept, earlier, err
}

// queueKey stores the request key; if it was used before, the batch fails.
func (b *batch) queueKey(w Write) {
	b.Queue(`insert into request_key (institution_id, key_sha256, fingerprint, request_id) values ($1, $2, $3, $4)`,
		b.institution, w.Key.Digest[:], w.Key.Fingerprint[:], w.RequestID)
}

// queueSecret stores a secret unless its webhook has mostSecrets.
func (b *batch) queueSecret(w Write, hook uuid.UUID, secret KeptSecret) {
	b.Queue(`
		insert into webhook_secret (institution_id, webhook_id, id, kept, request_id)
		select $1, $2, case when (select count(*) from webhook_secret
		                           where institution_id = $1 and webhook_id = $2
		                             and (ends_at is null or ends_at > now())) < $6 then $3::uuid end, $4, $5`,
		b.institution, hook, secret.ID, secret.Kept, w.RequestID, mostSecrets)
}

// once runs a batch that begins with its request key. If the same request was made
// before with the same key, nothing is done, and w gets that request's id.
//
// A row beyond a limit gets a null id, which makes the batch fail: then the request key
// is not used up either.
func (s Tenant) once(ctx context.Context, w *Write, b *batch) (earlier bool, err error) {
	err = s.run(ctx, b)
	if sameAtWork(err) {
		return false, fault.Of(fault.Busy, "request-at-work", "The same request is being worked on; "+
			"send it again in a moment.")
	}
	if table, full := noRoom(err); full {
		return false, crowded[table]
	}
	if constraint, ok := violated(err, foreignKeyViolation); ok &&
		(constraint == "delivery_of" || constraint == "webhook_secret_of") {
		return false, errNoWebhook // it was deleted after it was looked up
	}
	if constraint, ok := violated(err, uniqueViolation); ok && constraint == "request_key_pkey" {
		id, err := s.requestOf(ctx, *w.Key)
		w.RequestID = id
		return true, err
	}
	return false, err
}

// noRoom gives the table whose row was refused because its id is null.
func noRoom(err error) (table string, full bool) {
	var pg *pgconn.PgError
	if errors.As(err, &pg) && pg.Code == notNullViolation && pg.ColumnName == "id" {
		return pg.TableName, crowded[pg.TableName] != nil
	}
	return "", false
}

const notNullViolation = "23502"

// crowded gives the fault for each table that is at its limit.
var crowded = map[string]*fault.Fault{
	"webhook": fault.Of(fault.Conflict, "webhooks-too-many",
		"An institution may have %d webhooks; delete one that is not needed.", mostWebhooks),
	"webhook_secret": fault.Of(fault.Conflict, "webhook-secrets-too-many",
		"A webhook may have %d secrets in force; wait until one of them has ended.", mostSecrets),
	"report_schedule": fault.Of(fault.Conflict, "report-schedules-too-many",
		"An institution may have %d report schedules; end one that is not needed.", mostReportSchedules),
	"delivery": fault.Of(fault.Conflict, "redeliveries-too-many",
		"%d redeliveries are under way; wait until one of them has ended.", mostRedeliveries),
}

// secretOf gives the secret that a request made.
func (s Tenant) secretOf(ctx context.Context, w Write) (KeptSecret, error) {
	found, err := collect[KeptSecret](ctx, s,
		`select `+secretColumns+` from webhook_secret where institution_id = $1 and request_id = $2`,
		s.institution, w.RequestID)
	if err != nil {
		return KeptSecret{}, err
	}
	if len(found) == 0 {
		return KeptSecret{}, errNoWebhook
	}
	return found[0], nil
}

var errNoWebhook = fault.Of(fault.NotFound, "webhook-unknown", "There is no such webhook in this institution.")

// Webhooks lists the institution's webhooks, oldest first.
func (s Tenant) Webhooks(ctx context.Context) ([]Webhook, error) {
	return collect[Webhook](ctx, s, webhooksJoined+`order by w.id limit 1000`, s.institution)
}

// Webhook gives one webhook, or a fault of kind NotFound.
func (s Tenant) Webhook(ctx context.Context, id uuid.UUID) (Webhook, error) {
	found, err := collect[Webhook](ctx, s, webhooksJoined+`and w.id = $2`, s.institution, id)
	if err != nil {
		return Webhook{}, err
	}
	if len(found) == 0 {
		return Webhook{}, errNoWebhook
	}
	return found[0], nil
}

// DeleteWebhook removes a webhook with its secrets and its log.
func (s Tenant) DeleteWebhook(ctx context.Context, id uuid.UUID) error {
	b := newBatch(s.institution)
	b.Queue(`delete from webhook where institution_id = $1 and id = $2`, s.institution, id)
	return s.run(ctx, b)
}

// StopWebhook stops deliveries to a webhook until they are resumed.
func (s Tenant) StopWebhook(ctx context.Context, id uuid.UUID) (Webhook, error) {
	b := newBatch(s.institution)
	b.Queue(`update webhook set stopped_at = now(), stopped_why = 'asked'
		where institution_id = $1 and id = $2 and stopped_at is null`, s.institution, id)
	if err := s.run(ctx, b); err != nil {
		return Webhook{}, err
	}
	return s.Webhook(ctx, id)
}

// ResumeWebhook continues deliveries at once where they stopped, also where they wait
// after a failure.
func (s Tenant) ResumeWebhook(ctx context.Context, id uuid.UUID) (Webhook, error) {
	b := newBatch(s.institution)
	b.Queue(`update webhook set stopped_at = null, stopped_why = null where institution_id = $1 and id = $2`,
		s.institution, id)
	b.Queue(`update delivery set due_at = '-infinity', attempts = 0, failing_since = null
		where institution_id = $1 and webhook_id = $2`, s.institution, id)
	if err := s.run(ctx, b); err != nil {
		return Webhook{}, err
	}
	return s.Webhook(ctx, id)
}

// RotateSecret adds a secret; those in force expire after the overlap at the latest.
// The same request again gives what it made.
func (s Tenant) RotateSecret(
	ctx context.Context, w Write, id uuid.UUID, secret KeptSecret, overlap time.Duration,
) (KeptSecret, bool, error) {
	b := newBatch(s.institution)
	b.queueKey(w)
	b.queueSecret(w, id, secret)
	b.Queue(`select end_webhook_secrets($1, $2, $3, $4::interval)`, s.institution, id, secret.ID, overlap)
	earlier, err := s.once(ctx, &w, b)
	if err != nil {
		return KeptSecret{}, false, err
	}
	kept, err := s.secretOf(ctx, w)
	return kept, earlier, err
}
