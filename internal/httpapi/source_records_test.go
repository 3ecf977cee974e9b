package httpapi_test

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
)

// sourcePath is where the record of a source is read and stated.
func sourcePath(kind, recordID string) string {
	return "/v1/source-records?" + url.Values{"kind": {kind}, "system": {"catalogue"}, "recordId": {recordID}}.Encode()
}

// says states how a record of the catalogue stands now.
func (s *service) says(kind, recordID string, statement any, headers ...header) reply {
	s.t.Helper()
	return s.do(http.MethodPut, sourcePath(kind, recordID), object{"statement": statement}, headers...)
}

// wantOutcome wants what came of a source's statement, and the revision that stands.
func (r reply) wantOutcome(outcome string, revision float64) reply {
	r.t.Helper()
	r.want(map[bool]int{true: 201, false: 200}[outcome == "made"])
	if r.at("outcome") != outcome || r.at("record", "revision") != revision {
		r.t.Fatalf("got %s, want %s at revision %v", r.body, outcome, revision)
	}
	return r
}

// wantConflict wants both versions of a record that stands otherwise than its source
// says.
func (r reply) wantConflict(revision float64) reply {
	r.t.Helper()
	r.wantProblem(409, "source-conflict")
	if r.at("record", "revision") != revision || r.at("stands", "revision") != revision || r.at("stands", "id") != r.at("record", "id") || r.at("said") == nil {
		r.t.Fatalf("got %s, want revision %v as it stands, and what the source says", r.body, revision)
	}
	return r
}

// sourced is a statement of each kind, and a member of it that may change with two
// values for it.
func (w world) sourced() map[string]struct {
	statement, changed, corrected object
} {
	of := func(st object, name string, changed, corrected any) struct{ statement, changed, corrected object } {
		return struct{ statement, changed, corrected object }{st, object2(st, name, changed), object2(st, name, corrected)}
	}
	return map[string]struct{ statement, changed, corrected object }{
		"person":        of(object{"name": "Oldrich Sebald"}, "role", "preparator", "conservator"),
		"specimen":      of(specimen("LV.1999/1"), "remarks", "Found in two pieces.", "In three."),
		"supply":        of(object{"code": "S-9", "material": object{"id": "acetone"}}, "code", "S-10", "S-11"),
		"batch":         of(object{"code": "B-9", "kind": "solution", "madeBy": array{object{"person": object{"name": "Jonas Feld"}, "part": "carried-out"}}}, "code", "B-10", "B-11"),
		"amount-change": of(changeOf(w.batch), "remarks", "Cloudy.", "Clear."),
		"treatment":     of(treatedWith(w), "remarks", "In the frame.", "Out of it."),
		"plan":          of(object{"treatment": treatedWith(w)}, "remarks", "In spring.", "In autumn."),
		"material":      of(beads(), "name", "Beads of 2024", "Beads of 2025"),
	}
}

