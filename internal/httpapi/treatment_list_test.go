package httpapi_test

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
)

// ids gives the ids of a page's items.
func (r reply) ids() []string {
	r.t.Helper()
	var out []string
	for _, item := range r.at("items").([]any) {
		out = append(out, item.(object)["id"].(string))
	}
	return out
}

func TestTreatmentFilters(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull, jaw := s.create("/v1/specimens", specimen("LV.10")).id(), s.create("/v1/specimens", specimen("LV.11")).id()
	supply := s.create("/v1/supplies", object{"code": "S", "material": object{"id": "shellac"}}).id()
	batch := s.create("/v1/batches", object{"code": "B", "kind": "solution",
		"inputs": array{object{"from": object{"supply": object{"id": supply}}, "part": "solute", "amount": object{"answer": "unknown"}}}}).id()
	bottle := s.create("/v1/batches", object{"code": "B-1", "kind": "bottle",
		"inputs": array{object{"from": object{"batch": object{"id": batch}}, "part": "stock", "amount": object{"answer": "unknown"}}}}).id()
	person := s.create("/v1/people", object{"name": "Jonas Feld"}).id()
	const event, plan = "0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7aaa", "0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7bbb"

	name := map[string]string{} // id to name
	add := func(label string, change func(object)) {
		st := treatment(skull, "coating", "1950-06")
		change(st)
		name[s.create("/v1/treatments", st).id()] = label
	}
	used := func(st object, use object) { st["materials"] = array{object{"used": use}} }
	add("whole", func(st object) { st["areas"] = object{"paths": array{"whole"}} })
	add("skull", func(st object) { st["areas"] = object{"paths": array{"skull"}}; st["event"] = object{"id": event} })
	add("orbit", func(st object) { st["dates"] = object{"edtf": "1950/.."} })
	add("skullcap", func(st object) {
		st["areas"] = object{"paths": array{"skullcap"}}
		st["dates"] = object{"edtf": "1949"}
	})
	add("nobody knows where", func(st object) { st["areas"] = object{"answer": "unknown"}; st["dates"] = object{"answer": "unknown"} })
	add("joined", func(st object) {
		st["specimen"], st["action"], st["joinedTo"] = object{"id": jaw}, "joining", object{"id": skull}
		st["dates"] = object{"edtf": "1960"}
	})
	add("jaw", func(st object) {
		st["specimen"] = object{"id": jaw}
		used(st, object{"batch": object{"id": bottle}})
		st["dates"] = object{"edtf": "1970"}
	})
	add("by name", func(st object) {
		used(st, object{"material": object{"id": "shellac"}})
		st["dates"] = object{"edtf": "1970"}
	})
	add("by supply", func(st object) {
		used(st, object{"supply": object{"id": supply}})
		st["dates"] = object{"edtf": "1970"}
	})
	add("another", func(st object) {
		used(st, object{"material": object{"id": "animal-glue"}})
		st["people"] = array{object{"person": object{"id": person}, "part": "carried-out"}}
		st["dates"] = object{"edtf": "1970"}
	})
	_ = plan

	for query, want := range map[string]string{
		"specimen=" + jaw: "jaw, joined",
		"area=skull%2Fleft-orbit&notAfter=1950-12-31": "skull, whole",
		"area=skull&until=1950-12-31":                 "nobody knows where, orbit, skull, whole",
		"area=whole&until=1949-12-31":                 "nobody knows where, skullcap",
		"action=joining":                              "joined",
		"material=shellac":                            "by name, by supply, jaw",
		"batch=" + bottle:                             "jaw",
		"batch=" + batch:                              "",
		"supply=" + supply:                            "by supply",
		"person=" + person:                            "another",
		"event=" + event:                              "skull",
		"plan=" + plan:                                "",
		"from=1950-06-01&until=1950-06-30":            "nobody knows where, orbit, skull, whole",
		"notBefore=1950-06-01&notAfter=1950-06-30":    "skull, whole",
		"notBefore=1960-01-01":                        "another, by name, by supply, jaw, joined",
		"state=retracted":                             "",
		"material=shellac&specimen=" + jaw:            "jaw",
	} {
		var got []string
		r := s.do(http.MethodGet, "/v1/treatments?"+query, nil)
		if r.status != 200 {
			t.Errorf("%s: %s", query, r.body)
			continue
		}
		for _, id := range r.ids() {
			got = append(got, name[id])
		}
		slices.Sort(got)
		if strings.Join(got, ", ") != want {
			t.Errorf("%s: got %s, want %s", query, strings.Join(got, ", "), want)
		}
	}
}

