package record_test

import (
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/google/uuid"
	"pgregory.net/rapid"

	"meniscus/internal/record"
	"meniscus/internal/statement"
)

// object is a JSON object.
type object = map[string]any

func parsed(t interface{ Fatal(...any) }, text string) object {
	var o object
	if err := json.Unmarshal([]byte(text), &o); err != nil {
		t.Fatal(err)
	}
	return o
}

// id is the id of a record that the tests call by a short name.
func id(name string) uuid.UUID { return uuid.NewSHA1(uuid.Nil, []byte(name)) }

// named are references by short names.
var named = regexp.MustCompile(`"(person|specimen|batch|supply|by)":{"id":"(\w+)"}`)

// read reads a statement as it is read from an entry: short names stand for ids,
// and a person who is named by a name has an id.
func read(t interface{ Fatal(...any) }, kind record.Kind, said object) record.Value {
	words, err := json.Marshal(said)
	if err != nil {
		t.Fatal(err)
	}
	words = named.ReplaceAllFunc(words, func(ref []byte) []byte {
		of := named.FindSubmatch(ref)
		return fmt.Appendf(nil, `"%s":{"id":"%s"}`, of[1], id(string(of[2])))
	})
	r, err := statement.Read(kind, words)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range r.People {
		r.PutPerson(p, id(p.Name))
	}
	return r.Value
}

// dossier is a statement and those of the records that it points to.
type dossier struct {
	kind      record.Kind
	statement object
	specimen  object // nil where nothing is known of it
	people    map[string]object
	batches   map[string]object
	received  bool
}

func (d dossier) score(t interface{ Fatal(...any) }) record.Completeness {
	out := record.Dossier{Value: read(t, d.kind, d.statement), Others: map[record.Ref]record.Value{}, Received: d.received}
	if d.specimen != nil {
		out.Specimen = read(t, record.KindSpecimen, d.specimen).(*record.Specimen)
	}
	for name, said := range d.people {
		out.Others[id(name)] = read(t, record.KindPerson, said)
	}
	for name, said := range d.batches {
		out.Others[id(name)] = read(t, record.KindBatch, said)
	}
	return record.Score(out)
}

const fullTreatment = `{
	"specimen": {"id": "s"}, "action": "consolidation",
	"purpose": {"text": "Flaking of the cortical surface"},
	"dates": {"edtf": "2024-03-12"},
	"people": [{"person": {"id": "p"}, "part": "carried-out"}],
	"areas": {"paths": ["skull/left-orbit"]},
	"materials": [{"used": {"batch": {"id": "b"}}, "role": "consolidant", "amount": {"answer": "unknown"}}],
	"conditionBefore": {"text": "Flaking"}, "conditionAfter": {"text": "Flakes laid down"},
	"images": [{"url": "https://pictures.lower-valley.example/1", "stage": "before", "scale": {"answer": "none"}, "taken": "2024-03-12"},
		{"url": "https://pictures.lower-valley.example/2", "stage": "after", "scale": {"text": "10 cm"}, "taken": "2024-03-13"}],
	"authorisation": {"given": {"by": {"id": "q"}, "date": {"edtf": "2024-03-01"}, "class": "single"}},
	"recordCopyLocation": {"text": "Archive, shelf 4"},
	"method": "brush", "coats": 2, "drying": {"state": "touch-dry"},
	"environment": {"airTemperature": {"answer": "unknown"}, "relativeHumidity": {"answer": "unknown"}},
	"reversibility": {"says": "Not tested", "testedHow": {"answer": "none"}, "by": {"id": "p"}, "date": {"edtf": "2024"}}, "informationGained": {"answer": "none"}, "informationLost": {"answer": "none"},
	"catalogueUpdated": {"text": "Yes"}, "untreatedReference": {"answer": "none"}, "nextCheck": {"edtf": "2027"},
	"report": {"url": "https://documents.lower-valley.example/r"}}`

