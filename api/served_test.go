package api_test

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/google/go-cmp/cmp"
	"github.com/santhosh-tekuri/jsonschema/v6"
	"go.yaml.in/yaml/v3"

	"meniscus/api"
)

type object = map[string]any

const notAllowed = "#/components/schemas/Never"

// TestReferenceMeansTheSame: the reference, with each choice written back as the object of
// exactly one member, is the contract that bodies are validated by, except for the
// extensions that only the program reads and the examples of answers.
func TestReferenceMeansTheSame(t *testing.T) {
	t.Parallel()
	var served, judged object
	if err := json.Unmarshal(api.Readable, &served); err != nil {
		t.Fatal(err)
	}
	if err := yaml.Unmarshal(api.YAML, &judged); err != nil {
		t.Fatal(err)
	}
	schemas := served["components"].(object)["schemas"].(object)
	for _, value := range []any{nil, true, false, 0, "", []any{}, object{}} {
		if compiled(t, "Never").Validate(value) == nil {
			t.Errorf("%v is allowed, where nothing is", value)
		}
	}
	delete(schemas, "Never")
	record := schemas["Record"].(object)
	judgedRecord := judged["components"].(object)["schemas"].(object)["Record"].(object)
	sameRecords(t, schemas, record, judgedRecord)
	sameStatements(t, schemas)
	samePatches(t, schemas)
	delete(schemas, "AnyStatement")
	delete(judged["components"].(object)["schemas"].(object), "AnyStatement")
	delete(schemas, "Record")
	delete(judged["components"].(object)["schemas"].(object), "Record")
	found := 0
	got := plain(served, false, &found)
	if found < 20 {
		t.Errorf("got %d choices, want all of them", found)
	}
	if diff := cmp.Diff(plain(judged, false, new(int)), got); diff != "" {
		t.Errorf("what is served (+) is not what bodies are judged by (-):\n%s", diff)
	}
}

// plain is a contract without examples of answers and the program's own extensions,
// with choices as objects of exactly one member, and numbers as Go decodes them.
func plain(v any, answers bool, choices *int) any {
	switch v := v.(type) {
	case []any:
		out := make([]any, len(v))
		for i, item := range v {
			out[i] = plain(item, answers, choices)
		}
		return out
	case object:
		out := object{}
		for name, value := range v {
			if strings.HasPrefix(name, "x-") && !told[name] || (answers && name == "examples") {
				continue
			}
			out[name] = plain(value, answers || name == "responses", choices)
		}
		return undone(out, choices)
	case int:
		return float64(v)
	case uint64:
		return float64(v)
	case string:
		return strings.TrimRight(v, "\n")
	}
	return v
}

var told = map[string]bool{"x-internal": true, "x-problems": true, "x-problem-codes": true}

// undone writes a choice back, or leaves a schema as it is.
func undone(schema object, choices *int) object {
	branches, _ := schema["oneOf"].([]any)
	members := object{}
	for _, b := range branches {
		branch, _ := b.(object)
		required, _ := branch["required"].([]any)
		properties, _ := branch["properties"].(object)
		if len(required) != 1 || len(properties) != len(branches) || branch["type"] != "object" {
			return schema
		}
		for name, of := range properties {
			if ref, _ := of.(object); name != required[0] && ref["$ref"] != notAllowed {
				return schema
			}
		}
		members[required[0].(string)] = properties[required[0].(string)]
	}
	if len(branches) == 0 || len(members) != len(branches) {
		return schema
	}
	*choices++
	out := object{"type": "object", "properties": members, "minProperties": 1.0, "maxProperties": 1.0}
	for name, value := range schema {
		if name != "oneOf" {
			out[name] = value
		}
	}
	if closed, is := branches[0].(object)["additionalProperties"]; is {
		out["additionalProperties"] = closed
	}
	return out
}

