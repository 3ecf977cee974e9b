package postgres

import (
	"context"
	"slices"
	"strconv"

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

// Links are the steps by which a batch was made from and into others, and what
// they name.
type Links struct {
	Links []Link
	Nodes map[uuid.UUID]StockNode
	// Whole tells whether these are all; More is how many supplies and batches there
	// are whose steps were not read.
	Whole bool
	More  int
}

// LinksOf gives the steps by which a batch was made from and into others: at most
// so many each way.
func (s Tenant) LinksOf(ctx context.Context, batchID uuid.UUID, most int) (Links, error) {
	var out Links
	known, err := s.Exists(ctx, "batch", batchID)
	if err != nil {
		return out, err
	}
	if !known {
		return out, fault.Of(fault.NotFound, "batch-unknown", "There is no such batch in this institution.")
	}
	type counted struct {
		Link
		Reached int `db:"reached"`
	}
	b := newBatch(s.institution)
	var up, down []counted
	queue(b, &up, upstream+`
		select distinct coalesce(w.from_batch_id, w.supply_id) as from_id, w.batch_id as into_id,
		       (select count(*) from climb) as reached
		  from up join went_into w on w.institution_id = $1 and w.batch_id = up.id
		 where num_nonnulls(w.from_batch_id, w.supply_id) = 1 limit $3`, s.institution, []uuid.UUID{batchID}, most+1)
	queue(b, &down, downstream+`
		select distinct w.from_batch_id as from_id, w.batch_id as into_id, (select count(*) from descent) as reached
		  from down join went_into w on w.institution_id = $1 and w.from_batch_id = down.id limit $3`,
		s.institution, []uuid.UUID{batchID}, most+1)
	if err := s.run(ctx, b); err != nil {
		return out, err
	}
	if len(up) > 0 {
		out.More += max(0, up[0].Reached-MostStock)
	}
	if len(down) > 0 {
		out.More += max(0, down[0].Reached-mostDown)
	}
	out.Whole = len(up) <= most && len(down) <= most && out.More == 0
	var ids []uuid.UUID
	for _, l := range slices.Concat(up[:min(len(up), most)], down[:min(len(down), most)]) {
		out.Links = append(out.Links, l.Link)
		ids = append(ids, l.From, l.Into)
	}
	out.Nodes, err = s.stockNodes(ctx, ids)
	return out, err
}

func (s Tenant) stockNodes(ctx context.Context, ids []uuid.UUID) (map[uuid.UUID]StockNode, error) {
	slices.SortFunc(ids, func(a, b uuid.UUID) int { return slices.Compare(a[:], b[:]) })
	rows, err := collect[StockNode](ctx, s, `
		select id, 'batch' as kind, code, null::text as material_id from batch where institution_id = $1 and id = any($2)
		union all
		select id, 'supply', code, material_id from supply where institution_id = $1 and id = any($2)`,
		s.institution, slices.Compact(ids))
	nodes := make(map[uuid.UUID]StockNode, len(rows))
	for _, n := range rows {
		nodes[n.ID] = n
	}
	return nodes, err
}

// climbing finds what the supplies and batches of a query were made from or topped up
// with, including themselves: climb has all ids, and up the nearest ones, up to the
// limit. UNION takes each once, step by step; the order within a step is by id, so that
// the limit always leaves out the same ones.
func climbing(seed string) string {
	return `
	with recursive climb(id) as (
		` + seed + `
		union
		select n.id from climb cross join lateral (
			select coalesce(w.from_batch_id, w.supply_id) as id
			  from went_into w where w.institution_id = $1 and w.batch_id = climb.id
			   and num_nonnulls(w.from_batch_id, w.supply_id) = 1
			 order by 1) n
	), up(id) as materialized (
		select id from climb limit ` + strconv.Itoa(MostStock) + `
	)`
}

// upstream climbs from the supplies and batches $2.
var upstream = climbing(`select unnest($2::uuid[])`)

// downstream descends to what the batches $2 went into, in the same way.
var downstream = `
	with recursive descent(id) as (
		select unnest($2::uuid[])
		union
		select n.id from descent cross join lateral (
			select w.batch_id as id from went_into w where w.institution_id = $1 and w.from_batch_id = descent.id order by 1) n
	), down(id) as materialized (
		select id from descent limit ` + strconv.Itoa(mostDown) + `
	)`

// mostDown is how many batches downstream are read at most.
const mostDown = 10_000
