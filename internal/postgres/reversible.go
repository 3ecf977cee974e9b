package postgres

import (
	"context"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/record"
)

// ReversibleFilter narrows the report of treatments that could be undone; zero fields
// do not narrow it.
type ReversibleFilter struct {
	From, Until   *time.Time // treatments that may have happened between them
	Collection    string
	Material      string // layers that are or may be of it
	Area          string
	There, Gone   bool // by the layer's state
	Redissolvable string
}

// ReversibleRow is one layer, or a treatment whose layers have not been computed yet.
type ReversibleRow struct {
	Treatment  uuid.UUID   `db:"treatment"`
	Position   int         `db:"position"` // −1 when the layers have not been computed
	Specimen   uuid.UUID   `db:"specimen"`
	Number     *string     `db:"number"`
	Collection *string     `db:"collection"`
	Parts      []uuid.UUID `db:"parts"` // parts of the specimen that inherited the treatment
	Action     string      `db:"action"`
	Earliest   *time.Time  `db:"earliest"`
	Latest     *time.Time  `db:"latest"`
	Areas      []string    `db:"areas"`

	Role          *string    `db:"role"`
	State         *string    `db:"state"`
	Redissolvable *string    `db:"redissolvable"`
	Removable     *string    `db:"removable"`
	Retreatable   *string    `db:"retreatable"`
	Body          *string    `db:"body"`
	Sequence      *int64     `db:"as_of_seq"`
	SetAside      bool       `db:"set_aside"` // the specimen's layers could not be computed
	ComputedOn    *time.Time `db:"computed_on"`

	Block int `db:"block"`
	Warn  int `db:"warn"`
	Info  int `db:"info"`
}

// leavesLayers are the actions that put material on or in a specimen.
const leavesLayers = `('consolidation','joining','coating','barrier','filling','retouching','labelling','mounting',
	'moulding','casting','fluid-change','pest-treatment','other')`

// standingSpecimen joins a treatment t to the record sp that stands for its
// specimen.
const standingSpecimen = `cross join lateral (select * from specimen where institution_id = $1 and id = t.specimen_id offset 0) own
		 cross join lateral (select * from specimen where institution_id = $1
		    and id = case when own.merged_into is null then own.id else survivor_of($1, own.id) end offset 0) sp`

// ReversibleWalk gives the next treatments of a walk by date that may belong in the
// report, and the new position of the walk.
func (s Tenant) ReversibleWalk(
	ctx context.Context, f ReversibleFilter, from Walk, treatments int,
) ([]uuid.UUID, Walk, error) {
	f.Area = "" // the layer's own row has its areas
	return s.walk(ctx, f.treatments(""), from, treatments, `t.action in `+leavesLayers)
}

// StaleAmong gives the specimens of these treatments whose layers were not computed on
// this day.
func (s Tenant) StaleAmong(ctx context.Context, treatments []uuid.UUID, day time.Time) ([]uuid.UUID, error) {
	found, err := collectByIndex[idRow](ctx, s, `
		select distinct ss.specimen_id as id from layer_state l
		  join specimen_state ss on ss.institution_id = $1 and ss.specimen_id = l.specimen_id and ss.computed_on <> $3
		  join specimen s on s.institution_id = $1 and s.id = ss.specimen_id and s.merged_into is null
		 where l.institution_id = $1 and l.treatment_id = any($2)
		   and not exists (select from set_aside a where a.institution_id = $1 and a.record_id = ss.specimen_id) order by id`,
		s.institution, treatments, day)
	ids := make([]uuid.UUID, len(found))
	for i, row := range found {
		ids[i] = row.ID
	}
	return ids, err
}

