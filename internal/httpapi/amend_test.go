package httpapi_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
)

var asPatch = header{"Content-Type", "application/merge-patch+json"}

// amended amends a record as it stands; headers say otherwise.
func (s *service) amended(id string, statement any, headers ...header) reply {
	s.t.Helper()
	return s.do(http.MethodPost, "/v1/records/"+id+"/amendments", object{"reason": "Read again.", "statement": statement},
		append([]header{anyTag}, headers...)...)
}

// changesIn is what an answer tells of each change: how, from what, to what.
func changesIn(r reply) map[string]string {
	out := map[string]string{}
	items, _ := r.at("changed", "items").([]any)
	for _, item := range items {
		c := item.(object)
		out[c["pointer"].(string)] = fmt.Sprint(c["change"], " ", c["before"], " to ", c["after"])
	}
	return out
}

// TestAPatchIsTheWholeStatement amends a record of each kind with a merge patch and another of the same
// words with the whole statement: both then state the same, and tell the same changes.
func TestAPatchIsTheWholeStatement(t *testing.T) {
	t.Parallel()
	s := newService(t)
	bone := s.create("/v1/specimens", specimen("LV.1")).id()
	jar := s.create("/v1/batches", object{"code": "B-1", "kind": "solution"}).id()
	proposal := treatment(bone, "cleaning", "2001")
	for kind, c := range map[string]struct {
		path  string
		words func(n int) object
		patch object
	}{
		"person": {"/v1/people", func(int) object { return object{"name": "Nadia Okeke"} }, object{"name": "N. Okeke"}},
		"specimen": {"/v1/specimens", func(n int) object { return specimen(fmt.Sprint("LV.9", n)) },
			object{"bodyKind": "antler-horn", "condition": nil, "areas": array{object{"path": "tip"}}}},
		"supply": {"/v1/supplies", func(n int) object {
			return object{"code": fmt.Sprint("S-", n),
				"material": object{"id": "acetone"}}
		}, object{"material": object{"id": "ethanol"},
			"received": object{"edtf": "2024"}}},
		"batch": {"/v1/batches", func(n int) object {
			return object{"code": fmt.Sprint("B-9", n),
				"kind": "solution"}
		}, object{"made": object{"edtf": "2024-02"}}},
		"amount-change": {"/v1/amount-changes", func(int) object { return changeOf(jar) }, object{"remarks": "Spilt."}},
		"treatment": {"/v1/treatments", func(int) object { return with(proposal, "remarks", "Twice.") },
			object{"dates": object{"edtf": "2002"}, "remarks": nil, "coats": 2}},
		"plan": {"/v1/plans", func(int) object { return object{"treatment": proposal} },
			object{"treatment": object{"areas": object{"paths": nil, "answer": "unknown"}}}},
		"material": {"", func(int) object { return beads() }, object{"name": "Other beads"}},
	} {
		t.Run(kind, func(t *testing.T) {
			s := s.in(t)
			made := func(n int) reply {
				if kind == "material" {
					return s.do(http.MethodPut, "/v1/materials/"+uuid.NewString(), object{"statement": c.words(n)}).want(201)
				}
				return s.create(c.path, c.words(n))
			}
			first, second := made(1), made(2)
			before := s.do(http.MethodGet, "/v1/records/"+first.id(), nil).want(200)
			patched := s.amended(first.id(), c.patch, asPatch, header{"If-Match", before.header.Get("ETag")}).want(201)
			if got := patched.at("statement"); cmp.Equal(got, before.at("statement")) ||
				patched.at("act") != "amended" || patched.at("reason") != "Read again." {
				t.Errorf("got %s, want it amended", patched.body)
			}
			var now struct{ Statement map[string]json.RawMessage } // digits are kept
			if err := json.Unmarshal(patched.body, &now); err != nil {
				t.Fatal(err)
			}
			whole := object{}
			for name, value := range now.Statement {
				whole[name] = value
			}
			for _, own := range []string{"code", "identifiers"} { // which differ between the two
				if was := second.at("statement", own); was != nil {
					whole[own] = was
				}
			}
			stated := s.amended(second.id(), whole).want(201)
			if diff := cmp.Diff(changesIn(stated), changesIn(patched)); diff != "" || len(changesIn(stated)) == 0 {
				t.Errorf("changes of the whole statement (-) and of the patch (+)\n%s", diff)
			}
			again := s.amended(first.id(), c.patch, asPatch).want(200)
			if again.at("revision") != 2.0 || again.header.Get("ETag") != patched.header.Get("ETag") ||
				len(changesIn(again)) != 0 || again.at("changed", "items") == nil {
				t.Errorf("got %s, want the record as it was: nothing was to change", again.body)
			}
			s.amended(second.id(), whole).want(200)
		})
	}
}

