package postgres_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5/pgxpool"

	"meniscus/internal/pgtest"
	"meniscus/internal/postgres"
)

// earlier creates a function as a migration defined it, under another name.
func earlier(t *testing.T, db *pgxpool.Pool, migration, function, name string) {
	t.Helper()
	text, err := os.ReadFile("../../migrations/" + migration)
	if err != nil {
		t.Fatal(err)
	}
	_, last, _ := strings.Cut(string(text), "create or replace function "+function)
	body, _, _ := strings.Cut(last, "-- +goose StatementEnd")
	if _, err := db.Exec(t.Context(), "create function "+name+body); err != nil {
		t.Fatal(err)
	}
}

// kin are specimens of one institution, written straight into the projections.
type kin struct {
	t           *testing.T
	db          *pgxpool.Pool
	institution uuid.UUID
}

func (k kin) exec(sql string, args ...any) {
	k.t.Helper()
	if _, err := k.db.Exec(k.t.Context(), sql, append([]any{k.institution}, args...)...); err != nil {
		k.t.Fatal(err)
	}
}

func (k kin) id(n int) uuid.UUID {
	return uuid.MustParse(fmt.Sprintf("00000000-0000-7000-8000-%012d", n))
}

func (k kin) number(sql string, args ...any) (n int) {
	k.t.Helper()
	if err := k.db.QueryRow(k.t.Context(), sql, append([]any{k.institution}, args...)...).Scan(&n); err != nil {
		k.t.Fatal(err)
	}
	return n
}

// part makes a specimen a part of another; a negative day means unknown.
func (k kin) part(n, of, day, recorded int, areas []string) {
	k.exec(`update specimen set parent_id = $3, part_areas = $4,
		split_recorded = timestamptz '2000-01-01' + $6 * interval '1 day',
		split_earliest = case when $5 >= 0 then date '2000-01-01' + $5 end,
		split_latest = case when $5 >= 0 then date '2000-01-01' + $5 + 3 end
		where institution_id = $1 and id = $2`, k.id(n), k.id(of), areas, day, recorded)
}

func (k kin) merge(n, into int) {
	k.exec(`update specimen set merged_into = $3 where institution_id = $1 and id = $2`, k.id(n), k.id(into))
}

func (k kin) specimens(n int) {
	k.exec(`insert into specimen (institution_id, id, revision)
		select $1, ('00000000-0000-7000-8000-' || lpad(n::text, 12, '0'))::uuid, 1 from generate_series(1, $2::int) n`, n)
}

// treat puts a treatment on a specimen, with the entry that recorded it.
func (k kin) treat(id uuid.UUID, on, day, recorded int) {
	k.exec(`insert into entry (institution_id, id, kind, record_id, revision, act, request_id, recorded_at, recorded_by,
	                           nonce, digest, body)
		values ($1, $2, 'treatment', $2, 1, 'stated', $2, timestamptz '2000-01-01' + $3 * interval '1 day', $2,
		        decode(repeat('00', 16), 'hex'), decode(repeat('00', 32), 'hex'), '{}')`, id, recorded)
	k.exec(`insert into treatment (institution_id, id, revision, specimen_id, action, earliest, latest)
		values ($1, $2, 1, $3, 'cleaning', case when $4 >= 0 then date '2000-01-01' + $4 end,
		        case when $4 >= 0 then date '2000-01-01' + $4 end)`, id, k.id(on), day)
}

func newKin(t *testing.T) kin {
	t.Helper()
	db := pgtest.Pool(t, pgtest.New(t).Super())
	k := kin{t, db, uuid.New()}
	k.sets("session_replication_role", "replica")
	return k
}

// sets gives every new session a setting.
func (k kin) sets(name, value string) {
	k.t.Helper()
	if _, err := k.db.Exec(k.t.Context(), `alter database `+pgxQuoted(k.db)+` set `+name+` = '`+value+`'`); err != nil {
		k.t.Fatal(err)
	}
	k.db.Reset()
}

func pgxQuoted(db *pgxpool.Pool) string { return `"` + db.Config().ConnConfig.Database + `"` }