// What a source says of a record of each kind: new, again, otherwise; and a correction
// that was made here is not undone, unless its ETag was given.
func TestKeepingInStep(t *testing.T) {
	t.Parallel()
	s := newService(t)
	w := newWorld(s)
	for kind, of := range w.sourced() {
		t.Run(kind, func(t *testing.T) {
			s := s.in(t)
			s.do(http.MethodGet, sourcePath(kind, "1"), nil).wantProblem(404, "source-record-unknown")
			s.says(kind, "1", of.statement, anyTag).wantProblem(412, "record-unknown")
			made := s.says(kind, "1", of.statement).wantOutcome("made", 1)
			id := made.at("record", "id").(string)
			s.says(kind, "1", of.statement).wantOutcome("unchanged", 1)
			s.says(kind, "1", of.statement, anyTag).wantOutcome("unchanged", 1)
			usual := s.says(kind, "1", of.changed).wantOutcome("amended", 2)
			if usual.at("record", "reason") != "Stated anew by its source." || usual.at("record", "act") != "amended" || usual.at("record", "id") != id {
				t.Errorf("got %s, want the record amended with the usual reason", usual.body)
			}
			s.says(kind, "1", of.changed).wantOutcome("unchanged", 2)
			given := s.do(http.MethodPut, sourcePath(kind, "1"), object{"statement": of.statement, "reason": "Misread there."}).wantOutcome("amended", 3)
			if given.at("record", "reason") != "Misread there." || !strings.HasSuffix(given.header.Get("Location"), id) {
				t.Errorf("got %s at %s, want the reason that was given", given.body, given.header.Get("Location"))
			}

			s.do(http.MethodPost, "/v1/records/"+id+"/amendments", object{"reason": "Looked at it.", "statement": of.corrected}, anyTag).want(201)
			s.says(kind, "1", of.statement).wantOutcome("unchanged", 4)
			conflict := s.says(kind, "1", of.changed).wantConflict(4)
			now := s.do(http.MethodGet, sourcePath(kind, "1"), nil).want(200)
			if now.at("revision") != 4.0 || now.id() != id || now.at("sourceDigest") != nil || !s.in(t).stands(now) {
				t.Errorf("got %s, want the correction as it stands", now.body)
			}
			conflict.wantRecord(id, now.header.Get("ETag"))
			s.says(kind, "1", of.changed, header{"If-Match", given.header.Get("ETag")}).wantProblem(412, "record-changed")
			s.says(kind, "1", of.changed, header{"If-Match", now.header.Get("ETag")}).wantOutcome("amended", 5)
			s.says(kind, "1", of.changed, header{"If-Match", now.header.Get("ETag")}).wantOutcome("unchanged", 5) // sent again

			// The correction that the source takes over is its own from then on.
			s.do(http.MethodPost, "/v1/records/"+id+"/amendments", object{"reason": "Looked again.", "statement": of.corrected}, anyTag).want(201)
			s.says(kind, "1", of.corrected).wantOutcome("amended", 7)
			s.says(kind, "1", of.statement).wantOutcome("amended", 8)

			s.do(http.MethodPost, "/v1/records/"+id+"/retraction", object{"reason": "Twice."}, anyTag).want(201)
			if still := s.says(kind, "1", of.statement).wantOutcome("unchanged", 9); still.at("record", "act") != "retracted" {
				t.Errorf("got %s, want it retracted still", still.body)
			}
			gone := s.says(kind, "1", of.changed).wantConflict(9)
			s.says(kind, "1", of.statement, header{"If-Match", gone.at("record", "etag").(string)}).wantOutcome("amended", 10)
		})
	}
}

// The order of members and the form of texts are no change; digits are.
func TestWhatASourceSaysAgain(t *testing.T) {
	t.Parallel()
	s := newService(t)
	put := func(statement string) reply {
		return s.do(http.MethodPut, sourcePath("material", "7"), `{"statement":`+statement+`}`)
	}
	put(`{"name":"Harz é","like":"shellac","citation":"Bench","values":[{"property":"density","value":1.10,"unit":"g/mL"}]}`).wantOutcome("made", 1)
	put(` { "values" : [ {"unit":"g/mL","value":1.10,"property":"density"} ], "like":"shellac", "citation":"Bench", "name":"Harz \u00e9" } `).wantOutcome("unchanged", 1)
	put(`{"name":"Harz é","like":"shellac","citation":"Bench","values":[{"property":"density","value":1.1,"unit":"g/mL"}]}`).wantOutcome("amended", 2)
}

// A name in what a source says again may have come to mean somebody else.
func TestANameInWhatASourceSaysAgain(t *testing.T) {
	t.Parallel()
	s := newService(t)
	of := treatment(s.create("/v1/specimens", specimen("LV.1")).id(), "cleaning", "2001")
	of["people"] = array{object{"person": object{"name": "Oldrich Sebald"}, "part": "carried-out"}}
	made := s.says("treatment", "1", of).wantOutcome("made", 1)
	person := made.at("record", "statement", "people", 0, "person", "id").(string)
	s.do(http.MethodPost, "/v1/people/"+person+"/erasure", object{"reason": "Asked for."}, anyTag).want(201)
	s.says("treatment", "1", of).wantOutcome("unchanged", 1)
	if found := s.do(http.MethodGet, "/v1/people", nil).want(200); strings.Contains(string(found.body), "Sebald") {
		t.Errorf("got %s, want the erased name nowhere", found.body)
	}
}

