package postgres_test

import (
	"context"
	"fmt"
	"math"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"meniscus/internal/pgtest"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
)

// sent are the statements that a pool sent, each once, with the arguments of the first time.
type sent struct {
	mu   sync.Mutex
	sent *regexp.Regexp // which statements count
	args map[string][]any
	all  []string
}

func (s *sent) add(sql string, args []any) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if _, known := s.args[sql]; known || !s.sent.MatchString(sql) {
		return
	}
	s.args[sql], s.all = args, append(s.all, sql)
}

// reads matches a statement that reads tables.
var reads = regexp.MustCompile(`(?is)^\s*(with|select)\b.*\bfrom\b`)

func (s *sent) TraceQueryStart(ctx context.Context, _ *pgx.Conn, q pgx.TraceQueryStartData) context.Context {
	s.add(q.SQL, q.Args)
	return ctx
}

func (*sent) TraceQueryEnd(context.Context, *pgx.Conn, pgx.TraceQueryEndData) {}

func (*sent) TraceBatchStart(ctx context.Context, _ *pgx.Conn, _ pgx.TraceBatchStartData) context.Context {
	return ctx
}

func (s *sent) TraceBatchQuery(_ context.Context, _ *pgx.Conn, q pgx.TraceBatchQueryData) {
	s.add(q.SQL, q.Args)
}

func (*sent) TraceBatchEnd(context.Context, *pgx.Conn, pgx.TraceBatchEndData) {}

// museum fills the tables that grow: 2,000 specimens, 1,000 batches, and treatments with a
// use, an area and a person each, one in a hundred of them Anna's.
func (k kin) museum(treatments int) {
	id := func(n string) string { return `('00000000-0000-7000-8000-' || lpad((` + n + `)::text, 12, '0'))::uuid` }
	k.specimens(2000)
	for _, sql := range []string{
		`insert into specimen_identifier (institution_id, specimen_id, position, kind, value, folded)
		 select $1, id, 0, 'catalogue-number', id::text, id::text from specimen where institution_id = $1`,
		`insert into batch (institution_id, id, revision, code, kind)
		 select $1, ` + id("500000 + n") + `, 1, 'B-' || n, 'solution' from generate_series(1, 1000) n where $2 > 0`,
		`insert into batch_input (institution_id, batch_id, position, part, material_id)
		 select $1, ` + id("500000 + n") + `, 0, 'solute', 'resin-' || n % 500 from generate_series(1, 1000) n where $2 > 0`,
		`insert into treatment (institution_id, id, revision, specimen_id, action, earliest, latest)
		 select $1, ` + id("1000000 + n") + `, 1, ` + id("1 + n % 2000") + `, 'consolidation',
		        date '1950-01-01' + n, date '1950-01-01' + n
		   from generate_series(1, $2::int) n`,
		`insert into treatment_use (institution_id, treatment_id, position, certainty, batch_id)
		 select $1, ` + id("1000000 + n") + `, 0, 'documented', ` + id("500001 + n % 1000") + `
		   from generate_series(1, $2::int) n`,
		`insert into treatment_use_candidate (institution_id, treatment_id, position, material_id)
		 select $1, ` + id("1000000 + n") + `, 0, 'other-' || n % 500 from generate_series(1, $2::int) n`,
		`insert into treatment_area (institution_id, treatment_id, path)
		 select $1, ` + id("1000000 + n") + `, 'skull/area-' || n % 50 from generate_series(1, $2::int) n`,
		`insert into treatment_person (institution_id, treatment_id, position, person_id, part)
		 select $1, ` + id("1000000 + n") + `, 0, ` + id("n % 100") + `, 'carried-out' from generate_series(1, $2::int) n`,
		`insert into entry (institution_id, id, kind, record_id, revision, act, request_id, recorded_by, nonce, digest, body)
		 select $1, id, 'treatment', id, 1, 'stated', id, id, decode(repeat('00', 16), 'hex'), decode(repeat('00', 32), 'hex'),
		        '{"statement":{"purpose":{"text":"' || repeat('Flaking of the surface ', 20) || '"}}}'
		   from treatment where institution_id = $1`,
		`insert into due (institution_id, record_id, what, day)
		 select $1, id, w, latest + 365 from treatment, unnest(array['drying', 'next-check']) w where institution_id = $1`,
		`insert into sequenced (institution_id, seq, entry_id, record_id, sealed_at)
		 select $1, row_number() over (order by id), id, id, now() from treatment where institution_id = $1`,
		`insert into access_log (institution_id, id, what, times, person_id, record_id)
		 select $1, id, 'key-made', 1, ` + id("n % 100") + `, id
		   from (select row_number() over (order by id) as n, id from treatment where institution_id = $1) t`,
		`insert into layers_cursor (institution_id, seq) values ($1, $2::int - 100)`,
	} {
		args := []any{treatments}
		if !strings.Contains(sql, "$2") {
			args = nil
		}
		k.exec(sql, args...)
	}
	if _, err := k.db.Exec(k.t.Context(), `analyze`); err != nil {
		k.t.Fatal(err)
	}
}

