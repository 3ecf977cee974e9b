package stock_test

import (
	"fmt"
	"maps"
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"meniscus/internal/quantity"
	"meniscus/internal/solution"
	"meniscus/internal/stock"
)

// A net is batches by what they were made from: the shapes that a record can have.
type net struct {
	name  string
	from  [][]int
	loose bool // one input of the first is in words, so that the contents of all are unknown
}

func chain(n int) net {
	from := make([][]int, n)
	for i := 1; i < n; i++ {
		from[i] = []int{i - 1}
	}
	return net{name: fmt.Sprintf("chain of %d", n), from: from}
}

// layered is levels of wide batches, each made from all of the level before.
func layered(levels, wide int) net {
	from := make([][]int, levels*wide)
	for i := wide; i < len(from); i++ {
		for k := range wide {
			from[i] = append(from[i], (i/wide-1)*wide+k)
		}
	}
	return net{name: fmt.Sprintf("%d levels of %d", levels, wide), from: from}
}

// circles is n circles of around batches; each circle is also made from the one before.
func circles(n, around int) net {
	from := make([][]int, n*around)
	for i := range from {
		first := i / around * around
		from[i] = append(from[i], first+(i-first+1)%around)
		if i == first && i > 0 {
			from[i] = append(from[i], i-1)
		}
	}
	return net{name: fmt.Sprintf("%d circles of %d", n, around), from: from}
}

func id(i int) string { return fmt.Sprintf("%05d", i) }

// shelf is the net as batches. Each is also made from resin and acetone, is topped
// up from its inputs, and evaporates a little.
func (n net) shelf() (map[string]stock.Made, int) {
	batches, edges := map[string]stock.Made{}, 0
	events := map[string][]stock.Event{}
	for i, from := range n.from {
		made := stock.Made{
			Code: "B-" + id(i),
			Inputs: []stock.Ingredient{
				pure(resin, amount("1", quantity.Gram)), pure(acetone, amount("10", quantity.Millilitre)),
			},
		}
		if n.loose && i == 0 {
			made.Inputs = append(made.Inputs, stock.Ingredient{Name: "old glue"})
		}
		events[id(i)] = append(events[id(i)], event("gone from "+id(i), stock.Evaporated, "2024-06", "0.1"))
		for _, k := range from {
			made.Inputs = append(made.Inputs, stock.Ingredient{Batch: id(k), Amount: amount("1", quantity.Millilitre)})
			events[id(k)] = append(events[id(k)], event(id(i), stock.Decanted, "2024-07", "1"))
			more := event("more of "+id(k)+" in "+id(i), stock.ToppedUp, "2024-08", "1")
			more.With = &stock.Ingredient{Batch: id(k)}
			left := more
			left.Kind, left.With = stock.Decanted, nil
			events[id(i)], events[id(k)] = append(events[id(i)], more), append(events[id(k)], left)
			edges++
		}
		batches[id(i)] = made
	}
	entries := 0
	for i, list := range events {
		made := batches[i]
		made.Events = list
		batches[i] = made
		entries += len(list)
	}
	return batches, len(n.from)*3 + edges + entries
}

func nets() []net {
	all := []net{
		chain(2000), layered(40, 2), layered(5, 100), circles(1, 2000), circles(1000, 2), circles(500, 1), circles(31, 3),
	}
	for _, n := range all[:len(all):len(all)] {
		n.name, n.loose = n.name+" of something unknown", true
		all = append(all, n)
	}
	return all
}

// Whatever the shape of the record, each input, edge and entry is looked at a few
// times, and no list has a duplicate or exceeds its limit.
func TestAShelfLooksAtEachThingAFewTimes(t *testing.T) {
	t.Parallel()
	for _, n := range nets() {
		batches, size := n.shelf()
		s := stock.NewShelf(batches)
		last := id(len(n.from) - 1)
		held := s.Contents(last)
		s.Account(last)
		s.At(last, "any")
		if looked := s.Looked(); looked > 6*size {
			t.Errorf("%s: looked %d times at %d things", n.name, looked, size)
		}
		for what, list := range map[string][]string{"why": held.Why, "materials": held.Materials, "unnamed": held.Unnamed} {
			if sorted := slices.Sorted(slices.Values(list)); len(slices.Compact(sorted)) != len(list) ||
				len(list) > stock.MostMaterials {
				t.Errorf("%s: %s holds %d, want each once", n.name, what, len(list))
			}
		}
		if held.Mixture == nil && len(held.Why) == 0 || len(held.Why) > stock.MostWhy {
			t.Errorf("%s: got %d reasons, want some and at most %d", n.name, len(held.Why), stock.MostWhy)
		}
		if !cmp.Equal(held.Materials, []string{"acetone", "resin"}) || n.loose != (len(held.Unnamed) == 1) {
			t.Errorf("%s: got %v and %v", n.name, held.Materials, held.Unnamed)
		}
	}
}

