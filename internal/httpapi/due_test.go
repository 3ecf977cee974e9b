package httpapi_test

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"meniscus/internal/httpapi"
	"meniscus/internal/pgtest"
	"meniscus/internal/webhook"
)

// dueService is a service whose clock stands on 1 December 2026.
func dueService(t *testing.T) *service {
	t.Helper()
	s := newService(t)
	at := time.Date(2026, 12, 1, 9, 0, 0, 0, time.UTC)
	keeper, err := webhook.NewKeeper("AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8=")
	if err != nil {
		t.Fatal(err)
	}
	s.url = listen(t, mustServe(t, httpapi.Config{Store: s.store, PublicURL: "https://meniscus.example",
		Keeper: keeper, Now: func() time.Time { return at }})).URL
	return s
}

// dueIn are the items of an answer as "date what number-or-code".
func dueIn(r reply) []string {
	out := []string{}
	for _, item := range r.want(http.StatusOK).at("items").(array) {
		x := item.(object)
		text := func(name string) string { said, _ := x[name].(string); return said }
		out = append(out, strings.TrimSpace(text("date")+" "+text("what")+" "+text("number")+text("code")))
	}
	return out
}

func (s *service) wantDue(path string, want ...string) {
	s.t.Helper()
	if diff := cmp.Diff(dueIn(s.do(http.MethodGet, path, nil)), append([]string{}, want...)); diff != "" {
		s.t.Errorf("%s (- got + want):\n%s", path, diff)
	}
}

func checkedOn(specimen, action, date, next string) object {
	return with(treatment(specimen, action, date), "nextCheck", object{"edtf": next})
}

func examined(specimen, date string) object {
	return with(treatment(specimen, "examination", date), "examination", object{"outcome": "none-found"})
}

