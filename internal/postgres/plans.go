package postgres

import (
	"context"

	"github.com/google/uuid"

	"meniscus/internal/record"
)

// PlanFilter narrows a list of plans; what is zero does not narrow it.
type PlanFilter struct {
	Specimen   uuid.UUID
	Authorised *bool
}

// Plan projects a plan.
func (p *Projector) Plan(v record.Plan) {
	p.batch.Queue(`
		insert into plan (institution_id, id, revision, specimen_id, action, authorised) values ($1, $2, $3, $4, $5, $6)
		on conflict (id, institution_id) do update set revision = excluded.revision, retracted = false,
			specimen_id = excluded.specimen_id, action = excluded.action, authorised = excluded.authorised`,
		p.batch.institution, p.record, p.revision, v.Specimen, v.Action, v.Authorised)
}

// Plans gives the plans that a filter keeps, in the order of ids, after an id.
func (s *Store) Plans(ctx context.Context, institution uuid.UUID, f PlanFilter, after uuid.UUID, limit int) ([]Row, error) {
	w := &conditions{}
	w.and("t.institution_id = ?", institution)
	w.and("t.id > ?", after)
	if f.Specimen != uuid.Nil {
		w.and("t.specimen_id = ?", f.Specimen)
	}
	if f.Authorised != nil {
		w.and("t.authorised = ?", *f.Authorised)
	}
	return collect[Row](ctx, s, institution, `
		select `+entryColumns+`, null::bigint as seq
		  from plan t
		  join entry e on e.institution_id = t.institution_id and e.record_id = t.id and e.revision = t.revision
		 where not t.retracted and `+w.sql()+` order by t.id limit `+w.arg(limit), w.args...)
}
