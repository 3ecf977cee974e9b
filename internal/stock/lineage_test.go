package stock_test

import (
	"fmt"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"meniscus/internal/edtf"
	"meniscus/internal/stock"
)

func TestLineageBothWays(t *testing.T) {
	t.Parallel()
	links := []stock.Link{
		{From: "resin", Into: "stock"}, {From: "acetone", Into: "stock"}, {From: "stock", Into: "dilution"},
		{From: "acetone", Into: "dilution"}, {From: "dilution", Into: "bottle-1"}, {From: "dilution", Into: "bottle-2"},
		{From: "other", Into: "elsewhere"},
	}
	got := stock.LineageOf("dilution", links)
	want := stock.Lineage{
		MadeFrom: []stock.Node{{ID: "acetone", Depth: 1}, {ID: "stock", Depth: 1}, {ID: "resin", Depth: 2}},
		MadeInto: []stock.Node{{ID: "bottle-1", Depth: 1}, {ID: "bottle-2", Depth: 1}},
		Links: []stock.Link{
			{From: "acetone", Into: "dilution"}, {From: "acetone", Into: "stock"}, {From: "dilution", Into: "bottle-1"},
			{From: "dilution", Into: "bottle-2"}, {From: "resin", Into: "stock"}, {From: "stock", Into: "dilution"},
		},
	}
	if diff := cmp.Diff(got, want); diff != "" {
		t.Errorf("(-got +want):\n%s", diff)
	}
}

func TestLineageOfTenThousandSteps(t *testing.T) {
	t.Parallel()
	const n = 10000
	var links []stock.Link
	for i := range n {
		links = append(links, stock.Link{From: fmt.Sprint(i), Into: fmt.Sprint(i + 1)})
	}
	got := stock.LineageOf("5000", links)
	if len(got.MadeFrom) != 5000 || len(got.MadeInto) != 5000 || got.MadeFrom[4999].Depth != 5000 || got.Findings != nil {
		t.Errorf("got %d before, %d after, %v, want 5000 of each and no finding",
			len(got.MadeFrom), len(got.MadeInto), got.Findings)
	}
}

func TestACircleIsNamedAndNothingElse(t *testing.T) {
	t.Parallel()
	links := []stock.Link{
		{From: "before", Into: "a"}, {From: "a", Into: "b"}, {From: "b", Into: "c"}, {From: "c", Into: "a"},
		{From: "c", Into: "between"}, {From: "between", Into: "self"}, {From: "self", Into: "self"}, {From: "self", Into: "after"},
	}
	got := stock.LineageOf("a", links)
	var circles [][]string
	for _, f := range got.Findings {
		if f.Rule != "lineage-circle" {
			t.Errorf("got %s, want lineage-circle", f.Rule)
		}
		circles = append(circles, f.Of)
	}
	slices.SortFunc(circles, slices.Compare)
	if diff := cmp.Diff(circles, [][]string{{"a", "b", "c"}, {"self"}}); diff != "" {
		t.Errorf("(-got +want):\n%s", diff)
	}
}

func drawLinks(t *rapid.T) ([]stock.Link, int) {
	n := rapid.IntRange(1, 9).Draw(t, "batches")
	node := rapid.IntRange(0, n-1)
	var links []stock.Link
	for range rapid.IntRange(0, 14).Draw(t, "links") {
		links = append(links, stock.Link{From: fmt.Sprint(node.Draw(t, "from")), Into: fmt.Sprint(node.Draw(t, "into"))})
	}
	return links, n
}

// closure is the reference model: which batch reaches which in one step or more (Warshall).
func closure(links []stock.Link, n int) map[[2]string]bool {
	reaches := map[[2]string]bool{}
	for _, l := range links {
		reaches[[2]string{l.From, l.Into}] = true
	}
	for k := range n {
		for i := range n {
			for j := range n {
				a, b, c := fmt.Sprint(i), fmt.Sprint(k), fmt.Sprint(j)
				if reaches[[2]string{a, b}] && reaches[[2]string{b, c}] {
					reaches[[2]string{a, c}] = true
				}
			}
		}
	}
	return reaches
}

func TestLineageAgreesWithTheClosure(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		links, n := drawLinks(t)
		reaches := closure(links, n)
		got := stock.LineageOf("0", links)
		var up, down []string
		for _, node := range got.MadeFrom {
			up = append(up, node.ID)
		}
		for _, node := range got.MadeInto {
			down = append(down, node.ID)
		}
		inCircle := map[string]bool{}
		for _, f := range got.Findings {
			for _, id := range f.Of {
				inCircle[id] = true
			}
		}
		for i := range n {
			id := fmt.Sprint(i)
			if want := id != "0" && reaches[[2]string{id, "0"}]; slices.Contains(up, id) != want {
				t.Fatalf("%v: 0 made from %s: got %v, want %v", links, id, !want, want)
			}
			if want := id != "0" && reaches[[2]string{"0", id}]; slices.Contains(down, id) != want {
				t.Fatalf("%v: 0 made into %s: got %v, want %v", links, id, !want, want)
			}
			near := id == "0" || slices.Contains(up, id) || slices.Contains(down, id)
			if want := near && reaches[[2]string{id, id}]; inCircle[id] != want {
				t.Fatalf("%v: %s in a circle: got %v, want %v", links, id, inCircle[id], want)
			}
		}
	})
}

