package record_test

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"meniscus/internal/record"
)

func statement(t interface{ Fatal(...any) }, text string) record.Statement {
	var s record.Statement
	if err := json.Unmarshal([]byte(text), &s); err != nil {
		t.Fatal(err)
	}
	return s
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

func fullDossier(t interface{ Fatal(...any) }) record.Dossier {
	return record.Dossier{
		Kind:      record.KindTreatment,
		Statement: statement(t, fullTreatment),
		Specimen:  statement(t, `{"identifiers": [{"kind": "catalogue-number", "value": "LV.1987/0042"}], "owner": {"answer": "unknown"}, "classification": {"text": "Ursus spelaeus"}, "description": "Skull", "bodyKind": "bone"}`),
		Others: map[string]record.Statement{
			"p": statement(t, `{"displayName": "Ilse Varga", "organisation": "Museum of the Lower Valley"}`),
			"b": statement(t, `{"code": "B-1", "kind": "bottle", "inputs": [{"from": {"batch": {"id": "parent"}}, "part": "stock", "amount": {"quantity": {"value": 50, "unit": "mL"}}}]}`),
			"parent": statement(t, `{"code": "B-0", "kind": "solution", "inputs": [
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
	c := record.Score(fullDossier(t))
	// R10, R15 and R16 do not apply: no removal, no departure, no old words.
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
		"purpose":            "R02 treatment/purpose",
		"dates":              "R03 treatment/dates",
		"people":             "R04 treatment/people",
		"areas":              "R05 treatment/areas",
		"materials":          "R07 treatment/materials",
		"conditionBefore":    "R12 treatment/conditionBefore",
		"conditionAfter":     "R12 treatment/conditionAfter",
		"authorisation":      "R14 treatment/authorisation",
		"recordCopyLocation": "R21 treatment/recordCopyLocation",
	} {
		d := fullDossier(t)
		delete(d.Statement, member)
		c := record.Score(d)
		if diff := cmp.Diff(gapRules(c.Missing), []string{want}); diff != "" {
			t.Errorf("without %s (-got +want):\n%s", member, diff)
			continue
		}
		if c.Answered != c.Applicable-1 || c.Missing[0].Why == "" || c.Missing[0].Source == "" || c.Missing[0].Field == "" {
			t.Errorf("without %s: got %d of %d and %+v, want one less, a field, a reason and a source", member, c.Answered, c.Applicable, c.Missing[0])
		}
	}
}

// Every field that a blank record lacks has a name and a reason, and fields that
// are asked for by one rule have reasons of their own where that one does not fit.
func TestEveryBlankSaysWhyItIsAskedFor(t *testing.T) {
	t.Parallel()
	why := map[record.Field]string{}
	for _, blank := range []record.Dossier{
		{Kind: record.KindTreatment, Statement: statement(t, `{"action": "coating", "materials": [{"used": {"material": {"id": "shellac"}}}], "people": [{"person": {"id": "p"}, "part": "carried-out"}],
			"authorisation": {"given": {}}}`), Specimen: statement(t, `{"owner": {"text": "Museum of the Upper Valley"}}`)},
		{Kind: record.KindTreatment, Statement: statement(t, `{"action": "removal", "reversibility": {"says": "Yes"}}`)},
		{Kind: record.KindTreatment, Statement: statement(t, `{"action": "sampling"}`)},
		{Kind: record.KindTreatment, Statement: statement(t, `{"action": "test"}`)},
		{Kind: record.KindPlan, Statement: statement(t, `{"treatment": {"action": "coating"}}`)},
		{Kind: record.KindBatch, Statement: statement(t, `{"kind": "solution"}`)},
		{Kind: record.KindSupply, Statement: statement(t, `{}`)},
		{Kind: record.KindSpecimen, Statement: statement(t, `{}`)},
	} {
		c := record.Score(blank)
		for _, gap := range slices.Concat(c.Missing, c.RecommendedMissing) {
			if gap.Field == "" || gap.Why == "" || gap.Source == "" {
				t.Errorf("%s: got %+v, want a field, a reason and a source", blank.Kind, gap)
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
			[]string{"R06 treatment/removal/treatments", "R06 treatment/removal/left", "R10 treatment/amountRemoved"}},
		"a removal that says so": {
			`{"action": "removal", "materials": [], "amountRemoved": {"answer": "unknown"}, "removal": {"treatments": [], "left": "reduced"}}`, nil},
		"a test without dwell": {
			`{"action": "test", "materials": [], "test": {"observed": "dissolves"}}`, []string{"R06 treatment/test/dwell"}},
		"an examination needs one condition and its outcome": {
			`{"action": "examination", "materials": null, "conditionAfter": null}`,
			[]string{"R06 treatment/examination/outcome", "R06 treatment/examination/how"}},
		"a label records the number first": {
			`{"action": "labelling"}`, []string{"R06 treatment/label/numberRecorded"}},
		"false is an answer": {
			`{"action": "labelling", "label": {"numberRecorded": false}}`, nil},
		"a departure without plan or approval": {
			`{"deviations": [{"what": "Two coats more"}]}`, []string{"R15 treatment/plan", "R15 treatment/deviations/0/approval"}},
		"no picture was taken, and the record says so": {`{"images": []}`, nil},
		"somebody authorised it, on which day and for what?": {
			`{"authorisation": null, "people": [{"person": {"id": "p"}, "part": "carried-out"}, {"person": {"id": "q"}, "part": "authorised"}]}`,
			[]string{"R14 treatment/authorisation/given/date", "R14 treatment/authorisation/given/class"}},
		"nobody authorised it, and the record says so": {`{"authorisation": {"answer": "none"}}`, nil},
		"a picture without scale and date": {
			`{"images": [{"url": "u", "stage": "before"}]}`,
			[]string{"R13 treatment/images", "R13 treatment/images/0/scale", "R13 treatment/images/0/taken"}},
		"old words whose meaning is unknown are an answer": {
			`{"materials": [{"used": {"words": {"verbatim": "PVA", "certainty": "unknown"}}}]}`, nil},
		"analysed, by which method?": {
			`{"materials": [{"used": {"words": {"verbatim": "PVA", "certainty": "analysed"}}}]}`,
			[]string{"R16 treatment/materials/0/used/words/analysedBy"}},
		"a material from an old card": {
			`{"oldCard": {"verbatim": "shellac"}, "action": "filling", "materials": [{"used": {"material": {"id": "shellac"}}}]}`,
			[]string{"R16 treatment/materials/0/used/material/certainty"}},
		"a coat by name alone: in what, how strong?": {
			`{"materials": [{"used": {"material": {"id": "shellac"}}}]}`,
			[]string{"R08 treatment/materials/0/used/material/solvents", "R09 treatment/materials/0/used/material/strength/basis"}},
		"a fill by name alone": {
			`{"action": "filling", "materials": [{"used": {"material": {"id": "plaster-of-paris"}}}]}`, nil},
		"two solvents without proportions": {
			`{"materials": [{"used": {"material": {"id": "shellac", "solvents": [{"id": "ethanol"}, {"id": "acetone", "fraction": 0.5}], "strength": {"basis": "unknown", "value": 5}}}}]}`,
			[]string{"R08 treatment/materials/0/used/material/solvents/0/fraction"}},
		"a supply that is not among the others": {
			`{"action": "joining", "materials": [{"used": {"supply": {"id": "gone"}}}]}`, []string{"R07 supply/material/id"}},
		"nobody knows who": {`{"people": [{"person": {"answer": "unknown"}, "part": "carried-out"}]}`, nil},
		"someone, of no organisation": {
			`{"people": [{"person": {"name": "I. V."}, "part": "carried-out"}]}`, []string{"R04 treatment/people/0/organisation"}},
		"only a transcriber": {
			`{"people": [{"person": {"id": "p"}, "part": "transcribed"}]}`, []string{"R04 treatment/people"}},
		"other, without words": {`{"action": "other", "materials": []}`, []string{"R06 treatment/remarks"}},
		"authorised, no more said": {
			`{"authorisation": {"given": {"by": {"id": "q"}}}}`,
			[]string{"R14 treatment/authorisation/given/date", "R14 treatment/authorisation/given/class"}},
		"no authorisation is an answer": {`{"authorisation": {"answer": "none"}}`, nil},
	} {
		d := fullDossier(t)
		for member, value := range statement(t, row.change) {
			d.Statement[member] = value
		}
		if diff := cmp.Diff(gapRules(record.Score(d).Missing), row.missing); diff != "" {
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
			[]string{"R03 batch/made", "R04 batch/madeBy", "R07 batch/inputs", "R08 batch/solvents", "R09 batch/labelStrength"}},
		"two solvents without proportions": {record.KindBatch,
			`{"code": "B", "kind": "solution", "made": {"edtf": "2020"}, "madeBy": [], "inputs": [], "solvents": [{"id": "acetone", "fraction": 0.5}, {"id": "ethanol"}], "labelStrength": {"basis": "unknown", "value": 5}}`,
			[]string{"R08 batch/solvents/1/fraction"}},
		"a bare plan": {record.KindPlan, `{"treatment": {"specimen": {"id": "s"}, "action": "coating"}}`,
			[]string{"R01 specimen/identifiers", "R01 specimen/owner", "R01 specimen/classification", "R01 specimen/description", "R01 specimen/bodyKind",
				"R02 plan/reason", "R03 plan/proposed", "R04 plan/proposedBy", "R05 plan/treatment/areas", "R07 plan/treatment/materials", "R14 plan/authorisation"}},
		"an old bottle with a label": {record.KindBatch,
			`{"code": "B", "kind": "bottle", "made": {"answer": "unknown"}, "madeBy": [], "inputs": [], "solvents": [{"id": "acetone"}], "labelStrength": {"basis": "unknown", "value": 5}}`, nil},
		"a filled wax is no solution": {record.KindBatch, `{"code": "B", "kind": "mixture", "made": {"edtf": "2020"}, "madeBy": [], "inputs": []}`, nil},
		"a bare supply":               {record.KindSupply, `{"code": "S"}`, []string{"R07 supply/material/id"}},
		"a bare specimen": {record.KindSpecimen, `{"identifiers": [{"kind": "field-number", "value": "7"}]}`,
			[]string{"R01 specimen/owner", "R01 specimen/classification", "R01 specimen/description", "R01 specimen/bodyKind"}},
		"a person has no such demands": {record.KindPerson, `{}`, nil},
	} {
		c := record.Score(record.Dossier{Kind: row.kind, Statement: statement(t, row.statement)})
		if diff := cmp.Diff(gapRules(c.Missing), row.missing); diff != "" {
			t.Errorf("%s (-got +want):\n%s", name, diff)
		}
	}
}

func TestSolventsAreFollowedThroughACircle(t *testing.T) {
	t.Parallel()
	d := fullDossier(t)
	d.Others["b"] = statement(t, `{"kind": "bottle", "inputs": [{"from": {"batch": {"id": "b"}}, "part": "stock", "amount": {"answer": "unknown"}}]}`)
	if diff := cmp.Diff(gapRules(record.Score(d).Missing), []string{"R08 batch/solvents"}); diff != "" {
		t.Errorf("(-got +want):\n%s", diff)
	}
}

// Answering more never lowers what is answered, and the numbers agree with the
// list.
func TestScoreGrowsWithAnswers(t *testing.T) {
	t.Parallel()
	var members []string
	for m := range statement(t, fullTreatment) {
		members = append(members, m)
	}
	slices.Sort(members)
	rapid.Check(t, func(t *rapid.T) {
		d := fullDossier(t)
		for _, m := range members {
			if rapid.Bool().Draw(t, m) {
				delete(d.Statement, m)
			}
		}
		before := record.Score(d)
		rules := map[string]bool{}
		for _, g := range before.Missing {
			rules[g.Rule] = true
		}
		if before.Applicable-before.Answered != len(rules) {
			t.Fatalf("got %d of %d with gaps in %d rules", before.Answered, before.Applicable, len(rules))
		}
		full := fullDossier(t)
		again := rapid.SampledFrom(members).Draw(t, "answered")
		d.Statement[again] = full.Statement[again]
		after := record.Score(d)
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
	}{{record.ActionConsolidation, true}, {record.ActionExamination, false}, {record.ActionRemoval, false}, {record.ActionCleaning, false}, {record.ActionJoining, true}} {
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

func TestStatementAt(t *testing.T) {
	t.Parallel()
	s := statement(t, `{"a": [{"b/c": {"~": 0}}, "x"], "blank": "  ", "empty": {}, "list": [], "no": false, "null": null}`)
	for pointer, want := range map[string]string{
		"/a/0/b~1c/~0": "0", "/a/1": "x", "/a/2": "<nil>", "/a/-1": "<nil>", "/a/x": "<nil>", "/a/1/y": "<nil>", "/nothing": "<nil>",
	} {
		if got := fmt.Sprint(s.At(pointer)); got != want {
			t.Errorf("At(%s): got %s, want %s", pointer, got, want)
		}
	}
	for pointer, want := range map[string]bool{"/blank": false, "/empty": false, "/null": false, "/list": true, "/no": true, "/a": true, "": true} {
		if got := s.Answered(pointer); got != want {
			t.Errorf("Answered(%s): got %v, want %v", pointer, got, want)
		}
	}
}

// What is recommended stands apart: it is named, and never counted with what
// must be there.
func TestRecommendationsAreNamed(t *testing.T) {
	t.Parallel()
	for name, row := range map[string]struct{ change, want string }{
		"a coat hides":             {`{"action": "coating"}`, "R13 treatment/images"},
		"whose right":              {`{}`, "R14 treatment/authorisation/given/authority"},
		"a statement without test": {`{"reversibility": {"says": "Comes off"}}`, "R17 treatment/reversibility/testedHow"},
		"which grade":              {`{"materials": [{"used": {"material": {"id": "shellac", "solvents": [{"id": "ethanol"}], "strength": {"basis": "unknown", "value": 5}}}}]}`, "R07 treatment/materials/0/used/material/grade"},
	} {
		d := fullDossier(t)
		d.Specimen["owner"] = map[string]any{"text": "The parish of Lower Valley"}
		for member, value := range statement(t, row.change) {
			d.Statement[member] = value
		}
		c := record.Score(d)
		if !slices.Contains(gapRules(c.RecommendedMissing), row.want) || c.Answered != c.Applicable {
			t.Errorf("%s: got %v (and missing %v), want %s recommended", name, gapRules(c.RecommendedMissing), gapRules(c.Missing), row.want)
		}
	}
}
