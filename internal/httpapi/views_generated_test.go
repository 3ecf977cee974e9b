package httpapi_test

import (
	"flag"
	"slices"
	"strings"
	"testing"
)

var (
	pastHistories = flag.Int("histories", 24, "how many generated histories the views are compared on")
	pastSeed      = flag.Uint64("seed", 1, "where the generated histories come from")
	pastOnly      = flag.Int("only", -1, "the number of the one generated history to look at")
)

// pastTogether is how many histories one institution has.
const pastTogether = 50

// TestViewsAgreeOnGeneratedHistories compares what every view says of each area,
// layer, hazard, strength and date with what was recorded, and with the other views.
// A history that fails is made smaller, and printed with what makes it again.
func TestViewsAgreeOnGeneratedHistories(t *testing.T) {
	t.Parallel()
	shared := newPastService(t)
	numbers := []int{*pastOnly}
	if *pastOnly < 0 {
		numbers = numbers[:0]
		for n := range *pastHistories {
			numbers = append(numbers, n)
		}
	}
	shown := map[string]bool{} // rows of the table of which a smallest history is shown
	for some := range slices.Chunk(numbers, pastTogether) {
		var list []past
		for _, n := range some {
			list = append(list, drawPast(*pastSeed, n))
		}
		for i, found := range shared.comparedAll(t, list) {
			for _, said := range found {
				if shown[wayOf(said)] || len(shown) == mostShown {
					continue
				}
				shown[wayOf(said)] = true
				least, reasons := shared.smallest(t, list[i], said)
				t.Errorf("the smallest history that fails in this way:\n%s\n%s", least, strings.Join(reasons, "\n"))
			}
			if len(found) > 0 {
				t.Errorf("-seed %d -only %d\n%s", *pastSeed, list[i].number, strings.Join(found, "\n"))
			}
		}
		t.Logf("compared up to number %d", some[len(some)-1])
	}
}

// wayOf is in which way a history failed: the row of the table and the view.
func wayOf(said string) string {
	return strings.Join(strings.SplitN(said, " | ", 3)[:2], " | ")
}

// comparedAll records histories in an institution of their own and compares the
// views of each.
func (s *service) comparedAll(t testing.TB, list []past) [][]string {
	t.Helper()
	museum := s.in(t)
	museum.inst, museum.key = addInstitution(t, s.db, s.store, "Museum of the Lower Valley")
	var all []*told
	for _, p := range list {
		all = append(all, museum.tell(p))
	}
	museum.refreshPast()
	s.sealer, s.watch = museum.sealer, museum.watch
	l := museum.ledgers()
	out := make([][]string, len(all))
	for i, h := range all {
		out[i] = compared(h, &l).compare()
	}
	return out
}

// mostShown is how many ways of failing are shown by a smallest history.
const mostShown = 3

// mostSmaller is how many smaller histories are tried of one that fails.
const mostSmaller = 30

// smallest leaves out of a history what it can and still fails in the same way.
func (s *service) smallest(t testing.TB, p past, said string) (past, []string) {
	t.Helper()
	reasons, tried := []string{said}, 0
	for again := true; again; {
		again = false
		for _, smaller := range p.smaller() {
			if tried++; tried > mostSmaller {
				return p, reasons
			}
			found := slices.DeleteFunc(s.comparedAll(t, []past{smaller})[0], func(one string) bool { return wayOf(one) != wayOf(said) })
			if len(found) > 0 {
				p, reasons, again = smaller, found, true
				break
			}
		}
	}
	return p, reasons
}

// smaller are the histories with a little less than this one.
func (p past) smaller() (list []past) {
	for _, t := range p.list {
		list = append(list, p.without(t.key))
	}
	for _, sp := range p.specimens[1:] {
		list = append(list, p.withoutSpecimen(sp.key))
	}
	for i, t := range p.list {
		one := p
		one.list = slices.Clone(p.list)
		switch {
		case t.first != nil:
			one.list[i].first = nil
		case t.fate == "returned":
			one.list[i].fate = ""
		case len(t.uses) > 1:
			one.list[i].uses = t.uses[:1]
		case len(t.exposures) > 0:
			one.list[i].exposures = t.exposures[1:]
		case len(t.areas) > 1:
			one.list[i].areas = t.areas[:1]
		default:
			continue
		}
		list = append(list, one)
	}
	if len(p.jar.changes) > 0 {
		p.jar.changes = nil
		list = append(list, p)
	}
	return list
}
