package layers

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/edtf"
	"meniscus/internal/guard"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
)

// Refresher keeps what reports read of every layer, and the findings beside
// every treatment, in line with the record: after entries have got their
// sequence numbers, in the order of the sequence numbers.
//
// It promises: a record that cannot be worked out is set aside and named, tried
// again later, and keeps up no other; so does one that ends the process. An
// institution whose knowledge cannot be read rests for a while, and the others
// go on. Each has its turn, however many specimens an entry of another concerns.
//
// Any number of refreshers may run: doing a piece twice changes nothing.
type Refresher struct {
	Store *postgres.Store
	Watch *postgres.Watch
	// Knowledge is what an institution knows of materials.
	Knowledge func(ctx context.Context, institution uuid.UUID) (*material.Base, error)
	Log       *slog.Logger
	// Today is the day that ages are taken on.
	Today func() edtf.Day
	// Now is the machine's own when it is nil, and WorkOut the package's. Listed is
	// how many specimens of the next entries are held at once, and Followed how many
	// batches and uses of them lead from the entries to those, or 0 for the packages' own.
	Now              func() time.Time
	WorkOut          WorkOut
	Listed, Followed int

	behind  map[uuid.UUID]*backlog
	resting map[uuid.UUID]time.Time // institutions that failed, and until when
	cost    cost
}

const (
	refreshEvery = 200 * time.Millisecond
	refreshMost  = 500 // entries looked at in one step
	// specimensListed is how many of the specimens that they concern are held at once.
	specimensListed = 10_000
	// refreshTogether is how many specimens are read and kept at once, and
	// chunksATurn how many such chunks an institution has before the others.
	refreshTogether = 25
	chunksATurn     = 8
	// upkeepEvery is after how many turns the rest has its turn, while there is
	// always something new.
	upkeepEvery = 50
	// restFor is how long an institution rests that failed as a whole.
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

// Round looks at everything that has got its sequence number since the last one, tries
// again what was set aside and is due, and renews some of what was worked out on
// an earlier day.
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
// the whole of another's import. One that fails keeps nobody up.
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

// forInstitution runs f with what an institution knows. One that fails rests for
// a while, unless the failure is of the moment.
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

// restingNow are the institutions that rest.
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

// renewMost is how many specimens a round renews: a museum's thousands are
// renewed in the minutes after midnight, and reports renew what they come to
// before that.
const renewMost = 20

// renew works out anew what was worked out on an earlier day.
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

// again tries what was set aside and is due.
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

// tellEvery is how often the log says how far the layers are.
const tellEvery = time.Minute

// cost is what the work since the last word of it has cost.
type cost struct {
	specimens, setAside int
	busy                time.Duration
}

func (c *cost) took(since time.Time) { c.busy += time.Since(since) }

// tell says in the log how many entries wait, what is set aside, and what a
// specimen costs.
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