func fullDossier(t interface{ Fatal(...any) }) dossier {
	return dossier{
		kind:      record.KindTreatment,
		statement: parsed(t, fullTreatment),
		specimen: parsed(t, `{"identifiers": [{"kind": "catalogue-number", "value": "LV.1987/0042"}], `+
			`"owner": {"answer": "unknown"}, "classification": {"text": "Ursus spelaeus"}, "description": "Skull", `+
			`"bodyKind": "bone"}`),
		people: map[string]object{
			"p": parsed(t, `{"name": "Ilse Varga", "organisation": "Museum of the Lower Valley"}`),
		},
		batches: map[string]object{
			"b": parsed(t, `{"code": "B-1", "kind": "bottle", "inputs": [{"from": {"batch": {"id": "parent"}}, `+
				`"part": "stock", "amount": {"quantity": {"value": 50, "unit": "mL"}}}]}`),
			"parent": parsed(t, `{"code": "B-0", "kind": "solution", "inputs": [
				{"from": {"supply": {"id": "x"}}, "part": "solute", "amount": {"quantity": {"value": 30, "unit": "g"}}},
				{"from": {"supply": {"id": "y"}}, "part": "solvent", "amount": {"answer": "unknown"}}]}`),
		},
	}
}

func gapRules(gaps []record.Gap) []string {
	var out []string
	for _, g := range gaps {
		out = append(out, g.Rule+" "+string(g.Of)+g.Pointer)
	}
	return out
}

func TestAFullRecordIsComplete(t *testing.T) {
	t.Parallel()
	c := fullDossier(t).score(t)
	// amounts, approval and certainty-of-words do not apply: no removal, no departure, no old words.
	if c.Answered != 13 || c.Applicable != 13 || c.Missing != nil {
		t.Errorf("got %d of %d, missing %v, want 13 of 13", c.Answered, c.Applicable, gapRules(c.Missing))
	}
	if c.RecommendedMissing != nil || c.RecommendedApplicable != 8 {
		t.Errorf("recommended: got %d, missing %v, want 8 and none", c.RecommendedApplicable, gapRules(c.RecommendedMissing))
	}
}

func TestEachBlankIsNamedWithItsReason(t *testing.T) {
	t.Parallel()
	for member, want := range map[string]string{
		"purpose":            "reason treatment/purpose",
		"dates":              "dates treatment/dates",
		"people":             "people treatment/people",
		"areas":              "areas treatment/areas",
		"materials":          "materials treatment/materials",
		"conditionBefore":    "condition treatment/conditionBefore",
		"conditionAfter":     "condition treatment/conditionAfter",
		"authorisation":      "consent treatment/authorisation",
		"recordCopyLocation": "record-copies treatment/recordCopyLocation",
	} {
		d := fullDossier(t)
		delete(d.statement, member)
		c := d.score(t)
		if diff := cmp.Diff(gapRules(c.Missing), []string{want}); diff != "" {
			t.Errorf("without %s (-got +want):\n%s", member, diff)
			continue
		}
		if c.Answered != c.Applicable-1 || c.Missing[0].Why == "" || c.Missing[0].Source == "" || c.Missing[0].Field == "" {
			t.Errorf("without %s: got %d of %d and %+v, want one less, a field, a reason and a source", member, c.Answered,
				c.Applicable, c.Missing[0])
		}
	}
}

