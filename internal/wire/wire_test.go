package wire

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"meniscus/api"
	"meniscus/internal/fault"
)

// bodies are the schemas of the contract's JSON requests and of its statements.
func bodies(t *testing.T) map[string]*openapi3.Schema {
	t.Helper()
	doc, err := api.Document()
	if err != nil {
		t.Fatal(err)
	}
	all := map[string]*openapi3.Schema{}
	for _, item := range doc.Paths.Map() {
		for _, op := range item.Operations() {
			if op.RequestBody != nil {
				if body := op.RequestBody.Value.Content["application/json"]; body != nil {
					all[op.OperationID] = body.Schema.Value
				}
			}
		}
	}
	for name, schema := range doc.Components.Schemas {
		if strings.HasSuffix(name, "Statement") {
			all[name] = schema.Value
		}
	}
	return all
}

// Judge knows every keyword that the contract's request schemas use.
func TestRequestsUseTheKeywordsThatAreJudged(t *testing.T) {
	t.Parallel()
	seen := map[*openapi3.Schema]bool{}
	var look func(at string, s *openapi3.Schema)
	look = func(at string, s *openapi3.Schema) {
		if seen[s] {
			return
		}
		seen[s] = true
		if len(s.AllOf)+len(s.AnyOf)+len(s.OneOf)+len(s.PatternProperties)+len(s.PrefixItems) > 0 || s.Not != nil ||
			s.UniqueItems ||
			s.AdditionalProperties.Schema != nil || s.ReadOnly || s.Type != nil && s.Type.Permits("array") && s.Items == nil ||
			len(s.Enum) > 0 && (s.Type.Permits("array") || s.Type.Permits("object")) {
			t.Errorf("%s has a keyword that bodies are not judged by", at)
		}
		for name, p := range s.Properties {
			look(at+"."+name, p.Value)
		}
		if s.Items != nil {
			look(at+"[]", s.Items.Value)
		}
	}
	for id, body := range bodies(t) {
		look(id, body)
	}
}

