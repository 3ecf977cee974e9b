package wire

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"

	jsonv2 "github.com/go-json-experiment/json"

	"meniscus/internal/fault"
)

// Decode reads checked JSON into a wire type; what a schema cannot validate (a UUID's
// form, a date's day, a number's digits) is a fault.List here.
func Decode(raw []byte, into any) error {
	err := jsonv2.Unmarshal(raw, into, jsonv2.RejectUnknownMembers(true))
	if err == nil {
		return nil
	}
	at := ""
	var semantic *jsonv2.SemanticError
	if errors.As(err, &semantic) {
		at = withoutLongNames(semantic.JSONPointer)
	}
	found := fault.From(err)
	if len(found) == 0 {
		return fault.List{fault.New("form", at, "The value does not have the form that the contract gives it.")}
	}
	var list fault.List
	for _, f := range found {
		list = append(list, f.At(at))
	}
	return list
}

// Encode writes a wire type. It uses the standard encoder, which distinguishes an empty
// list from one that was left out.
func Encode(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return nil, fmt.Errorf("encoding JSON: %w", err)
	}
	return bytes.TrimSuffix(b.Bytes(), []byte("\n")), nil
}

// Quoted is a text as JSON.
func Quoted(text string) []byte {
	b, _ := Encode(text) // a text cannot fail to encode
	return b
}
