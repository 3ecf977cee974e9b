package httpapi

import (
	"errors"
	"fmt"

	"github.com/google/uuid"

	"meniscus/internal/ledger"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/statement"
	"meniscus/internal/wire"
)

// Projection reads a record's standing revision, and gives what brings the
// projections in line with it; nil where its words are gone and it says nothing
// else.
func Projection(row postgres.Row) (func(*postgres.Projector), error) {
	if row.Act == ledger.Retracted {
		return func(p *postgres.Projector) { p.Retract(row.Kind) }, nil
	}
	reading, err := statement.OfEntry(row.Kind, row.Body)
	if errors.Is(err, statement.ErrRedacted) {
		if row.Kind == record.KindSpecimen && row.Act == ledger.Amended && restated(row) {
			into := mergedInto(row) // a merge or its undoing, of a record without words
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
	into := mergedInto(row)
	return func(p *postgres.Projector) { p.Project(reading.Value); p.Merged(into) }, nil
}

// receivedFromOf is where an entry's words say that it came from; nil if it was
// recorded here first.
func receivedFromOf(body *string) *receivedFrom {
	var b entryBody
	if body == nil || wire.Decode([]byte(*body), &b) != nil {
		return nil
	}
	return b.Received
}

// restated tells whether an amendment says a reason: a revision that was received
// without its words says none, and changed nothing.
func restated(row postgres.Row) bool {
	var body entryBody
	return row.Body != nil && wire.Decode([]byte(*row.Body), &body) == nil && body.Reason != nil
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
	case e.Act == ledger.Redacted: // the entries that it blanked hold what remains
		return func(p *postgres.Projector) { p.Blanked(e.Kind) }, nil
	}
	project, err := Projection(e.Row)
	if err != nil || project == nil || e.Kind != record.KindSpecimen || e.Act != ledger.Amended {
		return project, err
	}
	into := mergedInto(e.Row)
	return func(p *postgres.Projector) { p.Went(into); project(p) }, nil
}
