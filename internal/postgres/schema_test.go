package postgres_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"

	"meniscus/internal/pgtest"
)

func TestMain(m *testing.M) { pgtest.Main(m) }

// Every table of an institution's data has the institution in its primary key,
// so that it can be partitioned or distributed by it.
func TestInstitutionIsInEveryPrimaryKey(t *testing.T) {
	t.Parallel()
	exceptions := map[string]string{
		"institution":      "it is the institution itself",
		"unsealed":         "its tickets are one sequence for all, and live for milliseconds",
		"goose_db_version": "the schema's own history",
	}
	for _, table := range tables(t, `
		select c.relname from pg_class c
		 where c.relkind = 'r' and c.relnamespace = 'public'::regnamespace
		   and not exists (select from pg_index i join pg_attribute a on a.attrelid = c.oid and a.attnum = any(i.indkey)
		                    where i.indrelid = c.oid and i.indisprimary and a.attname = 'institution_id')`) {
		if exceptions[table] == "" {
			t.Errorf("the table %s has no institution_id in its primary key", table)
		}
	}
}

// Every table but the schema's own history has row-level security.
func TestEveryTableIsBehindTheWall(t *testing.T) {
	t.Parallel()
	open := tables(t, `select c.relname from pg_class c
		where c.relkind = 'r' and c.relnamespace = 'public'::regnamespace and not c.relrowsecurity`)
	if !slices.Equal(open, []string{"goose_db_version"}) {
		t.Errorf("got tables without row-level security: %v, want the schema's history alone", open)
	}
	unwatched := tables(t, `
		select c.relname from pg_class c
		 where c.relkind = 'r' and c.relnamespace = 'public'::regnamespace and c.relrowsecurity
		   and (select count(*) from pg_policy p where p.polrelid = c.oid and p.polname in ('own', 'worker')) <> 2`)
	if len(unwatched) > 0 {
		t.Errorf("tables without both policies: %v", unwatched)
	}
}

func tables(t *testing.T, sql string) []string {
	t.Helper()
	pool := pgtest.Pool(t, pgtest.New(t).Owner())
	rows, err := pool.Query(t.Context(), sql+" order by 1")
	if err != nil {
		t.Fatal(err)
	}
	names, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		t.Fatal(err)
	}
	return names
}

// The application's role cannot change a fact or the order of facts, and neither role
// can bypass row-level security.
func TestTheApplicationCannotChangeAFact(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t)
	app, worker := pgtest.Pool(t, db.App()), pgtest.Pool(t, db.Worker())
	for _, sql := range []string{
		"update entry set body = 'x'", "delete from entry", "truncate entry",
		"update sequenced set seq = 1", "delete from sequenced",
		"insert into sequenced values (gen_random_uuid(), 1, gen_random_uuid(), gen_random_uuid(), now())",
		"update log_leaf set seq = 1", "delete from log_leaf", "update log_key set verifier = ''", "delete from log_key",
		"insert into log_leaf values (gen_random_uuid(), 1, sha256(''))",
		"insert into log_key values (gen_random_uuid(), '', now())",
		"delete from request_key", "update request_key set request_id = gen_random_uuid()",
		"update institution set name = 'x'", "insert into institution (id, name) values (gen_random_uuid(), 'x')",
		"update access_key set secret_sha256 = secret_sha256", "delete from access_key", "select * from unsealed",
		"create table x (y int)", "alter table entry disable row level security", "set role meniscus_owner",
	} {
		if _, err := app.Exec(t.Context(), sql); !denied(err) {
			t.Errorf("%s as the application: got %v, want it denied", sql, err)
		}
	}
	for _, sql := range []string{"insert into entry select * from entry", "update entry set body = 'x'",
		"delete from entry", "update sequenced set seq = 1", "delete from sequenced", "update log_leaf set seq = 1",
		"delete from log_leaf", "insert into log_key values (gen_random_uuid(), '')", "update access_key set revoked_at = null"} {
		if _, err := worker.Exec(t.Context(), sql); !denied(err) {
			t.Errorf("%s as the worker: got %v, want it denied", sql, err)
		}
	}
	var bypass int
	if err := pgtest.Pool(t, db.Owner()).QueryRow(t.Context(), `select count(*) from pg_roles
		where rolname like 'meniscus\_%' and (rolbypassrls or rolsuper)`).Scan(&bypass); err != nil || bypass != 0 {
		t.Errorf("got %d roles that can go round row-level security, %v; want none", bypass, err)
	}
}

func denied(err error) bool {
	return err != nil && (strings.Contains(err.Error(), "42501") || strings.Contains(err.Error(), "permission denied") ||
		strings.Contains(err.Error(), "must be owner"))
}

// Without the setting no row can be read or written.
func TestWithoutTheSettingNothingIsSeen(t *testing.T) {
	t.Parallel()
	app := pgtest.Pool(t, pgtest.New(t).App())
	if _, err := app.Exec(t.Context(), `insert into person (institution_id, id, revision)
		values (gen_random_uuid(), gen_random_uuid(), 1)`); !denied(err) {
		t.Errorf("got %v, want the row refused", err)
	}
	var n int
	if err := app.QueryRow(t.Context(), `select count(*) from institution`).Scan(&n); err != nil || n != 0 {
		t.Errorf("got %d institutions, %v; want none seen", n, err)
	}
}
