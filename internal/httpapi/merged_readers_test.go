package httpapi_test

import (
	"bytes"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"

	"meniscus/internal/pgtest"
)

// readersOf is what each reader says of a specimen, by the reader's name.
func (s *service) readersOf(specimen string) map[string][]byte {
	s.t.Helper()
	out := map[string][]byte{}
	for name, r := range map[string]reply{
		"treatments":     s.do(http.MethodGet, "/v1/specimens/"+specimen+"/treatments", nil),
		"present state":  s.do(http.MethodGet, "/v1/specimens/"+specimen+"/present-state?detail=full&at=2025-01-01", nil),
		"suitability":    s.do(http.MethodGet, "/v1/specimens/"+specimen+"/suitability?detail=full&at=2025-01-01", nil),
		"temperature":    s.do(http.MethodGet, "/v1/specimens/"+specimen+"/travel-temperature?detail=full&at=2025-01-01", nil),
		"removal plan":   s.do(http.MethodGet, "/v1/specimens/"+specimen+"/removal-plan?detail=full&at=2025-01-01", nil),
		"page":           s.as(asPage, "/v1/specimens/"+specimen),
		"linked data":    s.as(asLinked, "/v1/specimens/"+specimen),
		"provenance":     s.as(asLinked, "/v1/specimens/"+specimen+"/provenance"),
		"sheet":          s.as(asPage, "/v1/specimens/"+specimen+"/sheet"),
		"summary":        s.do(http.MethodGet, "/v1/specimens/"+specimen+"/summary", nil),
		"treatment list": s.do(http.MethodGet, "/v1/treatments?specimen="+specimen, nil),
	} {
		out[name] = r.want(200).body
	}
	return out
}

// Every reader tells of a treatment that was stated about a record merged into
// the specimen; after the undoing every reader says what it said before.
func TestEveryReaderFollowsAMergeAndItsUndoing(t *testing.T) {
	t.Parallel()
	s := newService(t)
	bone, field := s.create("/v1/specimens", specimen("LV.90")).id(), s.create("/v1/specimens", specimen("F-90")).id()
	coat := s.create("/v1/treatments", coated(field, "2001", "skull")).id()
	before, other := s.readersOf(bone), s.readersOf(field)
	s.merge(field, bone).want(201)
	for name, body := range s.readersOf(bone) {
		if !bytes.Contains(body, []byte(coat)) {
			t.Errorf("%s lacks the treatment of the merged record: %s", name, body)
		}
	}
	for name, want := range map[string]string{
		"page": "F-90", "sheet": "stated about F-90, which is the same specimen", "linked data": `"content":"F-90"`,
		"provenance": `"alternateOf":["https://meniscus.example/v1/specimens/` + field + `"]`, "summary": `"treatments":1`,
	} {
		if got := s.readersOf(bone)[name]; !bytes.Contains(got, []byte(want)) {
			t.Errorf("%s lacks %q: %s", name, want, got)
		}
	}
	if badge := s.as(asBadge, "/v1/specimens/"+bone+"/summary").want(200).body; !bytes.Contains(badge, []byte("1 conservation treatment")) {
		t.Errorf("got %s, want the treatment counted", badge)
	}
	if got := s.do(http.MethodGet, "/v1/specimens/"+field+"/summary", nil); got.at("mergedInto") != "https://meniscus.example/v1/specimens/"+bone {
		t.Errorf("got %s, want where the record went", got.body)
	}
	if page := s.as(asPage, "/v1/specimens/"+field).want(200).body; !bytes.Contains(page, []byte("This record was merged into LV.90")) {
		t.Errorf("got %s, want the page to say where the record went", page)
	}
	s.undo(field).want(201)
	for specimen, was := range map[string]map[string][]byte{bone: before, field: other} {
		for name, body := range s.readersOf(specimen) {
			if name == "provenance" { // it tells of the record's revisions too, which are more now
				if bytes.Contains(body, []byte(coat)) != bytes.Contains(was[name], []byte(coat)) || bytes.Contains(body, []byte(`"alternateOf":["`)) {
					t.Errorf("got the provenance %s, want the specimen as it was", body)
				}
				continue
			}
			if got := steady(body); got != steady(was[name]) {
				t.Errorf("%s: got %s, want what it was: %s", name, got, was[name])
			}
		}
	}
}

// minutes is the moment of a revision on a page.
var minutes = regexp.MustCompile(`recorded \d+ \w+ \d+, \d\d:\d\d UTC`)

// steady is an answer without what a new revision of the specimen's record
// changes.
func steady(body []byte) string {
	text := minutes.ReplaceAllString(string(body), "recorded")
	for _, mark := range []string{"Revision ", "/revisions/", "revision ", `"generatedAtTime":"`, `"sequence":`, `"wasRevisionOf":`} {
		parts := strings.Split(text, mark)
		for i := 1; i < len(parts); i++ {
			end := strings.IndexAny(parts[i], " \"<,}]")
			parts[i] = parts[i][max(end, 0):]
		}
		text = strings.Join(parts, mark)
	}
	return text
}

