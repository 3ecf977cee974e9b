// Package deliver makes the service's outbound calls: it sends what was recorded
// to the webhooks of each institution, in order of sequence. It also makes
// the reports that the calendar asks for, and sends word of them.
//
// It promises: an endpoint is sent every entry of its kinds in order, each until
// it is accepted (at least once: a receiver drops an id that it has seen); one
// that fails is tried again with growing delays, and switched off after two
// weeks without a success or when it answers 410; nothing is sent to an address
// inside a network unless the operator has allowed it. A delivery is an event of
// CloudEvents 1.0 with the headers of Standard Webhooks.
//
// It keeps no queue: each endpoint is a cursor in the same order that callers
// follow, and a lease says who moves it, so that any number of workers may run.
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

	"meniscus/internal/guard"
	"meniscus/internal/postgres"
	"meniscus/internal/webhook"
)

// Config is what a worker is made of.
type Config struct {
	Store   *postgres.Deliverer
	Keeper  *webhook.Keeper // of the signing secrets
	Targets webhook.Targets
	// Change renders an entry as the feed gives it.
	Change func(postgres.Row) []byte
	// PublicURL is where callers reach the service.
	PublicURL string
	Log       *slog.Logger
	// Within is how long a receiver may take to answer; 20 s if zero.
	Within time.Duration
	// Now, Chance, Resolver and RootCAs are the machine's own when they are nil.
	Now      func() time.Time
	Chance   func() float64
	Resolver *net.Resolver
	RootCAs  *x509.CertPool
}

// Worker delivers until it is told to stop.
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
}

const (
	// lookEvery is how late a worker hears of what another process sealed.
	lookEvery = 250 * time.Millisecond
	// leaseFor is how long a cursor is held; every move prolongs it. Longer than
	// a receiver may take to answer.
	leaseFor = 3 * answerWithin
	// atOnce is how many endpoints are delivered to at the same time.
	atOnce = 16
	// page is how many entries are read at a time, and turn how many are sent
	// before others have theirs.
	page, turn = 50, 500
	// forgetAfter is how long what was tried is kept.
	forgetAfter = 30 * 24 * time.Hour
)

// New makes a worker.
func New(cfg Config) *Worker {
	w := &Worker{
		store: cfg.Store, keeper: cfg.Keeper, sender: newSender(cfg), change: cfg.Change, publicURL: cfg.PublicURL,
		log: cfg.Log, now: cfg.Now, chance: cfg.Chance, nudge: make(chan struct{}, 1),
	}
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

// Run delivers until the context ends, and then ends the calls that are under
// way. A failure of the database is logged, and tried again.
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

// Round gives every endpoint that is due its turn and tells of the reports that
// were made, and tells how many of both there were.
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

// guarded runs one endpoint's work, so that its panic stops no other's. What it
// holds comes free when its lease runs out.
func (w *Worker) guarded(what string, id uuid.UUID, f func() error) error {
	err := guard.Run(f)
	if err == nil {
		return nil
	}
	w.log.Error("delivering to one endpoint failed", append(guard.Attrs(err), slog.String(what, id.String()))...)
	return fmt.Errorf("%s %s: %w", what, id, err)
}

// turn delivers what an endpoint comes to next, until it fails, has everything,
// or others are to have their turn.
func (w *Worker) turn(ctx context.Context, l postgres.Lease) error {
	// A call that is under way is not broken off: its receiver may have done its
	// work already.
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

// secrets are what an endpoint's deliveries are signed with.
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

// unsigned is said where nothing was sent for want of a secret.
const unsigned = "Not sent: the signing secret cannot be read with the service's key."

// unwritten is said where nothing was sent because the event cannot be written. It
// is tried again like any other: order is promised.
const unwritten = "Not sent: the event could not be written; the service's log says why."

// deliver sends one entry and moves the cursor past it, or lets it wait. It
// tells whether to go on.
func (w *Worker) deliver(ctx context.Context, l *postgres.Lease, d postgres.Deliverable,
	secrets []webhook.Secret) (onward bool, err error) {
	began := w.now()
	got := reply{sentence: unsigned}
	var body []byte
	if err := guard.Run(func() (err error) { body, err = w.body(*l, d); return err }); err != nil {
		w.log.Error("an event cannot be written", append(guard.Attrs(err), slog.String("webhook", l.Webhook.String()),
			slog.String("entry", d.EntryID.String()))...)
		got.sentence = unwritten
	} else if headers, err := webhook.Headers(d.EntryID.String(), began, body, secrets); err == nil {
		got = w.sender.send(ctx, l.URL, headers, body)
	}
	a := attemptOf(*l, d, got, began, w.now())
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

// failed lets a cursor wait: as long as the schedule says, longer if the receiver
// asked for it, and for good when it is gone or has failed for too long.
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
