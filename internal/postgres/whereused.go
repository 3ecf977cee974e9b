package postgres

import (
	"context"
	"strconv"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/fault"
	"meniscus/internal/record"
)

// Whereabouts is what is needed to find where a supply or a batch was used: what it is
// made of, since when it exists, every batch that it may have gone into, and every
// treatment that it may have reached. It holds more than that: package stock decides
// which were reached.
type Whereabouts struct {
	Since      *time.Time
	Materials  []string
	Batches    []StockUse
	Treatments []StockUse
	// Whole tells whether these are all; More is how many batches were not read.
	Whole bool
	More  int
}

// Limits of what is read about where something may have been used.
const (
	mostHolding = 50_000  // how many batches may contain it
	mostUses    = 200_000 // uses by batches and treatments
)

// StockUse is one thing that went into a batch or was used by a treatment, with the
// dates of the batch or treatment. A batch without inputs has one row without a supply,
// batch or material.
type StockUse struct {
	By         uuid.UUID  `db:"by_id"`
	Earliest   *time.Time `db:"earliest"`
	Latest     *time.Time `db:"latest"`
	Supply     *uuid.UUID `db:"supply_id"`
	Batch      *uuid.UUID `db:"batch_id"`
	Material   *string    `db:"material_id"`
	Words      *string    `db:"words"`
	Candidates []string   `db:"candidates"`
	// Later says that a batch was topped up with it, between two days.
	Later      bool       `db:"later"`
	LaterFrom  *time.Time `db:"later_from"`
	LaterUntil *time.Time `db:"later_until"`
	Holding    int        `db:"holding"` // how many batches may contain it
}

// WhereaboutsOf gathers what is needed to find where a supply or a batch was used.
func (s Tenant) WhereaboutsOf(ctx context.Context, kind record.Kind, id uuid.UUID) (Whereabouts, error) {
	known, err := s.Exists(ctx, kind, id)
	if err != nil {
		return Whereabouts{}, err
	}
	if !known {
		return Whereabouts{}, fault.Of(fault.NotFound, string(kind)+"-unknown", "There is no such %s in this institution.",
			string(kind))
	}
	type day struct{ Day *time.Time }
	type material struct {
		ID string `db:"material_id"`
	}
	var since []day
	var materials []material
	var w Whereabouts
	b := newBatch(s.institution)
	queue(b, &since, `
		select coalesce((select received from supply where institution_id = $1 and id = $2),
		                (select made_earliest from batch where institution_id = $1 and id = $2)) as day`, s.institution, id)
	queue(b, &materials, upstream+`, `+madeOfMaterials+` select material_id from materials order by 1`, s.institution,
		[]uuid.UUID{id})
	queue(b, &w.Batches, upstream+`, `+madeOfMaterials+`, `+mayHold+`
		select b.id as by_id, b.made_earliest as earliest, b.made_latest as latest, w.supply_id, w.from_batch_id as batch_id,
		       w.material_id, w.words,
		       coalesce(w.candidates, '{}') as candidates, w.change_id is not null as later, w.earliest as later_from,
		       w.latest as later_until,
		       (select count(*) from holding) as holding
		  from hold cross join lateral (select * from batch where institution_id = $1 and id = hold.id offset 0) b
		  left join lateral (select * from went_into where institution_id = $1 and batch_id = b.id offset 0) w on true
		 order by b.id limit $3`, s.institution, []uuid.UUID{id}, mostUses+1)
	queue(b, &w.Treatments, upstream+`, `+madeOfMaterials+`, `+mayHold+`, `+mayBeReached+`
		select t.id as by_id, t.earliest, t.latest, u.supply_id, u.batch_id, u.material_id, u.words,
		       array(select c.material_id from treatment_use_candidate c
		              where c.institution_id = $1 and c.treatment_id = u.treatment_id
		                and c.position = u.position) as candidates,
		       false as later, null::date as later_from, null::date as later_until, 0 as holding
		  from (select distinct id from reached) r
		 cross join lateral (select * from treatment where institution_id = $1 and id = r.id and not retracted
		                        and not withheld($1, 'treatment', id) offset 0) t
		 cross join lateral (select * from treatment_use where institution_id = $1 and treatment_id = t.id offset 0) u
		 order by t.id, u.position limit $3`, s.institution, []uuid.UUID{id}, mostUses+1)
	if err := s.run(ctx, b); err != nil {
		return w, err
	}
	w.Since = since[0].Day
	if len(w.Batches) > 0 {
		w.More = max(0, w.Batches[0].Holding-mostHolding)
	}
	w.Whole = w.More == 0 && len(w.Batches) <= mostUses && len(w.Treatments) <= mostUses
	w.Batches, w.Treatments = w.Batches[:min(len(w.Batches), mostUses)], w.Treatments[:min(len(w.Treatments), mostUses)]
	for _, m := range materials {
		w.Materials = append(w.Materials, m.ID)
	}
	return w, nil
}

// madeOfMaterials is what the supplies and batches of up are made of.
const madeOfMaterials = `materials as (
		select s.material_id from up join supply s on s.institution_id = $1 and s.id = up.id where s.material_id is not null
		union
		select w.material_id from up join went_into w on w.institution_id = $1 and w.batch_id = up.id
		 where w.material_id is not null
	)`

