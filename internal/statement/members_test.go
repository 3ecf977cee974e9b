package statement_test

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"

	"meniscus/api"
	"meniscus/internal/record"
	"meniscus/internal/statement"
)

// leaves walks the contract to every member that holds a single value.
func leaves(s *openapi3.SchemaRef, at string, found map[string]*openapi3.SchemaRef) {
	for member, of := range s.Value.Properties {
		leaves(of, at+"/"+member, found)
	}
	switch {
	case s.Value.Items != nil:
		leaves(s.Value.Items, at+"/0", found)
	case len(s.Value.Properties) == 0:
		found[at] = s
	}
}

// oneOf is a value of a schema, and the text that Members gives for it.
func oneOf(s *openapi3.Schema) (value any, told string) {
	switch {
	case len(s.Enum) > 0:
		return s.Enum[0], fmt.Sprintf("%T %v", record.Word(""), s.Enum[0])
	case s.Type.Is("boolean"):
		return false, "bool false"
	case s.Type.Is("integer"):
		return 3, "int 3"
	case s.Type.Is("number"):
		return json.Number("1.50"), "quantity.Decimal 1.50"
	case s.Format == "uuid":
		return "01900000-0000-7000-8000-000000000001", "uuid.UUID 01900000-0000-7000-8000-000000000001"
	case s.Format == "date-time":
		return "2024-03-12T09:30:00Z", "time.Time 2024-03-12 09:30:00 +0000 UTC"
	}
	return "2024-03", "string 2024-03"
}

// TestMembersTellEverything checks for every value in the contract's schemas of
// statements that Members has it, with its digits, at its place.
func TestMembersTellEverything(t *testing.T) {
	t.Parallel()
	doc, err := api.Document()
	if err != nil {
		t.Fatal(err)
	}
	for kind, schema := range schemas {
		all := map[string]*openapi3.SchemaRef{}
		leaves(doc.Components.Schemas[schema], "", all)
		if len(all) < 3 {
			t.Errorf("%s: got %d members, want those of the contract", kind, len(all))
		}
		for pointer, s := range all {
			value, want := oneOf(s.Value)
			words, err := json.Marshal(holding(pointer, value))
			if err != nil {
				t.Fatal(err)
			}
			read, err := statement.Read(kind, words)
			if err != nil {
				t.Errorf("%s %s: %v", kind, pointer, err)
				continue
			}
			got := at(read.Members(), pointer)
			if told := fmt.Sprintf("%T %v", got, got); told != want && told != "edtf.Date 2024-03" {
				t.Errorf("%s %s: got %s, want %s", kind, pointer, told, want)
			}
		}
	}
}

// at is the value of members at a JSON Pointer; a date takes the place of its edtf.
func at(value any, pointer string) any {
	for _, name := range strings.Split(pointer, "/")[1:] {
		switch v := value.(type) {
		case record.Members:
			value = v.At(name)
		case []any:
			value = v[0]
		}
	}
	return value
}
