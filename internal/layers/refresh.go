package layers

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"runtime"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/edtf"
	"meniscus/internal/guard"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
)

// Refresher keeps what reports read of every layer, and the findings beside every
// treatment, in line with the record. It follows the entries in the order of their
// sequence numbers.
//
// A record that cannot be computed, or that ends the process, is set aside, listed and
// tried again later; it does not delay other records. An institution whose knowledge
// cannot be read is left out for a while, and the others continue. Institutions take
// turns, however many specimens an entry concerns.
//
// Any number of refreshers may run: doing a piece twice changes nothing.
type Refresher struct {
	Store *postgres.Store
	Watch *postgres.Watch
	// Knowledge is what an institution knows of materials.
	Knowledge func(ctx context.Context, institution uuid.UUID) (*material.Base, error)
	Log       *slog.Logger
	// Today is the day for which ages are computed.
	Today func() edtf.Day
	// Now and WorkOut have defaults (the system clock and workOut) when nil, and so have Busy,
	// which tells whether requests keep the processors busy, and Pause, which waits. Listed is
	// how many specimens of the next entries are held at once, and Followed how many batches
	// and uses of them are followed from the entries; 0 means the default.
	Now              func() time.Time
	Busy             func() bool
	Pause            func(context.Context, time.Duration)
	WorkOut          WorkOut
	Listed, Followed int

	behind  map[uuid.UUID]*backlog
	resting map[uuid.UUID]time.Time // institutions that failed, and until when they are left out
	cost    cost
}

const (
	refreshEvery = 200 * time.Millisecond
	refreshMost  = 500 // entries read in one step
	// specimensListed is how many of the specimens that they concern are held at once.
	specimensListed = 10_000
	// refreshTogether is how many specimens are read and stored together (a chunk), and
	// chunksATurn how many chunks an institution has in one turn.
	refreshTogether = 25
	chunksATurn     = 8
	// upkeepEvery is after how many turns due retries and renewals are done while new
	// entries keep coming.
	upkeepEvery = 50
	// restFor is how long an institution is left out after it failed as a whole.
	restFor = time.Minute
)

// Run refreshes until the context ends. A failed round is reported and tried
// again.
func (r *Refresher) Run(ctx context.Context) {
	tick, tell := time.NewTicker(refreshEvery), time.NewTicker(tellEvery)
	defer tick.Stop()
	defer tell.Stop()
	for {
		var err error
		select {
		case <-ctx.Done():
			return
		case <-tell.C:
			err = r.tell(ctx)
		case <-tick.C:
			err = r.Round(ctx)
		}
		if err != nil && ctx.Err() == nil {
			r.Log.Error("refreshing layers failed", guard.Attrs(err)...)
		}
	}
}

// longestPause is how long the worker gives way to requests at most, between two chunks.
const longestPause = 500 * time.Millisecond

// giveWay waits as long as the last chunk took, while there are requests for all processors:
// then the worker takes half of one. What it puts off becomes one piece of work for each
// specimen, however many entries there are about it by then.
func (r *Refresher) giveWay(ctx context.Context, took time.Duration) {
	busy := r.Busy
	if busy == nil {
		busy = func() bool { return r.Store.AtWork() >= runtime.GOMAXPROCS(0) }
	}
	if !busy() {
		return
	}
	if took = min(took, longestPause); r.Pause != nil {
		r.Pause(ctx, took)
		return
	}
	timer := time.NewTimer(took)
	defer timer.Stop()
	select {
	case <-ctx.Done():
	case <-timer.C:
	}
}

// Round processes all entries that were sequenced since the last one, tries again what
// was set aside and is due, and renews some of what was computed on an earlier day.
func (r *Refresher) Round(ctx context.Context) error {
	var failed []error
	for n := 1; ; n++ {
		moved, err := r.turn(ctx)
		failed = append(failed, err)
		if !moved || n%upkeepEvery == 0 {
			failed = append(failed, r.again(ctx), r.renew(ctx))
		}
		if !moved || ctx.Err() != nil {
			return errors.Join(failed...)
		}
	}
}