func period(text string) edtf.Period {
	if text == "" {
		return edtf.Period{}
	}
	return edtf.MustParse(text).Period()
}

func treatments(list []stock.Trace) []string {
	var ids []string
	for _, tr := range list {
		ids = append(ids, tr.Treatment)
	}
	return ids
}

func TestWhereUsedHasThreeLists(t *testing.T) {
	t.Parallel()
	subject := stock.Subject{ID: "jar", Materials: []string{"resin"}, Window: period("2019/2021")}
	batches := []stock.User{
		{ID: "solution", When: period("2019"), Uses: []stock.Use{{Stock: "jar"}, {Materials: []string{"acetone"}}}},
		{ID: "bottle", When: period("2020"), Uses: []stock.Use{{Stock: "solution"}}},
		{ID: "loose", When: period("2020"), Uses: []stock.Use{{Materials: []string{"resin"}}}},
		{ID: "loose-bottle", When: period("2025"), Uses: []stock.Use{{Stock: "loose"}}},
		{ID: "too-early", When: period("2018"), Uses: []stock.Use{{Materials: []string{"resin"}}}},
		{ID: "murky", When: period(""), Uses: []stock.Use{{Words: "some resin", Candidates: []string{"resin", "glue"}}}},
	}
	uses := func(id, when string, u ...stock.Use) stock.User {
		return stock.User{ID: id, When: period(when), Uses: u}
	}
	got := stock.FindWhereUsed(subject, batches, []stock.User{
		uses("bottle used", "2020", stock.Use{Stock: "bottle"}),
		uses("jar used long after its end", "2030", stock.Use{Stock: "jar"}),
		uses("named, dates fit", "2020-05", stock.Use{Materials: []string{"resin"}}),
		uses("named, too late", "2022", stock.Use{Materials: []string{"resin"}}),
		uses("named, no date", "", stock.Use{Materials: []string{"resin"}}),
		uses("another material", "2020", stock.Use{Materials: []string{"glue"}}),
		uses("bottle of a loose batch", "2026", stock.Use{Stock: "loose-bottle"}),
		uses("batch made too early", "2020", stock.Use{Stock: "too-early"}),
		uses("words that may mean it", "201X", stock.Use{Words: "some resin", Candidates: []string{"glue", "resin"}}),
		uses("words that mean another", "2020", stock.Use{Words: "some resin", Candidates: []string{"glue"}}),
		uses("words that nobody read", "2020", stock.Use{Words: "some resin"}),
		uses("words, too early", "1950", stock.Use{Words: "some resin"}),
		uses("murky batch used", "2020", stock.Use{Stock: "murky"}),
		uses("both certain and possible", "2020", stock.Use{Materials: []string{"resin"}}, stock.Use{Stock: "solution"}),
		uses("nothing used", "2020"),
	})
	want := [][]string{
		{"bottle used", "jar used long after its end", "both certain and possible"},
		{"named, dates fit", "named, no date", "bottle of a loose batch"},
		{"words that may mean it", "words that nobody read", "murky batch used"},
	}
	if diff := cmp.Diff([][]string{treatments(got.Certain), treatments(got.Possible), treatments(got.CannotBeExcluded)},
		want); diff != "" {
		t.Errorf("(-got +want):\n%s", diff)
	}
	through := [][]string{
		got.Certain[0].Through, got.Certain[2].Through, got.Possible[2].Through, got.CannotBeExcluded[2].Through,
	}
	if diff := cmp.Diff(through, [][]string{
		{"jar", "solution", "bottle"}, {"jar", "solution"}, {"loose", "loose-bottle"}, {"murky"},
	}); diff != "" {
		t.Errorf("through (-got +want):\n%s", diff)
	}
}

func TestCertainTracesAgreeWithTheClosure(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		links, n := drawLinks(t)
		reaches := closure(links, n)
		batches := make([]stock.User, n)
		for i := range n {
			batches[i].ID = fmt.Sprint(i)
		}
		isLink := map[stock.Link]bool{}
		for _, l := range links {
			isLink[l] = true
			for i := range batches {
				if batches[i].ID == l.Into {
					batches[i].Uses = append(batches[i].Uses, stock.Use{Stock: l.From})
				}
			}
		}
		var users []stock.User
		for i := range n {
			users = append(users, stock.User{ID: "of " + fmt.Sprint(i), Uses: []stock.Use{{Stock: fmt.Sprint(i)}}})
		}
		got := stock.FindWhereUsed(stock.Subject{ID: "0"}, batches, users)
		var want []string
		for i := range n {
			if id := fmt.Sprint(i); id == "0" || reaches[[2]string{"0", id}] {
				want = append(want, "of "+id)
			}
		}
		if diff := cmp.Diff(treatments(got.Certain), want); diff != "" {
			t.Fatalf("%v (-got +want):\n%s", links, diff)
		}
		for _, trace := range got.Certain {
			for i := 1; i < len(trace.Through); i++ {
				if step := (stock.Link{From: trace.Through[i-1], Into: trace.Through[i]}); !isLink[step] {
					t.Fatalf("%v: %v goes over a link that is not there", links, trace.Through)
				}
			}
		}
	})
}
