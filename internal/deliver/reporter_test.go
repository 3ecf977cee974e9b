package deliver_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/deliver"
	"meniscus/internal/fault"
)

// monthly is a schedule's statement: seven in the morning of each first Monday.
func monthly(more map[string]any) map[string]any {
	statement := map[string]any{"name": "reversible treatments",
		"report": map[string]any{"reversibleTreatments": map[string]any{}},
		"rule":   "FREQ=MONTHLY;BYDAY=1MO", "starts": "2027-01-01T07:00"}
	for name, value := range more {
		statement[name] = value
	}
	return statement
}

// at sets the museum's clock.
func (m *museum) at(text string) {
	m.t.Helper()
	at, err := time.Parse(time.RFC3339, text)
	m.must(err)
	m.clock.move(at.Sub(m.clock.now()))
}

// schedule makes a schedule and gives its path.
func (m *museum) schedule(statement map[string]any) string {
	m.t.Helper()
	return "/v1/report-schedules/" + m.ask(http.MethodPost, "/v1/report-schedules", statement,
		http.StatusCreated)["id"].(string)
}

// reporter makes a reporter, after each change has altered its configuration.
func (m *museum) reporter(change ...func(*deliver.ReporterConfig)) *deliver.Reporter {
	cfg := deliver.ReporterConfig{Store: m.store, Write: m.api.WriteReport, Now: m.clock.now,
		Chance: func() float64 { return 0.5 }}
	for _, f := range change {
		f(&cfg)
	}
	return deliver.NewReporter(cfg)
}

// makeAll runs rounds until nothing is due.
func (m *museum) makeAll(r *deliver.Reporter) {
	m.t.Helper()
	for {
		more, err := r.Round(m.t.Context())
		m.must(err)
		if !more {
			return
		}
	}
}

// runs are a schedule's runs, the latest first.
func (m *museum) runs(path string) []map[string]any {
	m.t.Helper()
	var runs []map[string]any
	for _, r := range m.read(path + "/runs")["items"].([]any) {
		runs = append(runs, r.(map[string]any))
	}
	return runs
}

// dueTimes are when a schedule's runs were due, the earliest first.
func dueTimes(runs []map[string]any) []string {
	var times []string
	for _, r := range runs {
		at, _ := time.Parse(time.RFC3339, r["dueAt"].(string))
		times = append(times, at.UTC().Format(time.RFC3339))
	}
	slices.Sort(times)
	return times
}

