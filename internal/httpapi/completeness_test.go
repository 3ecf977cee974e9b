package httpapi_test

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"
)

// gapsOf gives rule, kind and pointer of each gap.
func gapsOf(r reply, path ...any) []string {
	r.t.Helper()
	var out []string
	for _, gap := range r.at(path...).([]any) {
		g := gap.(object)
		out = append(out, fmt.Sprint(g["rule"], " ", g["of"], g["pointer"]))
	}
	return out
}

// What a treatment lacks is looked for in its specimen, its people and through
// the batches that its bottle came from.
func TestCompleteness(t *testing.T) {
	t.Parallel()
	s := newService(t)
	known := specimen("LV.40")
	known["owner"], known["classification"], known["description"] = object{"answer": "unknown"}, object{"text": "Ursus spelaeus"}, "Skull"
	skull := s.create("/v1/specimens", known).id()
	person := s.create("/v1/people", object{"name": "Jonas Feld", "organisation": "Museum of the Lower Valley"}).id()
	input := func(kind, id, part string) object {
		return object{"from": object{kind: object{"id": id}}, "part": part, "amount": object{"answer": "unknown"}}
	}
	solvent := s.create("/v1/supplies", object{"code": "S", "material": object{"id": "acetone"}}).id()
	solution := s.create("/v1/batches", object{"code": "B", "kind": "solution", "inputs": array{input("supply", solvent, "solvent")}}).id()
	bottle := s.create("/v1/batches", object{"code": "B-1", "kind": "bottle", "inputs": array{input("batch", solution, "stock")}}).id()
	st := treatment(skull, "consolidation", "2024-03-12")
	st["people"] = array{object{"person": object{"id": person}, "part": "carried-out"}}
	st["materials"] = array{object{"used": object{"batch": object{"id": bottle}}}}
	st["conditionBefore"], st["conditionAfter"] = object{"answer": "unknown"}, object{"text": "Firm."}
	st["images"], st["recordCopyLocation"] = array{}, object{"answer": "none"}
	made := s.create("/v1/treatments", st)
	got := s.do(http.MethodGet, "/v1/records/"+made.id()+"/completeness", nil).want(200)
	if gaps := gapsOf(got, "missing"); !slices.Equal(gaps, []string{"reason treatment/purpose", "consent treatment/authorisation"}) {
		t.Errorf("got %v, want purpose and authorisation: %s", gaps, got.body)
	}
	if got.at("answered") != 11.0 || got.at("applicable") != 13.0 || len(gapsOf(got, "recommended", "missing")) == 0 {
		t.Errorf("got %v of %v, want 11 of 13, and recommendations apart", got.at("answered"), got.at("applicable"))
	}
	bare := s.create("/v1/specimens", specimen("F-40"))
	other := st
	other["specimen"] = object{"id": bare.id()}
	onBare := s.create("/v1/treatments", other).id()
	s.merge(bare.id(), skull).want(201)
	if gaps := gapsOf(s.do(http.MethodGet, "/v1/records/"+onBare+"/completeness", nil).want(200), "missing"); slices.Contains(gaps, "specimen-identity specimen/owner") {
		t.Errorf("got %v, want the record that stands for the specimen looked at", gaps)
	}
	plan := s.create("/v1/plans", object{"treatment": treatment(skull, "coating", "2030")}).id()
	if gaps := gapsOf(s.do(http.MethodGet, "/v1/records/"+plan+"/completeness", nil).want(200), "missing"); !slices.Contains(gaps, "consent plan/authorisation") || slices.Contains(gaps, "specimen-identity specimen/owner") {
		t.Errorf("got %v, want what the plan lacks, and nothing that its specimen has", gaps)
	}
	s.do(http.MethodGet, "/v1/records/"+uuid.NewString()+"/completeness", nil).wantProblem(404, "record-unknown")
	s.do(http.MethodPost, "/v1/records/"+made.id()+"/retraction", object{"reason": "Twice."}, header{"If-Match", made.header.Get("ETag")}).want(201)
	s.do(http.MethodGet, "/v1/records/"+made.id()+"/completeness", nil).wantProblem(409, "record-not-in-force")
}

