package httpapi_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/edtf"
	"meniscus/internal/layers"
	"meniscus/internal/material"
	"meniscus/internal/pgtest"
	"meniscus/internal/postgres"
	"meniscus/internal/stack"
)

// worker is a layers worker on a clock of its own, which fails where it is told
// to.
type worker struct {
	*service
	now  time.Time
	day  edtf.Day
	log  bytes.Buffer
	on   map[string]func() // what happens when a specimen is worked out
	seen []string          // the specimens that were begun, in order
	// unknowing is an institution whose knowledge cannot be read.
	unknowing uuid.UUID
	// listed is how many specimens are held at once, and followed how many batches are
	// followed to them, or 0.
	listed, followed int
	busy             bool // with requests
	pauses           int  // how often it gave way to them
}

func (s *service) worker() *worker {
	return &worker{service: s, now: time.Date(2026, 3, 2, 7, 0, 0, 0, time.UTC), day: edtf.Day{Year: 2026, Month: 3, Day: 2}, on: map[string]func(){}}
}

// round seals and lets a worker that was just started do a round.
func (w *worker) round() error { w.t.Helper(); return w.rounds(1) }

// rounds lets it do several, and gives the last one's failure.
func (w *worker) rounds(n int) (err error) {
	w.t.Helper()
	w.seal()
	watch, err := postgres.OpenWatch(w.t.Context(), w.db.Worker())
	if err != nil {
		w.t.Fatal(err)
	}
	defer watch.Close()
	knowledge := func(ctx context.Context, institution uuid.UUID) (*material.Base, error) {
		if institution == w.unknowing {
			return nil, errors.New("the knowledge cannot be read")
		}
		return w.library().Of(ctx, institution)
	}
	r := layers.Refresher{Store: w.store, Watch: watch, Knowledge: knowledge, Log: slog.New(slog.NewJSONHandler(&w.log, nil)),
		Today: func() edtf.Day { return w.day }, Now: func() time.Time { return w.now }, WorkOut: w.workOut,
		Listed: w.listed, Followed: w.followed,
		Busy: func() bool { return w.busy }, Pause: func(context.Context, time.Duration) { w.pauses++ }}
	for range n {
		err = r.Round(w.t.Context())
	}
	return err
}

func (w *worker) workOut(_ context.Context, specimen uuid.UUID, h postgres.History, base *material.Base, day edtf.Day) (stack.Config, postgres.SpecimenState, error) {
	w.seen = append(w.seen, specimen.String())
	if f := w.on[specimen.String()]; f != nil {
		f()
	}
	config := layers.Config(w.t.Context(), specimen, h, base, day)
	made, err := layers.States(config, specimen)
	return config, postgres.SpecimenState{Specimen: specimen, Sequence: h.Sequence, ComputedOn: day.Time(), Layers: made}, err
}

// lives does a round, and tells whether the worker was alive at its end.
func (w *worker) lives() (alive bool) {
	var working sync.WaitGroup
	working.Go(func() {
		if err := w.round(); err != nil {
			w.t.Errorf("got %v", err)
		}
		alive = true
	})
	working.Wait()
	return alive
}

func (w *worker) asides() []postgres.Aside {
	w.t.Helper()
	found, err := w.store.For(w.inst).Asides(w.t.Context(), 100)
	if err != nil {
		w.t.Fatal(err)
	}
	return found
}

// wantAside wants one record set aside, and gives it.
func (w *worker) wantAside(record, why string, attempts int) postgres.Aside {
	w.t.Helper()
	found := w.asides()
	if len(found) != 1 || found[0].Record.String() != record || found[0].Why != why || found[0].Attempts != attempts {
		w.t.Fatalf("got %+v set aside, want %s alone, %s, after %d attempts", found, record, why, attempts)
	}
	return found[0]
}

// coatedBones are specimens with a coat each, in one order.
func (s *service) coatedBones(prefix string, n int) (bones, coats []string) {
	s.t.Helper()
	for i := range n {
		bone := s.create("/v1/specimens", specimen(fmt.Sprint(prefix, i))).id()
		bones, coats = append(bones, bone), append(coats, s.create("/v1/treatments", coated(bone, "2001", "skull/left-orbit")).id())
	}
	return bones, coats
}

// another is the same service for an institution of its own.
func (s *service) another(name string) *service {
	s.t.Helper()
	other := *s
	other.inst, other.key = addInstitution(s.t, s.db, s.store, name)
	return &other
}

