package httpapi_test

import (
	"net/http"
	"strings"
	"testing"

	"github.com/google/uuid"
)

// specimen is an ordinary specimen of the invented museum.
func specimen(number string) object {
	return object{
		"identifiers": array{object{"kind": "catalogue-number", "value": number}},
		"collection":  "palaeontology", "bodyKind": "bone", "condition": "dry",
		"areas": array{object{"path": "skull/left-orbit"}},
	}
}

func treatment(specimenID, action, date string) object {
	return object{
		"specimen": object{"id": specimenID}, "action": action,
		"areas": object{"paths": array{"skull/left-orbit"}}, "dates": object{"edtf": date},
	}
}

// The job, in the order in which it is done at the bench.
func TestTheJob(t *testing.T) {
	t.Parallel()
	s := newService(t)

	resin := s.create("/v1/supplies", object{"code": "S-0107", "material": object{"id": "ethyl-methacrylate-methyl-acrylate-copolymer"}, "received": object{"edtf": "2024-03"}}).id()
	solvent := s.create("/v1/supplies", object{"code": "S-0108", "material": object{"id": "acetone"}}).id()
	weighed := func(supply, part, value, unit string) object {
		return object{"from": object{"supply": object{"id": supply}}, "part": part, "amount": object{"quantity": jsonQuantity(value, unit)}}
	}
	batch := s.create("/v1/batches", object{"code": "B-0311", "kind": "solution", "made": object{"edtf": "2024-03-11"},
		"inputs": array{weighed(resin, "solute", "30.10", "g"), weighed(solvent, "solvent", "123.9", "mL")}})
	if got := batch.at("statement", "inputs", 0, "amount", "quantity", "value"); got != 30.1 {
		t.Errorf("got %v, want 30.1", got)
	}
	bottles := s.do(http.MethodPost, "/v1/batches/"+batch.id()+"/bottles", object{"bottles": array{
		object{"code": "B-0311-1", "amount": object{"value": 50, "unit": "mL"}},
		object{"code": "B-0311-2", "amount": object{"value": 50, "unit": "mL"}},
	}}, header{"Idempotency-Key", "bottles-1"}).want(http.StatusCreated)
	bottle := bottles.at("items", 1, "id").(string)

	skull := s.create("/v1/specimens", specimen("LV.1987/0042")).id()
	put := treatment(skull, "consolidation", "2024-03-12")
	put["materials"] = array{object{"used": object{"batch": object{"id": bottle}}, "role": "consolidant"}}
	put["people"] = array{object{"person": object{"name": "Ilse Varga"}, "part": "carried-out"}}
	treated := s.create("/v1/treatments", put).id()

	removal := treatment(skull, "removal", "2025-06")
	removal["removal"] = object{"treatments": array{object{"id": treated}}, "left": "reduced"}
	s.create("/v1/treatments", removal)

	if got := s.do(http.MethodGet, "/v1/specimens/"+skull+"/treatments", nil).want(200).at("items", 1, "statement", "action"); got != "removal" {
		t.Errorf("got second treatment %v, want the removal", got)
	}
	lineage := s.do(http.MethodGet, "/v1/batches/"+batch.id()+"/lineage", nil).want(200)
	if from, into := len(lineage.at("madeFrom").([]any)), len(lineage.at("madeInto").([]any)); from != 2 || into != 2 {
		t.Errorf("got %d supplies and %d bottles, want 2 and 2: %s", from, into, lineage.body)
	}
	used := s.do(http.MethodGet, "/v1/supplies/"+resin+"/where-used", nil).want(200)
	if got := used.at("certain", 0, "treatment", "id"); got != treated {
		t.Errorf("got %v in the certain list, want %v: %s", got, treated, used.body)
	}
}

func jsonQuantity(value, unit string) any {
	return rawObject(`{"value":` + value + `,"unit":"` + unit + `"}`)
}

type rawObject string

func (r rawObject) MarshalJSON() ([]byte, error) { return []byte(r), nil }

