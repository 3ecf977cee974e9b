package httpapi_test

import (
	"net/http"
	"strconv"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"meniscus/internal/pgtest"
)

// misnamed is treatments of one specimen with one bottle, and the bottle that it should have been.
type misnamed struct {
	*service
	treatments   []string
	wrong, right string
}

func newMisnamed(t *testing.T, treatments int) misnamed {
	t.Helper()
	return newService(t).misnamed(treatments)
}

func (s *service) misnamed(treatments int) misnamed {
	s.t.Helper()
	bottle := func(code string) string { return s.create("/v1/batches", object{"code": code, "kind": "bottle"}).id() }
	skull := s.create("/v1/specimens", specimen("LV.1")).id()
	tr := misnamed{service: s, wrong: bottle("B-1"), right: bottle("B-2")}
	for i := range treatments {
		st := treatment(skull, "consolidation", "2024-03-12")
		st["materials"] = array{object{"used": object{"batch": object{"id": tr.wrong}}}}
		st["remarks"] = "Tray " + strconv.Itoa(i)
		tr.treatments = append(tr.treatments, s.create("/v1/treatments", st).id())
	}
	return tr
}

// swap asks for one bottle in the place of the other; more is set beside that.
func (tr misnamed) swap(more object) object {
	request := object{"records": refs(tr.treatments...), "reason": "The other bottle stood in the tray.",
		"replace": object{"from": tr.wrong, "to": tr.right}}
	if more["undo"] != nil {
		delete(request, "replace")
	}
	for name, value := range more {
		request[name] = value
	}
	return request
}

// TestAmendManyAsksTogether: many records are read, changed and put back in as many round trips as
// few are.
func TestAmendManyAsksTogether(t *testing.T) {
	t.Parallel()
	trips := map[int][]int64{}
	for _, n := range []int{3, 40} {
		s, count := counted(t)
		tr := s.misnamed(n)
		tr.amendMany(tr.swap(object{})).want(200) // looks the key up
		request := object{}
		for range 3 { // the dry run, the change, and its dry undoing
			var got reply
			trips[n] = append(trips[n], count.During(func() { got = tr.amendMany(tr.swap(request)).want(200) }))
			request = object{"token": got.at("token")}
			if got.at("carriedOut") == true {
				request = object{"undo": got.at("token")}
			}
		}
	}
	if diff := cmp.Diff(trips[3], trips[40]); diff != "" {
		t.Errorf("of 3 records (-) and of 40 (+):\n%s", diff)
	}
}

func (s *service) amendMany(request object) reply {
	s.t.Helper()
	return s.do(http.MethodPost, "/v1/amendments", request)
}

// statements are the treatments as they are stated now, with their revisions.
func (tr misnamed) statements() (all []any, revisions []float64) {
	tr.t.Helper()
	for _, id := range tr.treatments {
		got := tr.do(http.MethodGet, "/v1/records/"+id, nil).want(200)
		all, revisions = append(all, got.at("statement")), append(revisions, got.at("revision").(float64))
	}
	return all, revisions
}

func (tr misnamed) entries() (n int) {
	tr.t.Helper()
	if err := pgtest.Pool(tr.t, tr.db.Super()).QueryRow(tr.t.Context(), `select count(*) from entry`).Scan(&n); err != nil {
		tr.t.Fatal(err)
	}
	return n
}

