package statement_test

import (
	"encoding/json"
	"maps"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/edtf"
	"meniscus/internal/quantity"
	"meniscus/internal/record"
	"meniscus/internal/solution"
	"meniscus/internal/statement"
)

// onNoCard are the members of a treatment that old cards do not have and that Write
// does not write.
var onNoCard = strings.Fields(`
	JoinedTo Event Plan Extent Started Ended PossiblyReached PartialBath Drying AmountRemoved Environment Support Protection
	Relations
	Authorisation SendersAuthorisation Deviations Joint Images Reversibility UntreatedReference NextCheck NextCheckFor CatalogueUpdated Report
	Uses.Answer Uses.Value.Batch Uses.Value.Supply Uses.Value.Grade Uses.Value.Amount
	Uses.Value.Strength.Answer Uses.Value.Strength.Value.Product Uses.Value.Strength.Value.Parts
	Uses.Value.Strength.Value.Number.Uncertainty
	Uses.Value.Solvents.Answer Uses.Value.Solvents.Value.Fraction Uses.Value.Solvents.Value.By
	Exposures.Time.Given Exposures.Time.Value
	Label.NumberRecorded.Answer Damage
	Removal.Method Removal.Limit Removal.ConfirmedBy Test.Layer Test.Solvent Test.Reagent Test.Dwell
	Examination.LookedFor Examination.How Examination.Limit Sampling.Sample Sampling.TakenFor Sampling.SentTo
	Sampling.Mass.Given Sampling.Mass.Value`)

// members visits the fields and items of a value with their paths, as deep as visit
// asks.
func members(v reflect.Value, path string, visit func(path string, v reflect.Value) (deeper bool)) {
	switch v.Kind() {
	case reflect.Pointer:
		if v.Type() != reflect.TypeFor[*quantity.Decimal]() && !v.IsNil() {
			members(v.Elem(), path, visit)
		}
	case reflect.Slice:
		for i := range v.Len() {
			members(v.Index(i), path, visit)
		}
	case reflect.Struct:
		if v.Type() == reflect.TypeFor[quantity.Decimal]() || v.Type() == reflect.TypeFor[edtf.Date]() {
			return
		}
		for i := range v.NumField() {
			at := path
			if f := v.Type().Field(i); !f.Anonymous {
				at = strings.TrimPrefix(path+"."+f.Name, ".")
			}
			if visit(at, v.Field(i)) {
				members(v.Field(i), at, visit)
			}
		}
	}
}

// examples are treatments that together have everything that an old card can say.
func examples() []*record.Treatment {
	unknown := record.Text{Answer: record.AnswerUnknown}
	whole := &record.Treatment{
		Specimen: uuid.UUID{1}, Action: record.ActionConsolidation, Purpose: record.Give("to be lifted"),
		Date:  record.Give(edtf.MustParse("1962-04~")),
		Areas: record.Give([]string{"skull", "jaw"}), Method: "other", MethodRemark: "with a feather", Coats: 2,
		Uses: record.Give([]record.Use{
			{Used: record.Used{Material: "shellac", Certainty: record.Analysed, CertaintySaid: true, AnalysedBy: "infrared"}, Role: "consolidant", Remark: "warm",
				Strength: record.Give(record.Strength{UnitSaid: true, Strength: solution.Strength{Basis: solution.MassFraction,
					Number: quantity.Quantity{Value: quantity.MustDecimal("2.50"), Unit: quantity.Percent}}}),
				Solvents: record.Give([]record.SolventShare{{Material: "ethanol"}})},
			{Used: record.Used{Material: "shellac", Certainty: record.Documented}},
			{Used: record.Used{Words: "PVA", Certainty: record.Inferred, CertaintySaid: true, AnalysedBy: "a spot test", Candidates: []string{"poly-vinyl-alcohol"}}},
		}),
		Exposures: []record.Exposure{{Solvent: "ethanol", Time: record.Amount{Answer: record.AnswerUnknown},
			During: "other"}},
		People: []record.Involvement{{Person: uuid.UUID{2}, Part: "carried-out",
			Organisation: record.Give("Museum of the Lower Valley")},
			{Answer: record.AnswerUnknown, Part: "carried-out", Organisation: unknown}},
		ConditionBefore: record.Give("crumbling"), ConditionAfter: record.Give("firm"),
		InformationGained: record.Give("an older fill"),
		InformationLost:   record.Give("tool marks"), RecordCopyLocation: record.Give("the north store"),
		Remarks: "see card 2",
		OldCard: &record.OldCard{Image: &record.Document{URL: "https://cards.example/1", Title: "Card 1"},
			Verbatim: "No: 1", TranscribedBy: uuid.UUID{3}},
		Removal: &record.Removal{Treatments: []record.Ref{{4}}, Left: "unknown"}, Test: &record.Test{Observed: "swells"},
		Examination: &record.Examination{Outcome: "found"}, Label: &record.Label{Number: "LV 1", NumberRecorded: record.Give(true)},
		Sampling: &record.Sampling{Mass: record.Amount{Answer: record.AnswerUnknown}},
	}
	nothing := &record.Treatment{
		Specimen: uuid.UUID{1}, Action: record.ActionCleaning, Date: record.Date{Answer: record.AnswerUnknown},
		Areas: record.Areas{Answer: record.AnswerUnknown},
		Uses:  record.Give([]record.Use{}), Purpose: unknown,
		ConditionBefore: record.Text{Answer: record.AnswerNotExamined}, ConditionAfter: unknown,
		InformationGained: unknown, InformationLost: record.Text{Answer: record.AnswerNone}, RecordCopyLocation: unknown,
	}
	return []*record.Treatment{whole, nothing}
}