// TestASpecimenThatCannotBeWorkedOut: it is set aside and named, the others go
// on, and it comes back when it can be worked out.
func TestASpecimenThatCannotBeWorkedOut(t *testing.T) {
	t.Parallel()
	w := newService(t).worker()
	bones, coats := w.coatedBones("LV.", 30)
	if err := w.round(); err != nil {
		t.Fatal(err)
	}
	// Its rows are there, and then something is recorded that cannot be worked out.
	bad, coat := bones[3], coats[3]
	later := w.create("/v1/treatments", coated(bones[4], "2002", "skull/left-orbit")).id()
	w.create("/v1/treatments", coated(bad, "2003", "skull/left-orbit"))
	w.on[bad] = func() { panic("no such layer") }
	if err := w.round(); err != nil {
		t.Fatal(err)
	}
	aside := w.wantAside(bad, postgres.AsidePanic, 1)
	if !strings.Contains(w.log.String(), "set_aside_test.go") {
		t.Errorf("got the log %s, want where the panic was", w.log.String())
	}
	report := w.report(t, "")
	rows := reportRows(report)
	if rows[coat]["setAside"] != true || rows[coat]["state"] != nil || rows[later]["state"] == nil || rows[coats[29]]["state"] == nil {
		t.Errorf("got %v and %v, want nothing said of the one and everything of the others", rows[coat], rows[later])
	}
	if report.at("remainder", "setAside") != 2.0 || report.at("remainder", "notComputed") != 0.0 || !strings.Contains(fmt.Sprint(report.at("remainder", "sentences")), "could not be worked out") {
		t.Errorf("got %v, want it said", report.at("remainder"))
	}
	table := string(w.do(http.MethodGet, "/v1/reports/reversible-treatments", nil, header{"Accept", "text/csv"}).want(200).body)
	if got := strings.Count(table, ",yes,"); got != 2 {
		t.Errorf("got %d lines of the table set aside, want 2:\n%s", got, table)
	}
	if found, sentences := w.verified(); found.Wrong != 0 || found.SetAside != 1 || found.Complete() || !strings.Contains(sentences, bad) {
		t.Errorf("got %+v and %s, want it named and nothing wrong", found, sentences)
	}
	// It is tried again after a while, also by a worker that was just started.
	w.now = aside.TryAt.Add(-time.Second)
	if err := w.round(); err != nil {
		t.Fatal(err)
	}
	w.wantAside(bad, postgres.AsidePanic, 1)
	w.now = aside.TryAt
	if err := w.round(); err != nil {
		t.Fatal(err)
	}
	if second := w.wantAside(bad, postgres.AsidePanic, 2); second.TryAt.Sub(w.now) <= aside.TryAt.Sub(aside.Since) {
		t.Errorf("got the next attempt at %v, want it to wait longer than before", second.TryAt)
	}
	// A new entry that concerns it is reason enough.
	delete(w.on, bad)
	w.create("/v1/treatments", coated(bad, "2004", "skull/left-orbit"))
	if err := w.round(); err != nil {
		t.Fatal(err)
	}
	if found, sentences := w.verified(); !found.Complete() || found.Wrong != 0 || len(w.asides()) != 0 {
		t.Errorf("got %+v and %s, want everything in order again", found, sentences)
	}
	if got := reportRows(w.report(t, ""))[coat]; got["setAside"] != nil || got["state"] != "present" {
		t.Errorf("got %v, want its layer again", got)
	}
}

// verified verifies, and gives all sentences together.
func (s *service) verified() (layers.Verified, string) {
	s.t.Helper()
	var said []string
	v := layers.Verifier{Store: s.store, Knowledge: s.library().Of, Report: func(sentence string) { said = append(said, sentence) }}
	found, err := v.Institution(s.t.Context(), s.inst)
	if err != nil {
		s.t.Fatal(err)
	}
	return found, strings.Join(said, "\n")
}

// TestASpecimenThatEndsTheWorker: a worker that dies in the midst of it dies at
// most twice; the next ones go on with all the others, of every institution.
func TestASpecimenThatEndsTheWorker(t *testing.T) {
	t.Parallel()
	w := newService(t).worker()
	bones, _ := w.coatedBones("LV.", 30)
	other := w.another("Museum on the Hill")
	theirs, _ := other.coatedBones("H.", 1)
	w.on[bones[7]] = runtime.Goexit // no recovering from it, as when memory runs out
	deaths := 0
	for !w.lives() {
		if deaths++; deaths > 2 {
			t.Fatal("the worker died a third time")
		}
	}
	if deaths == 0 {
		t.Fatal("the worker did not die at all")
	}
	aside := w.wantAside(bones[7], postgres.AsideUnfinished, 1)
	if found, _ := w.verified(); found.Behind || found.Wrong != 0 || found.SetAside != 1 {
		t.Errorf("got %+v, want all others worked out", found)
	}
	if found, _ := other.verified(); !found.Complete() || found.Specimens != len(theirs) {
		t.Errorf("got %+v of the other institution, want all of it", found)
	}
	// What is recorded of it meanwhile does not end the worker again.
	w.create("/v1/treatments", coated(bones[7], "2004", "skull/left-orbit"))
	if !w.lives() {
		t.Error("the worker died of it before its time")
	}
	delete(w.on, bones[7])
	w.now = aside.TryAt
	if !w.lives() || len(w.asides()) != 0 {
		t.Errorf("got %+v, want it worked out at last", w.asides())
	}
}

