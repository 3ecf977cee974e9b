package httpapi_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"meniscus/internal/pgtest"
)

// TestEntriesOfASpecimenAreOneRefresh: a hundred entries about one specimen that wait together
// are one computation, and the specimens beside it are worked out once too.
func TestEntriesOfASpecimenAreOneRefresh(t *testing.T) {
	t.Parallel()
	w := newService(t).worker()
	bone := w.create("/v1/specimens", specimen("LV.1")).id()
	other := w.create("/v1/specimens", specimen("LV.2")).id()
	for i := range 100 {
		w.create("/v1/treatments", coated(bone, fmt.Sprint(1900+i), "skull/left-orbit"))
		if i%20 == 0 {
			w.create("/v1/treatments", coated(other, fmt.Sprint(1900+i), "skull/left-orbit"))
		}
	}
	if err := w.round(); err != nil {
		t.Fatal(err)
	}
	slices.Sort(w.seen)
	want := []string{bone, other}
	slices.Sort(want)
	if !slices.Equal(w.seen, want) {
		t.Errorf("worked out %d times, %v, want each of %v once", len(w.seen), w.seen, want)
	}
	if found, said := w.verified(); !found.Complete() || found.Wrong != 0 || found.Specimens != 2 {
		t.Errorf("got %+v, want what is kept to be what the record gives\n%s", found, said)
	}
}

// TestWhatDidNotChangeIsNotWritten: a coat on another area leaves the rows of the first one
// as they were stored, and a newer state is not replaced by an older one.
func TestWhatDidNotChangeIsNotWritten(t *testing.T) {
	t.Parallel()
	w := newService(t).worker()
	bone := w.create("/v1/specimens", specimen("LV.1")).id()
	first := w.create("/v1/treatments", coated(bone, "2001", "skull/left-orbit")).id()
	db := pgtest.Pool(t, w.db.Super())
	stored := func() (rows int, by string) {
		t.Helper()
		err := db.QueryRow(t.Context(), `select count(*) over (), xmin::text || ctid::text from layer_state
			where treatment_id = $1 limit 1`, first).Scan(&rows, &by)
		if err != nil {
			t.Fatal(err)
		}
		return rows, by
	}
	if err := w.round(); err != nil {
		t.Fatal(err)
	}
	_, before := stored()
	w.create("/v1/treatments", coated(bone, "2002", "skull/right-orbit"))
	if err := w.round(); err != nil {
		t.Fatal(err)
	}
	if rows, after := stored(); rows != 1 || after != before {
		t.Errorf("got %d rows, and the first coat's written again (%s, was %s)", rows, after, before)
	}
	var layers int
	err := db.QueryRow(t.Context(), `select count(*) from layer_state where specimen_id = $1`, bone).Scan(&layers)
	if err != nil || layers != 2 {
		t.Errorf("got %d layers, %v, want two", layers, err)
	}
	w.day = w.day.AddDays(400)
	if err := w.round(); err != nil {
		t.Fatal(err)
	}
	var day time.Time
	err = db.QueryRow(t.Context(), `select computed_on from specimen_state where specimen_id = $1`, bone).Scan(&day)
	if err != nil || !day.Equal(w.day.Time()) {
		t.Errorf("computed on %v, %v, want the later day", day, err)
	}
}

// TestTheWorkerGivesWay: while requests keep the processors busy, the worker pauses after each
// chunk; else it does not.
func TestTheWorkerGivesWay(t *testing.T) {
	t.Parallel()
	w := newService(t).worker()
	w.coatedBones("LV.", 30)
	if err := w.round(); err != nil || w.pauses != 0 {
		t.Fatalf("got %v and %d pauses without requests", err, w.pauses)
	}
	bones, _ := w.coatedBones("LW.", 30)
	w.busy = true
	if err := w.round(); err != nil || w.pauses < 2 {
		t.Errorf("got %v and %d pauses beside requests, want one after each chunk", err, w.pauses)
	}
	if got := w.seen[len(w.seen)-len(bones):]; len(got) != len(bones) {
		t.Errorf("got %d worked out, want all %d", len(got), len(bones))
	}
}