// TestAmendMany: a bottle that sixty treatments name wrongly is put right in all of them: a dry run shows
// each change and records nothing, its token carries all out once, and the answer's token undoes exactly that.
func TestAmendMany(t *testing.T) {
	t.Parallel()
	tr := newMisnamed(t, 60)
	other := treatment(tr.create("/v1/specimens", specimen("LV.2")).id(), "coating", "2024")
	other["materials"] = array{object{"used": object{"batch": object{"id": tr.right}}}}
	tr.treatments = append(tr.treatments, tr.create("/v1/treatments", other).id()) // says the right one already
	before, _ := tr.statements()
	entries := tr.entries()

	dry := tr.amendMany(tr.swap(nil)).want(200)
	if items := dry.at("items").(array); len(items) != 60 || dry.at("carriedOut") != false || dry.at("unchanged") != 1.0 {
		t.Fatalf("got %s, want sixty changes", dry.body)
	}
	want := object{"record": object{"id": tr.treatments[7]}, "revision": 1.0, "changed": object{"items": array{object{"after": tr.right,
		"before": tr.wrong, "change": "replaced", "pointer": "/materials/0/used/batch/id"}}}}
	if diff := cmp.Diff(dry.at("items", 7), any(want)); diff != "" {
		t.Errorf("a change of the dry run (- got + want):\n%s", diff)
	}
	if got := tr.entries(); got != entries {
		t.Errorf("the dry run recorded %d entries", got-entries)
	}

	done := tr.amendMany(tr.swap(object{"token": dry.at("token")})).want(200)
	if done.at("carriedOut") != true || len(done.at("items").(array)) != 60 || done.at("items", 0, "revision") != 2.0 {
		t.Errorf("got %s, want sixty amended", done.body)
	}
	if got := tr.do(http.MethodGet, "/v1/treatments?limit=500&batch="+tr.right, nil).want(200); len(got.at("items").(array)) != 61 {
		t.Errorf("got %d treatments with the right bottle, want 61", len(got.at("items").(array)))
	}
	last := tr.do(http.MethodGet, "/v1/records/"+tr.treatments[59], nil).want(200)
	if last.at("reason") != "The other bottle stood in the tray." {
		t.Errorf("got the reason %v", last.at("reason"))
	}
	if got := tr.entries(); got != entries+60 {
		t.Errorf("got %d entries, want sixty more than %d", got, entries)
	}
	tr.amendMany(tr.swap(object{"token": dry.at("token")})).wantProblem(409, "token-used")

	back := object{"undo": done.at("token"), "reason": "It was that bottle after all."}
	undo := tr.amendMany(tr.swap(back)).want(200)
	if len(undo.at("items").(array)) != 60 || undo.at("items", 0, "changed", "items", 0, "after") != tr.wrong {
		t.Errorf("got %s, want sixty put back", undo.body)
	}
	back["token"] = undo.at("token")
	tr.amendMany(tr.swap(back)).want(200)
	after, revisions := tr.statements()
	if diff := cmp.Diff(after, before); diff != "" {
		t.Errorf("undone it says something else (- got + want):\n%s", diff)
	}
	if revisions[0] != 3 || revisions[60] != 1 {
		t.Errorf("got the revisions %v", revisions)
	}
	delete(back, "token")
	tr.amendMany(tr.swap(back)).wantProblem(409, "records-changed") // undone already
	tr.refresh()
	if wrong := tr.verify(); len(wrong) > 0 {
		t.Errorf("the projections differ: %v", wrong)
	}
}

// TestAmendManyKinds: a person named wrongly in records of several kinds, of which the key needs the scopes;
// what does not stand under a pointer is left alone.
func TestAmendManyKinds(t *testing.T) {
	t.Parallel()
	tr := newMisnamed(t, 0)
	tomas, vera := tr.create("/v1/people", object{"name": "Tomas Brandl"}).id(),
		tr.create("/v1/people", object{"name": "Vera Lindt"}).id()
	by := array{object{"person": object{"id": tomas}, "part": "carried-out"}}
	skull := tr.create("/v1/specimens", specimen("LV.2")).id()
	coat := tr.create("/v1/treatments", with(treatment(skull, "coating", "2024"), "people", by)).id()
	jar := tr.create("/v1/batches", object{"code": "B-3", "kind": "solution", "madeBy": by}).id()
	request := object{"records": refs(coat, jar, coat), "reason": "It was Vera.", "replace": object{"from": tomas, "to": vera}}
	send(t, tr.url, tr.keyWith("record"), http.MethodPost, "/v1/amendments", request).wantProblem(403, "scope-missing")
	key := tr.keyWith("record", "stock")
	request["token"] = send(t, tr.url, key, http.MethodPost, "/v1/amendments", request).want(200).at("token")
	send(t, tr.url, key, http.MethodPost, "/v1/amendments", request).want(200)
	for id, member := range map[string]string{coat: "people", jar: "madeBy"} {
		if got := tr.do(http.MethodGet, "/v1/records/"+id, nil).want(200); got.at("statement", member, 0, "person", "id") != vera {
			t.Errorf("got %s", got.body)
		}
	}
	none := tr.amendMany(object{"records": refs(coat), "reason": "Misread.",
		"replace": object{"from": vera, "to": tomas, "under": "/materials"}}).want(200)
	if none.at("unchanged") != 1.0 {
		t.Errorf("got %s, want nothing to change there", none.body)
	}
}

