package main

import (
	"maps"
	"net/http"
	"regexp"
	"slices"
	"strings"

	"github.com/getkin/kin-openapi/openapi3"
)

// operation is what the contract says of one operation, as far as a caller
// needs it to make a request.
type operation struct {
	id       string
	method   string
	path     string
	params   []*openapi3.Parameter
	takes    []string // media types of the body
	gives    []string // media types of a success
	body     *openapi3.SchemaRef
	examples []any // of the body
	keyless  bool
}

// operations lists the contract's operations in the order of their ids. The stream of
// changes has no end and is tested by a request of its own.
func operations(doc *openapi3.T) []*operation {
	var ops []*operation
	for path, item := range doc.Paths.Map() {
		for method, o := range item.Operations() {
			if o.OperationID != "streamChanges" {
				ops = append(ops, readOperation(path, method, o))
			}
		}
	}
	slices.SortFunc(ops, func(a, b *operation) int { return strings.Compare(a.id, b.id) })
	return ops
}

// The media types of JSON, and of a JSON Merge Patch (RFC 7396).
const (
	jsonType  = "application/json"
	patchType = "application/merge-patch+json"
)

func readOperation(path, method string, o *openapi3.Operation) *operation {
	op := &operation{id: o.OperationID, method: method, path: path, keyless: o.Security != nil && len(*o.Security) == 0}
	for _, ref := range o.Parameters {
		op.params = append(op.params, ref.Value)
	}
	if o.RequestBody != nil {
		op.takes = slices.Sorted(maps.Keys(o.RequestBody.Value.Content))
		if json := o.RequestBody.Value.Content[jsonType]; json != nil {
			op.body = json.Schema
			for _, name := range slices.Sorted(maps.Keys(json.Examples)) {
				op.examples = append(op.examples, valueOf(json.Examples[name].Value.Value))
			}
		}
	}
	for _, code := range slices.Sorted(maps.Keys(o.Responses.Map())) {
		if !strings.HasPrefix(code, "2") {
			continue
		}
		op.gives = append(op.gives, slices.Sorted(maps.Keys(o.Responses.Value(code).Value.Content))...)
	}
	return op
}

func (op *operation) takesHeader(name string) bool {
	return slices.ContainsFunc(op.params, func(p *openapi3.Parameter) bool { return p.In == "header" && p.Name == name })
}

// safe tells whether an operation changes nothing, so that it can be repeated.
func (op *operation) safe() bool {
	return op != nil && (op.method == http.MethodGet || strings.HasPrefix(op.path, "/v1/compute/"))
}

// kindOf gives the kind of record in a path's collection, such as batch for
// /v1/batches/{batchId}/bottles.
var kindOf = map[string]string{
	"people": "person", "specimens": "specimen", "supplies": "supply", "batches": "batch", "bottles": "batch",
	"parts":      "specimen",
	"treatments": "treatment", "group-treatments": "treatment", "plans": "plan", "amount-changes": "amountChange",
	"report-schedules": "reportSchedule", "runs": "reportRun", "imports": "import", "webhooks": "webhook",
	"access-keys": "key",
	"materials":   "material", "check-rules": "rule",
}

var variable = regexp.MustCompile(`\{([^}]+)\}`)

// kindOfVariable is the kind of record that a path's variable names.
func kindOfVariable(name string) string { return strings.TrimSuffix(name, "Id") }

// collection is the last word of a path that is no variable.
func collection(path string) string {
	words := strings.Split(strings.Trim(path, "/"), "/")
	for _, word := range slices.Backward(words) {
		if !strings.HasPrefix(word, "{") {
			return word
		}
	}
	return ""
}
