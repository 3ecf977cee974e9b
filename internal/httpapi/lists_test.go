package httpapi_test

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"meniscus/internal/postgres"
)

// kept gives the names of the records that a list gives for each query.
func (s *service) kept(name map[string]string, path string, want map[string]string) {
	s.t.Helper()
	for query, want := range want {
		var got []string
		for _, id := range s.do(http.MethodGet, path+"?"+query, nil).want(200).ids() {
			got = append(got, name[id])
		}
		slices.Sort(got)
		if strings.Join(got, ", ") != want {
			s.t.Errorf("%s?%s: got %q, want %q", path, query, strings.Join(got, ", "), want)
		}
	}
}

func TestStockFilters(t *testing.T) {
	t.Parallel()
	s := newService(t)
	name := map[string]string{}
	add := func(path, label string, statement object) string {
		statement["code"] = label
		id := s.create(path, statement).id()
		name[id] = label
		return id
	}
	day := func(text string) object { return object{"edtf": text} }
	skull, field := s.create("/v1/specimens", specimen("LV.20")).id(), s.create("/v1/specimens", specimen("F-20")).id()
	maker := s.create("/v1/people", object{"name": "Jonas Feld"}).id()
	resin := add("/v1/supplies", "resin", object{"material": object{"id": "shellac"}, "received": day("2020"), "expires": day("2022-06")})
	ethanol := add("/v1/supplies", "ethanol", object{"material": object{"id": "ethanol"}, "received": day("2021-05-03")})
	undated := add("/v1/supplies", "undated", object{"material": object{"id": "acetone"}})
	input := func(from object) object {
		return object{"from": from, "part": "stock", "amount": object{"answer": "unknown"}}
	}
	of := func(id string) object { return object{"id": id} }
	stock := add("/v1/batches", "stock", object{"kind": "solution", "made": day("2021"), "inputs": array{input(object{"supply": of(resin)}), input(object{"supply": of(ethanol)})},
		"madeBy": array{object{"person": of(maker), "part": "carried-out"}}})
	bottle := add("/v1/batches", "bottle", object{"kind": "bottle", "made": day("2021-09"), "inputs": array{input(object{"batch": of(stock)})}})
	loose := add("/v1/batches", "loose", object{"kind": "solution", "inputs": array{input(object{"material": object{"id": "acetone"}})}})
	change := func(label string, statement object) {
		statement["batch"], statement["amount"] = of(loose), object{"answer": "unknown"}
		name[s.create("/v1/amount-changes", statement).id()] = label
	}
	change("topped up", object{"kind": "topped-up", "with": object{"batch": of(stock)}, "date": day("2022"), "by": of(maker)})
	change("evaporated", object{"kind": "evaporated", "date": day("2023-01")})
	change("thinned", object{"kind": "topped-up", "with": object{"supply": of(ethanol)}, "date": day("2022-12")})
	change("spread", object{"kind": "topped-up", "with": object{"material": of("acetone")}, "date": day("2022-12")})
	used := treatment(field, "coating", "2021-10")
	used["materials"] = array{object{"used": object{"batch": of(bottle)}}, object{"used": object{"supply": of(undated)}}}
	s.create("/v1/treatments", used)
	s.merge(field, skull).want(201)

	s.kept(name, "/v1/supplies", map[string]string{
		"":                    "ethanol, resin, undated",
		"material=shellac":    "resin",
		"from=2021-01-01":     "ethanol, undated",
		"until=2020-06-30":    "resin, undated",
		"notAfter=2020-12-31": "resin", "notBefore=2021-05-03": "ethanol",
		"expires=2022-06-30": "resin", "expires=2022-06-29": "",
		"specimen=" + skull: "undated",
	})
	s.kept(name, "/v1/batches", map[string]string{
		"": "bottle, loose, stock", "kind=bottle": "bottle",
		"material=shellac": "bottle, loose, stock", "material=ethanol": "bottle, loose, stock", "material=acetone": "loose", "material=animal-glue": "",
		"supply=" + resin: "stock", "batch=" + stock: "bottle, loose", "batch=" + bottle: "",
		"person=" + maker: "stock", "specimen=" + skull: "bottle",
		"from=2021-09-01&until=2021-09-30": "bottle, loose, stock", "notBefore=2021-09-01": "bottle", "notAfter=2021-12-31&kind=solution": "stock",
	})
	s.kept(name, "/v1/batches/"+loose+"/amount-changes", map[string]string{
		"": "evaporated, spread, thinned, topped up", "kind=topped-up": "spread, thinned, topped up", "person=" + maker: "topped up", "notBefore=2023-01-01": "evaporated", "until=2022-06-01": "topped up",
		"batch=" + stock: "topped up", "batch=" + bottle: "", "supply=" + ethanol: "thinned", "material=ethanol": "thinned", "material=acetone": "spread", "material=shellac": "",
	})
	s.do(http.MethodGet, "/v1/batches?colour=red", nil).want(400)
	s.do(http.MethodGet, "/v1/batches/"+resin+"/amount-changes", nil).want(404)
	if wrong := s.refreshed().verify(); len(wrong) > 0 {
		t.Errorf("got %v, want the projections as they were made", wrong)
	}
}