// A record that was stated with its source by a create, one of an old card and one of
// another source's namespace are kept in step too.
func TestSourcesThatCameOtherwise(t *testing.T) {
	t.Parallel()
	s := newService(t)
	first := s.do(http.MethodPost, "/v1/specimens", object{"source": ofCatalogue("900"), "statement": specimen("LV.1")}).want(201)
	s.says("specimen", "900", specimen("LV.1")).wantOutcome("unchanged", 1)
	s.says("specimen", "900", specimen("LV.1a")).wantOutcome("amended", 2)
	s.do(http.MethodPost, "/v1/specimens", object{"source": ofCatalogue("900"), "statement": specimen("LV.1")}).want(201) // as it was made
	s.says("treatment", "900", treatment(first.id(), "cleaning", "2001")).wantOutcome("made", 1)

	s.cards(s.beginImport("catalogue", false, plainMapping()), "Card,Number,Date\n17,LV.7,1934\n").want(200)
	card := s.do(http.MethodGet, sourcePath("treatment", "17"), nil).want(200)
	s.says("treatment", "17", card.at("statement")).wantOutcome("unchanged", 1)
	s.says("treatment", "17", object2(card.at("statement"), "remarks", "In ink.")).wantOutcome("amended", 2)
	s.says("treatment", "17", card.at("statement")).wantOutcome("amended", 3)
}

// Words that were redacted come back only with the record's ETag; a redaction of
// earlier revisions alone takes nothing from what stands.
func TestRedactedRecordsOfSources(t *testing.T) {
	t.Parallel()
	s := newService(t)
	id := s.says("specimen", "1", specimen("LV.1")).wantOutcome("made", 1).at("record", "id").(string)
	s.says("specimen", "1", specimen("LV.1a")).wantOutcome("amended", 2)
	s.do(http.MethodPost, "/v1/records/"+id+"/redaction", object{"reason": "A name.", "revisions": array{1}}, anyTag).want(201)
	s.says("specimen", "1", specimen("LV.1a")).wantOutcome("unchanged", 3)
	s.says("specimen", "1", specimen("LV.1b")).wantOutcome("amended", 4)
	s.do(http.MethodPost, "/v1/records/"+id+"/redaction", object{"reason": "Asked for."}, anyTag).want(201)
	for _, number := range []string{"LV.1a", "LV.1b", "LV.1c"} {
		if r := s.says("specimen", "1", specimen(number)).wantConflict(5); r.at("stands", "statement") != nil {
			t.Errorf("got %s, want the words gone", r.body)
		}
	}
	s.says("specimen", "1", specimen("LV.1b"), anyTag).wantOutcome("amended", 6)
	s.says("specimen", "1", specimen("LV.1b")).wantOutcome("unchanged", 6)
}

// A specimen that another one stands for is not changed by its source.
func TestMergedSpecimensOfSources(t *testing.T) {
	t.Parallel()
	s := newService(t)
	twin := s.says("specimen", "1", specimen("LV.1")).wantOutcome("made", 1).at("record", "id").(string)
	bone := s.says("specimen", "2", specimen("LV.2")).wantOutcome("made", 1).at("record", "id").(string)
	merged := s.merge(twin, bone).want(201)
	if r := s.says("specimen", "1", specimen("LV.1")).wantOutcome("unchanged", 2); r.at("record", "mergedInto", "id") != bone {
		t.Errorf("got %s, want it merged still", r.body)
	}
	s.says("specimen", "1", specimen("LV.1a")).wantConflict(2)
	s.says("specimen", "1", specimen("LV.1a"), header{"If-Match", merged.header.Get("ETag")}).wantProblem(409, "specimen-merged")
	s.undo(twin).want(201)
	s.says("specimen", "1", specimen("LV.1a")).wantConflict(3)
	s.says("specimen", "1", specimen("LV.1a"), anyTag).wantOutcome("amended", 4)
}

