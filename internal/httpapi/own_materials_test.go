package httpapi_test

import (
	"net/http"
	"strings"
	"testing"

	"github.com/google/uuid"
)

// beads is an ordinary material of the invented museum's own.
func beads() object {
	return object{
		"name": "Acrylic copolymer, beads bought in 2024", "like": "ethyl-methacrylate-methyl-acrylate-copolymer",
		"tradeNames": array{"Bench acrylic"}, "citation": "Data sheet of the supplier, March 2024",
		"values": array{
			rawObject(`{"property":"density","value":1.160,"unit":"g/mL"}`),
			object{"property": "glass-transition", "low": 38, "high": 42, "unit": "Cel", "citation": "Bench test of 2 May 2024"},
		},
		"observed": array{object{"solvent": "ethanol", "age": "fresh", "observed": "dissolves", "remark": "clear after a night"}},
	}
}

const beadsPath = "/v1/materials/0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7a10"

func TestAnOwnMaterialIsStatedAndAmended(t *testing.T) {
	t.Parallel()
	s := newService(t)
	first := s.do(http.MethodPut, beadsPath, object{"statement": beads()}).want(http.StatusCreated)
	if again := s.do(http.MethodPut, beadsPath, object{"statement": beads()}).want(http.StatusOK); again.at("revision") != 1.0 {
		t.Errorf("the same statement again: got %s", again.body)
	}
	s.seal()
	sealed := s.do(http.MethodPut, beadsPath, object{"statement": beads()}).want(http.StatusOK)
	if sealed.at("sequence") != nil || sealed.header.Get("ETag") != first.header.Get("ETag") {
		t.Errorf("the same statement after it has its sequence number: got %s, ETag %s; want what it was", sealed.body, sealed.header.Get("ETag"))
	}
	changed := beads()
	changed["note"] = "the second jar is from the same lot"
	s.do(http.MethodPut, beadsPath, object{"statement": changed, "reason": "A note"}).wantProblem(http.StatusPreconditionRequired, "if-match-missing")
	s.do(http.MethodPut, beadsPath, object{"statement": changed, "reason": "A note"}, header{"If-Match", `"1-0000000000000000"`}).wantProblem(http.StatusPreconditionFailed, "record-changed")
	tag := header{"If-Match", first.header.Get("ETag")}
	s.do(http.MethodPut, beadsPath, object{"statement": changed}, tag).wantProblem(http.StatusUnprocessableEntity, "validation")
	amended := s.do(http.MethodPut, beadsPath, object{"statement": changed, "reason": "A note on the second jar"}, tag).want(http.StatusOK)
	if amended.at("revision") != 2.0 || amended.at("act") != "amended" {
		t.Errorf("amended: got %s", amended.body)
	}
	revisions := s.do(http.MethodGet, "/v1/records/0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7a10/revisions", nil).want(http.StatusOK)
	if n := len(revisions.at("items").([]any)); n != 2 {
		t.Errorf("revisions: got %d, want 2", n)
	}
}

func TestAnOwnMaterialLiesOverTheBuiltIn(t *testing.T) {
	t.Parallel()
	s := newService(t)
	s.do(http.MethodPut, beadsPath, object{"statement": beads()}).want(http.StatusCreated)
	r := s.do(http.MethodGet, beadsPath, nil).want(http.StatusOK)
	if !strings.HasPrefix(r.header.Get("Cache-Control"), "private") {
		t.Errorf("Cache-Control: got %q, want it private", r.header.Get("Cache-Control"))
	}
	density := r.property("density")["values"].([]any)[0].(object)
	if !strings.Contains(string(r.body), `"value":1.160`) || density["source"].(object)["status"] != "own" || density["source"].(object)["citation"] != "Data sheet of the supplier, March 2024" {
		t.Errorf("density: got %v", density)
	}
	if glass := r.property("glass-transition")["values"].([]any)[0].(object); glass["low"] != 38.0 || glass["source"].(object)["citation"] != "Bench test of 2 May 2024" {
		t.Errorf("glass transition: got %v", glass)
	}
	if index := r.property("refractive-index")["values"].([]any)[0].(object); index["source"].(object)["status"] == "own" {
		t.Errorf("refractive index: got %v, want the built-in value", index)
	}
	if r.at("origin") != "own" || r.at("kind") != "resin" || r.at("solubility", 0, "source", "status") != "own" {
		t.Errorf("got %s", r.body)
	}
	if got := strings.Join(s.do(http.MethodGet, "/v1/materials?words=bench%20acrylic", nil).ids(), " "); got != "0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7a10" {
		t.Errorf("by its trade name: got %q", got)
	}
	builtin := s.do(http.MethodGet, "/v1/materials/ethyl-methacrylate-methyl-acrylate-copolymer", nil).property("density")["values"].([]any)
	if len(builtin) != 1 || builtin[0].(object)["value"] != 1.15 {
		t.Errorf("the built-in material: got %v", builtin)
	}
}

