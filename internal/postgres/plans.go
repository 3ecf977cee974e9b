package postgres

import "meniscus/internal/record"

// Plan projects a plan, as the treatment that it proposes.
func (p *Projector) Plan(v record.Plan) {
	earliest, latest := bounds(v.Date)
	p.batch.Queue(`
		insert into plan (institution_id, id, revision, specimen_id, joined_to_id, action, earliest, latest, authorised)
		values ($1, $2, $3, $4, $5, $6, $7, $8, $9)
		on conflict (id, institution_id) do update set revision = excluded.revision, retracted = false,
			specimen_id = excluded.specimen_id, joined_to_id = excluded.joined_to_id, action = excluded.action,
			earliest = excluded.earliest, latest = excluded.latest, authorised = excluded.authorised`,
		p.batch.institution, p.record, p.revision, v.Specimen, refOrNull(v.JoinedTo), v.Action, earliest, latest, v.Authorised)
	p.areas("plan", v.Areas)
	p.people("plan", v.People)
	p.uses("plan", v.Uses)
}