// Every field that a blank record lacks has a name and a reason. Fields of one
// rule have reasons of their own where the rule's reason does not fit.
func TestEveryBlankSaysWhyItIsAskedFor(t *testing.T) {
	t.Parallel()
	why := map[record.Field]string{}
	for _, blank := range []dossier{
		{kind: record.KindTreatment, statement: parsed(t, `{"action": "coating", "materials": [{"used": {"material": {"id": "shellac"}}}], "people": [{"person": {"id": "p"}, "part": "carried-out"}],
			"authorisation": {"given": {}}}`), specimen: parsed(t, `{"owner": {"text": "Museum of the Upper Valley"}}`)},
		{kind: record.KindTreatment, statement: parsed(t, `{"action": "removal", "reversibility": {"says": "Yes"}}`)},
		{kind: record.KindTreatment, statement: parsed(t, `{"action": "sampling"}`)},
		{kind: record.KindTreatment, statement: parsed(t, `{"action": "test"}`)},
		{kind: record.KindPlan, statement: parsed(t, `{"treatment": {"action": "coating"}}`)},
		{kind: record.KindBatch, statement: parsed(t, `{"kind": "solution"}`)},
		{kind: record.KindSupply, statement: parsed(t, `{}`)},
		{kind: record.KindSpecimen, statement: parsed(t, `{}`)},
	} {
		c := blank.score(t)
		for _, gap := range slices.Concat(c.Missing, c.RecommendedMissing) {
			if gap.Field == "" || gap.Why == "" || gap.Source == "" {
				t.Errorf("%s: got %+v, want a field, a reason and a source", blank.kind, gap)
			}
			why[record.FieldOf(gap.Rule, gap.Pointer[strings.LastIndexByte(gap.Pointer, '/')+1:])] = gap.Why
		}
	}
	for field, reason := range record.Reasons {
		if why[field] != reason {
			t.Errorf("%s: got %q, want %q", field, why[field], reason)
		}
	}
}

func TestCompletenessConditions(t *testing.T) {
	t.Parallel()
	for name, row := range map[string]struct {
		change  string // members that replace those of the full treatment
		missing []string
	}{
		"a removal says how much, what and how far": {
			`{"action": "removal", "materials": []}`,
			[]string{"action treatment/removal/treatments", "action treatment/removal/left", "amounts treatment/amountRemoved"}},
		"a removal that says so": {
			`{"action": "removal", "materials": [], "amountRemoved": {"answer": "unknown"}, "removal": {"treatments": [], ` +
				`"left": "reduced"}}`, nil},
		"a test without dwell": {
			`{"action": "test", "materials": [], "test": {"observed": "dissolves"}}`, []string{"action treatment/test/dwell"}},
		"an examination needs one condition and its outcome": {
			`{"action": "examination", "materials": null, "conditionAfter": null}`,
			[]string{"action treatment/examination/outcome", "action treatment/examination/how"}},
		"a label records the number first": {
			`{"action": "labelling"}`, []string{"action treatment/label/numberRecorded"}},
		"false is an answer": {
			`{"action": "labelling", "label": {"numberRecorded": false}}`, nil},
		"that nobody knows is an answer": {
			`{"action": "labelling", "label": {"numberRecordedAnswer": "unknown"}}`, nil},
		"a label's number does not say whether it is on record": {
			`{"action": "labelling", "label": {"number": "LV 1"}}`, []string{"action treatment/label/numberRecorded"}},
		"a departure without plan or approval": {
			`{"deviations": [{"what": "Two coats more"}]}`, []string{
				"approval treatment/plan", "approval treatment/deviations/0/approval",
			}},
		"no picture was taken, and the record says so": {`{"images": []}`, nil},
		"somebody authorised it, on which day and for what?": {
			`{"authorisation": null, "people": [{"person": {"id": "p"}, "part": "carried-out"}, {"person": {"id": "q"}, ` +
				`"part": "authorised"}]}`,
			[]string{"consent treatment/authorisation/given/date", "consent treatment/authorisation/given/class"}},
		"nobody authorised it, and the record says so": {`{"authorisation": {"answer": "none"}}`, nil},
		"a picture without scale and date": {
			`{"images": [{"url": "u", "stage": "before"}]}`,
			[]string{"images treatment/images", "images treatment/images/0/scale", "images treatment/images/0/taken"}},
		"old words whose meaning is unknown are an answer": {
			`{"materials": [{"used": {"words": {"verbatim": "PVA", "certainty": "unknown"}}}]}`, nil},
		"analysed, by which method?": {
			`{"materials": [{"used": {"words": {"verbatim": "PVA", "certainty": "analysed"}}}]}`,
			[]string{"certainty-of-words treatment/materials/0/used/words/analysedBy"}},
		"a material from an old card": {
			`{"oldCard": {"verbatim": "shellac"}, "action": "filling", ` +
				`"materials": [{"used": {"material": {"id": "shellac"}}}]}`,
			[]string{"certainty-of-words treatment/materials/0/used/material/certainty"}},
		"a coat by name alone: in what, how strong?": {
			`{"materials": [{"used": {"material": {"id": "shellac"}}}]}`,
			[]string{
				"solvents treatment/materials/0/used/material/solvents", "strength-basis treatment/materials/0/used/material/strength/basis",
			}},
		"a fill by name alone": {
			`{"action": "filling", "materials": [{"used": {"material": {"id": "plaster-of-paris"}}}]}`, nil},
		"two solvents without proportions": {
			`{"materials": [{"used": {"material": {"id": "shellac", "solvents": [{"id": "ethanol"}, {"id": "acetone", ` +
				`"fraction": 0.5}], "strength": {"basis": "unknown", "value": 5}}}}]}`,
			[]string{"solvents treatment/materials/0/used/material/solvents/0/fraction"}},
		"a supply that is not among the others": {
			`{"action": "joining", "materials": [{"used": {"supply": {"id": "gone"}}}]}`, []string{"materials supply/material/id"}},
		"nobody knows who": {`{"people": [{"person": {"answer": "unknown"}, "part": "carried-out"}]}`, nil},
		"someone, of no organisation": {
			`{"people": [{"person": {"name": "I. V."}, "part": "carried-out"}]}`,
			[]string{"people treatment/people/0/organisation"}},
		"only a transcriber": {
			`{"people": [{"person": {"id": "p"}, "part": "transcribed"}]}`, []string{"people treatment/people"}},
		"other, without words": {`{"action": "other", "materials": []}`, []string{"action treatment/remarks"}},
		"authorised, no more said": {
			`{"authorisation": {"given": {"by": {"id": "q"}}}}`,
			[]string{"consent treatment/authorisation/given/date", "consent treatment/authorisation/given/class"}},
		"no authorisation is an answer": {`{"authorisation": {"answer": "none"}}`, nil},
	} {
		d := fullDossier(t)
		for member, value := range parsed(t, row.change) {
			d.statement[member] = value
		}
		if diff := cmp.Diff(gapRules(d.score(t).Missing), row.missing); diff != "" {
			t.Errorf("%s (-got +want):\n%s", name, diff)
		}
	}
}

