package httpapi_test

import (
	"encoding/json"
	"math"
	"net/http"
	"os"
	"strconv"
	"strings"
	"testing"
)

// publishedExample is one row of testdata/published/requests.json: a request, and what is printed of its answer.
type publishedExample struct {
	ID, Operation, Source, Status, Note string
	Body                                json.RawMessage
	Expect                              []struct {
		At, Is           string
		Value, Tolerance float64
	}
}

// Every published example that the service can express, over HTTP, to its printed precision.
func TestPublishedExamplesOverHTTP(t *testing.T) {
	t.Parallel()
	text, err := os.ReadFile("../../testdata/published/requests.json")
	if err != nil {
		t.Fatal(err)
	}
	var table struct {
		Materials []struct {
			ID        string
			Statement object
		}
		Examples []publishedExample
	}
	if err := json.Unmarshal(text, &table); err != nil {
		t.Fatal(err)
	}
	s := newService(t)
	for _, m := range table.Materials {
		s.do(http.MethodPut, "/v1/materials/"+m.ID, object{"statement": m.Statement}).want(http.StatusCreated)
	}
	for _, e := range table.Examples {
		r := s.do(http.MethodPost, "/v1/compute/"+e.Operation+"?detail=full", string(e.Body))
		if r.status != http.StatusOK || len(e.Expect) == 0 {
			t.Errorf("%s (%s): got %d, %s", e.ID, e.Source, r.status, r.body)
			continue
		}
		for _, want := range e.Expect {
			switch got := r.at(pointed(want.At)...).(type) {
			case float64:
				if !(math.Abs(got-want.Value) <= want.Tolerance) || want.Is != "" {
					t.Errorf("%s, %s: got %.9g, want %v ± %v %s\n%s [%s]\n%s", e.ID, want.At, got, want.Value, want.Tolerance,
						want.Is, e.Source, e.Status, e.Note)
				}
			default:
				if got != want.Is || want.Is == "" {
					t.Errorf("%s, %s: got %v, want %q\n%s [%s]\n%s", e.ID, want.At, got, want.Is, e.Source, e.Status, e.Note)
				}
			}
		}
	}
}

// pointed are the steps of a JSON Pointer.
func pointed(at string) (path []any) {
	for _, step := range strings.Split(at, "/")[1:] {
		if i, err := strconv.Atoi(step); err == nil {
			path = append(path, i)
		} else {
			path = append(path, step)
		}
	}
	return path
}