// turn takes a step for every institution that is behind, so that none waits for
// another's whole import. One that fails does not delay the others.
func (r *Refresher) turn(ctx context.Context) (moved bool, err error) {
	behind, err := r.Watch.Behind(ctx)
	if err != nil {
		return false, err
	}
	var failed []error
	for _, institution := range behind {
		var stepped bool
		err := r.forInstitution(ctx, institution, func(p *pass) (err error) { stepped, err = p.step(ctx); return err })
		failed, moved = append(failed, err), moved || stepped
	}
	return moved, errors.Join(failed...)
}

// forInstitution runs f with an institution's knowledge. If it fails, the institution
// is left out for a while, unless the failure is transient.
func (r *Refresher) forInstitution(ctx context.Context, institution uuid.UUID, f func(*pass) error) error {
	if r.now().Before(r.resting[institution]) {
		return nil
	}
	err := guard.Run(func() error {
		base, err := r.Knowledge(ctx, institution)
		if err != nil {
			return err
		}
		tuning, err := TuningOf(ctx, r.Store.For(institution))
		if err != nil {
			return err
		}
		return f(&pass{Refresher: r, institution: institution, base: base, tuning: tuning})
	})
	if err == nil {
		return nil
	}
	if !postgres.Passing(err) {
		if r.resting == nil {
			r.resting = map[uuid.UUID]time.Time{}
		}
		r.resting[institution] = r.now().Add(restFor)
	}
	return fmt.Errorf("institution %s: %w", institution, err)
}

// restingNow gives the institutions that are left out.
func (r *Refresher) restingNow() []uuid.UUID {
	resting := []uuid.UUID{}
	for institution, until := range r.resting {
		if r.now().Before(until) {
			resting = append(resting, institution)
		}
	}
	return resting
}

func (r *Refresher) now() time.Time {
	if r.Now == nil {
		return time.Now()
	}
	return r.Now()
}

// renewMost is how many specimens a round renews: a museum's thousands are renewed in
// the minutes after midnight, and a report renews those that it reads before that.
const renewMost = 20

// renew computes again what was computed on an earlier day.
func (r *Refresher) renew(ctx context.Context) error {
	stale, err := r.Watch.Stale(ctx, r.Today().Time(), r.restingNow(), renewMost)
	if err != nil {
		return err
	}
	of := map[uuid.UUID][]uuid.UUID{}
	for _, one := range stale {
		of[one.Institution] = append(of[one.Institution], one.Specimen)
	}
	var failed []error
	for institution, specimens := range of {
		failed = append(failed, r.forInstitution(ctx, institution, func(p *pass) error {
			return errors.Join(p.chunk(ctx, specimens), p.idle(ctx))
		}))
	}
	return errors.Join(failed...)
}

// again retries what was set aside and is due.
func (r *Refresher) again(ctx context.Context) error {
	due, err := r.Watch.DueAsides(ctx, r.now(), r.restingNow(), renewMost)
	if err != nil {
		return err
	}
	var failed []error
	for _, a := range due {
		failed = append(failed, r.forInstitution(ctx, a.Institution, func(p *pass) error {
			return errors.Join(p.retry(ctx, a), p.idle(ctx))
		}))
	}
	return errors.Join(failed...)
}

// tellEvery is how often the state of the layers is logged.
const tellEvery = time.Minute

// cost is the cost of the work since it was last logged.
type cost struct {
	specimens, setAside int
	busy                time.Duration
}

func (c *cost) took(since time.Time) { c.busy += time.Since(since) }

// tell logs how many entries wait, how many records are set aside, and what a specimen
// costs.
func (r *Refresher) tell(ctx context.Context) error {
	lag, err := r.Watch.Lag(ctx)
	if err != nil || lag == (postgres.Lag{}) && r.cost == (cost{}) {
		return err
	}
	each := time.Duration(0)
	if r.cost.specimens > 0 {
		each = r.cost.busy / time.Duration(r.cost.specimens)
	}
	r.Log.Info("layers", slog.Int64("entriesBehind", lag.Entries), slog.Int64("setAside", lag.SetAside),
		slog.Int("specimens", r.cost.specimens),
		slog.Int("newlySetAside", r.cost.setAside), slog.Duration("busy", r.cost.busy), slog.Duration("eachSpecimen", each))
	r.cost = cost{}
	return nil
}