// A report is made when it is due and not before. Its webhook gets a notice as the
// contract describes it, and the link gives the same file as the report's own
// operation.
func TestReportIsMadeWhenItIsDue(t *testing.T) {
	t.Parallel()
	m, c := newMuseum(t), newCatalogue(t)
	m.at("2027-01-01T12:00:00Z")
	hook, text := m.hook(c.URL, map[string]any{"kinds": []any{"person"}})
	specimen := m.specimen("LV.1")
	m.ask(http.MethodPost, "/v1/treatments", map[string]any{"statement": map[string]any{
		"specimen": map[string]any{"id": specimen}, "action": "coating",
		"areas": map[string]any{"paths": []any{"whole"}}, "dates": map[string]any{"edtf": "2026-12"}}}, http.StatusCreated)
	m.ask(http.MethodPost, "/v1/treatments", map[string]any{"statement": map[string]any{
		"specimen": map[string]any{"id": specimen}, "action": "coating",
		"areas": map[string]any{"paths": []any{"whole"}}, "dates": map[string]any{"edtf": "2026-10"}}}, http.StatusCreated)
	m.seal()
	webhooks := []any{map[string]any{"id": strings.TrimPrefix(hook, "/v1/webhooks/")}}
	table := m.schedule(monthly(map[string]any{"format": "csv", "period": "previous-month", "webhooks": webhooks}))
	whole := m.schedule(monthly(map[string]any{"webhooks": webhooks}))
	w, r := m.worker(), m.reporter()
	m.makeAll(r)
	if got := m.runs(table); len(got) != 0 {
		t.Fatalf("got %v before it was due, want nothing", got)
	}
	m.at("2027-01-04T06:00:00Z") // seven in Vienna
	m.makeAll(r)
	m.deliverAll(w)

	run := m.runs(table)[0]
	got, _ := m.fetch(http.MethodGet, strings.TrimPrefix(run["file"].(string), "https://meniscus.example"), nil,
		http.StatusOK)
	want, _ := m.fetch(http.MethodGet, "/v1/reports/reversible-treatments?from=2026-12-01&until=2026-12-31", nil,
		http.StatusOK, "Accept: text/csv")
	if string(got) != string(want) || bytes.Count(got, []byte("\r\n")) != 2 {
		t.Errorf("got the table %q, want %q with one row", got, want)
	}
	if sum := sha256.Sum256(got); run["sha256"] != hex.EncodeToString(sum[:]) || run["size"] != float64(len(got)) ||
		run["from"] != "2026-12-01" {
		t.Errorf("got the run %v, want the table's digest and size and its period", run)
	}
	got, _ = m.fetch(http.MethodGet, strings.TrimPrefix(m.runs(whole)[0]["file"].(string), "https://meniscus.example"),
		nil, http.StatusOK)
	want, _ = m.fetch(http.MethodGet, "/v1/reports/reversible-treatments", nil, http.StatusOK)
	if string(got) != `{"reversibleTreatments":`+string(want)+"}" {
		t.Errorf("got %s, want the whole report %s", got, want)
	}
	if len(c.got()) != 2 {
		t.Fatalf("got %d events, want one for each run and none of the changes: %v", len(c.got()), c.got())
	}
	for _, e := range c.got() {
		judgeReport(t, e, text)
	}
	if n := run["notices"].([]any)[0].(map[string]any); n["state"] != "delivered" {
		t.Errorf("got the notice %v, want it delivered", n)
	}
	m.fetch(http.MethodGet, strings.TrimPrefix(run["file"].(string), "https://meniscus.example"), nil,
		http.StatusNotAcceptable, "Accept: application/json")
}

func judgeReport(t *testing.T, r received, secret string) {
	t.Helper()
	if !strings.HasPrefix(secret, "whsec_") || r.header.Get("webhook-signature") == "" ||
		r.header.Get("webhook-id") != r.event["id"] {
		t.Errorf("got headers %v, want it signed, with the event's id", r.header)
	}
	doc, err := api.Document()
	if err != nil {
		t.Fatal(err)
	}
	if err := doc.Components.Schemas["ReportEvent"].Value.VisitJSON(r.event, openapi3.VisitAsRequest()); err != nil {
		t.Errorf("the event is outside the contract: %v\n%s", err, r.body)
	}
}

// With several servers, each due time still gives one run, which is made once.
func TestManyReportersMakeEachOnce(t *testing.T) {
	t.Parallel()
	m, c := newMuseum(t), newCatalogue(t)
	m.at("2027-01-01T12:00:00Z")
	hook, _ := m.hook(c.URL, nil)
	var path []string
	for range 5 {
		path = append(path,
			m.schedule(monthly(map[string]any{"rule": "FREQ=DAILY",
				"webhooks": []any{map[string]any{"id": strings.TrimPrefix(hook, "/v1/webhooks/")}}})))
	}
	m.fetch(http.MethodGet, path[0], nil, http.StatusOK)
	var mu sync.Mutex
	written := map[string]int{}
	count := func(cfg *deliver.ReporterConfig) {
		whole := cfg.Write
		cfg.Write = func(ctx context.Context, institution uuid.UUID, report string, query url.Values, mediaType string,
			w io.Writer) error {
			mu.Lock()
			written[m.clock.now().Format(time.DateOnly)]++
			mu.Unlock()
			return whole(ctx, institution, report, query, mediaType, w)
		}
	}
	for range 3 {
		m.clock.move(24 * time.Hour)
		var working sync.WaitGroup
		for range 4 {
			r := m.reporter(count)
			working.Go(func() { m.makeAll(r) })
		}
		working.Wait()
		m.deliverAll(m.worker())
	}
	for _, p := range path {
		if diff := cmp.Diff([]string{"2027-01-02T06:00:00Z", "2027-01-03T06:00:00Z", "2027-01-04T06:00:00Z"},
			dueTimes(m.runs(p))); diff != "" {
			t.Errorf("due (-want +got):\n%s", diff)
		}
	}
	if diff := cmp.Diff(map[string]int{"2027-01-02": 5, "2027-01-03": 5, "2027-01-04": 5}, written); diff != "" {
		t.Errorf("written each day (-want +got):\n%s", diff)
	}
	told := map[string]int{}
	for _, e := range c.got() {
		if strings.Contains(e.event["type"].(string), ".report.") {
			told[e.event["id"].(string)]++
		}
	}
	if len(told) != 15 {
		t.Errorf("got word of %d runs, want 15: %v", len(told), told)
	}
}

