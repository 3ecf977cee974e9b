package postgres

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"
)

// TreatmentFilter narrows a list of treatments; what is zero does not narrow it.
type TreatmentFilter struct {
	Specimen uuid.UUID // on it, joined to it, or of a record that is part of its history
	Batch    uuid.UUID
	Supply   uuid.UUID
	Person   uuid.UUID
	Event    uuid.UUID
	Plan     uuid.UUID
	Action   string
	Material string // named, or a supply or batch of it, or made from one
	// Areas are an area and those that it lies in; Within is what the paths of
	// its parts begin with.
	Areas  []string
	Within string
	// From and Until keep what may have happened then, NotBefore and NotAfter
	// what certainly did.
	From, Until, NotBefore, NotAfter *time.Time
	// Retracted and InForce choose by state; neither means those in force.
	Retracted, InForce bool
}

// Treatments gives the treatments that a filter keeps, in the order of ids,
// after an id.
func (s *Store) Treatments(ctx context.Context, institution uuid.UUID, f TreatmentFilter, after uuid.UUID, limit int) ([]Row, error) {
	w := f.where(institution)
	w.and("t.id > ?", after)
	return collect[Row](ctx, s, institution, `
		select `+entryColumns+`, null::bigint as seq
		  from treatment t
		  join entry e on e.institution_id = t.institution_id and e.record_id = t.id and e.revision = t.revision
		 where `+w.sql()+` order by t.id limit `+w.arg(limit), w.args...)
}

// TreatmentsSince gives the treatments that a filter keeps whose latest revision
// was sealed at a moment or later, in the order of places, after a place. A
// treatment that is revised meanwhile moves to its new place: it may be met
// again, and is never missed.
func (s *Store) TreatmentsSince(ctx context.Context, institution uuid.UUID, f TreatmentFilter, since time.Time, after int64, limit int) ([]Row, error) {
	w := f.where(institution)
	w.and("p.institution_id = ?", institution)
	w.and("p.seq > ?", after)
	w.and(`p.seq > coalesce((select b.seq from place b where b.institution_id = p.institution_id and b.sealed_at < ? order by b.seq desc limit 1), 0)`, since)
	return collect[Row](ctx, s, institution, `
		select `+entryColumns+`, p.seq
		  from place p
		  join treatment t on t.institution_id = p.institution_id and t.id = p.record_id
		  join entry e on e.id = p.entry_id and e.institution_id = p.institution_id and e.revision = t.revision
		 where `+w.sql()+` order by p.seq limit `+w.arg(limit), w.args...)
}

// conditions are the conditions of a query with their arguments.
type conditions struct {
	texts []string
	args  []any
}

// arg adds an argument and gives its place.
func (w *conditions) arg(v any) string {
	w.args = append(w.args, v)
	return fmt.Sprintf("$%d", len(w.args))
}

// and adds a condition; each ? stands for the one argument.
func (w *conditions) and(condition string, v any) {
	w.texts = append(w.texts, strings.ReplaceAll(condition, "?", w.arg(v)))
}

func (w *conditions) sql() string { return strings.Join(w.texts, " and ") }

// where gives the filter's conditions on treatment t; $1 is the institution.
func (f TreatmentFilter) where(institution uuid.UUID) *conditions {
	w := &conditions{}
	w.and("t.institution_id = ?", institution)
	switch {
	case f.Retracted && f.InForce:
	case f.Retracted:
		w.texts = append(w.texts, "t.retracted")
	default:
		w.texts = append(w.texts, "not t.retracted")
	}
	f.byReference(w)
	f.byDate(w)
	if f.Action != "" {
		w.and("t.action = ?", f.Action)
	}
	if f.Material != "" {
		w.and(ofMaterial, f.Material)
	}
	if len(f.Areas) > 0 {
		within := w.arg(f.Within)
		w.and(`(not exists (select from treatment_area a where a.institution_id = $1 and a.treatment_id = t.id)
			or exists (select from treatment_area a where a.institution_id = $1 and a.treatment_id = t.id
				and (a.path = any(?) or a.path ^@ `+within+`)))`, f.Areas)
	}
	return w
}

func (f TreatmentFilter) byReference(w *conditions) {
	for _, r := range []struct {
		id        uuid.UUID
		condition string
	}{
		{f.Specimen, "t.id in (select o.id from treatments_on($1, ?) o)"},
		{f.Event, "t.event_id = ?"},
		{f.Plan, "t.plan_id = ?"},
		{f.Batch, "t.id in (select u.treatment_id from treatment_use u where u.institution_id = $1 and u.batch_id = ?)"},
		{f.Supply, "t.id in (select u.treatment_id from treatment_use u where u.institution_id = $1 and u.supply_id = ?)"},
		{f.Person, "t.id in (select w.treatment_id from treatment_person w where w.institution_id = $1 and w.person_id = ?)"},
	} {
		if r.id != uuid.Nil {
			w.and(r.condition, r.id)
		}
	}
}

func (f TreatmentFilter) byDate(w *conditions) {
	for _, r := range []struct {
		day       *time.Time
		condition string
	}{
		{f.From, "(t.latest is null or t.latest >= ?)"},
		{f.Until, "(t.earliest is null or t.earliest <= ?)"},
		{f.NotBefore, "t.earliest >= ?"},
		{f.NotAfter, "t.latest <= ?"},
	} {
		if r.day != nil {
			w.and(r.condition, *r.day)
		}
	}
}

// ofMaterial follows a material into its supplies and what was made from them.
const ofMaterial = `t.id in (
	with recursive jar(id) as (
		select s.id from supply s where s.institution_id = $1 and s.material_id = ?
	), made(id) as (
		select i.batch_id from batch_input i where i.institution_id = $1 and i.material_id = ?
		union
		select i.batch_id from jar join batch_input i on i.institution_id = $1 and i.supply_id = jar.id
	), down(id) as (
		select id from made
		union
		select i.batch_id from down join batch_input i on i.institution_id = $1 and i.from_batch_id = down.id
	)
	select u.treatment_id from treatment_use u where u.institution_id = $1 and u.material_id = ?
	union
	select u.treatment_id from jar join treatment_use u on u.institution_id = $1 and u.supply_id = jar.id
	union
	select u.treatment_id from down join treatment_use u on u.institution_id = $1 and u.batch_id = down.id)`
