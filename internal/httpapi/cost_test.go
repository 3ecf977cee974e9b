package httpapi_test

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"runtime"
	"runtime/metrics"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/httpapi"
	"meniscus/internal/pgtest"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
)

// standing makes the collector stop everything else while it marks; Go reads it
// when a program starts.
const standing = "gcstoptheworld=1"

// measured runs the test in a process of its own in which nothing is allocated
// while the collector marks, and tells whether this is that process. Elsewhere
// what the work allocates meanwhile is kept, garbage or not, and more of it the
// busier the machine is. It has two processors: with one the work would go on for
// long before its memory is looked at.
func measured(t *testing.T) bool {
	t.Helper()
	if strings.Contains(os.Getenv("GODEBUG"), standing) {
		return true
	}
	t.Parallel()
	program, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	child := exec.CommandContext(t.Context(), program, "-test.run=^"+t.Name()+"$", "-test.v", "-test.cpu=2")
	if end, has := t.Deadline(); has {
		child.Args = append(child.Args, fmt.Sprint("-test.timeout=", time.Until(end)))
	}
	child.Env = append(os.Environ(), "GODEBUG="+standing, "MENISCUS_TEST_DATABASE_URL="+pgtest.New(t).Super())
	said, err := child.CombinedOutput()
	if t.Logf("%s", said); err != nil || !strings.Contains(string(said), "--- PASS: "+t.Name()) {
		t.Errorf("the process that measures: %v", err)
	}
	return false
}

// peak is the most memory, in bytes, that was reachable at a time while work was
// done, beside what was reachable before: at most this, and less by step at most.
// It collects and looks each time that step more has been allocated, so that
// garbage is not counted, and what was reachable between two looks cannot have
// been more.
func peak(step uint64, work func()) uint64 {
	sample := []metrics.Sample{{Name: "/gc/heap/allocs:bytes"}, {Name: "/gc/heap/live:bytes"}}
	allocated := func() uint64 { metrics.Read(sample); return sample[0].Value.Uint64() }
	reachable := func() uint64 { runtime.GC(); metrics.Read(sample); return sample[1].Value.Uint64() }
	reachable() // twice: what is pooled goes at the second
	before, seen := reachable(), allocated()
	ctx, done := context.WithCancel(context.Background())
	most := make(chan uint64)
	go func() {
		highest, clock := before, time.NewTicker(100*time.Microsecond)
		defer clock.Stop()
		for ctx.Err() == nil {
			<-clock.C
			if now := allocated(); now >= seen+step {
				highest, seen = max(highest, reachable()), now
			}
		}
		most <- highest
	}()
	work()
	done()
	return <-most - before + step
}

// forgetful takes an answer and keeps nothing of it.
type forgetful struct {
	header http.Header
	status int
	size   int
}

func (f *forgetful) Header() http.Header           { return f.header }
func (f *forgetful) WriteHeader(status int)        { f.status = status }
func (f *forgetful) Write(b []byte) (int, error)   { f.size += len(b); return len(b), nil }
func (forgetful) Flush()                           {}
func (forgetful) SetReadDeadline(time.Time) error  { return nil }
func (forgetful) SetWriteDeadline(time.Time) error { return nil }

// heavy is a request as heavy as the contract takes it.
type heavy struct {
	class, method, path string
	accept, mediaType   string
	body                string // or
	stream              io.Reader
	want                int
}

const wholeBody = 1 << 20

// filled repeats a piece until a body is as large as is taken.
func filled(before, piece, after string) string {
	return before + strings.Repeat(piece+",", (wholeBody-len(before)-len(after)-len(piece))/(len(piece)+1)) + piece + after
}

// unknownMembers is one object of as many members as a body takes.
func unknownMembers(value string) string {
	var b strings.Builder
	b.WriteString(`{"x":0`)
	for n := 0; b.Len() < wholeBody-64; n++ {
		fmt.Fprintf(&b, `,"%x":%s`, n, value)
	}
	return b.String() + "}"
}

// Each class of work costs at most the memory that admission reckons with.
func TestClassesCostWhatTheySay(t *testing.T) { // alone, because it measures the process
	if !measured(t) {
		return
	}
	t.Run("requests", heaviestRequests)
	t.Run("pages of large entries", pagesOfLargeEntries)
	t.Run("a large package", largePackage)
}