// Whatever the dates of merges and splits, a treatment is inherited when at least one
// path lets it through.
func TestTreatmentsAreThoseOfEveryWay(t *testing.T) {
	t.Parallel()
	k := newKin(t)
	earlier(t, k.db, "00080_histories_by_index.sql", "treatments_on", "every_way") // with separate dates for every path
	earlier(t, k.db, "00051_inheritors.sql", "inheritors_of", "each_part")
	inherited := 0
	for seed := range uint64(40) {
		r := rand.New(rand.NewPCG(seed, 1))
		k.exec(`delete from treatment_area where institution_id = $1`)
		k.exec(`delete from treatment where institution_id = $1`)
		k.exec(`delete from entry where institution_id = $1`)
		k.exec(`delete from specimen where institution_id = $1`)
		const n = 10
		k.specimens(n)
		for i := 1; i < n; i++ { // upwards alone, so that there is no circle
			if r.IntN(3) > 0 {
				k.part(i, i+1+r.IntN(min(3, n-i)), r.IntN(20)-4, r.IntN(20), [][]string{{}, {"skull"}, {"jaw"}}[r.IntN(3)])
			}
			if r.IntN(3) == 0 {
				k.merge(i, i+1+r.IntN(min(2, n-i)))
			}
		}
		k.exec(`update specimen set retracted = true where institution_id = $1 and id = $2`, k.id(1+r.IntN(2*n)))
		for i := range 30 {
			k.treat(k.id(1000+i), 1+r.IntN(n), r.IntN(22)-3, r.IntN(22))
			if r.IntN(3) == 0 {
				k.exec(`insert into treatment_area (institution_id, treatment_id, path) values ($1, $2, $3)`, k.id(1000+i),
					[]string{"skull", "skull/crest", "rib", "whole"}[r.IntN(4)])
			}
			if r.IntN(4) == 0 {
				k.exec(`update treatment set joined_to_id = $3 where institution_id = $1 and id = $2`, k.id(1000+i),
					k.id(1+r.IntN(n)))
			}
		}
		if wrong := k.number(`
			with kept as (select s.id as of, t.id, t.because, t.stated_about is null as nobody from specimen s
			               cross join lateral treatments_on($1, s.id) t where s.institution_id = $1),
			     every as (select s.id as of, t.id, t.because, t.stated_about is null as nobody from specimen s
			                cross join lateral every_way($1, s.id) t where s.institution_id = $1)
			select count(*) from (table kept except table every union all (table every except table kept)) x`); wrong > 0 {
			t.Errorf("seed %d: %d treatments are told otherwise", seed, wrong)
		}
		if wrong := k.number(`select count(*) from treatment t where t.institution_id = $1
			   and inheritors_of($1, t.id, t.specimen_id) is distinct from each_part($1, t.id, t.specimen_id)`); wrong > 0 {
			t.Errorf("seed %d: of %d treatments the parts that inherit are told otherwise", seed, wrong)
		}
		inherited += k.number(`select coalesce(sum(cardinality(inheritors_of($1, t.id, t.specimen_id))), 0) from treatment t
			where t.institution_id = $1`)
	}
	if inherited == 0 {
		t.Error("nothing was inherited")
	}
}

