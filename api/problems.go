package api

import (
	"slices"
	"strconv"
	"strings"

	"github.com/getkin/kin-openapi/openapi3"
)

// Documented is what an operation answers with a status, or nil if it documents no such
// answer: the response of problems is default, and their statuses stand in x-problems.
func Documented(op *openapi3.Operation, status int) *openapi3.Response {
	key := strconv.Itoa(status)
	if status >= 400 {
		key = "default"
		if !slices.Contains(ProblemStatuses(op), status) {
			return nil
		}
	}
	if ref := op.Responses.Value(key); ref != nil {
		return ref.Value
	}
	return nil
}

// ProblemStatuses are the statuses of an operation's problems.
func ProblemStatuses(op *openapi3.Operation) []int {
	listed, _ := op.Extensions["x-problems"].([]any)
	statuses := make([]int, 0, len(listed))
	for _, status := range listed {
		if n, is := status.(float64); is {
			statuses = append(statuses, int(n))
		}
	}
	return statuses
}

// Codes are the codes of an operation's problems, by their statuses: those of the groups
// of x-problem-codes that hold for the operation, as far as it has their statuses.
func Codes(doc *openapi3.T, op *openapi3.Operation) map[int][]string {
	path := pathOf(doc, op)
	groups, _ := doc.Extensions["x-problem-codes"].(map[string]any)
	codes := map[int][]string{}
	for name, group := range groups {
		byStatus, _ := group.(map[string]any)
		if !holds(name, path, op) {
			continue
		}
		for key, listed := range byStatus {
			status, err := strconv.Atoi(key)
			if err != nil || !slices.Contains(ProblemStatuses(op), status) {
				continue
			}
			for _, code := range listed.([]any) {
				codes[status] = append(codes[status], code.(string))
			}
		}
	}
	for status := range codes {
		slices.Sort(codes[status])
		codes[status] = slices.Compact(codes[status])
	}
	return codes
}

// holds tells whether a group of codes is of an operation.
func holds(group, path string, op *openapi3.Operation) bool {
	switch group {
	case "every":
		return true
	case "compute":
		return slices.Contains(op.Tags, "compute") || path == "/v1/treatment-checks"
	case "statements":
		return !slices.Contains(op.Tags, "compute")
	case "body":
		return op.RequestBody != nil || slices.Contains(ProblemStatuses(op), 422)
	case "pages":
		return takes(op, "cursor")
	case "creates":
		return takes(op, "Idempotency-Key")
	case "keyed", "stale", "quantities":
		return true // their statuses are of no other operations
	}
	if status, err := strconv.Atoi(group); err == nil {
		return slices.Contains(ProblemStatuses(op), status)
	}
	words := strings.Split(strings.TrimPrefix(path, "/v1"), "/")
	return slices.Contains(words, group)
}

func takes(op *openapi3.Operation, parameter string) bool {
	return slices.ContainsFunc(op.Parameters, func(p *openapi3.ParameterRef) bool { return p.Value.Name == parameter })
}

func pathOf(doc *openapi3.T, op *openapi3.Operation) string {
	for path, item := range doc.Paths.Map() {
		for _, o := range item.Operations() {
			if o.OperationID == op.OperationID {
				return path
			}
		}
	}
	return ""
}
