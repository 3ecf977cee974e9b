package httpapi_test

import (
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"runtime"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/httpapi"
	"meniscus/internal/pgtest"
	"meniscus/internal/postgres"
)

// BenchmarkReversibleReport tells how fast the report is streamed and how much
// memory that takes. Neither may depend on how many rows there are: run it with
// -benchtime 1x, and compare the two sizes.
func BenchmarkReversibleReport(b *testing.B) {
	for _, rows := range []int{10_000, 100_000} {
		b.Run(fmt.Sprint(rows), func(b *testing.B) {
			db := pgtest.New(b)
			store, err := postgres.Open(b.Context(), db.App())
			if err != nil {
				b.Fatal(err)
			}
			defer store.Close()
			institution, key := addInstitution(b, db, store, "Museum of the Lower Valley")
			fillLayers(b, db, institution, rows)
			server := httptest.NewServer(mustServe(b, httpapi.Config{Store: store}))
			defer server.Close()
			var took, first time.Duration
			peak := peakHeap(func() {
				for b.Loop() {
					first = fetchReport(b, server.URL, key)
				}
			})
			took = b.Elapsed() / time.Duration(b.N)
			b.ReportMetric(float64(rows)/took.Seconds(), "rows/s")
			b.ReportMetric(float64(first.Milliseconds()), "ms-to-first-byte")
			b.ReportMetric(float64(peak)/(1<<20), "MiB-peak")
		})
	}
}

func fetchReport(b *testing.B, url, key string) (first time.Duration) {
	b.Helper()
	r, err := http.NewRequestWithContext(b.Context(), http.MethodGet, url+"/v1/reports/reversible-treatments", nil)
	if err != nil {
		b.Fatal(err)
	}
	r.Header.Set("Authorization", "Bearer "+key)
	began := time.Now()
	response, err := http.DefaultClient.Do(r)
	if err != nil {
		b.Fatal(err)
	}
	defer response.Body.Close()
	_, _ = io.CopyN(io.Discard, response.Body, 1)
	first = time.Since(began)
	if _, err := io.Copy(io.Discard, response.Body); err != nil || response.StatusCode != http.StatusOK {
		b.Fatalf("got %d, %v", response.StatusCode, err)
	}
	return first
}

// peakHeap is the largest heap in use, looked at every few milliseconds while f
// runs, above what was in use before.
func peakHeap(f func()) uint64 {
	var before, now runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	var peak atomic.Uint64
	done, ended := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(ended)
		for tick := time.NewTicker(20 * time.Millisecond); ; {
			select {
			case <-done:
				return
			case <-tick.C:
				runtime.ReadMemStats(&now)
				peak.Store(max(peak.Load(), now.HeapInuse))
			}
		}
	}()
	f()
	close(done)
	<-ended
	return peak.Load() - min(peak.Load(), before.HeapInuse)
}

// fillLayers makes a specimen for every ten treatments, each with a layer that
// was looked at and two findings. It writes the projections alone: the report
// reads nothing else.
func fillLayers(b *testing.B, db *pgtest.DB, institution uuid.UUID, treatments int) {
	b.Helper()
	pool := pgtest.Pool(b, db.Super())
	for _, sql := range []string{
		`insert into specimen (institution_id, id, revision, collection) select $1, md5('s' || n)::uuid, 1, 'palaeontology' from generate_series(0, $2 / 10) n`,
		`insert into specimen_identifier (institution_id, specimen_id, position, kind, value, folded)
			select $1, md5('s' || n)::uuid, 0, 'catalogue-number', 'LV.' || n, 'lv ' || n from generate_series(0, $2 / 10) n`,
		`insert into specimen_state (institution_id, specimen_id, as_of_seq, computed_on) select $1, md5('s' || n)::uuid, 1, '2026-03-02' from generate_series(0, $2 / 10) n`,
		`insert into treatment (institution_id, id, revision, specimen_id, action, earliest, latest)
			select $1, md5('t' || n)::uuid, 1, md5('s' || n / 10)::uuid, 'coating', d, d
			  from (select n, case when n % 50 > 0 then date '1950-01-01' + (n * 7919 % 27000) end as d from generate_series(1, $2) n) x`,
		`insert into treatment_area (institution_id, treatment_id, path) select $1, md5('t' || n)::uuid, 'skull/area-' || n % 7 from generate_series(1, $2) n`,
		`insert into treatment_check (institution_id, treatment_id, revision, as_of_seq) select $1, md5('t' || n)::uuid, 1, 1 from generate_series(1, $2) n`,
		`insert into finding (institution_id, record_id, position, rule, severity, sentence, layers, as_of_seq)
			select $1, md5('t' || n)::uuid, k, 'earlier-layer-unknown', case k when 0 then 'warn' else 'info' end, 'An earlier layer is not known.', '{}', 1
			  from generate_series(1, $2) n cross join generate_series(0, 1) k`,
		`insert into layer_state (institution_id, treatment_id, position, specimen_id, role, state, redissolvable, removable, retreatable, body)
			select $1, md5('t' || n)::uuid, 0, md5('s' || n / 10)::uuid, 'coating', 'present', (array['yes', 'partly', 'no', 'unknown'])[1 + n % 4], 'partly', 'yes',
			       '{"material":"ethyl methacrylate/methyl acrylate copolymer (70:30)","certainty":"documented","ageing":"fresh","removedBy":["acetone"],"testsOnly":["ethanol"],"settled":true}'
			  from generate_series(1, $2) n`,
	} {
		if _, err := pool.Exec(b.Context(), sql, institution, treatments); err != nil {
			b.Fatalf("%v: %s", err, sql)
		}
	}
	if _, err := pool.Exec(b.Context(), "analyze"); err != nil {
		b.Fatal(err)
	}
}
