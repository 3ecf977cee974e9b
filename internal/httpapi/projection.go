package httpapi

import (
	"errors"
	"fmt"

	"github.com/google/uuid"

	"meniscus/internal/ledger"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/statement"
)

// Projection reads a record's standing revision, and gives what brings the
// projections in line with it; nil where its words are gone.
func Projection(row postgres.Row) (func(*postgres.Projector), error) {
	if row.Act == ledger.Retracted {
		return func(p *postgres.Projector) { p.Retract(row.Kind) }, nil
	}
	reading, err := statement.OfEntry(row.Kind, row.Body)
	if errors.Is(err, statement.ErrRedacted) {
		return nil, nil
	}
	if err == nil {
		err = reading.Value.Check(row.Record)
	}
	if err != nil {
		return nil, fmt.Errorf("reading the statement: %w", err)
	}
	if row.Kind != record.KindSpecimen {
		return func(p *postgres.Projector) { p.Project(reading.Value) }, nil
	}
	into := mergedInto(row)
	return func(p *postgres.Projector) { p.Project(reading.Value); p.Merged(into) }, nil
}

// mergedInto is where a specimen's record went by one of its revisions, or the
// zero UUID.
func mergedInto(row postgres.Row) uuid.UUID {
	e, err := statement.OpenEntry(row.Body)
	if err != nil {
		return uuid.Nil
	}
	return deref(e.Merged)
}

// replayed gives what brings the projections in line with an entry of an export,
// after all that came before it: the way in which it was projected when it was
// recorded.
func replayed(e postgres.Exported) (func(*postgres.Projector), error) {
	switch {
	case e.Body == nil:
		return func(p *postgres.Projector) { p.Remain(e.Kind, e.Remains, e.Act == ledger.Retracted) }, nil
	case e.Act == ledger.Redacted:
		return nil, nil // the entries that it blanked hold what remains
	}
	project, err := Projection(e.Row)
	if err != nil || e.Kind != record.KindSpecimen || e.Act != ledger.Amended {
		return project, err
	}
	into := mergedInto(e.Row)
	if project == nil { // a merge or its undoing, of a record without words
		return func(p *postgres.Projector) { p.Merged(into) }, nil
	}
	return func(p *postgres.Projector) { p.Went(into); project(p) }, nil
}
