package deliver_test

import (
	"context"
	"io"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"meniscus/internal/deliver"
	"meniscus/internal/httpapi"
	"meniscus/internal/pgtest"
	"meniscus/internal/postgres"
)

// An entry that cannot be written as an event delays only its own endpoint, whose
// attempt says why.
func TestAnEventThatCannotBeWritten(t *testing.T) {
	t.Parallel()
	m, people, specimens := newMuseum(t), newCatalogue(t), newCatalogue(t)
	bad, _ := m.hook(people.URL, map[string]any{"kinds": []any{"person"}})
	m.hook(specimens.URL, map[string]any{"kinds": []any{"specimen"}})
	m.ask(http.MethodPost, "/v1/people", map[string]any{"statement": map[string]any{"name": "Tomas Brandl"}},
		http.StatusCreated)
	m.specimen("LV.1")
	m.seal()
	w := m.worker(func(cfg *deliver.Config) {
		cfg.Change = func(row postgres.Row) []byte {
			if row.Kind == "person" {
				panic("no such member")
			}
			return httpapi.ChangeJSON(row)
		}
	})
	m.deliverAll(w)
	if diff := cmp.Diff(from(3, 3), specimens.sequences()); diff != "" {
		t.Errorf("the other endpoint's sequence numbers (-want +got):\n%s", diff)
	}
	if got := m.lastSentence(bad); !strings.Contains(got, "could not be written") || m.read(bad)["failedAttempts"] != 1.0 {
		t.Errorf("got %q and %v, want it told and tried again later", got, m.read(bad))
	}
}

// A report that panics waits for its next attempt, and a schedule that cannot be read
// is left out for a while; other schedules' reports are made.
func TestAReportThatPanics(t *testing.T) {
	t.Parallel()
	m := newMuseum(t)
	m.at("2027-01-01T12:00:00Z")
	panics, torn, good := m.schedule(monthly(nil)), m.schedule(monthly(nil)), m.schedule(monthly(nil))
	id := func(path string) string { return strings.TrimPrefix(path, "/v1/report-schedules/") }
	if tag, err := pgtest.Pool(t, m.db.Super()).Exec(t.Context(),
		`update report_schedule set rule = 'torn' where id = $1`, id(torn)); err != nil || tag.RowsAffected() != 1 {
		t.Fatalf("got %v, %v", tag, err)
	}
	m.at("2027-01-05T12:00:00Z")
	first := true
	r := m.reporter(func(cfg *deliver.ReporterConfig) {
		write := cfg.Write
		cfg.Write = func(ctx context.Context, institution uuid.UUID, report string, query url.Values, mediaType string,
			w io.Writer) error {
			if first {
				first = false
				panic("no such layer")
			}
			return write(ctx, institution, report, query, mediaType, w)
		}
	})
	failures := 0
	for range 5 {
		if _, err := r.Round(t.Context()); err != nil {
			failures++
		}
	}
	if failures != 1 {
		t.Errorf("got %d rounds with a failure, want the first alone: what failed rests", failures)
	}
	made := 0
	for _, path := range []string{panics, good} {
		runs := m.runs(path)
		if len(runs) != 1 {
			t.Fatalf("got %v, want one run", runs)
		}
		if runs[0]["madeAt"] != nil {
			made++
		} else if got, _ := runs[0]["sentence"].(string); !strings.Contains(got, "could not be made") {
			t.Errorf("got %v, want it to say that it failed", runs[0])
		}
	}
	if made != 1 {
		t.Errorf("got %d reports made, want that of the other", made)
	}
}
