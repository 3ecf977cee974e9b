package httpapi_test

import (
	"net/http"
	"slices"
	"testing"

	"meniscus/internal/pgtest"
)

// Lists that are narrowed by a material follow the 50,000 batches that are nearest
// to it, and say how many more hold it.
func TestListsOfAMaterialSayHowManyBatchesWereNotFollowed(t *testing.T) {
	t.Parallel()
	s := newService(t)
	batch := func(code string, from object) string {
		inputs := array{into(from, "stock", ml(1))}
		return s.create("/v1/batches", object{"code": code, "kind": "dilution", "inputs": inputs}).id()
	}
	first := batch("B-first", object{"material": of("shellac")})
	near := batch("B-near", object{"batch": of(first)})
	last := batch("B-last", object{"batch": of(near)})
	skull := s.create("/v1/specimens", specimen("LV.1")).id()
	plan := func(batch string) string {
		return s.create("/v1/plans", object{"treatment": coating(skull, batch, "2031", 1)}).id()
	}
	coat := func(batch string) string {
		return s.create("/v1/treatments", coating(skull, batch, "2024-09", 1)).id()
	}
	coatNear, coatLast := coat(near), coat(last)
	planNear, planLast := plan(near), plan(last)
	keeps := func(path string, more any, want, not []string) {
		t.Helper()
		got := s.do(http.MethodGet, path, nil).want(200)
		for _, id := range want {
			if !slices.Contains(got.ids(), id) {
				t.Errorf("%s: %s is missing", path, id)
			}
		}
		for _, id := range not {
			if slices.Contains(got.ids(), id) {
				t.Errorf("%s: got %s, want it not followed", path, id)
			}
		}
		if told := got.at("moreBatches"); told != more {
			t.Errorf("%s: got %v more, want %v", path, told, more)
		}
	}
	for path, all := range map[string][]string{
		"/v1/batches": {first, near, last}, "/v1/treatments": {coatNear, coatLast}, "/v1/plans": {planNear, planLast},
	} {
		keeps(path+"?material=shellac", nil, all, nil)
		keeps(path+"?material=shellac&recordedSince=2000-01-01T00:00:00Z", nil, nil, nil)
	}
	// With the first and the near one these are 50,000; the last and 14 others are a
	// step or more further on.
	s.dilutedInto(first, 50_000-2, 14)
	keeps("/v1/batches?material=shellac", 15., []string{first, near}, []string{last})
	keeps("/v1/treatments?material=shellac", 15., []string{coatNear}, []string{coatLast})
	keeps("/v1/plans?material=shellac", 15., []string{planNear}, []string{planLast})
	keeps("/v1/treatments?material=shellac&state=retracted", 15., nil, []string{coatNear, coatLast})
	keeps("/v1/treatments?batch="+last, nil, []string{coatLast}, nil)
	keeps("/v1/supplies?material=shellac", nil, nil, nil)
}

// dilutedInto writes batches made from one, and a chain from one of these, straight into
// the projections.
func (s *service) dilutedInto(from string, wide, deep int) {
	s.t.Helper()
	pool := pgtest.Pool(s.t, s.db.Super())
	_, err := pool.Exec(s.t.Context(), `
		with made as (
			insert into batch (institution_id, id, revision, code, kind)
			select $1, md5('w' || n)::uuid, 1, 'W-' || n, 'dilution' from generate_series(1, $3::int + $4::int) n)
		insert into batch_input (institution_id, batch_id, position, part, from_batch_id)
		select $1, md5('w' || n)::uuid, 0, 'stock', case when n <= $3::int then $2 else md5('w' || n - 1)::uuid end
		  from generate_series(1, $3::int + $4::int) n`, s.inst, from, wide, deep)
	if err != nil {
		s.t.Fatal(err)
	}
}
