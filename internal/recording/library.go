package recording

import (
	"bytes"
	"context"
	"log/slog"

	"github.com/google/uuid"

	"meniscus/internal/fault"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/statement"
)

// Library gives the materials that institutions know, and remembers them.
type Library struct {
	store *postgres.Store
	log   *slog.Logger
	kept  *postgres.Remembered[uuid.UUID, keptMaterials]
}

// keptMaterials are an institution's materials, and the version of its own ones.
type keptMaterials struct {
	version []byte
	base    *material.Base
}

// mostLibraries is of how many institutions the materials are remembered.
const mostLibraries = 16

// NewLibrary makes a library of what a store has; log takes what is left out.
func NewLibrary(store *postgres.Store, log *slog.Logger) Library {
	return Library{store, log, postgres.Remember[uuid.UUID, keptMaterials](mostLibraries)}
}

// Of gives an institution's materials: its own override the built-in ones. What is remembered
// is a premise of the request (postgres.Relying), or its version is asked for.
func (l Library) Of(ctx context.Context, institution uuid.UUID) (*material.Base, error) {
	store := l.store.For(institution)
	kept, known := l.kept.Of(institution)
	if known && store.RelyOnMaterials(ctx, kept.version) {
		return kept.base, nil
	}
	version, err := store.VersionOfMaterials(ctx) // before they are read, so that they are no older
	if err != nil {
		return nil, err
	}
	if known && bytes.Equal(version, kept.version) {
		return kept.base, nil
	}
	own, err := l.ownMaterials(ctx, institution)
	if err != nil {
		return nil, err
	}
	base, err := material.Builtin().With(own)
	if err != nil {
		return nil, err
	}
	l.kept.Put(institution, keptMaterials{version, base})
	return base, nil
}

// ownMaterials reads an institution's own materials. One that this release no longer
// accepts is left out and logged.
func (l Library) ownMaterials(ctx context.Context, institution uuid.UUID) ([]material.OwnMaterial, error) {
	const pageSize = 500
	var own []material.OwnMaterial
	after := uuid.Nil
	for {
		rows, more, err := l.store.For(institution).List(ctx, postgres.Filter{Kind: record.KindMaterial}, after, pageSize)
		if err != nil {
			return nil, err
		}
		for _, row := range rows {
			m, err := readOwn(row)
			if err != nil {
				l.log.Warn("own material left out", "record", row.Record, "error", err)
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