func TestOwnMaterialsStayInTheirInstitution(t *testing.T) {
	t.Parallel()
	s := newService(t)
	s.do(http.MethodPut, beadsPath, object{"statement": beads()}).want(http.StatusCreated)
	_, other := addInstitution(t, s.db, s.store, "Museum of the Upper Valley")
	for _, key := range []string{"", other} {
		send(t, s.url, key, http.MethodGet, beadsPath, nil).wantProblem(http.StatusNotFound, "material-unknown")
		if ids := send(t, s.url, key, http.MethodGet, "/v1/materials?text=bench%20acrylic", nil).want(http.StatusOK).ids(); len(ids) != 0 {
			t.Errorf("with the key %q: got %v", key, ids)
		}
	}
	// The same id in another institution is another record.
	send(t, s.url, other, http.MethodPut, beadsPath, object{"statement": beads()}).want(http.StatusCreated)
	send(t, s.url, "", http.MethodPut, beadsPath, object{"statement": beads()}).wantProblem(http.StatusUnauthorized, "access-key-missing")
}

func TestARetractedMaterialIsGoneFromTheList(t *testing.T) {
	t.Parallel()
	s := newService(t)
	first := s.do(http.MethodPut, beadsPath, object{"statement": beads()}).want(http.StatusCreated)
	s.do(http.MethodPost, "/v1/records/"+first.id()+"/retraction", object{"reason": "Entered twice"}, header{"If-Match", first.header.Get("ETag")}).want(http.StatusCreated)
	s.do(http.MethodGet, beadsPath, nil).wantProblem(http.StatusNotFound, "material-unknown")
}

func TestAnOwnMaterialIsRefusedWithEveryFault(t *testing.T) {
	t.Parallel()
	s := newService(t)
	s.do(http.MethodPut, "/v1/materials/acetone", object{"statement": beads()}).wantProblem(http.StatusConflict, "material-built-in")
	wrong := beads()
	wrong["like"] = "no-such-material"
	wrong["values"] = array{
		object{"property": "density", "value": 0.65, "low": 0.6, "unit": "g/mL"},
	}
	r := s.do(http.MethodPut, beadsPath, object{"statement": wrong}).wantProblem(http.StatusUnprocessableEntity, "validation")
	if r.at("errors", 0, "pointer") != "/statement/values/0" {
		t.Errorf("a value said twice: got %s", r.body)
	}
	wrong["values"] = array{
		object{"property": "density", "low": 0.3, "high": 0.4, "unit": "g/mL"},
		object{"property": "density", "value": 1150, "unit": "kg/m3"},
		object{"property": "beauty", "words": "great"},
	}
	r = s.do(http.MethodPut, beadsPath, object{"statement": wrong}).wantProblem(http.StatusUnprocessableEntity, "validation")
	got := map[string]bool{}
	for _, e := range r.at("errors").([]any) {
		got[e.(object)["pointer"].(string)+" "+e.(object)["code"].(string)] = true
	}
	for _, want := range []string{
		"/statement/like material-unknown", "/statement/values/0/low value-out-of-range", "/statement/values/1/property value-twice",
		"/statement/values/1/unit unit-wrong", "/statement/values/2/property property-unknown",
	} {
		if !got[want] {
			t.Errorf("want %s, got %v", want, got)
		}
	}
	person := s.create("/v1/people", object{"name": "Jonas Feld"}).id()
	s.do(http.MethodPut, "/v1/materials/"+person, object{"statement": beads()}).wantProblem(http.StatusConflict, "id-taken")
	s.do(http.MethodPut, "/v1/materials/"+uuid.NewString(), object{"statement": beads()}, header{"If-Match", "*"}).wantProblem(http.StatusPreconditionFailed, "record-unknown")
}

