package postgres_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"meniscus/internal/access"
	"meniscus/internal/pgtest"
	"meniscus/internal/postgres"
)

// founded is an institution with a key, and a connection as the application that
// acts for it.
func founded(t *testing.T, db *pgtest.DB) (*postgres.Store, access.Key, *pgx.Conn) {
	t.Helper()
	store, err := postgres.Open(t.Context(), db.App())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(store.Close)
	key, err := postgres.Found(t.Context(), db.Owner(), store, postgres.Founding{Institution: uuid.Must(uuid.NewV7()),
		Name: "Museum of the Lower Valley", TimeZone: "UTC", Person: "Ilse Varga", Scopes: access.Scopes()})
	if err != nil {
		t.Fatal(err)
	}
	conn, err := pgx.Connect(t.Context(), db.App())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = conn.Close(t.Context()) })
	if _, err := conn.Exec(t.Context(), `select set_config('app.institution', $1, false)`,
		key.Institution.String()); err != nil {
		t.Fatal(err)
	}
	return store, key, conn
}

// The application's role cannot change stored keys, institutions or secrets, even of
// the institution that it acts for.
func TestTheApplicationCannotChangeWhatAKeyOpens(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t)
	store, key, app := founded(t, db)
	if _, err := store.For(key.Institution).RevokeAccessKey(t.Context(), access.Principal{}, key.ID); err != nil {
		t.Fatal(err)
	}
	for _, sql := range []string{
		"update access_key set revoked_at = null",
		"update access_key set revoked_at = now() + interval '1 day'",
		"update access_key set scopes = '{administer}'",
		"update access_key set expires_at = null",
		"update access_key set secret_sha256 = sha256('x')",
		"update access_key set person_id = gen_random_uuid()",
		"update access_key set institution_id = gen_random_uuid()",
		"update access_key set id = gen_random_uuid()",
		"delete from access_key", "truncate access_key",
		"insert into access_key select * from access_key on conflict (id, institution_id) do update set revoked_at = null",
		"insert into access_key (institution_id, id, name, secret_sha256, scopes, person_id, request_id, created_at) " +
			"select institution_id, gen_random_uuid(), name, secret_sha256, scopes, person_id, request_id, " +
			"'2001-01-01' from access_key",
		"merge into access_key k using access_key o on k.id = o.id when matched then update set revoked_at = null",
		"select 1 from access_key for update",
		"update browser_session set scopes = '{administer}'", "update browser_session set ends_at = 'infinity'",
		"update access_log set times = 1", "delete from access_log", "truncate access_log", "delete from key_use",
		"update institution set settings = '{}'", "update institution set time_zone = 'UTC'", "delete from institution",
		"update webhook_secret set ends_at = null", "update webhook_secret set kept = 'x'", "delete from webhook_secret",
		"update webhook set url = 'https://other.example/'", "update webhook set content = 'whole'",
		"update delivery set webhook_id = gen_random_uuid()", "update delivery set next_seq = 1",
		"update import set name = 'x'", "update import set mapping = '{}'",
		"update import set created_by = gen_random_uuid()",
		"update rule_tuning set severity = 'info'", "delete from rule_tuning",
		"update restored_sequence set seq = 1", "delete from restored_sequence",
		"update report_run set file = null", "insert into report_piece select * from report_piece",
		"insert into unsealed (ticket, institution_id, entry_id) overriding system value " +
			"values (9000000000000000000, gen_random_uuid(), gen_random_uuid())",
		"create or replace function revoke_access_key(uuid, uuid) returns void language sql as 'select'",
		"alter function revoke_access_key(uuid, uuid) security invoker",
	} {
		if _, err := app.Exec(t.Context(), sql); !denied(err) {
			t.Errorf("%s as the application: got %v, want it denied", sql, err)
		}
	}
	if p, _, err := store.Principal(t.Context(), key); p != nil || err != nil {
		t.Errorf("got %v, %v; want a key that stays revoked", p, err)
	}
}

// A key is revoked once: a second revocation does not change the time, and another
// institution cannot revoke it.
func TestAKeyIsEndedOnceAndBehindTheWall(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t)
	store, key, _ := founded(t, db)
	_, _, stranger := founded(t, db)
	for _, end := range []string{`select revoke_access_key($1, $2)`, `select end_access_key($1, $2, now())`} {
		if _, err := stranger.Exec(t.Context(), end, key.Institution, key.ID); err != nil {
			t.Fatal(err)
		}
	}
	if p, _, err := store.Principal(t.Context(), key); p == nil || err != nil {
		t.Errorf("got %v, %v; want a key that a stranger did not end", p, err)
	}
	first, err := store.For(key.Institution).RevokeAccessKey(t.Context(), access.Principal{}, key.ID)
	if err != nil || first.RevokedAt == nil {
		t.Fatalf("got %v, %v; want it revoked", first, err)
	}
	again, err := store.For(key.Institution).RevokeAccessKey(t.Context(), access.Principal{}, key.ID)
	if err != nil || !again.RevokedAt.Equal(*first.RevokedAt) {
		t.Errorf("got %v, %v; want the moment %v as it was", again.RevokedAt, err, first.RevokedAt)
	}
}

