package statement

import (
	"bytes"
	"strings"

	"github.com/go-json-experiment/json/jsontext"

	"meniscus/internal/fault"
)

// Patched is the statement that a merge patch makes of an entry's; its faults point into
// the patch. The error is ErrRedacted for an entry without a statement.
//
// An authorisation that another institution gave authorises nothing here (Read). In a
// statement made here it would, so that the patch has to say what becomes of it.
func (e Entry) Patched(patch []byte) ([]byte, error) {
	if len(e.Statement) == 0 {
		return nil, ErrRedacted
	}
	for _, at := range []string{"/authorisation", "/treatment/authorisation"} {
		if e.Received != nil && reaches(jsontext.Value(e.Statement), at) && !reaches(patch, at) {
			return nil, fault.New("authorisation-received", "", "The statement has an authorisation that another institution "+
				"gave, which authorises nothing here. Say in the patch what %s is: null, or who authorised it here.", at)
		}
	}
	return Merge(e.Statement, patch), nil
}

// reaches tells whether a value has the member at a JSON Pointer through objects.
func reaches(value jsontext.Value, pointer string) bool {
	for name := range strings.SplitSeq(pointer[1:], "/") {
		members, _ := objectMembers(value)
		here := false
		for _, m := range members {
			if m.name == name {
				value, here = m.value, true
			}
		}
		if !here {
			return false
		}
	}
	return true
}

// Merge applies a JSON Merge Patch (RFC 7396) to a statement, which is nil where there
// is none. Members that the patch does not name keep their order and their digits. Both
// must be valid JSON.
func Merge(target, patch []byte) []byte { return merge(target, patch) }

func merge(target, patch jsontext.Value) jsontext.Value {
	changes, isObject := objectMembers(patch)
	if !isObject {
		return patch
	}
	merged, _ := objectMembers(target) // anything but an object is replaced (section 2)
	places := make(map[string]int, len(merged))
	for i, m := range merged {
		places[m.name] = i
	}
	for _, change := range changes {
		at, here := places[change.name]
		switch isNull := change.value.Kind() == 'n'; {
		case isNull && here:
			merged[at].value = nil
		case isNull:
		case here:
			merged[at].value = merge(merged[at].value, change.value)
		default:
			merged = append(merged, member{change.name, merge(nil, change.value)})
		}
	}
	return objectOf(merged)
}

// member is a member of an object, with its value as it is written.
type member struct {
	name  string
	value jsontext.Value // nil where it was removed
}

// objectMembers are the members of an object in their order; isObject is false for any
// other value. The value must be valid JSON, or empty.
func objectMembers(value jsontext.Value) (members []member, isObject bool) {
	dec := jsontext.NewDecoder(bytes.NewReader(value))
	if token, err := dec.ReadToken(); err != nil || token.Kind() != '{' {
		return nil, false
	}
	for dec.PeekKind() == '"' {
		token, _ := dec.ReadToken() // valid JSON
		name := token.String()
		read, _ := dec.ReadValue()
		members = append(members, member{name, bytes.Clone(read)})
	}
	return members, true
}

// objectOf writes members as an object.
func objectOf(members []member) jsontext.Value {
	out := []byte{'{'}
	for _, m := range members {
		if m.value == nil {
			continue
		}
		if len(out) > 1 {
			out = append(out, ',')
		}
		out, _ = jsontext.AppendQuote(out, m.name) // a decoded name always encodes
		out = append(append(out, ':'), m.value...)
	}
	return append(out, '}')
}