// Where used keeps certain, possible and cannot be excluded apart.
func TestWhereUsedListsAreApart(t *testing.T) {
	t.Parallel()
	s := newService(t)
	const resin = "poly-vinyl-acetate-resin"
	supply := s.create("/v1/supplies", object{"code": "S-1", "material": object{"id": resin}, "received": object{"edtf": "2001"}}).id()
	skull := s.create("/v1/specimens", specimen("LV.1")).id()
	use := func(date string, used object) string {
		put := treatment(skull, "coating", date)
		put["materials"] = array{object{"used": used}}
		return s.create("/v1/treatments", put).id()
	}
	certain := use("2002", object{"supply": object{"id": supply}})
	possible := use("2002", object{"material": object{"id": resin}})
	words := use("2002", object{"words": object{"verbatim": "PVA", "certainty": "unknown", "candidates": array{resin, "poly-vinyl-alcohol"}}})
	use("1999", object{"material": object{"id": resin}}) // before the supply was here
	got := s.do(http.MethodGet, "/v1/supplies/"+supply+"/where-used", nil).want(200)
	for list, want := range map[string]string{"certain": certain, "possible": possible, "cannotBeExcluded": words} {
		if n := got.at("counts", list); n != 1.0 {
			t.Errorf("got %v in %s, want 1: %s", n, list, got.body)
		}
		if id := got.at(list, 0, "treatment", "id"); id != want {
			t.Errorf("got %v in %s, want %v", id, list, want)
		}
	}
}

// A number is recorded, registered with nothing recorded, or not known here;
// never a bare no.
func TestLookUp(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull := s.create("/v1/specimens", specimen("LV.1987/0042")).id()
	ask := func(number string) reply {
		return s.do(http.MethodGet, "/v1/specimen-lookup?number="+number, nil).want(200)
	}
	if got := ask("LV.1987/0042").at("answer"); got != "registered-nothing-recorded" {
		t.Errorf("got %v, want registered-nothing-recorded", got)
	}
	s.create("/v1/treatments", treatment(skull, "cleaning", "1998~"))
	if got := ask("LV.1987/0042").at("answer"); got != "recorded" {
		t.Errorf("got %v, want recorded", got)
	}
	near := ask("lv%201987-42")
	if got := near.at("answer"); got != "not-known-here" {
		t.Errorf("got %v, want not-known-here", got)
	}
	if got := near.at("nearSpellings", 0, "specimen", "id"); got != skull {
		t.Errorf("got near spelling %v, want %v: %s", got, skull, near.body)
	}
}

// A treatment on a number that is not registered registers it, once.
func TestTreatmentRegistersTheSpecimen(t *testing.T) {
	t.Parallel()
	s := newService(t)
	byNumber := treatment("", "cleaning", "1998")
	byNumber["specimen"] = object{"identifier": object{"kind": "catalogue-number", "value": `LV "7"/a`, "collection": "geology"}}
	first := s.create("/v1/treatments", byNumber).at("statement", "specimen", "id")
	second := s.create("/v1/treatments", byNumber).at("statement", "specimen", "id")
	if first != second || first == nil {
		t.Errorf("got specimens %v and %v, want one", first, second)
	}
}

// Every way of saying who a request is makes one record of two requests.
func TestCreatesAreIdempotent(t *testing.T) {
	t.Parallel()
	s := newService(t)
	id := uuid.NewString()
	for name, send := range map[string]func(object) reply{
		"key": func(st object) reply {
			return s.do(http.MethodPost, "/v1/specimens", object{"statement": st}, header{"Idempotency-Key", `"one"`})
		},
		"source": func(st object) reply {
			return s.do(http.MethodPost, "/v1/specimens", object{"source": object{"system": "catalogue", "recordId": "4711"}, "statement": st})
		},
		"id": func(st object) reply {
			return s.do(http.MethodPost, "/v1/specimens", object{"id": id, "statement": st})
		},
	} {
		statement := specimen("LV.2/" + name)
		first, second := send(statement).want(201), send(statement).want(201)
		if string(first.body) != string(second.body) || second.header.Get("Idempotency-Replayed") != "true" {
			t.Errorf("%s: got %s then %s, want the same record replayed", name, first.body, second.body)
		}
		other := send(specimen("LV.3"))
		if want := map[string]int{"key": 422, "source": 409, "id": 409}[name]; other.status != want {
			t.Errorf("%s: got %d for other content, want %d: %s", name, other.status, want, other.body)
		}
	}
	s.do(http.MethodPost, "/v1/specimens", object{"statement": specimen("LV.2")}).wantProblem(400, "idempotency-key-missing")
}

