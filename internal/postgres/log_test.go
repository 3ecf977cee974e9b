package postgres_test

import (
	"strings"
	"testing"

	"github.com/google/uuid"

	"meniscus/internal/ledger"
	"meniscus/internal/pgtest"
	"meniscus/internal/postgres"
)

// TestTheSealerCatchesUpWithTheLog: entries that were there before the log get their leaves,
// together with those that are sealed meanwhile, and the log is that of their order. An entry
// that was removed before it was logged is reported, keeps its log where it is, and nothing else.
func TestTheSealerCatchesUpWithTheLog(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t)
	store, key, _ := founded(t, db)
	_, other, _ := founded(t, db)
	super := pgtest.Pool(t, db.Super())
	sealer, err := postgres.OpenSealer(t.Context(), db.Worker(), nil)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(sealer.Close)
	say := func(institution uuid.UUID, n int) {
		t.Helper()
		if _, err := super.Exec(t.Context(), sayMany, institution, n); err != nil {
			t.Fatal(err)
		}
	}
	round := func() postgres.Rounded {
		t.Helper()
		did, err := sealer.Round(t.Context(), 0)
		if err != nil {
			t.Fatal(err)
		}
		return did
	}
	const before, most = 6000, 5000
	say(key.Institution, before)
	for round().Sealed > 0 {
	}
	if _, err := super.Exec(t.Context(), `delete from log_leaf`); err != nil { // as a database from before the log
		t.Fatal(err)
	}
	say(key.Institution, 10)
	say(other.Institution, 3)
	if did := round(); did.Sealed != 13 || did.Logged != most {
		t.Errorf("got %+v, want 13 sealed, and as many logged as a round may", did)
	}
	for round().Logged > 0 {
	}
	for institution, want := range map[uuid.UUID]int64{key.Institution: before + 11, other.Institution: 4} {
		if got := proven(t, store.For(institution)); got != want {
			t.Errorf("got %d entries proven, want %d", got, want)
		}
	}

	say(other.Institution, 2)
	say(key.Institution, 1)
	if _, err := super.Exec(t.Context(), `delete from entry where institution_id = $1 and id = (
		select entry_id from unsealed where institution_id = $1 order by ticket limit 1)`, other.Institution); err != nil {
		t.Fatal(err)
	}
	if did := round(); did.Sealed != 2 { // the ticket without an entry gets no number
		t.Errorf("got %+v, want the rest sealed", did)
	}
	if _, err := super.Exec(t.Context(), `with gone as (delete from log_leaf where institution_id = $1 and seq > 4 returning 1)
		delete from entry where id = (select entry_id from sequenced where institution_id = $1 and seq = 5)`,
		other.Institution); err != nil {
		t.Fatal(err)
	}
	say(other.Institution, 1)
	did, err := sealer.Round(t.Context(), 0)
	if did.Sealed != 1 || err == nil || !strings.Contains(err.Error(), "ends with entry 4") {
		t.Errorf("got %+v, %v; want it sealed, and the gap reported", did, err)
	}
	if got := proven(t, store.For(key.Institution)); got != before+12 {
		t.Errorf("got %d entries proven of the other institution, want %d", got, before+12)
	}
}

// proven compares an institution's entries with the head of its log, and gives how many there are.
func proven(t *testing.T, s postgres.Tenant) int64 {
	t.Helper()
	head, err := s.LogHead(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	check := ledger.NewCheck(func(sentence string) { t.Error(sentence) }, head)
	entries, err := s.LoggedEntries(t.Context(), 0, head.Size)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if err := check.Entry(e); err != nil {
			t.Fatal(err)
		}
	}
	check.End()
	return check.Proven()
}

// What a sealer's round costs with entries that come one at a time, and five thousand at once.
func BenchmarkRound(b *testing.B) {
	db := pgtest.New(b)
	super := pgtest.Pool(b, db.Super())
	sealer, err := postgres.OpenSealer(b.Context(), db.Worker(), nil)
	if err != nil {
		b.Fatal(err)
	}
	defer sealer.Close()
	institution := uuid.New()
	for name, n := range map[string]int{"one": 1, "5000": 5000} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				b.StopTimer()
				if _, err := super.Exec(b.Context(), sayMany, institution, n); err != nil {
					b.Fatal(err)
				}
				b.StartTimer()
				if did, err := sealer.Round(b.Context(), 1); err != nil || did.Sealed != n {
					b.Fatal(did, err)
				}
			}
		})
	}
}
