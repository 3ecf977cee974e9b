package httpapi_test

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
)

// dated records treatments of the years from 1900 on.
func (s *service) dated(specimen string, n int) []reply {
	s.t.Helper()
	var made []reply
	for i := range n {
		made = append(made, s.create("/v1/treatments", treatment(specimen, "cleaning", fmt.Sprint(1900+i))))
	}
	return made
}

// rest reads on from a page, and gives each item's id and revision.
func (s *service) rest(page reply) (met []string) {
	s.t.Helper()
	for _, item := range page.at("items").([]any) {
		met = append(met, fmt.Sprint(item.(object)["id"], " ", item.(object)["revision"]))
	}
	if next, more := page.at("next").(object); more {
		met = append(met, s.walk(strings.TrimPrefix(next["href"].(string), "https://meniscus.example"))...)
	}
	return met
}

// A specimen's treatments are met once each, whatever becomes of their dates
// while they are paged through, and each as it is now said.
func TestDatesAmendedDuringTheWalk(t *testing.T) {
	t.Parallel()
	s := newService(t)
	for name, sealed := range map[string]struct{ before, after bool }{
		"all have sequence numbers":                     {true, true},
		"the amendments have none yet":                  {true, false},
		"nothing has a sequence number, and all get it": {false, true},
	} {
		for _, list := range []string{"?limit=2", "?limit=2&believedAt=2999-01-01T00:00:00Z"} {
			if strings.Contains(list, "believedAt") && !sealed.before {
				continue // what has no sequence number is believed at no moment
			}
			specimen := s.create("/v1/specimens", specimen("LV.40")).id()
			made := s.dated(specimen, 6)
			late := s.amend(made[5], treatment(specimen, "cleaning", "1910"))
			if sealed.before {
				s.seal()
			}
			first := s.do(http.MethodGet, "/v1/specimens/"+specimen+"/treatments"+list, nil).want(200)
			s.amend(made[0], treatment(specimen, "cleaning", "1999"))           // from before the cursor to after it
			s.amend(made[4], treatment(specimen, "cleaning", "1850"))           // and the other way round
			s.amend(late, treatment(specimen, "cleaning", "1851"))              // what had been amended before
			s.create("/v1/treatments", treatment(specimen, "cleaning", "1800")) // not met: it is before the cursor
			if sealed.after {
				s.seal()
			}
			met := s.rest(first)
			for i, r := range made {
				if n := count(met, r.id()); n != 1 {
					t.Errorf("%s, %s: treatment %d was met %d times, want once: %v", name, list, i, n, met)
				}
			}
			if last := made[4].id() + " 2"; !strings.Contains(list, "believedAt") && !slices.Contains(met, last) {
				t.Errorf("%s: got %v, want the second revision of %s", name, met, made[4].id())
			}
		}
	}
}

// A list that fits on one page is in the order of what is now said, whether that
// has its sequence number or not.
func TestOnePageIsInTheOrderOfToday(t *testing.T) {
	t.Parallel()
	s := newService(t)
	specimen := s.create("/v1/specimens", specimen("LV.41")).id()
	made := s.dated(specimen, 2)
	s.seal()
	s.amend(made[0], treatment(specimen, "cleaning", "1999"))
	if got, want := s.treatmentsOf(specimen), []string{made[1].id(), made[0].id()}; !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

// While somebody amends dates and a sealer gives sequence numbers, every walk meets every
// treatment once.
func TestDatedWalksWhileDatesAreAmended(t *testing.T) {
	t.Parallel()
	s := newService(t)
	specimen := s.create("/v1/specimens", specimen("LV.42")).id()
	made := s.dated(specimen, 9)
	var ended atomic.Bool
	amended := slices.Clone(made)
	others := s.writers(func(i int) {
		year := fmt.Sprint([]int{1700, 2000}[i/9%2] + i)
		amended[i%9] = s.amend(amended[i%9], treatment(specimen, "cleaning", year))
		if i == 89 {
			ended.Store(true)
		}
	}, 90)
	for !ended.Load() {
		met := s.walk("/v1/specimens/" + specimen + "/treatments?limit=2")
		for i, r := range made {
			if n := count(met, r.id()); n != 1 {
				t.Fatalf("treatment %d was met %d times, want once: %v", i, n, met)
			}
		}
	}
	others.Wait()
}
