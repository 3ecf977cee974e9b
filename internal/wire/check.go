package wire

import (
	"bytes"
	"context"
	"errors"
	"maps"
	"slices"
	"strings"

	"github.com/getkin/kin-openapi/openapi3"
	jsonv2 "github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"

	"meniscus/internal/fault"
)

// deepest is how deep a body may nest; the contract's schemas need far less.
const deepest = 64

// Check validates a JSON text: first its syntax (one value, no repeated names, valid
// UTF-8), then that it matches the schema.
func Check(ctx context.Context, schema *openapi3.Schema, raw []byte) error {
	if depth(raw) > deepest {
		return fault.Of(fault.Malformed, "json-too-deep", "The body nests lists and objects more than %d deep.", deepest)
	}
	var value any
	if err := jsonv2.Unmarshal(raw, &value); err != nil {
		return SyntaxFault(err)
	}
	if mayHoldNUL(raw) {
		if faults := findNUL(value); len(faults) > 0 {
			return faults
		}
	}
	return Judge(ctx, schema, value)
}

// depth is how deep the lists and objects of a body nest, whether or not they are
// closed.
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

// SyntaxFault says where JSON cannot be read. It does not show the library's own text,
// which may contain what the caller sent.
func SyntaxFault(err error) error {
	f := fault.Of(fault.Malformed, "json-malformed",
		"The body is not one JSON value: check quotes, commas and brackets, and that nothing follows its end.")
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

// HoldsNUL tells whether JSON contains U+0000, which no text column can store.
func HoldsNUL(raw []byte) bool {
	var value any
	return mayHoldNUL(raw) && jsonv2.Unmarshal(raw, &value) == nil && len(findNUL(value)) > 0
}

// mayHoldNUL looks for the only escape by which JSON can contain it.
func mayHoldNUL(raw []byte) bool { return bytes.Contains(raw, []byte(`\u0000`)) }

// findNUL refuses the character U+0000, which no text column can store.
func findNUL(value any) fault.List {
	var faults fault.List
	var at path
	var look func(value any)
	look = func(value any) {
		switch v := value.(type) {
		case string:
			if len(faults) < MostFaults && strings.ContainsRune(v, 0) {
				faults = append(faults, &fault.Fault{Kind: fault.Malformed, Code: "character-nul", Pointer: at.pointer(),
					Detail: "The character U+0000 cannot be kept; leave it out."})
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
