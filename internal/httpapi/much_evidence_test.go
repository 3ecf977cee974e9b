package httpapi_test

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"
)

// TestMoreEvidenceThanAnAnswerHolds: of a layer that was tested more often than answers
// name tests, each answer keeps some, counts the others, and keeps one that contradicts.
func TestMoreEvidenceThanAnAnswerHolds(t *testing.T) {
	t.Parallel()
	s := newService(t)
	bone := s.create("/v1/specimens", specimen("LV.2001/0400")).id()
	coated := treatment(bone, "coating", "1999")
	coated["materials"] = array{object{"used": object{"material": object{"id": "ethyl-methacrylate-methyl-acrylate-copolymer"}}}}
	coat := s.create("/v1/treatments", coated).id()
	const n = 120
	var tests []string
	for i := range n {
		test, observed := treatment(bone, "test", fmt.Sprintf("%d-%02d", 2000+i/12, 1+i%12)), "dissolves"
		if i == 0 {
			observed = "no-effect"
		}
		test["areas"] = object{"paths": array{fmt.Sprint("skull/left-orbit/spot-", i)}}
		test["test"] = object{"layer": object{"id": coat}, "solvent": "acetone", "observed": observed}
		tests = append(tests, s.create("/v1/treatments", test).id())
	}
	undoing := s.do(http.MethodGet, "/v1/specimens/"+bone+"/present-state?detail=full&area=skull/left-orbit", nil).want(http.StatusOK)
	plan := s.do(http.MethodGet, "/v1/specimens/"+bone+"/removal-plan?detail=full", nil).want(http.StatusOK)
	candidates := plan.at("steps", 0, "candidates").(array)
	acetone := slices.IndexFunc(candidates, func(c any) bool { return c.(object)["solvent"] == "acetone" })
	for of, got := range map[string]any{
		"present state": undoing.at("areas", 2, "layers", 0, "reversibility", "redissolvable"),
		"removal plan":  candidates[acetone],
	} {
		answer := got.(object)
		evidence, more := answer["evidence"].(array), answer["moreEvidence"].(float64)
		if len(evidence)+int(more) < n || len(evidence) > 20 {
			t.Errorf("%s: got %d entries and %v more, want 20 at most and all counted", of, len(evidence), more)
		}
		if first := idOf(evidence[0].(object)["treatment"]); first != tests[n-1] {
			t.Errorf("%s: got %v first, want the newest test", of, first)
		}
		if !strings.Contains(fmt.Sprint(evidence), tests[0]) {
			t.Errorf("%s: got no word of the test that saw something else", of)
		}
	}
}

// TestMoreThanIsWorkedOutOfOneSpecimen: with more on record of a specimen than is worked
// out, each view says so, and names the limit; its page shows the rest.
func TestMoreThanIsWorkedOutOfOneSpecimen(t *testing.T) {
	t.Parallel()
	s := newService(t)
	bone := s.create("/v1/specimens", specimen("LV.2001/0401")).id()
	var areas, materials array
	for i := range 500 {
		areas = append(areas, fmt.Sprint("spot-", i))
	}
	for range 100 {
		materials = append(materials, object{"used": object{"material": object{"id": "shellac"}}})
	}
	var last string
	for range 2_000_000/500/100 + 1 {
		coat := treatment(bone, "coating", "1999")
		coat["areas"], coat["materials"] = object{"paths": areas}, materials
		last = s.create("/v1/treatments", coat).id()
	}
	views := []string{"present-state", "removal-plan", "suitability", "travel-temperature", "timeline"}
	for i, view := range views {
		views[i] = "/v1/specimens/" + bone + "/" + view
	}
	for _, path := range append(views, "/v1/treatments/"+last+"/findings?detail=full") {
		got := s.do(http.MethodGet, path, nil).wantProblem(http.StatusConflict, "more-than-is-worked-out")
		if detail := fmt.Sprint(got.at("detail")); !strings.Contains(detail, "2000000 is the limit") {
			t.Errorf("%s: got %q, want the limit", path, detail)
		}
	}
	s.do(http.MethodPost, "/v1/treatment-checks?detail=full", object{"treatment": treatment(bone, "cleaning", "2026-03-02")}).
		wantProblem(http.StatusConflict, "more-than-is-worked-out")
	if page := s.as("text/html", "/v1/specimens/"+bone); page.status != http.StatusOK ||
		!strings.Contains(string(page.body), "is the limit") {
		t.Errorf("got %d, want a page that says what is not worked out", page.status)
	}
}
