package httpapi_test

import (
	"maps"
	"net/http"
	"strings"
	"testing"

	"github.com/google/uuid"
)

// keyWith makes a key of these scopes for the service's own person.
func (s *service) keyWith(scopes ...string) string {
	s.t.Helper()
	person := s.create("/v1/people", object{"name": "Jonas Feld"}).id()
	made := s.do(http.MethodPost, "/v1/access-keys", object{"name": "A narrower key", "person": object{"id": person}, "scopes": scopes},
		header{"Idempotency-Key", uuid.NewString()}).want(201)
	return made.at("secret").(string)
}

// with is a statement with one more member.
func with(st object, name string, value any) object {
	copied := maps.Clone(st)
	copied[name] = value
	return copied
}

func TestPlan(t *testing.T) {
	t.Parallel()
	s := newService(t)
	proposal := treatment("", "consolidation", "2024-04~")
	proposal["specimen"] = object{"identifier": object{"kind": "catalogue-number", "value": "LV.20", "collection": "palaeontology"}}
	statement := object{"treatment": proposal, "reason": object{"text": "Flaking."}, "options": array{
		object{"what": "Leave it", "why": "It still flakes.", "chosen": false}, object{"what": "Consolidate", "chosen": true}}}
	plan := s.create("/v1/plans", statement)
	skull, ok := plan.at("statement", "treatment", "specimen", "id").(string)
	if !ok {
		t.Fatalf("the specimen is not registered by the plan: %s", plan.body)
	}

	recorder := s.keyWith("read", "record")
	approved := object{"given": object{"by": object{"name": "Nadia Okeke"}}}
	for _, hidden := range []object{{"treatment": proposal, "authorisation": approved}, {"treatment": with(proposal, "authorisation", approved)}} {
		send(t, s.url, recorder, http.MethodPost, "/v1/plans", object{"statement": hidden}, header{"Idempotency-Key", uuid.NewString()}).wantProblem(403, "scope-missing")
	}
	authorise := func(key, tag string) reply {
		return send(t, s.url, key, http.MethodPost, "/v1/plans/"+plan.id()+"/authorisation",
			object{"class": "single", "date": object{"edtf": "2024-03-20"}}, header{"If-Match", tag})
	}
	authorise(recorder, plan.header.Get("ETag")).wantProblem(403, "scope-missing")
	authorised := authorise(s.key, plan.header.Get("ETag")).want(201)
	if got := authorised.at("statement", "authorisation", "given", "by", "id"); got == nil || authorised.at("reason") != "Authorised." {
		t.Errorf("got %s, want who authorised it, and a reason", authorised.body)
	}
	authorise(s.key, plan.header.Get("ETag")).wantProblem(412, "record-changed")

	// Changing the plan without the scope takes the authorisation off.
	withIt := authorised.at("statement").(object)
	amend := func(st object) reply {
		return send(t, s.url, recorder, http.MethodPost, "/v1/records/"+plan.id()+"/amendments",
			object{"reason": "A stronger solution.", "statement": st}, header{"If-Match", authorised.header.Get("ETag")})
	}
	amend(withIt).wantProblem(403, "scope-missing")

	done := treatment(skull, "consolidation", "2024-04-02")
	done["plan"] = object{"id": plan.id()}
	carried := s.create("/v1/treatments", done).id()
	if got := s.do(http.MethodGet, "/v1/treatments?plan="+plan.id(), nil).want(200).ids(); len(got) != 1 || got[0] != carried {
		t.Errorf("got %v carrying out the plan, want %s", got, carried)
	}
	done["plan"] = object{"id": "0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7bbb"}
	s.do(http.MethodPost, "/v1/treatments", object{"statement": done}, header{"Idempotency-Key", "no-plan"}).wantProblem(422, "validation")

	for query, want := range map[string]int{"": 1, "?authorised=true": 1, "?authorised=false": 0, "?specimen=" + skull: 1, "?specimen=" + carried: 0} {
		if got := len(s.do(http.MethodGet, "/v1/plans"+query, nil).want(200).ids()); got != want {
			t.Errorf("plans%s: got %d, want %d", query, got, want)
		}
	}
	delete(withIt, "authorisation")
	amend(withIt).want(201)
	if got := len(s.do(http.MethodGet, "/v1/plans?authorised=true", nil).want(200).ids()); got != 0 {
		t.Errorf("got %d authorised plans after the change, want none", got)
	}
	if got := s.do(http.MethodGet, "/v1/plans/"+plan.id(), nil).want(200).at("revision"); got != 3.0 {
		t.Errorf("got revision %v, want 3", got)
	}
}

func TestPlanFaultsSayWhere(t *testing.T) {
	t.Parallel()
	s := newService(t)
	proposal := treatment("0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7aaa", "removal", "2024-02-31")
	got := s.do(http.MethodPost, "/v1/plans", object{"statement": object{"treatment": proposal, "proposed": object{"edtf": "next year"}}},
		header{"Idempotency-Key", "bad"})
	got.want(422)
	proposal = treatment("0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7aaa", "removal", "2024-02-31")
	got = s.do(http.MethodPost, "/v1/plans", object{"statement": object{"treatment": proposal}}, header{"Idempotency-Key", "worse"}).want(422)
	pointers := map[any]bool{}
	for i := range got.at("errors").([]any) {
		pointers[got.at("errors", i, "pointer")] = true
	}
	for _, want := range []string{"/statement/treatment/specimen/id", "/statement/treatment/dates/edtf", "/statement/treatment/removal"} {
		if !pointers[want] {
			t.Errorf("no fault at %s: %s", want, got.body)
		}
	}
	s.do(http.MethodPost, "/v1/plans/0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7aaa/authorisation", object{"class": "single"}, header{"If-Match", "*"}).want(404)
	specimenID := s.create("/v1/specimens", specimen("LV.21")).id()
	s.do(http.MethodPost, "/v1/plans/"+specimenID+"/authorisation", object{"class": "single"}, header{"If-Match", "*"}).wantProblem(404, "plan-unknown")
}

