package api_test

import (
	"encoding/json"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/google/go-cmp/cmp"

	"meniscus/api"
)

// TestRequestsAreJudgedByTheContract: what the service judges by says the same as the contract, but
// for examples and texts.
func TestRequestsAreJudgedByTheContract(t *testing.T) {
	t.Parallel()
	judged, err := api.Judged()
	if err != nil {
		t.Fatal(err)
	}
	whole, err := openapi3.NewLoader().LoadFromData(api.YAML)
	if err != nil {
		t.Fatal(err)
	}
	got, want := asObject(t, judged), asObject(t, whole)
	if texts := silent(want, false); texts < 1000 {
		t.Errorf("%d texts and examples were left out of the comparison, want all", texts)
	}
	silent(got, false)
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

func asObject(t *testing.T, doc *openapi3.T) object {
	t.Helper()
	var of object
	text, err := json.Marshal(doc)
	if err == nil {
		err = json.Unmarshal(text, &of)
	}
	if err != nil {
		t.Fatal(err)
	}
	return of
}

// silent takes out examples and texts, and counts them. The members of named are names.
func silent(v any, named bool) (taken int) {
	switch v := v.(type) {
	case []any:
		for _, item := range v {
			taken += silent(item, false)
		}
	case object:
		for name, item := range v {
			switch {
			case !named && (name == "description" || name == "summary" || name == "title" || name == "example" || name == "examples"):
				delete(v, name)
				taken++
			case !named && (name == "default" || name == "enum"):
			default:
				taken += silent(item, !named && name == "properties")
			}
		}
	}
	return taken
}
