package main

import (
	"bytes"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"meniscus/internal/ledger"
	"meniscus/internal/pgtest"
)

// tampered is one way in which the owner of the database changes the record by hand.
type tampered struct {
	name, sql string
	live      string // what verify says of the database
	export    string // what it says of an export
}

// The entry that is changed is number 5, and number 6 where two change places.
var tamperings = []tampered{
	{"words altered", `update entry set body = replace(body, '"', '" ')
		where id = (select entry_id from sequenced where seq = 5)`,
		"do not give its digest", "The words of the entry number 5 "},
	{"words and digest altered", `update entry set body = '{}', digest = sha256(nonce || '{}'::bytea)
		where id = (select entry_id from sequenced where seq = 5)`,
		"The entry number 5 ", "The entry number 5 "},
	{"words taken in silence", `update entry set body = null, nonce = null
		where id = (select entry_id from sequenced where seq = 5)`,
		"were taken, and no later entry says so", "The words of the entry number 5 "},
	{"time altered", `update entry set recorded_at = recorded_at - interval '1 day'
		where id = (select entry_id from sequenced where seq = 5)`, "The entry number 5 ", "The entry number 5 "},
	{"person altered", `update entry set recorded_by = gen_random_uuid()
		where id = (select entry_id from sequenced where seq = 5)`, "The entry number 5 ", "The entry number 5 "},
	{"removed", `delete from entry where id = (select entry_id from sequenced where seq = 5)`,
		"No entry has the sequence number 5.", "No entry has the sequence number 5."},
	{"removed with its place", `with gone as (delete from sequenced where seq = 5 returning entry_id)
		delete from entry where id = (select entry_id from gone)`,
		"No entry has the sequence number 5.", "No entry has the sequence number 5."},
	{"reordered", `with gone as (delete from sequenced where seq in (5, 6) returning *)
		insert into sequenced select institution_id, 11 - seq, entry_id, record_id, sealed_at from gone order by seq`,
		"The entry number 5 ", "The entry number 5 "},
	{"nothing", "", "are those of the checkpoint", ""},
}

// TestACheckpointFindsWhatWasChangedByHand: someone keeps a checkpoint; then the owner of the
// database changes one entry, and both the database and an export of it tell which.
func TestACheckpointFindsWhatWasChangedByHand(t *testing.T) {
	db := pgtest.New(t)
	c := runningOn(t, db)
	if _, err := c.load(t.Context()); err != nil {
		t.Fatal(err)
	}
	sealed(t, db)
	lookedAt(t, db)
	t.Setenv("MENISCUS_DATABASE_URL", configOn(db).DatabaseURL)
	t.Setenv("MENISCUS_KEY", c.key)
	kept, export := filepath.Join(t.TempDir(), "checkpoint"), filepath.Join(t.TempDir(), "today.ndjson")
	keep(t, c, kept)
	key := verifierOf(t, kept)
	owner := byHand(t, db)
	call := func(args ...string) (string, int) {
		var out bytes.Buffer
		err := run(t.Context(), args, &out, &out)
		return out.String(), exitCode(err)
	}
	owner("create table kept_entry as table entry", "create table kept_sequenced as table sequenced")
	for _, tc := range tamperings {
		wantCode := 0
		if tc.sql != "" {
			owner(tc.sql)
			wantCode = 1
		}
		if out, code := call("export", "-url", c.base, export); code != 0 {
			t.Fatal(out)
		}
		out, code := call("verify", "-checkpoint", kept, "-key", key)
		if code != wantCode || !strings.Contains(out, tc.live) {
			t.Errorf("%s: the database: got %d and %s, want %q", tc.name, code, out, tc.live)
		}
		out, code = call("verify", "-checkpoint", kept, "-key", key, "-export", export)
		if first, _, _ := strings.Cut(out, "\n"); code != wantCode || !strings.HasPrefix(first, tc.export) {
			t.Errorf("%s: the export: got %d and %s, want %q first", tc.name, code, out, tc.export)
		}
		owner("delete from entry", "delete from sequenced", "insert into entry table kept_entry",
			"insert into sequenced table kept_sequenced")
	}
	other, err := testLogKeys.Verifiers("meniscus/other")
	if err != nil {
		t.Fatal(err)
	}
	if out, code := call("verify", "-checkpoint", kept, "-key", other[0], "-export", export); code != 1 {
		t.Errorf("with another key: got %d and %s, want it refused", code, out)
	}
}

// byHand runs statements as one who may do everything, without triggers.
func byHand(t *testing.T, db *pgtest.DB) func(statements ...string) {
	t.Helper()
	conn, err := pgtest.Pool(t, db.Super()).Acquire(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(conn.Release)
	do := func(statements ...string) {
		t.Helper()
		for _, sql := range statements {
			if _, err := conn.Exec(t.Context(), sql); err != nil {
				t.Fatalf("%s: %v", sql, err)
			}
		}
	}
	do("set session_replication_role = replica")
	return do
}

// keep fetches a checkpoint.
func keep(t *testing.T, c client, file string) {
	t.Helper()
	into, err := os.Create(file)
	if err != nil {
		t.Fatal(err)
	}
	defer into.Close()
	if err := c.stream(t.Context(), http.MethodGet, "/v1/log/checkpoint", nil, into); err != nil {
		t.Fatal(err)
	}
}

// verifierOf is the key of the tests' service for the log of a checkpoint.
func verifierOf(t *testing.T, file string) string {
	t.Helper()
	point, err := ledger.ReadCheckpoint([]byte(read(t, file)), nil)
	if err != nil {
		t.Fatal(err)
	}
	verifiers, err := testLogKeys.Verifiers(point.Origin)
	if err != nil {
		t.Fatal(err)
	}
	return verifiers[0]
}

// testLogKeys sign the logs of tests.
var testLogKeys = func() ledger.Signers {
	s, err := ledger.ParseSigners("AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8=")
	if err != nil {
		panic(err)
	}
	return s
}()
