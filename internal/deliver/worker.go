// Package deliver makes the service's outbound calls: it sends entries to the webhooks
// of each institution, in order of sequence. It also makes the scheduled reports, and
// sends notices of them.
//
// An endpoint is sent every entry of its kinds in order, each until it is accepted (at
// least once: a receiver drops an id that it has seen). A delivery that fails is tried
// again with growing delays; the endpoint is switched off after two weeks without a
// success or when it answers 410. Nothing is sent to a private address unless the
// operator has allowed it. A delivery is an event of CloudEvents 1.0 with the headers
// of Standard Webhooks.
//
// There is no queue: each endpoint is a cursor in the institution's sequence, and a
// worker needs a lease to move it, so that any number of workers may run.
package deliver

import (
	"context"
	"crypto/x509"
	"errors"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"net"
	"sync"
	"time"

	"github.com/google/uuid"
	"go.opentelemetry.io/otel/attribute"
	"go.opentelemetry.io/otel/metric"
	"go.opentelemetry.io/otel/trace"

	"meniscus/internal/guard"
	"meniscus/internal/postgres"
	"meniscus/internal/telemetry"
	"meniscus/internal/webhook"
)

// Config is the configuration of a worker.
type Config struct {
	Store   *postgres.Deliverer
	Keeper  *webhook.Keeper // decrypts the signing secrets
	Targets webhook.Targets
	// Change renders an entry as in the change feed.
	Change func(postgres.Row) []byte
	// PublicURL is the address at which callers reach the service.
	PublicURL string
	Log       *slog.Logger
	// Telemetry measures the deliveries; nothing if zero.
	Telemetry telemetry.Providers
	// Within is how long a receiver may take to answer; 20 s if zero.
	Within time.Duration
	// Now, Chance, Resolver and RootCAs default to the system's when nil.
	Now      func() time.Time
	Chance   func() float64
	Resolver *net.Resolver
	RootCAs  *x509.CertPool
}

// Worker delivers entries and notices to webhooks.
type Worker struct {
	store     *postgres.Deliverer
	keeper    *webhook.Keeper
	sender    *sender
	change    func(postgres.Row) []byte
	publicURL string
	log       *slog.Logger
	now       func() time.Time
	chance    func() float64
	nudge     chan struct{}
	took      metric.Float64Histogram // seconds, by outcome
	tracer    trace.Tracer
}

const (
	// lookEvery is how often a worker looks for what another process sealed.
	lookEvery = 250 * time.Millisecond
	// leaseFor is how long the lease of a cursor lasts; every move extends it. It is
	// longer than a receiver may take to answer.
	leaseFor = 3 * answerWithin
	// atOnce is how many endpoints are delivered to at the same time.
	atOnce = 16
	// page is how many entries are read at a time, and turn how many are sent before it
	// is another endpoint's turn.
	page, turn = 50, 500
	// forgetAfter is how long attempts are stored.
	forgetAfter = 30 * 24 * time.Hour
)

// New makes a worker.
func New(cfg Config) *Worker {
	measured := cfg.Telemetry.OrNone()
	w := &Worker{
		store: cfg.Store, keeper: cfg.Keeper, sender: newSender(cfg), change: cfg.Change, publicURL: cfg.PublicURL,
		log: cfg.Log, now: cfg.Now, chance: cfg.Chance, nudge: make(chan struct{}, 1),
		tracer: measured.Spans.Tracer(telemetry.Scope),
	}
	// An instrument that cannot be made drops what it is given.
	w.took, _ = measured.Meters.Meter(telemetry.Scope).Float64Histogram("meniscus.webhook.delivery.duration",
		metric.WithUnit("s"), metric.WithDescription("Duration of calls to webhooks, by their outcome."),
		metric.WithExplicitBucketBoundaries(0.05, 0.25, 1, 5, 20))
	if w.log == nil {
		w.log = slog.New(slog.DiscardHandler)
	}
	if w.now == nil {
		w.now = time.Now
	}
	if w.chance == nil {
		w.chance = rand.Float64
	}
	return w
}

