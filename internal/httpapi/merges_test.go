package httpapi_test

import (
	"net/http"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
)

var anyTag = header{"If-Match", "*"}

func (s *service) merge(id, into string) reply {
	s.t.Helper()
	return s.do(http.MethodPost, "/v1/specimens/"+id+"/merge", object{"into": object{"id": into},
		"reason": "One bone under two numbers."}, anyTag)
}

func (s *service) undo(id string) reply {
	s.t.Helper()
	return s.do(http.MethodPost, "/v1/specimens/"+id+"/merge/undoing", object{"reason": "Two bones after all."}, anyTag)
}

func (s *service) treatmentsOf(specimen string) []string {
	s.t.Helper()
	return s.do(http.MethodGet, "/v1/specimens/"+specimen+"/treatments", nil).want(200).ids()
}

// coated is a coating with a known resin on areas.
func coated(specimen, date string, areas ...any) object {
	t := treatment(specimen, "coating", date)
	t["areas"] = object{"paths": areas}
	t["materials"] = array{object{"used": object{"material": object{"id": "poly-vinyl-butyral"}}, "role": "coating"}}
	return t
}

// After a merge everything follows the survivor; after its undoing everything
// is as it was.
func TestMergeAndItsUndoing(t *testing.T) {
	t.Parallel()
	s := newService(t)
	field, bone := s.create("/v1/specimens", specimen("F-17")), s.create("/v1/specimens", specimen("LV.40"))
	supply := s.create("/v1/supplies", object{"code": "S-9", "material": object{"id": "acetone"}}).id()
	st := treatment(field.id(), "cleaning", "2001")
	st["materials"] = array{object{"used": object{"supply": object{"id": supply}}}}
	old := s.create("/v1/treatments", st).id()
	own := s.create("/v1/treatments", treatment(bone.id(), "cleaning", "2002")).id()
	before := s.do(http.MethodGet, "/v1/specimens/"+bone.id()+"/present-state?detail=full&at=2025-01-01", nil).want(200).body

	s.do(http.MethodPost, "/v1/specimens/"+field.id()+"/merge", object{"into": object{"id": bone.id()}, "reason": "One."}).want(428)
	merged := s.merge(field.id(), bone.id()).want(201)
	if merged.at("mergedInto", "id") != bone.id() || merged.at("statement", "identifiers", 0, "value") != "F-17" {
		t.Errorf("got %s, want where it went and its own words", merged.body)
	}
	if got := s.do(http.MethodGet, "/v1/specimens/"+field.id(), nil).want(200); got.at("mergedInto", "id") != bone.id() {
		t.Errorf("got %s, want the record to say where it went", got.body)
	}
	list := s.do(http.MethodGet, "/v1/specimens/"+bone.id()+"/treatments", nil).want(200)
	if got := list.ids(); !slices.Equal(got, []string{old, own}) {
		t.Fatalf("got %v, want both treatments by date", got)
	}
	if list.at("items", 0, "statedAbout", "specimen", "id") != field.id() ||
		list.at("items", 0, "statedAbout", "because") != "merged" || list.at("items", 1, "statedAbout") != nil {
		t.Errorf("got %s, want the first marked with the record that it was stated about", list.body)
	}
	if got := s.treatmentsOf(field.id()); !slices.Equal(got, []string{old}) {
		t.Errorf("got %v of the merged record, want its own", got)
	}
	if got := s.do(http.MethodGet, "/v1/treatments?specimen="+bone.id(), nil).want(200).ids(); len(got) != 2 {
		t.Errorf("got %v by the filter, want both", got)
	}
	used := s.do(http.MethodGet, "/v1/supplies/"+supply+"/where-used", nil).want(200)
	if used.at("certain", 0, "specimen", "id") != bone.id() {
		t.Errorf("got %s, want where used to name the survivor", used.body)
	}
	for _, number := range []string{"F-17", "LV.40"} {
		found := s.do(http.MethodGet, "/v1/specimen-lookup?number="+number, nil).want(200)
		if found.at("answer") != "recorded" || found.at("specimens", 0, "specimen", "id") != bone.id() ||
			found.at("specimens", 0, "treatments") != 2.0 {
			t.Errorf("%s: got %s, want the survivor with two treatments", number, found.body)
		}
	}
	byNumber := s.create("/v1/treatments", object{"specimen": object{"identifier": object{"kind": "catalogue-number", "value": "F-17"}},
		"action": "cleaning", "areas": object{"paths": array{"whole"}}, "dates": object{"edtf": "2003"}})
	if byNumber.at("statement", "specimen", "id") != bone.id() {
		t.Errorf("got %s, want a treatment stated by the merged number on the survivor", byNumber.body)
	}
	s.do(http.MethodPost, "/v1/records/"+byNumber.id()+"/retraction", object{"reason": "A trial."}, anyTag).want(201)

	s.undo(field.id()).want(201)
	if got := s.treatmentsOf(bone.id()); !slices.Equal(got, []string{own}) {
		t.Errorf("got %v, want the survivor's own alone", got)
	}
	if got := s.treatmentsOf(field.id()); !slices.Equal(got, []string{old}) {
		t.Errorf("got %v, want the other's own", got)
	}
	if after := s.do(http.MethodGet, "/v1/specimens/"+bone.id()+"/present-state?detail=full&at=2025-01-01", nil).want(200).body; string(after) != string(before) {
		t.Errorf("got %s, want the present state as it was: %s", after, before)
	}
	revisions := s.do(http.MethodGet, "/v1/records/"+field.id()+"/revisions", nil).want(200)
	if len(revisions.at("items").([]any)) != 3 || revisions.at("items", 1, "mergedInto", "id") != bone.id() ||
		revisions.at("items", 2, "mergedInto") != nil {
		t.Errorf("got %s, want all three revisions kept", revisions.body)
	}
}

