package httpapi_test

import (
	"bytes"
	"fmt"
	"net/http"
	"testing"

	"github.com/jackc/pgx/v5/pgxpool"

	"meniscus/internal/pgtest"
	"meniscus/internal/postgres"
)

// counted is a service whose questions to the database are counted.
func counted(t *testing.T) (*service, *pgtest.RoundTrips) {
	t.Helper()
	db, trips := pgtest.New(t), new(pgtest.RoundTrips)
	cfg, err := pgxpool.ParseConfig(db.App())
	if err != nil {
		t.Fatal(err)
	}
	trips.Use(cfg)
	store, err := postgres.OpenWith(t.Context(), cfg)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(store.Close)
	s := &service{t: t, store: store, db: db}
	s.url = newServer(t, store).URL
	s.inst, s.key = addInstitution(t, db, store, "Museum of the Lower Valley")
	return s, trips
}

// diamond is levels of two batches, each made from both of the level before; those
// of the first are of a supply and of something that nobody knows. It gives the
// last batch of each level.
func (s *service) diamond(supply string, levels int) []string {
	s.t.Helper()
	below := array{into(object{"supply": of(supply)}, "solute", g(5)),
		into(object{"words": object{"verbatim": "old glue", "certainty": "unknown"}}, "other", object{"answer": "unknown"})}
	var last []string
	for level := range levels {
		var ids []string
		for k := range 2 {
			ids = append(ids, s.create("/v1/batches", object{"code": fmt.Sprintf("B-%d-%d", level, k), "kind": "solution", "inputs": below}).id())
		}
		below = array{into(object{"batch": of(ids[0])}, "stock", ml(1)), into(object{"batch": of(ids[1])}, "stock", ml(1))}
		last = append(last, ids[1])
	}
	return last
}

// A treatment that used the last of 62 batches, each made from both of the two
// before, is answered, published, passed on and kept: within a few hundred
// kilobytes, and with no more questions to the database than for eight batches.
func TestADiamondOfBatches(t *testing.T) {
	t.Parallel()
	s, trips := counted(t)
	supply := s.create("/v1/supplies", object{"code": "S-1", "material": of(copolymer)}).id()
	last := s.diamond(supply, 31)
	used := func(number, batch string) (skull, coat string) {
		skull = s.create("/v1/specimens", specimen(number)).id()
		return skull, s.create("/v1/treatments", coating(skull, batch, "2024-09", 1)).id()
	}
	shallowSkull, shallowCoat := used("LV.1", last[3])
	skull, coat := used("LV.2", last[30])
	s.refresh()

	const mostBytes = 300_000
	within := func(path string, headers ...header) (reply, int64) {
		var got reply
		n := trips.During(func() { got = s.do(http.MethodGet, path, nil, headers...).want(200) })
		if len(got.body) > mostBytes {
			t.Errorf("%s: got %d bytes, want at most %d", path, len(got.body), mostBytes)
		}
		return got, n
	}
	asPage, asLinked := header{"Accept", "text/html"}, header{"Accept", "application/ld+json"}
	for _, c := range []struct {
		path       string
		of, before string
		headers    []header
	}{
		{"/v1/batches/%s/contents?detail=full", last[30], last[3], nil},
		{"/v1/batches/%s/lineage", last[30], last[3], nil},
		{"/v1/batches/%s/where-used", last[30], last[3], nil},
		{"/v1/batches/%s/label", last[30], last[3], nil},
		{"/v1/batches/%s/label", last[30], last[3], []header{{"Accept", "application/pdf"}}},
		{"/v1/records/%s/completeness", coat, shallowCoat, nil},
		{"/v1/records/%s/completeness", last[30], last[3], nil},
		{"/v1/treatments/%s", coat, shallowCoat, []header{asPage}},
		{"/v1/treatments/%s/provenance", coat, shallowCoat, nil},
		{"/v1/treatments/%s/findings?detail=full", coat, shallowCoat, nil},
		{"/v1/specimens/%s/provenance", skull, shallowSkull, nil},
		{"/v1/specimens/%s", skull, shallowSkull, []header{asLinked}},
		{"/v1/specimens/%s", skull, shallowSkull, []header{asPage}},
		{"/v1/specimens/%s/sheet", skull, shallowSkull, nil},
		{"/v1/specimens/%s/summary", skull, shallowSkull, nil},
		{"/v1/specimens/%s/present-state?detail=full", skull, shallowSkull, nil},
		{"/v1/specimens/%s/removal-plan?detail=full", skull, shallowSkull, nil},
	} {
		_, few := within(fmt.Sprintf(c.path, c.before), c.headers...)
		_, many := within(fmt.Sprintf(c.path, c.of), c.headers...)
		if many > few+1 { // one more where a key is noted as used
			t.Errorf("%s: asked the database %d times, and %d times for eight batches", c.path, many, few)
		}
	}
	held, _ := within("/v1/batches/" + last[30] + "/contents?detail=full")
	if held.size("unknownBecause") != 1 || held.size("unnamed") != 1 || held.size("materials") != 1 || held.at("moreBatches") != nil {
		t.Errorf("got %s, want each once", held.body)
	}
	lineage, _ := within("/v1/batches/" + last[30] + "/lineage")
	if lineage.size("madeFrom") != 61 || lineage.size("links") != 2+4*29+2 || lineage.at("complete") != true {
		t.Errorf("got %d over %d links, want 60 batches and a supply over 120", lineage.size("madeFrom"), lineage.size("links"))
	}
	if found, _ := within("/v1/supplies/" + supply + "/where-used"); found.size("certain") != 2 || found.size("certain", 1, "through") != 32 {
		t.Errorf("got %s, want both treatments", found.body)
	}
	if report, _ := within("/v1/reports/incomplete-records?kind=treatment"); report.size("items") != 2 {
		t.Errorf("got %s, want both treatments", report.body)
	}
	within("/v1/reports/incomplete-records?kind=batch&limit=500")
	within("/v1/exports/records")
	few := trips.During(func() { s.pack(shallowSkull) })
	if many := trips.During(func() { s.pack(skull) }); many > few+1 {
		t.Errorf("a package: asked the database %d times, and %d times for eight batches", many, few)
	}
	if pack := s.pack(skull); bytes.Count(pack, []byte("\n")) < 65 || len(pack) > mostBytes {
		t.Errorf("got %d lines and %d bytes, want all batches", bytes.Count(pack, []byte("\n")), len(pack))
	}
	if wrong := s.verify(); len(wrong) > 0 {
		t.Errorf("got %v, want what is kept to be what the record gives", wrong)
	}
}

