package postgres

import (
	"context"

	"github.com/google/uuid"

	"meniscus/internal/ledger"
)

// InForceOf gives, for each of the records, its last revision that states,
// amends or retracts. Where those words were erased, the row has no body. Ids
// that are not here are left out.
func (s *Store) InForceOf(ctx context.Context, institution uuid.UUID, ids []uuid.UUID) (map[uuid.UUID]Row, error) {
	found := map[uuid.UUID]Row{}
	if len(ids) == 0 {
		return found, nil
	}
	rows, err := collect[Row](ctx, s, institution, `
		select distinct on (e.record_id) `+entryColumns+`, null::bigint as seq from entry e
		 where e.institution_id = $1 and e.record_id = any($2) and e.act <> $3
		 order by e.record_id, e.revision desc`, institution, ids, ledger.Redacted)
	for _, row := range rows {
		found[row.Record] = row
	}
	return found, err
}

// TreatmentsOfSpecimens gives every treatment of the specimens that is not
// retracted, those that join one of them to another among them, in the order of
// their ids.
func (s *Store) TreatmentsOfSpecimens(ctx context.Context, institution uuid.UUID, specimens []uuid.UUID) ([]Row, error) {
	return collect[Row](ctx, s, institution, `
		with theirs as (
			select id, revision from treatment where institution_id = $1 and specimen_id = any($2) and not retracted
			union
			select id, revision from treatment where institution_id = $1 and joined_to_id = any($2) and not retracted)
		select `+entryColumns+`, null::bigint as seq
		  from theirs t join entry e on e.institution_id = $1 and e.record_id = t.id and e.revision = t.revision
		 order by t.id`, institution, specimens)
}

// SpecimensOfTreatment gives the specimens that a treatment is about, retracted
// or not.
func (s *Store) SpecimensOfTreatment(ctx context.Context, institution, treatment uuid.UUID) ([]uuid.UUID, error) {
	type row struct{ ID uuid.UUID }
	rows, err := collect[row](ctx, s, institution, `
		select unnest(array_remove(array[specimen_id, joined_to_id], null)) as id
		  from treatment where institution_id = $1 and id = $2`, institution, treatment)
	ids := make([]uuid.UUID, len(rows))
	for i, r := range rows {
		ids[i] = r.ID
	}
	return ids, err
}

// SpecimensIn gives the specimens of a collection, or of all of them when it is
// empty, that are not retracted, in the order of their ids, after an id.
func (s *Store) SpecimensIn(ctx context.Context, institution uuid.UUID, collection string, after uuid.UUID, limit int) ([]Row, error) {
	return collect[Row](ctx, s, institution, `
		select `+entryColumns+`, null::bigint as seq
		  from specimen t
		  join entry e on e.institution_id = t.institution_id and e.record_id = t.id and e.revision = t.revision
		 where t.institution_id = $1 and not t.retracted and t.id > $3 and ($2 = '' or t.collection = $2)
		 order by t.id limit $4`, institution, collection, after, limit)
}
