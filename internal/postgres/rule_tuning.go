package postgres

import (
	"context"
	"time"

	"github.com/google/uuid"
)

// RuleTuning is an institution's own severity of one rule.
type RuleTuning struct {
	Rule     string    `db:"rule"`
	Severity string    `db:"severity"`
	Reason   string    `db:"reason"`
	By       uuid.UUID `db:"chosen_by"`
	At       time.Time `db:"chosen_at"`
}

// RuleTunings gives the choices in force: the last one of each rule, in the order of the rules'
// names.
func (s Tenant) RuleTunings(ctx context.Context) ([]RuleTuning, error) {
	return collect[RuleTuning](ctx, s, `
		select distinct on (rule_named(rule)) rule_named(rule) as rule, severity, reason, chosen_by, chosen_at
		  from rule_tuning where institution_id = $1 order by rule_named(rule), id desc`, s.institution)
}

// TuneRule adds a choice.
func (s Tenant) TuneRule(ctx context.Context, id uuid.UUID, t RuleTuning) error {
	b := newBatch(s.institution)
	b.Queue(`insert into rule_tuning (institution_id, rule, id, severity, reason, chosen_by)
		values ($1, $2, $3, $4, $5, $6)`,
		s.institution, t.Rule, id, t.Severity, t.Reason, t.By)
	return s.run(ctx, b)
}