// A server that dies with half a file leaves nothing: another one makes the file when
// the lease has expired, and late writes of the first are refused.
func TestReporterThatDies(t *testing.T) {
	t.Parallel()
	m := newMuseum(t)
	m.at("2027-01-01T12:00:00Z")
	m.specimen("LV.1")
	path := m.schedule(monthly(nil))
	m.at("2027-01-04T06:00:00Z")
	dead := m.reporter(func(cfg *deliver.ReporterConfig) {
		cfg.Write = func(context.Context, uuid.UUID, string, url.Values, string, io.Writer) error {
			panic("the process ends")
		}
	})
	func() {
		defer func() { _ = recover() }()
		_, _ = dead.Round(t.Context())
	}()
	m.makeAll(m.reporter())
	if got := m.runs(path)[0]["state"]; got != "waiting" {
		t.Fatalf("got the run %v while the lease holds, want it waiting", got)
	}
	m.clock.move(6 * time.Minute)
	// a second server that dies, after one piece
	late, err := m.store.LeaseRun(t.Context(), m.clock.now(), m.clock.now().Add(5*time.Minute))
	m.must(err)
	if _, err := m.store.KeepPiece(t.Context(), *late, 0, []byte("half"), m.clock.now().Add(5*time.Minute)); err != nil {
		t.Fatal(err)
	}
	m.clock.move(6 * time.Minute)
	m.makeAll(m.reporter())
	if held, err := m.store.KeepPiece(t.Context(), *late, 1, []byte("late"), m.clock.now()); held || err != nil {
		t.Errorf("got a late piece taken: %v, %v", held, err)
	}
	if held, err := m.store.Made(t.Context(), *late, 4, []byte("x"), m.clock.now(), m.clock.now()); held || err != nil {
		t.Errorf("got the late end taken: %v, %v", held, err)
	}
	run := m.runs(path)[0]
	if run["state"] != "ready" || run["attempts"] != 3.0 {
		t.Errorf("got %v, want it ready at the third attempt", run)
	}
	got, _ := m.fetch(http.MethodGet, strings.TrimPrefix(run["file"].(string), "https://meniscus.example"), nil,
		http.StatusOK)
	if !strings.HasPrefix(string(got), `{"reversibleTreatments":{`) {
		t.Errorf("got %s", got)
	}
}

