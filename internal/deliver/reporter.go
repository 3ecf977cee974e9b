package deliver

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
	"net/url"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/calendar"
	"meniscus/internal/fault"
	"meniscus/internal/guard"
	"meniscus/internal/postgres"
	"meniscus/internal/webhook"
)

// ReporterConfig is the configuration of a reporter.
type ReporterConfig struct {
	Store *postgres.Deliverer
	// Write writes an institution's report; a fault is final, unless it is of the kind
	// Unavailable.
	Write func(ctx context.Context, institution uuid.UUID, report string, query url.Values, mediaType string,
		w io.Writer) error
	Log *slog.Logger
	// Now and Chance default to the system clock and random numbers when nil.
	Now    func() time.Time
	Chance func() float64
}

// Reporter makes reports at their scheduled times and stores them for download.
//
// Each due time gives one report, however many reporters there are. A reporter that
// dies leaves only a lease that expires. For times that were missed while no reporter
// ran, the schedule says whether each or only the last is made; those left out are
// counted.
type Reporter struct {
	store  *postgres.Deliverer
	write  func(context.Context, uuid.UUID, string, url.Values, string, io.Writer) error
	log    *slog.Logger
	now    func() time.Time
	chance func() float64
	// resting are schedules that could not be begun, and until when they are left out.
	resting map[uuid.UUID]time.Time
}

const (
	reportEvery = time.Second
	// makeFor is how long the lease of a run lasts; every piece of its file extends it.
	makeFor = 5 * time.Minute
	// mostAttempts is how often a run is begun before it counts as failed: over some
	// three days.
	mostAttempts = 10
	// mostMissed is how many missed times of a schedule are made up for at once.
	mostMissed = 60
	schedules  = 100
	// restFor is how long a schedule that cannot be begun is left out.
	restFor = 10 * time.Minute
)

// NewReporter makes a reporter.
func NewReporter(cfg ReporterConfig) *Reporter {
	r := &Reporter{store: cfg.Store, write: cfg.Write, log: cfg.Log, now: cfg.Now, chance: cfg.Chance,
		resting: map[uuid.UUID]time.Time{}}
	if r.log == nil {
		r.log = slog.New(slog.DiscardHandler)
	}
	if r.now == nil {
		r.now = time.Now
	}
	if r.chance == nil {
		r.chance = rand.Float64
	}
	return r
}

// Run makes what is due until the context ends. A database error is logged and the work
// tried again.
func (r *Reporter) Run(ctx context.Context) {
	look, drop := time.NewTicker(reportEvery), time.NewTicker(time.Hour)
	defer look.Stop()
	defer drop.Stop()
	for {
		var err error
		select {
		case <-ctx.Done():
			return
		case <-drop.C:
			err = r.store.DropReports(ctx, r.now())
		case <-look.C:
			_, err = r.Round(ctx)
		}
		if err != nil && ctx.Err() == nil {
			r.log.Error("making reports failed", guard.Attrs(err)...)
		}
	}
}

// Round begins what is due and makes one run; it tells whether there was one.
func (r *Reporter) Round(ctx context.Context) (bool, error) {
	due, err := r.store.DueSchedules(ctx, r.now(), r.restingNow(), schedules)
	if err != nil {
		return false, err
	}
	var failed []error
	for _, s := range due {
		err := guard.Run(func() error { return r.begin(ctx, s) })
		if err != nil && !postgres.Passing(err) {
			r.resting[s.ID] = r.now().Add(restFor)
		}
		failed = append(failed, err)
	}
	l, err := r.store.LeaseRun(ctx, r.now(), r.now().Add(makeFor))
	if err != nil || l == nil {
		return false, errors.Join(append(failed, err)...)
	}
	return true, errors.Join(append(failed, r.make(ctx, *l))...)
}

// restingNow are the schedules that could not be begun a short while ago; they are left
// out so that they do not delay the others.
func (r *Reporter) restingNow() []uuid.UUID {
	resting := []uuid.UUID{}
	for id, until := range r.resting {
		if r.now().Before(until) {
			resting = append(resting, id)
		} else {
			delete(r.resting, id)
		}
	}
	return resting
}

