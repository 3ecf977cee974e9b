// Package telemetry is where a process's measurements and spans go: OpenTelemetry
// meters and tracers, which its parts are given by whoever runs them. The zero value
// drops everything, so that a part need not ask whether it is measured.
//
// Names and units are those of OpenTelemetry's semantic conventions where it has one; our
// own begin with meniscus. No measurement and no span names a specimen, a person or a key.
package telemetry

import (
	"go.opentelemetry.io/otel/metric"
	metricnoop "go.opentelemetry.io/otel/metric/noop"
	"go.opentelemetry.io/otel/trace"
	tracenoop "go.opentelemetry.io/otel/trace/noop"
)

// Providers make a part's meter and tracer; what is nil drops what it is given.
type Providers struct {
	Meters metric.MeterProvider
	Spans  trace.TracerProvider
}

// Measured tells whether anything looks at the measurements.
func (p Providers) Measured() bool { return p.Meters != nil || p.Spans != nil }

// OrNone is the providers with one that drops everything where there is none.
func (p Providers) OrNone() Providers {
	if p.Meters == nil {
		p.Meters = metricnoop.NewMeterProvider()
	}
	if p.Spans == nil {
		p.Spans = tracenoop.NewTracerProvider()
	}
	return p
}

// Scope names the source of a measurement: the service's own code.
const Scope = "meniscus"
