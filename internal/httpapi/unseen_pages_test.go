package httpapi_test

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/pgtest"
	"meniscus/internal/postgres"
)

// An entry that concerns more specimens than are held at once is worked off page by
// page: each specimen once, what is recorded meanwhile for itself too, and nothing stays
// stale.
func TestAnEntryOfManySpecimensIsWorkedOffPageByPage(t *testing.T) {
	t.Parallel()
	w := newService(t).worker()
	w.listed = 2
	made := func(material string) array { return array{into(object{"material": of(material)}, "solute", g(5))} }
	stated := object{"code": "B-1", "kind": "solution", "inputs": made("shellac")}
	batch := w.create("/v1/batches", stated)
	var bones []string
	coat := func() {
		bone := w.create("/v1/specimens", specimen("LV."+uuid.NewString())).id()
		w.create("/v1/treatments", coating(bone, batch.id(), "2024-09", 1))
		bones = append(bones, bone)
	}
	for range 7 {
		coat()
	}
	wantNoneStale(t, w)
	w.seen = nil
	stated["inputs"] = made("animal-glue")
	amended := object{"reason": "The label was misread.", "statement": stated}
	w.do(http.MethodPost, "/v1/records/"+batch.id()+"/amendments", amended, anyTag).want(201)
	w.seal()
	sequence := wantPages(t, w, bones)
	w.on[slices.Min(bones)] = func() { // in the first page
		delete(w.on, slices.Min(bones))
		coat()
		w.seal()
	}
	wantNoneStale(t, w)
	slices.Sort(bones)
	twice := append(slices.Clone(bones), bones[7])
	if begun := slices.Sorted(slices.Values(w.seen)); !slices.Equal(begun, twice) {
		t.Errorf("got %v begun, want %v: each once, and the last for its own entries too", begun, twice)
	}
	// So is one that had been set aside.
	w.seen = nil
	aside := postgres.Aside{Institution: w.inst, Record: uuid.MustParse(batch.id()), Kind: "batch", Sequence: sequence,
		Why: postgres.AsideExcess, Attempts: 1, Since: w.now, TryAt: w.now,
	}
	if err := w.store.SetAside(t.Context(), aside); err != nil {
		t.Fatal(err)
	}
	w.now = w.now.Add(time.Second)
	wantNoneStale(t, w)
	if begun := slices.Sorted(slices.Values(w.seen)); !slices.Equal(begun, bones) {
		t.Errorf("got %v tried again, want each of %v once", begun, bones)
	}
}

// An entry that concerns more batches than are followed has all specimens worked out,
// page by page, so that nothing stays stale.
func TestAnEntryOfMoreBatchesThanAreFollowed(t *testing.T) {
	t.Parallel()
	w := newService(t).worker()
	w.listed, w.followed = 2, 3
	made := func(material string) object {
		return object{"code": "B-0", "kind": "solution", "inputs": array{into(object{"material": of(material)}, "solute", g(5))}}
	}
	first := w.create("/v1/batches", made("shellac"))
	last := first.id()
	for i := range 6 {
		last = w.create("/v1/batches", object{"code": fmt.Sprint("B-1", i), "kind": "dilution",
			"inputs": array{into(object{"batch": object{"id": last}}, "stock", g(5))}}).id()
	}
	bones, _ := w.coatedBones("K.", 3)
	coated := w.create("/v1/specimens", specimen("LV.9")).id()
	w.create("/v1/treatments", coating(coated, last, "2024-09", 1))
	wantNoneStale(t, w)
	w.seen = nil
	w.amend(first, made("animal-glue"))
	wantNoneStale(t, w)
	want := slices.Sorted(slices.Values(append(bones, coated)))
	if got := slices.Sorted(slices.Values(w.seen)); !slices.Equal(got, want) || !strings.Contains(w.log.String(), "than are followed") {
		t.Errorf("got %v worked out, want each of %v once; %s", got, want, w.log.String())
	}
}

// Entries of which a later page cannot be read are begun anew with fewer; the one that
// cannot be read is set aside, the others go on, and nothing stays stale.
func TestALaterPageThatCannotBeRead(t *testing.T) {
	t.Parallel()
	w := newService(t).worker()
	w.listed = 2
	stated := object{"code": "B-1", "kind": "solution", "inputs": array{into(object{"material": of("shellac")}, "solute", g(5))}}
	batch := w.create("/v1/batches", stated)
	var bones []string
	for i := range 5 {
		bones = append(bones, w.create("/v1/specimens", specimen(fmt.Sprint("LV.", i))).id())
		w.create("/v1/treatments", coating(bones[i], batch.id(), "2024-09", 1))
	}
	wantNoneStale(t, w)
	w.amend(batch, with(stated, "remarks", "Stirred overnight."))
	other, _ := w.coatedBones("K.", 1)
	words := func(change string) {
		_, err := pgtest.Pool(t, w.db.Super()).Exec(t.Context(),
			`update entry set body = `+change+` where record_id = $1 and revision = 1`, batch.id())
		if err != nil {
			t.Fatal(err)
		}
	}
	w.on[slices.Min(bones)] = func() { words(`'torn ' || body`) }
	w.seen = nil
	if err := w.round(); err != nil {
		t.Fatal(err)
	}
	aside := w.wantAside(batch.id(), postgres.AsideFailed, 1)
	if found, _ := w.verified(); found.Behind || !slices.Contains(w.seen, other[0]) || slices.Contains(w.seen, bones[4]) {
		t.Errorf("got %+v and %v begun, want what came after it looked at", found, w.seen)
	}
	words(`substr(body, 6)`)
	clear(w.on)
	w.now, w.seen = aside.TryAt, nil
	wantNoneStale(t, w)
	if begun := slices.Sorted(slices.Values(w.seen)); len(w.asides()) != 0 || !slices.Equal(begun, bones) {
		t.Errorf("got %v and %v set aside, want each of %v once", begun, w.asides(), bones)
	}
}

// wantNoneStale lets the worker do a round, and wants all that it keeps to be what
// the record gives.
func wantNoneStale(t *testing.T, w *worker) {
	t.Helper()
	if err := w.round(); err != nil {
		t.Fatal(err)
	}
	if found, sentences := w.verified(); found.Wrong != 0 || !found.Complete() {
		t.Errorf("got %+v and %s, want nothing stale", found, sentences)
	}
}

// wantPages reads what the next entries concern, two specimens at a time, and gives
// the last sequence number.
func wantPages(t *testing.T, w *worker, want []string) int64 {
	t.Helper()
	var got []string
	look := postgres.Look{Entries: 500, Specimens: 2}
	for {
		u, err := w.store.For(w.inst).LayersUnseen(t.Context(), look)
		if err != nil {
			t.Fatal(err)
		}
		if len(u.Specimens) > 2 {
			t.Errorf("got %d specimens, want at most 2", len(u.Specimens))
		}
		for _, id := range u.Specimens {
			got = append(got, id.String())
		}
		if !u.More {
			slices.Sort(got)
			if want := slices.Sorted(slices.Values(want)); !slices.Equal(got, want) {
				t.Errorf("got %v, want each of %v once", got, want)
			}
			return u.Upto
		}
		look.Beyond, look.Upto = u.Beyond, u.Upto
	}
}