// TestDue: what is due is listed by date, each kind of it, up to a day; what a later record settles,
// or what was retracted, is not.
func TestDue(t *testing.T) {
	t.Parallel()
	s := dueService(t)
	skull, femur := s.create("/v1/specimens", specimen("LV.1")).id(), s.create("/v1/specimens", specimen("LV.2")).id()
	coat := s.create("/v1/treatments", checkedOn(skull, "consolidation", "2026-03-01", "2026-11-15"))
	s.create("/v1/treatments", checkedOn(skull, "coating", "2026-03-02", "2027-06"))
	s.create("/v1/treatments", with(treatment(femur, "coating", "2026-04-01"), "drying", object{"state": "touch-dry"}))
	plan := s.create("/v1/plans", object{"treatment": treatment(femur, "cleaning", "2026-12-10")})
	s.create("/v1/plans", object{"treatment": with(treatment(femur, "filling", "2026"), "dates", object{"answer": "unknown"})})
	acetone := object{"material": object{"id": "acetone"}}
	s.create("/v1/supplies", with(with(acetone, "code", "S-1"), "expires", object{"edtf": "2026-12"}))
	s.create("/v1/supplies", with(with(with(acetone, "code", "S-2"), "expires", object{"edtf": "2026-12"}), "state", "empty"))
	solution := func(code, state string) object { return object{"code": code, "kind": "solution", "state": state} }
	s.create("/v1/batches", with(solution("B-1", "in-use"), "expires", object{"edtf": "2026-12-05"}))
	s.create("/v1/batches", with(solution("B-2", "dissolving"), "made", object{"edtf": "2026-11-30"}))
	bottle := s.create("/v1/batches", solution("B-3", "in-use"))
	lost := object{"batch": object{"id": bottle.id()}, "kind": "evaporated", "amount": object{"answer": "unknown"},
		"date": object{"edtf": "2026-11-01"}}
	s.create("/v1/amount-changes", lost)

	all := []string{"authorisation LV.2", "2026-04-01 drying LV.2", "2026-11-01 strength-check B-3", "2026-11-15 next-check LV.1",
		"2026-11-30 clear-check B-2", "2026-12-05 batch-expires B-1", "2026-12-10 authorisation LV.2", "2026-12-31 supply-expires S-1"}
	s.wantDue("/v1/due", all...)
	s.wantDue("/v1/due?until=2026-11-30", all[:5]...)
	s.wantDue("/v1/due?what=authorisation", all[0], all[6])
	s.wantDue("/v1/due?until=2027-06-01", append(all, "2027-06-01 next-check LV.1")...)

	var walked []string
	path := "/v1/due?limit=3"
	for pages := 0; path != ""; pages++ {
		got := s.do(http.MethodGet, path, nil)
		walked = append(walked, dueIn(got)...)
		path, _ = got.at("next", "href").(string)
		path = strings.TrimPrefix(path, "https://meniscus.example")
		if pages > 5 {
			t.Fatal("the pages have no end")
		}
	}
	if diff := cmp.Diff(walked, all); diff != "" {
		t.Errorf("page by page (- got + want):\n%s", diff)
	}
	for _, cursor := range []string{"x", "e30", "eyJkIjoiMjAyNi0xMi0wMSIsInciOiJcdTAwMDAifQ"} {
		if got := s.do(http.MethodGet, "/v1/due?cursor="+cursor, nil); got.status >= 500 {
			t.Errorf("the cursor %s: got %d %s", cursor, got.status, got.body)
		}
	}

	// What settles each of them.
	s.create("/v1/treatments", examined(femur, "2026-04-01")) // on the day of the coating itself: not later
	s.wantDue("/v1/due?what=drying", all[1])
	s.create("/v1/treatments", examined(femur, "2026-04-20"))
	s.wantDue("/v1/due?what=drying")
	s.create("/v1/treatments", examined(skull, "2026-10-01")) // before the day of the check
	s.wantDue("/v1/due?what=next-check", all[3])
	exam := s.create("/v1/treatments", examined(skull, "2026-11-20"))
	s.wantDue("/v1/due?what=next-check")
	s.do(http.MethodPost, "/v1/records/"+exam.id()+"/retraction", object{"reason": "Another skull."}, anyTag).want(201)
	s.wantDue("/v1/due?what=next-check", all[3])
	s.create("/v1/treatments", with(examined(skull, "2026-10-02"), "nextCheck", object{"edtf": "2027-10-01"}))
	s.wantDue("/v1/due?what=next-check")
	s.wantDue("/v1/due?what=next-check&until=2027-12-31", "2027-10-01 next-check LV.1")
	s.create("/v1/treatments", with(treatment(femur, "cleaning", "2026-12-11"), "plan", object{"id": plan.id()}))
	s.wantDue("/v1/due?what=authorisation", all[0])
	s.create("/v1/amount-changes", with(with(with(lost, "kind", "corrected-by-weighing"), "date", object{"edtf": "2026-11-02"}),
		"amount", object{"quantity": object{"value": 80, "unit": "g"}}))
	s.wantDue("/v1/due?what=strength-check")
	s.create("/v1/amount-changes", with(lost, "date", object{"edtf": "2026-11-03"}))
	s.wantDue("/v1/due?what=strength-check", "2026-11-03 strength-check B-3")
	s.amended(bottle.id(), solution("B-3", "spent")).want(201)
	s.wantDue("/v1/due?what=strength-check")
	s.amended(coat.id(), treatment(skull, "consolidation", "2026-03-01")).want(201)
	s.seal()
	s.refresh()
	if wrong := s.verify(); len(wrong) > 0 {
		t.Errorf("the projections differ: %v", wrong)
	}
}

// TestDueForms: the list as a table and as text, in which a hazard of the specimen stands with what
// is to be done on it.
func TestDueForms(t *testing.T) {
	t.Parallel()
	s := dueService(t)
	skull := s.create("/v1/specimens", with(specimen("LV.1"), "hazards", array{object{"hazard": "arsenic", "status": "known"}})).id()
	made := s.create("/v1/treatments", checkedOn(skull, "consolidation", "2026-03-01", "2026-12-15"))
	table := string(s.as("text/csv", "/v1/due").want(200).body)
	for _, want := range []string{"date,what,record,sentence", "2026-12-15,next-check," + made.id(), "arsenic"} {
		if !strings.Contains(strings.ToLower(table), want) {
			t.Errorf("the table lacks %q:\n%s", want, table)
		}
	}
	text := string(s.as("text/plain", "/v1/due").want(200).body)
	if !strings.HasPrefix(text, "LV.1: The specimen is known to hold arsenic") || strings.Count(text, "arsenic") != 1 ||
		!strings.Contains(text, "\n2026-12-15: Look at LV.1 again") {
		t.Errorf("the text is\n%s", text)
	}
	if none := string(s.as("text/plain", "/v1/due?until=2026-01-01").want(200).body); none != "Nothing is due up to 2026-01-01.\n" {
		t.Errorf("got %q", none)
	}
}

