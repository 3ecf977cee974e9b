package statement

import (
	"bytes"
	"maps"
	"slices"
	"strconv"

	"github.com/go-json-experiment/json/jsontext"

	"meniscus/internal/fault"
)

// Changed is a value that differs between two statements.
type Changed struct {
	Pointer string // a JSON Pointer (RFC 6901) into the statement
	// Before and After are the values in canonical form; nil where there is none.
	Before, After jsontext.Value
}

// WhatChanged lists what differs between the statements of two entries, given their
// bodies: see Differences.
func WhatChanged(before, after *string, most int) (found []Changed, more int) {
	was, err := OpenEntry(before)
	is, failed := OpenEntry(after)
	if err != nil || failed != nil { // unreadable bodies are reported where the statement is read
		return nil, 0
	}
	return Differences(was.Statement, is.Statement, most)
}

// Differences lists what differs between two statements, in the order of the pointers'
// members. Objects are compared member by member and lists item by item, those beyond
// the shorter list's end having no counterpart; all else is compared as it is written,
// so that 20.0 and 20.00 differ. It gives at most most, and counts the others. Both must
// be valid JSON; before is empty where there was no statement.
func Differences(before, after []byte, most int) (found []Changed, more int) {
	compare("", canonicalOrNil(before), canonicalOrNil(after), func(c Changed) {
		if len(found) < most {
			found = append(found, c)
		} else {
			more++
		}
	})
	return found, more
}

func canonicalOrNil(words []byte) jsontext.Value {
	if len(words) == 0 {
		return nil
	}
	return Canonical(words)
}

// compare calls found for each difference of two values in canonical form.
func compare(at string, before, after jsontext.Value, found func(Changed)) {
	if bytes.Equal(before, after) {
		return
	}
	was, wasObject := objectMembers(before)
	is, isObject := objectMembers(after)
	if wasObject && isObject {
		compareMembers(at, was, is, found)
		return
	}
	wasItems, wasList := listItems(before)
	isItems, isList := listItems(after)
	if !wasList || !isList {
		found(Changed{at, before, after})
		return
	}
	for i := range max(len(wasItems), len(isItems)) {
		compare(at+"/"+strconv.Itoa(i), nth(wasItems, i), nth(isItems, i), found)
	}
}

func compareMembers(at string, was, is []member, found func(Changed)) {
	values := map[string][2]jsontext.Value{}
	for _, m := range was {
		values[m.name] = [2]jsontext.Value{m.value, nil}
	}
	for _, m := range is {
		values[m.name] = [2]jsontext.Value{values[m.name][0], m.value}
	}
	for _, name := range slices.Sorted(maps.Keys(values)) {
		compare(at+"/"+fault.Escape(name), values[name][0], values[name][1], found)
	}
}

// listItems are the items of a list; isList is false for any other value. The value must
// be valid JSON, or empty.
func listItems(value jsontext.Value) (items []jsontext.Value, isList bool) {
	dec := jsontext.NewDecoder(bytes.NewReader(value))
	if token, err := dec.ReadToken(); err != nil || token.Kind() != '[' {
		return nil, false
	}
	for dec.PeekKind() != ']' {
		read, err := dec.ReadValue()
		if err != nil {
			return items, true
		}
		items = append(items, bytes.Clone(read))
	}
	return items, true
}

// nth is an item of a list, or nil beyond its end.
func nth(items []jsontext.Value, i int) jsontext.Value {
	if i < len(items) {
		return items[i]
	}
	return nil
}
