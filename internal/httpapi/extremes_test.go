package httpapi_test

import (
	"bytes"
	"encoding/json"
	"maps"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"pgregory.net/rapid"

	"meniscus/api"
	"meniscus/internal/httpapi"
	"meniscus/internal/httpapi/judge"
)

// extremes are numbers that nobody weighs or pours, and some that are none.
var extremes = []string{
	"0", "-0", "-1", "1e-300", "5e-324", "1e-30", "1e-28", "1e-15", "1e-9", "1e-6", "1e-3",
	"99.9999999", "100", "1e3", "1e6", "1e9", "1e15", "9e30", "1e300", "1.7e308",
}

// computations are the contract's computations: each path with its examples.
func computations(t *testing.T) map[string][]any {
	t.Helper()
	doc, err := api.Document()
	if err != nil {
		t.Fatal(err)
	}
	all := map[string][]any{}
	for path, item := range doc.Paths.Map() {
		if !strings.HasPrefix(path, "/v1/compute/") {
			continue
		}
		for _, example := range item.Post.RequestBody.Value.Content["application/json"].Examples {
			all[path] = append(all[path], example.Value.Value)
		}
	}
	return all
}

// numbersIn lists the places of a body's numbers.
func numbersIn(value any, at []any) [][]any {
	var places [][]any
	switch v := value.(type) {
	case map[string]any:
		for name, member := range v {
			places = append(places, numbersIn(member, append(slices.Clone(at), name))...)
		}
	case []any:
		for i, item := range v {
			places = append(places, numbersIn(item, append(slices.Clone(at), i))...)
		}
	case float64:
		places = append(places, at)
	}
	return places
}

// with is a body with another number at a place; the body itself stays as it is.
func numberAt(value any, at []any, number string) any {
	if len(at) == 0 {
		return json.RawMessage(number)
	}
	switch v := value.(type) {
	case map[string]any:
		copied := map[string]any{}
		for name, member := range v {
			copied[name] = member
		}
		copied[at[0].(string)] = numberAt(v[at[0].(string)], at[1:], number)
		return copied
	case []any:
		copied := slices.Clone(v)
		copied[at[0].(int)] = numberAt(v[at[0].(int)], at[1:], number)
		return copied
	}
	return value
}

// computing asks a computation, and wants an answer or a refusal that says where the
// fault is.
func computing(t *testing.T) func(path string, body any) (status int) {
	t.Helper()
	h := judge.Handler(t, mustServe(t, httpapi.Config{PublicURL: "https://meniscus.example"}))
	return func(path string, body any) int {
		raw := encoded(body)
		r := httptest.NewRequest(http.MethodPost, path, bytes.NewReader(raw))
		r.Header.Set("Content-Type", "application/json")
		got := httptest.NewRecorder()
		h.ServeHTTP(got, r)
		switch {
		case got.Code >= 500:
			t.Errorf("%s answered %d to %s", path, got.Code, raw)
		case got.Code == 422 && !strings.Contains(got.Body.String(), `"pointer"`):
			t.Errorf("%s refused %s and does not say where: %s", path, raw, got.Body)
		}
		return got.Code
	}
}

// Whatever numbers a computation is asked with, it is answered or refused with
// where the fault is; it never fails, and gives no number that is none.
func TestExtremesAreAnsweredOrRefused(t *testing.T) {
	t.Parallel()
	ask := computing(t)
	asked := 0
	for path, examples := range computations(t) {
		for _, example := range examples {
			places := numbersIn(example, nil)
			for i, place := range places {
				for j, number := range extremes {
					body := numberAt(example, place, number)
					ask(path, body)
					asked++
					other := (i + j + 1) % len(places) // every pair of extremes at some pair of places
					if other != i {
						ask(path, numberAt(body, places[other], extremes[(i*7+j*3)%len(extremes)]))
						asked++
					}
				}
			}
		}
	}
	if asked < 1000 {
		t.Errorf("asked %d times, want a thousand and more", asked)
	}
}

// plausible are texts that computations know what to do with, by their schema.
func plausible(t *rapid.T, s *openapi3.Schema) any {
	switch {
	case len(s.Enum) > 0:
		return rapid.SampledFrom(s.Enum).Draw(t, "word")
	case s.MaxLength != nil && *s.MaxLength == 20:
		return rapid.SampledFrom([]any{"g", "mL", "g/dL", "%", "Cel", "d", "kg", "L", "mL/g", "g/mL", "min", "m2", "mg/m3", "[ppm]"}).Draw(t, "unit")
	case s.MaxLength != nil && *s.MaxLength == 100:
		return rapid.SampledFrom([]any{"acetone", "ethanol", "water", "ethyl-methacrylate-methyl-acrylate-copolymer", "iso-1042-a", "toluene"}).Draw(t, "id")
	}
	return rapid.SampledFrom([]any{"A", "5", "2026-01-01"}).Draw(t, "text")
}

// question draws a body that mostly keeps to its schema, with ordinary numbers and
// extreme ones.
func question(t *rapid.T, s *openapi3.Schema, depth int) any {
	switch {
	case s.Type.Is("object"):
		names := slices.Sorted(maps.Keys(s.Properties))
		chosen := slices.Clone(s.Required)
		if s.MaxProps != nil && *s.MaxProps == 1 {
			chosen = []string{rapid.SampledFrom(names).Draw(t, "choice")}
		} else if depth < 8 {
			for _, name := range names {
				if !slices.Contains(chosen, name) && rapid.IntRange(0, 3).Draw(t, "given") == 0 {
					chosen = append(chosen, name)
				}
			}
		}
		members := map[string]any{}
		for _, name := range chosen {
			members[name] = question(t, s.Properties[name].Value, depth+1)
		}
		return members
	case s.Type.Is("array"):
		items := make([]any, rapid.IntRange(int(s.MinItems), int(s.MinItems)+1).Draw(t, "items"))
		for i := range items {
			items[i] = question(t, s.Items.Value, depth+1)
		}
		return items
	case s.Type.Is("boolean"):
		return rapid.Bool().Draw(t, "bool")
	case s.Type.Is("string"):
		return plausible(t, s)
	case rapid.IntRange(0, 2).Draw(t, "extreme") == 0:
		return json.RawMessage(rapid.SampledFrom(extremes).Draw(t, "number"))
	}
	return json.RawMessage(rapid.SampledFrom([]string{"1", "2", "5", "20", "150"}).Draw(t, "number"))
}

// The same of whatever the contract lets anybody ask.
func TestAnyQuestionIsAnsweredOrRefused(t *testing.T) {
	t.Parallel()
	doc, err := api.Document()
	if err != nil {
		t.Fatal(err)
	}
	ask := computing(t)
	paths := slices.Sorted(maps.Keys(computations(t)))
	rapid.Check(t, func(r *rapid.T) {
		path := rapid.SampledFrom(paths).Draw(r, "path")
		schema := doc.Paths.Value(path).Post.RequestBody.Value.Content["application/json"].Schema.Value
		if ask(path, question(r, schema, 0)) >= 500 {
			r.Fatal("it failed")
		}
	})
}
