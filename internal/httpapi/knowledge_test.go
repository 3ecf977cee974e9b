package httpapi_test

import (
	"net/http"
	"slices"
	"strings"
	"testing"
)

// open is a service without a database and a caller without a key: enough for
// everything that is built in.
func open(t testing.TB) *service {
	t.Helper()
	return &service{t: t, url: newServer(t, nil).URL}
}

func TestMaterialsArePagedThroughWithoutAKey(t *testing.T) {
	t.Parallel()
	s := open(t)
	seen := map[string]bool{}
	path := "/v1/materials?limit=40"
	for pages := 0; path != ""; pages++ {
		r := s.do(http.MethodGet, path, nil).want(http.StatusOK)
		for _, id := range r.ids() {
			if seen[id] {
				t.Fatalf("%s stands on two pages", id)
			}
			seen[id] = true
		}
		next, _ := r.at("next", "href").(string)
		path = strings.TrimPrefix(next, "https://meniscus.example")
		if (next != "") != (r.header.Get("Link") != "") || pages > 3 {
			t.Fatalf("page %d: next %q, Link %q", pages, next, r.header.Get("Link"))
		}
	}
	if len(seen) < 100 || !seen["acetone"] || !seen["white-spirit-stoddard-solvent"] {
		t.Errorf("got %d materials, want all", len(seen))
	}
}

func TestMaterialsAreFiltered(t *testing.T) {
	t.Parallel()
	s := open(t)
	for path, want := range map[string]string{
		"/v1/materials?kind=dispersion":               "acrylic-colloidal-dispersion acrylic-dispersion poly-vinyl-acetate-dispersion",
		"/v1/materials?text=Vinyl%20Butyral":          "poly-vinyl-butyral pvb-high-hydroxyl pvb-low-hydroxyl",
		"/v1/materials?text=isopropanol":              "propan-2-ol",
		"/v1/materials?words=PVA":                     "poly-vinyl-acetate-dispersion poly-vinyl-acetate-resin poly-vinyl-alcohol",
		"/v1/materials?words=thin+PVB+in+ethanol":     "ethanol pvb-high-hydroxyl pvb-low-hydroxyl",
		"/v1/materials?words=never+heard+of":          "",
		"/v1/materials?kind=wax&text=beeswax&limit=1": "beeswax",
	} {
		if got := strings.Join(s.do(http.MethodGet, path, nil).want(http.StatusOK).ids(), " "); got != want {
			t.Errorf("%s: got %q, want %q", path, got, want)
		}
	}
	if got := s.do(http.MethodGet, "/v1/materials?words=PEG%204000", nil).at("items", 0, "grade"); got != "4000" {
		t.Errorf("PEG 4000: got grade %v", got)
	}
	s.do(http.MethodGet, "/v1/materials?kind=gadget", nil).wantProblem(http.StatusBadRequest, "malformed-request")
	s.do(http.MethodGet, "/v1/materials?cursor=!!", nil).wantProblem(http.StatusBadRequest, "malformed-request")
	s.do(http.MethodGet, "/v1/materials?colour=red", nil).wantProblem(http.StatusBadRequest, "malformed-request")
}

// Every material is told in full; the judge holds each answer to the contract.
func TestEveryMaterialCanBeRead(t *testing.T) {
	t.Parallel()
	s := open(t)
	for _, id := range s.do(http.MethodGet, "/v1/materials?limit=500", nil).want(http.StatusOK).ids() {
		r := s.do(http.MethodGet, "/v1/materials/"+id, nil).want(http.StatusOK)
		if r.at("source", "citation") == nil || r.at("cautions", 0) == nil {
			t.Errorf("%s: no source or no caution", id)
		}
		classes := []string{"solvent-class", "material-class", "exposure", "scale", "object"}
		kind, _ := r.at("kind").(string)
		none := len(r.at("hazards").([]any)) == 0 && !slices.Contains(classes, kind)
		if none && !strings.Contains(string(r.body), "are not known here; see its safety data sheet.") {
			t.Errorf("%s: an empty list of hazards, and nothing says that they are not known", id)
		}
	}
	s.do(http.MethodGet, "/v1/materials/philosophers-stone", nil).wantProblem(http.StatusNotFound, "material-unknown")
}

