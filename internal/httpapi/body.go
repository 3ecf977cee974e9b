package httpapi

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"sort"
	"strings"

	"github.com/getkin/kin-openapi/openapi3"
	jsonv2 "github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"

	"meniscus/internal/fault"
)

// deepest is how far a body may nest; nothing in the contract comes near it.
const deepest = 64

// checkBody judges a JSON body: first that it can be read at all (one value,
// no repeated names, valid UTF-8), then that it has the contract's shape.
func checkBody(ctx context.Context, schema *openapi3.Schema, raw []byte) error {
	if depth(raw) > deepest {
		return fault.Of(fault.Malformed, "json-too-deep", "The body nests lists and objects more than %d deep.", deepest)
	}
	var value any
	if err := jsonv2.Unmarshal(raw, &value); err != nil {
		return syntaxFault(err)
	}
	if bytes.Contains(raw, []byte(`\u0000`)) { // JSON can say it in no other way
		if faults := findNUL(value); len(faults) > 0 {
			return faults
		}
	}
	return visit(ctx, schema, value)
}

// depth is how far the lists and objects of a body nest, whether or not they end.
func depth(raw []byte) int {
	most, open, quoted := 0, 0, false
	for i := 0; i < len(raw); i++ {
		switch c := raw[i]; {
		case quoted && c == '\\':
			i++
		case c == '"':
			quoted = !quoted
		case quoted:
		case c == '[', c == '{':
			open++
			most = max(most, open)
		case c == ']', c == '}':
			open--
		}
	}
	return most
}

// syntaxFault says where a body cannot be read. The library's own text is not
// shown: it may hold what the caller sent.
func syntaxFault(err error) error {
	f := fault.Of(fault.Malformed, "json-malformed", "The body is not one JSON value: check quotes, commas and brackets, and that nothing follows its end.")
	var syntactic *jsontext.SyntacticError
	if errors.As(err, &syntactic) {
		f.Pointer = withoutLongNames(syntactic.JSONPointer)
		if errors.Is(err, jsontext.ErrDuplicateName) {
			f.Code, f.Detail = "json-name-repeated", "This name stands twice in its object; keep one of them."
		} else if strings.Contains(syntactic.Err.Error(), "UTF-8") {
			f.Code, f.Detail = "json-not-utf8", "The body is not valid UTF-8."
		}
	}
	var semantic *jsonv2.SemanticError
	if errors.As(err, &semantic) {
		f.Pointer = withoutLongNames(semantic.JSONPointer)
		f.Code, f.Detail = "number-out-of-range", "This number is too large to be read."
	}
	return f
}

// findNUL refuses the character U+0000, which no text column can keep.
func findNUL(value any) fault.List {
	var faults fault.List
	var at path
	var look func(value any)
	look = func(value any) {
		switch v := value.(type) {
		case string:
			if len(faults) < mostFaults && strings.ContainsRune(v, 0) {
				faults = append(faults, &fault.Fault{Kind: fault.Malformed, Code: "character-nul", Pointer: at.pointer(), Detail: "The character U+0000 cannot be kept; leave it out."})
			}
		case []any:
			for i, item := range v {
				at = append(at, step{index: i})
				look(item)
				at = at[:len(at)-1]
			}
		case map[string]any:
			for _, name := range slices.Sorted(maps.Keys(v)) {
				at = append(at, step{name: name, named: true})
				look(v[name])
				at = at[:len(at)-1]
			}
		}
	}
	look(value)
	return faults
}

// schemaFault says what a value must be, from the contract alone: the library's
// text may repeat what the caller sent.
func schemaFault(s *openapi3.Schema, keyword, pointer string) *fault.Fault {
	f := fault.New("shape", pointer, "The value does not have the contract's shape.")
	switch keyword {
	case "type":
		f.Code, f.Detail = "type", fmt.Sprintf("Write %s.", article(s.Type))
	case "required":
		f.Code, f.Detail = "missing", "This member is needed."
	case "properties":
		f.Code, f.Detail = "member-unknown", "There is no such member; the members are: "+memberNames(s)+"."
	case "enum":
		f.Code, f.Detail = "word-unknown", "Write one of: "+enumWords(s)+"."
	case "maximum", "minimum", "exclusiveMinimum", "exclusiveMaximum":
		f.Code, f.Detail = "out-of-range", rangeOf(s)
	case "minLength", "maxLength":
		f.Code, f.Detail = "length", lengthOf(s)
	case "minItems", "maxItems":
		f.Code, f.Detail = "item-count", itemsOf(s)
	case "minProperties", "maxProperties":
		f.Code, f.Detail = "choice", choiceOf(s)
	case "pattern", "format":
		f.Code, f.Detail = "form", formOf(s)
	}
	return f
}

