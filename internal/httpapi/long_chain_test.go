package httpapi_test

import (
	"crypto/md5"
	"fmt"
	"net/http"
	"strings"
	"testing"

	"github.com/google/uuid"

	"meniscus/internal/pgtest"
)

// dilutions writes a chain of batches, each made from the one before, straight into
// the database: entries and projections. It gives their ids.
func (s *service) dilutions(n int) []string {
	s.t.Helper()
	pool := pgtest.Pool(s.t, s.db.Super())
	for _, sql := range []string{
		`insert into batch (institution_id, id, revision, code, kind) select $1, md5('b' || n)::uuid, 1, 'B-' || n, 'dilution' from generate_series(0, $2 - 1) n`,
		`insert into batch_input (institution_id, batch_id, position, part, from_batch_id)
			select $1, md5('b' || n)::uuid, 0, 'stock', md5('b' || n - 1)::uuid from generate_series(1, $2 - 1) n`,
		`insert into entry (institution_id, id, kind, record_id, revision, act, request_id, recorded_by, nonce, digest, body)
			select $1, md5('e' || n)::uuid, 'batch', md5('b' || n)::uuid, 1, 'stated', md5('r' || n)::uuid, (select id from person where institution_id = $1 limit 1), '\x00',
			       sha256('\x00'), json_build_object('statement', json_build_object('code', 'B-' || n, 'kind', 'dilution', 'inputs', case when n = 0 then '[]'::json else json_build_array(
			       json_build_object('from', json_build_object('batch', json_build_object('id', md5('b' || n - 1)::uuid)), 'part', 'stock', 'amount', json_build_object('answer', 'unknown'))) end))
			  from generate_series(0, $2 - 1) n`,
	} {
		if _, err := pool.Exec(s.t.Context(), sql, s.inst, n); err != nil {
			s.t.Fatalf("%v: %s", err, sql)
		}
	}
	ids := make([]string, n)
	for i := range ids {
		ids[i] = uuid.UUID(md5.Sum([]byte(fmt.Sprint("b", i)))).String()
	}
	return ids
}

// A chain of more dilutions than are read says how many more there are, in each
// answer that rests on it; and it takes no more questions than a short one.
func TestAChainLongerThanIsRead(t *testing.T) {
	t.Parallel()
	s, trips := counted(t)
	ids := s.dilutions(5014)
	end := ids[len(ids)-1]
	skull := s.create("/v1/specimens", specimen("LV.1")).id()
	coat := s.create("/v1/treatments", coating(skull, end, "2024-09", 1)).id()
	for path, more := range map[string]float64{
		"/v1/batches/" + end + "/contents?detail=full":       14,
		"/v1/batches/" + end + "/lineage":                    14,
		"/v1/records/" + coat + "/completeness":              14,
		"/v1/batches/" + ids[4999] + "/contents?detail=full": 0, // itself and 4,999 others
		"/v1/batches/" + ids[0] + "/where-used":              0,
		"/v1/batches/" + ids[5] + "/lineage":                 0,
	} {
		var got reply
		asked := trips.During(func() { got = s.do(http.MethodGet, path, nil).want(200) })
		if told, _ := got.at("moreBatches").(float64); told != more || asked > 12 || len(got.body) > 2_000_000 {
			t.Errorf("%s: got %v more, %d questions, %d bytes; want %v, at most 12, and at most 2 MB", path, told, asked, len(got.body), more)
		}
	}
	if got := s.do(http.MethodGet, "/v1/batches/"+ids[0]+"/where-used", nil).want(200); got.size("certain", 0, "through") != 1000 || got.at("complete") != false {
		t.Errorf("got %d steps, complete %v; want 1000 and no", got.size("certain", 0, "through"), got.at("complete"))
	}
	s.refresh()
	for path, says := range map[string]bool{"/v1/batches/" + end + "/label": true, "/v1/treatments/" + coat + "/provenance": false,
		"/v1/specimens/" + skull + "/sheet": true, "/v1/specimens/" + skull + "/present-state?detail=full": false} {
		var got reply
		asked, most := trips.During(func() { got = s.do(http.MethodGet, path, nil).want(200) }), int64(21)
		if strings.HasSuffix(path, "/sheet") {
			most = 25 // it tells what is missing, what is gone, and the sequence numbers too
		}
		if asked > most || says && !strings.Contains(string(got.body), "14 more supplies and batches") {
			t.Errorf("%s: got %d questions, want at most %d, and the 14 named: %.2000s", path, asked, most, got.body)
		}
	}
}
