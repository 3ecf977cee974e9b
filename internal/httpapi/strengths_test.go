package httpapi_test

import (
	"net/http"
	"strings"
	"testing"

	"meniscus/internal/material"
)

// TestStrengthsInPractice sends every request that is said to be ready, for every
// material of which a customary strength is known.
func TestStrengthsInPractice(t *testing.T) {
	t.Parallel()
	s := open(t)
	made, shown := 0, 0
	for _, m := range material.Builtin().Materials(material.Filter{}) {
		known := material.Builtin().Strengths(m.ID, material.AnyRole)
		got := s.do(http.MethodGet, "/v1/materials/"+m.ID+"/strengths?solvent=acetone&detail=full", nil).want(200)
		ranges, _ := got.at("ranges").([]any)
		if len(ranges) != len(known) {
			t.Errorf("%s: got %d ranges, want %d", m.ID, len(ranges), len(known))
		}
		for i, r := range ranges {
			one := r.(map[string]any)
			request, ready := one["request"].(map[string]any)
			if lacks := one["lacks"]; ready == (lacks != nil) {
				t.Errorf("%s: got the request %v and lacks %v, want one of them", m.ID, request, lacks)
			}
			for operation, path := range map[string]string{"makeUp": "make-up", "convert": "convert"} {
				if request[operation] == nil {
					continue
				}
				if operation == "makeUp" {
					made++
				} else {
					shown++
				}
				answer := s.do(http.MethodPost, "/v1/compute/"+path, request[operation])
				if answer.status != 200 {
					t.Errorf("%s, %s: %v: %s", m.ID, known[i].Remark, request, answer.body)
				}
			}
		}
	}
	if made < 4 || shown < 40 {
		t.Errorf("%d requests to make up and %d to convert were sent, want more", made, shown)
	}
}

// TestStrengthsForARoleAndABody: the nearest come first, what is for other bodies is
// counted, and a basis that the source does not give stays unknown.
func TestStrengthsForARoleAndABody(t *testing.T) {
	t.Parallel()
	s := open(t)
	const resin = "/v1/materials/ethyl-methacrylate-methyl-acrylate-copolymer/strengths"
	got := s.do(http.MethodGet, resin+"?role=consolidant&body=bone&detail=full", nil).want(200)
	ranges, _ := got.at("ranges").([]any)
	for i, r := range ranges {
		one := r.(map[string]any)
		if one["role"] != "consolidant" {
			t.Errorf("got a range for %v, want those of a consolidant alone", one["role"])
		}
		if bodies := one["bodies"]; (bodies != nil) != (i < 2) { // two sources speak of bone
			t.Errorf("range %d is for %v, want bone first and then what names no body", i, bodies)
		}
	}
	if n := got.at("forOtherBodies"); n != 3.0 { // wood, and plaster twice
		t.Errorf("got %v for other bodies, want 3", n)
	}
	if said := ranges[0].(map[string]any)["said"].(string); said != "consolidant: 5 to 10 %, basis not stated, in acetone" {
		t.Errorf("got %q", said)
	}
	if said := got.at("answer").(string); !strings.Contains(said, "9 on an unknown basis") {
		t.Errorf("got %q, want it to say that bases are unknown", said)
	}
	brief := s.do(http.MethodGet, resin+"?role=consolidant&body=bone", nil).want(200)
	if len(brief.body) > 3000 || brief.size("ranges") != 5 || brief.at("moreRanges") != float64(len(ranges)-5) || brief.at("sources") != nil {
		t.Errorf("in brief: %d bytes: %s", len(brief.body), brief.body)
	}
	text := string(s.do(http.MethodGet, resin+"?role=consolidant&body=bone", nil, header{"Accept", "text/plain"}).want(200).body)
	for _, want := range []string{"- consolidant: 5 to 10 %, basis not stated, in acetone", "more ranges are on record", "safety data sheet"} {
		if !strings.Contains(text, want) {
			t.Errorf("got no %q in\n%s", want, text)
		}
	}
	none := s.do(http.MethodGet, "/v1/materials/acetone/strengths", nil).want(200)
	if said := none.at("answer").(string); !strings.HasPrefix(said, "No strength at which practice uses acetone is known") {
		t.Errorf("got %q, want that none is known", said)
	}
	for path, problem := range map[string]struct {
		status int
		code   string
	}{
		"/v1/materials/nothing/strengths": {404, "material-unknown"},
		resin + "?solvent=nothing":        {422, "validation"},
		resin + "?solvent=shellac":        {422, "validation"},
		resin + "?role=varnish":           {400, "malformed-request"},
	} {
		s.do(http.MethodGet, path, nil).wantProblem(problem.status, problem.code)
	}
}
