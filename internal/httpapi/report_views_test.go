package httpapi_test

import (
	"encoding/csv"
	"net/http"
	"strings"
	"testing"
)

// TestTheReportIsOfTheLayersThemselves: an immersion is reported where it reached,
// a date of about a year within its margin, a rest that nobody knows as unknown, and
// a strength in the table as in the JSON.
func TestTheReportIsOfTheLayersThemselves(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull := s.create("/v1/specimens", specimen("LV.1")).id()
	bath := treatment(skull, "consolidation", "1988~")
	bath["areas"], bath["method"] = object{"paths": array{"skull/orbit"}}, "immersion"
	bath["materials"] = array{object{"used": object{"material": object{"id": "ethyl-methacrylate-methyl-acrylate-copolymer",
		"strength": object{"value": 5, "unit": "g/dL", "basis": "mass-per-solution-volume"}}}}}
	id := s.create("/v1/treatments", bath).id()
	off := treatment(skull, "removal", "1987-12")
	off["areas"] = object{"paths": array{"whole"}}
	off["removal"] = object{"treatments": array{object{"id": id}}, "left": "unknown"}
	s.create("/v1/treatments", off)
	s.refresh()

	present := s.do(http.MethodGet, "/v1/specimens/"+skull+"/present-state?detail=full", nil).want(200)
	if n := len(present.at("contradictions").([]any)); n != 0 {
		t.Errorf("got %d contradictions, want none about 1988: %s", n, present.body)
	}
	for query, want := range map[string]bool{"?until=1987-06-01": true, "?until=1986-12-31": false, "?from=1989-12-01": true, "?area=jaw": true} {
		if got := strings.Contains(string(s.report(t, query).body), id); got != want {
			t.Errorf("%s: got %v, want %v", query, got, want)
		}
	}
	row := s.report(t, "")
	if row.at("items", 0, "state") != "unknown" || row.at("items", 0, "dates", "written") != "1988~" || !strings.Contains(string(row.body), `"areas":["skull/orbit","whole"]`) {
		t.Errorf("got %s, want a layer on the whole piece, about 1988, of which nobody knows what is left", row.body)
	}
	table := s.do(http.MethodGet, "/v1/reports/reversible-treatments", nil, header{"Accept", "text/csv"}).want(200)
	cells, err := csv.NewReader(strings.NewReader(string(table.body))).ReadAll()
	if err != nil || len(cells) != 2 {
		t.Fatalf("got %d lines, %v", len(cells), err)
	}
	for i, name := range cells[0] {
		if want := map[string]string{"strength": "5", "strengthUnit": "g/dL", "strengthOrigin": "stated", "dateWritten": "1988~"}[name]; want != "" && cells[1][i] != want {
			t.Errorf("%s: got %q, want %q", name, cells[1][i], want)
		}
	}
	if wrong := s.verify(); len(wrong) > 0 {
		t.Errorf("verify finds %v", wrong)
	}
}

// TestDamageIsReported: of a joint that slumped the report says so, and the report of incomplete
// records asks of a damage that is told in words alone what happened.
func TestDamageIsReported(t *testing.T) {
	t.Parallel()
	s := newService(t)
	bone := s.create("/v1/specimens", specimen("D.1")).id()
	joint := treatment(bone, "joining", "2001")
	joint["materials"] = array{object{"used": object{"material": of("poly-n-butyl-methacrylate")}, "role": "adhesive"}}
	joined := s.create("/v1/treatments", joint).id()
	slumped := treatment(bone, "damage", "2020-07")
	slumped["damage"] = object{"kind": "slumped", "treatments": array{object{"id": joined}}}
	slumped["conditionAfter"] = object{"text": "It hangs."}
	told := s.create("/v1/treatments", slumped).id()
	worded := treatment(bone, "damage", "2021")
	worded["conditionAfter"] = object{"text": "The joint came apart."}
	words := s.create("/v1/treatments", worded).id()
	s.refresh()
	const path = "/v1/reports/reversible-treatments"
	rows := objectsIn(s.do(http.MethodGet, path, nil).want(200).at("items"))
	table := rowsByName(t, string(s.do(http.MethodGet, path, nil, header{"Accept", "text/csv"}).want(200).body))
	if len(rows) != 1 || rows[0]["state"] != "damaged" || rows[0]["damage"] != "slumped" ||
		table[0]["state"] != "damaged" || table[0]["damage"] != "slumped" {
		t.Errorf("got %v and %v, want a joint that slumped", rows, table)
	}
	asked := map[string]bool{}
	for _, item := range objectsIn(s.do(http.MethodGet, "/v1/reports/incomplete-records", nil).want(200).at("items")) {
		for _, gap := range objectsIn(item["missing"]) {
			if gap["pointer"] == "/damage/kind" {
				asked[idOf(item["record"])] = true
			}
		}
	}
	if asked[told] || !asked[words] {
		t.Errorf("asked what happened: of the damage that says it %v, of the other %v", asked[told], asked[words])
	}
}
