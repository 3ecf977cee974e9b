package access_test

import (
	"testing"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/access"
)

// Whoever is refused again and again makes one line an hour, which says how often.
func TestRefusalsAreOneLineAnHour(t *testing.T) {
	t.Parallel()
	now := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	j := access.NewJournal(func() time.Time { return now })
	inst, key := uuid.New(), uuid.New()
	lines, times := 0, 0
	for range 3600 * 3 { // three hours of ten a second
		for range 10 {
			j.Refused(inst, access.Access{What: access.RefusedExpired, Times: 1, Key: key})
		}
		now = now.Add(time.Second)
		for _, page := range j.Take(false) {
			for _, a := range page.Accesses {
				lines, times = lines+1, times+a.Times
			}
		}
	}
	for _, page := range j.Take(true) {
		lines, times = lines+1, times+page.Accesses[0].Times
	}
	if lines > 4 || times != 3600*3*10 {
		t.Errorf("got %d lines of %d refusals, want 4 of all", lines, times)
	}
}

// Many keys cannot fill the memory: what there is no room for is counted.
func TestAJournalIsBounded(t *testing.T) {
	t.Parallel()
	now := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	j := access.NewJournal(func() time.Time { return now })
	inst := uuid.New()
	const all = 25_000
	for range all {
		j.Refused(inst, access.Access{What: access.RefusedExpired, Times: 1, Key: uuid.New()})
		j.Used(inst, uuid.New())
	}
	refusals, lost, used := 0, 0, 0
	for _, page := range j.Take(true) {
		used += len(page.Used)
		for _, a := range page.Accesses {
			if a.What == access.NotKept {
				lost += a.Times
			} else {
				refusals += a.Times
			}
		}
	}
	if refusals != 10_000 || refusals+lost != all || used > 10_000 {
		t.Errorf("got %d kept, %d counted as lost, %d used; want 10,000 and the rest", refusals, lost, used)
	}
}

// What could not be written is there the next time.
func TestWhatIsGivenBackIsTakenAgain(t *testing.T) {
	t.Parallel()
	now := time.Date(2026, 3, 2, 9, 4, 0, 0, time.UTC)
	j := access.NewJournal(func() time.Time { return now })
	inst, key := uuid.New(), uuid.New()
	j.Used(inst, key)
	j.Refused(inst, access.Access{What: access.RefusedScope, Times: 1, Key: key})
	for _, page := range j.Take(false) {
		j.GiveBack(page)
	}
	pages := j.Take(false)
	if len(pages) != 1 || len(pages[0].Accesses) != 1 || pages[0].Accesses[0].Times != 1 ||
		!pages[0].Used[key].Equal(now.Truncate(access.UseStep)) {
		t.Errorf("got %v, want all of it again", pages)
	}
	if again := j.Take(false); len(again) != 0 {
		t.Errorf("got %v, want nothing twice", again)
	}
}
