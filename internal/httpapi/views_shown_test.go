package httpapi_test

import (
	"fmt"
	"math/rand/v2"
	"net/http"
	"strings"
	"testing"

	"meniscus/internal/pgtest"
)

// TestWorkWithoutALayerIsShown: cleaning, pest treatment, mechanical work and
// sampling, with a liquid and without; and nothing is said to be unrecorded where
// they stand.
func TestWorkWithoutALayerIsShown(t *testing.T) {
	t.Parallel()
	s := newService(t)
	random := rand.New(rand.NewPCG(3, 9))
	for n, action := range []string{"cleaning", "pest-treatment", "mechanical-preparation", "desalination"} {
		bone := s.create("/v1/specimens", specimen(fmt.Sprint("W.", n))).id()
		st := treatment(bone, action, "2003")
		st["areas"], st["method"] = object{"paths": array{"skull/jaw"}}, "swab"
		liquid := []string{"", "ethanol", "acetone"}[(n+random.IntN(2))%3]
		if liquid != "" {
			st["solventExposure"] = array{object{"solvent": liquid, "time": object{"quantity": object{"value": 2, "unit": "h"}}, "during": "cleaning"}}
		}
		s.create("/v1/treatments", st)
		s.seal()
		views := s.viewsOf(bone)
		name := strings.ReplaceAll(action, "-", " ")
		for _, view := range []string{"timeline", "page", "sheet", "summary", "fragment", "linked data", "provenance"} {
			if text := strings.ToLower(views[view]); !strings.Contains(strings.ReplaceAll(text, "-", " "), name) || !strings.Contains(text, liquid) {
				t.Errorf("%s of %s with %q: got %.3000s", view, action, liquid, views[view])
			}
		}
		for view, row := range map[string]string{"page": `<tr><td dir="auto">skull/<wbr>jaw</td><td`, "sheet": `<dt>skull/jaw:</dt>`} {
			if !strings.Contains(views[view], row) {
				t.Errorf("%s of %s lacks %q: %.3000s", view, action, row, views[view])
			}
		}
		for _, view := range []string{"timeline", "page", "sheet"} {
			for _, silence := range []string{"no treatment recorded", `<td dir="auto">skull/<wbr>jaw</td><td colspan="5">nothing recorded`,
				`<dt>skull/jaw:</dt> <dd dir="auto">nothing recorded`} {
				if strings.Contains(views[view], silence) {
					t.Errorf("%s of %s says %q: %.3000s", view, action, silence, views[view])
				}
			}
		}
		archive := archiveRows(t, s.do(http.MethodGet, "/v1/exports/darwin-core", nil).want(200))
		if all := strings.ToLower(fmt.Sprint(archive["measurementorfact.csv"])); !strings.Contains(all, name) || !strings.Contains(all, liquid) {
			t.Errorf("the archive lacks %s with %q: %s", action, liquid, all)
		}
	}
}

// TestSolventsOfALayerAreShown by every view that tells of the layer.
func TestSolventsOfALayerAreShown(t *testing.T) {
	t.Parallel()
	s := newService(t)
	bone := s.create("/v1/specimens", specimen("S.1")).id()
	coat := coated(bone, "2001", "skull")
	coat["materials"] = array{object{"used": object{"material": object{"id": "poly-vinyl-butyral", "solvents": array{object{"id": "ethanol"}}}}, "role": "coating"}}
	s.create("/v1/treatments", coat)
	s.seal()
	views := s.viewsOf(bone)
	for _, view := range []string{"timeline", "page", "sheet", "summary", "fragment", "linked data", "provenance", "present state"} {
		if !strings.Contains(views[view], "ethanol") {
			t.Errorf("%s lacks the solvent: %.3000s", view, views[view])
		}
	}
}

