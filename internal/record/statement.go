package record

import (
	"strconv"
	"strings"
)

// A Statement is what somebody said, as it was decoded: objects are
// map[string]any, lists are []any.
type Statement map[string]any

// At gives the value at a JSON Pointer (RFC 6901), or nil.
func (s Statement) At(pointer string) any {
	var at any = map[string]any(s)
	if pointer == "" {
		return at
	}
	for _, name := range strings.Split(pointer, "/")[1:] {
		name = strings.NewReplacer("~1", "/", "~0", "~").Replace(name)
		switch within := at.(type) {
		case map[string]any:
			at = within[name]
		case []any:
			i, err := strconv.Atoi(name)
			if err != nil || i < 0 || i >= len(within) {
				return nil
			}
			at = within[i]
		default:
			return nil
		}
	}
	return at
}

// Answered tells whether something was said at a pointer. "unknown", "none" and
// "not-examined" are answers, in the member itself or, of a list or a word, in
// the one beside it that has its name and "Answer"; and so are false, zero and an
// empty list. A blank is not.
func (s Statement) Answered(pointer string) bool {
	switch v := s.At(pointer).(type) {
	case nil:
		return pointer != "" && s.At(pointer+"Answer") != nil
	case string:
		return strings.TrimSpace(v) != ""
	case map[string]any:
		return len(v) > 0
	}
	return true
}

// text gives the text at a pointer, or "".
func (s Statement) text(pointer string) string {
	t, _ := s.At(pointer).(string)
	return t
}

// list gives the objects of a list; said is false if there is no list.
func (s Statement) list(pointer string) (items []Statement, said bool) {
	values, said := s.At(pointer).([]any)
	for _, v := range values {
		if m, ok := v.(map[string]any); ok {
			items = append(items, m)
		}
	}
	return items, said
}

// Names gives the ids of the specimen, people, supplies and batches that a
// statement names where its completeness hangs on them.
func (s Statement) Names() []string {
	var ids []string
	add := func(of Statement, pointers ...string) {
		for _, p := range pointers {
			if id := of.text(p); id != "" {
				ids = append(ids, id)
			}
		}
	}
	add(s, "/specimen/id", "/treatment/specimen/id")
	for _, list := range []string{"/people", "/materials", "/inputs"} {
		items, _ := s.list(list)
		for _, item := range items {
			add(item, "/person/id", "/used/batch/id", "/used/supply/id", "/from/batch/id")
		}
	}
	return ids
}
