package postgres

import (
	"context"

	"github.com/google/uuid"
)

// ReportedSpecimen is a specimen with what reports show of it.
type ReportedSpecimen struct {
	ID         uuid.UUID `db:"id"`
	Number     *string   `db:"number"`
	Collection *string   `db:"collection"`
}

// StandingSpecimens gives the specimens that stand (not retracted, not merged into
// another), in the order of their ids after one: of a collection if one is named, and
// of those that are named if any are. For a merged specimen it gives the record that
// stands for it.
func (s Tenant) StandingSpecimens(
	ctx context.Context, collection string, named []uuid.UUID, after uuid.UUID, limit int,
) ([]ReportedSpecimen, error) {
	return collect[ReportedSpecimen](ctx, s, `
		select sp.id, sp.collection,
		       (select n.value from specimen_identifier n where n.institution_id = $1 and n.specimen_id = sp.id
		         order by n.position limit 1) as number
		  from specimen sp
		 where sp.institution_id = $1 and not sp.retracted and sp.merged_into is null and sp.id > $4
		   and ($2 = '' or sp.collection = $2)
		   and ($3::uuid[] is null or sp.id in (select survivor_of($1, x) from unnest($3::uuid[]) x))
		 order by sp.id limit $5`, s.institution, collection, named, after, limit)
}

// NotStanding gives the named specimens for which no record stands.
func (s Tenant) NotStanding(ctx context.Context, named []uuid.UUID) ([]uuid.UUID, error) {
	found, err := collect[idRow](ctx, s, `
		select distinct x as id from unnest($2::uuid[]) x
		 where not exists (select from specimen sp
		                    where sp.institution_id = $1 and sp.id = survivor_of($1, x) and not sp.retracted)
		 order by id`, s.institution, named)
	ids := make([]uuid.UUID, len(found))
	for i, row := range found {
		ids[i] = row.ID
	}
	return ids, err
}