// TestContradictionsAndRetractionsAreShown on the page and the sheet, and a
// retracted treatment is marked where another names it.
func TestContradictionsAndRetractionsAreShown(t *testing.T) {
	t.Parallel()
	s := newService(t)
	bone := s.create("/v1/specimens", specimen("C.1")).id()
	coat := s.create("/v1/treatments", coated(bone, "2005", "skull")).id()
	removal := treatment(bone, "removal", "2001")
	removal["areas"] = object{"paths": array{"skull"}}
	removal["removal"] = object{"treatments": array{object{"id": coat}}, "left": "reduced"}
	taken := s.create("/v1/treatments", removal).id()
	s.seal()
	said := s.do(http.MethodGet, "/v1/specimens/"+bone+"/present-state?detail=full&at=2025-01-01", nil).want(200)
	sentence, _ := said.at("contradictions", 0, "sentence").(string)
	if sentence == "" {
		t.Fatalf("got %s, want a contradiction", said.body)
	}
	views := s.viewsOf(bone)
	for _, view := range []string{"page", "sheet"} {
		if !strings.Contains(views[view], sentence) {
			t.Errorf("%s lacks %q: %s", view, sentence, views[view])
		}
	}
	s.do(http.MethodPost, "/v1/records/"+coat+"/retraction", object{"reason": "Another bone."}, anyTag).want(201)
	s.seal()
	views = s.viewsOf(bone)
	views["treatment page"] = string(s.as(asPage, "/v1/treatments/"+taken).want(200).body)
	views["treatment provenance"] = string(s.as(asLinked, "/v1/treatments/"+taken+"/provenance").want(200).body)
	for _, view := range []string{"sheet", "provenance", "treatment page", "treatment provenance"} {
		if !strings.Contains(views[view], "treatment "+coat+" (retracted)") && !strings.Contains(views[view], "Treatment "+coat+" (retracted)") {
			t.Errorf("%s does not mark the retracted treatment: %s", view, views[view])
		}
	}
}

// TestWordsThatCannotBeReadAreSaid: of a treatment, of a batch, of the specimen and
// of a record merged into it, in every view and by verify; a redacted one is none
// of them.
func TestWordsThatCannotBeReadAreSaid(t *testing.T) {
	t.Parallel()
	s := newService(t)
	super := pgtest.Pool(t, s.db.Super())
	tear := func(id string) {
		if _, err := super.Exec(t.Context(), `update entry set body = '{"statement":{"action":7}}' where record_id = $1`, id); err != nil {
			t.Fatal(err)
		}
	}
	batch := object{"code": "B-7", "kind": "solution", "inputs": array{object{"from": object{"material": object{"id": "acetone"}}, "part": "solvent", "amount": object{"answer": "unknown"}}}}
	for n, kind := range []string{"treatment", "batch", "specimen", "merged"} {
		bone := s.create("/v1/specimens", specimen(fmt.Sprint("T.", n))).id()
		batch["code"] = fmt.Sprint("B-", n)
		made := s.create("/v1/batches", batch).id()
		wash := treatment(bone, "cleaning", "2001")
		wash["materials"] = array{object{"used": object{"batch": object{"id": made}}}}
		washed := s.create("/v1/treatments", wash).id()
		gone := s.create("/v1/treatments", treatment(bone, "cleaning", "2002")).id()
		s.do(http.MethodPost, "/v1/records/"+gone+"/redaction", object{"reason": "Asked for."}, anyTag).want(201)
		old := s.create("/v1/specimens", specimen(fmt.Sprint("T.", n, "/old"))).id()
		s.merge(old, bone).want(201)
		s.refresh()
		torn, word := map[string]string{"treatment": washed, "batch": made, "specimen": bone, "merged": old}[kind], kind
		if kind == "merged" {
			word = "specimen"
		}
		for name, view := range s.viewsOf(bone) {
			if strings.Contains(view, "cannot be read") {
				t.Errorf("%s says that something cannot be read before it was torn: %.2000s", name, view)
			}
		}
		tear(torn)
		wantInEach(t, s.viewsOf(bone), "The words of "+word+" "+torn+" cannot be read")
		if wrong := strings.Join(s.verify(), "\n"); !strings.Contains(wrong, "The "+word+" "+torn+", revision") || strings.Contains(wrong, gone+", revision") {
			t.Errorf("verify says %s, want the torn %s and not the redacted treatment", wrong, kind)
		}
	}
}
