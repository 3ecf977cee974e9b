package postgres

import (
	"context"

	"github.com/google/uuid"

	"meniscus/internal/record"
)

// List gives records of one kind that are not retracted, in the order of their
// ids, after an id.
func (s *Store) List(ctx context.Context, institution uuid.UUID, kind record.Kind, after uuid.UUID, limit int) ([]Row, error) {
	return collect[Row](ctx, s, institution, `
		select `+entryColumns+`, null::bigint as seq
		  from `+tableOf[kind]+` t
		  join entry e on e.institution_id = t.institution_id and e.record_id = t.id and e.revision = t.revision
		 where t.institution_id = $1 and not t.retracted and t.id > $2
		 order by t.id limit $3`, institution, after, limit)
}

// TreatmentsOf gives a specimen's treatments that are not retracted, those that
// join it to another among them, in the order of their ids, after an id.
func (s *Store) TreatmentsOf(ctx context.Context, institution, specimen, after uuid.UUID, limit int) ([]Row, error) {
	return collect[Row](ctx, s, institution, `
		with mine as (
			select id, revision, institution_id from treatment where institution_id = $1 and specimen_id = $2 and id > $3 and not retracted
			union
			select id, revision, institution_id from treatment where institution_id = $1 and joined_to_id = $2 and id > $3 and not retracted
			order by id limit $4)
		select `+entryColumns+`, null::bigint as seq
		  from mine t join entry e on e.institution_id = t.institution_id and e.record_id = t.id and e.revision = t.revision
		 order by t.id`, institution, specimen, after, limit)
}

// AmountChangesOf gives what became of a batch, in the order of ids, after an id.
func (s *Store) AmountChangesOf(ctx context.Context, institution, batch, after uuid.UUID, limit int) ([]Row, error) {
	return collect[Row](ctx, s, institution, `
		select `+entryColumns+`, null::bigint as seq
		  from amount_change t
		  join entry e on e.institution_id = t.institution_id and e.record_id = t.id and e.revision = t.revision
		 where t.institution_id = $1 and t.batch_id = $2 and not t.retracted and t.id > $3
		 order by t.id limit $4`, institution, batch, after, limit)
}

// Exists tells whether a record of a kind is here, retracted or not.
func (s *Store) Exists(ctx context.Context, institution uuid.UUID, kind record.Kind, id uuid.UUID) (bool, error) {
	type one struct{ Found bool }
	rows, err := collect[one](ctx, s, institution,
		`select exists (select from `+tableOf[kind]+` where institution_id = $1 and id = $2) as found`, institution, id)
	return err == nil && rows[0].Found, err
}
