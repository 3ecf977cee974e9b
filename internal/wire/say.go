package wire

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/getkin/kin-openapi/openapi3"

	"meniscus/internal/fault"
)

// schemaFault says what a value must be, from the contract alone: the library's
// text may repeat what the caller sent.
func schemaFault(s *openapi3.Schema, keyword, pointer string) *fault.Fault {
	f := fault.New("shape", pointer, "The value does not have the contract's shape.")
	switch keyword {
	case "type", "nullable":
		f.Code, f.Detail = "type", fmt.Sprintf("Write %s.", article(s.Type))
	case "required":
		f.Code, f.Detail = "missing", "This member is needed."
	case "properties":
		f.Code, f.Detail = "member-unknown", "There is no such member; the members are: "+MemberNames(s)+"."
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
	words := map[string]string{"string": "a text", "number": "a number", "integer": "a whole number",
		"boolean": "true or false", "array": "a list", "object": "an object"}
	return words[t.Slice()[0]]
}

// MemberNames are the members that a schema has, in the order of their names.
func MemberNames(s *openapi3.Schema) string {
	return strings.Join(slices.Sorted(maps.Keys(s.Properties)), ", ")
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
	if low != "" && high != "" {
		low += " and "
	}
	return "Write a number of " + low + high + "."
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
		return "Give exactly one of: " + MemberNames(s) + "."
	}
	return "Give at least one of: " + MemberNames(s) + "."
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