// The present state of the survivor holds the layers of both.
func TestPresentStateFollowsAMerge(t *testing.T) {
	t.Parallel()
	s := newService(t)
	a, b, c := s.create("/v1/specimens", specimen("A")).id(), s.create("/v1/specimens", specimen("B")).id(), s.create("/v1/specimens", specimen("C")).id()
	layer := s.create("/v1/treatments", coated(a, "2001", "skull")).id()
	s.merge(a, b).want(201)
	s.merge(b, c).want(201)
	state := s.do(http.MethodGet, "/v1/specimens/"+c+"/present-state?detail=full", nil).want(200)
	if !strings.Contains(string(state.body), layer) {
		t.Errorf("got %s, want the layer that came by two merges", state.body)
	}
	found := s.do(http.MethodGet, "/v1/specimen-lookup?number=A", nil).want(200)
	if found.at("specimens", 0, "specimen", "id") != c || found.at("specimens", 0, "mergedFrom", "id") != a {
		t.Errorf("got %s, want the last survivor", found.body)
	}
}

func TestMergesThatAreRefused(t *testing.T) {
	t.Parallel()
	s := newService(t)
	a, b, c := s.create("/v1/specimens", specimen("A")).id(), s.create("/v1/specimens", specimen("B")).id(), s.create("/v1/specimens", specimen("C")).id()
	gone := s.create("/v1/specimens", specimen("D")).id()
	s.do(http.MethodPost, "/v1/records/"+gone+"/retraction", object{"reason": "Twice."}, anyTag).want(201)
	person := s.create("/v1/people", object{"name": "Tomas Brandl"}).id()
	s.merge(a, a).wantProblem(422, "validation")
	s.merge(a, uuid.NewString()).wantProblem(422, "validation")
	s.merge(a, person).wantProblem(422, "validation")
	s.merge(uuid.NewString(), a).wantProblem(404, "specimen-unknown")
	s.merge(person, a).wantProblem(404, "specimen-unknown")
	s.merge(gone, a).wantProblem(409, "specimen-retracted")
	s.merge(a, gone).wantProblem(409, "specimen-retracted")
	s.undo(a).wantProblem(409, "not-merged")
	s.merge(a, b).want(201)
	s.merge(a, c).wantProblem(409, "specimen-merged")
	s.merge(b, a).wantProblem(409, "merge-circle")
	if went := s.merge(c, a).wantProblem(409, "survivor-merged").at("mergedInto", "id"); went != b {
		t.Errorf("got %v, want where the other one went", went)
	}
	s.do(http.MethodPost, "/v1/records/"+a+"/retraction", object{"reason": "Twice."}, anyTag).wantProblem(409, "specimen-merged")
	s.do(http.MethodPost, "/v1/records/"+a+"/amendments", object{"reason": "Misread.", "statement": specimen("A1")}, anyTag).wantProblem(409, "specimen-merged")
}

