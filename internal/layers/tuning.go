package layers

import (
	"context"

	"meniscus/internal/postgres"
	"meniscus/internal/stack"
)

// TuningOf gives an institution's own severities, for a check.
func TuningOf(ctx context.Context, store postgres.Tenant) (stack.Tuning, error) {
	chosen, err := store.RuleTunings(ctx)
	tuning := stack.Tuning{}
	for _, t := range chosen {
		if _, known := stack.RuleByID(t.Rule); known { // a later release may have dropped it
			tuning[t.Rule] = stack.Tuned{Severity: stack.Severity(t.Severity), Reason: t.Reason}
		}
	}
	return tuning, err
}