// mayHold is every batch that may contain it: itself, batches with one of its materials
// or with words that may mean one, and what those went into. holding has all ids, and
// hold the first ones, up to the limit.
var mayHold = `holding(id) as (
		select unnest($2::uuid[])
		union
		select w.batch_id from materials m join went_into w on w.institution_id = $1 and w.material_id = m.material_id
		union
		select w.batch_id from went_into w where w.institution_id = $1 and w.words is not null
		   and (w.candidates = '{}' or w.candidates && array(select material_id from materials))
		union
		select n.id from holding cross join lateral (
			select w.batch_id as id from went_into w where w.institution_id = $1 and w.from_batch_id = holding.id
			union
			select w.batch_id from went_into w where w.institution_id = $1 and w.supply_id = holding.id
			order by 1) n
	), hold(id) as materialized (
		select id from holding limit ` + strconv.Itoa(mostHolding) + `
	)`

// mayBeReached is every treatment that used one of those batches, names one of the
// materials, or has words that may mean one or that are not interpreted yet.
//
// Each is looked up by index for each batch or material that was found: how many these
// are, Postgres cannot know, and for as many as it assumes it would read whole tables. The
// same holds of the other queries here (offset 0 keeps them apart).
const mayBeReached = `reached(id) as (
		select u.treatment_id from hold cross join lateral (
			select treatment_id from treatment_use where institution_id = $1 and batch_id = hold.id offset 0) u
		union all
		select u.treatment_id from treatment_use u where u.institution_id = $1 and u.supply_id = any($2)
		union all
		select u.treatment_id from materials m cross join lateral (
			select treatment_id from treatment_use where institution_id = $1 and material_id = m.material_id offset 0) u
		union all
		select c.treatment_id from materials m cross join lateral (
			select treatment_id from treatment_use_candidate
			 where institution_id = $1 and material_id = m.material_id offset 0) c
		union all
		select u.treatment_id from treatment_use u where u.institution_id = $1 and u.words is not null
		   and not exists (select from treatment_use_candidate c
		                    where c.institution_id = $1 and c.treatment_id = u.treatment_id and c.position = u.position)
	)`

// LatestUses are the treatments that used a batch itself, at most so many, those with the latest ids first.
func (s Tenant) LatestUses(ctx context.Context, batch uuid.UUID, limit int) ([]uuid.UUID, error) {
	type row struct{ TreatmentID uuid.UUID }
	rows, err := collect[row](ctx, s, `
		select distinct treatment_id from treatment_use where institution_id = $1 and batch_id = $2
		   and not withheld($1, 'treatment', treatment_id) order by treatment_id desc limit $3`, s.institution, batch, limit)
	ids := make([]uuid.UUID, len(rows))
	for i, r := range rows {
		ids[i] = r.TreatmentID
	}
	return ids, err
}

// WithheldTreatments are the treatments that are withheld from whom the context reads for, at most
// as many as a trace reads.
func (s Tenant) WithheldTreatments(ctx context.Context) ([]uuid.UUID, error) {
	if !Withholds(ctx) {
		return nil, nil
	}
	rows, err := collect[idRow](ctx, s, `
		select t.id from (`+restrictedOf(record.KindTreatment)+`) r
		 cross join lateral (select id from treatment where institution_id = $1 and id = r.id and not retracted offset 0) t
		 order by 1 limit $2`, s.institution, mostUses)
	ids := make([]uuid.UUID, len(rows))
	for i, row := range rows {
		ids[i] = row.ID
	}
	return ids, err
}

// Touched is what a list of treatments shows of each.
type Touched struct {
	Treatment uuid.UUID   `db:"treatment_id"`
	Specimen  uuid.UUID   `db:"specimen_id"`
	Parts     []uuid.UUID `db:"parts"` // parts of the specimen that inherited the treatment
	Number    *string     `db:"number"`
	Action    string      `db:"action"`
	Body      *string     `db:"body"`
}

// TouchedBy gives what a list shows of treatments, by id.
func (s Tenant) TouchedBy(ctx context.Context, treatments []uuid.UUID) (map[uuid.UUID]Touched, error) {
	rows, err := collectPlannedAnew[Touched](ctx, s, `
		with asked as materialized (
			select t.id, t.specimen_id, t.action, t.revision, `+hasKin("t.specimen_id")+` as kin
			  from unnest($2::uuid[]) as a(id)
			 cross join lateral (select * from treatment where institution_id = $1 and id = a.id offset 0) t
		)
		select t.id as treatment_id, stands.id as specimen_id,
		       (select i.value from specimen_identifier i where i.institution_id = $1 and i.specimen_id = stands.id
		         order by i.position limit 1) as number,
		       case when t.kin then inheritors_of($1, t.id, t.specimen_id) end as parts, t.action,
		       told('treatment', t.id, e.body) as body
		  from asked t
		 cross join lateral (select case when t.kin then survivor_of($1, t.specimen_id) else t.specimen_id end as id) as stands
		 cross join lateral (select body from entry
		                      where institution_id = $1 and record_id = t.id and revision = t.revision offset 0) e`,
		s.institution, treatments)
	found := make(map[uuid.UUID]Touched, len(rows))
	for _, r := range rows {
		found[r.Treatment] = r
	}
	return found, err
}

// hasKin tells of a specimen whether others were merged into it, it was merged, or it has
// parts or samples. Of most specimens none holds, and then functions that follow them need
// not be called.
func hasKin(id string) string {
	return `(exists (select from specimen k where k.institution_id = $1 and k.parent_id = ` + id + ` offset 0)
		or exists (select from specimen k where k.institution_id = $1 and k.merged_into = ` + id + ` offset 0)
		or exists (select from specimen k where k.institution_id = $1 and k.id = ` + id +
		` and k.merged_into is not null offset 0))`
}
