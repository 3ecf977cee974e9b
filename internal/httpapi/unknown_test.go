package httpapi_test

import (
	"net/http"
	"slices"
	"testing"

	"github.com/google/uuid"
)

// A record of which nobody knows anything any more is complete once it says so:
// everything that must be there can be answered with "unknown" or "none".
func TestEverythingThatMustBeSaidCanBeUnknown(t *testing.T) {
	t.Parallel()
	s := newService(t)
	unknown, none := object{"answer": "unknown"}, object{"answer": "none"}
	bone := s.create("/v1/specimens", object{"identifiers": array{object{"kind": "catalogue-number", "value": "LV.60"}}, "owner": unknown,
		"classification": unknown, "description": "A skull", "bodyKind": "unknown"}).id()
	jar := s.create("/v1/batches", object{"code": "B-60", "kind": "solution", "made": unknown, "solventsAnswer": "unknown", "labelStrengthAnswer": "unknown",
		"madeBy": array{object{"person": unknown, "part": "carried-out"}}, "inputs": array{object{"from": object{"words": object{"verbatim": "PVA", "certainty": "unknown"}}, "part": "solute", "amount": unknown}}})
	old := object{
		"specimen": object{"id": bone}, "action": "coating", "areas": unknown, "extent": unknown, "dates": unknown, "purpose": unknown,
		"people":    array{object{"person": object{"name": "Jonas Feld"}, "part": "carried-out", "organisationAnswer": "none"}},
		"materials": array{object{"used": object{"batch": object{"id": jar.id()}}}, object{"used": object{"material": object{"id": "shellac", "solventsAnswer": "unknown", "strengthAnswer": "unknown", "certainty": "unknown"}}}},
		"oldCard":   object{"verbatim": "varnished"}, "conditionBefore": object{"answer": "not-examined"}, "conditionAfter": unknown,
		"imagesAnswer": "unknown", "authorisation": object{"given": object{"by": unknown, "date": unknown, "class": "unknown"}}, "planAnswer": "none",
		"deviations": array{object{"what": "Two coats and not one", "approval": unknown}}, "recordCopyLocation": none,
	}
	removed := object{
		"specimen": object{"id": bone}, "action": "removal", "areas": unknown, "dates": unknown, "purpose": unknown, "people": array{object{"person": unknown, "part": "carried-out"}},
		"conditionBefore": unknown, "conditionAfter": unknown, "imagesAnswer": "none", "authorisation": none, "recordCopyLocation": unknown,
		"removal": object{"treatments": array{}, "left": "unknown"}, "amountRemoved": unknown, "materials": array{},
	}
	plan := object{"treatment": object{"specimen": object{"id": bone}, "action": "coating", "areas": unknown, "dates": unknown, "materials": array{}},
		"reason": unknown, "proposed": unknown, "proposedBy": array{object{"person": unknown, "part": "advised"}}, "authorisation": none}
	for _, id := range []string{bone, jar.id(), s.create("/v1/treatments", old).id(), s.create("/v1/treatments", removed).id(), s.create("/v1/plans", plan).id()} {
		got := s.do(http.MethodGet, "/v1/records/"+id+"/completeness", nil).want(200)
		if missing := gapsOf(got, "missing"); len(missing) > 0 || got.at("answered") != got.at("applicable") || got.at("applicable") == 0.0 {
			t.Errorf("%s: got %v of %v, missing %v; want nothing missing", got.at("kind"), got.at("answered"), got.at("applicable"), missing)
		}
	}
}

// Unknown, none, not examined and a blank are four things: each comes back as it
// was said, and only the blank is missing.
func TestUnknownNoneNotExaminedAndBlankAreFourThings(t *testing.T) {
	t.Parallel()
	s := newService(t)
	bone := s.create("/v1/specimens", specimen("LV.61")).id()
	for member, rule := range map[string]string{
		"purpose": "reason treatment/purpose", "conditionBefore": "condition treatment/conditionBefore", "conditionAfter": "condition treatment/conditionAfter",
		"authorisation": "consent treatment/authorisation", "recordCopyLocation": "record-copies treatment/recordCopyLocation", "imagesAnswer": "images treatment/images",
	} {
		for _, word := range []string{"unknown", "none", "not-examined", ""} {
			st := treatment(bone, "cleaning", "1998")
			if word != "" {
				st[member] = object{"answer": word}
			}
			at := []any{"statement", member, "answer"}
			if word != "" && member == "imagesAnswer" {
				st[member], at = word, at[:2]
			}
			made := s.create("/v1/treatments", st)
			if got := made.at(at...); word != "" && got != word {
				t.Errorf("%s: got %v, want %s", member, got, word)
			}
			missing := gapsOf(s.do(http.MethodGet, "/v1/records/"+made.id()+"/completeness", nil).want(200), "missing")
			if got, want := slices.Contains(missing, rule), word == ""; got != want {
				t.Errorf("%s answered %q: missing is %v, want %v", member, word, got, want)
			}
		}
	}
	person := object{"name": "Jonas Feld"}
	for pointer, change := range map[string]func(object){
		"/statement/imagesAnswer": func(st object) { st["images"], st["imagesAnswer"] = array{}, "none" },
		"/statement/planAnswer":   func(st object) { st["plan"], st["planAnswer"] = object{"id": uuid.NewString()}, "none" },
		"/statement/people/0/organisationAnswer": func(st object) {
			st["people"] = array{object{"person": person, "part": "carried-out", "organisation": "Museum of the Lower Valley", "organisationAnswer": "none"}}
		},
		"/statement/materials/0/used/material/solventsAnswer": func(st object) {
			st["materials"] = array{object{"used": object{"material": object{"id": "shellac", "solvents": array{object{"id": "ethanol"}}, "solventsAnswer": "unknown"}}}}
		},
	} {
		st := treatment(bone, "cleaning", "1998")
		change(st)
		got := s.do(http.MethodPost, "/v1/treatments", object{"statement": st}, header{"Idempotency-Key", uuid.NewString()}).wantProblem(422, "validation")
		var pointers []any
		for i := range got.at("errors").([]any) {
			pointers = append(pointers, got.at("errors", i, "pointer"))
		}
		if !slices.Contains(pointers, any(pointer)) {
			t.Errorf("got %s, want a fault at %s", got.body, pointer)
		}
	}
}