// TestDueCalendar: the key of a calendar opens the calendar, by its address alone or as other keys do, and
// nothing else; no other key opens it; it is made alone, by whoever administers and reads, and revoked as others are.
func TestDueCalendar(t *testing.T) {
	t.Parallel()
	s := dueService(t)
	w := newWorld(s)
	made := s.create("/v1/treatments", checkedOn(w.specimen, "consolidation", "2026-03-01", "2026-12-15"))
	request := func(scopes ...any) object {
		return object{"name": "office calendar", "person": object{"id": w.person}, "scopes": scopes}
	}
	s.makeKey(s.key, request("calendar", "read")).wantProblem(422, "validation")
	s.makeKey(s.keyWith("administer"), request("calendar")).wantProblem(403, "scope-missing")
	key := s.makeKey(s.keyWith("administer", "read"), request("calendar")).want(201)
	secret := key.at("secret").(string)

	for _, got := range []reply{
		send(t, s.url, "", http.MethodGet, "/v1/due.ics?key="+secret, nil),
		send(t, s.url, secret, http.MethodGet, "/v1/due.ics", nil),
	} {
		if body := string(got.want(200).body); !strings.Contains(body, "DTSTART;VALUE=DATE:20261215\r\n") ||
			!strings.Contains(body, "UID:"+made.id()+"-next-check\r\n") ||
			!strings.HasPrefix(got.header.Get("Content-Type"), "text/calendar") {
			t.Errorf("got %s:\n%s", got.header.Get("Content-Type"), body)
		}
	}
	for id, call := range wallCalls(w) {
		if id == "readDueCalendar" || call.path == "" {
			continue
		}
		for _, op := range privateOperations(t) {
			if op.id != id {
				continue
			}
			if got := send(t, s.url, secret, op.method, call.path, call.body, call.headers...); got.status != http.StatusForbidden {
				t.Errorf("%s: got %d with the key of a calendar, want 403", id, got.status)
			}
			path := call.path + map[bool]string{true: "&", false: "?"}[strings.Contains(call.path, "?")] + "key=" + secret
			if got := send(t, s.url, "", op.method, path, call.body, call.headers...); got.status != http.StatusUnauthorized {
				t.Errorf("%s: got %d with the key of a calendar in its address, want 401", id, got.status)
			}
		}
	}
	send(t, s.url, secret, http.MethodPost, "/v1/compute/make-up", object{}).want(403)
	send(t, s.url, "", http.MethodGet, "/v1/due.ics?key="+s.key, nil).wantProblem(403, "scope-missing")
	send(t, s.url, "", http.MethodGet, "/v1/due.ics?key="+secret[:len(secret)-1], nil).wantProblem(401, "access-key-unknown")
	send(t, s.url, "", http.MethodGet, "/v1/due.ics", nil).wantProblem(401, "access-key-missing")
	other := s.neighbour("Museum on the Hill")
	if got := send(t, s.url, other.key, http.MethodGet, "/v1/due", nil).want(200); strings.Contains(string(got.body), made.id()) {
		t.Errorf("another institution is shown %s", got.body)
	}
	s.do(http.MethodDelete, "/v1/access-keys/"+key.id(), nil).want(200)
	send(t, s.url, "", http.MethodGet, "/v1/due.ics?key="+secret, nil).wantProblem(401, "access-key-unknown")
}

