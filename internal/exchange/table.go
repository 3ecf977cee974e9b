package exchange

import (
	"context"
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"time"

	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/sheet"
	"meniscus/internal/statement"
	"meniscus/internal/wire"
)

// tableHead is what every table begins with.
var tableHead = []string{"id", "revision", "act", "sequence", "recordedAt", "recordedBy",
	"sourceSystem", "sourceRecordId", "reason"}

// Table writes the records of one kind for a spreadsheet: a row for each revision
// in force, or for every revision, and a column for each member of the kind's
// statement, as the contract lists them, in the order of their names.
func (e *Export) Table(ctx context.Context, kind record.Kind, all bool, w io.Writer) error {
	out, columns := sheet.NewWriter(w), slices.Sorted(maps.Keys(wire.StatementSchema(kind).Properties))
	if err := out.Write(slices.Concat(tableHead, columns)...); err != nil {
		return err
	}
	err := e.each(ctx, e.tableOf(kind, all), func(x postgres.Exported) error {
		if x.Kind != kind {
			return nil
		}
		cells, err := rowOf(x, columns)
		if err != nil {
			return err
		}
		return out.Write(cells...)
	})
	if err != nil {
		return err
	}
	return out.Flush()
}

// tableOf gives the pages that a table is made of.
func (e *Export) tableOf(kind record.Kind, all bool) pages {
	if all {
		return e.store.Export
	}
	return func(ctx context.Context, after, upto int64, limit int) ([]postgres.Exported, bool, error) {
		return e.store.ExportStanding(ctx, kind, after, upto, limit)
	}
}

// rowOf is an entry as a row. A text stands as it is, and everything else as
// JSON, with its digits.
func rowOf(x postgres.Exported, columns []string) ([]string, error) {
	row := []string{x.Record.String(), strconv.Itoa(x.Revision), string(x.Act), strconv.FormatInt(*x.Sequence, 10),
		x.RecordedAt.UTC().Format(time.RFC3339Nano), x.RecordedBy.String(), deref(x.System), deref(x.SystemID)}
	reason, members, err := statement.Written(x.Body)
	if err != nil {
		return nil, fmt.Errorf("entry %s: %w", x.EntryID, err)
	}
	row = append(row, reason)
	for _, column := range columns {
		row = append(row, members[column])
	}
	return row, nil
}