func (s *service) refreshed() *service {
	s.refresh()
	return s
}

func TestSpecimenAndPlanFilters(t *testing.T) {
	t.Parallel()
	s := newService(t)
	name := map[string]string{}
	add := func(path, label string, statement object) string {
		id := s.create(path, statement).id()
		name[id] = label
		return id
	}
	pottery := specimen("K.1")
	pottery["collection"], pottery["bodyKind"] = "ceramics", "ceramic"
	skull, field, pot := add("/v1/specimens", "skull", specimen("LV.21")), add("/v1/specimens", "field", specimen("F-21")), add("/v1/specimens", "pot", pottery)
	sample := specimen("LV.21/1")
	sample["sampleOf"] = object{"specimen": object{"id": field}}
	add("/v1/specimens", "sample", sample)
	gone := add("/v1/specimens", "gone", specimen("LV.0"))
	s.do(http.MethodPost, "/v1/records/"+gone+"/retraction", object{"reason": "Twice."}, anyTag).want(201)
	who := s.create("/v1/people", object{"name": "Tomas Brandl"}).id()
	supply := s.create("/v1/supplies", object{"code": "S", "material": object{"id": "shellac"}}).id()
	planned := treatment(field, "coating", "2030")
	planned["materials"] = array{object{"used": object{"supply": object{"id": supply}}}}
	add("/v1/plans", "coat", object{"treatment": planned, "proposedBy": array{object{"person": object{"id": who}, "part": "advised"}}})
	add("/v1/plans", "glue", object{"treatment": object{"specimen": object{"id": pot}, "action": "joining", "joinedTo": object{"id": skull},
		"areas": object{"paths": array{"rim"}}, "dates": object{"edtf": "2031"}}})
	s.merge(field, skull).want(201)

	s.kept(name, "/v1/specimens", map[string]string{
		"": "pot, sample, skull", "state=merged": "field", "state=retracted": "gone", "state=any": "field, gone, pot, sample, skull",
		"state=merged&survivor=" + skull: "field", "state=merged&survivor=" + pot: "",
		"collection=ceramics": "pot", "bodyKind=bone": "sample, skull", "parent=" + skull: "sample", "parent=" + pot: "",
	})
	s.kept(name, "/v1/plans", map[string]string{
		"specimen=" + skull: "coat, glue", "specimen=" + pot: "glue", "area=skull": "coat", "area=whole": "coat, glue", "action=joining": "glue",
		"material=shellac": "coat", "supply=" + supply: "coat", "person=" + who: "coat", "notBefore=2031-01-01": "glue", "authorised=true": "", "authorised=false&until=2030-01-01": "coat",
	})
}

