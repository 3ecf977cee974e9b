package postgres

import (
	"context"
	"errors"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"meniscus/internal/record"
)

// Fact is an entry as it is stored, with what its digest was made from.
type Fact struct {
	Row
	Nonce []byte `db:"nonce"`
}

// Facts gives an institution's entries in the order of their ids, after one.
func (s Tenant) Facts(ctx context.Context, after uuid.UUID, limit int) ([]Fact, error) {
	return collect[Fact](ctx, s, `
		select `+entryColumns+`, p.seq, e.nonce
		  from entry e left join sequenced p on p.entry_id = e.id and p.institution_id = e.institution_id
		 where e.institution_id = $1 and e.id > $2 order by e.id limit $3`, s.institution, after, limit)
}

// TakenUnsaid gives at most limit entries whose words are gone although no later entry of
// their record says that they were redacted. A redaction whose own words were redacted may
// have said it.
func (s Tenant) TakenUnsaid(ctx context.Context, limit int) ([]Row, error) {
	return collectPlannedAnew[Row](ctx, s, `
		select `+entryColumns+`, null::bigint as seq from entry e
		 where e.institution_id = $1 and e.body is null
		   and not exists (select from entry x where x.institution_id = e.institution_id and x.record_id = e.record_id
		                      and x.revision > e.revision and x.act = 'redacted'
		                      and (x.body is null or x.body::jsonb -> 'redactedRevisions' @> to_jsonb(e.revision)))
		 order by e.id limit $2`, s.institution, limit)
}

// LastRevision is a record's last revision that states, amends or retracts.
type LastRevision struct {
	Row
	// Worded tells whether it has a statement.
	Worded bool `db:"worded"`
	// Blanked is the last revision after it that took the words of the statement in
	// force, 0 if none did.
	Blanked int `db:"blanked"`
}

// LastRevisions gives the last revisions in the order of the records' ids, after one.
func (s Tenant) LastRevisions(ctx context.Context, after uuid.UUID, limit int) ([]LastRevision, error) {
	return collectPlannedAnew[LastRevision](ctx, s, `
		with last as materialized (
			select distinct on (e.record_id) e.* from entry e
			 where e.institution_id = $1 and e.record_id > $2 and e.act <> 'redacted'
			 order by e.record_id, e.revision desc limit $3)
		select `+entryColumns+`, null::bigint as seq, coalesce(e.body::jsonb ? 'statement', false) as worded,
		       coalesce((select max(x.revision) from entry x
		                  where x.institution_id = $1 and x.record_id = e.record_id and x.revision > e.revision
		                    and `+blanksInForce+`), 0) as blanked
		  from last e order by e.record_id`, s.institution, after, limit)
}

// blanksInForce tells whether a redaction x blanked the statement in force. A redaction
// that was received did so at its sender.
const blanksInForce = `x.act = 'redacted' and not x.body::jsonb ? 'receivedFrom'
	and x.body::jsonb -> 'redactedRevisions' @> to_jsonb((
	select max(f.revision) from entry f where f.institution_id = x.institution_id and f.record_id = x.record_id
	   and f.revision < x.revision and f.act in ('stated', 'amended')))`

// Head gives how many sequence numbers an institution has and the last of them: the two
// are equal when none is missing.
func (s Tenant) Head(ctx context.Context) (sequences, last int64, err error) {
	type row struct{ Sequences, Last int64 }
	rows, err := collect[row](ctx, s,
		`select count(*) as sequences, coalesce(max(seq), 0) as last from sequenced where institution_id = $1`, s.institution)
	if err != nil {
		return 0, 0, err
	}
	return rows[0].Sequences, rows[0].Last, nil
}

// SpecimenIDs gives the specimens whose records stand, in the order of their ids,
// after one.
func (s Tenant) SpecimenIDs(ctx context.Context, after uuid.UUID, limit int) ([]uuid.UUID, error) {
	return s.ids(ctx, `
		select id from specimen where institution_id = $1 and id > $2 and merged_into is null order by id limit $3`,
		s.institution, after, limit)
}

// StrayLayers gives at most limit specimens with stored layers whose records do not
// stand.
func (s Tenant) StrayLayers(ctx context.Context, limit int) ([]uuid.UUID, error) {
	return s.ids(ctx, `
		select distinct l.specimen_id as id from layer_state l
		 where l.institution_id = $1
		   and not exists (select from specimen s
		                    where s.institution_id = $1 and s.id = l.specimen_id and s.merged_into is null)
		 order by 1 limit $2`, s.institution, limit)
}

func (s Tenant) ids(ctx context.Context, sql string, args ...any) ([]uuid.UUID, error) {
	rows, err := collectPlannedAnew[idRow](ctx, s, sql, args...)
	ids := make([]uuid.UUID, len(rows))
	for i, row := range rows {
		ids[i] = row.ID
	}
	return ids, err
}

// LayersCaughtUp tells whether the layers' cursor has reached the last sequence number.
func (s Tenant) LayersCaughtUp(ctx context.Context) (bool, error) {
	type row struct{ Done bool }
	rows, err := collect[row](ctx, s, `
		select coalesce((select seq from layers_cursor where institution_id = $1), 0)
		    >= coalesce((select max(seq) from sequenced where institution_id = $1), 0) as done`, s.institution)
	if err != nil {
		return false, err
	}
	return rows[0].Done, nil
}