// Twice as many levels cost twice as much memory, and not a thousand times.
func TestAShelfTakesMemoryByItsSize(t *testing.T) {
	for _, of := range []func(int) net{
		func(n int) net { return chain(20 * n) },
		func(n int) net { return layered(n, 2) },
		func(n int) net { return layered(max(n/8, 1), 40) },
		func(n int) net { return circles(10*n, 2) },
	} {
		taken := func(levels int) uint64 {
			n := of(levels)
			batches, _ := n.shelf()
			return allocated(func() { stock.NewShelf(batches).Contents(id(len(n.from) - 1)) })
		}
		if small, large := taken(20), taken(40); large > 4*small {
			t.Errorf("%s: %d bytes, twice as many levels %d", of(20).name, small, large)
		}
	}
}

func allocated(f func()) uint64 {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	f()
	runtime.ReadMemStats(&after)
	return after.TotalAlloc - before.TotalAlloc
}

// The lists about a batch stop at their limits, and count what they leave out.
func TestContentsCountWhatTheyLeaveOut(t *testing.T) {
	t.Parallel()
	batches := map[string]stock.Made{}
	var all []stock.Ingredient
	for i := range stock.MostMaterials + 14 {
		c := solution.Component{ID: fmt.Sprintf("resin-%04d", i), Name: "resin", Phase: solution.Solid}
		batches[id(i)] = stock.Made{Code: id(i), Inputs: []stock.Ingredient{pure(c, nil), {Name: fmt.Sprintf("glue %d", i)}}}
		all = append(all, stock.Ingredient{Batch: id(i)}, stock.Ingredient{Batch: id(i)})
	}
	batches["all"] = stock.Made{Code: "all", Inputs: all}
	held := stock.Compose("all", batches)
	got := []int{len(held.Materials), held.MoreMaterials, len(held.Unnamed), held.MoreUnnamed, len(held.Why), held.MoreWhy}
	if diff := cmp.Diff(got, []int{500, 14, 500, 14, 100, 414}); diff != "" {
		t.Errorf("(-got +want):\n%s", diff)
	}
	batches = map[string]stock.Made{"b": {Code: "b"}}
	for i := range 101 {
		c := solution.Component{
			ID: fmt.Sprintf("resin-%04d", i), Name: "resin", Phase: solution.Solid, Density: resin.Density,
		}
		made := batches["b"]
		made.Inputs = append(made.Inputs, pure(c, amount("1", quantity.Gram)))
		batches["b"] = made
	}
	if held := stock.Compose("b", batches); held.Mixture != nil || len(held.Why) != 1 || len(held.Materials) != 101 {
		t.Errorf("101 substances: got %v, %v and %d materials", held.Mixture, held.Why, len(held.Materials))
	}
	partly := stock.NewShelf(map[string]stock.Made{"b": filled("beyond", "1")})
	partly.More = 14
	if why := partly.Contents("b").Why; len(why) != 1 || why[0] != "not all that went into it was read: "+
		"there are 14 more supplies and batches" {
		t.Errorf("got %v, want that not all was read", why)
	}
}

// drawNet draws batches that were made from and topped up with anything, themselves
// included.
func drawNet(t *rapid.T) map[string]stock.Made {
	n := rapid.IntRange(1, 6).Draw(t, "batches")
	batches := map[string]stock.Made{}
	dates := rapid.SampledFrom([]string{"", "2023", "2024-02", "2024-06-01", "2024-06-02", "2025"})
	left := map[string][]stock.Event{}
	for i := range n {
		made := stock.Made{Code: "B-" + id(i), Finished: amount("100", quantity.Millilitre),
			Inputs: []stock.Ingredient{
				pure(resin, amount("10", quantity.Gram)), pure(acetone, amount("80", quantity.Millilitre)),
			}}
		for range rapid.IntRange(0, 3).Draw(t, "inputs") {
			from := id(rapid.IntRange(0, n-1).Draw(t, "from"))
			made.Inputs = append(made.Inputs, stock.Ingredient{
				Name: from, Batch: from, Amount: amount("5", quantity.Millilitre),
			})
			left[from] = append(left[from], event(id(i), stock.Decanted, dates.Draw(t, "filled"), "5"))
		}
		for k := range rapid.IntRange(0, 3).Draw(t, "changes") {
			e := event(fmt.Sprintf("entry %d of %d", k, i), rapid.SampledFrom(
				[]stock.Kind{stock.Evaporated, stock.ToppedUp, stock.Weighed}).Draw(t, "kind"), dates.Draw(t, "when"), "7")
			if e.Kind == stock.ToppedUp {
				with := id(rapid.IntRange(0, n-1).Draw(t, "with"))
				e.With = &stock.Ingredient{Batch: with}
				left[with] = append(left[with], event(e.ID, stock.Decanted, dates.Draw(t, "when"), "7"))
			}
			made.Events = append(made.Events, e)
		}
		batches[id(i)] = made
	}
	for i, more := range left {
		made := batches[i]
		made.Events = append(made.Events, more...)
		batches[i] = made
	}
	return batches
}