// The cost of finding the parts that inherit a treatment grows with the parts, not with
// the other treatments.
func TestInheritorsAreFoundInOneWalk(t *testing.T) {
	t.Parallel()
	asked := func(parts, treatments int) (rows int) {
		k := newKin(t)
		k.specimens(parts + 1)
		k.exec(`update specimen set parent_id = $2, part_areas = '{}', split_recorded = timestamptz '2020-01-01'
			where institution_id = $1 and id <> $2`, k.id(1))
		for i := range treatments {
			k.treat(k.id(5000+i), 1, 10, 10)
		}
		tx, err := k.db.Begin(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		defer func() { _ = tx.Rollback(t.Context()) }()
		var inherit int
		err = tx.QueryRow(t.Context(), `select cardinality(inheritors_of($1, $2, $3))`, k.institution, k.id(5000),
			k.id(1)).Scan(&inherit)
		if err == nil {
			err = tx.QueryRow(t.Context(), `select sum(seq_tup_read + idx_tup_fetch) from pg_stat_xact_user_tables`).Scan(&rows)
		}
		if err != nil || inherit != parts {
			t.Fatalf("%d of %d parts inherit: %v", inherit, parts, err)
		}
		return rows
	}
	few, more, busy := asked(100, 1), asked(200, 1), asked(100, 200)
	if few == 0 || more > 3*few || busy > 2*few {
		t.Errorf("%d rows for 100 parts, %d for 200, %d beside 199 treatments more", few, more, busy)
	}
}

// Each level of parts is four merged records with overlapping dates: the rows grow with
// the records, not with the paths through them.
func TestAFamilyGrowsWithItsRecords(t *testing.T) {
	t.Parallel()
	k := newKin(t)
	const most, width = 40, 4
	k.specimens(most*width + 1)
	for level := range most {
		for i := range width {
			n := level*width + i + 1
			k.part(n, (level+1)*width+1, 1000-level*7+i*13, 1000-level*5-i*11, []string{"skull"})
			if i > 0 {
				k.merge(n, level*width+1)
			}
		}
	}
	rows := func(levels int) int {
		return k.number(`select count(*) from family_of($1, $2)`, k.id((most-levels)*width+1))
	}
	if ten, twenty, forty := rows(10), rows(20), rows(40); 2*forty-2*twenty > 5*(twenty-ten) {
		t.Errorf("ten levels took %d rows, twenty %d and forty %d, want as many more for each level", ten, twenty, forty)
	}
}

// However few rows Postgres expects elsewhere, the function that finds the treatments of a
// specimen is called once for each statement that asks for them, and only for a specimen that
// was merged or is a part.
func TestTreatmentsAreFoundOnceForEachSpecimen(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t)
	k := kin{t, pgtest.Pool(t, db.Super()), uuid.New()}
	k.sets("session_replication_role", "replica")
	k.sets("track_functions", "all")
	const n, parts, statements = 60, 7, 3
	k.specimens(n + 1)
	ids := make([]uuid.UUID, n)
	for i := range ids {
		ids[i] = k.id(i + 1)
		k.treat(k.id(1000+i), i+1, i, i)
		k.exec(`insert into treatment_use (institution_id, treatment_id, position, role, batch_id, certainty)
			values ($1, $2, 0, 'consolidant', $2, 'certain')`, k.id(1000+i))
		if i < parts {
			k.part(i+1, n+1, 0, 0, []string{"skull"})
		}
	}
	trips := &pgtest.RoundTrips{}
	cfg, err := pgxpool.ParseConfig(db.App())
	if err != nil {
		t.Fatal(err)
	}
	trips.Use(cfg)
	store, err := postgres.OpenWith(t.Context(), cfg)
	if err != nil {
		t.Fatal(err)
	}
	s := store.For(k.institution)
	var histories []postgres.History
	if made := trips.During(func() { histories, err = s.HistoriesWithin(t.Context(), ids, math.MaxInt) }); made != 2 {
		t.Errorf("the histories of %d specimens took %d round trips, want 2", n, made)
	}
	if err != nil || len(histories[n-1].Treatments) != 1 {
		t.Fatalf("got %v, want a treatment of each", err)
	}
	if most := trips.Statements(); most > 12 {
		t.Errorf("the histories of %d specimens took %d statements, want as many as of one", n, most)
	}
	if found, err := s.TreatmentsOfSpecimens(t.Context(), ids); err != nil || len(found) != n {
		t.Fatalf("got %d treatments and %v, want %d", len(found), err, n)
	}
	if found, err := s.RecordedOf(t.Context(), ids); err != nil || len(found) != n {
		t.Fatalf("got %d counts and %v, want %d", len(found), err, n)
	}
	store.Close() // a session reports its statistics when it ends
	for sessions := 1; sessions > 0; time.Sleep(10 * time.Millisecond) {
		sessions = k.number(`select count(*) from pg_stat_activity
			where datname = current_database() and pid <> pg_backend_pid() and $1::uuid is not null`)
	}
	found := k.number(`select coalesce(sum(calls), 0) from pg_stat_user_functions
		where funcname = 'treatments_on' and $1::uuid is not null`)
	// The clues of a part are also looked for on what it came from.
	if most := (statements + 2) * parts; found < statements*parts || found > most {
		t.Errorf("of %d specimens, %d of them parts, the treatments were found %d times by the function, want %d at most",
			n, parts, found, most)
	}
}
