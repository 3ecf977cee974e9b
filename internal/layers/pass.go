package layers

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/guard"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/stack"
)

// backlog is what an institution's next entries concern and has not been computed yet.
// It is in memory only: after a restart, the entries are begun again.
type backlog struct {
	entries   int // at most this many were read, up to the sequence number upto
	upto      int64
	specimens []uuid.UUID // what is left of a page
	beyond    uuid.UUID   // where the next page begins
	more      bool        // there may be one
	changed   map[uuid.UUID][]postgres.UnseenTreatment
	plans     []uuid.UUID
	// suspects are the specimens that were being computed when a worker ended.
	suspects map[uuid.UUID]bool
}

func byTreatmentsSpecimen(list []postgres.UnseenTreatment) map[uuid.UUID][]postgres.UnseenTreatment {
	by := map[uuid.UUID][]postgres.UnseenTreatment{}
	for _, t := range list {
		by[t.Specimen] = append(by[t.Specimen], t)
	}
	return by
}

// pass is one institution's turn, with its knowledge of materials.
type pass struct {
	*Refresher
	institution uuid.UUID
	base        *material.Base
	tuning      stack.Tuning
	changed     map[uuid.UUID][]postgres.UnseenTreatment // treatments to be checked, by specimen
}

// pieceWithin is the time limit of one piece of work.
const pieceWithin = 2 * time.Minute

// step works on the institution's next entries, and tells whether there were any.
func (p *pass) step(ctx context.Context) (bool, error) {
	defer p.cost.took(time.Now())
	b, err := p.next(ctx)
	if err != nil || b == nil {
		return false, err
	}
	p.changed = b.changed
	for n := 0; n < chunksATurn && len(b.specimens) > 0; n++ {
		began := time.Now()
		k := min(refreshTogether, len(b.specimens))
		if b.suspects[b.specimens[0]] {
			k, err = 1, p.alone(ctx, b.specimens[0])
		} else {
			if suspect := slices.IndexFunc(b.specimens[:k], func(id uuid.UUID) bool { return b.suspects[id] }); suspect > 0 {
				k = suspect
			}
			err = p.chunk(ctx, b.specimens[:k])
		}
		if err != nil {
			return false, err
		}
		b.specimens = b.specimens[k:]
		p.giveWay(ctx, time.Since(began))
	}
	if len(b.specimens) > 0 {
		return true, nil
	}
	if b.more {
		return true, p.further(ctx, b)
	}
	if err := p.eachPlan(ctx, b.plans); err != nil {
		return false, err
	}
	delete(p.behind, p.institution)
	return true, p.Store.For(p.institution).LayersSeen(ctx, b.upto)
}

// next gives the current backlog, or begins the next entries.
func (p *pass) next(ctx context.Context) (*backlog, error) {
	if b := p.behind[p.institution]; b != nil {
		return b, nil
	}
	return p.begin(ctx, refreshMost)
}

// begin reads what the next entries concern. If they cannot be read together, it reads
// fewer; an entry that cannot be read alone is set aside.
func (p *pass) begin(ctx context.Context, entries int) (*backlog, error) {
	u, err := p.unseen(ctx, postgres.Look{Entries: entries})
	for ; entries > 1 && ofRecord(ctx, err); u, err = p.unseen(ctx, postgres.Look{Entries: entries}) {
		entries = fewer(entries)
	}
	if ofRecord(ctx, err) {
		return &backlog{}, p.skip(ctx, err)
	}
	if err != nil || u.Upto == 0 {
		return nil, err
	}
	unfinished, err := p.Store.For(p.institution).Unfinished(ctx)
	if err != nil {
		return nil, err
	}
	b := &backlog{entries: entries, upto: u.Upto, plans: u.Plans, suspects: map[uuid.UUID]bool{}}
	b.take(u)
	for _, id := range unfinished {
		b.suspects[id] = true
	}
	if p.behind == nil {
		p.behind = map[uuid.UUID]*backlog{}
	}
	p.behind[p.institution] = b
	return b, nil
}

