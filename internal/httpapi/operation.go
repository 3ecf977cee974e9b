package httpapi

import (
	"fmt"
	"net/http"
	"regexp"
	"slices"
	"strings"

	"github.com/getkin/kin-openapi/openapi3"

	"meniscus/internal/access"
)

// operation is what the contract says of one operation, read once at start.
type operation struct {
	id       string
	method   string
	path     string // as the contract writes it: /v1/specimens/{specimenId}
	keyless  bool   // a key is not looked at: `security: []`
	optional bool   // a key is honoured when given: one of the requirements is `{}`
	scopes   []access.Scope
	keyed    bool // a key or a token opens it
	session  bool // a session opens its pages
	people   bool // its pages are for people, and so are its problems where a page is asked for
	anyQuery bool // its query is not the contract's
	query    map[string]*openapi3.Parameter
	pathVars []*openapi3.Parameter
	needsKey bool                        // takes an Idempotency-Key: one of key, source or id is needed
	needsTag bool                        // takes If-Match: 428 without
	bodies   map[string]*openapi3.Schema // of bodies of JSON, by their media types
	takes    []string                    // media types of the body
	streamed bool                        // one of those is left to the handler, which reads it once
	gives    []string                    // media types of a success, the preferred first
	success  *openapi3.Schema            // of a success in application/json; nil when there is none
	work     *work                       // its class of work: what it costs
	standby  bool                        // may be of a moment ago: `x-standby: true`
	lifecycle
}

// The media types of bodies of JSON: jsonType of every ordinary one, patchType of a JSON
// Merge Patch (RFC 7396).
const (
	jsonType  = "application/json"
	patchType = "application/merge-patch+json"
)

// readOperations lists the contract's operations by operationId.
func readOperations(doc *openapi3.T) (map[string]*operation, error) {
	ops := map[string]*operation{}
	for path, item := range doc.Paths.Map() {
		for method, o := range item.Operations() {
			if o.OperationID == "" {
				return nil, fmt.Errorf("%s %s has no operationId", method, path)
			}
			op := readOperation(doc, method, path, o)
			var err error
			if op.lifecycle, err = readLifecycle(o); err != nil {
				return nil, err
			}
			if op.work, err = workOf(o); err != nil {
				return nil, err
			}
			ops[o.OperationID] = op
		}
	}
	return ops, nil
}

func readOperation(doc *openapi3.T, method, path string, o *openapi3.Operation) *operation {
	op := &operation{id: o.OperationID, method: method, path: path, query: map[string]*openapi3.Parameter{},
		bodies: map[string]*openapi3.Schema{}}
	op.readSecurity(doc, o)
	for _, ref := range o.Parameters {
		op.readParameter(ref.Value)
	}
	op.standby, _ = o.Extensions["x-standby"].(bool)
	if o.RequestBody != nil {
		op.readBody(o.RequestBody.Value)
	}
	op.readSuccess(o)
	return op
}

func (op *operation) readSecurity(doc *openapi3.T, o *openapi3.Operation) {
	requirements := &doc.Security
	if o.Security != nil {
		requirements = o.Security
	}
	op.keyless = len(*requirements) == 0
	for _, requirement := range *requirements {
		op.optional = op.optional || len(requirement) == 0
		_, key := requirement["accessKey"]
		_, session := requirement["session"]
		op.keyed, op.session, op.people = op.keyed || key, op.session || session, op.people || session
		for _, scope := range requirement["accessKey"] {
			op.scopes = append(op.scopes, access.Scope(scope))
		}
	}
}

func (op *operation) readParameter(p *openapi3.Parameter) {
	switch {
	case p.In == "query":
		op.query[p.Name] = p
	case p.In == "path":
		op.pathVars = append(op.pathVars, p)
	case p.Name == "Idempotency-Key":
		op.needsKey = true
	case p.Name == "If-Match":
		op.needsTag = op.method != http.MethodPut // a PUT makes new things too: its handler asks
	}
}

func (op *operation) readBody(b *openapi3.RequestBody) {
	for mediaType, content := range b.Content {
		op.takes = append(op.takes, mediaType)
		if (mediaType == jsonType || mediaType == patchType) && content.Schema != nil {
			op.bodies[mediaType] = content.Schema.Value
		}
	}
	slices.Sort(op.takes)
	op.streamed = slices.ContainsFunc(op.takes, func(mediaType string) bool { return op.bodies[mediaType] == nil })
}

func (op *operation) readSuccess(o *openapi3.Operation) {
	for code, response := range o.Responses.Map() {
		if !strings.HasPrefix(code, "2") || response.Value == nil {
			continue
		}
		for mediaType, content := range response.Value.Content {
			if mediaType == jsonType && content.Schema != nil {
				op.success = content.Schema.Value
			}
			if !slices.Contains(op.gives, mediaType) {
				op.gives = append(op.gives, mediaType)
			}
		}
	}
	slices.SortFunc(op.gives, func(a, b string) int {
		if (a == jsonType) != (b == jsonType) {
			if a == jsonType {
				return -1
			}
			return 1
		}
		return strings.Compare(a, b)
	})
}

var pathVariable = regexp.MustCompile(`\{([^}]+)\}`)

// route is the path in echo's notation.
func (op *operation) route() string { return pathVariable.ReplaceAllString(op.path, ":$1") }
