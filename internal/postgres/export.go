package postgres

import (
	"context"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/record"
)

// Exported is an entry with everything that is needed to restore it.
type Exported struct {
	Fact
	SealedAt time.Time `db:"sealed_at"`
	// Remains is what the projections hold of a record, as JSON, where the
	// entry's own words are gone.
	Remains *string `db:"remains"`
}

const exportedColumns = entryColumns + `, p.seq, e.nonce, p.sealed_at,
	case when e.body is null then remains_of(e.institution_id, e.kind, e.record_id)::text end as remains`

// Export gives the entries after a place, up to another, in order, at most
// limit.
func (s Tenant) Export(ctx context.Context, after, upto int64, limit int) ([]Exported, error) {
	return collect[Exported](ctx, s, `
		select `+exportedColumns+`
		  from place p `+ofPlace+`
		 where p.institution_id = $1 and p.seq > $2 and p.seq <= $3
		 order by p.seq limit $4`, s.institution, after, upto, limit)
}

// ExportStanding gives the revisions in force of the records of one kind, in the
// order of their places, as Export does. A redaction is no revision that could
// be in force.
func (s Tenant) ExportStanding(ctx context.Context, kind record.Kind, after, upto int64, limit int) ([]Exported, error) {
	return collect[Exported](ctx, s, `
		select `+entryColumns+`, p.seq, e.nonce, p.sealed_at, null::text as remains
		  from place p `+ofPlace+`
		 where p.institution_id = $1 and p.seq > $2 and p.seq <= $3 and e.kind = $4 and e.act <> 'redacted'
		   and not exists (select from entry n where n.institution_id = e.institution_id and n.record_id = e.record_id
		                      and n.revision > e.revision and n.act <> 'redacted')
		 order by p.seq limit $5`, s.institution, after, upto, kind, limit)
}

// ChosenSeverity is a choice of an institution's own severities, with its id.
type ChosenSeverity struct {
	ID uuid.UUID `db:"id"`
	RuleTuning
}

// ChosenSeverities gives every choice that was ever made, in the order of their
// ids, after one.
func (s Tenant) ChosenSeverities(ctx context.Context, after uuid.UUID, limit int) ([]ChosenSeverity, error) {
	return collect[ChosenSeverity](ctx, s, `
		select id, rule, severity, reason, chosen_by, chosen_at from rule_tuning
		 where institution_id = $1 and id > $2 order by id limit $3`, s.institution, after, limit)
}