// Times that were missed while no server ran are made up for as the schedule says, each
// for its own period.
func TestDowntime(t *testing.T) {
	t.Parallel()
	m := newMuseum(t)
	m.at("2027-01-01T12:00:00Z")
	last := m.schedule(monthly(nil))
	each := m.schedule(monthly(map[string]any{"period": "previous-month", "afterDowntime": "each"}))
	m.at("2027-04-20T12:00:00Z")
	m.makeAll(m.reporter())
	runs := m.runs(last)
	if len(runs) != 1 || runs[0]["missed"] != 3.0 || dueTimes(runs)[0] != "2027-04-05T05:00:00Z" {
		t.Errorf("got %v, want April's alone with three missed", runs)
	}
	var periods []string
	for _, r := range m.runs(each) {
		periods = append(periods, fmt.Sprint(r["from"], " ", r["until"], " ", r["missed"]))
	}
	slices.Sort(periods)
	if diff := cmp.Diff([]string{"2026-12-01 2026-12-31 0", "2027-01-01 2027-01-31 0", "2027-02-01 2027-02-28 0",
		"2027-03-01 2027-03-31 0"}, periods); diff != "" {
		t.Errorf("periods (-want +got):\n%s", diff)
	}
	if got := m.read(last)["nextDueAt"]; got != "2027-05-03T05:00:00Z" && got != "2027-05-03T07:00:00+02:00" {
		t.Errorf("got next due %v, want May's first Monday", got)
	}
}

// When the clocks change, a schedule at 02:30 still runs once: on the day without that
// time, and on the day that has it twice.
func TestDaylightSaving(t *testing.T) {
	t.Parallel()
	m := newMuseum(t)
	for _, x := range []struct {
		from string
		want []string
	}{
		{"2027-03-27T00:00:00Z", []string{"2027-03-27T01:30:00Z", "2027-03-28T01:30:00Z", "2027-03-29T00:30:00Z"}},
		{"2027-10-30T00:00:00Z", []string{"2027-10-30T00:30:00Z", "2027-10-31T00:30:00Z", "2027-11-01T01:30:00Z"}},
	} {
		m.at(x.from)
		path := m.schedule(monthly(map[string]any{"rule": "FREQ=DAILY", "starts": "2027-01-01T02:30",
			"timeZone": "Europe/Vienna"}))
		r := m.reporter()
		for range 3 * 24 {
			m.clock.move(time.Hour)
			m.makeAll(r)
		}
		if diff := cmp.Diff(x.want, dueTimes(m.runs(path))); diff != "" {
			t.Errorf("from %s (-want +got):\n%s", x.from, diff)
		}
	}
}

// A report that cannot be made is tried again and in the end fails; one that can never
// be made fails at once. The webhook is notified of both.
func TestReportThatFails(t *testing.T) {
	t.Parallel()
	m, c := newMuseum(t), newCatalogue(t)
	m.at("2027-01-01T12:00:00Z")
	hook, _ := m.hook(c.URL, nil)
	path := m.schedule(monthly(map[string]any{"webhooks": []any{map[string]any{"id": strings.TrimPrefix(hook, "/v1/webhooks/")}}}))
	m.at("2027-01-04T06:00:00Z")
	failing := func(err error) *deliver.Reporter {
		return m.reporter(func(cfg *deliver.ReporterConfig) {
			cfg.Write = func(_ context.Context, _ uuid.UUID, _ string, _ url.Values, _ string, w io.Writer) error {
				_, _ = w.Write(bytes.Repeat([]byte("half"), 1000))
				return err
			}
		})
	}
	r := failing(errors.New("the disk is away"))
	for range 10 {
		_, _ = r.Round(t.Context())
		m.clock.move(25 * time.Hour)
	}
	run := m.runs(path)[0]
	if run["state"] != "failed" || run["attempts"] != 10.0 || strings.Contains(fmt.Sprint(run["sentence"]), "disk") {
		t.Errorf("got %v, want it failed after ten attempts, without the inner error", run)
	}
	m.at("2027-02-01T06:00:00Z")
	m.makeAll(failing(fault.New("gone", "", "There is no such collection any more.")))
	run = m.runs(path)[0]
	if run["state"] != "failed" || run["attempts"] != 1.0 || run["sentence"] != "There is no such collection any more." {
		t.Errorf("got %v, want it failed at once", run)
	}
	m.deliverAll(m.worker())
	var told []string
	for _, e := range c.got() {
		told = append(told, e.event["type"].(string))
	}
	if diff := cmp.Diff([]string{"example.meniscus.report.failed.v1", "example.meniscus.report.failed.v1"},
		told); diff != "" {
		t.Errorf("told (-want +got):\n%s", diff)
	}
}

