package httpapi_test

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"
)

// acting is one way to go on with a record. Where it is not possible the answer
// is a fault of the caller's, and nothing changes.
type acting struct {
	name string
	do   func(s *service, id string, statement object) reply
}

func onRecord(what string, body func(statement object) object) func(*service, string, object) reply {
	return func(s *service, id string, statement object) reply {
		return s.do(http.MethodPost, "/v1/records/"+id+"/"+what, body(statement), anyTag, header{"Idempotency-Key", uuid.NewString()})
	}
}

var everyRecord = []acting{
	{"amended", onRecord("amendments", func(st object) object { return object{"reason": "Read again.", "statement": st} })},
	{"retracted", onRecord("retraction", func(object) object { return object{"reason": "Entered twice."} })},
	{"redacted", onRecord("redaction", func(object) object { return object{"reason": "Asked for."} })},
	{"first redacted", onRecord("redaction", func(object) object { return object{"reason": "Asked for.", "revisions": array{1}} })},
}

// orders are all orders of n acts.
func orders(acts []acting, n int) [][]acting {
	if n == 0 {
		return [][]acting{nil}
	}
	var all [][]acting
	for _, before := range orders(acts, n-1) {
		for _, a := range acts {
			all = append(all, append(slices.Clone(before), a))
		}
	}
	return all
}

// pastOf is a record with the acts that are to follow.
type pastOf struct {
	id        string
	statement object
	acts      []acting
	done      []string
}

// inEveryOrder makes a record for each order of acts, takes all of them one act
// further at a time, and verifies after each.
func (s *service) inEveryOrder(t *testing.T, path string, statement func(n int) object, acts []acting, length int) {
	t.Helper()
	s = s.in(t)
	var records []*pastOf
	for n, order := range orders(acts, length) {
		st := statement(n)
		r := &pastOf{id: uuid.NewString(), statement: st, acts: order}
		if path == "/v1/materials/" { // whose ids are their callers'
			s.do(http.MethodPut, path+r.id, object{"statement": st}).want(http.StatusCreated)
		} else {
			r.id = s.create(path, st).id()
		}
		records = append(records, r)
	}
	for step := range length {
		for _, r := range records {
			got := r.acts[step].do(s, r.id, r.statement)
			switch {
			case got.status == http.StatusCreated || got.status == http.StatusOK:
				r.done = append(r.done, r.acts[step].name)
			case got.status >= 500:
				t.Fatalf("%s after %v: got %d: %s", r.acts[step].name, r.done, got.status, got.body)
			}
		}
		s.wantVerified(t, records)
	}
}

func (s *service) wantVerified(t *testing.T, records []*pastOf) {
	t.Helper()
	s.refresh()
	named := map[string]bool{}
	for _, sentence := range s.verify() {
		for _, r := range records {
			if order := strings.Join(r.done, ", "); strings.Contains(sentence, r.id) && !named[order] {
				named[order] = true
				t.Errorf("after stated, %s: %s", order, sentence)
			}
		}
		if len(named) == 0 {
			t.Errorf("got %q", sentence)
		}
	}
}

// TestVerifyAfterActsInEveryOrder: whatever callers do with a record, in whatever
// order, the record verifies.
func TestVerifyAfterActsInEveryOrder(t *testing.T) {
	t.Parallel()
	s := newService(t)
	bone := s.create("/v1/specimens", specimen("LV.1")).id()
	supply := s.create("/v1/supplies", object{"code": "S-1", "material": object{"id": "acetone"}}).id()
	amount := object{"quantity": object{"value": 1, "unit": "mL"}}
	inputs := array{object{"from": object{"supply": object{"id": supply}}, "part": "solvent", "amount": amount}}
	bottle := s.create("/v1/batches", object{"code": "B", "kind": "solution", "inputs": inputs}).id()
	for _, c := range []struct {
		name, path string
		statement  func(n int) object
		acts       int
	}{
		{"treatments", "/v1/treatments", func(int) object { return coated(bone, "2001", "skull/left-orbit") }, 3},
		{"plans", "/v1/plans", func(int) object { return object{"treatment": coated(bone, "2027", "skull")} }, 2},
		{"people", "/v1/people", func(n int) object { return object{"name": fmt.Sprint("Person ", n)} }, 2},
		{"supplies", "/v1/supplies", func(n int) object { return object{"code": fmt.Sprint("S-1-", n), "material": object{"id": "acetone"}} }, 2},
		{"batches", "/v1/batches", func(n int) object { return object{"code": fmt.Sprint("B-", n), "kind": "solution", "inputs": inputs} }, 2},
		{"amount changes", "/v1/amount-changes", func(int) object {
			return object{"batch": object{"id": bottle}, "kind": "evaporated", "date": object{"edtf": "2026"}, "amount": amount}
		}, 2},
		{"materials", "/v1/materials/", func(int) object { return beads() }, 2},
	} {
		t.Run(c.name, func(t *testing.T) { s.inEveryOrder(t, c.path, c.statement, everyRecord, c.acts) })
	}
	lines := s.lines()
	restored := s.emptied(whoRecorded(t, lines))
	restored.restore(lines).want(http.StatusCreated)
	restored.refresh()
	if wrong := restored.verify(); len(wrong) > 0 {
		t.Errorf("restored: got %d wrong, the first of them %s", len(wrong), wrong[0])
	}
}

// TestVerifySpecimensInEveryOrder: merges, their undoing and parts come between.
func TestVerifySpecimensInEveryOrder(t *testing.T) {
	t.Parallel()
	s := newService(t)
	whole, survivor := s.create("/v1/specimens", specimen("LV.1")).id(), s.create("/v1/specimens", specimen("LV.2")).id()
	s.create("/v1/treatments", coated(whole, "2001", "skull/left-orbit"))
	acts := slices.Concat(everyRecord, []acting{
		{"merged", func(s *service, id string, _ object) reply { return s.merge(id, survivor) }},
		{"undone", func(s *service, id string, _ object) reply { return s.undo(id) }},
		{"made a part", onRecord("amendments", func(st object) object {
			part := object{"partOf": object{"specimen": object{"id": whole}, "areas": object{"paths": array{"skull"}},
				"date": object{"edtf": "2010"}, "reason": "Lifted."}}
			for name, value := range st {
				part[name] = value
			}
			return object{"reason": "It came from the whole.", "statement": part}
		})},
	})
	s.inEveryOrder(t, "/v1/specimens", func(n int) object { return specimen(fmt.Sprint("LV.3.", n)) }, acts, 3)
}
