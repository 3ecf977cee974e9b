// Package api is the contract: the OpenAPI document that requests and responses must
// match, and the Go types of their bodies, generated from it.
//
// Change a noun in the folder contract first, then run `go generate ./api`.
package api

import (
	_ "embed"
	"fmt"
	"sync"

	"github.com/getkin/kin-openapi/openapi3"
)

// YAML is the contract with all examples.
//
//go:embed openapi.yaml
var YAML []byte

// Readable is the contract that people read, as JSON: it means the same as YAML, and
// expresses choices in a form that generators of clients enforce.
//
//go:embed reference.json
var Readable []byte

// Served is the contract that programs read: Readable in few bytes.
//
//go:embed openapi.json
var Served []byte

//go:embed judged.yaml
var judged []byte

// Document gives the contract with all that it says, loaded once. Callers share it and must not
// change it. A test checks it.
var Document = sync.OnceValues(func() (*openapi3.T, error) { return load(YAML) })

// Judged gives the contract as requests are judged by it, loaded once: without examples and most
// texts, so that it is loaded quickly and takes little memory. Callers share it and must not change it.
var Judged = sync.OnceValues(func() (*openapi3.T, error) { return load(judged) })

func load(text []byte) (*openapi3.T, error) {
	doc, err := openapi3.NewLoader().LoadFromData(text)
	if err != nil {
		return nil, fmt.Errorf("loading the contract: %w", err)
	}
	return doc, nil
}

// Ref refers to a record by its id.
func Ref(id Id) RecordRef { return RecordRef{Id: id} }

// Refs refers to records by their ids.
func Refs(ids []Id) []RecordRef {
	refs := make([]RecordRef, len(ids))
	for i, id := range ids {
		refs[i] = Ref(id)
	}
	return refs
}

// RefIf refers to a record, if there is one.
func RefIf(id *Id) *RecordRef {
	if id == nil {
		return nil
	}
	return new(Ref(*id))
}