// A source is one line of text, however strange, and of its own institution alone.
func TestSourcesAsCallersSendThem(t *testing.T) {
	t.Parallel()
	s := newService(t)
	theirs := *s
	theirs.inst, theirs.key = addInstitution(t, s.db, s.store, "Museum on the Hill")
	long := strings.Repeat("𝔞𝔟𝔠𝔡𝔢𝔣𝔤𝔥𝔦𝔧𝔨𝔩𝔪𝔫𝔬𝔭𝔮𝔯𝔰𝔱", 25) // 500 characters of four bytes
	for n, recordID := range []string{"a/b/../c", ".", "%2F", "x?y=1&z#", "نموذج ٤٢ 🦴", strings.Repeat("9", 400), long, uuid.NewString()} {
		st := specimen(fmt.Sprintf("LV.%d", n))
		mine := s.says("specimen", recordID, st).wantOutcome("made", 1)
		theirs.do(http.MethodGet, sourcePath("specimen", recordID), nil).wantProblem(404, "source-record-unknown")
		other := theirs.says("specimen", recordID, st).wantOutcome("made", 1)
		s.says("specimen", recordID, st).wantOutcome("unchanged", 1)
		if found := s.do(http.MethodGet, sourcePath("specimen", recordID), nil).want(200); found.id() != mine.at("record", "id") ||
			found.at("source", "recordId") != recordID || found.id() == other.at("record", "id") {
			t.Errorf("got %s, want the record of %q", found.body, recordID)
		}
	}
	for path, code := range map[string]string{
		sourcePath("specimen", long+"x"): "parameter-invalid", sourcePath("specimen", "a\nb"): "parameter-invalid",
		sourcePath("specimen", ""): "parameter-invalid", sourcePath("specimen", " "): "parameter-invalid", sourcePath("lot", "1"): "parameter-invalid",
		"/v1/source-records?kind=specimen&system=catalogue":                                           "parameter-invalid",
		"/v1/source-records?kind=specimen&recordId=1&system=" + strings.Repeat("c", 101):              "parameter-invalid",
		"/v1/source-records?kind=specimen&recordId=1&system=catalogue&recordId=2":                     "parameter-invalid",
		"/v1/source-records?kind=specimen&recordId=%00&system=catalogue":                              "query-malformed",
		"/v1/source-records?kind=specimen&recordId=1&system=catalogue&sourceSystem=another-parameter": "parameter-unknown",
	} {
		for _, method := range []string{http.MethodGet, http.MethodPut} {
			r := s.do(method, path, map[string]any{"PUT": object{"statement": specimen("LV.1")}}[method]).want(400)
			if r.at("errors", 0, "code") != code {
				t.Errorf("%s %s: got %s, want %s", method, path, r.body, code)
			}
		}
	}
	long = strings.Repeat("𝔞𝔟𝔠𝔡𝔢", 20)
	s.do(http.MethodPost, "/v1/people", object{"source": object{"system": long, "recordId": strings.Repeat(long, 5)}, "statement": object{"name": "Vera Lindt"}}).want(201)
	s.says("specimen", "1", object{"identifiers": array{}}).wantProblem(422, "validation")
	s.says("specimen", "1", object2(specimen("LV.1"), "areas", array{object{"path": "a//b"}})).wantProblem(422, "validation")
	if r := s.says("treatment", "1", treatment(uuid.NewString(), "cleaning", "2001")).want(422); r.at("errors", 0, "pointer") != "/statement/specimen/id" {
		t.Errorf("got %s, want the specimen unknown", r.body)
	}
	narrow := *s
	narrow.key = s.keyOf("stock")
	narrow.says("specimen", "2", specimen("LV.2")).wantProblem(403, "scope-missing")
	narrow.says("supply", "2", object{"code": "S-9", "material": object{"id": "acetone"}}).wantOutcome("made", 1)
}

