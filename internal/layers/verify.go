package layers

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/edtf"
	"meniscus/internal/guard"
	"meniscus/internal/ledger"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/recording"
)

// Verifier compares what is stored with the facts that it was made from.
type Verifier struct {
	Store *postgres.Store
	// Knowledge is what an institution knows of materials.
	Knowledge func(ctx context.Context, institution uuid.UUID) (*material.Base, error)
	// Report is called with one sentence for each difference.
	Report func(sentence string)
	// Checkpoints are heads of logs that someone kept, by institution.
	Checkpoints map[uuid.UUID][]ledger.Checkpoint

	aside map[uuid.UUID]bool // the records of an institution that are set aside
}

// Verified is how much was compared, and how much of it was wrong.
type Verified struct {
	Facts, Redacted, Records, Specimens int
	Wrong                               int
	// Behind says that the layers were not compared, because the worker has not
	// processed all entries yet.
	Behind bool
	// SetAside is how many records the worker could not compute, and Unchecked how many
	// records or specimens could not be compared.
	SetAside, Unchecked int
	// Proven is how many entries the largest checkpoint that they give has.
	Proven int64
}

// Complete tells whether everything was compared.
func (v Verified) Complete() bool { return !v.Behind && v.SetAside == 0 && v.Unchecked == 0 }

// Add adds the counts of another verification.
func (v Verified) Add(w Verified) Verified {
	return Verified{Facts: v.Facts + w.Facts, Redacted: v.Redacted + w.Redacted, Records: v.Records + w.Records,
		Specimens: v.Specimens + w.Specimens,
		Wrong:     v.Wrong + w.Wrong, Behind: v.Behind || w.Behind, SetAside: v.SetAside + w.SetAside,
		Unchecked: v.Unchecked + w.Unchecked}
}

const (
	verifyPage = 500
	// mostAsides is how many records that are set aside are listed.
	mostAsides = 100_000
)

// Institution verifies one institution: every entry's digest, every projection, and
// every row of layers that reports read.
func (v *Verifier) Institution(ctx context.Context, id uuid.UUID) (Verified, error) {
	var out Verified
	for _, part := range []func(context.Context, uuid.UUID, *Verified) error{
		v.facts, v.taken, v.sequences, v.log, v.projections, v.asides, v.layers,
	} {
		if err := part(ctx, id, &out); err != nil {
			return out, err
		}
	}
	return out, nil
}

// asides reports what the worker could not compute.
func (v *Verifier) asides(ctx context.Context, institution uuid.UUID, out *Verified) error {
	v.aside = map[uuid.UUID]bool{}
	found, err := v.Store.For(institution).Asides(ctx, mostAsides)
	for _, a := range found {
		out.SetAside++
		v.aside[a.Record] = true
		v.Report(fmt.Sprintf("The %s %s could not be worked out and is set aside (%s, after %d attempts, since %s); "+
			"it is tried again from %s.",
			a.Kind, a.Record, a.Why, a.Attempts, a.Since.UTC().Format(time.RFC3339), a.TryAt.UTC().Format(time.RFC3339)))
	}
	return err
}

// unchecked reports what could not be compared.
func (v *Verifier) unchecked(out *Verified, format string, args ...any) {
	out.Unchecked++
	v.Report(fmt.Sprintf(format, args...))
}

func (v *Verifier) wrong(out *Verified, format string, args ...any) {
	out.Wrong++
	v.Report(fmt.Sprintf(format, args...))
}

// facts checks that each entry's words still give its digest.
func (v *Verifier) facts(ctx context.Context, institution uuid.UUID, out *Verified) error {
	after := uuid.Nil
	for {
		page, err := v.Store.For(institution).Facts(ctx, after, verifyPage)
		if err != nil {
			return err
		}
		for _, f := range page {
			out.Facts++
			if f.Body == nil {
				out.Redacted++
				continue
			}
			if digest := ledger.Digest(f.Nonce, []byte(*f.Body)); string(digest[:]) != string(f.Digest) {
				v.wrong(out, "The words of entry %s (%s %s, revision %d) do not give its digest.",
					f.EntryID, f.Kind, f.Record, f.Revision)
			}
		}
		if len(page) < verifyPage {
			return nil
		}
		after = page[len(page)-1].EntryID
	}
}