func article(t *openapi3.Types) string {
	if t == nil || len(t.Slice()) == 0 {
		return "another kind of value"
	}
	words := map[string]string{"string": "a text", "number": "a number", "integer": "a whole number", "boolean": "true or false", "array": "a list", "object": "an object"}
	return words[t.Slice()[0]]
}

func memberNames(s *openapi3.Schema) string {
	names := make([]string, 0, len(s.Properties))
	for name := range s.Properties {
		names = append(names, name)
	}
	sort.Strings(names)
	return strings.Join(names, ", ")
}

func enumWords(s *openapi3.Schema) string {
	words := make([]string, len(s.Enum))
	for i, w := range s.Enum {
		words[i] = fmt.Sprint(w)
	}
	return strings.Join(words, ", ")
}

func rangeOf(s *openapi3.Schema) string {
	low, high := "", ""
	if s.Min != nil {
		low = fmt.Sprintf("at least %v", *s.Min)
	}
	if s.Max != nil {
		high = fmt.Sprintf("at most %v", *s.Max)
	}
	if v := s.ExclusiveMin.Value; v != nil {
		low = fmt.Sprintf("more than %v", *v)
	}
	if v := s.ExclusiveMax.Value; v != nil {
		high = fmt.Sprintf("less than %v", *v)
	}
	return "Write a number of " + strings.Join(nonEmpty(low, high), " and ") + "."
}

func lengthOf(s *openapi3.Schema) string {
	if s.MaxLength == nil {
		return fmt.Sprintf("Write at least %d characters.", s.MinLength)
	}
	return fmt.Sprintf("Write %d to %d characters.", s.MinLength, *s.MaxLength)
}

func itemsOf(s *openapi3.Schema) string {
	if s.MaxItems == nil {
		return fmt.Sprintf("Give at least %d items.", s.MinItems)
	}
	return fmt.Sprintf("Give %d to %d items.", s.MinItems, *s.MaxItems)
}

func choiceOf(s *openapi3.Schema) string {
	if s.MinProps == 1 && s.MaxProps != nil && *s.MaxProps == 1 {
		return "Give exactly one of: " + memberNames(s) + "."
	}
	return "Give at least one of: " + memberNames(s) + "."
}

func formOf(s *openapi3.Schema) string {
	if s.Description != "" {
		return "The text does not have this form: " + s.Description
	}
	if s.Format != "" {
		return "The text does not have the form " + s.Format + "."
	}
	return "The text does not have the form " + s.Pattern + "."
}

func nonEmpty(texts ...string) []string {
	var kept []string
	for _, t := range texts {
		if t != "" {
			kept = append(kept, t)
		}
	}
	return kept
}

// decode reads the checked body into a wire type of the contract.
func decode[T any](c *call) (T, error) {
	var v T
	return v, decodeInto(c.raw, &v)
}

// decodeInto reads checked JSON into a wire type; what the schema visitor
// cannot judge (a UUID's form, a date's day, a number's digits) is a fault here.
func decodeInto(raw []byte, v any) error {
	err := jsonv2.Unmarshal(raw, v, jsonv2.RejectUnknownMembers(true))
	if err == nil {
		return nil
	}
	if found := fault.From(err); len(found) > 0 {
		return atPointer(found, err)
	}
	f := fault.New("form", pointerOf(err), "The value does not have the form that the contract gives it.")
	return f
}

func atPointer(found fault.List, err error) error {
	var list fault.List
	for _, f := range found {
		list = append(list, f.At(pointerOf(err)))
	}
	return list
}

func pointerOf(err error) string {
	var semantic *jsonv2.SemanticError
	if errors.As(err, &semantic) {
		return withoutLongNames(semantic.JSONPointer)
	}
	return ""
}

// encode renders a wire type. The standard encoder keeps an empty list that was
// stated apart from one that was left out.
func encode(v any) ([]byte, error) {
	var b strings.Builder
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return nil, fmt.Errorf("encoding an answer: %w", err)
	}
	return []byte(strings.TrimSuffix(b.String(), "\n")), nil
}
