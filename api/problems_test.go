package api_test

import (
	"slices"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"

	"meniscus/api"
)

// TestCodesAreOfTheirOperations: an operation lists the codes of problems about a header,
// a body, a cursor and a precondition only where it takes these, and a code for each
// status.
func TestCodesAreOfTheirOperations(t *testing.T) {
	t.Parallel()
	doc, err := api.Document()
	if err != nil {
		t.Fatal(err)
	}
	for _, item := range doc.Paths.Map() {
		for _, op := range item.Operations() {
			judgeCodesOf(t, doc, op)
		}
	}
}

func judgeCodesOf(t *testing.T, doc *openapi3.T, op *openapi3.Operation) {
	t.Helper()
	codes := api.Codes(doc, op)
	for _, status := range api.ProblemStatuses(op) {
		if len(codes[status]) == 0 {
			t.Errorf("%s lists no code for %d", op.OperationID, status)
		}
	}
	key, tag := header(op, "Idempotency-Key"), header(op, "If-Match")
	asked := jsonOf(op)
	for _, c := range []struct {
		status int
		code   string
		given  bool
	}{
		{400, "idempotency-key-invalid", key != nil},
		{422, "idempotency-key-reused", key != nil},
		{400, "idempotency-key-missing", key != nil && (key.Required || has(asked, "source"))},
		{428, "if-match-missing", tag != nil && (tag.Required || op.OperationID == "stateMaterial")}, // a PUT of what is there
		{400, "body-not-read", op.RequestBody != nil},
		{413, "body-too-large", op.RequestBody != nil},
		{415, "media-type-not-taken", op.RequestBody != nil},
		{422, "validation", op.RequestBody != nil || op.OperationID == "readStrengths"}, // whose query is judged
		{400, "json-malformed", asked != nil},
		{422, "member-unknown", asked != nil},
		{400, "invalid-cursor", op.Parameters.GetByInAndName("query", "cursor") != nil && has(answerOf(op), "next")},
		{401, "access-key-missing", op.Security == nil || len(*op.Security) > 0},
		{409, "id-taken", has(asked, "id") || made(op)},
		{409, "source-record-differs", has(asked, "source") || made(op) && op.OperationID != "stateMaterial" && asked != nil},
	} {
		if got := slices.Contains(codes[c.status], c.code); got != c.given {
			t.Errorf("%s lists %s: %v, want %v", op.OperationID, c.code, got, c.given)
		}
	}
	if stale := slices.Contains(api.ProblemStatuses(op), 412); stale != (tag != nil) {
		t.Errorf("%s lists 412: %v, and takes If-Match: %v", op.OperationID, stale, tag != nil)
	}
	asks := slices.ContainsFunc(op.Parameters, func(p *openapi3.ParameterRef) bool { return p.Value.In != "header" })
	if len(codes[404]) > 0 && !asks &&
		!slices.Contains([]string{"createWebhook", "readCheckpoint", "stateSourceRecords"}, op.OperationID) {
		t.Errorf("%s lists %v, and asks for nothing by its id", op.OperationID, codes[404])
	}
}

// made tells whether an operation makes records whose ids and sources do not stand first in a
// body of JSON.
func made(op *openapi3.Operation) bool {
	return slices.Contains([]string{"createGroupTreatment", "fillBottles", "stateMaterial", "stateSourceRecord",
		"stateSourceRecords", "receiveSpecimen"}, op.OperationID)
}

func header(op *openapi3.Operation, name string) *openapi3.Parameter {
	return op.Parameters.GetByInAndName("header", name)
}

func jsonOf(op *openapi3.Operation) *openapi3.Schema {
	if op.RequestBody == nil || op.RequestBody.Value.Content["application/json"] == nil {
		return nil
	}
	return op.RequestBody.Value.Content["application/json"].Schema.Value
}

func answerOf(op *openapi3.Operation) *openapi3.Schema {
	ok := op.Responses.Value("200")
	if ok == nil || ok.Value.Content["application/json"] == nil {
		return nil
	}
	return ok.Value.Content["application/json"].Schema.Value
}

func has(schema *openapi3.Schema, member string) bool {
	return schema != nil && schema.Properties[member] != nil
}
