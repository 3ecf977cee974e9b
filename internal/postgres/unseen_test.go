package postgres_test

import (
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"meniscus/internal/postgres"
)

// TestBatchesAreFollowedSoFar: from an entry about the first of a long chain of batches at
// most Followed are followed; beyond that the concerned specimens are unknown, and all are
// given.
func TestBatchesAreFollowedSoFar(t *testing.T) {
	t.Parallel()
	const chain, specimens = 3000, 12
	k := newKin(t)
	k.specimens(specimens)
	batch := `('10000000-0000-7000-8000-' || lpad((%n%)::text, 12, '0'))::uuid`
	of := func(n string) string { return strings.ReplaceAll(batch, "%n%", n) }
	k.exec(`insert into batch (institution_id, id, revision, code, kind)
		select $1, `+of("n")+`, case n when 0 then 2 else 1 end, 'B-' || n, 'dilution' from generate_series(0, $2::int - 1) n`, chain)
	k.exec(`insert into batch_input (institution_id, batch_id, position, part, from_batch_id)
		select $1, `+of("n")+`, 0, 'stock', `+of("n - 1")+` from generate_series(1, $2::int - 1) n`, chain)
	k.exec(`insert into entry (institution_id, id, kind, record_id, revision, act, request_id, recorded_by, nonce, digest, body)
		values ($1, $2, 'batch', `+of("0")+`, 2, 'amended', $2, $2, decode(repeat('00', 16), 'hex'),
		        decode(repeat('00', 32), 'hex'), '{}')`, uuid.New())
	k.exec(`insert into sequenced (institution_id, seq, entry_id, record_id, sealed_at)
		select $1, 1, id, record_id, now() from entry where institution_id = $1 and kind = 'batch'`)
	treatment := uuid.New()
	k.treat(treatment, 5, 0, 0)
	k.exec(`insert into treatment_use (institution_id, treatment_id, position, certainty, batch_id) values ($1, $2, 0, 'documented', `+of("$3 - 1")+`)`,
		treatment, chain)
	for followed, want := range map[int]int{100: specimens, chain - 1: specimens, chain: 1, postgres.MostFollowed: 1} {
		args := []any{k.institution, 500, nil, 0, followed, uuid.Nil, 100}
		rows, err := k.db.Query(t.Context(), `select * from (`+postgres.UnseenSpecimens+`) x where what = 'specimen'`, args...)
		if err != nil {
			t.Fatal(err)
		}
		found, err := pgx.CollectRows(rows, pgx.RowToMap)
		if err != nil || len(found) != want || (found[0]["number"] == int64(1)) != (want == specimens) {
			t.Errorf("%d followed: got %v, %v, want %d specimens", followed, found, err, want)
		}
		rows, err = k.db.Query(t.Context(), `explain (analyze, costs off, timing off, summary off) `+postgres.UnseenSpecimens, args...)
		if err != nil {
			t.Fatal(err)
		}
		plan, err := pgx.CollectRows(rows, pgx.RowTo[string])
		if err != nil {
			t.Fatal(err)
		}
		walked := regexp.MustCompile(`Recursive Union \(actual rows=(\d+)`).FindAllStringSubmatch(strings.Join(plan, "\n"), -1)
		most := 0
		for _, w := range walked {
			n, _ := strconv.Atoi(w[1])
			most = max(most, n)
		}
		if len(walked) == 0 || most > followed+1 || most > chain {
			t.Errorf("%d followed: got %d batches walked, want one more at most\n%s", followed, most, strings.Join(plan, "\n"))
		}
	}
}
