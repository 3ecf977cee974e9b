package httpapi_test

import (
	"net/http"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
)

// stands tells whether an answer is the record as it stands, its revision and ETag
// included.
func (s *service) stands(r reply) bool {
	s.t.Helper()
	now := s.do(http.MethodGet, "/v1/records/"+r.id(), nil).want(200)
	return string(now.body) == string(r.body) && now.header.Get("ETag") == r.header.Get("ETag")
}

// A request that is sent again is answered with the record as it stands, whatever
// became of it, and says that it was carried out before.
func TestAReplayIsTheRecordAsItStands(t *testing.T) {
	t.Parallel()
	s := newService(t)
	bone := s.create("/v1/specimens", specimen("LV.1")).id()
	own, jar := uuid.NewString(), s.create("/v1/batches", object{"code": "B-1", "kind": "solution"}).id()
	cleaned := treatment(bone, "cleaning", "2001")
	cleaned["people"] = array{object{"person": object{"name": "Oldrich Sebald"}, "part": "carried-out"}}
	id, part := uuid.NewString(), header{"Idempotency-Key", uuid.NewString()}
	for name, send := range map[string]func(*service) reply{
		"key": func(s *service) reply {
			return s.do(http.MethodPost, "/v1/treatments", object{"statement": cleaned}, header{"Idempotency-Key", "a-treatment"})
		},
		"source": func(s *service) reply {
			return s.do(http.MethodPost, "/v1/treatments", object{"source": ofCatalogue("4711"), "statement": cleaned})
		},
		"id": func(s *service) reply {
			return s.do(http.MethodPost, "/v1/treatments", object{"id": id, "statement": treatment(bone, "cleaning", "2002")})
		},
		"part": func(s *service) reply {
			return s.do(http.MethodPost, "/v1/specimens/"+bone+"/parts", splitOf("LV.1.1", "2019", "skull"), anyTag, part)
		},
		"amount change": func(s *service) reply {
			return s.do(http.MethodPost, "/v1/amount-changes", object{"statement": changeOf(jar)}, header{"Idempotency-Key", "a-change"})
		},
		"material": func(s *service) reply {
			return s.do(http.MethodPut, "/v1/materials/"+own, object{"statement": beads()})
		},
	} {
		t.Run(name, func(t *testing.T) {
			s := s.in(t)
			first := send(s).want(201)
			if got := first.header.Get("Idempotency-Replayed"); got != "" {
				t.Errorf("got Idempotency-Replayed %q of the first", got)
			}
			again := func(act string, revision float64) {
				t.Helper()
				s.seal()
				r := send(s)
				said := r.header.Get("Idempotency-Replayed") == "true" || name == "material" && r.status == 200
				if !said || r.id() != first.id() || r.at("act") != act || r.at("revision") != revision || !s.stands(r) {
					t.Errorf("got %d %s, replayed %v, want revision %v (%s) as it stands", r.status, r.body, said, revision, act)
				}
			}
			again("stated", 1)
			if name == "material" {
				return // what is said of one that was amended is no replay
			}
			changed := s.amend(first, object2(first.at("statement"), "remarks", "Read once more."))
			again("amended", 2)
			s.do(http.MethodPost, "/v1/records/"+first.id()+"/redaction", object{"reason": "A name.", "revisions": array{1}}, anyTag).want(201)
			again("redacted", 3)
			s.do(http.MethodPost, "/v1/records/"+changed.id()+"/retraction", object{"reason": "Twice."}, anyTag).want(201)
			again("retracted", 4)
			s.do(http.MethodPost, "/v1/records/"+changed.id()+"/redaction", object{"reason": "Asked for."}, anyTag).want(201)
			again("redacted", 5)
		})
	}
}

// object2 is an object with another member.
func object2(of any, name string, value any) object {
	copied := object{name: value}
	for k, v := range of.(object) {
		if _, set := copied[k]; !set {
			copied[k] = v
		}
	}
	return copied
}

