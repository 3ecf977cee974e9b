package recording

import (
	"context"
	"log/slog"

	"github.com/google/uuid"

	"meniscus/internal/fault"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/statement"
)

// Library gives the materials that institutions know.
type Library struct {
	Store *postgres.Store
	Log   *slog.Logger
}

// Of gives an institution's materials: its own override the built-in ones.
func (l Library) Of(ctx context.Context, institution uuid.UUID) (*material.Base, error) {
	own, err := l.ownMaterials(ctx, institution)
	if err != nil {
		return nil, err
	}
	return material.Builtin().With(own)
}

// ownMaterials reads an institution's own materials. One that this release no longer
// accepts is left out and logged.
func (l Library) ownMaterials(ctx context.Context, institution uuid.UUID) ([]material.OwnMaterial, error) {
	const pageSize = 500
	var own []material.OwnMaterial
	after := uuid.Nil
	for {
		rows, more, err := l.Store.For(institution).List(ctx, postgres.Filter{Kind: record.KindMaterial}, after, pageSize)
		if err != nil {
			return nil, err
		}
		for _, row := range rows {
			m, err := readOwn(row)
			if err != nil {
				l.Log.Warn("own material left out", "record", row.Record, "error", err)
				continue
			}
			own = append(own, m)
		}
		if !more {
			return own, nil
		}
		after = rows[len(rows)-1].Record
	}
}

func readOwn(row postgres.Row) (material.OwnMaterial, error) {
	reading, err := statement.OfEntry(record.KindMaterial, row.Body)
	if err != nil {
		return material.OwnMaterial{}, err
	}
	own := reading.Value.(*record.Material)
	own.ID = row.Record.String()
	return own.OwnMaterial, append(reading.Faults, fault.From(own.Check(row.Record))...).Err()
}
