package httpapi_test

import (
	"encoding/csv"
	"fmt"
	"log/slog"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/edtf"
	"meniscus/internal/httpapi"
	"meniscus/internal/layers"
	"meniscus/internal/postgres"
)

// refresh seals what was recorded and looks at the layers of it.
func (s *service) refresh() { s.t.Helper(); s.refreshOn(edtf.Day{Year: 2026, Month: 3, Day: 2}) }

func (s *service) refreshOn(day edtf.Day) {
	s.t.Helper()
	s.seal()
	watch := s.watching()
	r := layers.Refresher{Store: s.store, Watch: watch, Knowledge: s.library().Of, Log: slog.New(slog.DiscardHandler),
		Today: func() edtf.Day { return day }}
	if err := r.Round(s.t.Context()); err != nil {
		s.t.Fatal(err)
	}
	if behind, err := watch.Behind(s.t.Context()); err != nil || len(behind) > 0 {
		s.t.Fatalf("got %v behind, %v; want everything looked at", behind, err)
	}
}

// watching gives the worker's view of the layers that are behind.
func (s *service) watching() *postgres.Watch {
	s.t.Helper()
	if s.watch == nil {
		watch, err := postgres.OpenWatch(s.t.Context(), s.db.Worker())
		if err != nil {
			s.t.Fatal(err)
		}
		s.t.Cleanup(watch.Close)
		s.watch = watch
	}
	return s.watch
}

func (s *service) report(t *testing.T, query string) reply {
	t.Helper()
	return s.in(t).do(http.MethodGet, "/v1/reports/reversible-treatments"+query, nil).want(http.StatusOK)
}

// reportRows are the rows of a report by treatment.
func reportRows(r reply) map[string]object {
	out := map[string]object{}
	for i := range r.at("items").([]any) {
		row := r.at("items", i).(object)
		out[idOf(row["treatment"])] = row
	}
	return out
}

func TestReversibleTreatments(t *testing.T) {
	t.Parallel()
	a := newAwkward(t)
	a.create("/v1/specimens", specimen("LV.2001/0001"))

	before := a.report(t, "")
	if got := before.at("remainder", "notComputed"); got != 4.0 {
		t.Errorf("before anybody looked: got %v not computed, want all four: %s", got, before.body)
	}
	days := []string{time.Now().UTC().Format(time.DateOnly)}
	a.refresh()
	days = append(days, time.Now().UTC().Format(time.DateOnly)) // another one around midnight
	all := a.report(t, "")
	got := reportRows(all)
	if len(got) != 4 || all.at("totals", "treatments") != 4.0 || all.at("totals", "layers") != 4.0 || all.at("remainder", "notComputed") != 0.0 {
		t.Fatalf("got %s, want the four treatments that put material on", all.body)
	}
	coat := got[a.coat]
	if coat["state"] != "reduced" || coat["redissolvable"] != "yes" || coat["number"] != "LV.1987/0042" || !slices.Contains(days, coat["computedOn"].(string)) {
		t.Errorf("coat: got %v", coat)
	}
	if !strings.Contains(fmt.Sprint(coat["removedBy"]), "acetone") || !strings.Contains(fmt.Sprint(coat["testsOnly"]), "ethanol") {
		t.Errorf("coat: got %v and %v, want acetone named and ethanol a test", coat["removedBy"], coat["testsOnly"])
	}
	if n := coat["findings"].(object); n["warn"] == 0.0 {
		t.Errorf("coat: got findings %v, want the warning of the solvent over the joint", n)
	}
	if got := all.at("totals", "redissolvable", "yes").(float64) + all.at("totals", "redissolvable", "partly").(float64) + all.at("totals", "redissolvable", "no").(float64) + all.at("totals", "redissolvable", "unknown").(float64); got != 4 {
		t.Errorf("got answers %v, want every layer in one group", all.at("totals", "redissolvable"))
	}
	if all.at("remainder", "materialUnknown") != 1.0 || all.at("remainder", "specimensWithoutRecord") != 1.0 {
		t.Errorf("got remainder %v, want one unsettled material and one specimen without record", all.at("remainder"))
	}
	if all.at("removals", 0, "removed", 0, "id") != a.coat {
		t.Errorf("got removals %v, want the one that took the coat off", all.at("removals"))
	}
	for query, want := range map[string][]string{
		"?from=2000-01-01":                           {a.coat},
		"?until=1960-12-31":                          {a.lacquer},
		"?from=2005-01-01&until=2005-12-31":          {a.coat}, // put on some time from 2004 to 2009
		"?material=poly-vinyl-acetate-resin":         {a.joint},
		"?material=shellac":                          {a.lacquer}, // it may be
		"?material=toluene":                          {},
		"?area=skull%2Fjaw":                          {a.joint, a.coat, a.lacquer},
		"?collection=botany":                         {},
		"?state=gone":                                {},
		"?state=there":                               {a.joint, a.coat, a.lacquer, a.number},
		"?redissolvable=yes&from=1980-01-01":         {a.coat},
		"?collection=palaeontology&until=1975-12-31": {a.lacquer, a.number},
	} {
		got := reportRows(a.report(t, query))
		ok := len(got) == len(want)
		for _, id := range want {
			ok = ok && got[id] != nil
		}
		if !ok {
			t.Errorf("%s: got %v, want %v", query, got, want)
		}
	}
	a.do(http.MethodGet, "/v1/reports/reversible-treatments?from=2005-02-31", nil).want(http.StatusBadRequest)
}