// sameStatements checks that a statement of any kind is served as the statement of each
// kind once.
func sameStatements(t *testing.T, schemas object) {
	t.Helper()
	want := map[any]bool{}
	for _, b := range schemas["Record"].(object)["oneOf"].([]any) {
		of := schemas[strings.TrimPrefix(b.(object)["$ref"].(string), "#/components/schemas/")].(object)
		want[of["properties"].(object)["statement"].(object)["$ref"]] = true
	}
	got := map[any]bool{}
	for _, b := range schemas["AnyStatement"].(object)["anyOf"].([]any) {
		got[b.(object)["$ref"]] = true
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("statements of any kind (-want +got)\n%s", diff)
	}
}

// sameRecords checks that the served choice of records has each kind once, that each
// schema of it has the members that every record has, and that every member of the
// judged schema is in one of them.
func sameRecords(t *testing.T, schemas, served, judged object) {
	t.Helper()
	var kinds []any
	has := object{}
	for _, b := range served["oneOf"].([]any) {
		of := schemas[strings.TrimPrefix(b.(object)["$ref"].(string), "#/components/schemas/")].(object)
		properties := of["properties"].(object)
		kinds = append(kinds, properties["kind"].(object)["enum"].([]any)...)
		for name := range properties {
			has[name] = true
		}
		for _, every := range []string{"id", "revision", "act", "recordedAt", "recordedBy", "source", "reason", "statement", "redactedRevisions", "sequence"} {
			if properties[every] == nil {
				t.Errorf("a record of %v lacks the member %s", properties["kind"], every)
			}
		}
	}
	want := schemas["RecordKind"].(object)["enum"]
	if diff := cmp.Diff(want, any(kinds), cmp.Transformer("set", func(list []any) map[any]bool {
		set := map[any]bool{}
		for _, x := range list {
			set[x] = true
		}
		return set
	})); diff != "" || len(kinds) != len(want.([]any)) {
		t.Errorf("kinds of records (-want +got)\n%s", diff)
	}
	for name := range judged["properties"].(object) {
		if has[name] == nil {
			t.Errorf("no record that is served has the member %s", name)
		}
	}
}

// TestServedIsRead: a reader of OpenAPI accepts the served contract; a choice refuses
// an object with no member, with two members, and with a member of another choice.
func TestServedIsRead(t *testing.T) {
	t.Parallel()
	doc, err := openapi3.NewLoader().LoadFromData(api.Served)
	if err != nil {
		t.Fatal(err)
	}
	if err := doc.Validate(t.Context(), openapi3.DisableExamplesValidation()); err != nil {
		t.Fatal(err)
	}
	used := compiled(t, "Used")
	batch := object{"id": "0193a5b4-0000-7000-8000-000000000001"}
	for name, c := range map[string]struct {
		value object
		fits  bool
	}{
		"one":            {object{"batch": batch}, true},
		"none":           {object{}, false},
		"two":            {object{"batch": batch, "supply": batch}, false},
		"another's null": {object{"batch": batch, "supply": nil}, false},
		"unknown":        {object{"jar": batch}, false},
	} {
		if err := used.Validate(map[string]any(c.value)); (err == nil) != c.fits {
			t.Errorf("%s: got %v, want it to fit: %v", name, err, c.fits)
		}
	}
}

// compiled is a schema of the served contract, compiled by a validator of JSON Schema.
func compiled(t *testing.T, name string) *jsonschema.Schema {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(api.Served))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("https://meniscus.example/openapi.json", doc); err != nil {
		t.Fatal(err)
	}
	schema, err := c.Compile("https://meniscus.example/openapi.json#/components/schemas/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return schema
}

// TestExamplesFit: every example of the contract matches its schema.
func TestExamplesFit(t *testing.T) {
	t.Parallel()
	doc, err := openapi3.NewLoader().LoadFromData(api.YAML)
	if err != nil {
		t.Fatal(err)
	}
	if err := doc.Validate(t.Context()); err != nil {
		t.Error(err)
	}
}