// TestDueIsBounded: a page among thousands of things that were settled looks at so many and no more, and the
// pages after it find what is still due.
func TestDueIsBounded(t *testing.T) {
	t.Parallel()
	s := dueService(t)
	skull := s.create("/v1/specimens", specimen("LV.1")).id()
	last := s.create("/v1/treatments", checkedOn(skull, "consolidation", "2026-03-01", "2026-12-15"))
	if _, err := pgtest.Pool(t, s.db.Super()).Exec(t.Context(), `insert into due (institution_id, record_id, what, day)
		select $1, gen_random_uuid(), 'next-check', date '2026-01-01' from generate_series(1, 4500)`, s.inst); err != nil {
		t.Fatal(err)
	}
	found, path := 0, "/v1/due"
	var sizes []int
	for path != "" {
		got := s.do(http.MethodGet, path, nil).want(200)
		items := got.at("items").(array)
		sizes = append(sizes, len(items))
		for _, item := range items {
			if item.(object)["record"].(object)["id"] != last.id() {
				t.Errorf("got %v", item)
			}
			found++
		}
		path, _ = got.at("next", "href").(string)
		path = strings.TrimPrefix(path, "https://meniscus.example")
	}
	if diff := cmp.Diff(sizes, []int{0, 0, 1}); diff != "" || found != 1 {
		t.Errorf("got %d things due on pages of %v", found, sizes)
	}
}

// What to look for is said with the check. A batch that runs low is due once no more is left than it
// says, or where that is not known, until it is spent; a supply while it is said to run low.
func TestDueSaysWhatToLookForAndWhatRunsLow(t *testing.T) {
	t.Parallel()
	s := dueService(t)
	bone := s.create("/v1/specimens", specimen("LV.9")).id()
	s.create("/v1/treatments", with(checkedOn(bone, "coating", "2026-11-01", "2026-12-02"), "nextCheckFor",
		array{"tack", "gloss"}))
	acetone := object{"material": object{"id": "acetone"}}
	supply := s.create("/v1/supplies", with(with(acetone, "code", "S-7"), "state", "running-low"))
	millilitres := func(n int) object { return object{"quantity": object{"value": n, "unit": "mL"}} }
	batch := func(code string, low object) object {
		return object{"code": code, "kind": "solution", "finished": millilitres(100), "lowAt": low}
	}
	full := s.create("/v1/batches", batch("B-7", object{"value": 40, "unit": "mL"})).id()
	s.create("/v1/batches", batch("B-8", object{"value": 40, "unit": "g"})) // a mass, of what is kept by volume
	unknown := batch("B-9", object{"value": 40, "unit": "mL"})
	delete(unknown, "finished")
	s.create("/v1/batches", unknown)

	sentences := func() map[string]string {
		out := map[string]string{}
		for _, x := range objectsIn(s.do(http.MethodGet, "/v1/due", nil).want(200).at("items")) {
			name, _ := x["code"].(string)
			if name == "" {
				name = x["number"].(string)
			}
			out[name] = x["sentence"].(string)
		}
		return out
	}
	const measure = ": it is to be told when it runs low, and is not known."
	want := map[string]string{
		"LV.9": "Look at LV.9 again for tack, gloss, as was asked after its coating.",
		"S-7":  "The supply S-7 runs low.",
		"B-8":  "Measure what is left of the batch B-8" + measure,
		"B-9":  "Measure what is left of the batch B-9" + measure,
	}
	if diff := cmp.Diff(sentences(), want); diff != "" {
		t.Errorf("before anything is used (- got + want):\n%s", diff)
	}
	used := func(amount int) {
		s.create("/v1/amount-changes", object{"batch": object{"id": full}, "kind": "used", "amount": millilitres(amount),
			"date": object{"edtf": "2026-11-20"}})
	}
	used(59)
	if got, ok := sentences()["B-7"]; ok {
		t.Errorf("41 mL are left, and it is said: %s", got)
	}
	used(1)
	if got := sentences()["B-7"]; got != "The batch B-7 runs low: 40 mL left." {
		t.Errorf("40 mL are left, and it is said: %q", got)
	}
	s.do(http.MethodPost, "/v1/records/"+full+"/amendments", object{"reason": "Used up.",
		"statement": object{"state": "spent"}}, anyTag, asPatch).want(201)
	s.do(http.MethodPost, "/v1/records/"+supply.id()+"/amendments", object{"reason": "A new one came.",
		"statement": object{"state": "in-use"}}, anyTag, asPatch).want(201)
	delete(want, "S-7")
	if diff := cmp.Diff(sentences(), want); diff != "" {
		t.Errorf("after (- got + want):\n%s", diff)
	}
}
