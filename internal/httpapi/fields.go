package httpapi

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/go-json-experiment/json/jsontext"

	"meniscus/internal/fault"
	"meniscus/internal/wire"
)

// wantedFields is which members of an object are wanted: each with the members
// wanted below it, or nil for all of it.
type wantedFields map[string]wantedFields

// readFields reads `id,statement.action`, and says which names the contract does
// not know.
func readFields(text string, schema *openapi3.Schema) (wantedFields, *fault.Fault) {
	wanted := wantedFields{}
	for path := range strings.SplitSeq(text, ",") {
		at, s := wanted, schema
		names := strings.Split(path, ".")
		for i, name := range names {
			s = elements(s)
			if s == nil || s.Properties[name] == nil {
				return nil, parameterFault("fields", fmt.Sprintf(
					"There is no such member as number %d of one of the paths; the members are: %s.",
					i+1, wire.MemberNames(orEmpty(s))))
			}
			below, named := at[name]
			switch {
			case i == len(names)-1:
				at[name] = nil
			case named && below == nil: // all of it is wanted already
				names = nil
			case !named:
				below = wantedFields{}
				at[name] = below
			}
			if names == nil {
				break
			}
			at, s = below, s.Properties[name].Value
		}
	}
	return wanted, nil
}

// elements is the schema of a list's elements; for anything else the schema itself.
func elements(s *openapi3.Schema) *openapi3.Schema {
	for s != nil && s.Type.Is("array") && s.Items != nil {
		s = s.Items.Value
	}
	return s
}

func orEmpty(s *openapi3.Schema) *openapi3.Schema {
	if s == nil {
		return &openapi3.Schema{}
	}
	return s
}

// appendWanted appends a value without the members that are not wanted. What the
// contract requires always stays, and so does the member of a choice, so that a partial
// answer is still a valid one.
func (w wantedFields) appendWanted(out []byte, value jsontext.Value, schema *openapi3.Schema) ([]byte, error) {
	switch value.Kind() {
	case '[':
		return w.appendList(out, value, schema)
	case '{':
		return w.appendObject(out, value, orEmpty(elements(schema)))
	}
	return append(out, value...), nil
}

func (w wantedFields) appendList(out []byte, list jsontext.Value, schema *openapi3.Schema) ([]byte, error) {
	d := jsontext.NewDecoder(bytes.NewReader(list))
	if _, err := d.ReadToken(); err != nil {
		return nil, err
	}
	out = append(out, '[')
	for first := true; d.PeekKind() != ']'; first = false {
		item, err := d.ReadValue()
		if err != nil {
			return nil, err
		}
		if !first {
			out = append(out, ',')
		}
		if out, err = w.appendWanted(out, item, schema); err != nil {
			return nil, err
		}
	}
	return append(out, ']'), nil
}

func (w wantedFields) appendObject(out []byte, object jsontext.Value, schema *openapi3.Schema) ([]byte, error) {
	d := jsontext.NewDecoder(bytes.NewReader(object))
	if _, err := d.ReadToken(); err != nil {
		return nil, err
	}
	out = append(out, '{')
	for first := true; d.PeekKind() != '}'; {
		name, err := d.ReadToken()
		if err != nil {
			return nil, err
		}
		key := name.String()
		member, err := d.ReadValue()
		if err != nil {
			return nil, err
		}
		below, wanted := w[key]
		if !wanted && !slices.Contains(schema.Required, key) && schema.MinProps == 0 {
			continue
		}
		if !first {
			out = append(out, ',')
		}
		first = false
		out = append(append(out, wire.Quoted(key)...), ':')
		if below == nil || schema.Properties[key] == nil {
			out = append(out, member...)
		} else if out, err = below.appendWanted(out, member, schema.Properties[key].Value); err != nil {
			return nil, err
		}
	}
	return append(out, '}'), nil
}

// partial leaves out of an answer what `fields` does not name: of each item of a
// list, or of the record itself.
func (c *requestContext) partial(a *answer) error {
	text := c.text("fields")
	if text == "" || a.body == nil {
		return nil
	}
	if a.mediaType != jsonType {
		return parameterFault("fields", "Only application/json can be had in part; leave this parameter out, or accept that.")
	}
	schema := c.op.success
	wanted, f := readFields(text, itemSchema(schema))
	if f != nil {
		return f
	}
	if list := schema.Properties["items"]; list != nil && list.Value.Type.Is("array") {
		wanted = wantedFields{"items": wanted, "next": nil}
	}
	pruned, err := wanted.appendWanted(nil, a.body, schema)
	if err != nil {
		return fmt.Errorf("leaving members out: %w", err)
	}
	a.body, a.etag = pruned, ""
	return nil
}

// itemSchema is the schema of a list's items, or the schema itself.
func itemSchema(schema *openapi3.Schema) *openapi3.Schema {
	if list := schema.Properties["items"]; list != nil && list.Value.Type.Is("array") {
		return elements(list.Value)
	}
	return schema
}
