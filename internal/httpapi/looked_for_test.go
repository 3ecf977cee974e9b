package httpapi_test

import (
	"net/http"
	"strings"
	"testing"
)

// An examination that looked for something else than what treatments leave, and did not find it, says nothing
// of layers: they are still there, and could come off.
func TestAnExaminationForSomethingElseTakesNoLayerAway(t *testing.T) {
	t.Parallel()
	s := newService(t)
	for lookedFor, want := range map[string]string{"tack and gloss": "present", "arsenic": "present", "shellac": "present",
		"coatings and consolidants": "not-detected", "": "not-detected"} {
		of := s.create("/v1/specimens", specimen("LV.7/"+strings.ReplaceAll(lookedFor, " ", "-")+".")).id()
		put := treatment(of, "consolidation", "2026-03-04")
		put["materials"] = array{object{"used": object{"material": object{"id": "ethyl-methacrylate-methyl-acrylate-copolymer"}},
			"role": "consolidant"}}
		s.create("/v1/treatments", put)
		looked := object{"outcome": "none-found", "how": "by touch"}
		if lookedFor != "" {
			looked["lookedFor"] = lookedFor
		}
		s.create("/v1/treatments", with(treatment(of, "examination", "2026-03-06"), "examination", looked))
		state := s.do(http.MethodGet, "/v1/specimens/"+of+"/present-state", nil).want(200)
		if !strings.Contains(string(state.body), `"state":"`+want+`"`) {
			t.Errorf("%q: got %s, want the layer %s", lookedFor, state.body, want)
		}
		said := string(s.do(http.MethodGet, "/v1/specimens/"+of+"/present-state", nil, header{"Accept", "text/plain"}).want(200).body)
		if strings.Contains(said, "by by") || strings.Contains(said, "not detected") != (want == "not-detected") {
			t.Errorf("%q: got %s", lookedFor, said)
		}
		plan := string(s.do(http.MethodGet, "/v1/specimens/"+of+"/removal-plan", nil, header{"Accept", "text/plain"}).want(200).body)
		if strings.Contains(plan, "Nothing on record could come off") != (want == "not-detected") {
			t.Errorf("%q: got the plan %s", lookedFor, plan)
		}
		summary := s.do(http.MethodGet, "/v1/specimens/"+of+"/summary", nil).want(200)
		if lookedFor != "" && !strings.Contains(string(summary.body), "looked for "+lookedFor) {
			t.Errorf("%q is not in the summary: %s", lookedFor, summary.body)
		}
	}
}