// projections are the tables of a kind's projection, with the column of the
// record.
var projections = map[record.Kind][][2]string{
	record.KindPerson: {{"person", "id"}},
	record.KindSpecimen: {
		{"specimen", "id"}, {"specimen_identifier", "specimen_id"}, {"specimen_stood", "specimen_id"},
	},
	record.KindSupply:       {{"supply", "id"}, dueRows},
	record.KindBatch:        {{"batch", "id"}, {"batch_input", "batch_id"}, {"batch_person", "batch_id"}, dueRows},
	record.KindAmountChange: {{"amount_change", "id"}, dueRows},
	record.KindTreatment: {{"treatment", "id"}, {"treatment_area", "treatment_id"}, {"treatment_person", "treatment_id"},
		{"treatment_use", "treatment_id"},
		{"treatment_use_candidate", "treatment_id"}, {"treatment_removes", "treatment_id"}, dueRows},
	record.KindPlan:     {{"plan", "id"}, {"plan_area", "plan_id"}, {"plan_person", "plan_id"}, {"plan_use", "plan_id"}, dueRows},
	record.KindMaterial: {{"material", "id"}},
}

// dueRows are what records say is to be done.
var dueRows = [2]string{"due", "record_id"}

// errUndo rolls back a transaction that only compares.
var errUndo = errors.New("undone")

// Reprojection makes a record's projection anew.
type Reprojection struct {
	Record   uuid.UUID
	Revision int
	Kind     record.Kind
	// Whole tells that a statement makes the whole projection; otherwise the existing
	// one is changed.
	Whole   bool
	Project func(*Projector)
}

// Reproject makes the projections of records anew, gives for each record the tables in
// which they differ from what is stored, and rolls back.
func (s Tenant) Reproject(ctx context.Context, records []Reprojection) (differs map[uuid.UUID][]string, err error) {
	of, anew := map[record.Kind][]uuid.UUID{}, map[record.Kind][]uuid.UUID{}
	for _, r := range records {
		of[r.Kind] = append(of[r.Kind], r.Record)
		if r.Whole {
			anew[r.Kind] = append(anew[r.Kind], r.Record)
		}
	}
	differs = map[uuid.UUID][]string{}
	err = s.begin(ctx, func(tx pgx.Tx) error {
		before, err := snapshot(ctx, tx, s.institution, of)
		if err != nil {
			return err
		}
		b := newBatch(s.institution)
		b.clear(anew)
		for _, r := range records {
			r.Project(&Projector{batch: b, record: r.Record, revision: r.Revision, first: r.Whole})
		}
		if err := tx.SendBatch(ctx, b.within(ctx)).Close(); err != nil {
			return err
		}
		after, err := snapshot(ctx, tx, s.institution, of)
		if err != nil {
			return err
		}
		for _, r := range records {
			for _, table := range projections[r.Kind] {
				if key := (projected{table[0], r.Record}); before[key] != after[key] {
					differs[r.Record] = append(differs[r.Record], table[0])
				}
			}
		}
		return errUndo
	})
	if errors.Is(err, errUndo) {
		err = nil
	}
	return differs, translate(ctx, err)
}

// clear deletes what the projections of records hold beside their own rows, so that
// they can be made as for a first revision.
func (b *batch) clear(of map[record.Kind][]uuid.UUID) {
	for kind, records := range of {
		for _, table := range projections[kind] {
			if table[0] != kinds[kind].name && table[0] != "specimen_stood" { // specimen_stood is made by earlier revisions
				b.Queue(`delete from `+table[0]+` where institution_id = $1 and `+table[1]+` = any($2)`, b.institution, records)
			}
		}
	}
	b.Queue(`update specimen set part_areas = null, split_earliest = null, split_latest = null
		where institution_id = $1 and id = any($2) and part_areas is not null`,
		b.institution, of[record.KindSpecimen])
}

// projected is a record's rows of a table.
type projected struct {
	table  string
	record uuid.UUID
}

// snapshot is the projections of records as text.
func snapshot(
	ctx context.Context, tx pgx.Tx, institution uuid.UUID, of map[record.Kind][]uuid.UUID,
) (map[projected]string, error) {
	type row struct {
		ID   uuid.UUID
		Text string
	}
	found := map[projected]string{}
	b := newBatch(institution)
	b.Queue(plannedAnew)
	for kind, records := range of {
		for _, table := range projections[kind] {
			var rows []row
			queueInto(b, func(rows []row) {
				for _, r := range rows {
					found[projected{table[0], r.ID}] = r.Text
				}
			}, &rows, `select x.`+table[1]+` as id, string_agg(x::text, e'\n' order by x::text) as text from `+table[0]+` x
				where x.institution_id = $1 and x.`+table[1]+` = any($2) group by 1`, institution, records)
		}
	}
	if err := tx.SendBatch(ctx, b.within(ctx)).Close(); err != nil {
		return nil, fmt.Errorf("reading the projections: %w", err)
	}
	return found, nil
}

// Institutions lists every institution.
func (w *Watch) Institutions(ctx context.Context) ([]uuid.UUID, error) {
	rows, err := w.pool.Query(ctx, `select id from institution order by id`)
	if err != nil {
		return nil, fmt.Errorf("listing the institutions: %w", err)
	}
	return pgx.CollectRows(rows, pgx.RowTo[uuid.UUID])
}
