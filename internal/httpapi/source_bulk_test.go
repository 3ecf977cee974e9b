package httpapi_test

import (
	"fmt"
	"net/http"
	"strings"
	"sync"
	"testing"

	"github.com/google/uuid"

	"meniscus/internal/pgtest"
)

// item is what a bulk request says of one record of the catalogue.
func item(kind, recordID string, statement any) object {
	return object{"kind": kind, "source": ofCatalogue(recordID), "statement": statement}
}

// sourcesSaid is a bulk request of two specimens.
func sourcesSaid() object {
	return object{"items": array{item("specimen", "900", specimen("LV.1987/0900")), item("specimen", "901", specimen("LV.1987/0901"))}}
}

// saysAll states how many records of the catalogue stand now.
func (s *service) saysAll(items ...any) reply {
	s.t.Helper()
	return s.do(http.MethodPost, "/v1/source-records", object{"items": items}).want(200)
}

// outcomes are those of a bulk answer, with spaces between.
func (r reply) outcomes() string {
	r.t.Helper()
	var words []string
	for _, i := range r.at("items").(array) {
		words = append(words, fmt.Sprint(i.(object)["outcome"]))
	}
	return strings.Join(words, " ")
}

// Each record of a bulk request is answered for itself, in order, and one that fails
// keeps none of the others.
func TestManyRecordsOfSources(t *testing.T) {
	t.Parallel()
	s := newService(t)
	w := newWorld(s)
	var first, changed array
	for kind, of := range w.sourced() {
		first, changed = append(first, item(kind, "1", of.statement)), append(changed, item(kind, "1", of.changed))
	}
	all := func(word string) string { return strings.TrimSpace(strings.Repeat(word+" ", len(first))) }
	for n, step := range []struct {
		items array
		want  string
	}{{first, "made"}, {first, "unchanged"}, {changed, "amended"}, {changed, "unchanged"}} {
		if got := s.saysAll(step.items...); got.outcomes() != all(step.want) || got.at("counts", step.want) != float64(len(first)) {
			t.Fatalf("step %d: got %s, want all %s", n, got.body, step.want)
		}
	}
	before := s.entries()
	corrected := s.do(http.MethodGet, sourcePath("specimen", "1"), nil).want(200)
	s.do(http.MethodPost, "/v1/records/"+corrected.id()+"/amendments", object{"reason": "Looked.", "statement": specimen("LV.1999/1b")}, anyTag).want(201)
	read := s.do(http.MethodGet, sourcePath("specimen", "1"), nil)

	got := s.saysAll(
		item("specimen", "1", specimen("LV.1999/9")),                                              // conflict
		item("specimen", "2", object{"identifiers": array{}}),                                     // refused
		item("treatment", "2", treatment(uuid.NewString(), "cleaning", "2001")),                   // refused
		item("specimen", "3", specimen("LV.1999/3")),                                              // made
		item("specimen", "3", specimen("LV.1999/3")),                                              // unchanged
		item("specimen", "3", specimen("LV.1999/3a")),                                             // amended
		object2(item("specimen", "3", specimen("LV.1999/3b")), "ifMatch", `"1-0000000000000000"`), // refused
		object2(item("specimen", "4", specimen("LV.1999/4")), "ifMatch", "*"),                     // refused
		object2(item("specimen", "1", specimen("LV.1999/9")), "ifMatch", read.header.Get("ETag")), // amended
		item("treatment", "3", treatment(corrected.id(), "cleaning", "2001")),                     // made
		item("material", "3", beads()),                                                            // made
		item("person", "3", object{"name": "Nadia Okeke", "role": strings.Repeat("x", 501)}),      // refused
		item("person", "4", object{"name": "Nadia Okeke"}))                                        // made
	const want = "conflict refused refused made unchanged amended refused refused amended made made refused made"
	if got.outcomes() != want {
		t.Errorf("got %s, want %s: %s", got.outcomes(), want, got.body)
	}
	for at, pointer := range map[int]string{1: "/items/1/statement/identifiers", 2: "/items/2/statement/specimen/id", 11: "/items/11/statement/role"} {
		if p := got.at("items", at, "problem", "errors", 0, "pointer"); p != pointer {
			t.Errorf("item %d: got a fault at %v, want %s", at, p, pointer)
		}
	}
	for at, status := range map[int]float64{0: 409, 1: 422, 6: 412, 7: 412} {
		if p := got.at("items", at, "problem", "status"); p != status {
			t.Errorf("item %d: got status %v, want %v", at, p, status)
		}
	}
	if got.at("items", 0, "problem", "stands", "id") != corrected.id() || got.at("items", 0, "problem", "record", "etag") != read.header.Get("ETag") ||
		got.at("items", 0, "problem", "said", "identifiers", 0, "value") != "LV.1999/9" {
		t.Errorf("got %s, want both versions", encoded(got.at("items", 0)))
	}
	if made := s.entries() - before; made != 1+6 {
		t.Errorf("got %d entries more, want the correction and six", made)
	}
	if r := s.do(http.MethodGet, got.at("items", 9, "record", "href").(string)[len("https://meniscus.example"):], nil).want(200); r.header.Get("ETag") != got.at("items", 9, "record", "etag") {
		t.Errorf("got ETag %s, want %v", r.header.Get("ETag"), got.at("items", 9, "record"))
	}
}

// entries counts what the institution has recorded.
func (s *service) entries() int {
	s.t.Helper()
	n := 0
	for _, count := range s.written(pgtest.Pool(s.t, s.db.Super())) {
		n += count
	}
	return n
}

