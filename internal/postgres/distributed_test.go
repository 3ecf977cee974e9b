package postgres_test

import (
	"context"
	"encoding/json"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"meniscus/internal/pgtest"
	"meniscus/internal/postgres"
)

// What a database that is spread over machines by the institution asks of the schema: each unique
// index has the institution, and what refers to a row refers to one of the same institution.
func TestInstitutionIsInEveryUniqueIndexAndReference(t *testing.T) {
	t.Parallel()
	known := []string{"goose_db_version", "institution", "unsealed"} // see TestInstitutionIsInEveryPrimaryKey
	for _, index := range tables(t, `
		select c.relname || ': ' || i.indexrelid::regclass from pg_index i join pg_class c on c.oid = i.indrelid
		 where i.indisunique and c.relkind = 'r' and c.relnamespace = 'public'::regnamespace
		   and not exists (select from pg_attribute a where a.attrelid = c.oid and a.attname = 'institution_id'
		                      and a.attnum = any(i.indkey))`) {
		if table, _, _ := strings.Cut(index, ":"); !slices.Contains(known, table) {
			t.Errorf("a unique index is without the institution: %s", index)
		}
	}
	for _, reference := range tables(t, `
		select k.conrelid::regclass || ' ' || k.conname from pg_constraint k
		 where k.contype = 'f' and k.confrelid <> 'institution'::regclass and not exists (
			select from unnest(k.conkey, k.confkey) as x(here, there)
			  join pg_attribute a on a.attrelid = k.conrelid and a.attnum = x.here and a.attname = 'institution_id'
			  join pg_attribute b on b.attrelid = k.confrelid and b.attnum = x.there and b.attname = 'institution_id')`) {
		t.Errorf("a reference is without the institution: %s", reference)
	}
}

// explained is a node of a plan.
type explained struct {
	Type       string `json:"Node Type"`
	Relation   string `json:"Relation Name"`
	Alias      string
	Conditions []string
	Plans      []explained
}

func (e *explained) UnmarshalJSON(data []byte) error {
	type plain explained
	var texts map[string]any
	if err := json.Unmarshal(data, (*plain)(e)); err != nil {
		return err
	}
	if err := json.Unmarshal(data, &texts); err != nil {
		return err
	}
	for name, text := range texts {
		if text, ok := text.(string); ok && (strings.HasSuffix(name, "Cond") || strings.HasSuffix(name, "Filter")) {
			e.Conditions = append(e.Conditions, text)
		}
	}
	return nil
}

// unbound gives the scans of those tables below a node that neither their own conditions nor those of
// the joins above bind to an institution.
func (e explained) unbound(tables []string, above []string) (scans []string) {
	all := slices.Concat(above, e.Conditions)
	if slices.Contains(tables, e.Relation) && e.Type != "ModifyTable" { // what is changed is scanned below it
		own := slices.Clone(e.Conditions)
		for _, below := range e.Plans { // a bitmap's index
			own = append(own, below.Conditions...)
		}
		if !strings.Contains(strings.Join(own, " "), "institution_id") &&
			!strings.Contains(strings.Join(all, " "), e.Alias+".institution_id") {
			scans = append(scans, e.Relation+" "+e.Alias)
		}
	}
	for _, p := range e.Plans {
		scans = append(scans, p.unbound(tables, all)...)
	}
	return scans
}

// explainable matches a statement that has a plan.
var explainable = regexp.MustCompile(`(?is)^\s*(with|select|insert|update|delete)\b`)

// TestEveryStatementNamesItsInstitution: each statement of the store binds every table that it reads to an
// institution by itself, without the walls, so that a database that is spread over machines by the
// institution runs it on one of them.
func TestEveryStatementNamesItsInstitution(t *testing.T) {
	t.Parallel()
	x := newExplaining(t)
	super, err := pgx.Connect(t.Context(), x.super) // no policy adds the institution to what it asks
	if err != nil {
		t.Fatal(err)
	}
	defer super.Close(context.WithoutCancel(t.Context()))
	rows, _ := super.Query(t.Context(), `select c.relname from pg_class c join pg_attribute a on a.attrelid = c.oid
		where c.relkind = 'r' and c.relnamespace = 'public'::regnamespace and a.attname = 'institution_id'`)
	owned, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil || len(owned) < 30 {
		t.Fatalf("got %d tables of institutions, %v", len(owned), err)
	}
	tried := 0
	for m := range reflect.TypeFor[postgres.Tenant]().Methods() {
		if m.Type.NumIn() < 2 || m.Type.In(1) != reflect.TypeFor[context.Context]() || slices.Contains(ofTests, m.Name) {
			continue
		}
		x.seen.args, x.seen.all, x.seen.sent = map[string][]any{}, nil, explainable
		ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
		_ = x.ask(ctx, x.store, m)
		cancel()
		for _, sql := range x.seen.all {
			var plans []struct{ Plan explained }
			if err := super.QueryRow(t.Context(), `explain (format json) `+sql, x.seen.args[sql]...).Scan(&plans); err != nil {
				t.Errorf("%s: %v in\n%s", m.Name, err, sql)
				continue
			}
			tried++
			if scans := plans[0].Plan.unbound(owned, nil); len(scans) > 0 {
				t.Errorf("%s reads %v of no institution in\n%s", m.Name, scans, sql)
			}
		}
	}
	if tried < 150 {
		t.Errorf("%d statements were tried, want all of the store", tried)
	}
}

// A statement that forgets the institution is found.
func TestAStatementOfNoInstitutionIsFound(t *testing.T) {
	t.Parallel()
	super := pgtest.Pool(t, pgtest.New(t).Super())
	for sql, want := range map[string]int{
		`select from entry where record_id = gen_random_uuid()`:                              1,
		`select from treatment t join batch b on b.id = t.plan_id`:                           2,
		`select from treatment t join batch b using (institution_id) where b.id is not null`: 0,
		`delete from due where record_id = gen_random_uuid()`:                                1,
	} {
		var plans []struct{ Plan explained }
		if err := super.QueryRow(t.Context(), `explain (format json) `+sql).Scan(&plans); err != nil {
			t.Fatal(err)
		}
		if got := plans[0].Plan.unbound([]string{"entry", "treatment", "batch", "due"}, nil); len(got) != want {
			t.Errorf("%s: got %v, want %d", sql, got, want)
		}
	}
}
