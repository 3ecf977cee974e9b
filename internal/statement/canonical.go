package statement

import (
	"bytes"
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
