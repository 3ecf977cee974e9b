package api_test

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"meniscus/api"
)

// bare are the members that are ids by themselves: a record's own, an entry's, a CloudEvents
// subject, and what stands beside the name of an institution or in the words of another one.
var bare = []string{"id", "entry", "subject"}

// TestReferencesAreObjects: a member that names a record is an object with its id, in
// requests and in answers.
func TestReferencesAreObjects(t *testing.T) {
	t.Parallel()
	var doc struct {
		Components struct{ Schemas map[string]any }
	}
	if err := json.Unmarshal(api.Readable, &doc); err != nil {
		t.Fatal(err)
	}
	references := 0
	var walk func(at string, v any)
	walk = func(at string, v any) {
		of, _ := v.(object)
		for name, value := range of {
			walk(at+"/"+name, value)
		}
		list, _ := v.([]any)
		for _, value := range list {
			walk(at, value)
		}
		switch ref, _ := of["$ref"].(string); strings.TrimPrefix(ref, schemaPath) {
		case "RecordRef":
			references++
		case "Id":
			member := at[strings.LastIndex(at, "/")+1:]
			another := strings.HasSuffix(at, "/institution") || strings.HasPrefix(at, "ReceivedFrom/")
			if !slices.Contains(bare, member) && !another {
				t.Errorf("%s is an id and no reference", at)
			}
		}
	}
	for name, schema := range doc.Components.Schemas {
		walk(name, schema)
	}
	if references < 50 {
		t.Errorf("found %d references", references)
	}
}