func TestTreatmentListShowsRetractedOnesWhenAsked(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull := s.create("/v1/specimens", specimen("LV.12")).id()
	kept := s.create("/v1/treatments", treatment(skull, "cleaning", "2001")).id()
	gone := s.create("/v1/treatments", treatment(skull, "cleaning", "2002"))
	s.do(http.MethodPost, "/v1/records/"+gone.id()+"/retraction", object{"reason": "Another specimen."}, header{"If-Match", gone.header.Get("ETag")}).want(201)
	for state, want := range map[string][]string{"": {kept}, "in-force": {kept}, "retracted": {gone.id()}, "any": {kept, gone.id()}} {
		query := ""
		if state != "" {
			query = "?state=" + state
		}
		if got := s.do(http.MethodGet, "/v1/treatments"+query, nil).want(200).ids(); !slices.Equal(got, want) {
			t.Errorf("state %q: got %v, want %v", state, got, want)
		}
	}
}

func TestTreatmentFiltersAreChecked(t *testing.T) {
	t.Parallel()
	s := newService(t)
	for _, query := range []string{"from=2024-02-31", "until=yesterday", "recordedSince=2024-01-01", "area=a%2F%2Fb", "action=polishing",
		"specimen=4711", "state=all", "cursor=AAAA", "recordedSince=2024-01-01T00:00:00Z&cursor=AAAA", "colour=red"} {
		s.do(http.MethodGet, "/v1/treatments?"+query, nil).want(400)
	}
}

// While others write, no row is skipped and none is doubled: every treatment
// that was there at the start is met exactly once, by id and by time.
func TestPagingWhileOthersWrite(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull := s.create("/v1/specimens", specimen("LV.13")).id()
	since := "recordedSince=" + url.QueryEscape(time.Now().Add(-time.Hour).Format(time.RFC3339))
	var before []string
	for range 12 {
		before = append(before, s.create("/v1/treatments", treatment(skull, "cleaning", "2001")).id())
	}
	s.seal()
	stop := make(chan struct{})
	var writers sync.WaitGroup
	for range 2 {
		writers.Go(func() {
			for i := 0; ; i++ {
				select {
				case <-stop:
					return
				default:
					s.create("/v1/treatments", treatment(skull, "cleaning", fmt.Sprint(1900+i)))
					s.seal()
				}
			}
		})
	}
	for _, query := range []string{"", since} {
		met := map[string]int{}
		for path := "/v1/treatments?limit=3&" + query; path != "" && len(met) < 400; {
			page := s.do(http.MethodGet, strings.TrimSuffix(path, "&"), nil).want(200)
			for _, id := range page.ids() {
				met[id]++
			}
			path = ""
			if next, ok := page.at("next").(object); ok {
				path = strings.TrimPrefix(next["href"].(string), "https://meniscus.example")
			}
			if len(met) > 60 {
				break // the writers are faster than the reader; what was there before has been passed
			}
		}
		for _, id := range before {
			if met[id] != 1 {
				t.Errorf("%q: treatment %s was met %d times, want once", query, id, met[id])
			}
		}
		for id, n := range met {
			if n != 1 {
				t.Errorf("%q: treatment %s was met %d times, want once", query, id, n)
			}
		}
	}
	close(stop)
	writers.Wait()
}

// What was amended since stands in the list at its new sequence number, once.
func TestRecordedSinceFollowsAmendments(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull := s.create("/v1/specimens", specimen("LV.14")).id()
	first := s.create("/v1/treatments", treatment(skull, "cleaning", "2001"))
	second := s.create("/v1/treatments", treatment(skull, "cleaning", "2002")).id()
	s.seal()
	s.do(http.MethodPost, "/v1/records/"+first.id()+"/amendments", object{"reason": "Misread.", "statement": treatment(skull, "cleaning", "2003")},
		header{"If-Match", first.header.Get("ETag")}).want(201)
	s.seal()
	got := s.do(http.MethodGet, "/v1/treatments?recordedSince=2020-01-01T00:00:00Z", nil).want(200)
	if ids := got.ids(); !slices.Equal(ids, []string{second, first.id()}) || got.at("items", 1, "revision") != 2.0 {
		t.Errorf("got %v, want the amended one last: %s", ids, got.body)
	}
	if ids := s.do(http.MethodGet, "/v1/treatments?recordedSince=2100-01-01T00:00:00Z", nil).want(200).ids(); len(ids) != 0 {
		t.Errorf("got %v from the future, want none", ids)
	}
}