// The archive has each treatment under the record that stands, and one row of
// the core for the specimen.
func TestTheArchiveFollowsAMergeAndASplit(t *testing.T) {
	t.Parallel()
	s := newService(t)
	bone, field := s.create("/v1/specimens", specimen("LV.91")).id(), s.create("/v1/specimens", specimen("F-91")).id()
	coat := s.create("/v1/treatments", coated(field, "2001", "skull")).id()
	rows := func() (core, treated []string) {
		files := archiveRows(t, s.do(http.MethodGet, "/v1/exports/darwin-core", nil).want(200))
		for _, row := range files["specimen.csv"][1:] {
			core = append(core, row[2])
		}
		for _, row := range files["measurementorfact.csv"][1:] {
			if row[3] == "conservation treatment" {
				treated = append(treated, row[0][strings.LastIndex(row[0], "/")+1:]+" "+row[1][strings.LastIndex(row[1], "/")+1:])
			}
		}
		slices.Sort(core)
		slices.Sort(treated)
		return core, treated
	}
	s.merge(field, bone).want(201)
	core, treated := rows()
	if !slices.Equal(core, []string{"LV.91"}) || !slices.Equal(treated, []string{bone + " " + coat}) {
		t.Errorf("merged: got %v and %v", core, treated)
	}
	s.undo(field).want(201)
	core, treated = rows()
	if !slices.Equal(core, []string{"F-91", "LV.91"}) || !slices.Equal(treated, []string{field + " " + coat}) {
		t.Errorf("undone: got %v and %v", core, treated)
	}
	part := s.split(field, splitOf("F-91/1", "2010", "skull")).want(201).id()
	if _, treated = rows(); !slices.Contains(treated, part+" "+coat+"#on-"+part) || !slices.Contains(treated, field+" "+coat) {
		t.Errorf("split: got %v, want the treatment under both, with an id each", treated)
	}
}

// The report names the specimen that stands, by its own number, and the parts.
func TestTheReportFollowsAMergeAndASplit(t *testing.T) {
	t.Parallel()
	s := newService(t)
	other := specimen("F-92")
	other["collection"] = "field"
	bone, field := s.create("/v1/specimens", specimen("LV.92")).id(), s.create("/v1/specimens", other).id()
	coat := s.create("/v1/treatments", coated(field, "2001", "skull")).id()
	row := func(query string) map[string]any {
		s.refresh()
		if wrong := s.verify(); len(wrong) > 0 {
			t.Errorf("got %v, want nothing wrong", wrong)
		}
		return reportRows(s.do(http.MethodGet, "/v1/reports/reversible-treatments?"+query, nil).want(200))[coat]
	}
	alone := row("")
	s.merge(field, bone).want(201)
	merged := row("collection=palaeontology")
	if idOf(merged["specimen"]) != bone || merged["number"] != "LV.92" || merged["sequence"] == nil ||
		merged["collection"] != "palaeontology" {
		t.Errorf("merged: got %v", merged)
	}
	if row("collection=field") != nil {
		t.Error("the merged record's collection still has the layer")
	}
	if got := s.do(http.MethodGet, "/v1/reports/reversible-treatments", nil).at("remainder", "specimensWithoutRecord"); got != 0.0 {
		t.Errorf("got %v specimens without a record, want none: two records are one specimen", got)
	}
	part := s.split(bone, splitOf("LV.92/1", "2010", "skull")).want(201).id()
	if got := row(""); !slices.Equal(idsIn(got["parts"]), []string{part}) {
		t.Errorf("split: got %v, want the part that inherited the layer", got)
	}
	s.undo(field).want(201)
	undone := row("")
	if idOf(undone["specimen"]) != field || undone["number"] != "F-92" || undone["collection"] != "field" ||
		undone["redissolvable"] != alone["redissolvable"] {
		t.Errorf("undone: got %v, want %v", undone, alone)
	}
}

