package main

import (
	"context"
	"fmt"
	"strings"

	"github.com/jackc/pgx/v5"
)

// occupied is what a table and its indexes take on the disk.
type occupied struct {
	Name    string
	Rows    int64
	Table   int64 // bytes, with what is kept out of line
	Indexes int64 // bytes
}

// disk gives what each table takes, the largest first.
func (st *stage) disk(ctx context.Context) ([]occupied, error) {
	rows, err := st.super.Query(ctx, `
		select relname::text as name, greatest(reltuples, 0)::bigint as rows, pg_table_size(oid) as "table",
		       pg_indexes_size(oid) as indexes
		  from pg_class where relkind = 'r' and relnamespace = 'public'::regnamespace and reltuples > 0
		 order by pg_total_relation_size(oid) desc`)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowToStructByName[occupied])
}

// diskTable writes what a treatment takes, table by table, down to a hundredth of the whole.
func diskTable(tables []occupied, treatments int) string {
	var b strings.Builder
	var all int64
	for _, t := range tables {
		all += t.Table + t.Indexes
	}
	b.WriteString("| table | rows for each treatment | bytes for each treatment | of its indexes |\n| --- | --- | --- | --- |\n")
	for _, t := range tables {
		if t.Table+t.Indexes < all/100 {
			continue
		}
		fmt.Fprintf(&b, "| `%s` | %.2f | %.0f | %.0f |\n", t.Name, float64(t.Rows)/float64(treatments),
			float64(t.Table)/float64(treatments), float64(t.Indexes)/float64(treatments))
	}
	fmt.Fprintf(&b, "| all tables | | %.0f in all, of %d treatments | |\n", float64(all)/float64(treatments), treatments)
	return b.String()
}
