package httpapi_test

import (
	"net/http"
	"testing"

	"meniscus/internal/pgtest"
	"meniscus/internal/postgres"
)

// replicated is a service on two servers, of which the second follows the first.
func replicated(t *testing.T) (s *service, standby *pgtest.Server) {
	t.Helper()
	first := pgtest.NewServer(t)
	standby = first.Standby(t)
	s = &service{t: t, db: &first.DB, store: opened(t, first.App())}
	s.store.ReadAlsoFrom(opened(t, standby.App()))
	s.api = mustServe(t, ordinary(t, s.store))
	s.url = listen(t, s.api).URL
	s.inst, s.key = addInstitution(t, s.db, s.store, "Museum of the Lower Valley")
	return s, standby
}

func opened(t *testing.T, dsn string) *postgres.Store {
	t.Helper()
	store, err := postgres.Open(t.Context(), dsn)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(store.Close)
	return store
}

const incompleteRecords = "/v1/reports/incomplete-records"

// TestReadFromStandby: a read that sends a position back is answered from a standby that has it,
// and else from the first server; a report from the standby as it is. What a key may do is asked
// of the first server. A standby that is away is not missed.
func TestReadFromStandby(t *testing.T) {
	t.Parallel()
	s, standby := replicated(t)
	s.do(http.MethodGet, incompleteRecords, nil, header{"Record-Position", "*"}).wantProblem(400, "position-unreadable")
	made := s.create("/v1/specimens", specimen("LV.1987/0042"))
	of, at := "/v1/specimens/"+made.id(), header{"Record-Position", made.header.Get("Record-Position")}
	if at.value == "" {
		t.Fatal("a write does not tell its position")
	}
	wait := func(what, path string, at header) {
		t.Helper()
		for range 100 {
			if s.do(http.MethodGet, path, nil, at).want(200).header.Get("Record-Position") != "" {
				return
			}
		}
		t.Fatalf("%s is not read from the standby", what)
	}
	wait("what it has", of, at)

	standby.Pause(t)
	changed := specimen("LV.1987/0042")
	changed["collection"] = "archaeology"
	amended := s.do(http.MethodPost, "/v1/records/"+made.id()+"/amendments", object{"statement": changed, "reason": "wrong"},
		header{"If-Match", made.header.Get("ETag")}).want(201)
	later := header{"Record-Position", amended.header.Get("Record-Position")}
	read := func(what string, r reply, collection string, fromStandby bool) {
		t.Helper()
		if got := r.want(200).at("statement", "collection"); got != collection {
			t.Errorf("%s: got %v, want %v", what, got, collection)
		}
		if got := r.header.Get("Record-Position") != ""; got != fromStandby {
			t.Errorf("%s: from the standby: %v, want %v", what, got, fromStandby)
		}
	}
	read("an earlier position", s.do(http.MethodGet, of, nil, at), "palaeontology", true)
	read("a position that the standby has not", s.do(http.MethodGet, of, nil, later), "archaeology", false)
	read("a position of a time to come", s.do(http.MethodGet, of, nil, header{"Record-Position", "zzzzzzzz"}), "archaeology", false)
	read("no position", s.do(http.MethodGet, of, nil), "archaeology", false)
	report := s.do(http.MethodGet, incompleteRecords, nil)
	if said, err := postgres.ParsePosition(report.want(200).header.Get("Record-Position")); err != nil ||
		said.String() >= later.value && len(said.String()) >= len(later.value) {
		t.Errorf("a report is of the position %v (%v), want one before %v", said, err, later.value)
	}

	other := s.do(http.MethodPost, "/v1/access-keys", keyFor(s.do(http.MethodGet, "/v1/people", nil).at("items", 0, "id").(string)),
		header{"Idempotency-Key", "other"}).want(201)
	holder := s.in(t)
	holder.key = other.at("secret").(string)
	read("another key", holder.do(http.MethodGet, of, nil, at), "palaeontology", true)
	s.do(http.MethodDelete, "/v1/access-keys/"+other.id(), nil).want(200)
	holder.do(http.MethodGet, of, nil, at).wantProblem(401, "access-key-unknown")

	standby.Resume(t)
	wait("what it has heard of since", of, later)
	read("the later position", s.do(http.MethodGet, of, nil, later), "archaeology", true)

	standby.Crash()
	for range 3 {
		read("a standby that is away", s.do(http.MethodGet, of, nil, later), "archaeology", false)
	}
	s.do(http.MethodGet, incompleteRecords, nil).want(200)
}

// TestReadsWriteNothing: each GET is answered alike from a server that takes no writes.
func TestReadsWriteNothing(t *testing.T) {
	t.Parallel()
	c := newCancelling(t, 8)
	ids := c.load()
	url := listen(t, c.server).URL
	const at = "1" // every server has it
	before := map[string]reply{}
	gets := []example{}
	for _, e := range examples(t, ids) {
		if e.method == http.MethodGet && e.id != "streamChanges" && e.id != "readDueCalendar" {
			gets = append(gets, e)
			before[e.id] = send(t, url, c.key, e.method, e.path, nil, header{"Accept", e.accept})
		}
	}
	c.store.ReadAlsoFrom(opened(t, c.db.App()+"&options=-c%20default_transaction_read_only%3Don"))
	read := 0
	for _, e := range gets {
		got := send(t, url, c.key, e.method, e.path, nil, header{"Accept", e.accept}, header{"Record-Position", at})
		if want := before[e.id]; got.status != want.status || want.status >= 500 {
			t.Errorf("%s: got %d, want %d: %s", e.id, got.status, want.status, got.body)
		}
		if got.header.Get("Record-Position") != "" {
			read++
		}
	}
	if read < 50 {
		t.Errorf("%d of %d reads were read from the other server", read, len(gets))
	}
}
