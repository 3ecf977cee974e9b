package postgres

import (
	"context"
	"slices"

	"github.com/google/uuid"

	"meniscus/internal/fault"
)

// StockNode is a supply or batch of a lineage.
type StockNode struct {
	ID       uuid.UUID `db:"id"`
	Kind     string    `db:"kind"` // supply or batch
	Code     *string   `db:"code"`
	Material *string   `db:"material_id"`
}

// Link is one step of a lineage.
type Link struct {
	From uuid.UUID `db:"from_id"`
	Into uuid.UUID `db:"into_id"`
}

// LinksOf gives the steps by which a batch was made from and into others, to any
// depth, and what they name: at most so many each way, and whether these are all.
// UNION drops what was met before, so that a circle in the record ends.
func (s *Store) LinksOf(ctx context.Context, institution, batchID uuid.UUID, most int) (links []Link, nodes map[uuid.UUID]StockNode, whole bool, err error) {
	known, err := s.Exists(ctx, institution, "batch", batchID)
	if err != nil {
		return nil, nil, false, err
	}
	if !known {
		return nil, nil, false, fault.Of(fault.NotFound, "batch-unknown", "There is no such batch in this institution.")
	}
	b := newBatch(institution)
	var up, down []Link
	queue(b, &up, upstream+`
		select distinct coalesce(w.from_batch_id, w.supply_id) as from_id, w.batch_id as into_id
		  from up join went_into w on w.institution_id = $1 and w.batch_id = up.id
		 where num_nonnulls(w.from_batch_id, w.supply_id) = 1 limit $3`, institution, []uuid.UUID{batchID}, most+1)
	queue(b, &down, downstream+`
		select distinct w.from_batch_id as from_id, w.batch_id as into_id
		  from down join went_into w on w.institution_id = $1 and w.from_batch_id = down.id limit $3`, institution, []uuid.UUID{batchID}, most+1)
	if err := s.run(ctx, b); err != nil {
		return nil, nil, false, err
	}
	whole = len(up) <= most && len(down) <= most
	links = append(up[:min(len(up), most)], down[:min(len(down), most)]...)
	var ids []uuid.UUID
	for _, l := range links {
		ids = append(ids, l.From, l.Into)
	}
	nodes, err = s.stockNodes(ctx, institution, ids)
	return links, nodes, whole, err
}

func (s *Store) stockNodes(ctx context.Context, institution uuid.UUID, ids []uuid.UUID) (map[uuid.UUID]StockNode, error) {
	slices.SortFunc(ids, func(a, b uuid.UUID) int { return slices.Compare(a[:], b[:]) })
	rows, err := collect[StockNode](ctx, s, institution, `
		select id, 'batch' as kind, code, null::text as material_id from batch where institution_id = $1 and id = any($2)
		union all
		select id, 'supply', code, material_id from supply where institution_id = $1 and id = any($2)`, institution, slices.Compact(ids))
	nodes := make(map[uuid.UUID]StockNode, len(rows))
	for _, n := range rows {
		nodes[n.ID] = n
	}
	return nodes, err
}

// upstream is what the supplies and batches $2 were made from or topped up with,
// themselves among it; downstream is what batches went into.
const upstream = `
	with recursive up(id) as (
		select unnest($2::uuid[])
		union
		select coalesce(w.from_batch_id, w.supply_id)
		  from up join went_into w on w.institution_id = $1 and w.batch_id = up.id
		 where num_nonnulls(w.from_batch_id, w.supply_id) = 1
	)`

const downstream = `
	with recursive down(id) as (
		select unnest($2::uuid[])
		union
		select w.batch_id from down join went_into w on w.institution_id = $1 and w.from_batch_id = down.id
	)`
