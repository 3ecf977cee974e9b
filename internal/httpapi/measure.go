package httpapi

import (
	"context"
	"net/http"
	"sync/atomic"
	"time"

	"go.opentelemetry.io/otel/attribute"
	"go.opentelemetry.io/otel/codes"
	"go.opentelemetry.io/otel/metric"
	"go.opentelemetry.io/otel/propagation"
	semconv "go.opentelemetry.io/otel/semconv/v1.43.0"
	"go.opentelemetry.io/otel/semconv/v1.43.0/httpconv"
	"go.opentelemetry.io/otel/trace"

	"meniscus/internal/access"
	"meniscus/internal/postgres"
	"meniscus/internal/telemetry"
)

// meters measure requests; nil measures nothing.
type meters struct {
	tracer   trace.Tracer
	active   httpconv.ServerActiveRequests
	duration httpconv.ServerRequestDuration
	trips    metric.Int64Histogram
	lost     metric.Int64Counter // accesses
}

// newMeters makes the instruments of requests; nil if no one looks at them.
func newMeters(to telemetry.Providers) (m *meters, err error) {
	if !to.Measured() {
		return nil, nil
	}
	to = to.OrNone()
	meter := to.Meters.Meter(telemetry.Scope)
	m = &meters{tracer: to.Spans.Tracer(telemetry.Scope)}
	if m.active, err = httpconv.NewServerActiveRequests(meter); err != nil {
		return nil, err
	}
	if m.duration, err = httpconv.NewServerRequestDuration(meter,
		metric.WithExplicitBucketBoundaries(0.005, 0.025, 0.1, 0.5, 2.5, 10)); err != nil {
		return nil, err
	}
	if m.lost, err = meter.Int64Counter("meniscus.access_log.not_kept",
		metric.WithDescription("Accesses that could not be put on record."), metric.WithUnit("{access}")); err != nil {
		return nil, err
	}
	m.lost.Add(context.Background(), 0) // so that an increase from nothing is seen
	m.trips, err = meter.Int64Histogram("meniscus.request.database.round_trips",
		metric.WithDescription("Round trips to Postgres that one request made."), metric.WithUnit("{round_trip}"),
		metric.WithExplicitBucketBoundaries(0, 1, 2, 4, 8, 16, 64))
	return m, err
}

// notKept counts the accesses of a page that are lost.
func (m *meters) notKept(ctx context.Context, page access.Page) {
	for _, a := range page.Accesses {
		if m != nil && a.What == access.NotKept {
			m.lost.Add(ctx, int64(a.Times))
		}
	}
}

// measured is one request that is measured.
type measured struct {
	*meters
	op    *operation
	span  trace.Span
	trips *atomic.Int64
}

// scheme is what callers are measured by: the connection itself has no TLS.
const scheme = "http"

// begin counts a request and begins its span. The caller's own trace is linked to and not
// continued: a caller does not decide what is recorded here.
func (m *meters) begin(c *requestContext) *measured {
	if m == nil {
		return nil
	}
	r := c.echo.Request()
	ctx := propagation.TraceContext{}.Extract(r.Context(), propagation.HeaderCarrier(r.Header))
	options := []trace.SpanStartOption{trace.WithNewRoot(), trace.WithSpanKind(trace.SpanKindServer),
		trace.WithAttributes(semconv.HTTPRequestMethodKey.String(r.Method), semconv.URLScheme(scheme),
			semconv.HTTPRoute(c.op.path), attribute.String("meniscus.operation", c.op.id),
			attribute.String("meniscus.request", c.requestID.String()))}
	if remote := trace.SpanContextFromContext(ctx); remote.IsValid() {
		options = append(options, trace.WithLinks(trace.Link{SpanContext: remote}))
	}
	ctx, span := m.tracer.Start(r.Context(), c.op.id, options...)
	ctx, trips := postgres.CountingTrips(ctx)
	c.echo.SetRequest(r.WithContext(ctx))
	m.active.Add(ctx, 1, httpconv.RequestMethodAttr(r.Method), scheme)
	return &measured{m, c.op, span, trips}
}

// end counts the outcome; the status is 0 when the caller left before the answer.
func (m *measured) end(ctx context.Context, method string, status int, took time.Duration) {
	if m == nil {
		return
	}
	ctx = context.WithoutCancel(ctx)
	m.active.Add(ctx, -1, httpconv.RequestMethodAttr(method), scheme)
	route := semconv.HTTPRoute(m.op.path)
	m.meters.trips.Record(ctx, m.trips.Load(), metric.WithAttributes(semconv.HTTPRequestMethodKey.String(method), route))
	attrs := []attribute.KeyValue{route}
	if status == 0 {
		attrs = append(attrs, semconv.ErrorTypeKey.String("client-gone"))
	} else {
		attrs = append(attrs, semconv.HTTPResponseStatusCode(status))
	}
	m.duration.Record(ctx, took.Seconds(), httpconv.RequestMethodAttr(method), scheme, attrs...)
	m.span.SetAttributes(attrs...)
	if status >= http.StatusInternalServerError {
		m.span.SetStatus(codes.Error, http.StatusText(status))
	}
	m.span.End()
}
