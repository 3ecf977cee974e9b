package httpapi_test

import (
	"fmt"
	"net/http"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// tray is one event on so many specimens, none of them registered.
func tray(n int) object {
	number := func(i int) object {
		return object{"identifier": object{"kind": "catalogue-number", "value": fmt.Sprintf("LV.1991/%04d", i), "collection": "palaeontology"}}
	}
	st := treatment("", "consolidation", "2024-03-12")
	st["specimen"] = number(0)
	st["people"] = array{object{"person": object{"name": "Jonas Feld"}, "part": "carried-out"}}
	others := array{}
	for i := 1; i < n; i++ {
		others = append(others, object{"specimen": number(i)})
	}
	return object{"statement": st, "alsoOn": others}
}

func TestGroupTreatment(t *testing.T) {
	t.Parallel()
	s := newService(t)
	request := tray(40)
	request["alsoOn"].(array)[6].(object)["areas"] = object{"answer": "unknown"}
	request["alsoOn"].(array)[6].(object)["remarks"] = "Lifted out early."
	send := func() reply {
		return s.do(http.MethodPost, "/v1/group-treatments", request, header{"Idempotency-Key", "tray-7"}).want(201)
	}
	first := send()
	items := first.at("items").([]any)
	specimens, events, people := map[any]bool{}, map[any]bool{}, map[any]bool{}
	for i := range items {
		specimens[first.at("items", i, "statement", "specimen", "id")] = true
		events[first.at("items", i, "statement", "event", "id")] = true
		people[first.at("items", i, "statement", "people", 0, "person", "id")] = true
	}
	if len(items) != 40 || len(specimens) != 40 || len(events) != 1 || len(people) != 1 || people[nil] || events[nil] {
		t.Errorf("got %d records of %d specimens, %d events, %d people, want 40, 40, 1, 1", len(items), len(specimens), len(events), len(people))
	}
	if got := first.at("items", 7, "statement", "areas", "answer"); got != "unknown" {
		t.Errorf("got areas %v on the eighth, want unknown", got)
	}
	if got := first.at("items", 8, "statement", "remarks"); got != nil {
		t.Errorf("got remark %v on the ninth, want none", got)
	}
	event := first.at("items", 0, "statement", "event", "id").(string)
	if got := len(s.do(http.MethodGet, "/v1/treatments?limit=100&event="+event, nil).want(200).ids()); got != 40 {
		t.Errorf("got %d treatments of the event, want 40", got)
	}
	again := send()
	repeated := again.at("items").([]any)
	for i := range items { // by now the numbers of the others are registered too, and some resemble each other
		if items[i].(object)["registered"] == nil {
			t.Errorf("item %d does not tell that it registered its specimen", i)
		}
		delete(repeated[i].(object), "findings")
	}
	if diff := cmp.Diff(items, repeated); diff != "" || again.header.Get("Idempotency-Replayed") != "true" {
		t.Errorf("sent twice: got another answer, or one that is not marked as repeated (-first +again):\n%s", diff)
	}
}

// Every fault is told at once with its place, and nothing is recorded.
func TestGroupTreatmentIsAllOrNothing(t *testing.T) {
	t.Parallel()
	s := newService(t)
	request := tray(3)
	request["statement"].(object)["dates"] = object{"edtf": "2024-02-31"}
	others := request["alsoOn"].(array)
	others[0].(object)["areas"] = object{"paths": array{"skull", "a//b"}}
	others[1].(object)["specimen"] = object{"id": "0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7aaa"}
	others[1].(object)["label"] = object{"numberRecorded": true}
	got := s.do(http.MethodPost, "/v1/group-treatments", request, header{"Idempotency-Key", "bad"}).wantProblem(422, "validation")
	pointers := map[any]bool{}
	for i := range got.at("errors").([]any) {
		pointers[got.at("errors", i, "pointer")] = true
	}
	for _, want := range []string{"/statement/dates/edtf", "/alsoOn/0/areas/paths/1", "/alsoOn/1/specimen/id", "/alsoOn/1/label"} {
		if !pointers[want] {
			t.Errorf("no fault at %s: %s", want, got.body)
		}
	}
	if got := s.do(http.MethodGet, "/v1/treatments?state=any", nil).want(200).ids(); len(got) != 0 {
		t.Errorf("got %v recorded, want nothing", got)
	}
	s.do(http.MethodPost, "/v1/group-treatments", tray(2)).wantProblem(400, "idempotency-key-missing")
}
