package record

import (
	"slices"
	"testing"

	"meniscus/api"
)

// TestTheContractListsTheDemands: the contract lists every rule that a caller can filter by.
func TestTheContractListsTheDemands(t *testing.T) {
	t.Parallel()
	doc, err := api.Document()
	if err != nil {
		t.Fatal(err)
	}
	var got, want []string
	for _, name := range doc.Components.Schemas["CompletenessRule"].Value.Enum {
		got = append(got, name.(string))
	}
	for id := range demands {
		want = append(want, id)
	}
	slices.Sort(got)
	slices.Sort(want)
	if !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}
