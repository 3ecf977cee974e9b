package api_test

import (
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// samePatches checks that a patch of any statement is served as the patch of each kind's
// statement, all the way down: an object is patched itself, and what need not be there may
// be null, which takes it away. It leaves the schemas as they are judged by.
func samePatches(t *testing.T, schemas object) {
	t.Helper()
	p := patches{t: t, schemas: schemas, met: map[string]bool{}}
	patched := schemas["AmendmentPatch"].(object)["properties"].(object)["statement"].(object)
	var got []any
	for _, b := range patched["anyOf"].([]any) {
		kind := strings.TrimSuffix(strings.TrimPrefix(b.(object)["$ref"].(string), schemaPath), "Patch")
		statement := object{"$ref": schemaPath + kind + "Statement"}
		got = append(got, statement)
		p.same(kind, b.(object), statement, true)
	}
	if diff := cmp.Diff(schemas["AnyStatement"].(object)["anyOf"], any(got)); diff != "" {
		t.Errorf("patches of any statement (-want +got)\n%s", diff)
	}
	if p.objects < 100 {
		t.Errorf("compared %d patches of objects, want all of them", p.objects)
	}
	for name := range p.met {
		delete(schemas, name)
	}
	delete(patched, "anyOf")
	patched["type"], patched["additionalProperties"] = "object", true
}

type patches struct {
	t       *testing.T
	schemas object
	met     map[string]bool // the schemas that are for patches alone
	objects int
}

// same compares what a patch may say of a member with the member's own schema.
func (p *patches) same(at string, patch, whole object, required bool) {
	p.t.Helper()
	patch, null := p.plain(patch)
	whole, _ = p.plain(whole)
	if null == required {
		p.t.Errorf("%s may be null: %v, and has to be there: %v", at, null, required)
	}
	members, must := membersOf(whole)
	if members == nil {
		for _, word := range []string{"type", "format", "enum", "items"} {
			if diff := cmp.Diff(whole[word], patch[word]); diff != "" {
				p.t.Errorf("%s, %s (-want +got)\n%s", at, word, diff)
			}
		}
		return
	}
	p.objects++
	if len(members) == 1 && len(must) == 1 {
		if diff := cmp.Diff(whole, patch); diff != "" {
			p.t.Errorf("%s (-want +got)\n%s", at, diff)
		}
		return
	}
	says, _ := patch["properties"].(object)
	if patch["type"] != "object" || patch["additionalProperties"] != false || patch["required"] != nil ||
		!slices.Equal(slices.Sorted(maps.Keys(says)), slices.Sorted(maps.Keys(members))) {
		p.t.Errorf("%s: %v is no patch of %v", at, patch, whole)
		return
	}
	for name, of := range members {
		p.same(at+"/"+name, says[name].(object), of.(object), slices.Contains(must, any(name)))
	}
}

// plain follows references, and tells whether null matches too.
func (p *patches) plain(schema object) (of object, null bool) {
	for {
		name, named := strings.CutPrefix(text(schema, "$ref"), schemaPath)
		either, _ := schema["anyOf"].([]any)
		types, _ := schema["type"].([]any)
		switch {
		case named:
			if strings.HasSuffix(name, "Patch") || strings.HasSuffix(name, "OrNull") {
				p.met[name] = true
			}
			schema = p.schemas[name].(object)
		case len(either) == 2 && text(either[1].(object), "type") == "null":
			schema, null = either[0].(object), true
		case len(types) == 2 && types[1] == "null":
			schema, null = maps.Clone(schema), true
			schema["type"] = types[0]
		default:
			return schema, null
		}
	}
}

// membersOf are the members of an object and those that have to be there; of a choice any
// may be left out.
func membersOf(schema object) (members object, must []any) {
	members, _ = schema["properties"].(object)
	must, _ = schema["required"].([]any)
	choices, _ := schema["oneOf"].([]any)
	for _, c := range choices {
		if members == nil {
			members = object{}
		}
		choice := c.(object)
		name := choice["required"].([]any)[0].(string)
		members[name] = choice["properties"].(object)[name]
	}
	return members, must
}

func text(schema object, name string) string {
	said, _ := schema[name].(string)
	return said
}