// TestWhatAnAmendmentChanged: digits and lists are compared as they are written; in brief
// long values and many are counted, and in full they are told.
func TestWhatAnAmendmentChanged(t *testing.T) {
	t.Parallel()
	s := newService(t)
	bone := s.create("/v1/specimens", specimen("LV.1")).id()
	st := treatment(bone, "cleaning", "2001")
	st["remarks"], st["areas"] = strings.Repeat("long ", 100), object{"paths": array{"skull", "jaw"}}
	made := s.create("/v1/treatments", st)
	patch := object{"remarks": "short", "coats": 2, "areas": object{"paths": array{"skull", "tail", "wing"}}}
	r := s.amended(made.id(), patch, asPatch).want(201)
	want := map[string]string{
		"/areas/paths/1": "replaced jaw to tail", "/areas/paths/2": "added <nil> to wing",
		"/coats": "added <nil> to 2", "/remarks": "replaced <nil> to short",
	}
	if diff := cmp.Diff(want, changesIn(r)); diff != "" {
		t.Errorf("what changed (-want +got)\n%s", diff)
	}
	paths := array{}
	for i := range 50 {
		paths = append(paths, fmt.Sprint("rib-", i))
	}
	key := header{"Idempotency-Key", "many"}
	r = s.amended(made.id(), object{"areas": object{"paths": paths}}, asPatch, key).want(201)
	if len(changesIn(r)) != 20 || r.at("changed", "more") != 30.0 {
		t.Errorf("got %d changes and %v more, want 20 and 30", len(changesIn(r)), r.at("changed", "more"))
	}
	r = s.do(http.MethodPost, "/v1/records/"+made.id()+"/amendments?detail=full",
		object{"reason": "Read again.", "statement": object{"areas": object{"paths": paths}}}, anyTag, asPatch, key).want(201)
	if len(changesIn(r)) != 50 || r.at("changed", "more") != nil || r.header.Get("Idempotency-Replayed") != "true" {
		t.Errorf("got %s, want all 50 of the same request, in full", r.body)
	}
}

// TestBadPatches: what is wrong is said at its place in the patch as it was sent, and nothing is recorded.
func TestBadPatches(t *testing.T) {
	t.Parallel()
	s := newService(t)
	bone := s.create("/v1/specimens", specimen("LV.1")).id()
	st := treatment(bone, "cleaning", "2001")
	st["removal"], st["action"] = object{"treatments": array{object{"id": s.create("/v1/treatments", st).id()}},
		"left": "reduced"}, "removal"
	made := s.create("/v1/treatments", st)
	deep := any(object{"a": 1})
	for range 70 {
		deep = object{"a": deep}
	}
	for name, c := range map[string]struct {
		patch         any
		status        int
		code, pointer string
	}{
		"a list":            {array{1}, 422, "type", "/statement"},
		"null":              {nil, 422, "type", "/statement"},
		"needed":            {object{"action": nil}, 422, "missing", "/statement/action"},
		"no member":         {object{"colour": "red"}, 422, "member-unknown", "/statement/colour"},
		"no member to go":   {object{"colour": nil}, 422, "member-unknown", "/statement/colour"},
		"none further down": {object{"dates": object{"of": nil}}, 422, "member-unknown", "/statement/dates/of"},
		"two of one":        {object{"dates": object{"answer": "unknown"}}, 422, "choice", "/statement/dates"},
		"in a list": {object{"areas": object{"paths": array{"a", "b//c"}}}, 422, "area-path-empty-name",
			"/statement/areas/paths/1"},
		"a null in a list":   {object{"images": array{nil}}, 422, "type", "/statement/images/0"},
		"a word":             {object{"action": "painting"}, 422, "word-unknown", "/statement/action"},
		"too deep":           {object{"removal": deep}, 400, "json-too-deep", ""},
		"of another's words": {object{"specimen": object{"id": uuid.NewString()}}, 422, "specimen-unknown", "/statement/specimen/id"},
	} {
		t.Run(name, func(t *testing.T) {
			r := s.in(t).amended(made.id(), c.patch, asPatch).want(c.status)
			if r.at("code") != c.code && r.at("errors", 0, "code") != c.code {
				t.Errorf("got %s, want the code %s", r.body, c.code)
			}
			if got := r.at("errors", 0, "pointer"); c.pointer != "" && got != c.pointer {
				t.Errorf("got the pointer %v, want %s: %s", got, c.pointer, r.body)
			}
		})
	}
	path := "/v1/records/" + made.id() + "/amendments"
	for name, body := range map[string]any{"a list": array{1}, "a text": `"a"`, "a whole record": made.body} {
		if r := s.do(http.MethodPost, path, body, anyTag, asPatch); r.status != 422 {
			t.Errorf("%s: got %d, want 422: %s", name, r.status, r.body)
		}
	}
	s.do(http.MethodPost, path, object{"reason": "Why.", "statement": object{}}, anyTag, header{"Content-Type",
		"application/json-patch+json"}).want(415)
	s.do(http.MethodPost, path, object{"reason": "Why.", "statement": object{}}, asPatch).wantProblem(428, "if-match-missing")
	s.amended(made.id(), object{"coats": 3}, asPatch, header{"If-Match", `"1-00"`}).wantProblem(412, "record-changed")
	if now := s.do(http.MethodGet, "/v1/treatments/"+made.id(), nil).want(200); now.at("revision") != 1.0 {
		t.Errorf("got %s, want nothing recorded", now.body)
	}
	s.do(http.MethodPost, "/v1/records/"+made.id()+"/retraction", object{"reason": "Twice."}, anyTag).want(201)
	s.amended(made.id(), object{"coats": 3}, asPatch).wantProblem(409, "record-not-in-force")
	s.amended(made.id(), st).want(201)
}

