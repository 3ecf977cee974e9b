package httpapi

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"time"

	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/sheet"
	"meniscus/internal/wire"
)

// A table is the records of one kind for a spreadsheet: a row for each revision
// in force, or for every revision, and a column for each member of the kind's
// statement, as the contract lists them.
type table struct {
	*export
	kind record.Kind
	all  bool
}

// tableHead is what every table begins with.
var tableHead = []string{"id", "revision", "act", "place", "recordedAt", "recordedBy", "sourceSystem", "sourceRecordId", "reason"}

// columns are the members of a kind's statement, in the order of their names.
func (t *table) columns() []string {
	return slices.Sorted(maps.Keys(wire.StatementSchema(t.kind).Properties))
}

func (t *table) write(w io.Writer) error {
	out, columns := sheet.NewWriter(w), t.columns()
	if err := out.Write(slices.Concat(tableHead, columns)...); err != nil {
		return err
	}
	err := t.each(t.read, func(x postgres.Exported) error {
		if x.Kind != t.kind {
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

// read gives the pages that the table is made of.
func (t *table) read(ctx context.Context, after, upto int64, limit int) ([]postgres.Exported, bool, error) {
	if t.all {
		return t.call.tenant().Export(ctx, after, upto, limit)
	}
	return t.call.tenant().ExportStanding(ctx, t.kind, after, upto, limit)
}

// rowOf is an entry as a row. A text stands as it is, and everything else as
// JSON, with its digits.
func rowOf(x postgres.Exported, columns []string) ([]string, error) {
	row := []string{x.Record.String(), strconv.Itoa(x.Revision), string(x.Act), strconv.FormatInt(*x.Place, 10),
		x.RecordedAt.UTC().Format(time.RFC3339Nano), x.RecordedBy.String(), deref(x.System), deref(x.SystemID)}
	var words struct {
		Reason    string
		Statement map[string]json.RawMessage
	}
	if x.Body != nil {
		if err := json.Unmarshal([]byte(*x.Body), &words); err != nil {
			return nil, fmt.Errorf("reading entry %s: %w", x.EntryID, err)
		}
	}
	row = append(row, words.Reason)
	for _, column := range columns {
		row = append(row, cell(words.Statement[column]))
	}
	return row, nil
}

func cell(raw json.RawMessage) string {
	var text string
	if json.Unmarshal(raw, &text) == nil {
		return text
	}
	return string(raw)
}
