package postgres

import (
	"fmt"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgtype"
)

// A table is where rows are put. All rows that a batch puts into it go in one
// statement: a chunk of an import needs one statement for each table, instead of eight
// for each card.
type table struct {
	columns int
	insert  string // parameters: the institution, then a list for each column
}

// tables are all tables, in the order in which their rows are inserted.
var tables []*table

// newTable declares a table by its columns with their types, such as "path text"; the
// institution's column is added to them. The rest of the statement says what to do
// about rows that exist. A column of lists is sent as text ("layers text:uuid[]"),
// because a parameter cannot be a list of lists.
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

// put adds a row. It is inserted before the statements that are queued after it.
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

// plain converts an id to its pgtype, so that the encoder need not look up how to
// encode it.
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

// flush queues the rows that were put, table by table.
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
