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
	"meniscus/internal/publish"
	"meniscus/internal/record"
	"meniscus/internal/sheet"
	"meniscus/internal/statement"
	"meniscus/internal/wire"
)

// tableHead are the first columns of every table, and wordsColumn is its last column.
var tableHead = []string{"id", "revision", "act", "sequence", "recordedAt", "recordedBy",
	"sourceSystem", "sourceRecordId", "reason"}

const wordsColumn = "statement"

// Told is an entry with what people read of it.
type Told struct {
	By      string         // who recorded it
	Members record.Members // of its statement; nil where the words are redacted or unreadable
}

// Tell gives a page of entries as people read them, in the same order, and what the ids
// in them mean.
type Tell func(ctx context.Context, page []postgres.Exported) ([]Told, publish.Known, error)

// Table writes the records of one kind for a spreadsheet: a row for each revision
// in force, or for every revision; a column for each member of the kind's
// statement, as the contract lists them, in the order of their names, with cells for
// people; and last the statement as it was sent.
func (e *Export) Table(ctx context.Context, kind record.Kind, all bool, tell Tell, w io.Writer) error {
	out, columns := sheet.NewWriter(w), slices.Sorted(maps.Keys(wire.StatementSchema(kind).Properties))
	if err := out.Write(slices.Concat(tableHead, columns, []string{wordsColumn})...); err != nil {
		return err
	}
	err := e.eachPage(ctx, e.tableOf(kind, all), func(page []postgres.Exported) error {
		page = slices.DeleteFunc(slices.Clone(page), func(x postgres.Exported) bool { return x.Kind != kind })
		told, known, err := tell(ctx, page)
		if err != nil {
			return fmt.Errorf("reading what entries name: %w", err)
		}
		for i, x := range page {
			if err := out.Write(rowOf(x, told[i], known, columns)...); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	return out.Flush()
}

// tableOf gives the function that reads the table's pages.
func (e *Export) tableOf(kind record.Kind, all bool) pages {
	if all {
		return e.store.Export
	}
	return func(ctx context.Context, after, upto int64, limit int) ([]postgres.Exported, bool, error) {
		return e.store.ExportStanding(ctx, kind, after, upto, limit)
	}
}

// rowOf is an entry as a row.
func rowOf(x postgres.Exported, told Told, known publish.Known, columns []string) []string {
	body, _ := statement.OpenEntry(x.Body) // unreadable bodies are reported where the statement is read
	row := []string{x.Record.String(), strconv.Itoa(x.Revision), string(x.Act), strconv.FormatInt(*x.Sequence, 10),
		x.RecordedAt.UTC().Format(time.RFC3339Nano), told.By, deref(x.System), deref(x.SystemID), deref(body.Reason)}
	for _, column := range columns {
		cell := ""
		if value := told.Members.At(column); value != nil {
			cell = publish.Cell(column, value, known)
		}
		row = append(row, cell)
	}
	return append(row, string(body.Statement))
}
