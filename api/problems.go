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
// of x-problem-codes that are of the operation, as far as it has their statuses.
func Codes(doc *openapi3.T, op *openapi3.Operation) map[int][]string {
	words := wordsOf(op, pathOf(doc, op))
	groups, _ := doc.Extensions["x-problem-codes"].(map[string]any)
	codes := map[int][]string{}
	for name, group := range groups {
		byStatus, _ := group.(map[string]any)
		if !slices.ContainsFunc(texts(byStatus["of"], name), func(word string) bool { return words[word] }) {
			continue
		}
		for key, listed := range byStatus {
			status, err := strconv.Atoi(key)
			if err == nil && slices.Contains(ProblemStatuses(op), status) {
				codes[status] = append(codes[status], texts(listed)...)
			}
		}
	}
	for status := range codes {
		slices.Sort(codes[status])
		codes[status] = slices.Compact(codes[status])
	}
	return codes
}

// texts are the texts of a list, or otherwise where there is no list.
func texts(list any, otherwise ...string) []string {
	items, is := list.([]any)
	if !is {
		return otherwise
	}
	found := make([]string, len(items))
	for i, item := range items {
		found[i], _ = item.(string)
	}
	return found
}

// wordsOf are the words by which groups of codes name an operation: its id, the segments
// of its path, its parameters, the statuses of its problems, and whether it takes a body.
func wordsOf(op *openapi3.Operation, path string) map[string]bool {
	words := map[string]bool{"every": true, op.OperationID: true}
	for segment := range strings.SplitSeq(path, "/") {
		words[segment] = true
	}
	for _, p := range op.Parameters {
		words[p.Value.Name] = true
	}
	for _, status := range ProblemStatuses(op) {
		words[strconv.Itoa(status)] = true
	}
	if op.RequestBody != nil {
		words["takes-body"], words["takes-json"] = true, op.RequestBody.Value.Content["application/json"] != nil
	}
	return words
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