func heaviestRequests(t *testing.T) {
	s := newService(t)
	h := mustServe(t, httpapi.Config{Store: s.store, PublicURL: "https://meniscus.example"})
	text := strings.Repeat("Ä word. ", 2400) // as long as a text may be, about
	bone := s.create("/v1/specimens", specimen("LV.1")).id()
	const layers = 200
	for n := range layers {
		coat := treatment(bone, "coating", fmt.Sprint(1800+n))
		coat["materials"], coat["remarks"] = array{object{"used": object{"material": object{"id": "shellac"}}}}, text
		s.create("/v1/treatments", coat)
	}
	jar := s.create("/v1/batches", object{"code": "B-1", "kind": "solution",
		"inputs": array{into(object{"material": object{"id": "shellac"}}, "solute", object{"answer": "unknown"})}}).id()
	s.seal()
	cards := s.do(http.MethodPost, "/v1/imports", object{"name": "cards", "dryRun": false,
		"mapping": object{"format": "csv", "dates": array{"edtf"}, "columns": array{
			object{"name": "Card", "field": "card-id"}, object{"name": "Number", "field": "number"},
			object{"name": "Treatment", "field": "action"}, object{"name": "Date", "field": "date"},
			object{"name": "Notes", "field": "remarks"}},
			"constants": array{object{"field": "collection", "value": "palaeontology"}},
			"actions":   array{object{"words": "cleaned", "action": "cleaning"}}}}, header{"Idempotency-Key",
		"cards"}).want(http.StatusCreated).id()
	var numbers []string
	for n := range 1000 {
		numbers = append(numbers, fmt.Sprintf(`{"number":"LV.1","collection":"%d"}`, n))
	}
	at := "/v1/specimens/" + bone
	for name, r := range map[string]heavy{
		"objects in a list": {class: "compute", method: "POST", path: "/v1/compute/blend", body: filled(`{"stocks":[`, `{}`, `]}`)},
		"numbers in a list": {class: "compute", method: "POST", path: "/v1/compute/dilute",
			body: filled(`{"strength":{"parts":[`, `1`, `]}}`)},
		"objects of one member": {class: "compute", method: "POST", path: "/v1/compute/blend", body: filled(`{"stocks":[`, `{"":0}`, `]}`)},
		"lists in a list": {class: "write", method: "POST", path: "/v1/batches",
			body: filled(`{"statement":{"inputs":[`, `[[]]`, `]}}`)},
		"unknown members": {class: "write", method: "POST", path: "/v1/people", body: unknownMembers(`0`), want: 422},
		"unknown objects": {class: "compute", method: "POST", path: "/v1/compute/make-up", body: unknownMembers(`{}`), want: 422},
		"a treatment to check": {class: "read", method: "POST", path: "/v1/treatment-checks",
			body: filled(`{"statement":{"areas":{"paths":[`, `"a"`, `]}}}`)},
		"a treatment of 1 MiB": {class: "write", method: "POST", path: "/v1/treatments",
			body: filled(`{"statement":{"materials":[`, `{"used":{}}`, `]}}`)},
		"a long text on 400":  {class: "bulk", method: "POST", path: "/v1/group-treatments", body: groupOf(399, 1), want: 201},
		"longer texts on 400": {class: "bulk", method: "POST", path: "/v1/group-treatments", body: groupOf(399, 40), want: 413},
		"a sheet":             {class: "read", method: "GET", path: at + "/sheet", accept: "text/html", want: 200},
		"a record to print": {class: "read", method: "GET", path: at + "/papers/treatment-record",
			accept: "application/pdf", want: 200},
		"a bench sheet": {class: "read", method: "GET", path: at + "/papers/bench-sheet", accept: "application/pdf", want: 200},
		"a recipe card": {class: "compute", method: "POST", path: "/v1/compute/make-up", accept: "application/pdf", want: 200,
			body: `{"resin":{"solid":{"material":"shellac"}},"solvent":{"liquid":{"material":"ethanol"}},"strength":{"value":10,"unit":"g/dL",` +
				`"basis":"mass-per-solution-volume"},"amount":{"finished":{"value":200,"unit":"mL"}}}`},
		"a page of treatments": {class: "read", method: "GET", path: "/v1/treatments?limit=500", want: 200},
		"a removal plan":       {class: "read", method: "GET", path: at + "/removal-plan?detail=full", want: 200},
		"a present state":      {class: "read", method: "GET", path: at + "/present-state?detail=full", want: 200},
		"a timeline":           {class: "read", method: "GET", path: at + "/timeline", accept: "image/svg+xml", want: 200},
		"a hundred labels": {class: "read", method: "GET", path: "/v1/batches/" + jar + "/label?copies=100",
			accept: "application/pdf", want: 200},
		"a thousand numbers": {class: "bulk", method: "POST", path: "/v1/specimen-lookup", body: `{"numbers":[` +
			strings.Join(numbers, ",") + `]}`, want: 200},
		"a thousand sources":   {class: "sources", method: "POST", path: "/v1/source-records", body: sourcesOf(1000), want: 200},
		"a thousand conflicts": {class: "sources", method: "POST", path: "/v1/source-records", body: s.conflicting(1000), want: 200},
		"a thousand faults": {class: "sources", method: "POST", path: "/v1/source-records",
			body: filled(`{"items":[`,
				`{"kind":"batch","source":{"system":"c","recordId":"1"},"statement":{"inputs":[`+strings.TrimSuffix(strings.Repeat(`{},`, 350), ",")+`]}}`, `]}`), want: 200},
		"a lookup":              {class: "lookup", method: "GET", path: "/v1/specimen-lookup?number=LV.1", want: 200},
		"a page of changes":     {class: "read", method: "GET", path: "/v1/changes?limit=500", want: 200},
		"reversible treatments": {class: "report", method: "GET", path: "/v1/reports/reversible-treatments", want: 200},
		"incomplete records":    {class: "report", method: "GET", path: "/v1/reports/incomplete-records", want: 200},
		"suitability":           {class: "report", method: "GET", path: "/v1/reports/suitability", want: 200},
		"an export":             {class: "export", method: "GET", path: "/v1/exports/records", accept: "application/x-ndjson", want: 200},
		"a package":             {class: "export", method: "GET", path: at + "/package", accept: "application/x-ndjson", want: 200},
		"Darwin Core":           {class: "export", method: "GET", path: "/v1/exports/darwin-core", want: 200},
		"an import of 1100 cards": {class: "import", method: "PUT", path: "/v1/imports/" + cards + "/cards",
			mediaType: "text/csv", stream: manyCards(1100), want: 200},
		"the contract": {class: "page", method: "GET", path: "/openapi.json", want: 200},
	} {
		if len(r.body) > wholeBody {
			t.Fatalf("%s: a body of %d bytes", name, len(r.body))
		}
		r.measure(t, h, s.key, name)
	}
}