// The check of a plan stands beside it, with the sequence number that it was made at: made
// when it is asked for until the plan has its sequence number, kept from then on, and made anew
// when the plan is changed.
func TestFindingsOfAPlan(t *testing.T) {
	t.Parallel()
	a := newAwkward(t)
	proposal := func(solvent string) object {
		return object{"treatment": object{"specimen": object{"id": a.specimen}, "action": "coating", "areas": object{"paths": array{"skull"}}, "dates": object{"edtf": "2026-05"},
			"materials": array{object{"used": object{"material": object{"id": "ethyl-methacrylate-methyl-acrylate-copolymer", "solvents": array{object{"id": solvent}}}}}}}}
	}
	plan := a.create("/v1/plans", proposal("toluene"))
	of := func() reply {
		t.Helper()
		return a.do(http.MethodGet, "/v1/plans/"+plan.id()+"/findings?detail=full", nil).want(http.StatusOK)
	}
	if now := of(); !strings.Contains(string(now.body), `"rule":"harmful-solvent"`) || strings.Contains(string(now.body), `"sequence"`) {
		t.Errorf("before it has a sequence number: got %s, want the toluene found, and no sequence number", now.body)
	}
	a.refresh()
	kept := of()
	if kept.at("items", 0, "sequence") == nil || !strings.Contains(string(kept.body), `"rule":"harmful-solvent"`) {
		t.Fatalf("got %s, want the findings with the sequence number that they were made at", kept.body)
	}
	a.treat("coating", "1990", "skull", object{"materials": array{object{"used": object{"material": object{"id": "shellac"}}}}})
	a.refresh()
	if got := of(); string(got.body) != string(kept.body) {
		t.Errorf("after another record: got %s, want what was found then: %s", got.body, kept.body)
	}
	a.do(http.MethodPost, "/v1/records/"+plan.id()+"/amendments", object{"reason": "Acetone is to be had.", "statement": proposal("acetone")},
		header{"If-Match", plan.header.Get("ETag")}).want(http.StatusCreated)
	a.refresh()
	if changed := of(); strings.Contains(string(changed.body), `"rule":"harmful-solvent"`) || changed.at("items", 0, "sequence") == kept.at("items", 0, "sequence") {
		t.Errorf("after its own change: got %s, want them made anew", changed.body)
	}
}

// An id that a statement names as two kinds is looked up as each.
func TestAnIDIsOfOneKind(t *testing.T) {
	t.Parallel()
	s := newService(t)
	supply := s.create("/v1/supplies", object{"code": "S-1", "material": object{"id": "acetone"}}).id()
	of := func(specimen object) object {
		return object{"specimen": specimen, "action": "joining", "areas": object{"paths": array{"whole"}}, "dates": object{"edtf": "2024"}}
	}
	numbered := object{"identifier": object{"kind": "other", "value": "1"}}
	plan := s.create("/v1/plans", object{"treatment": of(numbered)}).id()
	with := func(treatment object, name string, value any) object {
		treatment[name] = value
		return treatment
	}
	unknown := object{"answer": "unknown"}
	used := func(kind string) object { return object{"used": object{kind: object{"id": supply}}} }
	in := func(kind string) object {
		return object{"from": object{kind: object{"id": supply}}, "part": "solvent", "amount": unknown}
	}
	for name, c := range map[string]struct {
		path, pointer string
		statement     object
	}{
		"a plan's specimen is a plan": {"/v1/plans", "/statement/treatment/joinedTo/id",
			object{"treatment": with(with(of(numbered), "plan", object{"id": plan}), "joinedTo", object{"id": plan})}},
		"a treatment's specimen is a plan": {"/v1/treatments", "/statement/joinedTo/id", with(with(of(numbered),
			"plan", object{"id": plan}), "joinedTo", object{"id": plan})},
		"an input's batch is a supply":      {"/v1/batches", "/statement/inputs/1/from/batch/id", object{"code": "B-1", "kind": "solution", "inputs": array{in("supply"), in("batch")}}},
		"a batch that was used is a supply": {"/v1/treatments", "/statement/materials/1/used/batch/id", with(of(numbered), "materials", array{used("supply"), used("batch")})},
	} {
		t.Run(name, func(t *testing.T) {
			got := s.in(t).do(http.MethodPost, c.path, object{"statement": c.statement}, header{"Idempotency-Key", uuid.NewString()}).wantProblem(http.StatusUnprocessableEntity, "validation")
			if p := got.at("errors", 0, "pointer"); p != c.pointer {
				t.Errorf("got pointer %v, want %s: %s", p, c.pointer, got.body)
			}
		})
	}
}
