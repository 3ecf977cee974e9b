package layers

import (
	"context"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/edtf"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/shelf"
	"meniscus/internal/stack"
	"meniscus/internal/values"
)

// Proposed reads a treatment that is not on record as one that would be carried
// out on a day, if it has no date of its own, with what is then in the supplies
// and batches that it would use.
func Proposed(ctx context.Context, store *postgres.Store, institution uuid.UUID, id string, st *api.TreatmentStatement, base *material.Base, day edtf.Day) (stack.Treatment, error) {
	used := stockUsed(st)
	var rows postgres.Shelf
	if len(used) > 0 {
		var err error
		if rows, err = store.ShelfBehind(ctx, institution, used); err != nil {
			return stack.Treatment{}, err
		}
	}
	on := shelf.Read(base, rows)
	on.Propose(id, st, day)
	return Treatment(id, st, on), nil
}

// stockUsed gives the supplies and batches that a treatment names.
func stockUsed(st *api.TreatmentStatement) []uuid.UUID {
	var ids []uuid.UUID
	for _, u := range deref(st.Materials) {
		ids = append(ids, stockOf(api.BatchInputFrom{Batch: u.Used.Batch, Supply: u.Used.Supply})...)
	}
	return ids
}

// CheckPlan looks at a plan's revision in force against what is on its specimen
// on a day, and gives the place up to which the record was read. A plan whose
// words are gone has no findings.
func CheckPlan(ctx context.Context, store *postgres.Store, institution uuid.UUID, plan postgres.Row, base *material.Base, tuning stack.Tuning, day edtf.Day) ([]postgres.Finding, int64, error) {
	var st api.PlanStatement
	if !values.Statement(plan.Body, &st) || st.Treatment.Specimen.Id == nil {
		return nil, 0, nil
	}
	specimen, err := store.Survivor(ctx, institution, *st.Treatment.Specimen.Id)
	if err != nil {
		return nil, 0, err
	}
	h, err := store.HistoryOf(ctx, institution, specimen)
	if err != nil {
		return nil, 0, err
	}
	s, err := stack.New(Config(specimen, h, base, day))
	if err != nil {
		return nil, 0, err
	}
	proposed, err := Proposed(ctx, store, institution, plan.Record.String(), &st.Treatment, base, day)
	if err != nil {
		return nil, 0, err
	}
	checked, err := s.Check(asStated(plan, proposed), stack.CheckConfig{Tuning: tuning})
	if err != nil {
		return nil, 0, err
	}
	return findingRows(checked), h.Place, nil
}