// A shelf's answer about a batch does not depend on earlier questions, also where
// the record runs in circles.
func TestTheOrderOfAskingTellsNothing(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		batches := drawNet(t)
		ids := slices.Sorted(maps.Keys(batches))
		all := func(s *stock.Shelf, id string) string {
			held, account := s.Contents(id), s.Account(id)
			return fmt.Sprint(held.Why, held.Materials, account.Remaining, account.Knowledge, strengthIn(account.Strength),
				mixtureOf(held), momentOf(s, id))
		}
		shared := stock.NewShelf(batches)
		for _, id := range rapid.Permutation(ids).Draw(t, "order") {
			if got, want := all(shared, id), all(stock.NewShelf(batches), id); got != want {
				t.Fatalf("%s: got %s after others, want %s", id, got, want)
			}
		}
	})
}

func mixtureOf(held stock.Contents) string {
	if held.Mixture == nil {
		return "no mixture"
	}
	return fmt.Sprint(held.Mixture.On(solution.MassFraction))
}

func momentOf(s *stock.Shelf, id string) string {
	m := s.At(id, "any")
	return fmt.Sprint(m.Changed, m.Added, strengthIn(m.Strength))
}

func strengthIn(m *quantity.Measured) string {
	if m == nil {
		return "not known"
	}
	return fmt.Sprint(*m)
}

// The contents of batches that were made from each other are unknown, and so are
// those of batches made from them; each says so of itself.
func TestACircleAnswersForItself(t *testing.T) {
	t.Parallel()
	batches := map[string]stock.Made{"a": {Code: "A", Inputs: []stock.Ingredient{{Batch: "b"}, pure(resin, nil)}},
		"b": {Code: "B", Inputs: []stock.Ingredient{{Batch: "c"}}}, "c": {Code: "C", Inputs: []stock.Ingredient{{Batch: "a"}, pure(acetone, nil)}},
		"self": {Code: "S", Inputs: []stock.Ingredient{{Batch: "self"}}}, "of": {Code: "O", Inputs: []stock.Ingredient{{Batch: "b"}, {Batch: "self"}, {Batch: "b"}}}}
	for id, want := range map[string][]string{"a": {"A"}, "b": {"B"}, "c": {"C"}, "self": {"S"}, "of": {"B", "S"}} {
		held := stock.Compose(id, batches)
		var why []string
		for _, code := range want {
			why = append(why, "the record says that "+code+" was made, through others, from itself")
		}
		if diff := cmp.Diff(held.Why, why); diff != "" || held.Mixture != nil {
			t.Errorf("%s (-got +want):\n%s", id, diff)
		}
		if id != "self" && !cmp.Equal(held.Materials, []string{"acetone", "resin"}) {
			t.Errorf("%s: got %v, want all that is in the circle", id, held.Materials)
		}
	}
}

// Each possible step of a trace is looked at a few times, also where the dates
// found get earlier again and again.
func TestWhereUsedLooksAtEachStepAFewTimes(t *testing.T) {
	t.Parallel()
	for _, n := range append(nets(), layered(100, 10)) {
		users, edges := n.users()
		if looked := stock.SpreadSteps(users, id(0)); looked > 4*edges {
			t.Errorf("%s: looked %d times at %d steps", n.name, looked, edges)
		}
	}
}

// users is the net as it is traced: every second input is a top-up, later the
// further down it is, so that each is reached again and again.
func (n net) users() (users []stock.User, edges int) {
	for i, from := range n.from {
		u := stock.User{ID: id(i), When: period(fmt.Sprint(2000 + i%20))}
		for k, f := range from {
			use := stock.Use{Stock: id(f)}
			if k%2 == 1 {
				use.Later, use.When = true, period(fmt.Sprint(1900+(i*37+k)%150))
			}
			u.Uses = append(u.Uses, use)
			edges++
		}
		users = append(users, u)
	}
	return users, edges
}