func TestIncompleteRecords(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull := s.create("/v1/specimens", specimen("LV.41")).id()
	var made []string
	for i := range 5 {
		made = append(made, s.create("/v1/treatments", treatment(skull, "cleaning", fmt.Sprint(2000+i))).id())
	}
	var seen []string
	for path := "/v1/reports/incomplete-records?limit=2"; path != ""; {
		page := s.do(http.MethodGet, path, nil).want(200)
		for i := range page.at("items").([]any) {
			seen = append(seen, page.at("items", i, "record", "id").(string))
		}
		path = ""
		if next, more := page.at("next").(object); more {
			path = strings.TrimPrefix(next["href"].(string), "https://meniscus.example")
		}
	}
	if !slices.Equal(seen, made) {
		t.Errorf("got %v, want each once in order: %v", seen, made)
	}
	for query, want := range map[string]int{"?rule=reason": 5, "?rule=amounts": 0, "?kind=specimen": 1, "?kind=supply": 0, "?kind=plan": 0} {
		got := s.do(http.MethodGet, "/v1/reports/incomplete-records"+query, nil).want(200)
		if n := len(got.at("items").([]any)); n != want {
			t.Errorf("%s: got %d, want %d: %s", query, n, want, got.body)
		}
	}
	send(t, s.url, s.keyWith("read"), http.MethodGet, "/v1/reports/incomplete-records", nil).wantProblem(403, "scope-missing")
}

// TestRedactedRecordsLackNothing: nobody can fill in what may not be told.
func TestRedactedRecordsLackNothing(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull := s.create("/v1/specimens", specimen("LV.30")).id()
	gone, bare := s.create("/v1/treatments", treatment(skull, "cleaning", "2001")), s.create("/v1/treatments", treatment(skull, "cleaning", "2002"))
	listed := func() string {
		var ids []string
		for i := range s.do(http.MethodGet, "/v1/reports/incomplete-records", nil).want(200).size("items") {
			ids = append(ids, s.do(http.MethodGet, "/v1/reports/incomplete-records", nil).at("items", i, "record", "id").(string))
		}
		return strings.Join(ids, " ")
	}
	if got := listed(); got != gone.id()+" "+bare.id() {
		t.Errorf("got %q, want both treatments", got)
	}
	s.do(http.MethodPost, "/v1/records/"+gone.id()+"/redaction", object{"reason": "A name."}, anyTag).want(201)
	if got := listed(); got != bare.id() {
		t.Errorf("got %q, want the treatment that can be filled in", got)
	}
}

func TestIncompleteRecordsAreNarrowed(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull, jaw := s.create("/v1/specimens", specimen("LV.42")).id(), s.create("/v1/specimens", specimen("LV.43")).id()
	person := s.create("/v1/people", object{"name": "Jonas Feld"}).id()
	old := s.create("/v1/treatments", treatment(skull, "cleaning", "1950"))
	other := treatment(jaw, "cleaning", "2001")
	other["people"] = array{object{"person": object{"id": person}, "part": "carried-out"}}
	later := s.create("/v1/treatments", other).id()
	before := s.now()
	s.amend(old, treatment(skull, "cleaning", "1951"))
	latest := s.create("/v1/treatments", treatment(jaw, "coating", "2002")).id()
	s.seal()
	for query, want := range map[string][]string{
		"specimen=" + jaw: {later, latest}, "person=" + person: {later}, "from=2002-01-01": {latest}, "until=1960-01-01": {old.id()},
		"recordedSince=" + before: {old.id(), latest}, "recordedSince=" + before + "&specimen=" + jaw: {latest},
	} {
		var got []string
		for path := "/v1/reports/incomplete-records?limit=1&" + query; path != ""; {
			page := s.do(http.MethodGet, path, nil).want(200)
			for i := range page.at("items").([]any) {
				got = append(got, page.at("items", i, "record", "id").(string))
			}
			path = ""
			if next, more := page.at("next").(object); more {
				path = strings.TrimPrefix(next["href"].(string), "https://meniscus.example")
			}
		}
		if !slices.Equal(got, want) {
			t.Errorf("%s: got %v, want %v", query, got, want)
		}
	}
	s.do(http.MethodGet, "/v1/reports/incomplete-records?kind=specimen&person="+person, nil).wantProblem(400, "malformed-request")
}