// measure holds what a request takes against what its class declares.
func (r heavy) measure(t *testing.T, h http.Handler, key, name string) {
	t.Helper()
	w := &forgetful{header: http.Header{}}
	declared := uint64(httpapi.Declared(r.class, int64(len(r.body))))
	got := peak(declared/8, func() { h.ServeHTTP(w, r.request(key)) })
	t.Logf("%-24s %-8s %5.1f MiB of %3d, answered %d with %d bytes", name, r.class, float64(got)/(1<<20), declared>>20, w.status, w.size)
	if got > declared {
		t.Errorf("%s: %d bytes at a time, class %s declares %d", name, got, r.class, declared)
	}
	if w.status >= 500 || r.want != 0 && w.status != r.want {
		t.Errorf("%s: answered %d", name, w.status)
	}
}

// A page holds no more of large entries.
func pagesOfLargeEntries(t *testing.T) {
	s := newService(t)
	h := mustServe(t, httpapi.Config{Store: s.store, PublicURL: "https://meniscus.example"})
	for n := range 10 { // five each
		w, group := &forgetful{}, heavy{method: http.MethodPost, path: "/v1/group-treatments", body: groupOf(4, 57)}
		for w.status == 0 || w.status == http.StatusServiceUnavailable { // a busy machine has it come again
			w = &forgetful{header: http.Header{}}
			request := group.request(s.key)
			request.Header.Set("Idempotency-Key", fmt.Sprintf("\"group-%d\"", n))
			h.ServeHTTP(w, request)
		}
		if w.status != http.StatusCreated {
			t.Fatalf("group %d: answered %d", n, w.status)
		}
	}
	s.seal()
	bone := "/v1/specimens/" + fmt.Sprint(s.do(http.MethodGet, "/v1/specimen-lookup?number=LV.2",
		nil).want(200).at("specimens", 0, "specimen", "id"))
	for _, r := range []heavy{
		{class: "read", path: bone + "/treatments?limit=500"},
		{class: "read", path: bone + "/treatments?limit=500&believedAt=2999-01-01T00:00:00Z"},
		{class: "read", path: bone + "/sheet", accept: "text/html"},
		{class: "export", path: "/v1/exports/darwin-core"},
		{class: "export", path: "/v1/exports/records", accept: "application/x-ndjson"},
		{class: "export", path: "/v1/exports/records?kind=treatment", accept: "text/csv"},
		{class: "read", path: "/v1/treatments?limit=500"},
		{class: "read", path: "/v1/treatments?limit=500&fields=id"},
		{class: "read", path: "/v1/treatments?limit=500&recordedSince=2000-01-01T00:00:00Z"},
		{class: "read", path: "/v1/changes?limit=500"},
		{class: "report", path: "/v1/reports/incomplete-records?kind=treatment"},
	} {
		r.method, r.want = http.MethodGet, http.StatusOK
		r.measure(t, h, s.key, r.path)
	}
	s.exportsAll()
	s.listsAll(50)
	for _, list := range []string{"?limit=500", "?limit=500&believedAt=2999-01-01T00:00:00Z"} {
		first := s.do(http.MethodGet, bone+"/treatments"+list, nil).want(200)
		if met := s.rest(first); len(slices.Compact(slices.Sorted(slices.Values(met)))) != 10 || len(met) != 10 ||
			len(first.at("items").(array)) > 5 {
			s.t.Errorf("%s: got %v, want each of ten treatments once, a few on a page", list, met)
		}
	}
	if page := s.as("text/html", bone); !strings.Contains(string(page.body), "treatment is on record that") &&
		!strings.Contains(string(page.body), "treatments are on record that") {
		s.t.Errorf("got a page that does not say what it leaves out: %.2000s", page.body)
	}
}

