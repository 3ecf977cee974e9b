package httpapi_test

import (
	"context"
	"net/http"
	"sync/atomic"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"meniscus/internal/postgres"
)

// statements counts what is sent to the database.
type statements struct{ n atomic.Int64 }

func (s *statements) TraceBatchStart(ctx context.Context, _ *pgx.Conn, data pgx.TraceBatchStartData) context.Context {
	s.n.Add(int64(data.Batch.Len()))
	return ctx
}
func (s *statements) TraceBatchQuery(context.Context, *pgx.Conn, pgx.TraceBatchQueryData) {}
func (s *statements) TraceBatchEnd(context.Context, *pgx.Conn, pgx.TraceBatchEndData)     {}
func (s *statements) TraceQueryStart(ctx context.Context, _ *pgx.Conn, _ pgx.TraceQueryStartData) context.Context {
	s.n.Add(1)
	return ctx
}
func (s *statements) TraceQueryEnd(context.Context, *pgx.Conn, pgx.TraceQueryEndData) {}

// counted is the same service, whose statements are counted.
func (s *service) counted() (*service, *statements) {
	s.t.Helper()
	cfg, err := pgxpool.ParseConfig(s.db.App())
	if err != nil {
		s.t.Fatal(err)
	}
	count := &statements{}
	cfg.ConnConfig.Tracer = count
	store, err := postgres.OpenWith(s.t.Context(), cfg)
	if err != nil {
		s.t.Fatal(err)
	}
	s.t.Cleanup(store.Close)
	other := *s
	other.store, other.url = store, newServer(s.t, store).URL
	return &other, count
}

// TestSuitabilityReportReadsTogether: twice as many specimens cost a few
// statements more and not twice as many.
func TestSuitabilityReportReadsTogether(t *testing.T) {
	t.Parallel()
	s, count := newService(t).counted()
	supply := s.create("/v1/supplies", object{"code": "S-1", "material": object{"id": "poly-vinyl-butyral"}}).id()
	cost := func(bones int) int64 {
		for range bones {
			coat := coated(s.create("/v1/specimens", specimen("LV."+uuid.NewString())).id(), "2001", "skull/left-orbit")
			coat["materials"] = array{object{"used": object{"supply": object{"id": supply}}}}
			s.create("/v1/treatments", coat)
		}
		before := count.n.Load()
		s.do(http.MethodGet, "/v1/reports/suitability?analysis=radiocarbon", nil).want(200)
		return count.n.Load() - before
	}
	once, twice := cost(25), cost(25)
	if more := twice - once; more > 15 {
		t.Errorf("got %d statements for 25 specimens and %d for 50, want at most 15 more", once, twice)
	}
}
