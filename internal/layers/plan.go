package layers

import (
	"context"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/edtf"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/stack"
)

// Proposed reads a treatment that is not on record as one, with the contents of
// the supplies and batches that it would use.
func Proposed(ctx context.Context, store *postgres.Store, institution uuid.UUID, id string, st *api.TreatmentStatement, base *material.Base) (stack.Treatment, error) {
	var batches, supplies []uuid.UUID
	for _, u := range deref(st.Materials) {
		if u.Used.Batch != nil {
			batches = append(batches, u.Used.Batch.Id)
		}
		if u.Used.Supply != nil {
			supplies = append(supplies, u.Used.Supply.Id)
		}
	}
	var rows []postgres.Row
	if len(batches)+len(supplies) > 0 {
		var err error
		if rows, err = store.StockBehind(ctx, institution, batches, supplies); err != nil {
			return stack.Treatment{}, err
		}
	}
	return Treatment(id, st, ReadMixtures(rows, base)), nil
}

// CheckPlan looks at a plan's revision in force against what is on its specimen
// on a day, and gives the place up to which the record was read. A plan whose
// words are gone has no findings.
func CheckPlan(ctx context.Context, store *postgres.Store, institution uuid.UUID, plan postgres.Row, base *material.Base, tuning stack.Tuning, day edtf.Day) ([]postgres.Finding, int64, error) {
	var st api.PlanStatement
	if !read(plan, &st) || st.Treatment.Specimen.Id == nil {
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
	proposed, err := Proposed(ctx, store, institution, plan.Record.String(), &st.Treatment, base)
	if err != nil {
		return nil, 0, err
	}
	checked, err := s.Check(proposed, stack.CheckConfig{Tuning: tuning})
	if err != nil {
		return nil, 0, err
	}
	return findingRows(checked), h.Place, nil
}