// listsAll holds that the pages of lists have every treatment, and few of them each.
func (s *service) listsAll(treatments int) {
	s.t.Helper()
	tenant, f := s.store.For(s.inst), postgres.Filter{Kind: record.KindTreatment}
	var byID, bySequence, sequence = map[uuid.UUID]bool{}, 0, int64(0)
	var err error
	for after, more := uuid.Nil, true; more && err == nil; {
		var page []postgres.Row
		page, more, err = tenant.List(s.t.Context(), f, after, 500)
		for _, row := range page {
			after, byID[row.Record] = row.Record, true
		}
		if len(page) > 5 {
			s.t.Errorf("%d on a page", len(page))
		}
	}
	for more := true; more && err == nil; {
		var page []postgres.Row
		page, more, err = tenant.ListSince(s.t.Context(), f, time.Unix(0, 0), sequence, 500)
		for _, row := range page {
			sequence = *row.Sequence
			bySequence++
		}
	}
	if len(byID) != treatments || bySequence != treatments || err != nil {
		s.t.Errorf("%d treatments by id, %d by sequence number, want %d: %v", len(byID), bySequence, treatments, err)
	}
}

// exportsAll holds that pages follow each other without a gap, and that none but its
// last entry goes beyond its bytes.
func (s *service) exportsAll() {
	s.t.Helper()
	last, err := s.store.For(s.inst).LastSequence(s.t.Context())
	for after, more := int64(0), true; err == nil && after < last; {
		var page []postgres.Exported
		if !more {
			s.t.Fatalf("the pages end after sequence number %d of %d", after, last)
		}
		page, more, err = s.store.For(s.inst).Export(s.t.Context(), after, last, 100)
		words := 0
		for _, x := range page {
			if after++; *x.Sequence != after || words >= 8<<20 {
				s.t.Fatalf("sequence number %d after %d, and %d bytes before it on its page", *x.Sequence, after-1, words)
			}
			words += len(*x.Body)
		}
	}
	if err != nil {
		s.t.Fatal(err)
	}
}

func (r heavy) request(key string) *http.Request {
	body := r.stream
	if body == nil {
		body = strings.NewReader(r.body)
	}
	request := httptest.NewRequest(r.method, r.path, body)
	for name, value := range map[string]string{"Authorization": "Bearer " + key, "Accept": r.accept,
		"Accept-Encoding": "gzip", "Idempotency-Key": uuid.NewString(), "Content-Type": r.mediaType} {
		if value != "" {
			request.Header.Set(name, value)
		}
	}
	if r.mediaType == "" {
		request.Header.Set("Content-Type", "application/json")
	}
	return request
}

