package postgres

import (
	"context"

	"github.com/google/uuid"
)

// Shelf is every entry in force that bears on what batches hold and what is
// left of them.
type Shelf struct {
	Made       []Row // the batches and supplies that they were made from, themselves among them
	Changes    []Row // what became of them
	Taken      []Row // batches that were made from them
	Treatments []Row // treatments that used them
}

// ShelfOf gathers the entries about batches, in one round trip.
func (s *Store) ShelfOf(ctx context.Context, institution uuid.UUID, ids []uuid.UUID) (Shelf, error) {
	b := newBatch(institution)
	var d Shelf
	queue(b, &d.Made, madeFrom, institution, ids)
	queue(b, &d.Changes, inForce(`select id, revision from amount_change where institution_id = $1 and batch_id = any($2) and not retracted`), institution, ids)
	queue(b, &d.Taken, inForce(`
		select distinct t.id, t.revision from batch_input i join batch t on t.institution_id = i.institution_id and t.id = i.batch_id
		 where i.institution_id = $1 and i.from_batch_id = any($2) and not t.retracted`), institution, ids)
	queue(b, &d.Treatments, inForce(`
		select distinct t.id, t.revision from treatment_use u join treatment t on t.institution_id = u.institution_id and t.id = u.treatment_id
		 where u.institution_id = $1 and u.batch_id = any($2) and not t.retracted`), institution, ids)
	return d, s.run(ctx, b)
}

// inForce is the entries of the records that a query gives, with their places.
func inForce(records string) string {
	return `
		with wanted as (` + records + `)
		select ` + entryColumns + `, p.seq
		  from wanted w
		  join entry e on e.institution_id = $1 and e.record_id = w.id and e.revision = w.revision
		  left join place p on p.institution_id = e.institution_id and p.entry_id = e.id
		 order by e.id limit 20000`
}

const madeFrom = `
	with recursive up(id, kind) as (
		select unnest($2::uuid[]), 'batch'
		union
		select coalesce(i.from_batch_id, i.supply_id), case when i.supply_id is null then 'batch' else 'supply' end
		  from up join batch_input i on i.institution_id = $1 and i.batch_id = up.id and up.kind = 'batch'
		 where num_nonnulls(i.from_batch_id, i.supply_id) = 1
	), wanted as (
		select b.id, b.revision from up join batch b on up.kind = 'batch' and b.institution_id = $1 and b.id = up.id
		union all
		select s.id, s.revision from up join supply s on up.kind = 'supply' and s.institution_id = $1 and s.id = up.id
	)
	select ` + entryColumns + `, null::bigint as seq
	  from wanted w join entry e on e.institution_id = $1 and e.record_id = w.id and e.revision = w.revision
	 order by e.id limit 20000`
