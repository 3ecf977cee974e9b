package recording

import (
	"errors"
	"fmt"

	"meniscus/internal/ledger"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/statement"
)

// Projection reads a record's standing revision, and gives the function that brings the
// projections in line with it; nil where its words were redacted and it states nothing
// else.
func Projection(row postgres.Row) (func(*postgres.Projector), error) {
	if row.Act == ledger.Retracted {
		return func(p *postgres.Projector) { p.Retract(row.Kind) }, nil
	}
	reading, err := statement.OfEntry(row.Kind, row.Body)
	if errors.Is(err, statement.ErrRedacted) {
		if row.Kind == record.KindSpecimen && row.Act == ledger.Amended && restated(row) {
			into := statement.MergedInto(row.Body) // a merge or its undoing, of a record without words
			return func(p *postgres.Projector) { p.Merged(into) }, nil
		}
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
	into := statement.MergedInto(row.Body)
	return func(p *postgres.Projector) { p.Project(reading.Value); p.Merged(into) }, nil
}

// restated tells whether an amendment has a reason: a revision that was received
// without its words has none, and changed nothing.
func restated(row postgres.Row) bool {
	e, err := statement.OpenEntry(row.Body)
	return err == nil && e.Reason != nil
}

// Replayed gives the function that projects an entry of an export after all entries
// before it, in the same way as when it was recorded.
func Replayed(e postgres.Exported) (func(*postgres.Projector), error) {
	switch {
	case e.Body == nil:
		return func(p *postgres.Projector) { p.Remain(e.Kind, e.Remains, e.Act == ledger.Retracted) }, nil
	case e.Act == ledger.Redacted: // the entries that it blanked hold what remains
		return func(p *postgres.Projector) { p.Blanked(e.Kind) }, nil
	}
	project, err := Projection(e.Row)
	if err != nil || project == nil || e.Kind != record.KindSpecimen || e.Act != ledger.Amended {
		return project, err
	}
	into := statement.MergedInto(e.Row.Body)
	return func(p *postgres.Projector) { p.Went(into); project(p) }, nil
}
