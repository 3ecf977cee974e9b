package httpapi_test

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"

	"meniscus/internal/pgtest"
	"meniscus/internal/postgres"
)

func (s *service) split(of string, request object) reply {
	s.t.Helper()
	return s.do(http.MethodPost, "/v1/specimens/"+of+"/parts", request, anyTag, header{"Idempotency-Key", uuid.NewString()})
}

func splitOf(number, date string, areas ...any) object {
	return object{"areas": areas, "date": object{"edtf": date}, "reason": "Lifted as a block.", "statement": specimen(number)}
}

// A part has the history of its areas up to the split, and nothing later.
func TestAPartInheritsItsHistory(t *testing.T) {
	t.Parallel()
	s := newService(t)
	whole := s.create("/v1/specimens", specimen("LV.70")).id()
	on := func(date string, areas ...any) string {
		return s.create("/v1/treatments", coated(whole, date, areas...)).id()
	}
	all, orbit, jaw, sameYear, later := on("2001", "whole"), on("2003", "skull/left-orbit/rim"), on("2004", "jaw"), on("2010", "skull"), on("2012", "skull/left-orbit")
	part := s.split(whole, splitOf("LV.70.1", "2010-06", "skull/left-orbit")).want(201)
	if part.at("statement", "partOf", "specimen", "id") != whole || part.at("statement", "identifiers", 0, "value") != "LV.70.1" {
		t.Errorf("got %s, want the part with its origin", part.body)
	}
	own := s.create("/v1/treatments", coated(part.id(), "2013", "skull/left-orbit")).id()
	afterwards := on("2020", "whole")

	list := s.do(http.MethodGet, "/v1/specimens/"+part.id()+"/treatments", nil).want(200)
	if got, want := list.ids(), []string{all, orbit, sameYear, own}; !slices.Equal(got, want) {
		t.Fatalf("got %v, want %v", got, want)
	}
	for i, certain := range []any{true, true, false} {
		if list.at("items", i, "statedAbout", "because") != "split" ||
			list.at("items", i, "statedAbout", "specimen", "id") != whole || list.at("items", i, "statedAbout", "certain") != certain {
			t.Errorf("item %d: got %v, want it inherited, certain: %v", i, list.at("items", i, "statedAbout"), certain)
		}
	}
	if list.at("items", 3, "statedAbout") != nil {
		t.Errorf("got %v, want the part's own treatment unmarked", list.at("items", 3))
	}
	state := string(s.do(http.MethodGet, "/v1/specimens/"+part.id()+"/present-state?detail=full", nil).want(200).body)
	for id, there := range map[string]bool{all: true, orbit: true, sameYear: true, own: true, jaw: false, later: false, afterwards: false} {
		if strings.Contains(state, id) != there {
			t.Errorf("layer %s: got there %v, want %v", id, !there, there)
		}
	}
	if strings.Contains(state, `"area":"jaw"`) || !strings.Contains(state, `"area":"skull/left-orbit"`) {
		t.Errorf("got %s, want the part's own areas alone", state)
	}
	if got := s.treatmentsOf(whole); len(got) != 6 || slices.Contains(got, own) {
		t.Errorf("got %v of the parent, want its own six", got)
	}
	if got := s.do(http.MethodGet, "/v1/specimens?parent="+whole, nil).want(200).ids(); !slices.Equal(got, []string{part.id()}) {
		t.Errorf("got %v under the parent, want the part", got)
	}
}

// What a bad supply touched, its parts carry away with them.
func TestWhereUsedNamesTheParts(t *testing.T) {
	t.Parallel()
	s := newService(t)
	whole := s.create("/v1/specimens", specimen("LV.71")).id()
	supply := s.create("/v1/supplies", object{"code": "S-9", "material": object{"id": "acetone"}}).id()
	st := treatment(whole, "cleaning", "2001")
	st["materials"] = array{object{"used": object{"supply": object{"id": supply}}}}
	s.create("/v1/treatments", st)
	part := s.split(whole, splitOf("LV.71.1", "2010", "skull")).want(201).id()
	splinter := s.split(part, splitOf("LV.71.2", "2011", "skull/left-orbit")).want(201).id()
	used := s.do(http.MethodGet, "/v1/supplies/"+supply+"/where-used", nil).want(200)
	if got := used.at("certain", 0, "parts"); got == nil || len(got.([]any)) != 2 || !strings.Contains(string(used.body), splinter) {
		t.Errorf("got %s, want both parts named", used.body)
	}
}

