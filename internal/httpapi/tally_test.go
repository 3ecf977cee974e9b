package httpapi_test

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"net/http"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// yearOf is a museum with treatments in and about 2024: by two people, out of a bottle that was
// filled from a batch, in words, with nobody on record, and on a specimen of another collection.
func yearOf(s *service) (ilse, batch string) {
	resin := s.create("/v1/supplies", object{"code": "S-1", "material": of("ethyl-methacrylate-methyl-acrylate-copolymer")}).id()
	part := func(from object, part string) object {
		return object{"from": from, "part": part, "amount": object{"answer": "unknown"}}
	}
	batch = s.create("/v1/batches", object{"code": "B-1", "kind": "solution", "inputs": array{
		part(object{"supply": object{"id": resin}}, "solute"), part(object{"material": of("acetone")}, "solvent")}}).id()
	bottle := s.create("/v1/batches", object{"code": "B-1a", "kind": "bottle",
		"inputs": array{part(object{"batch": object{"id": batch}}, "stock")}}).id()
	ilse = s.create("/v1/people", object{"name": "Ilse Varga"}).id()
	maja := s.create("/v1/people", object{"name": "Maja Berg"}).id()
	bear := s.create("/v1/specimens", specimen("LV.1")).id()
	other := specimen("LV.2")
	other["collection"] = "botany"
	leaf := s.create("/v1/specimens", other).id()
	put := func(on, action, date string, materials array, people ...string) {
		st := treatment(on, action, date)
		st["people"] = array{}
		for _, id := range people {
			st["people"] = append(st["people"].(array), object{"person": object{"id": id}, "part": "carried-out"})
		}
		if len(st["people"].(array)) == 0 {
			delete(st, "people")
		}
		if materials != nil {
			st["materials"] = materials
		}
		s.create("/v1/treatments", st)
	}
	jar := array{object{"used": object{"batch": object{"id": bottle}}, "role": "consolidant"}}
	put(bear, "consolidation", "2024-03-12", jar, ilse, maja)
	put(bear, "consolidation", "2024-05", jar, ilse)
	put(leaf, "cleaning", "2024-06-01", array{object{"used": object{"material": of("acetone")}}}, maja)
	put(bear, "coating", "2024/2025", array{object{"used": object{"words": object{"verbatim": "PVA", "certainty": "unknown"}}}})
	put(bear, "coating", "1988", jar, maja)
	return ilse, batch
}

const year = "from=2024-01-01&until=2024-12-31"

// TestAYearOfTreatmentsIsCounted: by action, by material also out of a bottle and its batch, by person
// and by collection, each as often as the list of treatments tells with the same filter.
func TestAYearOfTreatmentsIsCounted(t *testing.T) {
	t.Parallel()
	s := newService(t)
	ilse, _ := yearOf(s)
	r := s.do(http.MethodGet, "/v1/reports/treatments?"+year, nil).want(200)
	if r.at("treatments") != 4.0 || r.at("perhaps") != 1.0 {
		t.Errorf("got %v treatments, %v of them perhaps; want 4 and 1", r.at("treatments"), r.at("perhaps"))
	}
	var got []string
	for _, x := range objectsIn(r.at("items")) {
		got = append(got, fmt.Sprint(x["by"], " ", x["name"], " ", x["treatments"]))
	}
	want := []string{"action consolidation 2", "action cleaning 1", "action coating 1",
		"material acetone 3", "material ethyl methacrylate/methyl acrylate copolymer (70:30) 2", "material <nil> 1",
		"person Ilse Varga 2", "person Maja Berg 2", "person <nil> 1", "collection palaeontology 3", "collection botany 1"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("-want +got\n%s", diff)
	}
	for _, x := range objectsIn(r.at("items")) {
		filter := ""
		switch {
		case x["material"] != nil:
			filter = fmt.Sprint("&material=", x["material"])
		case x["person"] != nil:
			filter = "&person=" + idOf(x["person"])
		case x["by"] == "action":
			filter = fmt.Sprint("&action=", x["name"])
		default:
			continue
		}
		listed := objectsIn(s.do(http.MethodGet, "/v1/treatments?limit=50&"+year+filter, nil).want(200).at("items"))
		if float64(len(listed)) != x["treatments"] {
			t.Errorf("%s: the list has %d, the report %v", filter, len(listed), x["treatments"])
		}
	}
	table := s.do(http.MethodGet, "/v1/reports/treatments?"+year, nil, header{"Accept", "text/csv"}).want(200)
	cells, err := csv.NewReader(bytes.NewReader(table.body)).ReadAll()
	if err != nil || len(cells) != len(want)+1 || cells[7][0] != "person" || cells[7][1] != ilse || cells[7][2] != "Ilse Varga" {
		t.Errorf("got %v, %v", cells, err)
	}
	whole := s.do(http.MethodGet, "/v1/reports/treatments", nil).want(200)
	if whole.at("treatments") != 5.0 || whole.at("perhaps") != 0.0 {
		t.Errorf("of all times: got %v and %v, want 5 and 0", whole.at("treatments"), whole.at("perhaps"))
	}
	none := s.do(http.MethodGet, "/v1/reports/treatments?from=2030-01-01", nil).want(200)
	if none.at("treatments") != 0.0 || len(objectsIn(none.at("items"))) != 0 {
		t.Errorf("got %s of a year without treatments", none.body)
	}
	s.do(http.MethodGet, "/v1/reports/treatments?from=2024-02-30", nil).want(400)
}

