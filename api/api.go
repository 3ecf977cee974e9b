// Package api is the contract: the OpenAPI document that everything else
// answers to, and the Go types of what travels, generated from it.
//
// Change a noun in the folder contract first, then run `go generate ./api`.
package api

import (
	"context"
	_ "embed"
	"fmt"
	"sync"

	"github.com/getkin/kin-openapi/openapi3"
)

// YAML is the contract as it is written.
//
//go:embed openapi.yaml
var YAML []byte

// Document gives the contract, loaded and checked once. Callers share it and
// must not change it.
var Document = sync.OnceValues(func() (*openapi3.T, error) {
	doc, err := openapi3.NewLoader().LoadFromData(YAML)
	if err != nil {
		return nil, fmt.Errorf("loading the contract: %w", err)
	}
	if err := doc.Validate(context.Background()); err != nil {
		return nil, fmt.Errorf("checking the contract: %w", err)
	}
	return doc, nil
})
