package main

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"meniscus/internal/localpg"
)

// The whole job through the demo's own HTTP API ends well and shows what a
// newcomer should see.
func TestDemoOnce(t *testing.T) {
	t.Parallel()
	var out, errs bytes.Buffer
	if err := run(t.Context(), []string{"demo", "--once"}, &out, &errs); err != nil {
		t.Fatalf("demo --once: %v\n%s\n%s", err, errs.String(), out.String())
	}
	for _, want := range []string{"weigh in 30 g of", "A strength needs its basis", "Measure 25 mL of the stock",
		"not-known-here", "certain\":1"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("want %q in what the demo prints:\n%s", want, out.String())
		}
	}
}

// The demo's key and data survive a restart, and loading the museum again
// changes nothing.
func TestDemoKeepsItsData(t *testing.T) {
	t.Parallel()
	d := demonstration{dir: filepath.Join(openDir(t), "demo"), out: io.Discard, errs: io.Discard, started: time.Now()}
	d.cfg.Address = "127.0.0.1:0"
	first, second := d.recordsIn(t), d.recordsIn(t)
	if first == "" || first != second {
		t.Errorf("got\n%s\nthen\n%s\nwant the same people twice", first, second)
	}
}

// openDir is a temporary folder that the database's own user may enter.
func openDir(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "meniscus-demo-test-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = os.RemoveAll(dir) })
	if err := os.Chmod(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	return dir
}

// recordsIn runs the demo once on its folder and gives the list of people.
func (d demonstration) recordsIn(t *testing.T) string {
	t.Helper()
	pg, err := localpg.Start(t.Context(), localpg.Config{Dir: d.dir})
	if err != nil {
		t.Fatal(err)
	}
	defer pg.Stop(t.Context())
	if err := d.prepare(t.Context(), pg); err != nil {
		t.Fatal(err)
	}
	s, err := d.service(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	key, err := d.key(t.Context(), s.store, pg)
	if err != nil {
		t.Fatal(err)
	}
	go s.run(t.Context())
	c := client{base: s.cfg.PublicURL, key: key}
	if _, err := c.load(t.Context()); err != nil {
		t.Fatal(err)
	}
	_, people, err := c.send(t.Context(), "GET", "/v1/people", nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	return string(people)
}

// A folder that is not a demo's is never removed.
func TestForgetRefusesOtherFolders(t *testing.T) {
	t.Parallel()
	if err := forget(t.Context(), t.TempDir()); err == nil {
		t.Error("got nil for a folder of something else, want a refusal")
	}
	if err := forget(t.Context(), filepath.Join(t.TempDir(), "nothing")); err != nil {
		t.Errorf("got %v for a folder that is not there, want nil", err)
	}
}
