package httpapi_test

import (
	"net/http"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
)

// statedAs is a statement of one number of the collection, and what stands beside it.
func statedAs(number string, more ...any) object {
	st := object{"identifiers": array{object{"kind": "catalogue-number", "value": number}}, "collection": "palaeontology"}
	for i := 0; i < len(more); i += 2 {
		st[more[i].(string)] = more[i+1]
	}
	return st
}

// A specimen that a treatment registered, that somebody recorded by hand or that an
// import of cards registered is its source's from the first time that the source states it.
func TestASourceAdoptsWhatIsHere(t *testing.T) {
	t.Parallel()
	s := newService(t)
	done := s.create("/v1/treatments", cleaningOf("LV.1"))
	byHand := s.create("/v1/specimens", statedAs("LV.2")).id()
	inCollection := plainMapping()
	inCollection["constants"] = append(inCollection["constants"].(array), object{"field": "collection", "value": "palaeontology"})
	s.cards(s.beginImport("cards", false, inCollection), "Card,Number,Date\n17,LV.3,1934\n").want(200)
	for n, id := range map[string]any{"1": done.at("registered", 0, "id"), "2": byHand} {
		got := s.says("specimen", n, statedAs("LV."+n, "bodyKind", "bone")).wantOutcome("adopted", 2)
		if got.at("record", "id") != id || got.at("record", "source", "recordId") != n || got.at("record", "act") != "amended" ||
			got.at("record", "reason") == nil || got.at("findings") != nil {
			t.Errorf("got %s, want %s with the source", got.body, id)
		}
		s.says("specimen", n, statedAs("LV."+n, "bodyKind", "bone")).wantOutcome("unchanged", 2)
		s.says("specimen", n, statedAs("LV."+n, "bodyKind", "tooth")).wantOutcome("amended", 3)
		if found := s.do(http.MethodGet, sourcePath("specimen", n), nil).want(200); found.id() != id {
			t.Errorf("got %s, want %s by its source", found.body, id)
		}
		again := s.do(http.MethodPost, "/v1/specimens", object{"source": ofCatalogue(n),
			"statement": statedAs("LV."+n, "bodyKind", "bone")}).want(201)
		if again.id() != id || again.header.Get("Idempotency-Replayed") != "true" {
			t.Errorf("got %s, want a replay of what the source stated first", again.body)
		}
		s.do(http.MethodPost, "/v1/specimens", object{"source": ofCatalogue(n), "statement": statedAs("LV." +
			n)}).wantProblem(409, "source-record-differs")
	}
	if got := s.saysAll(item("specimen", "3", statedAs("LV.3"))); got.outcomes() != "adopted" || s.specimensHere() != 3 {
		t.Errorf("got %s, want no second record", got.body)
	}
	if now := s.do(http.MethodGet, "/v1/specimens/"+byHand, nil).want(200); now.at("findings") != nil {
		t.Errorf("got %s, want no clash", now.body)
	}
}

// A specimen that was registered without a collection is the source's that states one, and
// the answer tells it; where one of the collection carries the number too, the caller is asked.
func TestASourceAdoptsWhatHasNoCollection(t *testing.T) {
	t.Parallel()
	s := newService(t)
	numbersAlone := func(number string) object {
		return object{"identifiers": array{object{"kind": "catalogue-number", "value": number}}}
	}
	bone := s.create("/v1/specimens", numbersAlone("LV.21")).id()
	s.do(http.MethodPut, sourcePath("specimen", "20"), object{"statement": statedAs("LV.21"),
		"distinctFrom": refs(bone)}).wantOutcome("made", 1)
	s.says("specimen", "21", statedAs("LV.21")).wantProblem(409, "source-ambiguous")
	s.create("/v1/specimens", numbersAlone("LV.22"))
	adopted := s.says("specimen", "22", statedAs("LV.22")).wantOutcome("adopted", 2)
	if diff := cmp.Diff(map[string]string{"/collection": "added <nil> to palaeontology"}, changesIn(adopted)); diff != "" {
		t.Errorf("what changed (-want +got)\n%s", diff)
	}
	s.create("/v1/specimens", object2(numbersAlone("LV.23"), "remarks", "In two pieces."))
	s.says("specimen", "23", statedAs("LV.23")).wantConflict(1)
	if s.specimensHere() != 4 {
		t.Errorf("got %d specimens, want no second one by itself", s.specimensHere())
	}
}

// What the record says and the source does not say stands, until its ETag is given.
func TestASourceTakesNothingAway(t *testing.T) {
	t.Parallel()
	s := newService(t)
	made := s.create("/v1/specimens", statedAs("LV.1", "remarks", "In two pieces."))
	s.says("specimen", "1", statedAs("LV.1")).wantConflict(1).wantRecord(made.id(), made.header.Get("ETag"))
	s.says("specimen", "1", statedAs("LV.1", "remarks", "In three.")).wantConflict(1)
	if got := s.saysAll(item("specimen", "1", statedAs("LV.1"))); got.outcomes() != "conflict" || got.at("items", 0,
		"record", "id") != made.id() {
		t.Errorf("got %s, want a conflict with the record", got.body)
	}
	s.do(http.MethodGet, sourcePath("specimen", "1"), nil).wantProblem(404, "source-record-unknown")
	s.says("specimen", "1", statedAs("LV.1"), header{"If-Match", `"1-0000000000000000"`}).wantProblem(412, "record-changed")
	tagged := object2(item("specimen", "1", statedAs("LV.1")), "ifMatch", made.header.Get("ETag"))
	if got := s.saysAll(tagged, tagged, item("specimen", "1",
		statedAs("LV.1"))); got.outcomes() != "adopted unchanged unchanged" || got.at("counts", "adopted") != 1.0 {
		t.Errorf("got %s, want it adopted once", got.body)
	}
	if first := s.do(http.MethodGet, "/v1/records/"+made.id()+"/revisions/1", nil).want(200); first.at("statement",
		"remarks") != "In two pieces." {
		t.Errorf("got %s, want what was said before", first.body)
	}
}