// A record's revisions stay readable; a redaction takes the words alone.
func TestRevisions(t *testing.T) {
	t.Parallel()
	s := newService(t)
	made := s.create("/v1/specimens", specimen("LV.4"))
	path := "/v1/records/" + made.id()
	amend := object{"reason": "The number was misread.", "statement": specimen("LV.5")}
	s.do(http.MethodPost, path+"/amendments", amend).wantProblem(428, "if-match-missing")
	amended := s.do(http.MethodPost, path+"/amendments", amend, header{"If-Match", made.header.Get("ETag")}).want(201)
	s.do(http.MethodPost, path+"/amendments", amend, header{"If-Match", made.header.Get("ETag")}).wantProblem(412, "record-changed")
	retracted := s.do(http.MethodPost, path+"/retraction", object{"reason": "Twice."}, header{"If-Match", amended.header.Get("ETag")}).want(201)
	if got := s.do(http.MethodGet, "/v1/specimens", nil).want(200).at("items"); len(got.([]any)) != 0 {
		t.Errorf("got %v in the list, want the retracted record left out", got)
	}
	back := s.do(http.MethodPost, path+"/amendments", amend, header{"If-Match", retracted.header.Get("ETag")}).want(201)
	s.do(http.MethodPost, path+"/redaction", object{"reason": "Asked for.", "revisions": array{1}}, header{"If-Match", back.header.Get("ETag")}).want(201)
	s.seal()
	all := s.do(http.MethodGet, path+"/revisions", nil).want(200)
	if got := len(all.at("items").([]any)); got != 5 {
		t.Errorf("got %d revisions, want 5: %s", got, all.body)
	}
	if all.at("items", 0, "statement") != nil || all.at("items", 1, "statement") == nil {
		t.Errorf("want the first revision blank and the second kept: %s", all.body)
	}
	if got := all.at("items", 4, "sequence"); got == nil {
		t.Errorf("want sequence numbers after sealing: %s", all.body)
	}
	now := s.do(http.MethodGet, "/v1/specimens/"+made.id(), nil).want(200)
	if got := now.at("statement", "identifiers", 0, "value"); got != "LV.5" {
		t.Errorf("got %v in force, want LV.5", got)
	}
}

// A follower of the feed sees each entry once, in order, and is told when its
// cursor is void.
func TestChanges(t *testing.T) {
	t.Parallel()
	s := newService(t)
	for _, n := range []string{"LV.6", "LV.7", "LV.8"} {
		s.create("/v1/specimens", specimen(n))
	}
	s.seal()
	var seen []any
	after := ""
	for range 10 {
		page := s.do(http.MethodGet, "/v1/changes?limit=2"+after, nil).want(200)
		for i := range page.at("items").([]any) {
			seen = append(seen, page.at("items", i, "sequence"))
		}
		after = "&cursor=" + page.at("cursor").(string)
	}
	if len(seen) != 4 || seen[0] != 1.0 || seen[3] != 4.0 {
		t.Errorf("got sequence numbers %v, want 1 to 4 (the first person among them)", seen)
	}
	s.do(http.MethodGet, "/v1/changes?cursor=AAAAAAAAAAEAAAAAAAAAAAAAAAAAAAAA", nil).wantProblem(409, "feed-reset")
}

// What was sent comes back: members in their order, digits as they came.
func TestStatementComesBackAsMade(t *testing.T) {
	t.Parallel()
	s := newService(t)
	const statement = `{"code":"S-9","material":{"id":"acetone"},"amount":{"quantity":{"value":20.00,"unit":"mL"}},"container":{"rinsed":false,"material":"glass"}}`
	made := s.do(http.MethodPost, "/v1/supplies", `{ "statement" : `+statement+`, "id":"`+uuid.NewString()+`"}`).want(201)
	if !strings.Contains(string(made.body), `"statement":`+statement) {
		t.Errorf("got %s, want the statement as it was sent", made.body)
	}
}