// readBack writes a treatment and checks that reading the words gives the same
// treatment.
func readBack(t *testing.T, of *record.Treatment) {
	t.Helper()
	words, written, err := statement.Write(of, record.Names{})
	if err != nil {
		t.Fatal(err)
	}
	read, err := statement.Read(record.KindTreatment, words)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(read.Value, of) || !reflect.DeepEqual(written.Value, of) {
		t.Errorf("%s gives\n%+v, and\n%+v was written", words, read.Value, of)
	}
}

// TestWhatIsWrittenIsRead writes and reads every member of a treatment, except those in
// onNoCard.
func TestWhatIsWrittenIsRead(t *testing.T) {
	t.Parallel()
	written := map[string]bool{}
	for _, of := range examples() {
		readBack(t, of)
		members(reflect.ValueOf(of), "", func(path string, v reflect.Value) bool {
			written[path] = written[path] || !v.IsZero()
			return true
		})
	}
	var not []string
	for path, is := range written {
		above := path[:max(0, strings.LastIndex(path, "."))]
		if !is && (above == "" || written[above]) {
			not = append(not, path)
		}
	}
	slices.Sort(not)
	if diff := cmp.Diff(not, slices.Sorted(slices.Values(onNoCard))); diff != "" {
		t.Errorf("members that no example writes, and those that no card says (-got +want):\n%s", diff)
	}
}

// TestExamplesAreWrittenAsTheyAreRead takes every treatment among the contract's
// examples, without the members in onNoCard.
func TestExamplesAreWrittenAsTheyAreRead(t *testing.T) {
	t.Parallel()
	doc, err := api.Document()
	if err != nil {
		t.Fatal(err)
	}
	found := 0
	var look func(v any)
	look = func(v any) {
		switch v := v.(type) {
		case []any:
			for _, item := range v {
				look(item)
			}
		case map[string]any:
			_, action := v["action"].(string)
			if _, areas := v["areas"].(map[string]any); areas && action {
				found++
				readBack(t, asOnACard(t, v))
			}
			for _, name := range slices.Sorted(maps.Keys(v)) {
				look(v[name])
			}
		}
	}
	text, err := json.Marshal(doc)
	if err != nil {
		t.Fatal(err)
	}
	var whole any
	if err := json.Unmarshal(text, &whole); err != nil {
		t.Fatal(err)
	}
	look(whole)
	if found == 0 {
		t.Error("found no treatment")
	}
}

// asOnACard reads a treatment, replaces names with ids, and removes the members in
// onNoCard.
func asOnACard(t *testing.T, words any) *record.Treatment {
	t.Helper()
	text, err := json.Marshal(words)
	if err != nil {
		t.Fatal(err)
	}
	read, err := statement.Read(record.KindTreatment, text)
	if err != nil {
		t.Fatalf("%s: %v", text, err)
	}
	for _, p := range read.People {
		read.PutPerson(p, uuid.UUID{1})
	}
	for _, s := range read.Specimens {
		read.PutSpecimen(s, uuid.UUID{2})
	}
	of := read.Value.(*record.Treatment)
	members(reflect.ValueOf(of), "", func(path string, v reflect.Value) bool {
		if slices.Contains(onNoCard, path) {
			v.SetZero()
		}
		return true
	})
	of.Uses.Value = slices.DeleteFunc(of.Uses.Value, func(u record.Use) bool { return u.Material == "" && u.Words == "" })
	return of
}
