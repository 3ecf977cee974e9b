package postgres

import (
	"context"

	"github.com/google/uuid"
)

// InForceOf gives the revisions in force of many records, by record; records
// that are not here are left out.
func (s *Store) InForceOf(ctx context.Context, institution uuid.UUID, ids []uuid.UUID) (map[uuid.UUID]Row, error) {
	rows, err := collect[Row](ctx, s, institution, `
		select distinct on (e.record_id) `+entryColumns+`, null::bigint as seq
		  from entry e
		 where e.institution_id = $1 and e.record_id = any($2) and e.act <> 'redacted'
		 order by e.record_id, e.revision desc`, institution, ids)
	found := make(map[uuid.UUID]Row, len(rows))
	for _, row := range rows {
		found[row.Record] = row
	}
	return found, err
}