func fewer(entries int) int { return max(1, entries/8) }

// further reads the next page of what the entries concern. If it cannot be read, fewer
// entries are begun again.
func (p *pass) further(ctx context.Context, b *backlog) error {
	u, err := p.unseen(ctx, postgres.Look{Entries: b.entries, Upto: b.upto, Beyond: b.beyond})
	switch {
	case !ofRecord(ctx, err):
		if err == nil {
			b.take(u)
		}
		return err
	case b.entries > 1:
		delete(p.behind, p.institution)
		_, err = p.begin(ctx, fewer(b.entries))
		return err
	}
	delete(p.behind, p.institution)
	return p.skip(ctx, err)
}

// take adds a page to the backlog.
func (b *backlog) take(u postgres.Unseen) {
	b.specimens, b.beyond, b.more = u.Specimens, u.Beyond, u.More
	b.changed = byTreatmentsSpecimen(u.Treatments)
}

func (p *pass) unseen(ctx context.Context, look postgres.Look) (u postgres.Unseen, err error) {
	ctx, cancel := context.WithTimeout(ctx, pieceWithin)
	defer cancel()
	if look.Specimens = p.Listed; look.Specimens == 0 {
		look.Specimens = specimensListed
	}
	look.Followed = p.Followed
	u, err = p.Store.For(p.institution).LayersUnseen(ctx, look)
	if u.All {
		p.Log.Warn("entries concern more batches than are followed, so that all specimens are worked out",
			"institution", p.institution.String(), "upto", u.Upto)
	}
	return u, err
}

// skip sets the next entry aside because it cannot be read.
func (p *pass) skip(ctx context.Context, failure error) error {
	row, err := p.Store.For(p.institution).NextUnseen(ctx)
	if err != nil {
		return err
	}
	if err := p.setAside(ctx, asideFor(p.institution, row.Record, string(row.Kind), *row.Sequence, failure, p.now()),
		failure); err != nil {
		return err
	}
	return p.Store.For(p.institution).LayersSeen(ctx, *row.Sequence)
}

// chunk computes specimens together. If they cannot be read or stored together, it
// computes them one by one.
func (p *pass) chunk(ctx context.Context, specimens []uuid.UUID) error {
	aside, err := p.Store.For(p.institution).BeginStates(ctx, specimens)
	if err != nil {
		return err
	}
	ready := slices.DeleteFunc(slices.Clone(specimens), func(id uuid.UUID) bool {
		a, ok := aside[id]
		return ok && a.Why == postgres.AsideUnfinished && p.now().Before(a.TryAt)
	})
	err = p.together(ctx, ready)
	if !ofRecord(ctx, err) {
		return err
	}
	for _, id := range ready {
		if err := p.alone(ctx, id); err != nil {
			return err
		}
	}
	return nil
}

// idle stores that no specimen is being computed.
func (p *pass) idle(ctx context.Context) error {
	_, err := p.Store.For(p.institution).BeginStates(ctx, []uuid.UUID{})
	return err
}

// alone computes a specimen that may end the worker: its start is stored until it is
// done.
func (p *pass) alone(ctx context.Context, specimen uuid.UUID) error {
	aside, err := p.Store.For(p.institution).BeginStates(ctx, []uuid.UUID{specimen})
	if err != nil {
		return err
	}
	a, known := aside[specimen]
	if known && a.Why == postgres.AsideUnfinished && p.now().Before(a.TryAt) {
		return nil
	}
	begun := postgres.Aside{Institution: p.institution, Record: specimen, Kind: aboutSpecimen,
		Why: postgres.AsideUnfinished, Attempts: a.Attempts + 1, Since: p.now()}
	if known {
		begun.Sequence, begun.Since = a.Sequence, a.Since
	}
	begun.TryAt = p.now().Add(wait(begun.Why, begun.Attempts))
	if err := p.Store.SetAside(ctx, begun); err != nil {
		return err
	}
	err = p.together(ctx, []uuid.UUID{specimen})
	switch {
	case ofRecord(ctx, err):
		return p.setAside(ctx, asideFor(p.institution, specimen, aboutSpecimen, begun.Sequence, err, p.now()), err)
	case err == nil:
		return p.ended(ctx, specimen)
	case known: // the failure is not due to the specimen
		return errors.Join(err, p.Store.SetAside(context.WithoutCancel(ctx), a))
	}
	return errors.Join(err, p.Store.For(p.institution).TakeBack(context.WithoutCancel(ctx), specimen))
}

