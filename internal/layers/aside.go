package layers

import (
	"context"
	"errors"
	"log/slog"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/guard"
	"meniscus/internal/postgres"
)

// The kinds of Aside that are not kinds of records.
const (
	aboutSpecimen = "specimen"
	aboutPlan     = "plan"
)

// why names the class of a failure.
func why(err error) string {
	var p *guard.Panic
	switch {
	case errors.As(err, &p):
		return postgres.AsidePanic
	case errors.Is(err, errExcess), errors.Is(err, postgres.ErrTooMuch), errors.Is(err, context.DeadlineExceeded):
		return postgres.AsideExcess
	}
	return postgres.AsideFailed
}

// The waits before a record that was set aside is tried again. A record that ended the
// worker waits longer, because it may end the worker again.
const (
	firstWait, longestWait          = time.Minute, 24 * time.Hour
	firstWaitAfterEnd, longestAfter = time.Hour, 7 * 24 * time.Hour
)

// wait is how long to wait before the next attempt.
func wait(why string, attempts int) time.Duration {
	first, longest := firstWait, longestWait
	if why == postgres.AsideUnfinished {
		first, longest = firstWaitAfterEnd, longestAfter
	}
	for range min(attempts-1, 10) {
		first *= 4
	}
	return min(first, longest)
}

// asideFor is the Aside of a record that could not be computed for the first time.
func asideFor(institution, record uuid.UUID, kind string, sequence int64, err error, now time.Time) postgres.Aside {
	a := postgres.Aside{
		Institution: institution, Record: record, Kind: kind, Sequence: sequence, Why: why(err), Attempts: 1, Since: now,
	}
	a.TryAt = now.Add(wait(a.Why, a.Attempts))
	return a
}

// setAside stores that a record could not be computed, and logs it.
func (p *pass) setAside(ctx context.Context, a postgres.Aside, err error) error {
	known, ok, failed := p.Store.For(p.institution).AsideOf(ctx, a.Record)
	if failed != nil {
		return failed
	}
	if ok {
		a.Attempts, a.Since = known.Attempts, known.Since
		if known.Why != postgres.AsideUnfinished { // an unfinished attempt was counted when it began
			a.Attempts++
		}
	}
	a.TryAt = p.now().Add(wait(a.Why, a.Attempts))
	p.Log.Error("set aside", append(guard.Attrs(err), slog.String("institution", p.institution.String()),
		slog.String(a.Kind, a.Record.String()),
		slog.String("why", a.Why), slog.Int("attempts", a.Attempts), slog.Time("tryAt", a.TryAt))...)
	p.cost.setAside++
	return p.Store.SetAside(ctx, a)
}

// ofRecord tells whether a failure is due to the record itself. Transient failures and
// the end of the worker are not.
func ofRecord(ctx context.Context, err error) bool {
	return err != nil && ctx.Err() == nil && (errors.Is(err, context.DeadlineExceeded) || !postgres.Passing(err))
}

// retry tries again what was set aside.
func (p *pass) retry(ctx context.Context, a postgres.Aside) error {
	switch a.Kind {
	case aboutSpecimen:
		survivor, err := p.Store.For(p.institution).Survivor(ctx, a.Record)
		if err == nil && survivor != a.Record {
			err = p.Store.For(p.institution).TakeBack(ctx, a.Record)
		}
		if err != nil {
			return err
		}
		return p.alone(ctx, survivor)
	case aboutPlan:
		return p.plan(ctx, a.Record)
	}
	err := p.anew(ctx, a.Sequence)
	if ofRecord(ctx, err) {
		return p.setAside(ctx, asideFor(p.institution, a.Record, a.Kind, a.Sequence, err, p.now()), err)
	}
	if err != nil {
		return err
	}
	return p.Store.For(p.institution).TakeBack(ctx, a.Record)
}

// anew computes again what the entry at a sequence number concerns, page by page.
func (p *pass) anew(ctx context.Context, sequence int64) error {
	before := sequence - 1
	look := postgres.Look{After: &before, Entries: 1}
	for {
		u, err := p.unseen(ctx, look)
		if err != nil {
			return err
		}
		p.changed = byTreatmentsSpecimen(u.Treatments)
		for _, specimen := range u.Specimens {
			if err := p.chunk(ctx, []uuid.UUID{specimen}); err != nil {
				return err
			}
		}
		if !u.More {
			return p.eachPlan(ctx, u.Plans)
		}
		look.Beyond = u.Beyond
	}
}

// eachPlan checks plans and stores their findings.
func (p *pass) eachPlan(ctx context.Context, plans []uuid.UUID) error {
	for _, plan := range plans {
		if err := p.plan(ctx, plan); err != nil {
			return err
		}
	}
	return nil
}