// While others record and amend, and a sealer gives sequence numbers, every list can be
// walked to its end: what was there is met, by id exactly once, and by sequence number
// never twice with the same revision; what was amended on the way is met with
// its last revision.
func TestEveryListIsStableWhileOthersWrite(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull := s.create("/v1/specimens", specimen("LV.22")).id()
	batch := s.create("/v1/batches", object{"code": "B", "kind": "solution"}).id()
	for _, list := range []struct {
		path, post string
		statement  func(i int) object
	}{
		{"/v1/people", "/v1/people", func(i int) object { return object{"name": fmt.Sprint("Person ", i)} }},
		{"/v1/specimens", "/v1/specimens", func(i int) object { return specimen(fmt.Sprint("LV.", i)) }},
		{"/v1/supplies", "/v1/supplies", func(i int) object { return object{"code": fmt.Sprint(i), "material": object{"id": "acetone"}} }},
		{"/v1/batches", "/v1/batches", func(i int) object { return object{"code": fmt.Sprint(i), "kind": "solution"} }},
		{"/v1/batches/" + batch + "/amount-changes", "/v1/amount-changes", func(i int) object {
			return object{"batch": object{"id": batch}, "kind": "used", "amount": object{"quantity": object{"value": i + 1, "unit": "mL"}}}
		}},
		{"/v1/treatments", "/v1/treatments", func(i int) object { return treatment(skull, "cleaning", fmt.Sprint(1900+i)) }},
		{"/v1/plans", "/v1/plans", func(i int) object { return object{"treatment": treatment(skull, "cleaning", fmt.Sprint(1900+i))} }},
	} {
		t.Run(strings.ReplaceAll(list.path[4:], "/", " "), func(t *testing.T) {
			s := s.in(t)
			var before []reply
			for i := range 9 {
				before = append(before, s.create(list.post, list.statement(i)))
			}
			s.seal()
			others := s.writers(func(i int) {
				s.create(list.post, list.statement(10+i))
				if i < len(before) {
					s.amend(before[i], list.statement(50+i))
				}
			}, 18)
			byID, bySince := s.walk(list.path+"?limit=2"), s.walk(list.path+"?limit=2&recordedSince=2020-01-01T00:00:00Z")
			others.Wait()
			s.seal()
			after := s.walk(list.path + "?limit=500&recordedSince=2020-01-01T00:00:00Z")
			for i, r := range before {
				if n := count(byID, r.id()); n != 1 {
					t.Errorf("record %d was met %d times by id, want once", i, n)
				}
				if n := count(bySince, r.id()); n == 0 {
					t.Errorf("record %d was never met by sequence number", i)
				}
				if last := r.id() + " 2"; !slices.Contains(after, last) || count(after, r.id()) != 1 {
					t.Errorf("record %d: got %v afterwards, want its second revision alone", i, after)
				}
			}
			slices.Sort(bySince)
			if twice := len(bySince) - len(slices.Compact(bySince)); twice != 0 {
				t.Errorf("%d revisions were met twice by sequence number", twice)
			}
		})
	}
}

// writers runs f for each number up to n in the background, and a sealer beside it.
func (s *service) writers(f func(i int), n int) *sync.WaitGroup {
	var all, work sync.WaitGroup
	done := make(chan struct{})
	work.Go(func() {
		for i := range n {
			f(i)
		}
	})
	all.Go(func() { work.Wait(); close(done) })
	all.Go(func() {
		sealer, err := postgres.OpenSealer(s.t.Context(), s.db.Worker(), nil)
		if err != nil {
			s.t.Error(err)
			return
		}
		defer sealer.Close()
		for tick := time.NewTicker(5 * time.Millisecond); ; {
			select {
			case <-done:
				tick.Stop()
				return
			case <-tick.C:
				if _, err := sealer.Round(s.t.Context(), 0); err != nil {
					s.t.Error(err)
				}
			}
		}
	})
	return &all
}

// walk reads a list to its end and gives each item's id and revision.
func (s *service) walk(path string) []string {
	s.t.Helper()
	var met []string
	for path != "" {
		page := s.do(http.MethodGet, path, nil).want(200)
		for _, item := range page.at("items").([]any) {
			met = append(met, fmt.Sprint(item.(object)["id"], " ", item.(object)["revision"]))
		}
		path = ""
		if next, ok := page.at("next").(object); ok {
			path = strings.TrimPrefix(next["href"].(string), "https://meniscus.example")
		}
	}
	return met
}

func count(met []string, id string) (n int) {
	for _, m := range met {
		if strings.HasPrefix(m, id) {
			n++
		}
	}
	return n
}