// A notice to an unreachable receiver is sent again later; a receiver that answers 410
// gets no more.
func TestNoticesAreRepeated(t *testing.T) {
	t.Parallel()
	m, c := newMuseum(t), newCatalogue(t)
	m.at("2027-01-01T12:00:00Z")
	hook, _ := m.hook(c.URL, nil)
	path := m.schedule(monthly(map[string]any{"webhooks": []any{map[string]any{"id": strings.TrimPrefix(hook, "/v1/webhooks/")}}}))
	m.at("2027-01-04T06:00:00Z")
	m.makeAll(m.reporter())
	w := m.worker()
	notice := func() map[string]any { return m.runs(path)[0]["notices"].([]any)[0].(map[string]any) }
	c.answers(http.StatusServiceUnavailable)
	m.deliverAll(w)
	if n := notice(); n["state"] != "waiting" || n["attempts"] != 1.0 || n["nextAttemptAt"] == nil {
		t.Errorf("got %v, want it waiting for its next attempt", n)
	}
	m.clock.move(time.Hour)
	c.answers(0)
	m.deliverAll(w)
	if n := notice(); n["state"] != "delivered" || n["attempts"] != 2.0 {
		t.Errorf("got %v, want it delivered at the second attempt", n)
	}
	m.at("2027-02-01T06:00:00Z")
	m.makeAll(m.reporter())
	c.answers(http.StatusGone)
	m.deliverAll(w)
	if n := notice(); n["state"] != "given-up" || m.read(hook)["stopped"] == nil {
		t.Errorf("got %v, want it given up and the webhook switched off", n)
	}
}

// A report is stored for its time, and answers that it has expired afterwards.
func TestReportIsKeptForItsTime(t *testing.T) {
	t.Parallel()
	m := newMuseum(t)
	m.at("2027-01-01T12:00:00Z")
	path := m.schedule(monthly(map[string]any{"keepDays": 30}))
	m.at("2027-01-04T06:00:00Z")
	m.makeAll(m.reporter())
	file := strings.TrimPrefix(m.runs(path)[0]["file"].(string), "https://meniscus.example")
	m.clock.move(29 * 24 * time.Hour)
	m.must(m.store.DropReports(t.Context(), m.clock.now()))
	m.fetch(http.MethodGet, file, nil, http.StatusOK)
	m.clock.move(25 * time.Hour)
	m.must(m.store.DropReports(t.Context(), m.clock.now()))
	m.fetch(http.MethodGet, file, nil, http.StatusConflict)
	run := m.runs(path)[0]
	if run["state"] != "over" || run["file"] != nil {
		t.Errorf("got %v, want it over", run)
	}
}

// A change applies from then on; an ended schedule makes no more reports and keeps
// those it made; concurrent changes are not lost.
func TestScheduleIsChangedAndEnded(t *testing.T) {
	t.Parallel()
	m := newMuseum(t)
	m.at("2027-01-01T12:00:00Z")
	path := m.schedule(monthly(nil))
	read, header := m.fetch(http.MethodGet, path, nil, http.StatusOK)
	if !strings.Contains(string(read), "2027-01-04T") {
		t.Errorf("got %s, want it due on the first Monday", read)
	}
	weekly := monthly(map[string]any{"rule": "FREQ=WEEKLY;BYDAY=WE",
		"report": map[string]any{"incompleteRecords": map[string]any{"kind": "specimen"}}})
	m.fetch(http.MethodPut, path, weekly, http.StatusPreconditionRequired)
	m.fetch(http.MethodPut, path, weekly, http.StatusOK, "If-Match: "+header.Get("ETag"))
	m.fetch(http.MethodPut, path, weekly, http.StatusPreconditionFailed, "If-Match: "+header.Get("ETag"))
	m.specimen("LV.1")
	m.at("2027-01-06T06:00:00Z")
	m.makeAll(m.reporter())
	m.ask(http.MethodPost, path+"/ending", nil, http.StatusOK)
	m.ask(http.MethodPost, path+"/ending", nil, http.StatusOK)
	m.at("2027-03-06T06:00:00Z")
	m.makeAll(m.reporter())
	runs := m.runs(path)
	if diff := cmp.Diff([]string{"2027-01-06T06:00:00Z"}, dueTimes(runs)); diff != "" {
		t.Fatalf("due (-want +got):\n%s", diff)
	}
	got, _ := m.fetch(http.MethodGet, strings.TrimPrefix(runs[0]["file"].(string), "https://meniscus.example"), nil,
		http.StatusOK)
	if !strings.Contains(string(got), `"looked":1`) {
		t.Errorf("got %s, want the one specimen looked at", got)
	}
	_, header = m.fetch(http.MethodGet, path, nil, http.StatusOK)
	m.fetch(http.MethodPut, path, weekly, http.StatusConflict, "If-Match: "+header.Get("ETag"))
}

