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

// What an Aside may be about, beside the kinds of records.
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

// The waits before what was set aside is tried again. What ended the worker waits
// longer: trying it may end it again.
const (
	firstWait, longestWait          = time.Minute, 24 * time.Hour
	firstWaitAfterEnd, longestAfter = time.Hour, 7 * 24 * time.Hour
)

// wait is how long the attempt after so many is put off.
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

// asideFor is a record that could not be worked out for the first time.
func asideFor(institution, record uuid.UUID, kind string, sequence int64, err error, now time.Time) postgres.Aside {
	a := postgres.Aside{
		Institution: institution, Record: record, Kind: kind, Sequence: sequence, Why: why(err), Attempts: 1, Since: now,
	}
	a.TryAt = now.Add(wait(a.Why, a.Attempts))
	return a
}

// setAside keeps that a record could not be worked out, and says so in the log.
func (p *pass) setAside(ctx context.Context, a postgres.Aside, err error) error {
	known, ok, failed := p.Store.For(p.institution).AsideOf(ctx, a.Record)
	if failed != nil {
		return failed
	}
	if ok {
		a.Attempts, a.Since = known.Attempts, known.Since
		if known.Why != postgres.AsideUnfinished { // that was counted when it was begun
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

// ofRecord tells whether a failure is of the record that was being worked out,
// and neither of the moment nor of the worker that is to end.
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

// anew works out what the entry at a sequence number concerns, page by page.
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

// eachPlan keeps the findings of plans.
func (p *pass) eachPlan(ctx context.Context, plans []uuid.UUID) error {
	for _, plan := range plans {
		if err := p.plan(ctx, plan); err != nil {
			return err
		}
	}
	return nil
}