// TestAnEntryThatCannotBeRead: it is set aside, and the entries after it are
// looked at.
func TestAnEntryThatCannotBeRead(t *testing.T) {
	t.Parallel()
	w := newService(t).worker()
	supply := w.create("/v1/supplies", object{"code": "S-1", "material": object{"id": "acetone"}}).id()
	batch := object{"code": "B-1", "kind": "solution", "inputs": array{object{"from": object{"supply": object{"id": supply}}, "part": "solvent", "amount": object{"answer": "unknown"}}}}
	made := w.create("/v1/batches", batch)
	w.amend(made, with(batch, "remarks", "Stirred overnight."))
	bones, _ := w.coatedBones("LV.", 2)
	super := pgtest.Pool(t, w.db.Super())
	was := ""
	if err := super.QueryRow(t.Context(), `select body from entry where record_id = $1 and revision = 1`, made.id()).Scan(&was); err != nil {
		t.Fatal(err)
	}
	alter := func(body string) {
		if tag, err := super.Exec(t.Context(), `update entry set body = $2 where record_id = $1 and revision = 1`, made.id(), body); err != nil || tag.RowsAffected() != 1 {
			t.Fatalf("got %v, %v", tag, err)
		}
	}
	alter("torn")
	if err := w.round(); err != nil {
		t.Fatal(err)
	}
	aside := w.wantAside(made.id(), postgres.AsideFailed, 1)
	if found, _ := w.verified(); found.Behind || found.Specimens != len(bones) {
		t.Errorf("got %+v, want everything after it looked at", found)
	}
	alter(was)
	w.now = aside.TryAt
	if err := w.round(); err != nil || len(w.asides()) != 0 {
		t.Errorf("got %v and %+v, want it looked at when it can be read", err, w.asides())
	}
}

// TestMoreWordsThanAskedFor: the reading of a history ends with what was asked
// for.
func TestMoreWordsThanAskedFor(t *testing.T) {
	t.Parallel()
	s := newService(t)
	bones, _ := s.coatedBones("LV.", 2)
	ids := []uuid.UUID{uuid.MustParse(bones[0]), uuid.MustParse(bones[1])}
	for most, want := range map[int]error{100: postgres.ErrTooMuch, 100_000: nil} {
		if _, err := s.store.For(s.inst).HistoriesWithin(t.Context(), ids, most); !errors.Is(err, want) {
			t.Errorf("at most %d bytes: got %v, want %v", most, err, want)
		}
	}
}

// TestOneInstitutionKeepsUpNoOther: neither by knowledge that cannot be read, nor
// by an entry that concerns hundreds of specimens, nor on the next morning.
func TestOneInstitutionKeepsUpNoOther(t *testing.T) {
	t.Parallel()
	w := newService(t).worker()
	supply := w.create("/v1/supplies", object{"code": "S-1", "material": object{"id": "poly-vinyl-butyral"}}).id()
	bottle := object{"code": "B-1", "kind": "solution", "inputs": array{object{"from": object{"supply": object{"id": supply}}, "part": "solute", "amount": object{"answer": "unknown"}}}}
	made := w.create("/v1/batches", bottle)
	var mine []string
	for i := range 220 { // more than one turn
		mine = append(mine, w.create("/v1/specimens", specimen(fmt.Sprint("LV.", i))).id())
		coat := coated(mine[i], "2001", "skull/left-orbit")
		coat["materials"] = array{object{"used": object{"batch": object{"id": made.id()}}}}
		w.create("/v1/treatments", coat)
	}
	other := w.another("Museum on the Hill")
	theirs, _ := other.coatedBones("H.", 2)
	if err := w.round(); err != nil {
		t.Fatal(err)
	}
	w.amend(made, with(bottle, "remarks", "Stirred overnight."))
	other.create("/v1/treatments", coated(theirs[0], "2002", "skull/left-orbit"))
	w.seen = nil
	if err := w.round(); err != nil {
		t.Fatal(err)
	}
	before := 0
	for before < len(w.seen) && w.seen[before] != theirs[0] {
		before++
	}
	if len(w.seen) != len(mine)+1 || before > 200 {
		t.Errorf("got the other's specimen after %d of %d, want its turn to come before the end", before, len(w.seen))
	}
	// On the next morning one of them cannot be worked out, and the knowledge of
	// the first institution cannot be read.
	w.day = edtf.Day{Year: 2026, Month: 3, Day: 3}
	w.on[theirs[0]] = func() { panic("no such layer") }
	w.unknowing, w.seen = w.inst, nil
	if err := w.round(); err == nil || !strings.Contains(err.Error(), w.inst.String()) {
		t.Fatalf("got %v, want the first institution's failure", err)
	}
	if err := w.rounds(2); err != nil {
		t.Fatalf("got %v, want the first institution to rest", err)
	}
	if !slices.Contains(w.seen, theirs[1]) {
		t.Errorf("got %v worked out, want the other institution's renewed", w.seen)
	}
	asides, err := w.store.For(other.inst).Asides(t.Context(), 10)
	if err != nil || len(asides) != 1 || asides[0].Record.String() != theirs[0] {
		t.Errorf("got %+v, %v; want the one that panics set aside", asides, err)
	}
}
