package layers_test

import (
	"encoding/json"
	"fmt"
	"testing"

	"meniscus/internal/layers"
	"meniscus/internal/postgres"
)

// TestARowListsAHundredLiquids: a row counts the liquids beyond those that the contract lets it list.
func TestARowListsAHundredLiquids(t *testing.T) {
	t.Parallel()
	liquids := make([]string, 130)
	for i := range liquids {
		liquids[i] = fmt.Sprint("liquid-", i)
	}
	body, err := json.Marshal(map[string]any{"material": "shellac", "certainty": "documented", "ageing": "aged",
		"removedBy": liquids, "testsOnly": liquids[:100], "settled": true})
	if err != nil {
		t.Fatal(err)
	}
	text := string(body)
	got, settled := layers.ReversibleItem(postgres.ReversibleRow{Body: &text})
	if !settled || len(*got.RemovedBy) != 100 || *got.MoreRemovedBy != 30 || len(*got.TestsOnly) != 100 || got.MoreTestsOnly != nil {
		t.Errorf("got %+v, want 100 of 130 and 100", got)
	}
}