// property finds a property of a material in its answer.
func (r reply) property(name string) object {
	r.t.Helper()
	for _, p := range r.at("properties").([]any) {
		if p.(object)["property"] == name {
			return p.(object)
		}
	}
	r.t.Fatalf("no property %s", name)
	return nil
}

func TestAMaterialShowsValuesWithTheirSourceAndDisagreement(t *testing.T) {
	t.Parallel()
	s := open(t)
	acetone := s.do(http.MethodGet, "/v1/materials/acetone", nil).want(http.StatusOK)
	density := acetone.property("density")["values"].([]any)[0].(object)
	if density["value"] != 0.7901 || density["unit"] != "g/mL" || density["rank"] != "preferred" || density["at"].(object)["value"] != 20.0 {
		t.Errorf("density of acetone: got %v", density)
	}
	if source := density["source"].(object); source["status"] != "computed" || !strings.HasPrefix(source["citation"].(string), "CRC Handbook") {
		t.Errorf("source of the density: got %v", source)
	}
	if !strings.Contains(string(acetone.body), `"value":5.6`) || !strings.Contains(string(acetone.body), `"value":7.7`) {
		t.Error("the two evaporation rates do not stand side by side")
	}
	glass := s.do(http.MethodGet, "/v1/materials/poly-vinyl-butyral", nil).property("glass-transition")["values"].([]any)
	if low := glass[1].(object); low["low"] != 45.0 || low["high"] != 63.0 || low["disagreement"] != true {
		t.Errorf("glass transition: got %v, want the contradicting range marked", low)
	}
	wrong := s.do(http.MethodGet, "/v1/materials/1-methoxy-2-propanol", nil).property("density")["values"].([]any)
	doubted := 0
	for _, v := range wrong {
		if v := v.(object); v["rank"] == "doubted" && v["disagreement"] == true && v["relative"].(float64) > 0.04 {
			doubted++
		}
	}
	if doubted != 1 {
		t.Errorf("got %v, want one doubted density", wrong)
	}
	glycol := s.do(http.MethodGet, "/v1/materials/polyethylene-glycol", nil).property("density")
	if len(glycol["gradeNeeded"].([]any)) != 2 || len(glycol["values"].([]any)) != 2 {
		t.Errorf("density of polyethylene glycol: got %v, want one for each of two grades", glycol)
	}
	if water := s.do(http.MethodGet, "/v1/materials/water", nil).property("flash-point")["values"].([]any)[0].(object); water["none"] != true {
		t.Errorf("flash point of water: got %v, want none", water)
	}
}

// The digits of the tables come back: 0.864 and 0.8640 are not the same.
func TestDigitsComeBack(t *testing.T) {
	t.Parallel()
	body := string(open(t).do(http.MethodGet, "/v1/materials/m-xylene", nil).want(http.StatusOK).body)
	if !strings.Contains(body, `"value":0.8640`) {
		t.Error("the density of m-xylene does not read 0.8640")
	}
}

func TestContainers(t *testing.T) {
	t.Parallel()
	s := open(t)
	all := s.do(http.MethodGet, "/v1/containers", nil).want(http.StatusOK)
	if got := len(all.at("ratings").([]any)); got < 224 {
		t.Errorf("got %d ratings, want all", got)
	}
	one := s.do(http.MethodGet, "/v1/containers?container=hdpe&solvent=acetone", nil).want(http.StatusOK)
	if one.at("ratings", 0, "rating") != "unsuitable" || one.at("ratings", 0, "basis") != "read" || one.at("codes", 0, "code") != "2" {
		t.Errorf("acetone in high-density polyethylene: got %s", one.body)
	}
	unknown := s.do(http.MethodGet, "/v1/containers?container=abs&solvent=water", nil).want(http.StatusOK)
	if unknown.at("ratings", 0, "rating") != "unknown" || unknown.at("ratings", 0, "basis") != nil {
		t.Errorf("a pair of which nothing is known: got %s", unknown.body)
	}
	glass := s.do(http.MethodGet, "/v1/containers?container=glass&solvent=toluene", nil).want(http.StatusOK)
	if glass.at("ratings", 0, "basis") != "memory" {
		t.Errorf("glass: got %s, want it shown as recalled", glass.body)
	}
	s.do(http.MethodGet, "/v1/containers?container=bucket", nil).wantProblem(http.StatusBadRequest, "malformed-request")
	s.do(http.MethodGet, "/v1/containers?solvent=nectar", nil).wantProblem(http.StatusBadRequest, "malformed-request")
}