func TestCompletenessOfBatchesSuppliesAndSpecimens(t *testing.T) {
	t.Parallel()
	for name, row := range map[string]struct {
		kind      record.Kind
		statement string
		missing   []string
	}{
		"a bare solution": {record.KindBatch, `{"code": "B", "kind": "solution"}`,
			[]string{"dates batch/made", "people batch/madeBy", "materials batch/inputs", "solvents batch/solvents", "strength-basis batch/labelStrength"}},
		"two solvents without proportions": {record.KindBatch,
			`{"code": "B", "kind": "solution", "made": {"edtf": "2020"}, "madeBy": [], "inputs": [], ` +
				`"solvents": [{"id": "acetone", "fraction": 0.5}, {"id": "ethanol"}], ` +
				`"labelStrength": {"basis": "unknown", "value": 5}}`,
			[]string{"solvents batch/solvents/1/fraction"}},
		"a bare plan": {record.KindPlan, `{"treatment": {"specimen": {"id": "s"}, "action": "coating"}}`,
			[]string{"specimen-identity specimen/identifiers", "specimen-identity specimen/owner", "specimen-identity specimen/classification", "specimen-identity specimen/description",
				"specimen-identity specimen/bodyKind",
				"reason plan/reason", "dates plan/proposed", "people plan/proposedBy", "areas plan/treatment/areas",
				"materials plan/treatment/materials", "consent plan/authorisation"}},
		"an old bottle with a label": {record.KindBatch,
			`{"code": "B", "kind": "bottle", "made": {"answer": "unknown"}, "madeBy": [], "inputs": [], ` +
				`"solvents": [{"id": "acetone"}], "labelStrength": {"basis": "unknown", "value": 5}}`, nil},
		"a filled wax is no solution": {record.KindBatch, `{"code": "B", "kind": "mixture", "made": {"edtf": "2020"}, "madeBy": [], "inputs": []}`, nil},
		"a bare supply":               {record.KindSupply, `{"code": "S"}`, []string{"materials supply/material/id"}},
		"a bare specimen": {record.KindSpecimen, `{"identifiers": [{"kind": "field-number", "value": "7"}]}`,
			[]string{"specimen-identity specimen/owner", "specimen-identity specimen/classification", "specimen-identity specimen/description", "specimen-identity specimen/bodyKind"}},
		"a person has no such demands": {record.KindPerson, `{}`, nil},
	} {
		c := dossier{kind: row.kind, statement: parsed(t, row.statement)}.score(t)
		if diff := cmp.Diff(gapRules(c.Missing), row.missing); diff != "" {
			t.Errorf("%s (-got +want):\n%s", name, diff)
		}
	}
}