// found are faults as pointers and codes, in order.
func found(faults fault.List) []string {
	var all []string
	for _, f := range faults {
		all = append(all, f.Pointer+" "+f.Code)
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// libraryFinds are the faults that the library's own visitor finds, without those that
// Judge skips: in the items of a list that is too long, and the pattern of a text that
// is too long.
func libraryFinds(schema *openapi3.Schema, value any) []string {
	var faults fault.List
	var tooMany []string
	tooLong := map[string]bool{}
	var collect func(err error)
	collect = func(err error) {
		var many openapi3.MultiError
		var one *openapi3.SchemaError
		switch {
		case errors.As(err, &many):
			for _, e := range many {
				collect(e)
			}
		case errors.As(err, &one):
			at := path{}
			for _, name := range one.JSONPointer() {
				at = append(at, step{name: name, named: true})
			}
			switch one.SchemaField {
			case "maxItems":
				tooMany = append(tooMany, at.pointer())
			case "maxLength":
				tooLong[at.pointer()] = true
			}
			object, _ := one.Value.(map[string]any)
			if one.SchemaField != "properties" {
				faults = append(faults, schemaFault(one.Schema, one.SchemaField, at.pointer()))
				return
			}
			for name := range object {
				if one.Schema.Properties[name] == nil {
					faults = append(faults, schemaFault(one.Schema, "properties",
						append(slices.Clone(at), step{name: name, named: true}).pointer()))
				}
			}
		}
	}
	collect(schema.VisitJSON(value, openapi3.MultiErrors(), openapi3.VisitAsRequest()))
	return found(slices.DeleteFunc(faults, func(f *fault.Fault) bool {
		return f.Code == "form" && tooLong[f.Pointer] ||
			slices.ContainsFunc(tooMany, func(list string) bool { return strings.HasPrefix(f.Pointer, list+"/") })
	}))
}

// near draws a value that mostly matches a schema.
func near(t *rapid.T, s *openapi3.Schema, depth int) any {
	kind := rapid.IntRange(0, 11).Draw(t, "kind")
	if kind == 0 || depth > 6 {
		return rapid.SampledFrom([]any{nil, true, 0.5, -1e9, "x", strings.Repeat("y", 20001), "a\nb", []any{}, []any{1.0},
			map[string]any{}, map[string]any{"a/b~c": 1.0}}).Draw(t, "other")
	}
	switch {
	case s.Type.Is("object"):
		members := map[string]any{}
		names := slices.Sorted(maps.Keys(s.Properties))
		for range rapid.IntRange(0, 3).Draw(t, "members") {
			if len(names) > 0 {
				name := rapid.SampledFrom(names).Draw(t, "name")
				members[name] = near(t, s.Properties[name].Value, depth+1)
			}
		}
		for _, name := range s.Required {
			if s.Properties[name] != nil && rapid.IntRange(0, 9).Draw(t, "leave out") > 0 {
				members[name] = near(t, s.Properties[name].Value, depth+1)
			}
		}
		if kind == 1 {
			members[rapid.StringN(1, 5, 20).Draw(t, "unknown")] = "x"
		}
		return members
	case s.Type.Is("array"):
		n := rapid.IntRange(0, 1).Draw(t, "items")
		if s.MaxItems != nil && *s.MaxItems < 50 && kind == 1 {
			n = int(*s.MaxItems) + 1
		}
		items := make([]any, n)
		for i := range items {
			items[i] = near(t, s.Items.Value, depth+1)
		}
		return items
	case s.Type.Is("string") && len(s.Enum) > 0:
		return rapid.SampledFrom(s.Enum).Draw(t, "word")
	case s.Type.Is("string"):
		return rapid.SampledFrom([]any{
			"acetone", "", "LV.7", "2001-02-03", "0193a5b0-0000-7000-8000-000000000000", "https://museum.example/a",
		}).Draw(t, "text")
	}
	return rapid.SampledFrom([]any{1.0, 0.0, -3.5, 1e12, true}).Draw(t, "scalar")
}

// Judge finds what the library's visitor finds.
func TestJudgesAsTheLibraryDoes(t *testing.T) {
	t.Parallel()
	all := bodies(t)
	names := slices.Sorted(maps.Keys(all))
	rapid.Check(t, func(t *rapid.T) {
		schema := all[rapid.SampledFrom(names).Draw(t, "schema")]
		value := near(t, schema, 0)
		want := libraryFinds(schema, value)
		got := found(fault.From(Judge(context.Background(), schema, value)))
		if len(want) >= MostFaults {
			t.Skip("more than are told")
		}
		if diff := cmp.Diff(want, got); diff != "" {
			raw, _ := json.Marshal(value)
			t.Fatalf("%s (-library +judgement):\n%s", raw, diff)
		}
	})
}

// hostile are bodies of n parts, each with the schema that it is sent to.
func hostile(n int) map[string][]byte {
	var unknown, long strings.Builder
	for i := range n {
		fmt.Fprintf(&unknown, `,"u%d":0`, i)
		fmt.Fprintf(&long, `,"%s%d":"\u0000"`, strings.Repeat("long", 50), i)
	}
	return map[string][]byte{
		"unknown members":         []byte(`{` + unknown.String()[1:] + `}`),
		"long names and NUL":      []byte(`{` + long.String()[1:] + `}`),
		"a list that is too long": []byte(`{"statement":{"inputs":[` + strings.Repeat(`{"a":1},`, n) + `0]}}`),
		"lists for a text":        []byte(`{"statement":{"code":[` + strings.Repeat(`[],`, n) + `0]}}`),
		"empty inputs": []byte(`{"statement":{"inputs":[` + strings.Repeat(`{},`, min(n, 90)) + `{}],"remarks":"` +
			strings.Repeat("x", n) + `"}}`),
		"one long text":   []byte(`{"statement":{"code":"` + strings.Repeat(`é`, n) + `"}}`),
		"one long number": []byte(`{"statement":{"code":0.` + strings.Repeat(`0`, n) + `1}}`),
		"NUL in nested lists": []byte(`{"a":` + strings.Repeat(`[`, 40) + strings.Repeat(`"\u0000",`, n) + `0` +
			strings.Repeat(`]`, 40) + `}`),
		"too deep": []byte(strings.Repeat(`{"a":`, n) + `0` + strings.Repeat(`}`, n)),
	}
}

// allocated is how many bytes do takes from the heap.
func allocated(do func()) float64 {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	do()
	runtime.ReadMemStats(&after)
	return float64(after.TotalAlloc - before.TotalAlloc)
}

// A body of twice the size costs twice as much, and an answer lists at most a hundred
// faults. The test measures the heap, so it does not run in parallel.
func TestABodyCostsLinearTime(t *testing.T) {
	schema := bodies(t)["createBatch"]
	judge := func(raw []byte) fault.List { return fault.From(Check(context.Background(), schema, raw)) }
	const n = 20_000
	once, twice := hostile(n), hostile(2*n)
	for name, raw := range once {
		judge(raw) // fills the caches
		small, large := allocated(func() { judge(raw) }), allocated(func() { judge(twice[name]) })
		if large > 2.3*small+64<<10 || small > 200*float64(len(raw))+1<<20 {
			t.Errorf("%s: %d bytes took %.0f bytes of memory, %d took %.0f", name, len(raw), small, len(twice[name]), large)
		}
		faults := judge(raw)
		said := 0
		for _, f := range faults {
			said += len(f.Pointer) + len(f.Detail)
		}
		if len(faults) == 0 || len(faults) > MostFaults || said > 100<<10 {
			t.Errorf("%s: got %d faults of %d bytes, want 1 to %d", name, len(faults), said, MostFaults)
		}
	}
}

// A list's length is checked before its items.
func TestLengthsBeforeItems(t *testing.T) {
	t.Parallel()
	raw := hostile(20_000)["a list that is too long"]
	got := found(fault.From(Check(t.Context(), bodies(t)["createBatch"], raw)))
	if !slices.Contains(got, "/statement/inputs item-count") || slices.ContainsFunc(got, func(f string) bool {
		return strings.HasPrefix(f, "/statement/inputs/")
	}) {
		t.Errorf("got %v, want the count and nothing of the items", got)
	}
}

// goingAway is a context that is cancelled after some calls of Err.
type goingAway struct {
	context.Context
	looks int
}

func (l *goingAway) Err() error {
	if l.looks--; l.looks < 0 {
		return context.Canceled
	}
	return nil
}

// Judge ends when its context is cancelled.
func TestJudgingEndsWithItsCaller(t *testing.T) {
	t.Parallel()
	items := make([]any, 100_000)
	for i := range items {
		items[i] = "x"
	}
	text := openapi3.NewStringSchema()
	j := &judgement{ctx: &goingAway{t.Context(), 3}}
	j.value(openapi3.NewArraySchema().WithItems(text), items)
	if j.values > 4*1024 {
		t.Errorf("judged %d values after the caller had gone", j.values)
	}
	if err := Judge(&goingAway{t.Context(), 3}, openapi3.NewArraySchema().WithItems(text), items); !errors.Is(err,
		context.Canceled) {
		t.Errorf("got %v, want that the caller has gone", err)
	}
}
