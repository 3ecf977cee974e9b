package httpapi_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
)

// A thousand numbers are answered at once, each like a single one.
func TestBulkLookUp(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull := s.create("/v1/specimens", specimen("LV.1987/0042")).id()
	s.create("/v1/treatments", treatment(skull, "cleaning", "1998~"))
	s.create("/v1/specimens", specimen("LV.1987/0043"))
	elsewhere := specimen("LV.1987/0044")
	elsewhere["collection"] = "geology"
	s.create("/v1/specimens", elsewhere)
	numbers := array{
		object{"number": "LV.1987/0043"},
		object{"number": "LV.1987/0042", "collection": "palaeontology", "kind": "catalogue-number"},
		object{"number": "LV 1987-42"},
		object{"number": "LV.1987/0044", "collection": "palaeontology"},
		object{"number": "LV.1987/0042", "kind": "field-number"},
		object{"number": "نموذج ٤٢ 🦴"},
	}
	for i := len(numbers); i < 1000; i++ {
		numbers = append(numbers, object{"number": fmt.Sprintf("NOWHERE-%d", i)})
	}
	got := s.do(http.MethodPost, "/v1/specimen-lookup", object{"numbers": numbers}).want(200)
	for i, want := range []string{"registered-nothing-recorded", "recorded", "not-known-here", "not-known-here", "not-known-here", "not-known-here"} {
		if answer := got.at("items", i, "answer"); answer != want {
			t.Errorf("number %d: got %v, want %s", i, answer, want)
		}
	}
	if n := len(got.at("items").([]any)); n != 1000 {
		t.Errorf("got %d answers, want 1000", n)
	}
	if near := got.at("items", 2, "nearSpellings", 0); idOf(near.(object)["specimen"]) != skull || near.(object)["treatments"] != 1.0 {
		t.Errorf("got near spelling %v, want %s with one treatment", near, skull)
	}
	if hit := got.at("items", 3, "elsewhere", 0, "collection"); hit != "geology" {
		t.Errorf("got %v elsewhere, want geology", hit)
	}
	if counts := got.at("counts"); fmt.Sprint(counts) != "map[notKnownHere:998 recorded:1 registeredNothingRecorded:1]" {
		t.Errorf("got %v", counts)
	}
}

func TestBulkLookUpRefusesTooMany(t *testing.T) {
	t.Parallel()
	s := newService(t)
	numbers := strings.TrimSuffix(strings.Repeat(`{"number":"a"},`, 1001), ",")
	s.do(http.MethodPost, "/v1/specimen-lookup", `{"numbers":[`+numbers+`]}`).wantProblem(422, "validation")
	s.do(http.MethodPost, "/v1/specimen-lookup", `{"numbers":[]}`).wantProblem(422, "validation")
}