// TestAmendManyAllOrNothing: each thing that is wrong with one of the records, or with the token, has its
// problem, and then no record is changed.
func TestAmendManyAllOrNothing(t *testing.T) {
	t.Parallel()
	tr := newMisnamed(t, 5)
	hill := tr.neighbour("Museum on the Hill")
	foreign := hill.create("/v1/specimens", specimen("H.1")).id()
	gone := tr.create("/v1/people", object{"name": "Vera Lindt"}).id()
	tr.do(http.MethodPost, "/v1/records/"+gone+"/retraction", object{"reason": "Entered twice."}, anyTag).want(201)
	merged := tr.create("/v1/specimens", specimen("LV.8")).id()
	into := tr.create("/v1/specimens", specimen("LV.9")).id()
	tr.do(http.MethodPost, "/v1/specimens/"+merged+"/merge", object{"into": object{"id": into}, "reason": "One bone."}, anyTag).want(201)
	many := make([]string, 1001)
	for i := range many {
		many[i] = uuid.NewString()
	}
	token := tr.amendMany(tr.swap(nil)).want(200).at("token").(string)
	and := func(id string) array { return refs(append([]string{id}, tr.treatments...)...) }
	replace := func(from, to any) object { return object{"replace": object{"from": from, "to": to}} }
	entries := tr.entries()
	for name, test := range map[string]struct {
		request object
		status  int
		code    string
		inner   string // of the first error, where there are several
	}{
		"1,001 records":                 {object{"records": refs(many...)}, 422, "validation", "item-count"},
		"no record":                     {object{"records": array{}}, 422, "validation", "item-count"},
		"a record of another museum":    {object{"records": and(foreign)}, 404, "not-found", "record-unknown"},
		"a record that nobody has":      {object{"records": and(uuid.NewString())}, 404, "not-found", "record-unknown"},
		"one that was retracted":        {object{"records": and(gone)}, 409, "record-not-in-force", ""},
		"one that was merged":           {object{"records": and(merged)}, 409, "specimen-merged", ""},
		"a bottle that is not here":     {replace(tr.wrong, uuid.NewString()), 422, "validation", "amendment-refused"},
		"a bottle of no shape":          {replace(tr.wrong, 7), 422, "validation", "amendment-refused"},
		"an action that there is not":   {replace("consolidation", "blessing"), 422, "validation", "amendment-refused"},
		"nothing of what must be there": {replace("consolidation", nil), 422, "validation", "type"},
		"somebody new": {replace(array{object{"used": object{"batch": object{"id": tr.wrong}}}},
			array{object{"used": object{"batch": object{"id": tr.wrong}}, "by": object{"name": "Nobody Known"}}}),
			422, "validation", "amendment-refused"},
		"a token of other records": {object{"token": token, "records": refs(tr.treatments[:4]...)}, 422,
			"validation", "token-of-another-request"},
		"a token of another change": {with(replace(tr.wrong, tr.wrong), "token", token), 422, "validation",
			"token-of-another-request"},
		"a token that nobody gave":     {object{"token": "x"}, 422, "validation", "token-of-another-request"},
		"a dry run's token as an undo": {object{"undo": token}, 422, "validation", "token-of-another-request"},
		"two changes":                  {object{"undo": token, "replace": object{"from": 1, "to": 2}}, 422, "validation", "choice"},
		"the key of another museum":    {object{}, 404, "not-found", "hill"},
	} {
		as := tr.service
		if test.inner == "hill" {
			as, test.inner = hill, ""
		}
		got := as.in(t).amendMany(tr.swap(test.request))
		if got.status != test.status || test.inner == "" && got.at("code") != test.code && got.status != 422 {
			t.Errorf("%s: got %d %s, want %d %s", name, got.status, got.body, test.status, test.code)
			continue
		}
		if test.inner != "" && got.at("errors", 0, "code") != test.inner {
			t.Errorf("%s: got %s, want %s", name, got.body, test.inner)
		}
	}
	if got := tr.entries(); got != entries {
		t.Errorf("%d entries were recorded", got-entries)
	}

	// One of five changes between the dry run and its token.
	tr.amended(tr.treatments[3], object{"remarks": "Seen again."}, header{"Content-Type", "application/merge-patch+json"}).want(201)
	entries = tr.entries()
	stale := tr.amendMany(tr.swap(object{"token": token})).wantProblem(409, "records-changed")
	if got := stale.at("record", "id"); got != tr.treatments[3] {
		t.Errorf("got %s, want the record that changed named", stale.body)
	}
	if got := tr.entries(); got != entries {
		t.Errorf("%d entries were recorded", got-entries)
	}
	fresh := tr.amendMany(tr.swap(nil)).want(200).at("token")
	answers := make(chan reply)
	for range 4 { // of four that use a token at one moment, one carries it out
		go func() { answers <- tr.amendMany(tr.swap(object{"token": fresh})) }()
	}
	carried := 0
	for range 4 {
		switch got := <-answers; got.status {
		case 200:
			carried++
		case 409:
		default:
			t.Errorf("got %d %s", got.status, got.body)
		}
	}
	if got := tr.entries(); carried != 1 || got != entries+5 {
		t.Errorf("%d carried it out, and %d entries were recorded, want one and five", carried, got-entries)
	}
}