func TestReversibleTreatmentsAsATable(t *testing.T) {
	t.Parallel()
	a := newAwkward(t)
	a.refresh()
	got := a.do(http.MethodGet, "/v1/reports/reversible-treatments", nil, header{"Accept", "text/csv"}).want(http.StatusOK)
	table, err := csv.NewReader(strings.NewReader(string(got.body))).ReadAll()
	if err != nil || len(table) != 5 || table[0][0] != "treatment" {
		t.Errorf("got %v, %v; want a head and four rows", table, err)
	}
}

// TestFindingsAreKept: made on reading until the treatment has its sequence number, then
// kept with it; a later layer does not change them, a change of its own does.
func TestFindingsAreKept(t *testing.T) {
	t.Parallel()
	a := newAwkward(t)
	of := func(id string) reply {
		t.Helper()
		return a.do(http.MethodGet, "/v1/treatments/"+id+"/findings?detail=full", nil).want(http.StatusOK)
	}
	now := of(a.coat)
	if !strings.Contains(string(now.body), `"rule":"harmful-solvent"`) || strings.Contains(string(now.body), `"sequence"`) {
		t.Errorf("before it has a sequence number: got %s, want the toluene found, and no sequence number", now.body)
	}
	a.refresh()
	kept := of(a.coat)
	sequence := kept.at("items", 0, "sequence")
	if sequence == nil || !strings.Contains(string(kept.body), `"rule":"harmful-solvent"`) {
		t.Fatalf("got %s, want the findings with the sequence number that they were made at", kept.body)
	}
	a.treat("coating", "1990", "skull/jaw", object{"materials": array{object{"used": object{"material": object{"id": "microcrystalline-wax"}}}}})
	a.refresh()
	if got := of(a.coat); string(got.body) != string(kept.body) {
		t.Errorf("after another record: got %s, want %s", got.body, kept.body)
	}
	record := a.do(http.MethodGet, "/v1/treatments/"+a.coat, nil).want(http.StatusOK)
	statement := record.at("statement").(object)
	statement["materials"] = array{object{"used": object{"material": object{"id": "ethyl-methacrylate-methyl-acrylate-copolymer", "solvents": array{object{"id": "ethanol"}}}}}}
	a.do(http.MethodPost, "/v1/records/"+a.coat+"/amendments", object{"reason": "It was ethanol.", "statement": statement}, header{"If-Match", record.header.Get("ETag")}, header{"Idempotency-Key", uuid.NewString()}).want(http.StatusCreated)
	a.refresh()
	changed := of(a.coat)
	if strings.Contains(string(changed.body), `"rule":"harmful-solvent"`) || changed.at("items", 0, "sequence") == sequence {
		t.Errorf("after its own change: got %s, want them made anew", changed.body)
	}
	// What happened is never refused, whatever is found.
	a.treat("coating", "2020", "skull/occipital", object{"materials": array{object{"used": object{"material": object{"id": "poly-isobutyl-methacrylate", "solvents": array{object{"id": "naphtha"}}}}}}})
}