// Two merges that would make a circle together: one stands at most.
func TestMergesAtTheSameMomentMakeNoCircle(t *testing.T) {
	t.Parallel()
	s := newService(t)
	for range 5 {
		a, b := s.create("/v1/specimens", specimen(uuid.NewString())).id(), s.create("/v1/specimens", specimen(uuid.NewString())).id()
		var at sync.WaitGroup
		status := make([]int, 2)
		for i, pair := range [][2]string{{a, b}, {b, a}} {
			at.Go(func() { status[i] = s.merge(pair[0], pair[1]).status })
		}
		at.Wait()
		slices.Sort(status)
		if status[0] != 201 || status[1] != 409 {
			t.Errorf("got %v, want one merge and one conflict", status)
		}
	}
}

// Both records with one number stand, and the lookup says so until they are
// merged.
func TestNumberClashIsAFinding(t *testing.T) {
	t.Parallel()
	s := newService(t)
	a, b := s.create("/v1/specimens", specimen("LV.50")).id(), s.create("/v1/specimens", specimen("LV.50")).id()
	clash := s.do(http.MethodGet, "/v1/specimen-lookup?number=LV.50", nil).want(200)
	if clash.at("findings", 0, "rule") != "number-clash" || len(clash.at("specimens").([]any)) != 2 {
		t.Errorf("got %s, want both and the finding", clash.body)
	}
	for of, other := range map[string]string{a: b, b: a} {
		read := s.do(http.MethodGet, "/v1/specimens/"+of, nil).want(200)
		if read.at("findings", 0, "rule") != "number-clash" || read.at("findings", 0, "records", 0, "id") != other {
			t.Errorf("got %s, want the finding on the record itself", read.body)
		}
		s.do(http.MethodGet, "/v1/specimens/"+of, nil, header{"If-None-Match", read.header.Get("ETag")}).want(304)
	}
	tag := s.do(http.MethodGet, "/v1/specimens/"+b, nil).header.Get("ETag")
	s.do(http.MethodPost, "/v1/specimens/"+b+"/merge", object{"into": object{"id": a}, "reason": "One."}, header{"If-Match", tag}).want(201)
	for _, of := range []string{a, b} {
		if read := s.do(http.MethodGet, "/v1/specimens/"+of, nil, header{"If-None-Match", tag}).want(200); read.at("findings") != nil {
			t.Errorf("got %s, want no finding once they are one", read.body)
		}
	}
	one := s.do(http.MethodGet, "/v1/specimen-lookup?number=LV.50", nil).want(200)
	if one.at("findings") != nil || len(one.at("specimens").([]any)) != 1 {
		t.Errorf("got %s, want one specimen and no finding", one.body)
	}
}