// A catalogue that forgot everything states all of its records again: nothing is
// recorded, and no correction is undone. Nor when its own new statements are in
// conflict with corrections.
func TestACatalogueThatForgotEverything(t *testing.T) {
	t.Parallel()
	s := newService(t)
	var items array
	for n := range 1000 {
		items = append(items, item("specimen", fmt.Sprint(n), object{"identifiers": array{object{"kind": "catalogue-number", "value": fmt.Sprintf("LV.%d.x", n)}}}))
	}
	made := s.saysAll(items...)
	if made.at("counts", "made") != 1000.0 {
		t.Fatalf("got %v, want 1000 made", made.at("counts"))
	}
	for n, act := range map[int]string{3: "amendments", 500: "retraction", 999: "redaction"} {
		body := map[string]object{"amendments": {"reason": "Looked.", "statement": specimen("LV.3.y")}, "retraction": {"reason": "Twice."}, "redaction": {"reason": "A name."}}[act]
		s.do(http.MethodPost, "/v1/records/"+made.at("items", n, "record", "id").(string)+"/"+act, body, anyTag).want(201)
	}
	before := s.entries()
	if again := s.saysAll(items...); again.at("counts", "unchanged") != 999.0 || again.at("items", 999, "outcome") != "conflict" {
		t.Errorf("got %v, want all unchanged but the redacted one", again.at("counts"))
	}
	if after := s.entries(); after != before {
		t.Errorf("got %d entries, want %d: nothing recorded", after, before)
	}
	s.do(http.MethodPost, "/v1/source-records", object{"items": append(items, items[0])}).wantProblem(422, "validation")
	s.do(http.MethodPost, "/v1/source-records", object{"items": array{}}).wantProblem(422, "validation")
	s.do(http.MethodPost, "/v1/source-records", object{"items": array{object2(items[0].(object), "kind", "lot")}}).wantProblem(422, "validation")
	narrow := *s
	narrow.key = s.keyOf("record")
	narrow.do(http.MethodPost, "/v1/source-records", object{"items": array{items[0], item("supply", "1", object{"code": "S"})}}).wantProblem(403, "scope-missing")
}

// However many say at once how a record stands, there is one, and each is told what
// came of what it said.
func TestSendersOfOneSourceAtOnce(t *testing.T) {
	t.Parallel()
	s := newService(t)
	const senders = 8
	for _, same := range []bool{true, false} {
		for round := range 4 {
			recordID := fmt.Sprintf("%v-%d", same, round)
			replies := make([]reply, senders)
			var all sync.WaitGroup
			for n := range senders {
				all.Go(func() {
					number := fmt.Sprintf("LV.%s.%d", recordID, n)
					if same {
						number = "LV." + recordID
					}
					replies[n] = s.says("specimen", recordID, specimen(number))
				})
			}
			all.Wait()
			counts, ids := map[any]int{}, map[any]bool{}
			for _, r := range replies {
				if r.status == 409 && r.at("errors", 0, "code") == "request-at-work" {
					counts["at work"]++
					continue
				}
				counts[r.at("outcome")]++
				ids[r.at("record", "id")] = true
			}
			now := s.do(http.MethodGet, sourcePath("specimen", recordID), nil).want(200)
			if counts["made"] != 1 || len(ids) != 1 || counts["made"]+counts["unchanged"]+counts["amended"]+counts["at work"] != senders ||
				same && counts["amended"] != 0 || now.at("revision") != float64(1+counts["amended"]) {
				t.Errorf("the same %v: got %v of %d records, revision %v; want one made, and a revision for each amendment", same, counts, len(ids), now.at("revision"))
			}
		}
	}
}

// An institution that was restored answers sources as the one that was exported.
func TestSourcesAreRestored(t *testing.T) {
	t.Parallel()
	s := newService(t)
	say := func(s *service, n int, number string) reply {
		return s.says("specimen", fmt.Sprint(n), specimen(number))
	}
	for n := range 5 {
		say(s, n, fmt.Sprintf("LV.%d", n)).wantOutcome("made", 1)
	}
	id := func(n int) string {
		return s.do(http.MethodGet, sourcePath("specimen", fmt.Sprint(n)), nil).want(200).id()
	}
	say(s, 1, "LV.1a").wantOutcome("amended", 2)
	s.do(http.MethodPost, "/v1/records/"+id(2)+"/amendments", object{"reason": "Looked.", "statement": specimen("LV.2b")}, anyTag).want(201)
	s.do(http.MethodPost, "/v1/records/"+id(3)+"/redaction", object{"reason": "A name."}, anyTag).want(201)
	s.do(http.MethodPost, "/v1/records/"+id(4)+"/retraction", object{"reason": "Twice."}, anyTag).want(201)
	s.seal()
	lines := s.lines()
	again := s.emptied(whoRecorded(t, lines))
	again.restore(lines).want(201)
	for _, museum := range []*service{s, again} {
		say(museum, 0, "LV.0").wantOutcome("unchanged", 1)
		say(museum, 1, "LV.1a").wantOutcome("unchanged", 2)
		say(museum, 1, "LV.1").wantOutcome("amended", 3)
		say(museum, 2, "LV.2").wantOutcome("unchanged", 2)
		say(museum, 2, "LV.2c").wantConflict(2)
		say(museum, 2, "LV.2b").wantOutcome("amended", 3)
		say(museum, 3, "LV.3").wantConflict(2)
		say(museum, 4, "LV.4").wantOutcome("unchanged", 2)
		say(museum, 4, "LV.4a").wantConflict(2)
	}
}