// What was believed at a moment has the merges, the undoings and the splits of
// that moment, in the list of treatments and in the layers.
func TestWhatWasBelievedHasTheMergesOfThen(t *testing.T) {
	t.Parallel()
	s := newService(t)
	bone, field := s.create("/v1/specimens", specimen("LV.93")).id(), s.create("/v1/specimens", specimen("F-93")).id()
	coat := s.create("/v1/treatments", coated(field, "2001", "skull")).id()
	late := s.create("/v1/treatments", coated(field, "2015", "skull")).id()
	apart := s.now()
	s.merge(field, bone).want(201)
	together := s.now()
	part := s.split(bone, splitOf("LV.93/1", "2010", "skull")).want(201).id()
	split := s.now()
	partAs := s.treatmentsOf(part)
	s.undo(field).want(201)
	again := s.now()
	for _, c := range []struct {
		name, specimen, moment string
		want                   []string
	}{
		{"before the merge", bone, apart, nil},
		{"before the merge, the other", field, apart, []string{coat, late}},
		{"merged", bone, together, []string{coat, late}},
		{"the part before it was one", part, together, nil},
		{"the part", part, split, partAs},
		{"undone", bone, again, nil},
		{"the part of a specimen that never had it", part, again, nil},
		{"undone, the other", field, again, []string{coat, late}},
	} {
		list := s.do(http.MethodGet, "/v1/specimens/"+c.specimen+"/treatments?believedAt="+c.moment, nil).want(200)
		if got := list.ids(); !slices.Equal(got, c.want) {
			t.Errorf("%s: got %v, want %v", c.name, got, c.want)
		}
		state := s.do(http.MethodGet, "/v1/specimens/"+c.specimen+"/present-state?detail=full&at=2025-01-01&believedAt="+c.moment, nil).want(200)
		if got := bytes.Contains(state.body, []byte(coat)); got != (len(c.want) > 0) {
			t.Errorf("%s: got the layer: %v, want %v: %s", c.name, got, len(c.want) > 0, state.body)
		}
	}
	if !slices.Equal(partAs, []string{coat}) {
		t.Errorf("got %v of the part, want what was before the split", partAs)
	}
	list := s.do(http.MethodGet, "/v1/specimens/"+part+"/treatments?believedAt="+split, nil)
	if list.at("items", 0, "statedAbout", "specimen", "id") != field ||
		list.at("items", 0, "statedAbout", "because") != "split" || list.at("items", 0, "statedAbout", "certain") != true {
		t.Errorf("got %s, want the record that it was stated about, and why it is here", list.body)
	}
}

// What is believed now is what the lists of now say.
func TestWhatIsBelievedNowAgreesWithTheLists(t *testing.T) {
	t.Parallel()
	s := newService(t)
	bone, field := s.create("/v1/specimens", specimen("LV.94")).id(), s.create("/v1/specimens", specimen("F-94")).id()
	for _, on := range []string{bone, field} {
		s.create("/v1/treatments", coated(on, "2001", "whole"))
		s.create("/v1/treatments", coated(on, "2009/2011", "skull/left-orbit"))
		s.create("/v1/treatments", coated(on, "2010", "jaw"))
		s.create("/v1/treatments", coated(on, "2020", "skull"))
		st := coated(on, "2001")
		st["areas"], st["dates"] = object{"answer": "unknown"}, object{"answer": "unknown"}
		s.create("/v1/treatments", st)
	}
	s.merge(field, bone).want(201)
	part := s.split(bone, splitOf("LV.94/1", "2010", "skull")).want(201).id()
	all := splitOf("LV.94/2", "2010")
	delete(all, "areas")
	all["date"] = object{"answer": "unknown"}
	rest := s.split(part, all).want(201).id()
	s.create("/v1/treatments", coated(bone, "2002", "skull"))
	now := s.now()
	for _, id := range []string{bone, field, part, rest} {
		want := s.do(http.MethodGet, "/v1/specimens/"+id+"/treatments?limit=500", nil).want(200)
		got := s.do(http.MethodGet, "/v1/specimens/"+id+"/treatments?limit=500&believedAt="+now, nil).want(200)
		if g, w := got.at("items"), want.at("items"); len(g.([]any)) == 0 || string(encoded(g)) != string(encoded(w)) {
			t.Errorf("%s: got %s, want %s", id, encoded(g), encoded(w))
		}
	}
}

// Where a record went is a projection too.
func TestVerifyFindsAnAlteredMerge(t *testing.T) {
	t.Parallel()
	s := newService(t)
	bone, field := s.create("/v1/specimens", specimen("LV.95")).id(), s.create("/v1/specimens", specimen("F-95")).id()
	s.merge(field, bone).want(201)
	s.refresh()
	if wrong := s.verify(); len(wrong) > 0 {
		t.Fatalf("got %v, want nothing wrong", wrong)
	}
	super := pgtest.Pool(t, s.db.Super())
	for alter, table := range map[string]string{
		`update specimen set merged_into = null where id = '` + field + `'`:           "specimen",
		`update specimen set merged_into = '` + field + `' where id = '` + bone + `'`: "specimen",
		`delete from specimen_stood where specimen_id = '` + field + `'`:              "specimen_stood",
	} {
		if tag, err := super.Exec(t.Context(), alter); err != nil || tag.RowsAffected() == 0 {
			t.Fatalf("%s: %v, %v", alter, tag, err)
		}
		if wrong := strings.Join(s.verify(), " "); !strings.Contains(wrong, "The projection "+table+" of the specimen") {
			t.Errorf("%s: got %s, want %s named", alter, wrong, table)
		}
		if _, err := super.Exec(t.Context(), `update specimen set merged_into = case when id = '`+field+`' then '`+bone+`'::uuid end`); err != nil {
			t.Fatal(err)
		}
	}
}