// A person whose name was erased is counted, and not named.
func TestAnErasedPersonIsCountedWithoutName(t *testing.T) {
	t.Parallel()
	s := newService(t)
	ilse, _ := yearOf(s)
	s.do(http.MethodPost, "/v1/people/"+ilse+"/erasure", object{"reason": "Asked for."}, anyTag).want(201)
	for _, x := range objectsIn(s.do(http.MethodGet, "/v1/reports/treatments", nil).want(200).at("items")) {
		if x["person"] != nil && idOf(x["person"]) == ilse && (x["name"] != nil || x["treatments"] != 2.0) {
			t.Errorf("got %v", x)
		}
	}
	said := wordsOf(s.as(asPage, "/v1/reports/treatments").want(200))
	if !strings.Contains(said, "A person whose name was erased 2") || strings.Contains(said, "Ilse") {
		t.Errorf("got %s", said)
	}
}

// Reports are looked at: a chart with what it shows in words, and all figures in the table below, as
// a page and as a PDF.
func TestReportsAreLookedAt(t *testing.T) {
	t.Parallel()
	s := newService(t)
	yearOf(s)
	s.refresh()
	for path, wanted := range map[string][]string{
		"/v1/reports/treatments?" + year: {"Treatments: 1 January 2024 to 31 December 2024",
			"4 treatments may have been in this period", "The dates of 1 treatment do not show", "By action", "Consolidation 2, ",
			"Action Treatments", "Consolidation 2", "By material", "acetone 3", "Not recorded, or in words alone 1", "By person",
			"Ilse Varga 2", "Nobody is on record 1", "By collection", "palaeontology 3", "made on "},
		"/v1/reports/reversible-treatments?collection=palaeontology": {"Reversible treatments: all times",
			"4 treatments left 4 layers in this period", "Only of collection palaeontology", "dissolved again?", "Yes 3",
			"Answer Layers", "Unknown", "out of this body?", "treated again?", "Each layer, by date", "LV.1: Coating, 1988",
			"Hazards: ", "Dissolves again: ", "Comes off with: acetone, "},
	} {
		page := s.as(asPage, path).want(200)
		inOrder(t, path, wordsOf(page), wanted)
		if n := bytes.Count(page.body, []byte(`role="img" width="100%"`)); n < 3 {
			t.Errorf("%s has %d charts", path, n)
		}
		if body := s.as("application/pdf", path).want(200).body; !bytes.HasPrefix(body, []byte("%PDF-")) {
			t.Errorf("%s: got %.40s, want a PDF", path, body)
		}
	}
}

// What is missing is a table too: a row for each thing, with what people call the record.
func TestWhatIsMissingIsATable(t *testing.T) {
	t.Parallel()
	s := newService(t)
	yearOf(s)
	const path = "/v1/reports/incomplete-records?rule=people"
	want := map[string]int{}
	for _, x := range objectsIn(s.do(http.MethodGet, path, nil).want(200).at("items")) {
		for _, gap := range objectsIn(x["missing"]) {
			if gap["rule"] == "people" {
				want[fmt.Sprint(idOf(x["record"]), gap["pointer"])]++
			}
		}
	}
	got := map[string]int{}
	for _, row := range rowsByName(t, string(s.do(http.MethodGet, path, nil, header{"Accept", "text/csv"}).want(200).body)) {
		got[row["record"]+row["pointer"]]++
		if !strings.HasPrefix(row["called"], "LV.") || row["rule"] != "people" || row["field"] == "" || row["why"] == "" {
			t.Errorf("got the row %v", row)
		}
	}
	if diff := cmp.Diff(want, got); diff != "" || len(want) < 4 {
		t.Errorf("the rows of the table are not those of the list: -want +got\n%s", diff)
	}
	scheduled := s.do(http.MethodPost, "/v1/report-schedules", with(with(daily(), "report",
		object{"incompleteRecords": object{}}), "format", "csv"), header{"Idempotency-Key", "csv"})
	if scheduled.status != 201 {
		t.Errorf("a schedule of the table: %s", scheduled.body)
	}
}