func TestHazardStatements(t *testing.T) {
	t.Parallel()
	s := open(t)
	all := s.do(http.MethodGet, "/v1/hazard-statements", nil).want(http.StatusOK)
	if got := len(all.at("items").([]any)); got < 65 {
		t.Errorf("got %d statements, want all", got)
	}
	organs := s.do(http.MethodGet, "/v1/hazard-statements?code=H370", nil).want(http.StatusOK)
	if organs.at("items", 0, "text") != "Causes damage to organs." || !strings.Contains(organs.at("items", 0, "template").(string), "<") {
		t.Errorf("H370: got %s", organs.body)
	}
	// The plus of a combined code, written in a query as it must be.
	eyes := s.do(http.MethodGet, "/v1/hazard-statements?code=P305%2BP351%2BP338", nil).want(http.StatusOK)
	if got := len(eyes.at("items").([]any)); got != 1 {
		t.Errorf("P305+P351+P338: got %d", got)
	}
	sparks := s.do(http.MethodGet, "/v1/hazard-statements?code=P210", nil).want(http.StatusOK)
	if len(sparks.at("items").([]any)) != 2 || len(sparks.at("items", 0, "assigned").([]any)) != 3 {
		t.Errorf("P210: got %s, want two wordings and three classes", sparks.body)
	}
}

// Each source has an id of its own, by which answers name it, and a citation for a reader.
func TestSourcesHaveIdsAndCitations(t *testing.T) {
	t.Parallel()
	s := open(t)
	r := s.do(http.MethodGet, "/v1/sources?limit=500", nil).want(http.StatusOK)
	items := r.at("items").([]any)
	if len(items) < 170 {
		t.Errorf("got %d sources, want all", len(items))
	}
	seen := map[any]bool{}
	for _, item := range items {
		source := item.(object)
		id, citation := source["id"].(string), source["citation"].(string)
		if seen[id] || strings.Contains(citation, id) {
			t.Errorf("got the id %s twice, or in its citation %q", id, citation)
		}
		seen[id] = true
	}
	for _, id := range []string{"koob-1995", "crc-chemicals", "perry-8", "nfpa-497-2008"} {
		if !seen[id] {
			t.Errorf("the source %s is not listed", id)
		}
	}
	if got := s.do(http.MethodGet, "/v1/sources?text=radiocarbon&limit=1", nil).want(http.StatusOK); got.at("next", "cursor") == nil {
		t.Errorf("got %s, want a next page", got.body)
	}
}

func TestKnowledgeIsNotSentTwice(t *testing.T) {
	t.Parallel()
	s := open(t)
	for _, path := range []string{"/v1/materials", "/v1/materials/acetone", "/v1/containers", "/v1/hazard-statements", "/v1/sources"} {
		first := s.do(http.MethodGet, path, nil).want(http.StatusOK)
		tag := first.header.Get("ETag")
		if tag == "" || !strings.HasPrefix(first.header.Get("Cache-Control"), "public") {
			t.Errorf("%s: ETag %q, Cache-Control %q", path, tag, first.header.Get("Cache-Control"))
		}
		if again := s.do(http.MethodGet, path, nil, header{"If-None-Match", tag}).want(http.StatusNotModified); len(again.body) != 0 {
			t.Errorf("%s: a body came with 304", path)
		}
	}
}
