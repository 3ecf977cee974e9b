package main

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// The values of bodies: object, list, string, number, bool, nil, and raw, which is
// written verbatim and so may be invalid JSON. An object keeps the order of its members
// and may repeat a name.
type (
	object []member
	member struct {
		name  string
		value any
	}
	list   []any
	number string // as it is written
	raw    string
)

func (o object) at(name string) any {
	for _, m := range o {
		if m.name == name {
			return m.value
		}
	}
	return nil
}

// with is the object with this member instead of any of that name.
func (o object) with(name string, value any) object {
	kept := make(object, 0, len(o)+1)
	for _, m := range o {
		if m.name != name {
			kept = append(kept, m)
		}
	}
	return append(kept, member{name, value})
}

// valueOf copies a decoded example; members come in the order of their names,
// so that a seed gives the same bytes each time.
func valueOf(v any) any {
	switch v := v.(type) {
	case map[string]any:
		o := make(object, 0, len(v))
		for _, name := range slices.Sorted(maps.Keys(v)) {
			o = append(o, member{name, valueOf(v[name])})
		}
		return o
	case []any:
		l := make(list, len(v))
		for i := range v {
			l[i] = valueOf(v[i])
		}
		return l
	case json.Number:
		return number(v.String())
	case float64:
		b, _ := json.Marshal(v) // an example's number is finite
		return number(b)
	case int, int64, uint64:
		return number(fmt.Sprint(v))
	}
	return v
}

// parse reads JSON text as a value; nil if it is not JSON.
func parse(text []byte) any {
	d := json.NewDecoder(strings.NewReader(string(text)))
	d.UseNumber()
	var v any
	if d.Decode(&v) != nil {
		return nil
	}
	return valueOf(v)
}

func write(b *strings.Builder, v any) {
	switch v := v.(type) {
	case object:
		b.WriteByte('{')
		for i, m := range v {
			if i > 0 {
				b.WriteByte(',')
			}
			quote(b, m.name)
			b.WriteByte(':')
			write(b, m.value)
		}
		b.WriteByte('}')
	case list:
		b.WriteByte('[')
		for i, item := range v {
			if i > 0 {
				b.WriteByte(',')
			}
			write(b, item)
		}
		b.WriteByte(']')
	case string:
		quote(b, v)
	case number:
		b.WriteString(string(v))
	case raw:
		b.WriteString(string(v))
	case nil:
		b.WriteString("null")
	default:
		fmt.Fprint(b, v)
	}
}

// quote escapes only the bytes that would end the string, so that invalid UTF-8 is sent
// unchanged.
func quote(b *strings.Builder, s string) {
	b.WriteByte('"')
	for i := range len(s) {
		switch c := s[i]; {
		case c == '"' || c == '\\':
			b.WriteByte('\\')
			b.WriteByte(c)
		case c < 0x20:
			fmt.Fprintf(b, `\u%04x`, c)
		default:
			b.WriteByte(c)
		}
	}
	b.WriteByte('"')
}

func text(v any) string {
	var b strings.Builder
	write(&b, v)
	return b.String()
}
