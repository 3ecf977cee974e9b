package statement_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/record"
	"meniscus/internal/statement"
)

var schemas = map[record.Kind]string{
	record.KindPerson: "PersonStatement", record.KindSpecimen: "SpecimenStatement", record.KindSupply: "SupplyStatement",
	record.KindBatch: "BatchStatement", record.KindAmountChange: "AmountChangeStatement",
	record.KindTreatment: "TreatmentStatement",
	record.KindPlan:      "PlanStatement",
}

// place is a member of a statement whose meaning is checked, not only its schema.
type place struct {
	pointer string // with 0 for the item of a list
	schema  string
}

// places walks the contract to every member of these schemas.
func places(s *openapi3.SchemaRef, at string, found *[]place) {
	name := s.Ref[strings.LastIndex(s.Ref, "/")+1:]
	switch name {
	case "Quantity", "Strength", "MaterialId", "PersonRef", "SpecimenRef", "Edtf":
		*found = append(*found, place{at, name})
		return
	}
	for member, of := range s.Value.Properties {
		places(of, at+"/"+member, found)
	}
	if s.Value.Items != nil {
		places(s.Value.Items, at+"/0", found)
	}
}

// holding is the JSON of a statement that holds only a value at a pointer.
func holding(pointer string, value any) any {
	if pointer == "" {
		return value
	}
	first, rest, nested := strings.Cut(pointer[1:], "/")
	if nested {
		value = holding("/"+rest, value)
	}
	if first == "0" {
		return []any{value}
	}
	return map[string]any{first: value}
}

// TestEveryMemberIsRead puts an invalid or unresolved value in every quantity,
// strength, date, material, person and specimen of the contract's statements, and
// checks that the reading reports it at its pointer. A member that no reader reads
// fails the test.
func TestEveryMemberIsRead(t *testing.T) {
	t.Parallel()
	doc, err := api.Document()
	if err != nil {
		t.Fatal(err)
	}
	values := map[string]any{
		"Quantity":    map[string]any{"value": 1, "unit": "no-such-unit"},
		"Strength":    map[string]any{"basis": "mass-fraction", "value": 1, "unit": "no-such-unit"},
		"MaterialId":  "acetone",
		"PersonRef":   map[string]any{"name": "Ilse Varga"},
		"SpecimenRef": map[string]any{"identifier": map[string]any{"kind": "catalogue-number", "value": "LV 1"}},
		"Edtf":        "the year of the flood",
	}
	for kind, schema := range schemas {
		var all []place
		places(doc.Components.Schemas[schema], "", &all)
		for _, p := range all {
			words, err := json.Marshal(holding(p.pointer, values[p.schema]))
			if err != nil {
				t.Fatal(err)
			}
			read, err := statement.Read(kind, words)
			if err != nil {
				t.Errorf("%s %s: %v", kind, p.pointer, err)
				continue
			}
			if !tells(read, p) {
				t.Errorf("%s %s (%s): the reading does not tell it", kind, p.pointer, p.schema)
			}
		}
		if len(all) == 0 && kind != record.KindPerson {
			t.Errorf("%s: no members found", kind)
		}
	}
}

func tells(r *statement.Reading, p place) bool {
	at := func(pointer string) bool { return pointer == p.pointer }
	switch p.schema {
	case "MaterialId":
		return slices.ContainsFunc(r.Materials, func(m statement.NamedMaterial) bool { return at(m.Pointer) })
	case "PersonRef":
		return slices.ContainsFunc(r.People, func(m statement.NamedPerson) bool { return at(m.Pointer) })
	case "SpecimenRef":
		return slices.ContainsFunc(r.Specimens, func(m statement.NamedSpecimen) bool { return at(m.Pointer) })
	case "Edtf":
		return slices.ContainsFunc(r.Faults, func(f *fault.Fault) bool { return at(f.Pointer) })
	}
	return slices.ContainsFunc(r.Faults, func(f *fault.Fault) bool { return at(strings.TrimSuffix(f.Pointer, "/unit")) })
}

// TestNamesBecomeIDs: the value and the words hold ids instead of names, and the words
// keep their order and their digits.
func TestNamesBecomeIDs(t *testing.T) {
	t.Parallel()
	words := `{"dates": {"edtf":"2020"}, "people":[{"part":"carried-out","person":{"name":"Ilse Varga"}},{"person":{"answer":"unknown"},"part":"examined"}],
		"specimen":{"identifier":{"value":"LV 1","kind":"catalogue-number"}}, "amountRemoved":{"quantity":{"value":0.10,"unit":"g"}}, "action":"cleaning", "areas":{"paths":["whole"]}}`
	r, err := statement.Read(record.KindTreatment, []byte(words))
	if err != nil {
		t.Fatal(err)
	}
	person, specimen := uuid.UUID{1}, uuid.UUID{2}
	r.PutPerson(r.People[0], person)
	r.PutSpecimen(r.Specimens[0], specimen)
	v := r.Value.(*record.Treatment)
	if v.People[0].Person != person || v.People[1].Answer != record.AnswerUnknown || v.Specimen != specimen {
		t.Errorf("got %v and %v, want the ids that were put", v.People, v.Specimen)
	}
	got, err := r.Words([]byte(words))
	want := fmt.Sprintf(`{"dates":{"edtf":"2020"},"people":[{"part":"carried-out","person":{"id":"%s"}},{"person":{"answer":"unknown"},"part":"examined"}],`+
		`"specimen":{"id":"%s"},"amountRemoved":{"quantity":{"value":0.10,"unit":"g"}},"action":"cleaning","areas":{"paths":["whole"]}}`, person, specimen)
	if err != nil || string(got) != want {
		t.Errorf("got %s (%v)\nwant %s", got, err, want)
	}
}