// Sealed tells the worker that there may be something to deliver.
func (w *Worker) Sealed() {
	select {
	case w.nudge <- struct{}{}:
	default:
	}
}

// Run delivers until the context ends, and then finishes the running calls. A database
// error is logged and the work tried again.
func (w *Worker) Run(ctx context.Context) {
	look, forget := time.NewTicker(lookEvery), time.NewTicker(time.Hour)
	defer look.Stop()
	defer forget.Stop()
	for {
		var err error
		select {
		case <-ctx.Done():
			return
		case <-forget.C:
			err = w.store.Forget(ctx, w.now().Add(-forgetAfter))
		case <-look.C:
			_, err = w.Round(ctx)
		case <-w.nudge:
			_, err = w.Round(ctx)
		}
		if err != nil && ctx.Err() == nil {
			w.log.Error("delivering failed", slog.Any("error", err))
		}
	}
}

// Round gives every due endpoint its turn and sends the due notices; it gives how many
// of both there were.
func (w *Worker) Round(ctx context.Context) (int, error) {
	told, failure := w.tell(ctx)
	leases, err := w.store.Lease(ctx, w.now(), w.now().Add(leaseFor), atOnce)
	if err != nil {
		return told, errors.Join(failure, err)
	}
	failed := make([]error, len(leases))
	var turns sync.WaitGroup
	for i, l := range leases {
		turns.Go(func() { failed[i] = w.guarded("webhook", l.Webhook, func() error { return w.turn(ctx, l) }) })
	}
	turns.Wait()
	return told + len(leases), errors.Join(append(failed, failure)...)
}

// guarded runs one endpoint's work and recovers its panic, so that the others continue.
// Its lease then expires.
func (w *Worker) guarded(what string, id uuid.UUID, f func() error) error {
	err := guard.Run(f)
	if err == nil {
		return nil
	}
	w.log.Error("delivering to one endpoint failed", append(guard.Attrs(err), slog.String(what, id.String()))...)
	return fmt.Errorf("%s %s: %w", what, id, err)
}

// turn delivers an endpoint's next entries, until a delivery fails, none are left, or
// its turn is over.
func (w *Worker) turn(ctx context.Context, l postgres.Lease) error {
	// A running call is not cancelled: its receiver may already have processed it.
	calls := context.WithoutCancel(ctx)
	secrets, err := w.secrets(calls, l)
	if err != nil {
		return errors.Join(err, w.store.Release(calls, l))
	}
	for sent := 0; sent < turn && ctx.Err() == nil; {
		entries, end, err := w.store.Next(calls, l, page)
		if err != nil {
			return errors.Join(err, w.store.Release(calls, l))
		}
		for _, d := range entries {
			if ctx.Err() != nil {
				return w.store.Release(calls, l)
			}
			onward, err := w.deliver(calls, &l, d, secrets)
			if err != nil || !onward {
				return err
			}
			sent++
		}
		if end < l.NextSeq && len(entries) == 0 {
			break
		}
		if end >= l.NextSeq {
			held, err := w.store.Move(calls, l, end+1, nil, w.now(), w.now().Add(leaseFor))
			if err != nil || !held {
				return err
			}
			l.NextSeq = end + 1
		}
		if l.LastSeq != nil && l.NextSeq > *l.LastSeq {
			break
		}
	}
	return w.store.Release(calls, l)
}

// secrets are the secrets that sign an endpoint's deliveries.
func (w *Worker) secrets(ctx context.Context, l postgres.Lease) ([]webhook.Secret, error) {
	kept, err := w.store.Secrets(ctx, l, w.now())
	if err != nil {
		return nil, err
	}
	secrets := make([]webhook.Secret, 0, len(kept))
	for _, k := range kept {
		s, err := w.keeper.Open(k.Kept, webhook.About(l.Institution, l.Webhook, k.ID))
		if err != nil {
			w.log.Error("a webhook's secret cannot be read: bring its key back, or let its owner make a new secret",
				slog.String("webhook", l.Webhook.String()), slog.Any("error", err))
			continue
		}
		secrets = append(secrets, s)
	}
	return secrets, nil
}

