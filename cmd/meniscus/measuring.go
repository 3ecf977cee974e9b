package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"os"
	"runtime/debug"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"
	"go.opentelemetry.io/otel/exporters/otlp/otlptrace/otlptracehttp"
	otelprometheus "go.opentelemetry.io/otel/exporters/prometheus"
	"go.opentelemetry.io/otel/metric"
	sdkmetric "go.opentelemetry.io/otel/sdk/metric"
	"go.opentelemetry.io/otel/sdk/resource"
	sdktrace "go.opentelemetry.io/otel/sdk/trace"
	semconv "go.opentelemetry.io/otel/semconv/v1.43.0"

	"meniscus/internal/postgres"
	"meniscus/internal/telemetry"
)

// measuring is what this process tells of itself: metrics for Prometheus on an address of
// their own, and spans to a collector of OpenTelemetry.
type measuring struct {
	telemetry.Providers
	listener net.Listener // nil: no metrics
	http     *http.Server
	spans    *sdktrace.TracerProvider // nil: no spans
}

// openMeasuring listens for Prometheus at address, if it is not empty, and sends spans if
// the environment names a collector as OpenTelemetry's specification has it
// (OTEL_EXPORTER_OTLP_ENDPOINT, OTEL_TRACES_SAMPLER and their like).
func openMeasuring(ctx context.Context, address string, log *slog.Logger) (*measuring, error) {
	m := &measuring{}
	if cmp.Or(os.Getenv("OTEL_EXPORTER_OTLP_ENDPOINT"), os.Getenv("OTEL_EXPORTER_OTLP_TRACES_ENDPOINT")) != "" {
		exporter, err := otlptracehttp.New(ctx)
		if err != nil {
			return nil, fmt.Errorf("sending spans: %w", err)
		}
		m.spans = sdktrace.NewTracerProvider(sdktrace.WithBatcher(exporter), sdktrace.WithResource(thisProcess()))
		m.Spans = m.spans
	}
	if address == "" {
		return m, nil
	}
	registry := prometheus.NewRegistry()
	registry.MustRegister(collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	exporter, err := otelprometheus.New(otelprometheus.WithRegisterer(registry), otelprometheus.WithoutScopeInfo())
	if err != nil {
		return nil, fmt.Errorf("exporting metrics: %w", err)
	}
	m.Meters = sdkmetric.NewMeterProvider(sdkmetric.WithReader(exporter), sdkmetric.WithResource(thisProcess()))
	if m.listener, err = net.Listen("tcp", address); err != nil {
		return nil, fmt.Errorf("listening for metrics: %w", err)
	}
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", promhttp.HandlerFor(registry, promhttp.HandlerOpts{}))
	m.http = &http.Server{Handler: mux, ReadHeaderTimeout: 10 * time.Second}
	log.Info("metrics", slog.String("address", m.listener.Addr().String()))
	return m, nil
}

// thisProcess names the service and the revision that it was built from.
func thisProcess() *resource.Resource {
	version := "unknown"
	if info, ok := debug.ReadBuildInfo(); ok {
		for _, s := range info.Settings {
			if s.Key == "vcs.revision" {
				version = s.Value
			}
		}
	}
	return resource.NewSchemaless(semconv.ServiceName(cmp.Or(os.Getenv("OTEL_SERVICE_NAME"), "meniscus")),
		semconv.ServiceVersion(version))
}

func (m *measuring) run() {
	if m.listener != nil {
		_ = m.http.Serve(m.listener)
	}
}

// close sends the spans that are left and ends the listener.
func (m *measuring) close() {
	if m == nil {
		return
	}
	if m.spans != nil {
		ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
		defer cancel()
		_ = m.spans.Shutdown(ctx)
	}
	if m.listener != nil {
		_ = m.http.Close()
		_ = m.listener.Close()
	}
}

// backlogWithin is how long a look at the backlog may take.
const backlogWithin = 5 * time.Second

// measureBacklog has what waits for the worker counted whenever the metrics are read.
func (m *measuring) measureBacklog(watch *postgres.Watch, log *slog.Logger) error {
	meter := m.OrNone().Meters.Meter(telemetry.Scope)
	var faults []error
	gauge := func(name, unit, description string) metric.Int64ObservableGauge {
		g, err := meter.Int64ObservableGauge(name, metric.WithUnit(unit), metric.WithDescription(description))
		faults = append(faults, err)
		return g
	}
	unsealed := gauge("meniscus.feed.unsealed", "{entry}",
		"Entries that wait for their sequence number, counted to 100,000.")
	behind := gauge("meniscus.layers.behind", "{entry}", "Entries whose layers are still to be worked out.")
	setAside := gauge("meniscus.layers.set_aside", "{record}",
		"Records that could not be worked out and are tried again later.")
	undelivered := gauge("meniscus.webhooks.behind", "{entry}", "Entries that are still ahead of the webhooks' cursors.")
	failing := gauge("meniscus.webhooks.failing", "{webhook}", "Webhooks whose last delivery failed.")
	importing := gauge("meniscus.imports.running", "{import}", "Imports that run or wait to go on.")
	lines, err := meter.Int64ObservableCounter("meniscus.imports.lines", metric.WithUnit("{line}"),
		metric.WithDescription("Lines of cards that imports have read."))
	faults = append(faults, err)
	wait, err := meter.Float64ObservableGauge("meniscus.feed.oldest_wait", metric.WithUnit("s"),
		metric.WithDescription("How long the first entry without a sequence number has waited."))
	faults = append(faults, err)
	look := func(ctx context.Context, o metric.Observer) error {
		ctx, cancel := context.WithTimeout(ctx, backlogWithin)
		defer cancel()
		b, err := watch.Backlog(ctx)
		if err != nil {
			log.Warn("the backlog was not counted", slog.Any("error", err))
			return nil // the other metrics are served all the same
		}
		o.ObserveInt64(unsealed, b.Unsealed)
		o.ObserveFloat64(wait, b.OldestWait)
		o.ObserveInt64(behind, b.Entries)
		o.ObserveInt64(setAside, b.SetAside)
		o.ObserveInt64(undelivered, b.Deliveries)
		o.ObserveInt64(failing, b.Failing)
		o.ObserveInt64(importing, b.Importing)
		o.ObserveInt64(lines, b.LinesRead)
		return nil
	}
	_, err = meter.RegisterCallback(look, unsealed, wait, behind, setAside, undelivered, failing, importing, lines)
	return errors.Join(append(faults, err)...)
}