// ReversibleTreatments gives the layers of treatments that match a filter, by date. The
// result may be empty.
func (s Tenant) ReversibleTreatments(
	ctx context.Context, f ReversibleFilter, treatments []uuid.UUID,
) ([]ReversibleRow, error) {
	w := f.where(s.institution)
	w.and("t.id = any(?)", treatments)
	w.texts = append(w.texts, notWithheld)
	return collectByIndex[ReversibleRow](ctx, s, `
		select t.id as treatment, coalesce(l.position, -1) as position, sp.id as specimen,
		       (select n.value from specimen_identifier n where n.institution_id = $1 and n.specimen_id = sp.id
		         order by n.position limit 1) as number,
		       sp.collection, case when `+hasKin("t.specimen_id")+` then inheritors_of($1, t.id, t.specimen_id) end as parts,
		       t.action, t.earliest, t.latest,
		       coalesce(l.areas, array(select a.path from treatment_area a
		                                where a.institution_id = $1 and a.treatment_id = t.id order by a.path)) as areas,
		       l.role, l.state, l.redissolvable, l.removable, l.retreatable, l.body, ss.as_of_seq, ss.computed_on,
		       aside.record_id is not null as set_aside,
		       f.block, f.warn, f.info
		  from treatment t
		  `+standingSpecimen+`
		  left join set_aside aside on aside.institution_id = $1 and aside.record_id = sp.id
		  left join layer_state l on l.institution_id = $1 and l.treatment_id = t.id and aside.record_id is null
		  left join specimen_state ss on ss.institution_id = $1 and ss.specimen_id = l.specimen_id
		   and l.treatment_id is not null
		  cross join lateral (
			select count(*) filter (where severity = 'block')::int as block,
			       count(*) filter (where severity = 'warn')::int as warn,
			       count(*) filter (where severity = 'info')::int as info
			  from finding where institution_id = $1 and record_id = t.id) as f
		 where `+w.sql()+`
		 order by t.earliest, t.id, 2`, w.args...)
}

// Walk is a position in a walk through treatments by date; those without a known date
// come last. The zero Walk is the beginning.
type Walk struct {
	day     time.Time
	id      uuid.UUID
	undated bool
	// Ended says that there is nothing more.
	Ended bool
}

// walk gives the ids of the next treatments that match a filter. Each step continues in
// the index treatment_by_day where the last one ended, once for each reach, so that the
// thousandth costs as much as the first. Therefore conditions on other tables are not
// applied here.
func (s Tenant) walk(ctx context.Context, f Filter, from Walk, limit int, also ...string) ([]uuid.UUID, Walk, error) {
	type step struct {
		ID       uuid.UUID  `db:"id"`
		Earliest *time.Time `db:"earliest"`
	}
	w := f.conditions(s.institution)
	w.texts = append(w.texts, also...)
	order := "earliest, id"
	reached, days, ids := append([]int{0}, reaches...), []time.Time{}, []uuid.UUID{}
	for _, reach := range reached { // where the step begins in the index
		day, id := from.day, from.id
		if first, bounded := f.By["from"].(time.Time); bounded && reach > 0 {
			if before := first.AddDate(0, 0, -reach); !before.Before(day) {
				day, id = before, uuid.Max
			}
		}
		days, ids = append(days, day), append(ids, id)
	}
	if from.undated {
		w.texts = append(w.texts, "t.earliest is null", "t.id > r.id")
		order, reached, days, ids = "id", []int{0}, days[:1], ids[:1]
	} else {
		w.texts = append(w.texts, "t.earliest is not null", "(t.earliest, t.id) > (r.day, r.id)")
	}
	if until := f.By["until"]; until != nil && !from.undated {
		w.and("t.earliest <= ?::date", until)
	}
	atMost := w.arg(limit)
	steps, err := collectByIndex[step](ctx, s, `
		select t.id, t.earliest
		  from unnest(`+w.arg(reached)+`::int[], `+w.arg(days)+`::date[], `+w.arg(ids)+`::uuid[]) as r(reach, day, id)
		 cross join lateral (
			select t.id, t.earliest from treatment t where t.reach = r.reach and `+w.sql()+`
			 order by t.earliest, t.id limit `+atMost+`) t
		 order by `+order+` limit `+atMost, w.args...)
	if err != nil {
		return nil, from, err
	}
	found := make([]uuid.UUID, len(steps))
	for i, x := range steps {
		found[i] = x.ID
	}
	switch {
	case len(steps) < limit && from.undated:
		return found, Walk{Ended: true}, nil
	case len(steps) < limit:
		return found, Walk{undated: true}, nil
	}
	last := steps[limit-1]
	next := Walk{id: last.ID, undated: from.undated}
	if last.Earliest != nil {
		next.day = *last.Earliest
	}
	return found, next, nil
}

// treatments gives the report's filter of treatments, for one action if one is given.
func (f ReversibleFilter) treatments(action string) Filter {
	by := map[string]any{}
	if f.From != nil {
		by["from"] = *f.From
	}
	if f.Until != nil {
		by["until"] = *f.Until
	}
	if f.Area != "" {
		by["area"] = f.Area
	}
	if action != "" {
		by["action"] = action
	}
	return Filter{Kind: record.KindTreatment, By: by}
}

