package layers

import (
	"context"
	"errors"

	"github.com/google/uuid"

	"meniscus/internal/edtf"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/recording"
	"meniscus/internal/stack"
	"meniscus/internal/statement"
)

// Proposed reads a treatment that is not on record as one that would be carried
// out on a day, if it has no date of its own, with what is then in the supplies
// and batches that it would use.
func Proposed(
	ctx context.Context, store postgres.Tenant, id string, t *record.Treatment, base *material.Base, day edtf.Day,
) (stack.Treatment, error) {
	used := stockUsed(t)
	var rows postgres.Shelf
	if len(used) > 0 {
		var err error
		if rows, err = store.ShelfBehind(ctx, used); err != nil {
			return stack.Treatment{}, err
		}
	}
	on, _ := recording.Book(base, rows) // unreadable records leave the layer unknown, and verify reports them
	on.Propose(id, t, day)
	return Treatment(id, t, on), nil
}

// stockUsed gives the supplies and batches that a treatment names.
func stockUsed(t *record.Treatment) []uuid.UUID {
	var ids []uuid.UUID
	for _, u := range t.Uses.Value {
		ids = append(ids, stockOf(u.Used)...)
	}
	return ids
}

// CheckPlan checks a plan's revision in force against what is on its specimen on a day,
// and gives the sequence number up to which the record was read. A plan whose words
// were redacted has no findings.
func CheckPlan(
	ctx context.Context, store postgres.Tenant, plan postgres.Row, base *material.Base, tuning stack.Tuning, day edtf.Day,
) ([]postgres.Finding, int64, error) {
	said, err := read[*record.Plan](plan.Kind, plan.Body)
	if errors.Is(err, statement.ErrRedacted) {
		return nil, 0, nil
	}
	if err != nil {
		return nil, 0, err
	}
	specimen, err := store.Survivor(ctx, said.Treatment.Specimen)
	if err != nil {
		return nil, 0, err
	}
	h, err := HistoryOf(ctx, store, specimen)
	if err != nil {
		return nil, 0, err
	}
	config, err := Bounded(ctx, specimen, h, base, day)
	if err != nil {
		return nil, 0, err
	}
	s, err := stack.New(config)
	if err != nil {
		return nil, 0, err
	}
	proposed, err := Proposed(ctx, store, plan.Record.String(), &said.Treatment, base, day)
	if err != nil {
		return nil, 0, err
	}
	checked, err := s.Check(proposed, stack.CheckConfig{Tuning: tuning})
	if err != nil {
		return nil, 0, err
	}
	return findingRows(checked), h.Sequence, nil
}
