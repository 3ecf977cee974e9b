package postgres

import (
	"slices"

	"meniscus/internal/record"
)

// plan projects a plan, as the treatment that it proposes; its people are those
// who would do it and those who propose it.
func (p *Projector) plan(v *record.Plan) {
	t := &v.Treatment
	earliest, latest := bounds(t.Date.Value)
	p.batch.Queue(`
		insert into plan (institution_id, id, revision, specimen_id, joined_to_id, action, earliest, latest, authorised)
		values ($1, $2, $3, $4, $5, $6, $7, $8, $9)
		on conflict (id, institution_id) do update set revision = excluded.revision, retracted = false,
			specimen_id = excluded.specimen_id, joined_to_id = excluded.joined_to_id, action = excluded.action,
			earliest = excluded.earliest, latest = excluded.latest, authorised = excluded.authorised`,
		p.batch.institution, p.record, p.revision, t.Specimen, refOrNull(t.JoinedTo), string(t.Action), earliest, latest, v.Authorisation.Given)
	p.areas("plan", t.Areas.Value)
	p.people("plan", slices.Concat(t.People, v.ProposedBy))
	p.uses("plan", t.Uses.Value)
}