// Words are removed from a fact only where an entry says so: the application's role
// cannot delete anything of a record without a trace.
func TestWordsAreNotTakenInSilence(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t)
	_, key, app := founded(t, db)
	_, err := app.Exec(t.Context(), `select redact(institution_id, id) from entry`)
	if err == nil || !strings.Contains(err.Error(), "no entry says") {
		t.Errorf("got %v, want it refused", err)
	}
	var left int
	if err := app.QueryRow(t.Context(), `select count(*) from entry where institution_id = $1 and body is not null`,
		key.Institution).Scan(&left); err != nil || left != 1 {
		t.Errorf("got %d entries with words, %v; want the person's", left, err)
	}
}

// A function that runs as the owner checks the institution itself, can be called only by
// the application's role, and names its tables with their schema; a view runs with the
// rights of the role that reads it.
func TestWhatRunsAsTheOwnerKeepsTheWall(t *testing.T) {
	t.Parallel()
	if open := tables(t, `
		select p.proname from pg_proc p where p.pronamespace = 'public'::regnamespace and p.prosecdef
		   and (p.prosrc not like '%current_setting(''app.institution'', true)%'
		        or p.proconfig is null or p.proconfig::text not like '%search_path=pg_catalog, public%'
		        or p.prosrc ~ '(from|update|into|join) +(entry|sequenced|log_leaf|unsealed|restored_sequence|access_key|webhook_secret)'
		        or has_function_privilege('meniscus_worker', p.oid, 'execute')
		        or not has_function_privilege('meniscus_app', p.oid, 'execute'))`); len(open) > 0 {
		t.Errorf("functions that run as the owner without asking whose institution it is: %v", open)
	}
	if open := tables(t, `
		select c.relname from pg_class c where c.relkind in ('v', 'm') and c.relnamespace = 'public'::regnamespace
		   and not coalesce(c.reloptions, '{}') @> '{security_invoker=true}'`); len(open) > 0 {
		t.Errorf("views that read as the owner: %v", open)
	}
	if open := tables(t, `
		select p.tablename from pg_policies p where p.schemaname = 'public' and p.policyname = 'own'
		   and (p.cmd <> 'ALL' or p.with_check is not null
		        or p.qual not like '%= (NULLIF(current_setting(''app.institution''::text, true), ''''::text))::uuid)')`,
	); len(open) > 0 {
		t.Errorf("tables with another policy: %v", open)
	}
	if _, err := pgtest.Pool(t, pgtest.New(t).Worker()).Exec(t.Context(), `select * from access_key`); !denied(err) {
		t.Errorf("the keys as the worker: got %v, want it denied", err)
	}
}

// What the application's role may update or delete, beside its projections. Add a right
// that you add to roles.sql here, with its reason.
func TestWhatTheApplicationMayChange(t *testing.T) {
	t.Parallel()
	pool := pgtest.Pool(t, pgtest.New(t).Owner())
	want := []string{
		"browser_session.-",                                              // signing out
		"delivery.attempts", "delivery.due_at", "delivery.failing_since", // resuming a webhook
		"import.digest", "import.doubtful", "import.finished_at", "import.leased_until", "import.lines_read",
		"import.position",
		"import.refused", "import.replayed", "import.state", "import.taken", // how far it is
		"webhook.-", "webhook.stopped_at", "webhook.stopped_why", // deleting, stopping
	}
	plain := []string{"access_key", "token_person", "browser_session", "access_log", "entry", "sequenced", "request_key", "unsealed",
		"institution", "rule_tuning",
		"restored_sequence", "import", "import_line",
		"log_leaf", "log_key", "webhook", "webhook_secret", "delivery", "delivery_attempt", "report_run", "report_piece", "report_notice",
		"goose_db_version"}
	if got := changeable(t, pool, plain); !slices.Equal(got, want) {
		t.Errorf("got %v changeable by the application, want %v", got, want)
	}
}

// changeable names the columns of some tables that the application may update,
// and "table.-" where it may delete.
func changeable(t *testing.T, pool *pgxpool.Pool, of []string) []string {
	t.Helper()
	rows, err := pool.Query(t.Context(), `
		select c.relname || '.' || a.attname as named from pg_class c
		  join pg_attribute a on a.attrelid = c.oid and a.attnum > 0 and not a.attisdropped
		 where c.relnamespace = 'public'::regnamespace and c.relname = any($1)
		   and has_column_privilege('meniscus_app', c.oid, a.attnum, 'update')
		union
		select c.relname || '.-' from pg_class c
		 where c.relnamespace = 'public'::regnamespace and c.relname = any($1)
		   and has_table_privilege('meniscus_app', c.oid, 'delete, truncate, trigger, references')`, of)
	if err != nil {
		t.Fatal(err)
	}
	names, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		t.Fatal(err)
	}
	slices.Sort(names)
	return names
}
