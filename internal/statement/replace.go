package statement

import (
	"bytes"
	"strings"

	"github.com/go-json-experiment/json/jsontext"

	"meniscus/internal/fault"
)

// Replaced is a statement with one value in the place of another, wherever that stands under a
// JSON Pointer ("" is all of it). Values are compared as they are written, whatever the order of
// their members. All must be valid JSON.
func Replaced(words, from, to []byte, under string) []byte {
	r := replacement{from: Canonical(from), to: to, under: under}
	return r.in(words, "")
}

type replacement struct {
	from  jsontext.Value // in canonical form
	to    jsontext.Value
	under string
}

func (r replacement) in(value jsontext.Value, at string) jsontext.Value {
	inside := at == r.under || strings.HasPrefix(at, r.under+"/")
	switch {
	case inside && value.Kind() == r.from.Kind() && bytes.Equal(Canonical(value), r.from):
		return r.to
	case !inside && !strings.HasPrefix(r.under, at+"/"):
		return value
	}
	if members, isObject := objectMembers(value); isObject {
		for i, m := range members {
			members[i].value = r.in(m.value, at+"/"+fault.Escape(m.name))
		}
		return objectOf(members)
	}
	items, isList := listItems(value)
	if !isList {
		return value
	}
	out := jsontext.Value{'['}
	for i, x := range items {
		if i > 0 {
			out = append(out, ',')
		}
		out = append(out, r.in(x, item(at, i))...)
	}
	return append(out, ']')
}