// TestAFaultBesideThePatch: what the patch makes wrong elsewhere is said at the nearest
// place in the patch, with where it is.
func TestAFaultBesideThePatch(t *testing.T) {
	t.Parallel()
	s := newService(t)
	bone := s.create("/v1/specimens", specimen("LV.1")).id()
	st := treatment(bone, "removal", "2001")
	st["removal"] = object{"treatments": array{object{"id": s.create("/v1/treatments", treatment(bone, "coating",
		"1999")).id()}}, "left": "reduced"}
	r := s.amended(s.create("/v1/treatments", st).id(), object{"action": "cleaning"}, asPatch).wantProblem(422, "validation")
	detail, _ := r.at("errors", 0, "detail").(string)
	if r.at("errors", 0, "pointer") != "/statement" || !strings.HasPrefix(detail, "In what results, at /removal: ") {
		t.Errorf("got %s, want a pointer into the patch, and where the fault is", r.body)
	}
}

// TestAnAmendmentSentAgain is answered with what it changed, and with the record as it stands.
func TestAnAmendmentSentAgain(t *testing.T) {
	t.Parallel()
	s := newService(t)
	made := s.create("/v1/people", object{"name": "O. Sebald"})
	key, tag := header{"Idempotency-Key", "a"}, header{"If-Match", made.header.Get("ETag")}
	first := s.amended(made.id(), object{"name": "Oldrich Sebald"}, asPatch, key, tag).want(201)
	if got := first.header.Get("Idempotency-Replayed"); got != "" {
		t.Errorf("got Idempotency-Replayed %q of the first", got)
	}
	later := s.amended(made.id(), object{"name": "Oldřich Sebald"}, header{"Idempotency-Key", "b"}).want(201)
	again := s.amended(made.id(), object{"name": "Oldrich Sebald"}, asPatch, key, tag).want(201)
	if diff := cmp.Diff(changesIn(first), changesIn(again)); diff != "" || again.header.Get("Idempotency-Replayed") != "true" ||
		again.header.Get("ETag") != later.header.Get("ETag") || again.at("statement", "name") != "Oldřich Sebald" {
		t.Errorf("got %s, want the record as it stands, with what was changed then\n%s", again.body, diff)
	}
	s.amended(made.id(), object{"name": "Oldrich Sebald"}, key, tag).wantProblem(422, "idempotency-key-reused") // not a patch
	s.amended(made.id(), object{"name": "Another"}, asPatch, key, tag).wantProblem(422, "idempotency-key-reused")
	s.do(http.MethodPost, "/v1/records/"+made.id()+"/redaction", object{"reason": "Asked for.", "revisions": array{2}}, anyTag).want(201)
	if r := s.amended(made.id(), object{"name": "Oldrich Sebald"}, asPatch, key, tag).want(201); r.at("changed") != nil {
		t.Errorf("got %s, want nothing told of redacted words", r.body)
	}
	if got := s.keyWith("read"); send(t, s.url, got, http.MethodPost, "/v1/records/"+made.id()+"/amendments",
		object{"reason": "Read again.", "statement": object{"name": "Oldrich Sebald"}}, asPatch, key, tag).status != 403 {
		t.Error("a key that may not record is told what was recorded")
	}
}

// TestTheSameAmendmentAtOnce is recorded once.
func TestTheSameAmendmentAtOnce(t *testing.T) {
	t.Parallel()
	s := newService(t)
	made := s.create("/v1/people", object{"name": "O. Sebald"})
	var all sync.WaitGroup
	for range 8 {
		all.Go(func() {
			r := s.amended(made.id(), object{"name": "Oldrich Sebald"}, asPatch, header{"Idempotency-Key", "a"},
				header{"If-Match", made.header.Get("ETag")})
			busy := r.status == 409 && r.at("code") == "request-at-work"
			if r.status != 201 && !busy && r.status != 412 {
				t.Errorf("got %d: %s", r.status, r.body)
			}
		})
	}
	all.Wait()
	if now := s.do(http.MethodGet, "/v1/people/"+made.id(), nil).want(200); now.at("revision") != 2.0 {
		t.Errorf("got %s, want one amendment", now.body)
	}
}