// taken names entries whose words were taken without an entry that says so.
func (v *Verifier) taken(ctx context.Context, institution uuid.UUID, out *Verified) error {
	taken, err := v.Store.For(institution).TakenUnsaid(ctx, verifyPage)
	for _, row := range taken {
		v.wrong(out, "The words of entry %s (%s %s, revision %d) were taken, and no later entry says so.",
			row.EntryID, row.Kind, row.Record, row.Revision)
	}
	return err
}

func (v *Verifier) sequences(ctx context.Context, institution uuid.UUID, out *Verified) error {
	sequences, last, err := v.Store.For(institution).Head(ctx)
	if err == nil && sequences != last {
		v.wrong(out, "The order of institution %s has %d sequence numbers and ends at %d: some are missing.",
			institution, sequences, last)
	}
	return err
}

// log checks that the entries are those that were logged, and those of the checkpoints.
func (v *Verifier) log(ctx context.Context, institution uuid.UUID, out *Verified) error {
	store := v.Store.For(institution)
	check := ledger.NewCheck(func(sentence string) { v.wrong(out, "%s", sentence) }, v.Checkpoints[institution]...)
	entries, logged, err := store.LogSpan(ctx)
	for after := int64(0); err == nil && after < max(entries, logged); after += verifyPage {
		var page []ledger.Logged
		if page, err = store.LoggedEntries(ctx, after, after+verifyPage); err != nil {
			return err
		}
		for _, e := range page {
			if len(e.Kept) == 0 && e.Sequence <= logged {
				v.wrong(out, "The log has lost what it kept with the %s.", e.Name)
			}
			if err := check.Entry(e); err != nil {
				return err
			}
		}
	}
	check.End()
	out.Proven = check.Proven()
	if err == nil && entries > logged {
		v.unchecked(out, "The entries from sequence number %d on are not in the log yet: try again in a moment.", logged+1)
	}
	return err
}

// projections checks that each record's projection is what its standing revision makes.
func (v *Verifier) projections(ctx context.Context, institution uuid.UUID, out *Verified) error {
	after := uuid.Nil
	for {
		page, err := v.Store.For(institution).LastRevisions(ctx, after, verifyPage)
		if err != nil {
			return err
		}
		if err := v.projectionsOf(ctx, institution, page, out); err != nil {
			return err
		}
		if len(page) < verifyPage {
			return nil
		}
		after = page[len(page)-1].Record
	}
}

func (v *Verifier) projectionsOf(
	ctx context.Context, institution uuid.UUID, page []postgres.LastRevision, out *Verified,
) error {
	var records []postgres.Reprojection
	for _, last := range page {
		out.Records++
		var project func(*postgres.Projector)
		err := guard.Run(func() (err error) { project, err = recording.Projection(last.Row); return err })
		r := postgres.Reprojection{Record: last.Record, Revision: last.Revision, Kind: last.Kind, Project: project,
			Whole: last.Worded && last.Act != ledger.Retracted}
		if last.Blanked > 0 {
			r.Revision, r.Whole, r.Project = last.Blanked, false, func(p *postgres.Projector) { p.Blank(last.Kind) }
		}
		switch {
		case err != nil:
			v.wrong(out, "The %s %s, revision %d, cannot be read as it was recorded: %v.",
				last.Kind, last.Record, last.Revision, err)
		case r.Project != nil:
			records = append(records, r)
		}
	}
	differs, err := v.Store.For(institution).Reproject(ctx, records)
	for _, r := range records {
		for _, table := range differs[r.Record] {
			v.wrong(out, "The projection %s of the %s %s is not what its revision %d makes.",
				table, r.Kind, r.Record, r.Revision)
		}
	}
	return err
}

