package wire

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/getkin/kin-openapi/openapi3"
	jsonv2 "github.com/go-json-experiment/json"

	"meniscus/internal/fault"
)

// CheckRemoved checks that the schema has the members that a merge patch (RFC 7396)
// takes away: taking away what cannot be there would change nothing without a word.
func CheckRemoved(ctx context.Context, schema *openapi3.Schema, patch []byte) error {
	var members map[string]any
	if err := jsonv2.Unmarshal(patch, &members); err != nil {
		return SyntaxFault(err)
	}
	j := &judgement{ctx: ctx}
	j.removed(schema, members)
	if err := ctx.Err(); err != nil {
		return fmt.Errorf("judging a patch: %w", err)
	}
	return j.faults.Err()
}

func (j *judgement) removed(s *openapi3.Schema, members map[string]any) {
	for _, name := range slices.Sorted(maps.Keys(members)) {
		j.values++
		if j.over() {
			return
		}
		j.enter(step{name: name, named: true})
		inner, isObject := members[name].(map[string]any)
		open := s.AdditionalProperties.Has
		switch p := s.Properties[name]; {
		case p == nil && members[name] == nil && open != nil && !*open:
			j.add(s, "properties")
		case p != nil && isObject:
			j.removed(p.Value, inner)
		}
		j.leave()
	}
}

// InPatch gives the faults of what a merge patch made, with pointers into the patch: a
// fault in what the patch does not say stands at the nearest object that it says, and
// tells where it is.
func InPatch(found fault.List, patch []byte) fault.List {
	var said any
	_ = jsonv2.Unmarshal(patch, &said) // a patch that was checked
	moved := make(fault.List, len(found))
	for i, f := range found {
		moved[i] = f
		if at := within(said, f.Pointer); at != f.Pointer {
			g := *f
			g.Pointer, g.Detail = at, "In what results, at "+f.Pointer+": "+f.Detail
			moved[i] = &g
		}
	}
	return moved
}

// within is the part of a pointer up to which a patch says something. A list replaces
// what was there, so that all of it is said.
func within(said any, pointer string) string {
	kept := 0
	for _, name := range strings.Split(pointer, "/")[1:] {
		members, isObject := said.(map[string]any)
		if _, isList := said.([]any); isList {
			return pointer
		}
		value, here := members[unescape(name)]
		if !isObject || !here {
			break
		}
		said, kept = value, kept+len("/")+len(name)
	}
	return pointer[:kept]
}

func unescape(name string) string { return strings.NewReplacer("~1", "/", "~0", "~").Replace(name) }
