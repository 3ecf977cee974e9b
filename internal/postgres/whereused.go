package postgres

import (
	"context"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/fault"
	"meniscus/internal/record"
)

// Touched is a treatment that a supply or a batch reached, or may have.
type Touched struct {
	Treatment uuid.UUID   `db:"treatment_id"`
	Specimen  uuid.UUID   `db:"specimen_id"`
	Parts     []uuid.UUID `db:"parts"` // of the specimen, which inherited the treatment
	Number    *string     `db:"number"`
	Action    string      `db:"action"`
	Earliest  *time.Time  `db:"earliest"`
	Latest    *time.Time  `db:"latest"`
	Body      *string     `db:"body"`
	Through   []uuid.UUID `db:"through"` // the batch or supply that was used itself
	Words     *string     `db:"words"`
}

// WhereUsed is the three lists.
type WhereUsed struct {
	Certain          []Touched
	Possible         []Touched
	CannotBeExcluded []Touched
}

// WhereUsed traces a supply or a batch to the treatments that it touched:
// certain (lineage), possible (the material and the dates fit, no batch or
// supply recorded), and those whose words may mean the material.
func (s *Store) WhereUsed(ctx context.Context, institution uuid.UUID, kind record.Kind, id uuid.UUID) (WhereUsed, error) {
	known, err := s.Exists(ctx, institution, kind, id)
	if err != nil {
		return WhereUsed{}, err
	}
	if !known {
		return WhereUsed{}, fault.Of(fault.NotFound, string(kind)+"-unknown", "There is no such %s in this institution.", string(kind))
	}
	b := newBatch(institution)
	var w WhereUsed
	queue(b, &w.Certain, reachedCertainly, institution, id)
	queue(b, &w.Possible, materialsAndDates+reachedPossibly, institution, id)
	queue(b, &w.CannotBeExcluded, materialsAndDates+reachedByWords, institution, id)
	return w, s.run(ctx, b)
}

const touchedColumns = `t.id as treatment_id, survivor_of(t.institution_id, t.specimen_id) as specimen_id,
	(select i.value from specimen_identifier i where i.institution_id = t.institution_id and i.specimen_id = t.specimen_id order by i.position limit 1) as number,
	inheritors_of(t.institution_id, t.id, t.specimen_id) as parts, t.action, t.earliest, t.latest, e.body`

const reachedCertainly = `
	with recursive down(id) as (
		select $2::uuid
		union
		select i.batch_id from down join batch_input i
		    on i.institution_id = $1 and (i.from_batch_id = down.id or i.supply_id = down.id)
	)
	select ` + touchedColumns + `, array_agg(distinct down.id) as through, null::text as words
	  from down
	  join treatment_use u on u.institution_id = $1 and (u.batch_id = down.id or u.supply_id = down.id)
	  join treatment t on t.institution_id = $1 and t.id = u.treatment_id and not t.retracted
	  join entry e on e.institution_id = $1 and e.record_id = t.id and e.revision = t.revision
	 group by t.institution_id, t.id, t.specimen_id, t.action, t.earliest, t.latest, e.body
	 order by t.id limit 50000`

// What the supply or batch is made of, and from when on it can have been used.
const materialsAndDates = `
	with recursive up(id, kind) as (
		select $2::uuid, case when exists (select from supply where institution_id = $1 and id = $2) then 'supply' else 'batch' end
		union
		select coalesce(i.from_batch_id, i.supply_id), case when i.supply_id is null then 'batch' else 'supply' end
		  from up join batch_input i on i.institution_id = $1 and i.batch_id = up.id and up.kind = 'batch'
		 where num_nonnulls(i.from_batch_id, i.supply_id) = 1
	), materials as (
		select s.material_id from up join supply s on up.kind = 'supply' and s.institution_id = $1 and s.id = up.id where s.material_id is not null
		union
		select i.material_id from up join batch_input i on up.kind = 'batch' and i.institution_id = $1 and i.batch_id = up.id where i.material_id is not null
	), since as (
		select coalesce((select received from supply where institution_id = $1 and id = $2),
		                (select made_earliest from batch where institution_id = $1 and id = $2)) as day
	)`

const reachedPossibly = `
	select distinct on (t.id) ` + touchedColumns + `, '{}'::uuid[] as through, u.material_id as words
	  from materials m
	  join treatment_use u on u.institution_id = $1 and u.material_id = m.material_id
	  join treatment t on t.institution_id = $1 and t.id = u.treatment_id and not t.retracted
	  join entry e on e.institution_id = $1 and e.record_id = t.id and e.revision = t.revision
	  cross join since
	 where since.day is null or t.latest is null or t.latest >= since.day
	 order by t.id limit 50000`

const reachedByWords = `
	select distinct on (t.id) ` + touchedColumns + `, '{}'::uuid[] as through, u.words
	  from materials m
	  join treatment_use_candidate c on c.institution_id = $1 and c.material_id = m.material_id
	  join treatment_use u on u.institution_id = $1 and u.treatment_id = c.treatment_id and u.position = c.position
	  join treatment t on t.institution_id = $1 and t.id = u.treatment_id and not t.retracted
	  join entry e on e.institution_id = $1 and e.record_id = t.id and e.revision = t.revision
	  cross join since
	 where since.day is null or t.latest is null or t.latest >= since.day
	 order by t.id limit 50000`
