package postgres

import (
	"fmt"
	"maps"
	"strings"

	"github.com/google/uuid"

	"meniscus/internal/edtf"
	"meniscus/internal/record"
)

// A kind is how the records of one kind are projected: its table, the columns with
// their values from the statement, and the filters of its lists.
type kind struct {
	table   *table
	name    string // of the table
	columns []column
	filters map[string]Narrowing
	// earliest is the column of the first day of the records' dates, if they have any: days.
	earliest string
}

// column is a column of a kind's table.
type column struct {
	name    string
	sort    string // its type in SQL
	value   func(record.Value) any
	filters map[string]Narrowing
	dates   bool // it is the first day of the record's date: days
}

// Narrowing is a filter of a list.
type Narrowing struct {
	Asks Asks
	// sql is the condition on t, the kind's table; ? stands for what is asked for and
	// $1 for the institution. One that asks nothing of the row but its id has {id} for that.
	sql string
	// ids is a query of the ids of the records that are kept, where there is one; there is then no sql.
	ids string
}

// among keeps the records whose ids a query gives.
func among(asks Asks, ids string) Narrowing { return Narrowing{Asks: asks, ids: ids} }

// on is the condition on a row with this id.
func (n Narrowing) on(id string) string {
	if n.ids != "" {
		return id + " in (" + n.ids + ")"
	}
	return strings.ReplaceAll(n.sql, "{id}", id)
}

// byID tells whether the condition asks nothing of the row but its id.
func (n Narrowing) byID() bool { return n.ids != "" || strings.Contains(n.sql, "{id}") }

// Asks is the type of a filter's value.
type Asks string

// The types of a filter's value.
const (
	AsksID     Asks = "id"
	AsksDay    Asks = "day"
	AsksText   Asks = "text"
	AsksNumber Asks = "number"
	AsksTruth  Asks = "truth"
)

// newKind declares the projection of one kind: a row of its table holds the id,
// the revision and these columns.
func newKind(name string, columns ...column) *kind {
	k := &kind{name: name, columns: columns, filters: map[string]Narrowing{}}
	declared := []string{"id uuid", "revision int"}
	update := "revision = excluded.revision, retracted = false"
	for _, c := range columns {
		declared = append(declared, c.name+" "+c.sort)
		update += fmt.Sprintf(", %s = excluded.%[1]s", c.name)
		maps.Copy(k.filters, c.filters)
		if c.dates {
			k.earliest = c.name
		}
	}
	k.table = newTable(name, declared, "on conflict (id, institution_id) do update set "+update)
	return k
}

// col declares a column such as "code text", and what a statement says there.
func col[V record.Value](declared string, value func(V) any) column {
	name, sort, _ := strings.Cut(declared, " ")
	return column{name: name, sort: sort, value: func(v record.Value) any { return value(v.(V)) }}
}

// by narrows lists by what the column holds, under the name that the contract
// gives the filter.
func (c column) by(filter string) column {
	asks := AsksText
	switch c.sort {
	case "uuid":
		asks = AsksID
	case "boolean":
		asks = AsksTruth
	case "double precision":
		asks = AsksNumber
	}
	c.filters = map[string]Narrowing{filter: {Asks: asks, sql: "t." + c.name + " = ?"}}
	return c
}

// days declares the two columns of a date's bounds, by which lists are narrowed:
// from and until keep what may have happened then, notBefore and notAfter what
// certainly did.
func days[V record.Value](earliest, latest string, date func(V) edtf.Date) []column {
	first := col(earliest+" date", func(v V) any { day, _ := bounds(date(v)); return day })
	last := col(latest+" date", func(v V) any { _, day := bounds(date(v)); return day })
	first.filters = map[string]Narrowing{
		"until":     {Asks: AsksDay, sql: fmt.Sprintf("(t.%s is null or t.%[1]s <= ?)", earliest)},
		"notBefore": {Asks: AsksDay, sql: "t." + earliest + " >= ?"},
	}
	first.dates = true
	last.filters = map[string]Narrowing{
		"from":     {Asks: AsksDay, sql: fmt.Sprintf("(t.%s is null or t.%[1]s >= ?)", latest)},
		"notAfter": {Asks: AsksDay, sql: "t." + latest + " <= ?"},
	}
	return []column{first, last}
}

// narrowed adds filters that need more than one column.
func (k *kind) narrowed(filters map[string]Narrowing) *kind {
	maps.Copy(k.filters, filters)
	return k
}

// Project brings the projections of the entry's record in line with what its
// statement says.
func (p *Projector) Project(v record.Value) {
	k := kinds[v.Kind()]
	row := []any{p.record, p.revision}
	for _, c := range k.columns {
		row = append(row, c.value(v))
	}
	if t, ok := v.(*record.Treatment); ok && !p.first {
		p.wasOn(t)
	}
	p.wasIn(v.Kind())
	p.batch.put(k.table, row...)
	p.rows(v)
}

// Narrowings are the filters of a kind's list, by the names of the contract.
func Narrowings(of record.Kind) map[string]Narrowing { return kinds[of].filters }

// texts is a list of texts as an array is written in SQL: Postgres has no arrays whose
// elements are arrays of different lengths.
func texts(list []string) string {
	quoted := make([]string, len(list))
	for i, text := range list {
		quoted[i] = `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(text) + `"`
	}
	return "{" + strings.Join(quoted, ",") + "}"
}

// ref is an id, or null for the zero UUID.
func ref(id uuid.UUID) any { return refOrNull(id) }