// Of several records under one number the caller says which one is meant, or none.
func TestASourceOfSeveral(t *testing.T) {
	t.Parallel()
	s := newService(t)
	one, two := s.create("/v1/specimens", statedAs("LV.1")), s.create("/v1/specimens", statedAs("LV.1"))
	asked := s.says("specimen", "1", statedAs("LV.1")).wantProblem(409, "source-ambiguous")
	if len(asked.at("candidates").(array)) != 2 || asked.at("errors", 0, "candidates", 0, "href") == nil {
		t.Errorf("got %s, want both candidates", asked.body)
	}
	stating := func(recordID string, members object, headers ...header) reply {
		return s.do(http.MethodPut, sourcePath("specimen", recordID), object2(members, "statement", statedAs("LV.1")), headers...)
	}
	named := object{"record": object{"id": two.id()}}
	stating("1", named, header{"If-Match", one.header.Get("ETag")}).wantProblem(412, "record-changed")
	stating("1", named).wantOutcome("adopted", 2)
	stating("1", named).wantOutcome("unchanged", 2)
	stating("1", object{"record": object{"id": one.id()}}).wantProblem(409, "source-has-record")
	stating("2", named).wantProblem(409, "record-has-source").wantRecord(two.id(), s.do(http.MethodGet,
		"/v1/records/"+two.id(), nil).header.Get("ETag"))
	many := s.saysAll(object2(item("specimen", "2", statedAs("LV.1")), "record", object{"id": two.id()}))
	if many.outcomes() != "refused" || many.at("items", 0, "problem", "record", "id") != two.id() {
		t.Errorf("got %s, want the record that has a source", many.body)
	}
	stating("2", object{"record": object{"id": uuid.NewString()}}).wantProblem(404, "record-unknown")
	stating("2", object{}).wantProblem(409, "source-ambiguous") // one of them has a source, and the other none
	stating("2", object{"distinctFrom": refs(one.id(), two.id())}).wantOutcome("made", 1)
	stating("3", object{"distinctFrom": refs(two.id())}).wantProblem(409, "source-ambiguous")
}

// A record of another kind is adopted by its id alone.
func TestASourceAdoptsByID(t *testing.T) {
	t.Parallel()
	s := newService(t)
	w := newWorld(s)
	for kind, path := range map[string]string{"person": "/v1/people", "supply": "/v1/supplies", "batch": "/v1/batches",
		"amount-change": "/v1/amount-changes", "treatment": "/v1/treatments", "plan": "/v1/plans"} {
		of := w.sourced()[kind]
		made := s.create(path, of.statement)
		named := func(statement object, headers ...header) reply {
			return s.do(http.MethodPut, sourcePath(kind, "1"), object{"record": object{"id": made.id()},
				"statement": statement}, headers...)
		}
		named(of.changed, header{"If-Match", `"9-0000000000000000"`}).wantProblem(412, "record-changed")
		if got := named(of.statement).wantOutcome("adopted", 2); got.at("record", "id") != made.id() {
			t.Errorf("%s: got %s, want %s", kind, got.body, made.id())
		}
		s.says(kind, "1", of.changed).wantOutcome("amended", 3)
	}
	s.do(http.MethodPut, sourcePath("person", "2"), object{"record": object{"id": w.batch},
		"statement": object{"name": "Vera Lindt"}}).wantProblem(404, "person-unknown")
}

// A specimen that was merged into another, is of another collection, retracted, or
// redacted, is not adopted unasked.
func TestWhatASourceDoesNotAdopt(t *testing.T) {
	t.Parallel()
	s := newService(t)
	twin, bone := s.create("/v1/specimens", statedAs("LV.1")).id(), s.create("/v1/specimens", statedAs("LV.2")).id()
	s.merge(twin, bone).want(201)
	s.says("specimen", "1", statedAs("LV.1")).wantProblem(409, "source-ambiguous")
	s.create("/v1/specimens", object2(statedAs("LV.3"), "collection", "botany"))
	s.says("specimen", "3", statedAs("LV.3")).wantOutcome("made", 1)
	gone := s.create("/v1/specimens", statedAs("LV.4")).id()
	s.do(http.MethodPost, "/v1/records/"+gone+"/retraction", object{"reason": "Twice."}, anyTag).want(201)
	s.says("specimen", "4", statedAs("LV.4")).wantOutcome("made", 1)
	s.says("specimen", "5", statedAs("LV.5"), anyTag).wantProblem(412, "record-unknown")
}
