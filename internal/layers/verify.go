package layers

import (
	"context"
	"fmt"
	"slices"

	"github.com/google/uuid"

	"meniscus/internal/edtf"
	"meniscus/internal/ledger"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
)

// Verifier compares what is kept with the facts that it was made from.
type Verifier struct {
	Store *postgres.Store
	// Knowledge is what an institution knows of materials.
	Knowledge func(ctx context.Context, institution uuid.UUID) (*material.Base, error)
	// Projection gives what a statement makes of the projections.
	Projection func(row postgres.Row) (func(*postgres.Projector), error)
	// Report takes one sentence for everything that is not as it should be.
	Report func(sentence string)
}

// Verified is how much was looked at, and how much of it was wrong.
type Verified struct {
	Facts, Redacted, Records, Specimens int
	Wrong                               int
	// Behind says that the layers were not compared: not everything that has its
	// place was looked at yet.
	Behind bool
}

const verifyPage = 500

// Institution verifies one institution: every entry's digest, every projection,
// and every row that reports keep of layers.
func (v *Verifier) Institution(ctx context.Context, id uuid.UUID) (Verified, error) {
	var out Verified
	for _, part := range []func(context.Context, uuid.UUID, *Verified) error{v.facts, v.places, v.projections, v.layers} {
		if err := part(ctx, id, &out); err != nil {
			return out, err
		}
	}
	return out, nil
}

func (v *Verifier) wrong(out *Verified, format string, args ...any) {
	out.Wrong++
	v.Report(fmt.Sprintf(format, args...))
}

// facts looks whether each entry's words still give its digest.
func (v *Verifier) facts(ctx context.Context, institution uuid.UUID, out *Verified) error {
	after := uuid.Nil
	for {
		page, err := v.Store.Facts(ctx, institution, after, verifyPage)
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
				v.wrong(out, "The words of entry %s (%s %s, revision %d) do not give its digest.", f.EntryID, f.Kind, f.Record, f.Revision)
			}
		}
		if len(page) < verifyPage {
			return nil
		}
		after = page[len(page)-1].EntryID
	}
}

func (v *Verifier) places(ctx context.Context, institution uuid.UUID, out *Verified) error {
	places, last, err := v.Store.Head(ctx, institution)
	if err == nil && places != last {
		v.wrong(out, "The order of institution %s has %d places and ends at %d: some are missing.", institution, places, last)
	}
	return err
}

// projections looks whether each record's projection is what its standing
// revision makes.
func (v *Verifier) projections(ctx context.Context, institution uuid.UUID, out *Verified) error {
	after := uuid.Nil
	for {
		page, err := v.Store.Standing(ctx, institution, after, verifyPage)
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

func (v *Verifier) projectionsOf(ctx context.Context, institution uuid.UUID, page []postgres.Row, out *Verified) error {
	var records []postgres.Reprojection
	for _, row := range page {
		out.Records++
		project, err := v.Projection(row)
		switch {
		case err != nil:
			v.wrong(out, "The %s %s, revision %d, cannot be read as it was recorded: %v.", row.Kind, row.Record, row.Revision, err)
		case project != nil:
			records = append(records, postgres.Reprojection{Record: row.Record, Revision: row.Revision, Kind: row.Kind, Act: row.Act, Project: project})
		}
	}
	differs, err := v.Store.Reproject(ctx, institution, records)
	for _, r := range records {
		for _, table := range differs[r.Record] {
			v.wrong(out, "The projection %s of the %s %s is not what its revision %d makes.", table, r.Kind, r.Record, r.Revision)
		}
	}
	return err
}

// layers looks whether the rows that reports keep are what the record gives, on
// the day that they were made on.
func (v *Verifier) layers(ctx context.Context, institution uuid.UUID, out *Verified) error {
	done, err := v.Store.LayersCaughtUp(ctx, institution)
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
		page, err := v.Store.SpecimenIDs(ctx, institution, after, verifyPage)
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
	strays, err := v.Store.StrayLayers(ctx, institution, verifyPage)
	for _, id := range strays {
		v.wrong(out, "Layers are kept of specimen %s, whose record does not stand.", id)
	}
	return err
}

func (v *Verifier) specimens(ctx context.Context, institution uuid.UUID, ids []uuid.UUID, base *material.Base, out *Verified) error {
	kept, err := v.Store.KeptStates(ctx, institution, ids)
	if err != nil {
		return err
	}
	histories, err := v.Store.HistoriesOf(ctx, institution, ids)
	if err != nil {
		return err
	}
	for i, id := range ids {
		out.Specimens++
		if err := v.specimen(id, kept[i], histories[i], base, out); err != nil {
			return err
		}
	}
	return nil
}

func (v *Verifier) specimen(id uuid.UUID, kept postgres.SpecimenState, h postgres.History, base *material.Base, out *Verified) error {
	at := edtf.Day{}
	if !kept.ComputedOn.IsZero() {
		at = edtf.DayOf(kept.ComputedOn)
	}
	made, err := States(Config(id, h, base, at), id)
	if err != nil {
		return err
	}
	want := map[layerID]postgres.LayerState{}
	for _, l := range made {
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

// layerID is which layer of which treatment; a report says it as TREATMENT/POSITION.
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
