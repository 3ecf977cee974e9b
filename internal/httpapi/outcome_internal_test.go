package httpapi

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/material"
)

// logged serves one request by a handler of the test's own, and gives what was logged and what
// the caller was told.
func logged(t *testing.T, ctx context.Context, h handler) (log, told string, aborted any) {
	t.Helper()
	var lines bytes.Buffer
	s, err := New(Config{PublicURL: "https://meniscus.example", Log: slog.New(slog.NewTextHandler(&lines, nil))})
	if err != nil {
		t.Fatal(err)
	}
	op := *s.ops["checkLive"]
	s.echo.GET("/broken", s.serve(&op, h))
	answer := httptest.NewRecorder()
	defer func() { log, told, aborted = lines.String(), answer.Body.String(), recover() }()
	s.ServeHTTP(answer, httptest.NewRequestWithContext(ctx, http.MethodGet, "/broken", nil))
	return
}

// What became of a request, as the log tells it.
func TestOutcomes(t *testing.T) {
	t.Parallel()
	gone, leave := context.WithCancel(t.Context())
	leave()
	failed := errors.New("no bytes left")
	stream := func(err error) handler {
		return func(*Server, *requestContext) (*answer, error) {
			return &answer{mediaType: eventStream, stream: func(io.Writer) error { return err }}, nil
		}
	}
	for name, tc := range map[string]struct {
		ctx     context.Context
		handler handler
		want    []string
		not     string
		aborts  bool
	}{
		"failure": {t.Context(), func(*Server, *requestContext) (*answer, error) { return nil, failed }, []string{"level=ERROR", "status=500", "no bytes left"}, "client gone", false},
		"client gone": {gone, func(_ *Server, c *requestContext) (*answer, error) {
			return nil, fmt.Errorf("reading: %w", c.ctx().Err())
		}, []string{"level=INFO", `outcome="client gone"`}, "status=", false},
		"called off": {t.Context(), func(*Server, *requestContext) (*answer, error) {
			return nil, fmt.Errorf("reading: %w", context.Canceled)
		}, []string{"level=INFO", `outcome="client gone"`}, "status=", false},
		"panic":       {t.Context(), func(*Server, *requestContext) (*answer, error) { panic("a hole") }, []string{"level=ERROR", "panic: a hole", "stack=", "outcome_internal_test.go"}, "client gone", false},
		"panic, gone": {gone, func(*Server, *requestContext) (*answer, error) { panic("a hole") }, []string{"level=ERROR", "stack="}, "client gone", false},
		"broken off":  {t.Context(), stream(failed), []string{"level=ERROR", "no bytes left"}, "client gone", true},
		"reader gone": {gone, stream(failed), []string{"level=INFO", `outcome="client gone"`}, "status=", true},
		"in a stream": {t.Context(), func(*Server, *requestContext) (*answer, error) {
			return &answer{mediaType: eventStream, stream: func(io.Writer) error { panic("a hole") }}, nil
		}, []string{"level=ERROR", "stack="}, "client gone", true},
	} {
		log, told, aborted := logged(t, tc.ctx, tc.handler)
		for _, inside := range []string{"no bytes left", "a hole", "reading", "goroutine", ".go"} {
			if strings.Contains(told, inside) {
				t.Errorf("%s: the caller is told %q: %s", name, inside, told)
			}
		}
		for _, want := range tc.want {
			if !strings.Contains(log, want) {
				t.Errorf("%s: got %s, want %s", name, log, want)
			}
		}
		if strings.Contains(log, tc.not) || (aborted != nil) != tc.aborts {
			t.Errorf("%s: got %s and %v, want no %s, broken off %v", name, log, aborted, tc.not, tc.aborts)
		}
	}
}

// A number that JSON cannot say is refused as the question's fault.
func TestNumbersThatAreNone(t *testing.T) {
	t.Parallel()
	for _, x := range []float64{math.Inf(1), math.Inf(-1), math.NaN()} {
		work := func(*material.Base, struct{}, api.Detail) (api.ComputedQuantity, error) {
			return api.ComputedQuantity{Value: x, Unit: "g"}, nil
		}
		_, err := compute(work, nil)(&Server{}, &requestContext{op: &operation{}, raw: []byte("{}")})
		if faults := fault.From(err); len(faults) != 1 || faults[0].Code != "result-not-finite" {
			t.Errorf("%v: got %v, want it refused", x, err)
		}
	}
}