// Every report of the contract can be scheduled.
func TestEveryReportCanBeScheduled(t *testing.T) {
	t.Parallel()
	m := newMuseum(t)
	m.at("2027-01-01T12:00:00Z")
	specimen := m.specimen("LV.1")
	doc, err := api.Document()
	m.must(err)
	reports := 0
	for path := range doc.Paths.Map() {
		if strings.HasPrefix(path, "/v1/reports/") || path == "/v1/due" {
			reports++
		}
	}
	choices := map[string]any{
		"reversibleTreatments": map[string]any{}, "incompleteRecords": map[string]any{}, "due": map[string]any{},
		"treatments":  map[string]any{},
		"suitability": map[string]any{"specimens": []any{map[string]any{"id": specimen}}, "analysis": "radiocarbon"},
	}
	if reports != len(choices) || len(doc.Components.Schemas["ScheduledReport"].Value.Properties) != reports {
		t.Errorf("the contract has %d reports, and %d can be scheduled", reports,
			len(doc.Components.Schemas["ScheduledReport"].Value.Properties))
	}
	var paths []string
	for name, narrowed := range choices {
		paths = append(paths, m.schedule(monthly(map[string]any{"report": map[string]any{name: narrowed}})))
	}
	m.at("2027-01-04T06:00:00Z")
	m.makeAll(m.reporter())
	for _, path := range paths { // fetch checks each file against the contract
		m.fetch(http.MethodGet, strings.TrimPrefix(m.runs(path)[0]["file"].(string), "https://meniscus.example"), nil,
			http.StatusOK)
	}
}

// A schedule that cannot be made is refused when it is created.
func TestSchedulesThatAreRefused(t *testing.T) {
	t.Parallel()
	m := newMuseum(t)
	m.at("2027-01-01T12:00:00Z")
	for pointer, more := range map[string]map[string]any{
		"/rule":     {"rule": "FREQ=HOURLY"},
		"/starts":   {"starts": "2027-02-30T07:00"},
		"/timeZone": {"timeZone": "Europe/Atlantis"},
		"/webhooks": {"webhooks": []any{map[string]any{"id": uuid.NewString()}}},
		"/format":   {"format": "parchment"},
		"/period":   {"period": "previous-day", "report": map[string]any{"incompleteRecords": map[string]any{}}},
		"/report":   {"report": map[string]any{}},
	} {
		if read, _ := m.fetch(http.MethodPost, "/v1/report-schedules", monthly(more),
			http.StatusUnprocessableEntity); !strings.Contains(string(read), `"pointer":"`+pointer) {
			t.Errorf("%s: got %s", pointer, read)
		}
	}
	m.ask(http.MethodPost, "/v1/report-schedules",
		monthly(map[string]any{"rule": "FREQ=MONTHLY;BYMONTH=2;BYMONTHDAY=30"}), http.StatusUnprocessableEntity)
}
