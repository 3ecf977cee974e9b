package httpapi

import (
	"context"
	"errors"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/google/uuid"
	"github.com/labstack/echo/v4"

	"meniscus/api"
	"meniscus/internal/access"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
)

// TestASpecimenThatCannotBeWorkedOutIsSetAside: neither what panics nor what exceeds
// its bound ends the report; only who left does.
func TestASpecimenThatCannotBeWorkedOutIsSetAside(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		base  *material.Base
		h     postgres.History
		aside bool
		log   string
	}{
		"a panic":             {nil, postgres.History{Treatments: []postgres.Row{{Record: uuid.New()}}}, true, "goroutine"},
		"too many":            {material.Builtin(), postgres.History{Treatments: make([]postgres.Row, 20_001)}, true, "20001 treatments"},
		"an id twice":         {material.Builtin(), postgres.History{Treatments: make([]postgres.Row, 2)}, true, "id"},
		"nothing is on it":    {material.Builtin(), postgres.History{}, false, ""},
		"words that are gone": {material.Builtin(), postgres.History{Treatments: []postgres.Row{{Record: uuid.New()}}}, false, ""},
	} {
		ctx, leave := context.WithCancel(t.Context())
		var log strings.Builder
		request := httptest.NewRequestWithContext(ctx, http.MethodGet, "/", nil)
		r := &suitabilityReport{
			server: &Server{log: slog.New(slog.NewTextHandler(&log, nil))}, base: c.base, analyses: []string{"radiocarbon"},
			call: &requestContext{echo: echo.New().NewContext(request, nil), principal: &access.Principal{}}, totals: []api.SuitabilityTotal{{Analysis: "radiocarbon"}},
		}
		of := postgres.ReportedSpecimen{ID: uuid.New()}
		item, err := r.guarded(of, c.h)
		if err != nil || item.Specimen.Id != of.ID || (item.SetAside != nil) != c.aside || len(item.Analyses) != 1 ||
			!strings.Contains(log.String(), c.log) {
			t.Errorf("%s: got %+v, %v, want set aside: %v; log %s", name, item, err, c.aside, log.String())
		}
		total := r.totals[0]
		if total.Bears+total.MayBear+total.NothingKnown+total.NotRecorded != 1 {
			t.Errorf("%s: got %+v, want it counted once", name, total)
		}
		leave()
		if _, err := r.guarded(of, c.h); !errors.Is(err, context.Canceled) {
			t.Errorf("%s: got %v for who left, want the context's error", name, err)
		}
	}
}
