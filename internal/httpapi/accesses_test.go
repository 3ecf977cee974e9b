package httpapi_test

import (
	"context"
	"net/http"
	"net/netip"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/httpapi"
	"meniscus/internal/pgtest"
	"meniscus/internal/postgres"
)

// Who read and who changed what is on record, by record, person and time, with nothing of what was sent or answered.
func TestWhoReadAndChangedWhat(t *testing.T) {
	t.Parallel()
	s := newService(t)
	key := s.keyOf("read", "record")
	specimen := s.create("/v1/specimens", specimen("LV.1987/0042")).id()
	person := idOf(s.do(http.MethodGet, "/v1/access-keys", nil).at("items", 0, "person"))
	s.accesses("")
	read := func(path string) { send(t, s.url, key, http.MethodGet, path, nil) }
	for range 5 {
		read("/v1/specimens/" + specimen)
	}
	read("/v1/specimens/" + specimen + "/present-state")
	read("/v1/specimens/" + uuid.NewString()) // not here
	read("/v1/specimen-lookup?number=LV.1987%2F0042")
	made := s.do(http.MethodPost, "/v1/people", object{"statement": object{"name": "Vera Lindt"}},
		header{"Idempotency-Key", "one"}).want(201)
	s.do(http.MethodPost, "/v1/records/"+specimen+"/retraction", object{"reason": "Registered twice."},
		header{"If-Match", `"stale"`}).want(412)
	s.do(http.MethodPost, "/v1/records/"+specimen+"/retraction", object{"reason": "Registered twice."}, anyTag).want(201)
	read("/v1/materials/acetone")                                                 // known to all
	send(t, s.url, s.keyOf("read"), http.MethodGet, "/v1/changes", nil).want(403) // a refusal
	send(t, s.url, "", http.MethodGet, "/v1/specimens/"+specimen, nil).want(401)

	of := s.accesses("&record=" + specimen)
	type line struct {
		what, sort, operation string
		status, times         float64
	}
	want := []line{
		{"change", "records", "retractRecord", 201, 1}, {"change", "records", "retractRecord", 412, 1},
		{"read", "specimens", "readPresentState", 200, 1}, {"read", "specimens", "readSpecimen", 200, 5},
		{"change", "specimens", "createSpecimen", 201, 1},
	}
	if len(of) != len(want) {
		t.Fatalf("got %v, want %v", of, want)
	}
	for i, item := range of {
		x := item.(object)
		got := line{x["what"].(string), x["sort"].(string), x["operation"].(string), x["status"].(float64), x["times"].(float64)}
		if got != want[i] || idOf(x["person"]) != person || x["key"] == nil {
			t.Errorf("got %v, want %v by %s", x, want[i], person)
		}
	}
	by := s.accesses("&record=" + made.id())
	if len(by) != 1 || by[0].(object)["sort"] != "people" {
		t.Errorf("got %v of the new person", by)
	}
	for _, item := range s.accesses("") {
		if text := string(encoded(item)); strings.Contains(text, "LV.1987") || strings.Contains(text, "Lindt") ||
			strings.Contains(text, "twice") {
			t.Errorf("an access says what was sent or answered: %s", text)
		}
	}
}

// What is old is deleted, in bounded steps; what became of keys stays.
func TestAccessesAreForgotten(t *testing.T) {
	t.Parallel()
	s := newService(t)
	s.do(http.MethodGet, "/v1/institution", nil).want(200)
	s.accesses("")
	s.owner(`insert into access_log (institution_id, id, what, times)
		select $1, ('01900000-0000-7000-8000-' || lpad(n::text, 12, '0'))::uuid, case when n % 10 = 0 then 'key-made' else 'read' end, 1
		  from generate_series(1, 12000) n`, s.inst)
	worker, err := postgres.OpenDeliverer(t.Context(), s.db.Worker())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(worker.Close)
	total := 0
	for {
		n, err := worker.ForgetAccesses(t.Context(), time.Now().Add(-time.Hour))
		if err != nil || n > 5000 {
			t.Fatalf("got %d at a time, %v", n, err)
		}
		if total += n; n == 0 {
			break
		}
	}
	var keys, rest int
	if err := pgtest.Pool(t, s.db.Super()).QueryRow(t.Context(), `select count(*) filter (where what like 'key-%'),
		count(*) filter (where what not like 'key-%') from access_log`).Scan(&keys, &rest); err != nil || total != 10_800 || keys < 1201 || rest < 1 {
		t.Errorf("got %d forgotten, %d of keys and %d others left, %v", total, keys, rest, err)
	}
}

// While the database is away nothing is lost that there is room for, and nothing is on record twice.
func TestAccessesWaitForTheDatabase(t *testing.T) {
	t.Parallel()
	s := newService(t)
	before := len(s.accesses(""))
	s.do(http.MethodGet, "/v1/institution", nil).want(200)
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	s.api.WriteJournal(gone, false)
	s.do(http.MethodGet, "/v1/institution", nil).want(200)
	times := 0.0
	for _, item := range s.accesses("") {
		if item.(object)["operation"] == "readInstitution" {
			times += item.(object)["times"].(float64)
		}
	}
	if times != 2 {
		t.Errorf("got %v reads on record after %d lines, want 2", times, before)
	}
}

// The caller's address is believed of the operator's proxies alone, and counts for limits.
func TestTheAddressBehindAProxy(t *testing.T) {
	t.Parallel()
	s := newService(t)
	limited := func(proxies ...netip.Prefix) *service {
		other := *s
		other.url = listen(t, mustServe(t, httpapi.Config{Store: s.store, PublicURL: "https://meniscus.example", Proxies: proxies,
			Limit: httpapi.Limit{Requests: 3, Window: time.Hour}})).URL
		return &other
	}
	ask := func(s *service, forwarded string) int {
		return send(t, s.url, "", http.MethodGet, "/v1/materials/acetone", nil, header{"X-Forwarded-For", forwarded}).status
	}
	direct := limited()
	for i := range 5 { // an address of the caller's own making counts for nothing
		if got, want := ask(direct, "192.0.2."+string(rune('1'+i))), 200; (got == want) != (i < 3) {
			t.Errorf("without proxies, request %d: got %d", i, got)
		}
	}
	behind := limited(netip.MustParsePrefix("127.0.0.0/8"), netip.MustParsePrefix("10.0.0.0/8"))
	for i := range 5 {
		if got := ask(behind, "203.0.113.9, 192.0.2.1, 10.0.0.7"); (got == 200) != (i < 3) {
			t.Errorf("behind proxies, request %d: got %d", i, got)
		}
	}
	for _, same := range []string{"198.51.100.3, 192.0.2.1, 10.0.0.7", "192.0.2.1", "x, 192.0.2.1, 10.0.0.7,10.0.0.8", "::ffff:192.0.2.1"} {
		if got := ask(behind, same); got != 429 {
			t.Errorf("%q: got %d, want the same caller", same, got)
		}
	}
	if got := ask(behind, "192.0.2.1, 203.0.113.9"); got != 200 {
		t.Errorf("another caller: got %d", got)
	}
}
