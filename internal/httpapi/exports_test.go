package httpapi_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"

	"meniscus/internal/access"
	"meniscus/internal/pgtest"
	"meniscus/internal/postgres"
)

var asLines = header{"Content-Type", "application/x-ndjson"}

// newRichRecord is an institution in which everything happened that can happen
// to a record.
func newRichRecord(t *testing.T) awkward {
	t.Helper()
	a := newAwkward(t)
	own := uuid.NewString()
	a.do(http.MethodPut, "/v1/materials/"+own, object{"statement": beads()}).want(201)
	uses := treatment(a.specimen, "consolidation", "2018")
	uses["materials"] = array{object{"used": object{"material": object{"id": own}}}}
	uses["people"] = array{object{"person": object{"name": "Oldrich Sebald"}, "part": "carried-out"}}
	used := a.create("/v1/treatments", uses)

	// An amendment to another specimen, a retraction taken back, a merge, its
	// undoing, a merge that stands, and a part.
	twin, field := a.distinct(specimen("LV.1987/42"), a.specimen), a.create("/v1/specimens", specimen("F-17"))
	moved := a.create("/v1/treatments", treatment(twin.id(), "cleaning", "2001"))
	moved = a.amend(moved, treatment(field.id(), "cleaning", "2001-04"))
	gone := a.do(http.MethodPost, "/v1/records/"+moved.id()+"/retraction", object{"reason": "Twice."}, anyTag).want(201)
	a.amend(gone, treatment(field.id(), "cleaning", "2001-04"))
	a.do(http.MethodPost, "/v1/records/"+a.create("/v1/specimens", specimen("LV.0")).id()+"/retraction", object{"reason": "Not ours."}, anyTag).want(201)
	a.do(http.MethodPost, "/v1/specimens/"+twin.id()+"/merge", object{"into": object{"id": a.specimen},
		"reason": "One number."}, anyTag).want(201)
	a.do(http.MethodPost, "/v1/specimens/"+twin.id()+"/merge/undoing", object{"reason": "Two after all."}, anyTag).want(201)
	a.do(http.MethodPost, "/v1/specimens/"+field.id()+"/merge", object{"into": object{"id": a.specimen},
		"reason": "The field number."}, anyTag).want(201)
	part := a.split(a.specimen, splitOf("LV.1987/0042.1", "2019", "left-femur")).want(201)
	a.do(http.MethodPost, "/v1/specimens/"+part.id()+"/merge", object{"into": object{"id": twin.id()},
		"reason": "Mistaken for it."}, anyTag).want(201)
	a.do(http.MethodPost, "/v1/specimens/"+part.id()+"/merge/undoing", object{"reason": "It is the part."}, anyTag).want(201)

	batch := a.create("/v1/batches", object{"code": "B-7", "kind": "solution", "madeBy": array{object{"person": object{"name": "Jonas Feld"}, "part": "carried-out"}}}).id()
	a.create("/v1/amount-changes", object{"batch": object{"id": batch}, "kind": "topped-up", "with": object{"material": object{"id": "acetone"}}, "amount": object{"answer": "unknown"}})
	noted := a.create("/v1/amount-changes", changeOf(batch))
	a.do(http.MethodPost, "/v1/records/"+noted.id()+"/redaction", object{"reason": "A name."}, anyTag).want(201)
	a.treat("consolidation", "1960", "skull", object{"materials": array{
		object{"used": object{"words": object{"verbatim": "PVA", "certainty": "unknown", "candidates": array{"poly-vinyl-acetate-resin", "poly-vinyl-alcohol"}}}}}})

	proposed := treatment(a.specimen, "coating", "2026-04")
	proposed["materials"] = array{object{"used": object{"batch": object{"id": batch}}}}
	a.create("/v1/plans", object{"treatment": proposed, "proposedBy": array{object{"person": object{"name": "Jonas Feld"}, "part": "carried-out"}}})
	plan := a.create("/v1/plans", object{"treatment": proposed})
	a.do(http.MethodPost, "/v1/plans/"+plan.id()+"/authorisation", object{"class": "single"}, anyTag).want(201)
	fromElsewhere := treatment(a.specimen, "coating", "2019")
	fromElsewhere["materials"] = array{object{"used": object{"batch": object{"id": batch}}}}
	a.amend(a.create("/v1/treatments", fromElsewhere), treatment(a.specimen, "coating", "2019"))
	grouped := treatment(a.specimen, "cleaning", "2020")
	a.do(http.MethodPost, "/v1/group-treatments", object{"statement": grouped, "alsoOn": array{object{"specimen": object{"id": twin.id()}}}}, header{"Idempotency-Key", uuid.NewString()}).want(201)
	a.cards(a.beginImport("shoebox", false, plainMapping()), "Card,Number,Date\n1,LV.7,1934\n2,LV.7,=1+1\n3,LV.8,1935\n").want(200)
	a.create("/v1/specimens", statedAs("LV.9"))
	a.says("specimen", "9", statedAs("LV.9", "remarks", "In two pieces.")).wantOutcome("adopted", 2)
	a.do(http.MethodPost, "/v1/webhooks", hookTo("https://catalogue.museum.example/"), header{"Idempotency-Key", uuid.NewString()}).want(201)
	a.do(http.MethodPut, "/v1/collection-bodies", object{"collection": "palaeontology",
		"bodyTraits": array{object{"trait": "fossil", "answer": "yes"}}}).want(200)
	a.do(http.MethodPut, "/v1/check-rules/solvent-resin-on-damp-body/severity", object{"severity": "warn", "reason": "Tried on our own finds."}).want(200)
	a.do(http.MethodPost, "/v1/treatments", object{"source": object{"system": "catalogue", "recordId": "4711"}, "statement": awkwardWords(twin.id())}).want(201)

	// Words that are gone: a name, a whole treatment, an earlier revision of
	// another, and a merged specimen.
	person := a.do(http.MethodGet, "/v1/treatments/"+used.id(), nil).at("statement", "people", 0, "person", "id").(string)
	a.do(http.MethodPost, "/v1/people/"+person+"/erasure", object{"reason": "Asked for."}, anyTag).want(201)
	secret := a.create("/v1/treatments", treatment(twin.id(), "cleaning", "2002"))
	a.amend(secret, treatment(a.specimen, "cleaning", "2002"))
	a.do(http.MethodPost, "/v1/records/"+secret.id()+"/redaction", object{"reason": "Asked for."}, anyTag).want(201)
	half := a.create("/v1/treatments", treatment(twin.id(), "cleaning", "2003"))
	a.amend(half, treatment(a.specimen, "cleaning", "2003"))
	a.do(http.MethodPost, "/v1/records/"+half.id()+"/redaction", object{"reason": "A name.", "revisions": array{1}}, anyTag).want(201)
	a.do(http.MethodPost, "/v1/records/"+field.id()+"/redaction", object{"reason": "Where it was found."}, anyTag).want(201)
	again := a.do(http.MethodPost, "/v1/records/"+plan.id()+"/redaction", object{"reason": "A name."}, anyTag).want(201)
	a.amend(again, object{"treatment": treatment(twin.id(), "coating", "2026-05")})
	a.refresh()
	return a
}