func TestSolventsAreFollowedThroughACircle(t *testing.T) {
	t.Parallel()
	d := fullDossier(t)
	d.batches["b"] = parsed(t, `{"kind": "bottle", "inputs": [{"from": {"batch": {"id": "b"}}, "part": "stock", `+
		`"amount": {"answer": "unknown"}}]}`)
	if diff := cmp.Diff(gapRules(d.score(t).Missing), []string{"solvents batch/solvents"}); diff != "" {
		t.Errorf("(-got +want):\n%s", diff)
	}
}

// More answers never lower the number of answers, and the numbers agree with the
// list.
func TestScoreGrowsWithAnswers(t *testing.T) {
	t.Parallel()
	var members []string
	for m := range parsed(t, fullTreatment) {
		members = append(members, m)
	}
	slices.Sort(members)
	rapid.Check(t, func(t *rapid.T) {
		d := fullDossier(t)
		for _, m := range members {
			if rapid.Bool().Draw(t, m) {
				delete(d.statement, m)
			}
		}
		before := d.score(t)
		rules := map[string]bool{}
		for _, g := range before.Missing {
			rules[g.Rule] = true
		}
		if before.Applicable-before.Answered != len(rules) {
			t.Fatalf("got %d of %d with gaps in %d rules", before.Answered, before.Applicable, len(rules))
		}
		full := fullDossier(t)
		again := rapid.SampledFrom(members).Draw(t, "answered")
		d.statement[again] = full.statement[again]
		after := d.score(t)
		if after.Applicable-after.Answered > before.Applicable-before.Answered && again != "materials" && again != "action" {
			t.Fatalf("after answering %s: got %v, had %v", again, gapRules(after.Missing), gapRules(before.Missing))
		}
	})
}

func TestEveryActionHasItsTraits(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		action record.Action
		adds   bool
	}{{record.ActionConsolidation, true}, {record.ActionExamination, false}, {record.ActionRemoval, false},
		{record.ActionCleaning, false}, {record.ActionJoining, true}} {
		if !row.action.Known() || row.action.Adds() != row.adds {
			t.Errorf("%s: known %v, adds %v, want known and %v", row.action, row.action.Known(), row.action.Adds(), row.adds)
		}
		for _, r := range row.action.Requires() {
			if !strings.HasPrefix(r.Pointer, "/") || r.Why == "" {
				t.Errorf("%s: got %+v, want a pointer and a reason", row.action, r)
			}
		}
	}
	if record.Action("polishing").Known() {
		t.Error("polishing: got known, want not")
	}
}