// What was recorded together is answered together, each record as it stands.
func TestAReplayOfSeveralRecords(t *testing.T) {
	t.Parallel()
	s := newService(t)
	first, second := s.create("/v1/specimens", specimen("LV.1")).id(), s.create("/v1/specimens", specimen("LV.2")).id()
	jar := s.create("/v1/batches", object{"code": "B-1", "kind": "solution"}).id()
	bath := treatment(first, "cleaning", "2001")
	bath["people"] = array{object{"person": object{"name": "Oldrich Sebald"}, "part": "carried-out"}}
	filled := object{"filled": object{"edtf": "2026"}, "by": object{"name": "Vera Lindt"}, "bottles": array{
		object{"code": "F-1", "amount": object{"value": 50, "unit": "mL"}}, object{"code": "F-2", "amount": object{"value": 50, "unit": "mL"}}}}
	for path, body := range map[string]object{
		"/v1/group-treatments":            {"statement": bath, "alsoOn": array{object{"specimen": object{"id": second}}}},
		"/v1/batches/" + jar + "/bottles": filled,
	} {
		key := header{"Idempotency-Key", uuid.NewString()}
		made := s.do(http.MethodPost, path, body, key).want(201)
		last := made.at("items", 1, "id").(string)
		s.do(http.MethodPost, "/v1/records/"+last+"/retraction", object{"reason": "Not this one."}, anyTag).want(201)
		again := s.do(http.MethodPost, path, body, key).want(201)
		if again.header.Get("Idempotency-Replayed") != "true" || again.at("items", 0, "revision") != 1.0 ||
			again.at("items", 1, "id") != last || again.at("items", 1, "act") != "retracted" {
			t.Errorf("%s: got %s, want both as they stand", path, again.body)
		}
	}
	taken := s.create("/v1/batches", object{"code": "B-2", "kind": "solution"})
	filled["bottles"] = append(filled["bottles"].(array), object{"id": taken.id(), "code": "F-3", "amount": object{"value": 50, "unit": "mL"}})
	s.do(http.MethodPost, "/v1/batches/"+jar+"/bottles", filled, header{"Idempotency-Key", "more"}).
		wantProblem(409, "id-taken").wantRecord(taken.id(), taken.header.Get("ETag"))
}

// wantRecord wants a problem that speaks of a record: its id, address and ETag.
func (r reply) wantRecord(id, etag string) reply {
	r.t.Helper()
	href, _ := r.at("record", "href").(string)
	if r.at("record", "id") != id || r.at("record", "etag") != etag || !strings.HasSuffix(href, "/"+id) {
		r.t.Errorf("got %s, want the record %s with its address and ETag %s", r.body, id, etag)
	}
	return r
}

func ofCatalogue(recordID string) object { return object{"system": "catalogue", "recordId": recordID} }

// A source's id is one namespace for each kind of record, and for each institution.
func TestASourceNamesOneRecordOfEachKind(t *testing.T) {
	t.Parallel()
	s := newService(t)
	bone := s.do(http.MethodPost, "/v1/specimens", object{"source": ofCatalogue("900"), "statement": specimen("LV.1")}).want(201)
	done := s.do(http.MethodPost, "/v1/treatments", object{"source": ofCatalogue("900"), "statement": treatment(bone.id(), "cleaning", "2001")}).want(201)
	if bone.id() == done.id() || done.at("source", "recordId") != "900" {
		t.Errorf("got %s and %s, want two records of one source", bone.body, done.body)
	}
	theirs := *s
	theirs.inst, theirs.key = addInstitution(t, s.db, s.store, "Museum on the Hill")
	other := theirs.do(http.MethodPost, "/v1/specimens", object{"source": ofCatalogue("900"), "statement": specimen("H.7")}).want(201)
	if other.id() == bone.id() || other.at("revision") != 1.0 {
		t.Errorf("got %s, want a record of the other institution's own", other.body)
	}
}

// A refusal that speaks of a record says where it is and its ETag now.
func TestAConflictNamesItsRecord(t *testing.T) {
	t.Parallel()
	s := newService(t)
	source, id := object{"source": ofCatalogue("900"), "statement": specimen("LV.1")}, uuid.NewString()
	bySource := s.amend(s.do(http.MethodPost, "/v1/specimens", source).want(201), specimen("LV.1a"))
	byID := s.amend(s.do(http.MethodPost, "/v1/specimens", object{"id": id, "statement": specimen("LV.2")}).want(201), specimen("LV.2a"))
	of := treatment(byID.id(), "cleaning", "2001")
	done := s.do(http.MethodPost, "/v1/treatments", object{"source": ofCatalogue("900"), "statement": of}).want(201)

	source["statement"] = specimen("LV.3")
	s.do(http.MethodPost, "/v1/specimens", source).wantProblem(409, "source-record-differs").
		wantRecord(bySource.id(), bySource.header.Get("ETag"))
	s.do(http.MethodPost, "/v1/specimens", object{"id": id, "statement": specimen("LV.3")}).wantProblem(409, "id-taken").
		wantRecord(id, byID.header.Get("ETag"))
	s.do(http.MethodPut, "/v1/materials/"+id, object{"statement": beads()}).wantProblem(409, "id-taken").
		wantRecord(id, byID.header.Get("ETag"))

	// A name that is new is no reason to say that the request is at work.
	of["people"] = array{object{"person": object{"name": "Nobody Before"}, "part": "carried-out"}}
	s.do(http.MethodPost, "/v1/treatments", object{"source": ofCatalogue("900"), "statement": of}).
		wantProblem(409, "source-record-differs").wantRecord(done.id(), done.header.Get("ETag"))

	gone := s.do(http.MethodPost, "/v1/records/"+id+"/retraction", object{"reason": "Twice."}, anyTag).want(201)
	s.do(http.MethodPost, "/v1/records/"+id+"/retraction", object{"reason": "Twice."}, anyTag).
		wantProblem(409, "retracted-already").wantRecord(id, gone.header.Get("ETag"))
}

