package stack_test

import (
	"slices"
	"testing"

	"meniscus/api"
	"meniscus/internal/stack"
)

// TestTheContractListsTheRules: callers read the names of all rules in the contract, in the order of the checks.
func TestTheContractListsTheRules(t *testing.T) {
	t.Parallel()
	doc, err := api.Document()
	if err != nil {
		t.Fatal(err)
	}
	var got, want []string
	for _, name := range doc.Components.Schemas["RuleId"].Value.Enum {
		got = append(got, name.(string))
	}
	for _, r := range stack.Rules() {
		want = append(want, r.ID)
	}
	if !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}
