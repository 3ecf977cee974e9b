package httpapi_test

import (
	"encoding/csv"
	"html"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"
)

// cells are all cells of a table.
func cells(t *testing.T, table reply) map[string]bool {
	t.Helper()
	lines, err := csv.NewReader(strings.NewReader(string(table.body))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	all := map[string]bool{}
	for _, line := range lines {
		for _, cell := range line {
			all[cell] = true
		}
	}
	return all
}

// A number, a collection, an area, a person and a jar in any script are recorded,
// listed, filtered by, looked up, exported and shown as they were written.
func TestAnyScriptAllTheWay(t *testing.T) {
	t.Parallel()
	shared := newService(t)
	for name, word := range map[string]string{
		"Hebrew":             "עצם־הירך 7",
		"Arabic with digits": "عظم ٤٢",
		"Persian joiner":     "گنجینه\u200cی ۴۲",
		"Chinese":            "頭骨標本",
		"beyond the plane":   "𠮷野の骨",
		"Devanagari":         "अस्थि १२",
		"Thai":               "กระดูก ๙",
		"combining":          "Z̷ḁ̈hn 3",
		"emoji":              "🦴👩🏽‍🔬🇦🇹",
		"a formula":          "=1+1",
		"quotes and commas":  `7,"8";'9'`,
		"markup":             "5<6 & 7>6",
	} {
		t.Run(name, func(t *testing.T) {
			s := shared.in(t)
			s.inst, s.key = addInstitution(t, s.db, s.store, "Museum of the Upper Valley")
			st := specimen(word)
			st["collection"], st["description"], st["owner"] = word, word, object{"text": word}
			bone := s.create("/v1/specimens", st)
			person := s.create("/v1/people", object{"name": word})
			jar := s.create("/v1/batches", object{"code": word, "kind": "solution", "inputs": array{object{"from": object{"words": object{"verbatim": word, "certainty": "unknown"}}, "part": "other", "amount": object{"answer": "unknown"}}}})
			put := treatment(bone.id(), "coating", "1998")
			put["areas"], put["purpose"], put["remarks"] = object{"paths": array{word + "/left", word}}, object{"text": word}, word
			put["people"] = array{object{"person": object{"name": word}, "part": "carried-out", "organisation": word}}
			put["materials"] = array{object{"used": object{"batch": object{"id": jar.id()}}}, object{"used": object{"words": object{"verbatim": word, "certainty": "unknown"}}}}
			coat := s.create("/v1/treatments", put)

			read := s.do(http.MethodGet, "/v1/treatments/"+coat.id(), nil).want(200)
			for _, at := range [][]any{{"areas", "paths", 1}, {"purpose", "text"}, {"remarks"}, {"people", 0, "organisation"}, {"materials", 1, "used", "words", "verbatim"}} {
				if got := read.at(append([]any{"statement"}, at...)...); got != word {
					t.Errorf("%v: got %q, want %q", at, got, word)
				}
			}
			if got := read.at("statement", "people", 0, "person", "id"); got != person.id() {
				t.Errorf("got person %v, want the one of that name, %s", got, person.id())
			}
			asked := url.QueryEscape(word)
			for path, id := range map[string]string{
				"/v1/specimens?collection=" + asked: bone.id(), "/v1/treatments?area=" + asked: coat.id(), "/v1/treatments?area=" + asked + "%2Fleft%2Fedge": coat.id(),
			} {
				if got := s.do(http.MethodGet, path, nil).want(200).ids(); len(got) != 1 || got[0] != id {
					t.Errorf("%s: got %v, want %s", path, got, id)
				}
			}
			if got := s.do(http.MethodGet, "/v1/treatments?area="+asked+"x", nil).want(200).ids(); len(got) != 0 {
				t.Errorf("another area: got %v, want none", got)
			}
			if got := s.do(http.MethodGet, "/v1/specimen-lookup?number="+asked+"&collection="+asked, nil).want(200); got.at("answer") != "recorded" {
				t.Errorf("got %s, want it recorded", got.body)
			}
			s.seal()
			kept := word
			if strings.HasPrefix(word, "=") {
				kept = "'" + word // a spreadsheet would run it
			}
			for _, kind := range []string{"specimen", "person", "batch", "treatment"} {
				if table := s.as("text/csv", "/v1/exports/records?kind="+kind).want(200); !cells(t, table)[kept] {
					t.Errorf("the table of %s lacks %q: %s", kind, kept, table.body)
				}
			}
			for path, as := range map[string]string{"": asPage, "/sheet": asPage, "/summary": asBadge, "/timeline": asBadge} {
				shown := s.as(as, "/v1/specimens/"+bone.id()+path).want(200)
				if as == asBadge {
					wellFormed(t, shown.body)
				}
				if !strings.Contains(html.UnescapeString(string(shown.body)), word) {
					t.Errorf("%s as %s lacks %q: %s", path, as, word, shown.body)
				}
			}
		})
	}
}

// Two catalogue numbers that differ by a space are two numbers: each is found by
// itself, and leads to the other.
func TestNumbersThatDifferByASpace(t *testing.T) {
	t.Parallel()
	s := newService(t)
	numbers := []string{"LV 1987/42", "LV1987/42", "LV  1987/42", "LV\u00a01987/42"}
	ids := map[string]string{}
	for _, number := range numbers {
		ids[number] = s.distinct(specimen(number), slices.Collect(maps.Values(ids))...).id()
	}
	for _, number := range numbers {
		got := s.do(http.MethodGet, "/v1/specimen-lookup?number="+url.QueryEscape(number), nil).want(200)
		if got.at("answer") != "registered-nothing-recorded" ||
			got.at("specimens", 0, "specimen", "id") != ids[number] || len(got.at("specimens").([]any)) != 1 ||
			got.at("findings", 0, "rule") != "number-clash" {
			t.Errorf("%q: got %s, want %s alone, and the others found", number, got.body, ids[number])
		}
		by := treatment("", "cleaning", "2001")
		by["specimen"] = object{"identifier": object{"kind": "catalogue-number", "value": number, "collection": "palaeontology"}}
		if made := s.create("/v1/treatments", by); made.at("statement", "specimen", "id") != ids[number] {
			t.Errorf("%q: got %s, want it on %s", number, made.body, ids[number])
		}
	}
	got := s.do(http.MethodGet, "/v1/specimen-lookup?number="+url.QueryEscape("LV 1987 / 42"), nil).want(200)
	if got.at("answer") != "not-known-here" || len(got.at("nearSpellings").([]any)) != len(numbers) {
		t.Errorf("got %s, want all four as near spellings", got.body)
	}
}

// An area of two hundred levels is an area: recorded, found from above and below,
// drawn and exported.
func TestAreaOfTwoHundredLevels(t *testing.T) {
	t.Parallel()
	s := newService(t)
	levels := strings.Split(strings.TrimSuffix(strings.Repeat("layer/", 200), "/"), "/")
	deep := strings.Join(levels, "/")
	bone := s.create("/v1/specimens", specimen("LV.9")).id()
	put := treatment(bone, "coating", "1998")
	put["areas"], put["materials"] = object{"paths": array{deep}}, array{object{"used": object{"material": object{"id": "shellac"}}}}
	coat := s.create("/v1/treatments", put).id()
	for _, asked := range []string{"layer", strings.Join(levels[:100], "/"), deep, deep + "/deeper"} {
		if got := s.do(http.MethodGet, "/v1/treatments?area="+url.QueryEscape(asked), nil).want(200).ids(); len(got) != 1 || got[0] != coat {
			t.Errorf("area of %d bytes: got %v, want %s", len(asked), got, coat)
		}
	}
	state := s.do(http.MethodGet, "/v1/specimens/"+bone+"/present-state?detail=full", nil).want(200)
	if !strings.Contains(string(state.body), `"`+deep+`"`) {
		t.Errorf("the present state lacks the area: %.300s", state.body)
	}
	s.do(http.MethodGet, "/v1/specimens/"+bone+"/removal-plan?detail=full", nil).want(200)
	wellFormed(t, s.as(asBadge, "/v1/specimens/"+bone+"/timeline").want(200).body)
	for _, path := range []string{"", "/sheet"} {
		page := s.as(asPage, "/v1/specimens/"+bone+path).want(200)
		if shown := strings.ReplaceAll(string(page.body), "<wbr>", ""); !strings.Contains(shown, deep) {
			t.Errorf("the page %q lacks the area", path)
		}
	}
	s.seal()
	if table := s.as("text/csv", "/v1/exports/records?kind=treatment").want(200); !strings.Contains(string(table.body), deep) {
		t.Errorf("the table lacks the area")
	}
}

// What cannot have been is recorded as it was said, and a finding says so: a
// batch that went into itself, a bottle that gave more than it held, a removal
// of what was never put there.
func TestWhatCannotHaveBeen(t *testing.T) {
	t.Parallel()
	s := newService(t)
	bone, other := s.create("/v1/specimens", specimen("LV.50")).id(), s.create("/v1/specimens", specimen("LV.51")).id()
	unknown := object{"answer": "unknown"}
	t.Run("a circle of batches", func(t *testing.T) {
		s := s.in(t)
		batch := func(code string, from ...string) object {
			inputs := array{}
			for _, id := range from {
				inputs = append(inputs, into(object{"batch": of(id)}, "stock", unknown))
			}
			return object{"code": code, "kind": "blend", "inputs": inputs}
		}
		first := s.create("/v1/batches", batch("B-1"))
		second := s.create("/v1/batches", batch("B-2", first.id())).id()
		third := s.create("/v1/batches", batch("B-3", second)).id()
		used := treatment(bone, "coating", "2001")
		used["materials"] = array{object{"used": object{"batch": of(third)}}}
		coat := s.create("/v1/treatments", used).id()
		s.amend(first, batch("B-1", third))
		for _, id := range []string{first.id(), second, third} {
			if got := s.do(http.MethodGet, "/v1/batches/"+id+"/lineage", nil).want(200); got.at("findings", 0, "rule") != "lineage-circle" {
				t.Errorf("lineage: got %s, want the circle found", got.body)
			}
			got := s.do(http.MethodGet, "/v1/batches/"+id+"/where-used", nil).want(200)
			if got.at("certain", 0, "treatment", "id") != coat {
				t.Errorf("where used: got %s, want the coat", got.body)
			}
			if got := s.do(http.MethodGet, "/v1/batches/"+id+"/contents?detail=full", nil).want(200); len(got.at("unknownBecause").([]any)) == 0 {
				t.Errorf("contents: got %s, want it said that nobody knows", got.body)
			}
		}
		for _, path := range []string{"/v1/specimens/" + bone + "/present-state?detail=full", "/v1/specimens/" + bone + "/removal-plan?detail=full", "/v1/records/" + coat + "/completeness", "/v1/treatments/" + coat + "/findings?detail=full"} {
			s.do(http.MethodGet, path, nil).want(200)
		}
		s.as(asPage, "/v1/specimens/"+bone+"/sheet").want(200)
		s.do(http.MethodPost, "/v1/records/"+second+"/amendments", object{"reason": "Misread.", "statement": batch("B-2", second)}, anyTag).wantProblem(422, "validation")
	})
	t.Run("an overdrawn bottle", func(t *testing.T) {
		s := s.in(t)
		bottle := s.create("/v1/batches", object{"code": "B-9", "kind": "bottle", "finished": ml(50)}).id()
		for range 2 {
			used := treatment(bone, "coating", "2002")
			used["materials"] = array{object{"used": object{"batch": of(bottle)}, "amount": ml(40)}}
			s.create("/v1/treatments", used)
		}
		got := s.do(http.MethodGet, "/v1/batches/"+bottle+"/contents?detail=full", nil).want(200)
		if got.at("now", "remaining", "value") != -30.0 || got.at("findings", 0, "rule") != "stock-below-zero" {
			t.Errorf("got %s, want -30 mL with a finding", got.body)
		}
	})
	t.Run("a removal of something never applied", func(t *testing.T) {
		s := s.in(t)
		removal := func(of string) object {
			st := treatment(bone, "removal", "2003")
			st["removal"] = object{"treatments": array{object{"id": of}}, "left": "reduced"}
			return st
		}
		there := s.create("/v1/treatments", treatment(other, "coating", "2001")).id()
		cleaned := s.create("/v1/treatments", treatment(bone, "cleaning", "2001")).id()
		later := s.create("/v1/treatments", treatment(bone, "coating", "2010")).id()
		want := map[string]string{
			s.create("/v1/treatments", removal(there)).id():            "names-unknown-treatment",
			s.create("/v1/treatments", removal(uuid.NewString())).id(): "names-unknown-treatment",
			s.create("/v1/treatments", removal(cleaned)).id():          "names-no-layer",
			s.create("/v1/treatments", removal(later)).id():            "removal-before-layer",
		}
		state := s.do(http.MethodGet, "/v1/specimens/"+bone+"/present-state?detail=full", nil).want(200)
		for _, found := range state.at("contradictions").([]any) {
			for _, treatment := range idsIn(found.(object)["treatments"]) {
				if found.(object)["code"] == want[treatment] {
					delete(want, treatment)
				}
			}
		}
		if len(want) > 0 {
			t.Errorf("got %s, want these contradictions too: %v", state.at("contradictions"), want)
		}
		s.do(http.MethodGet, "/v1/specimens/"+bone+"/removal-plan?detail=full", nil).want(200)
	})
}