// The same words of a source are a replay also when a name in them has come to mean
// somebody else.
func TestASourceIsHeldAgainstWhatItSent(t *testing.T) {
	t.Parallel()
	s := newService(t)
	of := treatment(s.create("/v1/specimens", specimen("LV.1")).id(), "cleaning", "2001")
	of["people"] = array{object{"person": object{"name": "Oldrich Sebald"}, "part": "carried-out"}}
	send := func() reply {
		return s.do(http.MethodPost, "/v1/treatments", object{"source": ofCatalogue("900"), "statement": of})
	}
	first := send().want(201)
	person := first.at("statement", "people", 0, "person", "id").(string)
	s.do(http.MethodPost, "/v1/records/"+person+"/amendments", object{"reason": "Spelt otherwise.", "statement": object{"name": "O. Sebald"}}, anyTag).want(201)
	if again := send().want(201); string(again.body) != string(first.body) {
		t.Errorf("got %s, want the record again: %s", again.body, first.body)
	}
}

// A cursor that the feed did not give is one that does not stand.
func TestACursorThatNoFeedGave(t *testing.T) {
	t.Parallel()
	s := newService(t)
	s.create("/v1/specimens", specimen("LV.1"))
	s.seal()
	for _, cursor := range []string{"x", "AAAA", "not-a-cursor", strings.Repeat("A", 33), "_____________________________________w"} {
		s.do(http.MethodGet, "/v1/changes?cursor="+cursor, nil).wantProblem(409, "feed-reset")
	}
	for _, path := range []string{"/v1/specimens", "/v1/people", "/v1/treatments?recordedSince=2001-01-01T00:00:00Z"} {
		path += map[bool]string{true: "&", false: "?"}[strings.Contains(path, "?")] + "cursor=x"
		if r := s.do(http.MethodGet, path, nil).wantProblem(400, "malformed-request"); r.at("errors", 0, "code") != "invalid-cursor" {
			t.Errorf("%s: got %s, want invalid-cursor", path, r.body)
		}
	}
}

// TestAReplayTellsWhatTheFirstAnswerTold: which specimens the request registered, and what
// is odd, as far as it is so still.
func TestAReplayTellsWhatTheFirstAnswerTold(t *testing.T) {
	t.Parallel()
	s := newService(t)
	s.create("/v1/specimens", statedAs("LV.1987/10"))
	for name, c := range map[string]struct {
		path string
		body object
		rule string
	}{
		"a treatment": {"/v1/treatments", object{"statement": cleaningOf("LV.1987/1O")}, "number-resembles"},
		"a specimen":  {"/v1/specimens", object{"statement": statedAs("LV.1987/10")}, "number-clash"},
		"a group": {"/v1/group-treatments", object{"statement": cleaningOf("LV.1988/1"),
			"alsoOn": array{object{"specimen": numbered("LV.1988/2")}}}, ""},
	} {
		key := header{"Idempotency-Key", uuid.NewString()}
		first := s.do(http.MethodPost, c.path, c.body, key).want(201)
		again := s.do(http.MethodPost, c.path, c.body, key).want(201)
		if diff := cmp.Diff(string(first.body), string(again.body)); diff != "" || again.header.Get("Idempotency-Replayed") != "true" {
			t.Errorf("%s: the replay (+) differs from the first answer (-)\n%s", name, diff)
		}
		if c.rule != "" && first.at("findings", 0, "rule") != c.rule {
			t.Errorf("%s: got %s, want the finding %s", name, first.body, c.rule)
		}
		if name == "a group" && (again.at("items", 0, "registered", 0, "number") != "LV.1988/1" || again.at("items",
			1, "registered", 0, "number") != "LV.1988/2") {
			t.Errorf("got %s, want each specimen that was registered", again.body)
		}
	}
	odd, key := cleaningOf("LV.1990/1"), header{"Idempotency-Key", "odd"}
	odd["dates"] = object{"edtf": "2999"}
	first := s.do(http.MethodPost, "/v1/treatments", object{"statement": odd}, key).want(201)
	if first.at("findings") == nil {
		t.Fatalf("got %s, want an odd date told", first.body)
	}
	s.amend(first, object2(first.at("statement"), "dates", object{"edtf": "2006"}))
	again := s.do(http.MethodPost, "/v1/treatments", object{"statement": odd}, key).want(201)
	if again.at("findings") != nil || again.at("registered", 0, "number") != "LV.1990/1" {
		t.Errorf("got %s, want the specimen, and nothing odd any more", again.body)
	}
}
