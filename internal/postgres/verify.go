package postgres

import (
	"context"
	"errors"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"meniscus/internal/record"
)

// Fact is an entry as it is kept, with what its digest was made from.
type Fact struct {
	Row
	Nonce []byte `db:"nonce"`
}

// Facts gives an institution's entries in the order of their ids, after one.
func (s *Store) Facts(ctx context.Context, institution, after uuid.UUID, limit int) ([]Fact, error) {
	return collect[Fact](ctx, s, institution, `
		select `+entryColumns+`, p.seq, e.nonce
		  from entry e left join place p on p.entry_id = e.id and p.institution_id = e.institution_id
		 where e.institution_id = $1 and e.id > $2 order by e.id limit $3`, institution, after, limit)
}

// Standing gives each record's last revision that states, amends or retracts,
// in the order of the records, after one.
func (s *Store) Standing(ctx context.Context, institution, after uuid.UUID, limit int) ([]Row, error) {
	return collect[Row](ctx, s, institution, `
		select distinct on (e.record_id) `+entryColumns+`, null::bigint as seq from entry e
		 where e.institution_id = $1 and e.record_id > $2 and e.act <> 'redacted'
		 order by e.record_id, e.revision desc limit $3`, institution, after, limit)
}

// Head gives the number of places of an institution and the last of them: they
// are equal when none is missing.
func (s *Store) Head(ctx context.Context, institution uuid.UUID) (places, last int64, err error) {
	type row struct{ Places, Last int64 }
	rows, err := collect[row](ctx, s, institution,
		`select count(*) as places, coalesce(max(seq), 0) as last from place where institution_id = $1`, institution)
	if err != nil {
		return 0, 0, err
	}
	return rows[0].Places, rows[0].Last, nil
}

// SpecimenIDs gives the specimens that have treatments or kept layers, in the
// order of their ids, after one.
func (s *Store) SpecimenIDs(ctx context.Context, institution, after uuid.UUID, limit int) ([]uuid.UUID, error) {
	rows, err := collect[idRow](ctx, s, institution, `
		select distinct id from (
		 select survivor_of($1, kept.id) as id from (
			select specimen_id as id from treatment where institution_id = $1 and not retracted
			union
			select specimen_id from layer_state where institution_id = $1
			union
			select specimen_id from specimen_state where institution_id = $1) as kept) as s
		 where id > $2 order by id limit $3`, institution, after, limit)
	ids := make([]uuid.UUID, len(rows))
	for i, row := range rows {
		ids[i] = row.ID
	}
	return ids, err
}

// LayersCaughtUp tells whether everything that has its place was looked at.
func (s *Store) LayersCaughtUp(ctx context.Context, institution uuid.UUID) (bool, error) {
	type row struct{ Done bool }
	rows, err := collect[row](ctx, s, institution, `
		select coalesce((select seq from layers_cursor where institution_id = $1), 0)
		    >= coalesce((select max(seq) from place where institution_id = $1), 0) as done`, institution)
	if err != nil {
		return false, err
	}
	return rows[0].Done, nil
}

// projections are the tables of a kind's projection, with the column of the
// record.
var projections = map[record.Kind][][2]string{
	record.KindPerson:       {{"person", "id"}},
	record.KindSpecimen:     {{"specimen", "id"}, {"specimen_identifier", "specimen_id"}, {"specimen_stood", "specimen_id"}},
	record.KindSupply:       {{"supply", "id"}},
	record.KindBatch:        {{"batch", "id"}, {"batch_input", "batch_id"}, {"batch_person", "batch_id"}},
	record.KindAmountChange: {{"amount_change", "id"}},
	record.KindTreatment: {{"treatment", "id"}, {"treatment_area", "treatment_id"}, {"treatment_person", "treatment_id"}, {"treatment_use", "treatment_id"},
		{"treatment_use_candidate", "treatment_id"}, {"treatment_removes", "treatment_id"}},
	record.KindPlan:     {{"plan", "id"}, {"plan_area", "plan_id"}, {"plan_person", "plan_id"}, {"plan_use", "plan_id"}},
	record.KindMaterial: {{"material", "id"}},
}

// errUndo ends a transaction that was only for looking.
var errUndo = errors.New("undone")

// Reproject makes a record's projection anew from its statement, says in which
// tables it differs from what is there, and undoes it.
func (s *Store) Reproject(ctx context.Context, institution, id uuid.UUID, revision int, kind record.Kind, project func(*Projector)) (differs []string, err error) {
	err = pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, wall, institution.String()); err != nil {
			return err
		}
		before, err := snapshot(ctx, tx, institution, id, kind)
		if err != nil {
			return err
		}
		b := &batch{institution: institution}
		project(&Projector{batch: b, record: id, revision: revision})
		if err := tx.SendBatch(ctx, b.whole()).Close(); err != nil {
			return err
		}
		after, err := snapshot(ctx, tx, institution, id, kind)
		if err != nil {
			return err
		}
		for i, table := range projections[kind] {
			if before[i] != after[i] {
				differs = append(differs, table[0])
			}
		}
		return errUndo
	})
	if errors.Is(err, errUndo) {
		err = nil
	}
	return differs, translate(err)
}

// snapshot is a record's projection as text, a table each.
func snapshot(ctx context.Context, tx pgx.Tx, institution, id uuid.UUID, kind record.Kind) ([]string, error) {
	var out []string
	for _, table := range projections[kind] {
		var text string
		err := tx.QueryRow(ctx, `select coalesce(string_agg(x::text, e'\n' order by x::text), '') from `+table[0]+` x where institution_id = $1 and `+table[1]+` = $2`,
			institution, id).Scan(&text)
		if err != nil {
			return nil, fmt.Errorf("reading %s: %w", table[0], err)
		}
		out = append(out, text)
	}
	return out, nil
}

// Institutions lists every institution.
func (w *Watch) Institutions(ctx context.Context) ([]uuid.UUID, error) {
	rows, err := w.pool.Query(ctx, `select id from institution order by id`)
	if err != nil {
		return nil, fmt.Errorf("listing the institutions: %w", err)
	}
	return pgx.CollectRows(rows, pgx.RowTo[uuid.UUID])
}