// Timing is a schedule's calendar.
func Timing(t postgres.ReportTiming) (calendar.Schedule, error) {
	rule, err := calendar.Parse(t.Rule)
	if err != nil {
		return calendar.Schedule{}, err
	}
	zone, err := time.LoadLocation(t.Zone)
	if err != nil || t.Zone == "" || t.Zone == "Local" {
		return calendar.Schedule{}, fault.New("time-zone-unknown", "",
			"This is no time zone of the IANA database; write one such as Europe/Vienna.")
	}
	return calendar.Schedule{Rule: rule, Start: t.Starts, Zone: zone}, nil
}

// begin makes the runs of a schedule's times up to now, and sets its next time.
func (r *Reporter) begin(ctx context.Context, s postgres.DueSchedule) error {
	timing, err := Timing(s.ReportTiming)
	if err != nil {
		return fmt.Errorf("schedule %s: %w", s.ID, err)
	}
	limit := 1
	if s.EachMissed {
		limit = mostMissed
	}
	times, dropped := timing.Between(s.NextDueAt.Add(-time.Nanosecond), r.now(), limit)
	var runs []postgres.NewRun
	for _, at := range times {
		run := postgres.NewRun{DueAt: at, Missed: dropped}
		dropped = 0
		if s.Period != "" {
			from, until := calendar.Unit(s.Period).Days(at, timing.Zone)
			run.From, run.Until = &from, &until
		}
		runs = append(runs, run)
	}
	var next *time.Time
	if at, ok := timing.Next(r.now()); ok {
		next = &at
	}
	return r.store.Begin(ctx, s, runs, next)
}

// errLost ends a run whose lease was lost to another worker.
var errLost = errors.New("the lease was lost")

// make makes a run's file piece by piece, with one piece in memory at a time.
func (r *Reporter) make(ctx context.Context, l postgres.RunLease) error {
	if l.Attempts > mostAttempts {
		return r.store.NotMade(ctx, l, fmt.Sprintf("It was begun %d times and never came to its end.", mostAttempts),
			r.now(), nil)
	}
	query, err := url.ParseQuery(l.Query)
	if err != nil {
		return r.notMade(ctx, l, fault.New("query-unreadable", "", "What the report is asked for cannot be read."))
	}
	for name, day := range map[string]*time.Time{"from": l.From, "until": l.Until} {
		if day != nil {
			query.Set(name, day.Format(time.DateOnly))
		}
	}
	f := newFile(ctx, r, l)
	err = guard.Run(func() error { return r.write(ctx, l.Institution, l.Report, query, l.MediaType, f) })
	if err == nil {
		err = f.close()
	}
	switch {
	case errors.Is(err, errLost):
		return nil // another worker makes it
	case err != nil:
		return r.notMade(ctx, l, err)
	}
	_, err = r.store.Made(ctx, l, f.size, f.digest.Sum(nil), r.now(), r.now().AddDate(0, 0, l.KeepDays))
	return err
}

// notMade schedules a run's next attempt, or ends the run if the failure is final.
func (r *Reporter) notMade(ctx context.Context, l postgres.RunLease, err error) error {
	ctx = context.WithoutCancel(ctx)
	sentence, final := refusal(err)
	if final || l.Attempts >= mostAttempts {
		return r.store.NotMade(ctx, l, sentence, r.now(), nil)
	}
	again := r.now().Add(webhook.Delay(l.Attempts, r.chance()))
	if errors.Is(err, context.Canceled) {
		again = r.now() // this server is ending; another one tries again at once
	}
	return errors.Join(err, r.store.NotMade(ctx, l, sentence, r.now(), &again))
}

// refusal says why a report could not be made, and whether that is final.
func refusal(err error) (sentence string, final bool) {
	var list fault.List
	var one *fault.Fault
	switch {
	case errors.As(err, &list) && len(list) > 0:
		one = list[0]
	case !errors.As(err, &one):
		return "The report could not be made; the service's log says why.", false
	}
	return one.Detail, one.Kind != fault.Unavailable && one.Kind != fault.Busy
}