// awkwardWords is a treatment whose words are awkward to pass on.
func awkwardWords(specimen string) object {
	st := treatment(specimen, "cleaning", "2005")
	st["remarks"] = "=HYPERLINK(\"x\")\nשלום 👩🏽‍🔬 \\u0000 \"quoted\" <&>"
	return st
}

// lines is the whole export.
func (s *service) lines() []byte {
	s.t.Helper()
	r := s.do(http.MethodGet, "/v1/exports/records", nil, header{"Accept", "application/x-ndjson"}).want(200)
	if got := r.header.Get("Content-Type"); got != "application/x-ndjson" {
		s.t.Errorf("got %s, want lines of JSON", got)
	}
	return r.body
}

// emptied is the same service acting for a new institution that has recorded
// nothing, with a key in the name of somebody in the export.
func (s *service) emptied(as string) *service {
	s.t.Helper()
	key, err := postgres.Found(s.t.Context(), s.db.Owner(), s.store, postgres.Founding{Institution: uuid.Must(uuid.NewV7()), Name: "Museum on the Hill", TimeZone: "UTC",
		As: uuid.MustParse(as), Scopes: access.Scopes()})
	if err != nil {
		s.t.Fatal(err)
	}
	other := *s
	other.inst, other.key = key.Institution, key.Text()
	return &other
}