// layers checks that the rows that reports read are what the record gives for the day
// that they were computed for.
func (v *Verifier) layers(ctx context.Context, institution uuid.UUID, out *Verified) error {
	done, err := v.Store.For(institution).LayersCaughtUp(ctx)
	if err != nil || !done {
		out.Behind = !done
		return err
	}
	base, err := v.Knowledge(ctx, institution)
	if err != nil {
		return err
	}
	after := uuid.Nil
	for {
		page, err := v.Store.For(institution).SpecimenIDs(ctx, after, verifyPage)
		if err != nil {
			return err
		}
		for together := range slices.Chunk(page, refreshTogether) {
			if err := v.specimens(ctx, institution, together, base, out); err != nil {
				return err
			}
		}
		if len(page) < verifyPage {
			return v.strays(ctx, institution, out)
		}
		after = page[len(page)-1]
	}
}

// strays looks for layers of specimens that do not stand.
func (v *Verifier) strays(ctx context.Context, institution uuid.UUID, out *Verified) error {
	strays, err := v.Store.For(institution).StrayLayers(ctx, verifyPage)
	for _, id := range strays {
		v.wrong(out, "Layers are kept of specimen %s, whose record does not stand.", id)
	}
	return err
}

func (v *Verifier) specimens(
	ctx context.Context, institution uuid.UUID, ids []uuid.UUID, base *material.Base, out *Verified,
) error {
	ids = slices.DeleteFunc(slices.Clone(ids), func(id uuid.UUID) bool { return v.aside[id] }) // it is reported already
	kept, err := v.Store.For(institution).KeptStates(ctx, ids)
	if err != nil {
		return err
	}
	histories, err := v.Store.For(institution).HistoriesWithin(ctx, ids, mostWords)
	if errors.Is(err, postgres.ErrTooMuch) && len(ids) > 1 {
		for _, id := range ids {
			if err := v.specimens(ctx, institution, []uuid.UUID{id}, base, out); err != nil {
				return err
			}
		}
		return nil
	}
	if errors.Is(err, postgres.ErrTooMuch) {
		v.unchecked(out, "The layers of specimen %s were not compared: %v.", ids[0], err)
		return nil
	}
	if err != nil {
		return err
	}
	for i, id := range ids {
		out.Specimens++
		err := guard.Run(func() error { return v.specimen(ctx, id, kept[i], histories[i], base, out) })
		if err != nil {
			v.unchecked(out, "The layers of specimen %s were not compared, because they could not be worked out: %v.", id, err)
		}
	}
	return ctx.Err()
}

func (v *Verifier) specimen(
	ctx context.Context, id uuid.UUID, kept postgres.SpecimenState, h postgres.History, base *material.Base, out *Verified,
) error {
	at := edtf.Day{}
	if !kept.ComputedOn.IsZero() {
		at = edtf.DayOf(kept.ComputedOn)
	}
	_, made, err := workOut(ctx, id, h, base, at)
	if err != nil {
		return err
	}
	want := map[layerID]postgres.LayerState{}
	for _, l := range made.Layers {
		want[idOf(l)] = l
	}
	for _, l := range kept.Layers {
		w, ok := want[idOf(l)]
		delete(want, idOf(l))
		switch {
		case !ok:
			v.wrong(out, "The kept layer %s of specimen %s is not on record.", idOf(l), id)
		case !sameState(l, w):
			v.wrong(out, "The kept layer %s of specimen %s is not what the record gives.", idOf(l), id)
		}
	}
	for name := range want {
		v.wrong(out, "The layer %s of specimen %s is on record and not kept.", name, id)
	}
	return nil
}

// layerID identifies a layer by its treatment and position; reports show it as
// TREATMENT/POSITION.
type layerID struct {
	treatment uuid.UUID
	position  int
}

func (l layerID) String() string { return fmt.Sprintf("%s/%d", l.treatment, l.position) }

func idOf(l postgres.LayerState) layerID { return layerID{l.Treatment, l.Position} }

func sameState(a, b postgres.LayerState) bool {
	return a.Role == b.Role && a.State == b.State && a.Redissolvable == b.Redissolvable && a.Removable == b.Removable &&
		a.Retreatable == b.Retreatable && a.Body == b.Body
}
