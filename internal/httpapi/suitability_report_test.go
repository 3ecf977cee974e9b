package httpapi_test

import (
	"encoding/csv"
	"net/http"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"meniscus/internal/pgtest"
)

// The report across a collection says of each specimen what its own answer says,
// and counts every specimen once for each analysis.
func TestSuitabilityAcrossACollection(t *testing.T) {
	t.Parallel()
	a := newAwkward(t)
	bare := a.create("/v1/specimens", specimen("LV.2001/0001")).id()
	herbarium := a.create("/v1/specimens", object{"identifiers": array{object{"kind": "catalogue-number", "value": "B.12"}}, "collection": "botany"}).id()
	all := a.do(http.MethodGet, "/v1/reports/suitability?collection=palaeontology&at=2026-03-02", nil).want(http.StatusOK)
	items := map[string]object{}
	for i := range all.at("items").([]any) {
		item := all.at("items", i).(object)
		items[idOf(item["specimen"])] = item
	}
	if len(items) != 2 || items[herbarium] != nil {
		t.Fatalf("got %d specimens, want the two of the collection: %s", len(items), all.body)
	}
	for id, item := range items {
		own := a.do(http.MethodGet, "/v1/specimens/"+id+"/suitability?detail=full&at=2026-03-02", nil).want(http.StatusOK)
		for _, member := range []string{"analyses", "exposures", "unrecorded", "references"} {
			if diff := cmp.Diff(own.at(member), item[member]); diff != "" {
				t.Errorf("%s of %s (-its own +the report's):\n%s", member, id, diff)
			}
		}
	}
	if got := items[bare]; got["treatments"] != 0.0 || got["analyses"].([]any)[0].(object)["verdict"] != "not-recorded" {
		t.Errorf("got %v, want nothing recorded of the bare specimen", got)
	}
	for i := range all.at("totals").([]any) {
		total := all.at("totals", i).(object)
		if sum := total["bears"].(float64) + total["mayBear"].(float64) + total["nothingKnown"].(float64) + total["notRecorded"].(float64); sum != 2 {
			t.Errorf("got total %v, want both specimens counted once", total)
		}
	}
	if all.at("totals", 0, "analysis") != "radiocarbon" || all.at("totals", 0, "bears") != 1.0 || all.at("totals", 0, "notRecorded") != 1.0 {
		t.Errorf("got %v, want one that bears on radiocarbon dating and one without record", all.at("totals", 0))
	}
}

func TestSuitabilityOfNamedSpecimens(t *testing.T) {
	t.Parallel()
	a := newAwkward(t)
	bare := a.create("/v1/specimens", specimen("LV.2001/0001")).id()
	nobody := uuid.NewString()
	got := a.do(http.MethodGet, "/v1/reports/suitability?analysis=ancient-dna&specimens="+bare+","+nobody, nil).want(http.StatusOK)
	if len(got.at("items").([]any)) != 1 || got.at("items", 0, "specimen", "id") != bare ||
		len(got.at("items", 0, "analyses").([]any)) != 1 || got.at("unknown", 0, "id") != nobody {
		t.Errorf("got %s, want the bare one alone, for one analysis, and the other not known here", got.body)
	}
	a.do(http.MethodGet, "/v1/reports/suitability?specimens="+strings.Repeat("-", 36), nil).want(http.StatusBadRequest)
	a.do(http.MethodGet, "/v1/reports/suitability?analysis=alchemy", nil).want(http.StatusBadRequest)
	none := a.do(http.MethodGet, "/v1/reports/suitability?collection=nowhere", nil).want(http.StatusOK)
	if len(none.at("items").([]any)) != 0 {
		t.Errorf("got %s, want none", none.body)
	}
}

func TestSuitabilityAsATable(t *testing.T) {
	t.Parallel()
	a := newAwkward(t)
	a.create("/v1/specimens", specimen("=LV.2001"))
	got := a.do(http.MethodGet, "/v1/reports/suitability", nil, header{"Accept", "text/csv"}).want(http.StatusOK)
	table, err := csv.NewReader(strings.NewReader(string(got.body))).ReadAll()
	if err != nil || len(table) != 1+2*13 || table[0][0] != "specimen" {
		t.Fatalf("got %d lines, %v; want a head and two specimens with thirteen analyses", len(table), err)
	}
	for _, row := range table[1:] {
		if row[5] == "bears" && (row[6] == "" || row[9] == "" || row[10] == "") {
			t.Errorf("got %v, want what bears, its effect and where", row)
		}
		if strings.HasPrefix(row[1], "=") {
			t.Errorf("got %q, which a spreadsheet takes for a formula", row[1])
		}
	}
}

// TestSuitabilityHasPages: one request works out 500 specimens; the cursor leads to the
// others, each once, as JSON and as a table.
func TestSuitabilityHasPages(t *testing.T) {
	t.Parallel()
	a := newAwkward(t)
	super := pgtest.Pool(t, a.db.Super())
	if _, err := super.Exec(t.Context(), `insert into specimen (institution_id, id, revision) select institution_id, gen_random_uuid(), 1 from specimen, generate_series(1, 1001)`); err != nil {
		t.Fatal(err)
	}
	seen, path := map[string]bool{}, "/v1/reports/suitability?analysis=ct"
	for pages := []int{500, 500, 2}; len(pages) > 0; pages = pages[1:] {
		got := a.do(http.MethodGet, path, nil).want(http.StatusOK)
		items := got.at("items").([]any)
		if len(items) != pages[0] {
			t.Fatalf("got %d specimens, want %d", len(items), pages[0])
		}
		for _, item := range items {
			seen[idOf(item.(object)["specimen"])] = true
		}
		if table := a.do(http.MethodGet, path, nil, header{"Accept", "text/csv"}).want(http.StatusOK); strings.Count(string(table.body), "\n") != 1+pages[0] {
			t.Errorf("got a table of %d lines, want %d", strings.Count(string(table.body), "\n"), 1+pages[0])
		}
		if len(pages) == 1 {
			break
		}
		path = "/v1/reports/suitability?analysis=ct&cursor=" + got.at("next", "cursor").(string)
	}
	if len(seen) != 1002 {
		t.Errorf("got %d specimens in all, want each once", len(seen))
	}
}