// Batches that were made from each other in a circle, and one that was made from
// itself, are answered everywhere, and each says so of itself.
func TestACircleOfBatches(t *testing.T) {
	t.Parallel()
	s := newService(t)
	supply := s.create("/v1/supplies", object{"code": "S-1", "material": of(copolymer)}).id()
	batch := func(code string, from ...string) object {
		inputs := array{into(object{"supply": of(supply)}, "solute", g(5))}
		for _, id := range from {
			inputs = append(inputs, into(object{"batch": of(id)}, "stock", ml(5)))
		}
		return object{"code": code, "kind": "solution", "inputs": inputs}
	}
	a := s.create("/v1/batches", batch("A"))
	b := s.create("/v1/batches", batch("B", a.id())).id()
	s.amend(a, batch("A", b))
	skull := s.create("/v1/specimens", specimen("LV.1")).id()
	coat := s.create("/v1/treatments", coating(skull, b, "2024-09", 1)).id()
	s.refresh()
	for id, code := range map[string]string{a.id(): "A", b: "B"} {
		got := s.do(http.MethodGet, "/v1/batches/"+id+"/contents?detail=full", nil).want(200)
		if got.at("unknownBecause", 0) != "the record says that "+code+" was made, through others, from itself" || got.size("unknownBecause") != 1 {
			t.Errorf("%s: got %s, want it to answer for itself", code, got.body)
		}
		for _, part := range []string{"/lineage", "/where-used", "/label"} {
			s.do(http.MethodGet, "/v1/batches/"+id+part, nil).want(200)
		}
	}
	for _, path := range []string{"/v1/records/" + coat + "/completeness", "/v1/reports/incomplete-records", "/v1/treatments/" + coat + "/provenance",
		"/v1/specimens/" + skull + "/sheet", "/v1/specimens/" + skull + "/present-state?detail=full", "/v1/specimens/" + skull + "/present-state?detail=full&believedAt=" + s.now()} {
		s.do(http.MethodGet, path, nil).want(200)
	}
	if wrong := s.verify(); len(wrong) > 0 {
		t.Errorf("got %v, want what is kept to be what the record gives", wrong)
	}
}

// size is how long a list is.
func (r reply) size(path ...any) int {
	list, _ := r.at(path...).([]any)
	return len(list)
}