// The ways along a chain of a thousand dilutions, each of which was used, have half
// a million steps in all. The answer leaves out those beyond its limit, and says so.
func TestTheWaysToAllTreatmentsAreBounded(t *testing.T) {
	t.Parallel()
	users, _ := chain(2000).users()
	treatments := make([]stock.User, len(users))
	for i := range users {
		treatments[i] = stock.User{ID: "of " + id(i), Uses: []stock.Use{{Stock: id(i)}}}
	}
	got := stock.FindWhereUsed(stock.Subject{ID: id(0)}, users, treatments)
	steps := 0
	for _, trace := range got.Certain {
		if len(trace.Through) == 0 || len(trace.Through) > stock.MostSteps {
			t.Fatalf("%s: got %d steps, want some and at most %d", trace.Treatment, len(trace.Through), stock.MostSteps)
		}
		steps += len(trace.Through)
	}
	if len(got.Certain) != len(users) || steps > stock.MostStepsInAll+len(users) || !got.WaysCut {
		t.Errorf("got %d treatments over %d steps, cut %v; want %d, at most %d, cut", len(got.Certain), steps, got.WaysCut,
			len(users), stock.MostStepsInAll)
	}
	if few := stock.FindWhereUsed(stock.Subject{ID: id(0)}, users, treatments[:400]); few.WaysCut ||
		len(few.Certain[399].Through) != 400 {
		t.Errorf("got %d steps, cut %v; want 400 and all told", len(few.Certain[399].Through), few.WaysCut)
	}
}

// A thousand circles cost no more than their links.
func TestLineageOfManyCircles(t *testing.T) {
	for _, n := range []net{circles(5000, 2), circles(1, 10000), layered(100, 15)} {
		var links []stock.Link
		for i, from := range n.from {
			for _, f := range from {
				links = append(links, stock.Link{From: id(f), Into: id(i)})
			}
		}
		var got stock.Lineage
		taken := allocated(func() { got = stock.LineageOf(id(len(n.from)-1), links) })
		if most := uint64(2000 * (len(links) + 1000)); taken > most {
			t.Errorf("%s: %d bytes for %d links, want at most %d", n.name, taken, len(links), most)
		}
		if len(got.MadeFrom)+1 < len(n.from)*9/10 {
			t.Errorf("%s: reached %d of %d", n.name, len(got.MadeFrom), len(n.from))
		}
	}
}

// Where not all entries about batches were read, what depends on them is unknown:
// the amount left, and the strength of a bottle after a change.
func TestWhatRestsOnEntriesThatWereNotReadIsNotKnown(t *testing.T) {
	t.Parallel()
	s := stock.NewShelf(map[string]stock.Made{
		"jar":  jar(event("gone", stock.Evaporated, "2024-06-01", "30"), event("june", stock.Decanted, "2024-06-02", "20")),
		"june": filled("jar", "20"), "other": jar()})
	s.EntriesCut = true
	if got := s.Account("jar"); got.Knowledge != stock.Unknown || got.Strength != nil {
		t.Errorf("got %+v, want nothing known", got.Balance)
	}
	if got := s.At("jar", "june"); !got.Changed || got.Strength != nil {
		t.Errorf("got %+v, want a strength that is not known", got)
	}
	if s.Contents("june").Mixture != nil || s.Contents("other").Mixture == nil {
		t.Error("got what the bottle holds, or not what an untouched jar does")
	}
}

// A long chain of mixtures of many substances stops at the limit of mixing, and says so.
func TestMixturesOfManySubstancesAreBounded(t *testing.T) {
	n := chain(2000)
	batches, _ := n.shelf()
	for i := range n.from {
		made := batches[id(i)]
		if made.Events, made.Inputs = nil, made.Inputs[2:]; i < 40 {
			c := solution.Component{ID: "resin-" + id(i), Name: "resin", Phase: solution.Solid,
				Density: solution.Density{Measured: quantity.Measured{Value: 1.1, Standard: 0.1}}}
			made.Inputs = append(made.Inputs, pure(c, amount("1", quantity.Gram)))
		}
		batches[id(i)] = made
	}
	var held stock.Contents
	taken := allocated(func() { held = stock.NewShelf(batches).Contents(id(1999)) })
	if held.Mixture != nil || len(held.Why) != 1 || !strings.Contains(held.Why[0], "than is added up at once") ||
		taken > 1_000_000_000 {
		t.Errorf("got %v and %d bytes, want the limit named", held.Why, taken)
	}
}
