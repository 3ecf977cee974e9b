package httpapi_test

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"meniscus/internal/httpapi"
)

// onDay lets the same records be asked by a service whose clock stands elsewhere.
func (a *awkward) onDay(day string) {
	a.t.Helper()
	at, err := time.Parse(time.DateOnly, day)
	if err != nil {
		a.t.Fatal(err)
	}
	a.url = listen(a.t, mustServe(a.t, httpapi.Config{Store: a.store, PublicURL: "https://meniscus.example", Now: func() time.Time { return at }})).URL
}

// Whoever names no day asks about the day of the service's clock: what lies on a
// specimen, what a treatment would meet, what was found of one, and of a plan.
func TestTheDayIsTheClocks(t *testing.T) {
	t.Parallel()
	a := newAwkward(t)
	film := array{object{"used": object{"material": object{"id": "cyclododecane"}}}}
	for _, area := range []string{"skull/brow", "left-femur"} {
		a.treat("coating", "2026-03-01", area, object{"materials": film})
	}
	over := func(area string) object {
		return object{"specimen": object{"id": a.specimen}, "action": "coating", "areas": object{"paths": array{area}}, "dates": object{"answer": "unknown"},
			"materials": array{object{"used": object{"material": object{"id": "shellac", "solvents": array{object{"id": "ethanol"}}}}}}}
	}
	treatment := a.create("/v1/treatments", over("left-femur")).id()
	plan := a.create("/v1/plans", object{"treatment": over("skull/brow")}).id()
	for _, x := range []struct {
		day   string
		there bool
	}{{"2026-03-02", true}, {"2031-03-02", false}} {
		a.onDay(x.day)
		present := a.do(http.MethodGet, "/v1/specimens/"+a.specimen+"/present-state?detail=full", nil).want(http.StatusOK)
		if got := strings.Contains(string(present.body), "should-have-sublimed"); got == x.there || present.at("at") != x.day {
			t.Errorf("%s, present state: got %s", x.day, present.body)
		}
		for name, r := range map[string]reply{
			"check":    a.do(http.MethodPost, "/v1/treatment-checks?detail=full", object{"treatment": over("skull/brow")}),
			"findings": a.do(http.MethodGet, "/v1/treatments/"+treatment+"/findings?detail=full", nil),
			"plan":     a.do(http.MethodGet, "/v1/plans/"+plan+"/findings?detail=full", nil),
		} {
			if got := strings.Contains(string(r.want(http.StatusOK).body), `"rule":"coating-over-cyclododecane"`); got != x.there {
				t.Errorf("%s, %s: got coating-over-cyclododecane %v, want %v: %s", x.day, name, got, x.there, r.body)
			}
		}
	}
}

// An entry of an export may not have its sequence number later than the clock says.
func TestRestoringAsksTheClock(t *testing.T) {
	t.Parallel()
	a := newAwkward(t)
	a.seal()
	lines := a.lines()
	b := awkward{service: a.emptied(whoRecorded(t, lines))}
	b.onDay("1999-12-31")
	b.restore(lines).wantProblem(http.StatusUnprocessableEntity, "time-impossible")
}