// Teas fractions make a whole, in a statement and in an amendment of one.
func TestTeasFractionsSumTo100(t *testing.T) {
	t.Parallel()
	s := newService(t)
	teas := func(fractions ...float64) array {
		var values array
		for i, name := range []string{"teas-dispersion", "teas-polar", "teas-hydrogen"}[:len(fractions)] {
			values = append(values, object{"property": name, "value": fractions[i], "unit": "%"})
		}
		return values
	}
	liquid := func(values array) object {
		return object{"name": "a thinner", "like": "acetone", "citation": "Bench test", "values": values}
	}
	for name, values := range map[string]array{
		"too little": teas(47, 32, 11), "too much": teas(47, 32, 31), "one of three": teas(100), "two of three": teas(60, 40),
		"below nothing": teas(110, -20, 10),
	} {
		r := s.do(http.MethodPut, "/v1/materials/"+uuid.NewString(), object{"statement": liquid(values)})
		if r.status != http.StatusUnprocessableEntity || !strings.Contains(string(r.body), "/statement/values/") {
			t.Errorf("%s: got %d %s", name, r.status, r.body)
		}
	}
	path := "/v1/materials/" + uuid.NewString()
	s.do(http.MethodPut, path, object{"statement": liquid(teas(48, 32, 21))}).want(http.StatusCreated) // whole numbers: 101
	r := s.do(http.MethodGet, path, nil).want(http.StatusOK)
	r = s.do(http.MethodPut, path, object{"statement": liquid(teas(48, 32, 12)), "reason": "misread"},
		header{"If-Match", r.header.Get("ETag")})
	if r.status != http.StatusUnprocessableEntity {
		t.Errorf("an amendment: got %d %s", r.status, r.body)
	}
}

func TestOwnMaterialsSinceAMoment(t *testing.T) {
	t.Parallel()
	s := newService(t)
	name := map[string]string{}
	state := func(label string) reply {
		path := "/v1/materials/" + uuid.NewString()
		statement := beads()
		statement["name"], statement["tradeNames"] = label, array{label}
		made := s.do(http.MethodPut, path, object{"statement": statement}).want(http.StatusCreated)
		name[made.id()] = label
		return made
	}
	first := state("first")
	state("second")
	s.seal()
	before := s.now()
	state("third")
	again := beads()
	again["name"] = "first"
	s.amend(first, again)
	s.seal()
	s.kept(name, "/v1/materials", map[string]string{
		"origin=own":              "first, second, third",
		"recordedSince=" + before: "first, third", "recordedSince=2020-01-01T00:00:00Z": "first, second, third",
		"recordedSince=2020-01-01T00:00:00Z&text=second": "second", "recordedSince=2999-01-01T00:00:00Z": "",
		"recordedSince=2020-01-01T00:00:00Z&origin=built-in": "",
	})
	if n := len(s.walk("/v1/materials?limit=1&recordedSince=2020-01-01T00:00:00Z")); n != 3 {
		t.Errorf("got %d in pages of one, want 3", n)
	}
	send(t, s.url, "", http.MethodGet, "/v1/materials?recordedSince=2020-01-01T00:00:00Z", nil).want(200)
	built := send(t, s.url, "", http.MethodGet, "/v1/materials?origin=built-in&limit=500", nil).want(200).ids()
	if all := send(t, s.url, "", http.MethodGet, "/v1/materials?limit=500", nil).want(200).ids(); len(built) == 0 || len(built) != len(all) {
		t.Errorf("got %d built-in ones, want all %d without a key", len(built), len(all))
	}
}