// where gives the filter's conditions; a treatment whose layers have not been computed
// is kept unless the filter needs them.
func (f ReversibleFilter) where(institution uuid.UUID) *conditions {
	area := f.Area
	f.Area = ""
	w := f.treatments("").where(institution)
	if area != "" {
		w.and(`case when l.treatment_id is null then `+touching("treatment", "t.id")+` else l.areas = '{}' or exists (
			select from unnest(l.areas) as a(path) where `+overlapping+`) end`, area)
	}
	looked := `exists (select from treatment_check c where c.institution_id = $1 and c.treatment_id = t.id)`
	w.texts = append(w.texts, `t.action in `+leavesLayers, `(l.treatment_id is not null or aside.record_id is not null
		or not `+looked+`)`)
	if f.Collection != "" {
		w.and("sp.collection = ?", f.Collection)
	}
	if f.Material != "" {
		w.and(`exists (select from layer_material m where m.institution_id = $1 and m.treatment_id = t.id
			and m.position = l.position and m.material_id = ?)`, f.Material)
	}
	switch {
	case f.There:
		w.texts = append(w.texts, `l.state not in ('not-detected', 'should-have-sublimed')`)
	case f.Gone:
		w.texts = append(w.texts, `l.state in ('not-detected', 'should-have-sublimed')`)
	}
	if f.Redissolvable != "" {
		w.and("l.redissolvable = ?", f.Redissolvable)
	}
	return w
}

// ReportedRemoval is a removal and what it took off.
type ReportedRemoval struct {
	Treatment uuid.UUID   `db:"treatment"`
	Specimen  uuid.UUID   `db:"specimen"`
	Number    *string     `db:"number"`
	Earliest  *time.Time  `db:"earliest"`
	Latest    *time.Time  `db:"latest"`
	Removed   []uuid.UUID `db:"removed"`
}

// Removals gives the next removals of a walk, as ReversibleTreatments does. With a
// material in the filter, it gives those that removed a layer of it.
func (s Tenant) Removals(
	ctx context.Context, f ReversibleFilter, from Walk, limit int,
) ([]ReportedRemoval, Walk, error) {
	ids, next, err := s.walk(ctx, f.treatments("removal"), from, limit)
	if err != nil || len(ids) == 0 {
		return nil, next, err
	}
	w := f.treatments("removal").where(s.institution)
	w.and("t.id = any(?)", ids)
	w.texts = append(w.texts, notWithheld)
	if f.Collection != "" {
		w.and("sp.collection = ?", f.Collection)
	}
	if f.Material != "" {
		w.and(`exists (select from treatment_removes r
		                 join layer_material m on m.institution_id = $1 and m.treatment_id = r.removed_id
			where r.institution_id = $1 and r.treatment_id = t.id and m.material_id = ?)`, f.Material)
	}
	rows, err := collectByIndex[ReportedRemoval](ctx, s, `
		select t.id as treatment, sp.id as specimen,
		       (select n.value from specimen_identifier n where n.institution_id = $1 and n.specimen_id = sp.id
		         order by n.position limit 1) as number,
		       t.earliest, t.latest,
		       array(select r.removed_id from treatment_removes r where r.institution_id = $1 and r.treatment_id = t.id
		              order by r.removed_id) as removed
		  from treatment t
		  `+standingSpecimen+`
		 where `+w.sql()+`
		 order by t.earliest, t.id`, w.args...)
	return rows, next, err
}

// SpecimensWithoutRecord counts the specimens that are registered and stand, in a
// collection if one is named, and have no treatment in force, none of a record
// merged into them and none inherited. Only those that other records tell of are asked
// for what these say.
func (s Tenant) SpecimensWithoutRecord(ctx context.Context, collection string) (int, error) {
	type row struct{ N int }
	rows, err := collect[row](ctx, s, `
		with bare as materialized (
			select sp.id, sp.parent_id from specimen sp
			 where sp.institution_id = $1 and not sp.retracted and sp.merged_into is null and ($2 = '' or sp.collection = $2)
			   and not exists (select from treatment t
			                    where t.institution_id = $1 and t.specimen_id = sp.id and not t.retracted)
			   and not exists (select from treatment t
			                    where t.institution_id = $1 and t.joined_to_id = sp.id and not t.retracted))
		select count(*)::int as n from bare
		 where case when parent_id is null
		             and not exists (select from specimen m where m.institution_id = $1 and m.merged_into = bare.id)
		            then true
		            else not exists (select from treatments_on($1, bare.id) o where not o.retracted) end`, s.institution, collection)
	if err != nil {
		return 0, err
	}
	return rows[0].N, nil
}
