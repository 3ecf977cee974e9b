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

// ShelfOf gathers the entries about batches and all that they were made from or
// topped up with, in one round trip.
func (s *Store) ShelfOf(ctx context.Context, institution uuid.UUID, ids []uuid.UUID) (Shelf, error) {
	b := newBatch(institution)
	var d Shelf
	queue(b, &d.Made, inForce(`
		select b.id, b.revision from up join batch b on b.institution_id = $1 and b.id = up.id
		union all
		select s.id, s.revision from up join supply s on s.institution_id = $1 and s.id = up.id`), institution, ids)
	queue(b, &d.Changes, inForce(`
		select c.id, c.revision from up join amount_change c on c.institution_id = $1 and c.batch_id = up.id where not c.retracted
		union
		select c.id, c.revision from up join amount_change c on c.institution_id = $1 and c.with_batch_id = up.id where not c.retracted`), institution, ids)
	queue(b, &d.Taken, inForce(`
		select distinct t.id, t.revision from up join batch_input i on i.institution_id = $1 and i.from_batch_id = up.id
		  join batch t on t.institution_id = $1 and t.id = i.batch_id where not t.retracted`), institution, ids)
	queue(b, &d.Treatments, inForce(`
		select distinct t.id, t.revision from up join treatment_use u on u.institution_id = $1 and u.batch_id = up.id
		  join treatment t on t.institution_id = $1 and t.id = u.treatment_id where not t.retracted`), institution, ids)
	return d, s.run(ctx, b)
}

// inForce is the entries of the records that a query gives of up, with their
// places.
func inForce(records string) string {
	return upstream + `, wanted as (` + records + `)
		select ` + entryColumns + `, p.seq
		  from wanted w
		  join entry e on e.institution_id = $1 and e.record_id = w.id and e.revision = w.revision
		  left join place p on p.institution_id = e.institution_id and p.entry_id = e.id
		 order by e.id limit 20000`
}