// Recommended fields are named, and never counted with the required ones.
func TestRecommendationsAreNamed(t *testing.T) {
	t.Parallel()
	for name, row := range map[string]struct{ change, want string }{
		"a coat hides":             {`{"action": "coating"}`, "images treatment/images"},
		"whose right":              {`{}`, "consent treatment/authorisation/given/authority"},
		"a statement without test": {`{"reversibility": {"says": "Comes off"}}`, "reversibility treatment/reversibility/testedHow"},
		"which grade":              {`{"materials": [{"used": {"material": {"id": "shellac", "solvents": [{"id": "ethanol"}], "strength": {"basis": "unknown", "value": 5}}}}]}`, "materials treatment/materials/0/used/material/grade"},
	} {
		d := fullDossier(t)
		d.specimen["owner"] = map[string]any{"text": "The parish of Lower Valley"}
		for member, value := range parsed(t, row.change) {
			d.statement[member] = value
		}
		c := d.score(t)
		if !slices.Contains(gapRules(c.RecommendedMissing), row.want) || c.Answered != c.Applicable {
			t.Errorf("%s: got %v (and missing %v), want %s recommended", name, gapRules(c.RecommendedMissing),
				gapRules(c.Missing), row.want)
		}
	}
}

// A record from another institution was authorised there, and not here. An
// authorisation that it states and one that it omits give different gaps.
func TestASendersConsentIsNone(t *testing.T) {
	t.Parallel()
	given := record.Give(record.Authorisation{
		By: id("q"), Date: record.Date{Answer: record.AnswerUnknown}, Class: "single",
	})
	none := record.Said[record.Authorisation]{Answer: record.AnswerNone}
	named := []record.Involvement{{Person: id("q"), Part: "authorised"}}
	const senders = "authorisation by this institution; what is here is the sender's"
	for name, row := range map[string]struct {
		of       record.Treatment
		received bool
		missing  string // by consent
	}{
		"given here":                      {record.Treatment{Authorisation: given}, false, ""},
		"given there":                     {record.Treatment{SendersAuthorisation: given}, true, senders},
		"somebody there is named":         {record.Treatment{People: named}, true, senders},
		"nobody there authorised it":      {record.Treatment{SendersAuthorisation: none}, true, ""},
		"nothing is said there":           {record.Treatment{}, true, "authorisation"},
		"nothing is said here":            {record.Treatment{}, false, "authorisation"},
		"somebody here is named, no more": {record.Treatment{People: named}, false, "when it was authorised"},
	} {
		c := record.Score(record.Dossier{Value: &row.of, Received: row.received})
		got := ""
		for _, gap := range c.Missing {
			if gap.Rule == "consent" && got == "" {
				got = gap.Field
			}
		}
		if got != row.missing {
			t.Errorf("%s: got %q, want %q", name, got, row.missing)
		}
	}
	departed := record.Treatment{
		Plan: record.Give(id("plan")), Deviations: []record.Deviation{{Approval: given}, {Approval: none}},
	}
	for received, want := range map[bool][]string{false: nil, true: {"approval treatment/deviations/0/approval"}} {
		c := record.Score(record.Dossier{Value: &departed, Received: received})
		gaps := slices.DeleteFunc(gapRules(c.Missing), func(g string) bool { return !strings.HasPrefix(g, "approval") })
		if diff := cmp.Diff(gaps, want, cmpopts.EquateEmpty()); diff != "" {
			t.Errorf("received %v (-got +want):\n%s", received, diff)
		}
	}
}

// A record's completeness depends on the people whom it names and on what it used.
func TestWhatCompletenessHangsOn(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		of   record.Value
		want []string
	}{
		{read(t, record.KindTreatment, parsed(t, fullTreatment)), []string{"s", "p", "b"}},
		{&record.Plan{Treatment: record.Treatment{Specimen: id("s"), People: []record.Involvement{{Person: id("p")}}}}, []string{"s"}},
		{&record.Batch{Inputs: record.Give([]record.Input{{Used: record.Used{Batch: id("b")}}, {Used: record.Used{Supply: id("x")}}})}, []string{"b"}},
		{&record.Treatment{Uses: record.Give([]record.Use{{Used: record.Used{Supply: id("x")}}, {Used: record.Used{Words: "glue"}}})}, []string{"x"}},
		{&record.Supply{Material: "acetone"}, nil},
	} {
		var want []record.Ref
		for _, name := range row.want {
			want = append(want, id(name))
		}
		if got := record.HangsOn(row.of); !slices.Equal(got, want) {
			t.Errorf("%T: got %v, want %v", row.of, got, row.want)
		}
	}
}