// However small the steps, a walk through the treatments comes by each once, in
// the same order, those without a date at the end.
func TestReversibleInSmallSteps(t *testing.T) {
	t.Parallel()
	a := newAwkward(t)
	undated := a.create("/v1/treatments", object{"specimen": object{"id": a.specimen}, "action": "coating", "areas": object{"paths": array{"skull"}}, "dates": object{"answer": "unknown"}}).id()
	a.refresh()
	through := func(step int) (ids []string) {
		t.Helper()
		for walk := (postgres.Walk{}); !walk.Ended; {
			treatments, next, err := a.store.For(a.inst).ReversibleWalk(t.Context(), postgres.ReversibleFilter{}, walk, step)
			if err != nil {
				t.Fatal(err)
			}
			rows, err := a.store.For(a.inst).ReversibleTreatments(t.Context(), postgres.ReversibleFilter{}, treatments)
			if err != nil {
				t.Fatal(err)
			}
			for _, r := range rows {
				ids = append(ids, r.Treatment.String())
			}
			walk = next
		}
		return ids
	}
	want := []string{a.lacquer, a.number, a.joint, a.coat, undated}
	for _, step := range []int{1, 2, 5, 500} {
		if got := through(step); strings.Join(got, " ") != strings.Join(want, " ") {
			t.Errorf("in steps of %d: got %v, want %v", step, got, want)
		}
	}
}

// A day passes and another: what the report says of ages, and of what has sublimed
// since, is of the day on which it is made, and so is what its filters keep.
func TestReportIsOfTheDay(t *testing.T) {
	t.Parallel()
	a := newAwkward(t)
	film := a.treat("coating", "2026-03-01", "skull/brow", object{"materials": array{object{"used": object{"material": object{"id": "cyclododecane"}}}}})
	a.refresh() // on 2 March 2026
	var day time.Time
	a.url = listen(t, mustServe(t, httpapi.Config{Store: a.store, PublicURL: "https://meniscus.example", Now: func() time.Time { return day }})).URL
	for _, x := range []struct{ day, state, there, gone string }{
		{"2026-03-02", "present", film, ""}, {"2031-03-02", "should-have-sublimed", "", film}, {"2026-03-02", "present", film, ""},
	} {
		day, _ = time.Parse(time.DateOnly, x.day)
		got := reportRows(a.report(t, "?from=2026-01-01"))[film]
		if got["state"] != x.state || got["computedOn"] != x.day {
			t.Errorf("on %s: got %v, want it %s, worked out that day", x.day, got, x.state)
		}
		for filter, want := range map[string]string{"there": x.there, "gone": x.gone} {
			if rows := reportRows(a.report(t, "?from=2026-01-01&state="+filter)); (rows[film] != nil) != (want != "") {
				t.Errorf("on %s, %s: got %v", x.day, filter, rows)
			}
		}
	}
}

// Nobody has to ask for a report: the refresher renews what is of an earlier day.
func TestRefresherRenewsOnAnotherDay(t *testing.T) {
	t.Parallel()
	a := newAwkward(t)
	twin := a.create("/v1/specimens", specimen("F-17")).id()
	coat := a.create("/v1/treatments", object{"specimen": object{"id": twin}, "action": "coating", "areas": object{"paths": array{"skull"}}, "dates": object{"edtf": "2001"},
		"materials": array{object{"used": object{"material": object{"id": "cyclododecane"}}}}}).id()
	a.refreshOn(edtf.Day{Year: 2026, Month: 3, Day: 2})
	a.merge(twin, a.specimen).want(201)
	a.refreshOn(edtf.Day{Year: 2026, Month: 3, Day: 2})
	a.refreshOn(edtf.Day{Year: 2031, Month: 3, Day: 2})
	kept, err := a.store.For(a.inst).KeptStates(t.Context(), []uuid.UUID{uuid.MustParse(a.specimen)})
	if err != nil || kept[0].ComputedOn.Year() != 2031 {
		t.Errorf("got layers of %v, %v; want them of the later day", kept[0].ComputedOn, err)
	}
	if !slices.ContainsFunc(kept[0].Layers, func(l postgres.LayerState) bool { return l.Treatment.String() == coat }) {
		t.Errorf("got %v, want the coat of the merged record among them", kept[0].Layers)
	}
}
