package statement

import (
	"bytes"
	"slices"

	"github.com/go-json-experiment/json/jsontext"
)

// Canonical is a statement in the one form by which two are compared: members in
// order, no space, texts escaped alike, digits as they were written, because 20.0
// and 20.00 say two things. It must have been read before.
func Canonical(words []byte) []byte {
	v := jsontext.Value(slices.Clone(words))
	_ = v.Format(jsontext.ReorderRawObjects(true), jsontext.PreserveRawStrings(false)) // it was read before
	return v
}

// Same tells whether two statements say the same, in whatever order of members.
func Same(a, b []byte) bool { return bytes.Equal(Canonical(a), Canonical(b)) }
