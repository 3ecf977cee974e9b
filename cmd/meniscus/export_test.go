package main

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"meniscus/internal/pgtest"
	"meniscus/internal/postgres"
)

// TestExportAndRestoreFromTheCommandLine: the invented museum is exported to a file and
// restored into a new institution, whose export is the same file.
func TestExportAndRestoreFromTheCommandLine(t *testing.T) {
	db := pgtest.New(t)
	c := runningOn(t, db)
	if _, err := c.load(t.Context()); err != nil {
		t.Fatal(err)
	}
	cfg := configOn(db)
	t.Setenv("MENISCUS_DATABASE_URL", cfg.DatabaseURL)
	t.Setenv("MENISCUS_OWNER_DATABASE_URL", db.Owner())
	t.Setenv("MENISCUS_KEY", c.key)
	call := func(args ...string) (string, error) {
		var out, errs bytes.Buffer
		err := run(t.Context(), args, &out, &errs)
		return out.String(), err
	}
	must := func(args ...string) string {
		t.Helper()
		out, err := call(args...)
		if err != nil {
			t.Fatalf("%v: %v", args, err)
		}
		return out
	}
	first, second := filepath.Join(t.TempDir(), "first.ndjson"), filepath.Join(t.TempDir(), "second.ndjson")
	sealed(t, db)
	must("export", "-url", c.base, first)

	key := regexp.MustCompile(`meniscus_\S+`).FindString(must("found", "-name", "Museum on the Hill", "-from", first))
	t.Setenv("MENISCUS_KEY", key)
	must("restore", "-url", c.base, first)
	must("export", "-url", c.base, second)
	before, after := read(t, first), read(t, second)
	if before != after || strings.Count(before, "\n") < 30 {
		t.Errorf("got %d bytes after %d, want the same museum twice", len(after), len(before))
	}
	lookedAt(t, db)
	if out := must("verify"); strings.Count(out, " 0 wrong") != 2 {
		t.Errorf("got %s, want nothing wrong in both", out)
	}
	// A verification that could not compare everything has its own exit code.
	if _, err := pgtest.Pool(t, db.Super()).Exec(t.Context(), `
		insert into set_aside (institution_id, record_id, kind, sequence, why, since, try_at)
		select institution_id, id, 'specimen', 1, 'panic', now(), now() + interval '1 day' from specimen limit 1`); err != nil {
		t.Fatal(err)
	}
	if out, err := call("verify"); exitCode(err) != 3 || !strings.Contains(out, "is set aside (panic") {
		t.Errorf("got %v and %s, want what is set aside named, with an exit code of its own", err, out)
	}
	if _, err := call("restore", "-url", c.base, first); err == nil ||
		!strings.Contains(err.Error(), "institution-not-empty") {
		t.Errorf("got %v, want it refused a second time", err)
	}
	t.Setenv("MENISCUS_KEY", "meniscus_unknown")
	third := filepath.Join(t.TempDir(), "third.ndjson")
	if _, err := call("export", "-url", c.base, third); err == nil {
		t.Error("got no error with an unknown key, want one")
	}
	if left, _ := filepath.Glob(third + "*"); len(left) > 0 {
		t.Errorf("got %v, want no file of what failed", left)
	}
	if _, err := call("found", "-name", "Museum on the Hill", "-from", first, "-person", "Ilse Varga"); err == nil {
		t.Error("got no error for a person and an export, want the usage")
	}
}

func read(t *testing.T, path string) string {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// lookedAt waits until the layers of all sequenced entries are stored, so that they can
// be verified.
func lookedAt(t *testing.T, db *pgtest.DB) {
	t.Helper()
	watch, err := postgres.OpenWatch(t.Context(), db.Worker())
	if err != nil {
		t.Fatal(err)
	}
	defer watch.Close()
	for {
		behind, err := watch.Behind(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if len(behind) == 0 {
			return
		}
	}
}

// sealed waits until everything that was recorded has its sequence number.
func sealed(t *testing.T, db *pgtest.DB) {
	t.Helper()
	pool := pgtest.Pool(t, db.Super())
	for waiting := true; waiting; {
		if err := pool.QueryRow(t.Context(), `select exists (select from unsealed)`).Scan(&waiting); err != nil {
			t.Fatal(err)
		}
	}
}
