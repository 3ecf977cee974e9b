package main

import (
	"bytes"
	"context"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/google/uuid"

	"meniscus/internal/access"
	"meniscus/internal/pgtest"
	"meniscus/internal/postgres"
)

// running starts a service with one institution and gives a client of it.
func running(t *testing.T) client {
	t.Helper()
	return runningOn(t, pgtest.New(t))
}

func runningOn(t *testing.T, db *pgtest.DB) client {
	t.Helper()
	c, _ := runningWith(t, db, configOn(db), slog.New(slog.DiscardHandler))
	return c
}

// runningWith starts the service with a configuration and a log; stop ends it before the test ends.
func runningWith(t *testing.T, db *pgtest.DB, cfg Config, log *slog.Logger) (c client, stop func()) {
	t.Helper()
	s, err := newService(t.Context(), cfg, log)
	if err != nil {
		t.Fatal(err)
	}
	key, err := postgres.Found(t.Context(), db.Owner(), s.store, postgres.Founding{Institution: uuid.Must(uuid.NewV7()),
		Name: "Museum of the Lower Valley", TimeZone: "Europe/Vienna", Person: "Ilse Varga", Scopes: access.Scopes()})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- s.run(ctx) }()
	stop = sync.OnceFunc(func() {
		cancel()
		if err := <-ended; err != nil {
			t.Errorf("the service ended with %v", err)
		}
	})
	t.Cleanup(stop)
	return client{base: "http://" + s.listener.Addr().String(), key: key.Text()}, stop
}

// The example cards by the README's instructions: a dry run first, then a real one;
// another run records nothing twice.
func TestImportFromTheCommandLine(t *testing.T) {
	t.Parallel()
	c := running(t)
	const cards = "../../testdata/demo/shoebox.csv"
	run := func(dryRun bool) (out, errs string) {
		t.Helper()
		request, err := importRequest("../../testdata/demo/shoebox-mapping.json", dryRun)
		if err != nil {
			t.Fatal(err)
		}
		var o, e bytes.Buffer
		if err := c.importFile(t.Context(), request, cards, &o, &e); err != nil {
			t.Fatal(err)
		}
		return o.String(), e.String()
	}
	out, errs := run(true)
	for _, want := range []string{
		"14 cards read: 9 would be recorded (5 of them with a doubt), 0 recorded before, 5 refused.",
		"line 10, refused\n    Notes: The cell holds", "this was a dry run",
	} {
		if !strings.Contains(out, want) {
			t.Errorf("dry run: got %q, want %q in it", out, want)
		}
	}
	if !strings.Contains(errs, "["+strings.Repeat("#", 40)+"] 14 lines, 5 refused") {
		t.Errorf("got the bar %q, want it full", errs)
	}
	first, _ := run(false)
	again, _ := run(false)
	before, then, _ := strings.Cut(again, "\n")
	if !strings.HasPrefix(first, "14 cards read: 9 recorded (5 of them") ||
		!strings.HasPrefix(before, "These cards were sent before") || then != first {
		t.Errorf("got %q, then %q, want the same import twice, and said so", first, again)
	}
}

func TestImportSaysWhatIsWrong(t *testing.T) {
	t.Parallel()
	c := running(t)
	request, err := importRequest("../../testdata/demo/shoebox-mapping.json", true)
	if err != nil {
		t.Fatal(err)
	}
	other := filepath.Join(t.TempDir(), "cards.csv")
	if err := os.WriteFile(other, []byte("No,What\n1,glued\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	var out, errs bytes.Buffer
	if err := c.importFile(t.Context(), request, other, &out, &errs); err == nil ||
		!strings.Contains(err.Error(), "column-not-in-table") {
		t.Errorf("another table: got %v, want the column that is missing", err)
	}
	if err := c.importFile(t.Context(), request, other+".gone", &out, &errs); err == nil {
		t.Error("no file: got no error, want one")
	}
	for _, args := range [][]string{nil, {"-mapping", "x.json"}, {"cards.csv"}} {
		if err := importCards(t.Context(), args, &out, &errs); err == nil {
			t.Errorf("%v: got no error, want the usage", args)
		}
	}
}