// A sample is listed under its parent and inherits nothing: it was taken from
// an area and is what it is.
func TestSamplesAreListedUnderTheirParent(t *testing.T) {
	t.Parallel()
	s := newService(t)
	whole, other := s.create("/v1/specimens", specimen("LV.72")).id(), s.create("/v1/specimens", specimen("LV.73")).id()
	sample := specimen("LV.72-S1")
	sample["sampleOf"] = object{"specimen": object{"id": whole}, "area": "skull"}
	taken := s.create("/v1/specimens", sample).id()
	if got := s.do(http.MethodGet, "/v1/specimens?parent="+whole, nil).want(200).ids(); !slices.Equal(got, []string{taken}) {
		t.Errorf("got %v, want the sample", got)
	}
	s.merge(whole, other).want(201)
	if got := s.do(http.MethodGet, "/v1/specimens?parent="+other, nil).want(200).ids(); !slices.Equal(got, []string{taken}) {
		t.Errorf("got %v under the survivor, want the sample", got)
	}
	s.do(http.MethodGet, "/v1/specimens?parent="+uuid.NewString(), nil).wantProblem(404, "specimen-unknown")
}

func TestSplitsThatAreRefused(t *testing.T) {
	t.Parallel()
	s := newService(t)
	whole := s.create("/v1/specimens", specimen("LV.74")).id()
	part := s.split(whole, splitOf("LV.74.1", "2010", "skull")).want(201)
	pointer := func(r reply) any { return r.wantProblem(422, "validation").at("errors", 0, "pointer") }
	if got := pointer(s.split(part.id(), splitOf("LV.74.2", "2011", "jaw"))); got != "/areas/0" {
		t.Errorf("got a fault at %v, want /areas/0: the part has no jaw", got)
	}
	if got := pointer(s.split(whole, splitOf("LV.74.3", "2011-13", "skull"))); got != "/date/edtf" {
		t.Errorf("got a fault at %v, want /date/edtf", got)
	}
	given := splitOf("LV.74.4", "2011", "skull")
	given["statement"].(object)["sampleOf"] = object{"specimen": object{"id": whole}}
	pointer(s.split(whole, given))
	s.split(uuid.NewString(), splitOf("x", "2011", "skull")).wantProblem(404, "specimen-unknown")
	s.do(http.MethodPost, "/v1/specimens/"+whole+"/parts", splitOf("x", "2011", "skull"), anyTag).wantProblem(400, "idempotency-key-missing")
	s.do(http.MethodPost, "/v1/specimens/"+whole+"/parts", splitOf("x", "2011", "skull"), header{"Idempotency-Key", "k"}).want(428)
	circle := specimen("LV.74")
	circle["partOf"] = object{"specimen": object{"id": part.id()}, "areas": object{"paths": array{"skull"}}, "date": object{"edtf": "2001"}}
	s.do(http.MethodPost, "/v1/records/"+whole+"/amendments", object{"reason": "Wrong.", "statement": circle}, anyTag).wantProblem(422, "validation")
}

// A circle is told from a long descent, which is read to a bound, in one round trip
// however many generations there are.
func TestLongDescents(t *testing.T) {
	s, trips := counted(t)
	first := s.create("/v1/specimens", specimen("LV.1"))
	chain := pgtest.Pool(t, s.db.Super())
	const length = postgres.MostGenerations + 10
	if _, err := chain.Exec(t.Context(), `
		insert into specimen (institution_id, id, revision, parent_id)
		select $1, ('00000000-0000-7000-8000-' || lpad(n::text, 12, '0'))::uuid, 1,
		       case when n = 1 then $2 else ('00000000-0000-7000-8000-' || lpad((n - 1)::text, 12, '0'))::uuid end
		  from generate_series(1, $3::int) n`, s.inst, first.id(), length); err != nil {
		t.Fatal(err)
	}
	at := func(n int) string { return fmt.Sprintf("00000000-0000-7000-8000-%012d", n) }
	taken := func(n int) object {
		st := specimen("LV.2")
		st["sampleOf"] = object{"specimen": object{"id": at(n)}}
		return st
	}
	for n, code := range map[int]string{1: "origin-circle", 150: "origin-circle", postgres.MostGenerations - 1: "origin-circle", length: "origin-too-long"} {
		problem := s.do(http.MethodPost, "/v1/records/"+first.id()+"/amendments", object{"reason": "Wrong.", "statement": taken(n)}, anyTag).wantProblem(422, "validation")
		if got := problem.at("errors", 0, "code"); got != code {
			t.Errorf("over %d generations: got %v, want %s", n, got, code)
		}
	}
	near := trips.During(func() { s.create("/v1/specimens", taken(1)) })
	if far := trips.During(func() { s.create("/v1/specimens", taken(200)) }); far != near {
		t.Errorf("a chain of 200 took %d round trips, one of 1 took %d", far, near)
	}
}