// growing matches a scan of a whole table with a row or more for each treatment.
var growing = regexp.MustCompile(`Seq Scan on (treatment|treatment_use|treatment_use_candidate|treatment_area|` +
	`treatment_person|entry|sequenced|due|access_log)\b`)

// explaining is a store whose statements can be explained, with ten thousand treatments in it.
type explaining struct {
	kin
	dsn   string
	super string
	store postgres.Tenant
	seen  *sent
}

func newExplaining(t *testing.T) explaining {
	t.Helper()
	const treatments = 10_000
	db := pgtest.New(t)
	k := kin{t, pgtest.Pool(t, db.Super()), uuid.New()}
	k.sets("session_replication_role", "replica")
	k.museum(treatments)
	cfg, err := pgxpool.ParseConfig(db.App())
	if err != nil {
		t.Fatal(err)
	}
	seen := &sent{sent: reads, args: map[string][]any{}}
	cfg.ConnConfig.Tracer = seen
	store, err := postgres.OpenWith(t.Context(), cfg)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(store.Close)
	return explaining{k, db.App(), db.Super(), store.For(k.institution), seen}
}

// scans gives the plans of those statements of an operation that scan a table which grows with the
// record.
func (x explaining) scans(do func() error) (plans map[string]string, statements int, err error) {
	x.seen.args, x.seen.all = map[string][]any{}, nil
	err = do()
	plans = map[string]string{}
	for _, sql := range x.seen.all {
		if plan := x.plan(x.dsn, sql, x.seen.args[sql]); growing.MatchString(plan) {
			plans[sql] = plan
		}
	}
	return plans, len(x.seen.all), err
}

// TestStatementsReadByIndex: no statement scans a table that grows with the record, neither as
// operations that matter most are asked, nor by any method of the store.
func TestStatementsReadByIndex(t *testing.T) {
	t.Parallel()
	x := newExplaining(t)
	t.Run("as asked", x.asAsked)
	t.Run("by every method", x.byEveryMethod)
}

// asAsked explains operations that find what they are asked for.
func (x explaining) asAsked(t *testing.T) {
	s, ctx := x.store, t.Context()
	bones := []uuid.UUID{x.id(1), x.id(7), x.id(1900)}
	look := postgres.Look{Entries: 500, Specimens: 100}
	coats := []uuid.UUID{x.id(1_000_001), x.id(1_005_000)}
	operations := map[string]func() error{
		"histories":  func() error { _, err := s.HistoriesWithin(ctx, bones, math.MaxInt); return err },
		"published":  func() error { _, err := s.TreatmentsOfSpecimens(ctx, bones); return err },
		"recorded":   func() error { _, err := s.RecordedOf(ctx, bones); return err },
		"where used": func() error { _, err := s.WhereaboutsOf(ctx, record.KindBatch, x.id(500_009)); return err },
		"touched":    func() error { _, err := s.TouchedBy(ctx, coats); return err },
		"unseen":     func() error { _, err := s.LayersUnseen(ctx, look); return err },
		"due": func() error {
			rows, err := s.Due(ctx, postgres.DueStep{}, time.Date(2100, 1, 1, 0, 0, 0, 0, time.UTC), 500)
			if err == nil && len(rows) != 500 {
				err = fmt.Errorf("got %d things due", len(rows))
			}
			return err
		},
		"accesses": func() error {
			for _, f := range []postgres.AccessFilter{{}, {Record: &coats[0]}, {Person: &bones[1]}, {After: x.id(1_005_000)}} {
				if rows, err := s.Accesses(ctx, f, 50); err != nil || len(rows) == 0 {
					return fmt.Errorf("got %d accesses for %+v: %w", len(rows), f, err)
				}
			}
			return nil
		},
		"person and area": func() error { return x.listed(s, map[string]any{"person": x.id(7), "area": "skull/area-7"}) },
	}
	for name, do := range operations {
		plans, statements, err := x.scans(do)
		if err != nil || statements == 0 {
			t.Errorf("%s read by %d statements: %v", name, statements, err)
		}
		for sql, plan := range plans {
			t.Errorf("%s: %v in\n%s\n%s", name, growing.FindAllString(plan, -1), sql, plan)
		}
	}
}

func (k kin) listed(s postgres.Tenant, by map[string]any) error {
	rows, _, err := s.List(k.t.Context(), postgres.Filter{Kind: record.KindTreatment, By: by}, uuid.Nil, 100)
	if err == nil && len(rows) == 0 {
		err = fmt.Errorf("nothing is found by %v", by)
	}
	return err
}

// plan explains a statement as the application's role would run it.
func (k kin) plan(dsn, sql string, args []any) string {
	k.t.Helper()
	conn, err := pgx.Connect(k.t.Context(), dsn)
	if err != nil {
		k.t.Fatal(err)
	}
	defer conn.Close(context.WithoutCancel(k.t.Context()))
	if _, err := conn.Exec(k.t.Context(), `select set_config('app.institution', $1, false)`,
		k.institution.String()); err != nil {
		k.t.Fatal(err)
	}
	rows, err := conn.Query(k.t.Context(), `explain `+sql, args...)
	if err != nil {
		k.t.Fatal(err)
	}
	lines, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		k.t.Fatalf("%v\n%s", err, sql)
	}
	return strings.Join(lines, "\n")
}