func (s *service) restore(lines []byte) reply {
	s.t.Helper()
	return s.do(http.MethodPost, "/v1/restorations", lines, asLines)
}

// whoRecorded is in whose name the first entry of an export was recorded.
func whoRecorded(t *testing.T, lines []byte) string {
	t.Helper()
	var first struct{ RecordedBy string }
	if err := json.Unmarshal(bytes.SplitN(lines, []byte("\n"), 2)[0], &first); err != nil {
		t.Fatal(err)
	}
	return first.RecordedBy
}

// TestExportAndRestore: a restored record is the same in every byte of its export
// and in every row of its projections, and verifies.
func TestExportAndRestore(t *testing.T) {
	t.Parallel()
	a := newRichRecord(t)
	before := a.lines()
	if bytes.Contains(before, []byte("Sebald")) {
		t.Error("the erased name is in the export")
	}
	b := a.emptied(whoRecorded(t, before))
	made := b.restore(before).want(201)
	if got, want := made.at("entries"), float64(bytes.Count(before, []byte("\n"))-3); got != want || made.at("ruleSeverities") != 1.0 || made.at("collectionBodies") != 1.0 {
		t.Errorf("got %s, want %v entries and one severity", made.body, want)
	}
	if after := b.lines(); !bytes.Equal(before, after) {
		t.Errorf("the export of what was restored differs: %s", firstDifference(string(before), string(after)))
	}
	b.refresh()
	if wrong := b.verify(); len(wrong) > 0 {
		t.Errorf("restored: got %v, want nothing wrong", wrong)
	}
	for _, table := range []string{"person", "specimen", "specimen_identifier", "specimen_stood", "supply", "batch", "batch_input", "batch_person", "amount_change", "treatment", "treatment_area",
		"treatment_person", "treatment_use", "treatment_use_candidate", "treatment_removes", "treatment_was_on", "batch_was_in",
		"plan", "plan_area", "plan_person", "plan_use", "material", "due",
		"sequenced", "source_record", "rule_tuning", "collection_body", "layer_state", "layer_material", "specimen_state"} {
		recorded := a.rowsOf(t, table)
		if recorded == "" {
			t.Errorf("%s is empty: nothing is compared", table)
		}
		if diff := firstDifference(recorded, b.rowsOf(t, table)); diff != "" {
			t.Errorf("%s differs: %s", table, diff)
		}
	}
	b.restore(before).wantProblem(409, "institution-not-empty")
	// What was restored can be gone on with, in the same order.
	b.create("/v1/specimens", specimen("LV.2000"))
	b.seal()
	if got := b.lines(); !bytes.HasPrefix(got, before[:bytes.LastIndex(before, []byte(`{"ruleSeverity"`))]) || bytes.Count(got, []byte("\n")) != bytes.Count(before, []byte("\n"))+1 {
		t.Error("the next entry does not follow what was restored")
	}
}

// firstDifference is the first line in which two texts differ, or "".
func firstDifference(recorded, restored string) string {
	is, was := strings.Split(restored, "\n"), strings.Split(recorded, "\n")
	for i, line := range was {
		if i >= len(is) || is[i] != line {
			return fmt.Sprintf("line %d: recorded\n%s\nrestored\n%s", i+1, line, is[min(i, len(is)-1)])
		}
	}
	if len(is) > len(was) {
		return "restored in excess: " + is[len(was)]
	}
	return ""
}