// Numbers that differ in spaces, case or dashes alone clash, and a leading zero
// or a point makes them near; another collection, another kind and a retracted
// record do not matter.
func TestSpellingsClashToo(t *testing.T) {
	t.Parallel()
	s := newService(t)
	of := func(collection, kind, value string, not ...string) string {
		return s.distinct(object{"collection": collection, "identifiers": array{object{"kind": kind, "value": value}}}, not...).id()
	}
	a := of("palaeontology", "catalogue-number", "LV 1987-42")
	b := of("palaeontology", "catalogue-number", "lv1987\u201342", a)
	of("ceramics", "catalogue-number", "LV1987-42")
	of("palaeontology", "field-number", "LV1987-42")
	near := of("palaeontology", "catalogue-number", "LV1987.042", a, b)
	gone := of("palaeontology", "catalogue-number", "LV1987 42", a, b, near)
	s.do(http.MethodPost, "/v1/records/"+gone+"/retraction", object{"reason": "Twice."}, anyTag).want(201)
	read := s.do(http.MethodGet, "/v1/specimens/"+a, nil).want(200)
	for i, want := range []object{{"rule": "number-clash", "severity": "warn", "record": b}, {"rule": "number-near", "severity": "info", "record": near}} {
		got := object{"rule": read.at("findings", i, "rule"), "severity": read.at("findings", i, "severity"),
			"record": read.at("findings", i, "records", 0, "id")}
		if diff := cmp.Diff(want, got); diff != "" || len(read.at("findings").([]any)) != 2 || len(read.at("findings", i, "records").([]any)) != 1 {
			t.Errorf("finding %d of %s (-want +got):\n%s", i, read.body, diff)
		}
	}
	found := s.do(http.MethodGet, "/v1/specimen-lookup?number=LV+1987-42", nil).want(200)
	if found.at("findings", 0, "records", 0, "id") != b ||
		!strings.Contains(found.at("findings", 0, "sentence").(string), "lv1987\u201342") {
		t.Errorf("got %s, want the lookup to name the other spelling", found.body)
	}
}

// A field number first, a catalogue number later, and a changed number: the
// record is one, and each number that it carries now finds it.
func TestNumbersChangeByAmendment(t *testing.T) {
	t.Parallel()
	s := newService(t)
	number := func(kind, value string) object { return object{"kind": kind, "value": value} }
	made := s.create("/v1/specimens", object{"identifiers": array{number("field-number", "F-1")}})
	second := s.amend(made, object{"identifiers": array{number("field-number", "F-1"), number("catalogue-number", "LV.60")}})
	s.amend(second, object{"identifiers": array{number("field-number", "F-1"), number("catalogue-number", "LV.61"), number("former-number", "LV.60")}})
	for value, kind := range map[string]string{"F-1": "field-number", "LV.61": "catalogue-number", "LV.60": "former-number"} {
		found := s.do(http.MethodGet, "/v1/specimen-lookup?number="+value, nil).want(200)
		if found.at("specimens", 0, "specimen", "id") != made.id() || found.at("specimens", 0, "kind") != kind {
			t.Errorf("%s: got %s, want the one record by its %s", value, found.body, kind)
		}
	}
}

// What is kept for reports follows a merge, its undoing and a split, so that a
// check of the whole finds nothing wrong.
func TestKeptLayersFollowMergesAndSplits(t *testing.T) {
	t.Parallel()
	s := newService(t)
	a, b := s.create("/v1/specimens", specimen("A")).id(), s.create("/v1/specimens", specimen("B")).id()
	coat := s.create("/v1/treatments", coated(b, "2001", "skull")).id()
	removal := treatment(a, "removal", "2005")
	removal["areas"] = object{"paths": array{"skull"}}
	removal["removal"] = object{"treatments": array{object{"id": coat}}, "left": "reduced"}
	s.create("/v1/treatments", removal)
	s.refresh()
	for _, step := range []func(){
		func() { s.merge(a, b).want(201) },
		func() { s.split(b, splitOf("B.1", "2010", "skull")).want(201) },
		func() { s.undo(a).want(201) },
	} {
		step()
		s.refresh()
		if wrong := s.verify(); len(wrong) > 0 {
			t.Errorf("got %v, want nothing wrong", wrong)
		}
	}
}