// TestWithoutWords: redacted words and unreadable words are two different results.
func TestWithoutWords(t *testing.T) {
	t.Parallel()
	text := func(s string) *string { return &s }
	for name, c := range map[string]struct {
		body     *string
		redacted bool
	}{
		"blanked":          {nil, true},
		"a retraction":     {text(`{"reason":"A mistake."}`), true},
		"no JSON":          {text(`{"statement":`), false},
		"another kind":     {text(`{"statement":{"name":"Ilse Varga"}}`), false},
		"not a statement":  {text(`{"statement":[]}`), false},
		"an id that is no": {text(`{"statement":{"specimen":{"id":"x"}}}`), false},
	} {
		_, err := statement.OfEntry(record.KindTreatment, c.body)
		if err == nil || errors.Is(err, statement.ErrRedacted) != c.redacted {
			t.Errorf("%s: got %v, want redacted %v", name, err, c.redacted)
		}
	}
}

// TestWith sets a member, and removes one, without changing the others.
func TestWith(t *testing.T) {
	t.Parallel()
	words := `{"a":1.50,"b":{"c":[true]}}`
	for _, c := range []struct {
		name  string
		value any
		want  string
	}{
		{"d", "x", `{"a":1.50,"b":{"c":[true]},"d":"x"}`},
		{"a", 2, `{"b":{"c":[true]},"a":2}`},
		{"b", nil, `{"a":1.50}`},
		{"e", nil, words},
	} {
		got, err := statement.With([]byte(words), c.name, c.value)
		if err != nil || string(got) != c.want {
			t.Errorf("%s: got %s (%v), want %s", c.name, got, err, c.want)
		}
	}
}

// TestWhatIsSaidIsKeptApart: a value, a list without items, an answer in its place
// and nothing at all are four things.
func TestWhatIsSaidIsKeptApart(t *testing.T) {
	t.Parallel()
	person := uuid.UUID{1}
	said := func(kind record.Kind, words string) record.Value {
		r, err := statement.Read(kind, []byte(words))
		if err != nil || len(r.Faults) > 0 {
			t.Fatal(err, r.Faults)
		}
		for _, p := range r.People {
			r.PutPerson(p, person)
		}
		return r.Value
	}
	by := func(words string) record.Said[record.Ref] {
		return said(record.KindTreatment, `{"reversibility":{"says":"Comes off"`+words+
			`}}`).(*record.Treatment).Reversibility.By
	}
	for words, want := range map[string]record.Said[record.Ref]{
		"": {}, `,"by":{"answer":"unknown"}`: {Answer: record.AnswerUnknown}, `,"by":{"name":"Ilse Varga"}`: record.Give(person),
		fmt.Sprintf(`,"by":{"id":"%s"}`, person): record.Give(person),
	} {
		if got := by(words); got != want {
			t.Errorf("reversibility%s: got %+v, want %+v", words, got, want)
		}
	}
	for words, given := range map[string]bool{`{}`: false, `{"madeBy":[]}`: true} {
		if b := said(record.KindBatch, words).(*record.Batch); b.People.Answered() != given || len(b.People.Value) > 0 {
			t.Errorf("batch %s: got %+v", words, b.People)
		}
	}
	for words, given := range map[string]bool{`{}`: false, `{"proposedBy":[],"options":[]}`: true} {
		p := said(record.KindPlan, words).(*record.Plan)
		if p.ProposedBy.Answered() != given || p.Options.Answered() != given {
			t.Errorf("plan %s: got %+v and %+v", words, p.ProposedBy, p.Options)
		}
	}
	p := said(record.KindPlan, `{"options":[{"what":"Nothing","why":"It is stable","chosen":true}]}`).(*record.Plan)
	if want := (record.Option{What: "Nothing", Why: "It is stable", Chosen: true}); len(p.Options.Value) != 1 ||
		p.Options.Value[0] != want {
		t.Errorf("got %+v, want %+v", p.Options.Value, want)
	}
}

// TestASendersAuthorisationIsKeptApart: what another institution authorised is not
// authorised here, but its statement of it is kept.
func TestASendersAuthorisationIsKeptApart(t *testing.T) {
	t.Parallel()
	const allowed = `{"given":{"by":{"id":"01000000-0000-0000-0000-000000000000"},"class":"single"}}`
	treatment, plan := `{"authorisation":`+allowed+`}`, `{"authorisation":{"answer":"none"},"treatment":{"authorisation":`+
		allowed+`}}`
	read := func(kind record.Kind, words, beside string) record.Value {
		body := `{"statement":` + words + beside + `}`
		r, err := statement.OfEntry(kind, &body)
		if err != nil || r.Received != (beside != "") {
			t.Fatal(err)
		}
		return r.Value
	}
	for _, beside := range []string{"", `,"receivedFrom":{}`} {
		t1, p := read(record.KindTreatment, treatment, beside).(*record.Treatment),
			read(record.KindPlan, plan, beside).(*record.Plan)
		here, there := []record.Said[record.Authorisation]{t1.Authorisation, p.Treatment.Authorisation, p.Authorisation},
			[]record.Said[record.Authorisation]{
				t1.SendersAuthorisation, p.Treatment.SendersAuthorisation, p.SendersAuthorisation,
			}
		if beside != "" {
			here, there = there, here
		}
		if !here[0].Given || here[0].Value.Class != "single" || here[1] != here[0] || here[2].Answer != record.AnswerNone {
			t.Errorf("%s: got %+v, want what was said", beside, here)
		}
		for _, other := range there {
			if other.Answered() {
				t.Errorf("%s: got %+v in the other place, want nothing", beside, other)
			}
		}
	}
}