// rowsOf is a table of the institution, as text.
func (s *service) rowsOf(t *testing.T, table string) string {
	t.Helper()
	var text string
	err := pgtest.Pool(t, s.db.Super()).QueryRow(t.Context(), `
		select coalesce(string_agg(row, e'\n' order by row), '') from (
			select (to_jsonb(x) - 'institution_id')::text as row from `+table+` x where institution_id = $1) as r`, s.inst).Scan(&text)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

var leafHash = regexp.MustCompile(`,"leaf":"[0-9a-f]{64}"`)

// sealedAgain gives altered lines the end that they ask for, and leaves out the hashes that
// show what was altered.
func sealedAgain(lines []string) []byte {
	text := leafHash.ReplaceAllString(strings.Join(lines, ""), "")
	return fmt.Appendf([]byte(text), "{\"end\":{\"entries\":%d,\"ruleSeverities\":0,\"sha256\":\"%x\"}}\n", len(lines), sha256.Sum256([]byte(text)))
}

// TestRestoreRefuses: what was altered, what is missing and what is no export is
// refused with its line, and nothing of it stays.
func TestRestoreRefuses(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull := s.create("/v1/specimens", specimen("LV.30"))
	s.amend(skull, specimen("LV.0030"))
	s.create("/v1/treatments", treatment(skull.id(), "cleaning", "2001"))
	s.seal()
	whole := strings.SplitAfter(string(s.lines()), "\n")
	entries := whole[:len(whole)-2] // the end, and the nothing after it
	who := whoRecorded(t, []byte(entries[0]))
	with := func(i int, old, new string) []string {
		altered := slices.Clone(entries)
		if altered[i] = strings.Replace(entries[i], old, new, 1); altered[i] == entries[i] {
			t.Fatalf("nothing was altered in %s", entries[i])
		}
		return altered
	}
	join := func(lines []string) []byte { return []byte(strings.Join(lines, "")) }
	for _, c := range []struct {
		name, code string
		line       float64
		export     []byte
	}{
		{"an altered word", "digest-wrong", 2, sealedAgain(with(1, "LV.30", "LV.31"))},
		{"an altered time", "digest-wrong", 2, join(with(1, `"recordedAt":"2`, `"recordedAt":"1`))},
		{"an altered time without its leaf", "export-altered", 5,
			append(leafHash.ReplaceAll(join(with(1, `"recordedAt":"2`, `"recordedAt":"1`)), nil), whole[len(whole)-2]...)},
		{"a missing sequence number", "sequence-missing", 3, sealedAgain(slices.Delete(slices.Clone(entries), 2, 3))},
		{"two sequence numbers exchanged", "sequence-missing", 3, sealedAgain([]string{entries[0], entries[1], entries[3], entries[2]})},
		{"a missing revision", "revision-missing", 3, sealedAgain(with(2, `"revision":2`, `"revision":3`))},
		{"an entry twice", "line-repeats", 5, sealedAgain(append(slices.Clone(entries), strings.Replace(entries[3], `"sequence":4`, `"sequence":5`, 1)))},
		{"no end", "export-broken-off", 5, join(entries)},
		{"half a line", "export-broken-off", 4, join(entries)[:len(join(entries))-20]},
		{"more after the end", "line-after-end", 6, append(sealedAgain(entries), entries[0]...)},
		{"an end that counts otherwise", "lines-missing", 5, []byte(strings.Replace(string(sealedAgain(entries)), `"entries":4`, `"entries":5`, 1))},
		{"a sequence number in the future", "time-impossible", 4, sealedAgain(with(3, `"sealedAt":"2`, `"sealedAt":"3`))},
		{"another kind", "line-unreadable", 4, sealedAgain(with(3, `"kind":"treatment"`, `"kind":"robbery"`))},
		{"a member of its own", "line-unreadable", 1, sealedAgain(with(0, `{"sequence"`, `{"mine":1,"sequence"`))},
		{"no JSON", "line-unreadable", 1, []byte("Card,Number\n")},
		{"words for another kind", "statement-unreadable", 4, sealedAgain(with(3, `"kind":"treatment"`, `"kind":"person"`))},
		{"nothing", "export-broken-off", 1, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			other := s.in(t).emptied(who)
			got := other.restore(append([]byte{}, c.export...)).wantProblem(422, c.code)
			if got.at("line") != c.line {
				t.Errorf("got line %v, want %v: %s", got.at("line"), c.line, got.body)
			}
			if left := other.rowsOf(t, "entry") + other.rowsOf(t, "restored_sequence") + other.rowsOf(t, "specimen"); left != "" {
				t.Errorf("this was left: %s", left)
			}
			other.restore(append(join(entries), whole[len(whole)-2]...)).want(201)
		})
	}
	s.restore([]byte("{}\n")).wantProblem(409, "institution-not-empty")
}

