package statement

import (
	"bytes"
	"encoding/json"
	"slices"

	"github.com/go-json-experiment/json/jsontext"
)

// Canonical is a statement in the canonical form by which two are compared: members in
// order, no space, texts escaped alike, digits as they were written, because 20.0 and
// 20.00 differ in precision. The words must be valid JSON.
func Canonical(words []byte) []byte {
	v := jsontext.Value(slices.Clone(words))
	_ = v.Format(jsontext.ReorderRawObjects(true), jsontext.PreserveRawStrings(false)) // valid JSON cannot fail
	return v
}

// Same tells whether two statements are the same, in any order of members.
func Same(a, b []byte) bool { return bytes.Equal(Canonical(a), Canonical(b)) }

// Within tells whether statement b says all that a says: each member of an object of a
// is within the same member of b, and each item of a list within an item of b's list.
func Within(a, b []byte) bool {
	in, of := valueOf(a), valueOf(b)
	return in != nil && of != nil && within(in, of)
}

// valueOf is a JSON value with its numbers as they were written; nil if it is none.
func valueOf(words []byte) (value any) {
	d := json.NewDecoder(bytes.NewReader(words))
	d.UseNumber()
	if d.Decode(&value) != nil {
		return nil
	}
	return value
}

func within(a, b any) bool {
	switch a := a.(type) {
	case map[string]any:
		b, object := b.(map[string]any)
		for name, value := range a {
			other, said := b[name]
			if !said || !within(value, other) {
				return false
			}
		}
		return object
	case []any:
		b, list := b.([]any)
		for _, item := range a {
			if !slices.ContainsFunc(b, func(other any) bool { return within(item, other) }) {
				return false
			}
		}
		return list
	}
	return a == b
}