// unsigned is the sentence of an attempt without a usable secret.
const unsigned = "Not sent: the signing secret cannot be read with the service's key."

// unwritten is the sentence of an attempt whose event cannot be written. It is tried
// again like any other failure, because skipping it would break the order.
const unwritten = "Not sent: the event could not be written; the service's log says why."

// deliver sends one entry and moves the cursor past it, or sets its next attempt. It
// tells whether to continue.
func (w *Worker) deliver(ctx context.Context, l *postgres.Lease, d postgres.Deliverable,
	secrets []webhook.Secret) (onward bool, err error) {
	began := w.now()
	got := reply{sentence: unsigned}
	ctx, span := w.tracer.Start(ctx, "deliver", trace.WithSpanKind(trace.SpanKindClient))
	defer span.End()
	var body []byte
	if err := guard.Run(func() (err error) { body, err = w.body(*l, d); return err }); err != nil {
		w.log.Error("an event cannot be written", append(guard.Attrs(err), slog.String("webhook", l.Webhook.String()),
			slog.String("entry", d.EntryID.String()))...)
		got.sentence = unwritten
	} else if headers, err := webhook.Headers(d.EntryID.String(), began, body, secrets); err == nil {
		got = w.sender.send(ctx, l.URL, headers, body)
	}
	a := attemptOf(*l, d, got, began, w.now())
	outcome := attribute.String("meniscus.outcome", a.Outcome)
	span.SetAttributes(outcome)
	w.took.Record(ctx, (time.Duration(a.TookMs) * time.Millisecond).Seconds(), metric.WithAttributes(outcome))
	if !got.accepted() {
		return false, w.failed(ctx, *l, a, got)
	}
	held, err := w.store.Move(ctx, *l, *d.Sequence+1, &a, w.now(), w.now().Add(leaseFor))
	l.NextSeq, l.Attempts, l.FailingSince = *d.Sequence+1, 0, nil
	return held, err
}

func attemptOf(l postgres.Lease, d postgres.Deliverable, got reply, began, ended time.Time) postgres.Attempt {
	a := postgres.Attempt{
		ID: uuid.Must(uuid.NewV7()), Entry: d.EntryID, Sequence: *d.Sequence, Attempt: l.Attempts + 1,
		AttemptedAt: began, TookMs: int(ended.Sub(began).Milliseconds()), Outcome: "refused", Sentence: got.sentence,
	}
	if l.LastSeq != nil {
		a.Redelivery = &l.ID
	}
	if got.status != 0 {
		a.Status = &got.status
	}
	switch {
	case got.accepted():
		a.Outcome = "accepted"
	case got.status == 410:
		a.Outcome = "gone"
	case got.status == 0:
		a.Outcome = "unreachable"
	}
	return a
}

// failed sets a cursor's next attempt: after the scheduled delay, later if the receiver
// asked for it, and never if the receiver answered 410 or has failed for too long.
func (w *Worker) failed(ctx context.Context, l postgres.Lease, a postgres.Attempt, got reply) error {
	now := w.now()
	wait := max(webhook.Delay(a.Attempt, w.chance()), webhook.RetryAfter(got.retryAfter, now))
	stop := ""
	switch {
	case a.Outcome == "gone":
		stop = "gone"
	case l.FailingSince != nil && now.Sub(*l.FailingSince) >= webhook.GiveUpAfter:
		stop = "failing"
	}
	if stop != "" {
		w.log.Warn("webhook switched off", slog.String("institution", l.Institution.String()),
			slog.String("webhook", l.Webhook.String()), slog.String("why", stop))
	}
	_, err := w.store.Failed(ctx, l, a, now, now.Add(wait), stop)
	return err
}