// TestExportTable: a kind's records as a table that no spreadsheet runs.
func TestExportTable(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull := s.create("/v1/specimens", specimen("LV.30"))
	odd := s.create("/v1/treatments", awkwardWords(skull.id()))
	s.amend(s.create("/v1/treatments", treatment(skull.id(), "cleaning", "2001")), treatment(skull.id(), "coating", "2001"))
	s.seal()
	read := func(path string) []map[string]string {
		t.Helper()
		r := s.do(http.MethodGet, path, nil, header{"Accept", "text/csv"}).want(200)
		rows, err := csv.NewReader(bytes.NewReader(r.body)).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		var named []map[string]string
		for _, row := range rows[1:] {
			m := map[string]string{}
			for i, name := range rows[0] {
				m[name] = row[i]
			}
			named = append(named, m)
		}
		return named
	}
	inForce, all := read("/v1/exports/records?kind=treatment"), read("/v1/exports/records?kind=treatment&revisions=all")
	if len(inForce) != 2 || len(all) != 3 {
		t.Fatalf("got %d rows in force and %d in all, want 2 and 3", len(inForce), len(all))
	}
	if got, want := inForce[0]["remarks"], "'"+awkwardWords("")["remarks"].(string); got != want || inForce[0]["id"] != odd.id() {
		t.Errorf("got remarks %q, want %q", got, want)
	}
	if got := inForce[1]; got["act"] != "amended" || got["action"] != "coating" || got["reason"] != "Misread." || got["dates"] != "2001" {
		t.Errorf("got %v, want the amended treatment", got)
	}
	words := treatment(skull.id(), "consolidation", "2009-03-10")
	words["materials"] = []any{object{"role": "consolidant", "used": object{"material": object{"id": "poly-vinyl-butyral",
		"strength": object{"value": 5, "unit": "g/dL", "basis": "mass-per-solution-volume"}, "solvents": []any{object{"id": "ethanol"}}}}}}
	words["people"] = []any{object{"person": object{"name": "Nadia Okeke"}, "part": "carried-out"}}
	s.create("/v1/treatments", words)
	s.seal()
	rows := read("/v1/exports/records?kind=treatment")
	got := rows[len(rows)-1]
	for name, want := range map[string]string{
		"specimen": "LV.30", "dates": "10 March 2009", "people": "Person: Nadia Okeke, Part: carried out",
		"materials": "Used: (What: poly(vinyl butyral), grade not stated, Solvents: ethanol, Strength: 5 g/dL of solution), " +
			"Role: consolidant",
	} {
		if got[name] != want {
			t.Errorf("%s: got %q, want %q", name, got[name], want)
		}
	}
	var sent object
	if err := json.Unmarshal([]byte(got["statement"]), &sent); err != nil || sent["action"] != "consolidation" {
		t.Errorf("got %q, want the statement as it is kept (%v)", got["statement"], err)
	}
	s.do(http.MethodGet, "/v1/exports/records", nil, header{"Accept", "text/csv"}).want(400)
	s.do(http.MethodGet, "/v1/exports/records?kind=treatment", nil, header{"Accept", "application/x-ndjson"}).want(400)
}