// A new record of a source is asked about as any other when its number is nearly
// known, and is never asked about again; what is odd about it is told once.
func TestNewRecordsOfSources(t *testing.T) {
	t.Parallel()
	s := newService(t)
	known := s.create("/v1/specimens", specimen("LV.1987/0042")).id()
	asked := s.says("specimen", "1", specimen("lv 1987-42")).wantProblem(409, "number-nearly-known")
	if asked.at("candidates", 0, "id") != known || asked.at("errors", 0, "pointer") != "/statement/identifiers/0/value" {
		t.Errorf("got %s, want the candidate", asked.body)
	}
	one := object2(item("specimen", "1", specimen("lv 1987-42")), "distinctFrom", refs(known))
	got := s.saysAll(item("specimen", "1", specimen("lv 1987-42")), one, item("specimen", "1", specimen("lv 1987-42")),
		item("treatment", "1", object2(treatment(known, "cleaning", "2001"), "specimen", object{"identifier": object{"kind": "catalogue-number", "value": "F-17"}})))
	if got.outcomes() != "refused made unchanged made" || got.at("items", 0, "problem", "candidates", 0, "id") != known ||
		got.at("items", 0, "problem", "errors", 0, "pointer") != "/items/0/statement/identifiers/0/value" {
		t.Errorf("got %s, want it asked about once", got.body)
	}
	if got.at("items", 1, "findings", 0, "rule") != "number-near" || got.at("items", 3, "registered", 0, "number") != "F-17" {
		t.Errorf("got %s, want the clash and the specimen that was registered", got.body)
	}
	alone := s.do(http.MethodPut, sourcePath("specimen", "2"), object{"statement": specimen("LV.1987-42"),
		"distinctFrom": refs[any](known, got.at("items", 1, "record", "id"))}).wantOutcome("made", 1)
	if len(alone.at("findings").(array)) == 0 || s.says("specimen", "2", specimen("LV.1987-42")).wantOutcome("unchanged", 1).at("findings") != nil {
		t.Errorf("got %s, want the clash told once", alone.body)
	}
	s.says("specimen", "2", specimen("Lv-1987-0042")).wantOutcome("amended", 2) // an amendment is not asked about
}

// TestWhatASourceChanged: an amendment by a source tells what it changed and which
// specimens it registered, as any amendment does; what changes nothing tells nothing.
func TestWhatASourceChanged(t *testing.T) {
	t.Parallel()
	s := newService(t)
	s.create("/v1/specimens", statedAs("LV.7"))
	adopted := s.says("specimen", "7", statedAs("LV.7", "remarks", "In two pieces.")).wantOutcome("adopted", 2)
	if diff := cmp.Diff(map[string]string{"/remarks": "added <nil> to In two pieces."}, changesIn(adopted)); diff != "" {
		t.Errorf("what a source added that adopted a record (-want +got)\n%s", diff)
	}
	cleaned := cleaningOf("LV.7")
	s.says("treatment", "7", cleaned).wantOutcome("made", 1)
	elsewhere := object2(cleaningOf("LV.8"), "remarks", "It was the other one.")
	amended := s.says("treatment", "7", elsewhere).wantOutcome("amended", 2)
	if c := changesIn(amended); c["/remarks"] != "added <nil> to It was the other one." || amended.at("registered", 0, "number") != "LV.8" {
		t.Errorf("got %s, want what changed, and the specimen that was registered", amended.body)
	}
	if again := s.says("treatment", "7", elsewhere).wantOutcome("unchanged", 2); again.at("changed") != nil {
		t.Errorf("got %s, want no change told", again.body)
	}
	long := object2(elsewhere, "remarks", strings.Repeat("long ", 100))
	many := s.saysAll(item("treatment", "7", long), item("treatment", "7", long), item("person", "7", object{"name": "Oldrich Sebald"}))
	change := many.at("items", 0, "changed", "items", 0).(object)
	if many.outcomes() != "amended unchanged made" || change["pointer"] != "/remarks" || change["after"] != nil ||
		many.at("items", 1, "changed") != nil || many.at("items", 2, "changed") != nil {
		t.Errorf("got %s, want what the first changed, in brief", many.body)
	}
	whole := s.do(http.MethodPut, sourcePath("treatment", "7")+"&detail=full", object{"statement": elsewhere}).wantOutcome("amended", 4)
	if c := changesIn(whole); !strings.HasPrefix(c["/remarks"], "replaced long long") {
		t.Errorf("got %s, want the whole text before", whole.body)
	}
}