// manyCards are cards with long notes.
func manyCards(n int) io.Reader {
	out, in := io.Pipe()
	go func() {
		_, err := io.WriteString(in, "Card,Number,Treatment,Date,Notes\n")
		for i := 0; i < n && err == nil; i++ {
			_, err = fmt.Fprintf(in, "%d,LV.9/%d,cleaned,1934,%s\n", i, i, strings.Repeat("long notes ", 300))
		}
		in.CloseWithError(err)
	}()
	return out
}

// groupOf is one treatment with so many texts of 18,000 bytes, on so many specimens more.
func groupOf(others, texts int) string {
	var also, deviations []string
	for n := range others {
		also = append(also, fmt.Sprintf(`{"specimen":{"identifier":{"kind":"catalogue-number","value":"LV.%d/%d"}}}`, texts, n))
	}
	for range texts {
		deviations = append(deviations, `{"what":"`+strings.Repeat("long words", 1800)+`"}`)
	}
	return `{"statement":{"specimen":{"identifier":{"kind":"catalogue-number","value":"LV.2"}},"action":"cleaning","areas":{"paths":["whole"]},"dates":{"edtf":"2001"},"materials":[],"deviations":[` +
		strings.Join(deviations, ",") + `]},"alsoOn":[` + strings.Join(also, ",") + `]}`
}

// However large its revisions are, a record's list has each once, a few on a page; and
// one is read without the others.
func TestLargeRevisionsHavePages(t *testing.T) {
	t.Parallel()
	s := newService(t)
	said := treatment(s.create("/v1/specimens", specimen("LV.1")).id(), "cleaning", "2001")
	for range 40 {
		said["deviations"] = append(deviationsOf(said), object{"what": strings.Repeat("long words", 1800)})
	}
	made := s.create("/v1/treatments", said)
	id := made.id()
	const revisions = 9
	for n := range revisions - 1 {
		said["dates"] = object{"edtf": fmt.Sprint(1900 + n)}
		made = s.amend(made, said)
	}
	var seen []int
	pages := 0
	for path := "/v1/records/" + id + "/revisions?fields=revision"; path != ""; pages++ {
		page := s.do(http.MethodGet, path, nil).want(http.StatusOK)
		for i := range page.at("items").([]any) {
			seen = append(seen, int(page.at("items", i, "revision").(float64)))
		}
		path = ""
		if next, has := page.at("next", "cursor").(string); has {
			path = "/v1/records/" + id + "/revisions?fields=revision&cursor=" + next
		}
	}
	if want := []int{1, 2, 3, 4, 5, 6, 7, 8, 9}; !slices.Equal(seen, want) || pages != 2 {
		t.Errorf("got %v on %d pages, want each of nine once on two", seen, pages)
	}
	s.do(http.MethodGet, "/v1/records/"+id+"/revisions/9", nil).want(http.StatusOK)
	s.do(http.MethodGet, "/v1/records/"+id+"/revisions/10", nil).wantProblem(http.StatusNotFound, "revision-unknown")
}

func deviationsOf(said object) array {
	all, _ := said["deviations"].(array)
	return all
}

// sourcesOf is a bulk statement of as many records as a body takes, or so many.
func sourcesOf(most int) string {
	var items []string
	for n := range most {
		items = append(items,
			fmt.Sprintf(`{"kind":"specimen","source":{"system":"catalogue","recordId":"%d"},"statement":{"identifiers":[{"kind":"catalogue-number","value":"SR.%d.x"}],"remarks":%q}}`,
				n, n, strings.Repeat("Word. ", 130)))
	}
	return `{"items":[` + strings.Join(items, ",") + `]}`
}

// conflicting is a bulk statement of one record, as often as so many, that is as large
// as a body and was amended here.
func (s *service) conflicting(most int) string {
	s.t.Helper()
	var areas array
	for n := range 240 {
		areas = append(areas, object{"path": fmt.Sprint(n, strings.Repeat("x", 3990))})
	}
	large := object2(specimen("SR.0.y"), "areas", areas)
	id := s.says("specimen", "large", large).wantOutcome("made", 1).at("record", "id").(string)
	s.do(http.MethodPost, "/v1/records/"+id+"/amendments", object{"reason": "Looked.", "statement": object2(large,
		"remarks", "One more.")}, anyTag).want(201)
	one := string(encoded(item("specimen", "large", specimen("SR.0.z"))))
	return `{"items":[` + strings.TrimSuffix(strings.Repeat(one+",", most), ",") + `]}`
}
