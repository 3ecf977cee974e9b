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