// ended deletes the stored start of a specimen. It remains after a computation when
// another worker has already stored a newer state.
func (p *pass) ended(ctx context.Context, specimen uuid.UUID) error {
	a, ok, err := p.Store.For(p.institution).AsideOf(ctx, specimen)
	if err == nil && ok && a.Why == postgres.AsideUnfinished {
		err = p.Store.For(p.institution).TakeBack(ctx, specimen)
	}
	return err
}

// together makes the rows of specimens anew, and the findings of the treatments on them
// that were recorded or changed. A specimen that cannot be computed is set aside; an
// error concerns all of them.
func (p *pass) together(ctx context.Context, specimens []uuid.UUID) error {
	if len(specimens) == 0 {
		return nil
	}
	within, cancel := context.WithTimeout(ctx, pieceWithin)
	defer cancel()
	histories, err := p.Store.For(p.institution).HistoriesWithin(within, specimens, mostWords)
	if err != nil {
		return err
	}
	var made []postgres.SpecimenState
	for i, specimen := range specimens {
		st, err := p.specimen(within, specimen, histories[i])
		switch {
		case ofRecord(ctx, err):
			if err := p.setAside(ctx, asideFor(p.institution, specimen, aboutSpecimen, histories[i].Sequence, err, p.now()),
				err); err != nil {
				return err
			}
		case err != nil:
			return err
		default:
			made = append(made, st)
		}
	}
	p.cost.specimens += len(made)
	return p.Store.For(p.institution).SaveStates(within, made)
}

// specimen computes one specimen.
func (p *pass) specimen(
	ctx context.Context, specimen uuid.UUID, h postgres.History,
) (st postgres.SpecimenState, err error) {
	work := p.WorkOut
	if work == nil {
		work = workOut
	}
	err = guard.Run(func() (err error) {
		var config stack.Config
		if config, st, err = work(ctx, specimen, h, p.base, p.Today()); err == nil {
			LogUnread(p.Log, p.institution, &config.Specimen)
			st.Checked, err = check(config, p.tuning, p.changed[specimen])
		}
		return err
	})
	return st, err
}

// plan checks a plan that was recorded or changed and stores its findings. A plan that
// cannot be checked is set aside.
func (p *pass) plan(ctx context.Context, plan uuid.UUID) error {
	within, cancel := context.WithTimeout(ctx, pieceWithin)
	defer cancel()
	var sequence int64
	err := guard.Run(func() error {
		row, err := p.Store.For(p.institution).InForce(within, plan)
		if err != nil {
			return err
		}
		found, at, err := CheckPlan(within, p.Store.For(p.institution), row, p.base, p.tuning, p.Today())
		if err != nil {
			return err
		}
		sequence = at
		return p.Store.For(p.institution).SavePlanCheck(within, postgres.Checked{
			Record: plan, Revision: row.Revision, Findings: found,
		}, at)
	})
	switch {
	case ofRecord(ctx, err):
		return p.setAside(ctx, asideFor(p.institution, plan, aboutPlan, sequence, err, p.now()), err)
	case err != nil:
		return fmt.Errorf("plan %s: %w", plan, err)
	}
	return nil
}
