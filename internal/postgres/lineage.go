package postgres

import (
	"context"

	"github.com/google/uuid"

	"meniscus/internal/fault"
)

// Lineage is a supply or batch that a batch came from or went into.
type Lineage struct {
	ID       uuid.UUID `db:"id"`
	Kind     string    `db:"kind"` // supply or batch
	Code     *string   `db:"code"`
	Material *string   `db:"material_id"`
	Depth    int       `db:"depth"`
}

// Link is one step of a lineage.
type Link struct {
	From uuid.UUID `db:"from_id"`
	Into uuid.UUID `db:"into_id"`
}

// LineageOf gives what a batch was made from and into, to any depth, with the
// steps. UNION drops what was met before, so that a circle in the record ends.
func (s *Store) LineageOf(ctx context.Context, institution, batchID uuid.UUID) (from, into []Lineage, links []Link, err error) {
	known, err := s.Exists(ctx, institution, "batch", batchID)
	if err != nil {
		return nil, nil, nil, err
	}
	if !known {
		return nil, nil, nil, fault.Of(fault.NotFound, "batch-unknown", "There is no such batch in this institution.")
	}
	b := newBatch(institution)
	queue(b, &from, upstream, institution, batchID)
	queue(b, &into, downstream, institution, []uuid.UUID{batchID})
	queue(b, &links, upstreamLinks, institution, batchID)
	var down []Link
	queue(b, &down, downstreamLinks, institution, batchID)
	err = s.run(ctx, b)
	return from, into, append(links, down...), err
}

// The walk keeps (id, depth) and stops at 10,000 rows; a node is reported at its
// smallest depth.
const upstreamWalk = `
	with recursive up(id, kind) as (
		select $2::uuid, 'batch'
		union
		select coalesce(i.from_batch_id, i.supply_id), case when i.supply_id is null then 'batch' else 'supply' end
		  from up join batch_input i on i.institution_id = $1 and i.batch_id = up.id and up.kind = 'batch'
		 where num_nonnulls(i.from_batch_id, i.supply_id) = 1
	)`

const upstream = `
	with recursive up(id, kind, depth) as (
		select $2::uuid, 'batch', 0
		union
		select coalesce(i.from_batch_id, i.supply_id), case when i.supply_id is null then 'batch' else 'supply' end, up.depth + 1
		  from up join batch_input i on i.institution_id = $1 and i.batch_id = up.id and up.kind = 'batch' and up.depth < 200
		 where num_nonnulls(i.from_batch_id, i.supply_id) = 1
	)
	select up.id, up.kind, coalesce(b.code, s.code) as code, s.material_id, min(up.depth)::int as depth
	  from up
	  left join batch b on up.kind = 'batch' and b.institution_id = $1 and b.id = up.id
	  left join supply s on up.kind = 'supply' and s.institution_id = $1 and s.id = up.id
	 where up.depth > 0
	 group by up.id, up.kind, b.code, s.code, s.material_id order by 5, 1 limit 10000`

const downstream = `
	with recursive down(id, depth) as (
		select unnest($2::uuid[]), 0
		union
		select i.batch_id, down.depth + 1
		  from down join batch_input i on i.institution_id = $1 and i.from_batch_id = down.id and down.depth < 200
	)
	select down.id, 'batch' as kind, b.code, null::text as material_id, min(down.depth)::int as depth
	  from down join batch b on b.institution_id = $1 and b.id = down.id
	 where down.depth > 0
	 group by down.id, b.code order by 5, 1 limit 10000`

const upstreamLinks = upstreamWalk + `
	select coalesce(i.from_batch_id, i.supply_id) as from_id, i.batch_id as into_id
	  from up join batch_input i on i.institution_id = $1 and i.batch_id = up.id and up.kind = 'batch'
	 where num_nonnulls(i.from_batch_id, i.supply_id) = 1 limit 25000`

const downstreamLinks = `
	with recursive down(id) as (
		select $2::uuid
		union
		select i.batch_id from down join batch_input i on i.institution_id = $1 and i.from_batch_id = down.id
	)
	select i.from_batch_id as from_id, i.batch_id as into_id
	  from down join batch_input i on i.institution_id = $1 and i.from_batch_id = down.id limit 25000`
