package postgres

import (
	"context"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/record"
)

// ReversibleFilter narrows the report of treatments that could be undone; what
// is zero does not narrow it.
type ReversibleFilter struct {
	From, Until   *time.Time // treatments that may have happened then
	Collection    string
	Material      string // layers that are or may be of it
	Area          string
	There, Gone   bool // by the layer's state
	Redissolvable string
}

// ReversibleRow is one layer, or a treatment that nobody has looked at yet.
type ReversibleRow struct {
	Treatment  uuid.UUID   `db:"treatment"`
	Position   int         `db:"position"` // −1 when nobody has looked yet
	Day        time.Time   `db:"day"`
	Specimen   uuid.UUID   `db:"specimen"`
	Number     *string     `db:"number"`
	Collection *string     `db:"collection"`
	Parts      []uuid.UUID `db:"parts"` // of the specimen, which inherited the treatment
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
	Place         *int64     `db:"as_of_seq"`
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
const standingSpecimen = `join specimen own on own.institution_id = $1 and own.id = t.specimen_id
		  join specimen sp on sp.institution_id = $1 and sp.id = case when own.merged_into is null then own.id else survivor_of($1, own.id) end`

// ReversibleTreatments gives a page of layers by date, after a row: at most
// limit. The date that a treatment without one stands at is NoDay.
func (s *Store) ReversibleTreatments(ctx context.Context, institution uuid.UUID, f ReversibleFilter, after ReversibleRow, limit int) ([]ReversibleRow, error) {
	w := f.where(institution)
	day, id, position := w.arg(after.Day), w.arg(after.Treatment), w.arg(after.Position)
	noDay, most := w.arg(NoDay), w.arg(limit)
	return collect[ReversibleRow](ctx, s, institution, `
		select t.id as treatment, coalesce(l.position, -1) as position, coalesce(t.earliest, `+noDay+`::date) as day, sp.id as specimen,
		       (select n.value from specimen_identifier n where n.institution_id = $1 and n.specimen_id = sp.id order by n.position limit 1) as number,
		       sp.collection, inheritors_of($1, t.id, t.specimen_id) as parts, t.action, t.earliest, t.latest,
		       array(select a.path from treatment_area a where a.institution_id = $1 and a.treatment_id = t.id order by a.path) as areas,
		       l.role, l.state, l.redissolvable, l.removable, l.retreatable, l.body, ss.as_of_seq, ss.computed_on,
		       f.block, f.warn, f.info
		  from treatment t
		  `+standingSpecimen+`
		  left join layer_state l on l.institution_id = $1 and l.treatment_id = t.id
		  left join specimen_state ss on ss.institution_id = $1 and ss.specimen_id = l.specimen_id and l.treatment_id is not null
		  cross join lateral (
			select count(*) filter (where severity = 'block')::int as block, count(*) filter (where severity = 'warn')::int as warn,
			       count(*) filter (where severity = 'info')::int as info
			  from finding where institution_id = $1 and record_id = t.id) as f
		 where `+w.sql()+` and (coalesce(t.earliest, `+noDay+`::date), t.id, coalesce(l.position, -1)) > (`+day+`::date, `+id+`::uuid, `+position+`::int)
		 order by 3, 1, 2 limit `+most, w.args...)
}

// treatments is what the report narrows treatments by, of one action if one is
// named.
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

// where gives the filter's conditions; a treatment that nobody has looked at is
// kept unless the filter asks for what only a look can tell.
func (f ReversibleFilter) where(institution uuid.UUID) *conditions {
	w := f.treatments("").where(institution)
	looked := `exists (select from treatment_check c where c.institution_id = $1 and c.treatment_id = t.id)`
	w.texts = append(w.texts, `t.action in `+leavesLayers, `(l.treatment_id is not null or not `+looked+`)`)
	if f.Collection != "" {
		w.and("sp.collection = ?", f.Collection)
	}
	if f.Material != "" {
		w.and(`exists (select from layer_material m where m.institution_id = $1 and m.treatment_id = t.id and m.position = l.position and m.material_id = ?)`, f.Material)
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
	Day       time.Time   `db:"day"`
	Specimen  uuid.UUID   `db:"specimen"`
	Number    *string     `db:"number"`
	Earliest  *time.Time  `db:"earliest"`
	Latest    *time.Time  `db:"latest"`
	Removed   []uuid.UUID `db:"removed"`
}

// Removals gives a page of removals by date, after one. Of a material, those
// that took a layer of it off.
func (s *Store) Removals(ctx context.Context, institution uuid.UUID, f ReversibleFilter, after ReportedRemoval, limit int) ([]ReportedRemoval, error) {
	w := f.treatments("removal").where(institution)
	if f.Collection != "" {
		w.and("sp.collection = ?", f.Collection)
	}
	if f.Material != "" {
		w.and(`exists (select from treatment_removes r join layer_material m on m.institution_id = $1 and m.treatment_id = r.removed_id
			where r.institution_id = $1 and r.treatment_id = t.id and m.material_id = ?)`, f.Material)
	}
	day, id, noDay, most := w.arg(after.Day), w.arg(after.Treatment), w.arg(NoDay), w.arg(limit)
	return collect[ReportedRemoval](ctx, s, institution, `
		select t.id as treatment, coalesce(t.earliest, `+noDay+`::date) as day, sp.id as specimen,
		       (select n.value from specimen_identifier n where n.institution_id = $1 and n.specimen_id = sp.id order by n.position limit 1) as number,
		       t.earliest, t.latest,
		       array(select r.removed_id from treatment_removes r where r.institution_id = $1 and r.treatment_id = t.id order by r.removed_id) as removed
		  from treatment t
		  `+standingSpecimen+`
		 where `+w.sql()+` and (coalesce(t.earliest, `+noDay+`::date), t.id) > (`+day+`::date, `+id+`::uuid)
		 order by 2, 1 limit `+most, w.args...)
}

// SpecimensWithoutRecord counts the specimens that are registered and stand, in a
// collection if one is named, and have no treatment in force, none of a record
// merged into them and none inherited.
func (s *Store) SpecimensWithoutRecord(ctx context.Context, institution uuid.UUID, collection string) (int, error) {
	type row struct{ N int }
	rows, err := collect[row](ctx, s, institution, `
		select count(*)::int as n from specimen sp
		 where sp.institution_id = $1 and not sp.retracted and sp.merged_into is null and ($2 = '' or sp.collection = $2)
		   and not exists (select from treatment t where t.institution_id = $1 and t.specimen_id = sp.id and not t.retracted)
		   and not exists (select from treatment t where t.institution_id = $1 and t.joined_to_id = sp.id and not t.retracted)
		   and not exists (select from treatments_on($1, sp.id) o where not o.retracted)`, institution, collection)
	if err != nil {
		return 0, err
	}
	return rows[0].N, nil
}
