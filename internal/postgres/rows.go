package postgres

import (
	"fmt"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgtype"
)

// A table is where rows are put. However many rows a batch puts into it, they go
// in one statement: of a chunk of an import that is one a table, and not eight a
// card.
type table struct {
	columns int
	insert  string // the first parameter is the institution, the others are a list for each column
}

// tables are all of them, in the order in which their rows go in.
var tables []*table

// newTable declares a table by its columns with their types, such as
// "path text"; the institution comes by itself. The rest of the statement says
// what is to be done about rows that are there. Lists do not go into lists: such
// a column travels as text ("layers text:uuid[]").
func newTable(name string, columns []string, rest string) *table {
	t := &table{columns: len(columns)}
	var names, read, lists []string
	for i, column := range columns {
		column, kind, _ := strings.Cut(column, " ")
		kind, into, turned := strings.Cut(kind, ":")
		value := "x." + column
		if turned {
			value += "::" + into
		}
		names, read, lists = append(names, column), append(read, value), append(lists, fmt.Sprintf("$%d::%s[]", i+2, kind))
	}
	all := strings.Join(names, ", ")
	t.insert = fmt.Sprintf(`
		insert into %s as t (institution_id, %s)
		select $1::uuid, %s from unnest(%s) with ordinality as x(%s, nth) order by x.nth
		%s`, name, all, strings.Join(read, ", "), strings.Join(lists, ", "), all, rest)
	tables = append(tables, t)
	return t
}

// rows are what a batch is to put into one table, column by column.
type rows struct {
	columns []pgtype.FlatArray[any]
	then    func(pgx.Rows) error // reads what the statement returns
}

// put adds a row. It goes before whatever else the batch is told to do next.
func (b *batch) put(t *table, values ...any) *rows {
	r := b.waiting[t]
	if r == nil {
		r = &rows{columns: make([]pgtype.FlatArray[any], t.columns)}
		if b.waiting == nil {
			b.waiting = map[*table]*rows{}
		}
		b.waiting[t] = r
	}
	for i, v := range values {
		r.columns[i] = append(r.columns[i], plain(v))
	}
	return r
}

// plain spares the encoder from asking each id how it wants to be stored.
func plain(v any) any {
	switch v := v.(type) {
	case uuid.UUID:
		return pgtype.UUID{Bytes: v, Valid: true}
	case *uuid.UUID:
		if v == nil {
			return pgtype.UUID{}
		}
		return pgtype.UUID{Bytes: *v, Valid: true}
	}
	return v
}

// flush queues the rows that wait, table by table.
func (b *batch) flush() {
	if len(b.waiting) == 0 {
		return
	}
	for _, t := range tables {
		r := b.waiting[t]
		if r == nil {
			continue
		}
		args := []any{b.institution}
		for _, column := range r.columns {
			args = append(args, column)
		}
		if q := b.Batch.Queue(t.insert, args...); r.then != nil {
			q.Query(r.then)
		}
	}
	clear(b.waiting)
}

// Queue adds a statement, after the rows that were put before it.
func (b *batch) Queue(sql string, args ...any) *pgx.QueuedQuery {
	b.flush()
	return b.Batch.Queue(sql, args...)
}
