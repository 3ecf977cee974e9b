package recording

import (
	"context"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
)

// MustStandAlone refuses to change a record that another one stands for.
func MustStandAlone(ctx context.Context, store postgres.Tenant, kind record.Kind, id uuid.UUID) error {
	if kind != record.KindSpecimen {
		return nil
	}
	standing, err := store.StandingOf(ctx, []uuid.UUID{id})
	if err == nil && standing[id].MergedInto != nil {
		err = MergedAlready(standing[id])
	}
	return err
}

// MergedAlready is the fault of changing a record that was merged into another.
func MergedAlready(of postgres.Standing) error {
	return &fault.Fault{Kind: fault.Conflict, Code: "specimen-merged",
		Detail: "This record was merged into another; undo the merge first, or change the record that stands for it.",
		Extra:  map[string]any{"mergedInto": api.Ref(*of.MergedInto)}}
}
