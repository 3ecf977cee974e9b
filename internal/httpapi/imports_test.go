package httpapi_test

import (
	"errors"
	"fmt"
	"io"
	"maps"
	"net/http"
	"os"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"meniscus/internal/httpapi"
	"meniscus/internal/pgtest"
)

// plainMapping is for tables with the headings Card, Number and Date.
func plainMapping() object {
	return object{"format": "csv", "columns": array{
		object{"name": "Card", "field": "card-id"}, object{"name": "Number", "field": "number"}, object{"name": "Date", "field": "date"},
	}, "constants": array{object{"field": "action", "value": "cleaning"}, object{"field": "person", "value": "Jonas Feld"}}}
}

func (s *service) beginImport(name string, dryRun bool, mapping object) string {
	s.t.Helper()
	return s.do(http.MethodPost, "/v1/imports", object{"name": name, "dryRun": dryRun, "mapping": mapping}, header{"Idempotency-Key", uuid.NewString()}).want(201).id()
}

// sendCards sends a table to an import.
func (s *service) sendCards(id string, body io.Reader) (reply, error) {
	s.t.Helper()
	r, err := http.NewRequestWithContext(s.t.Context(), http.MethodPut, s.url+"/v1/imports/"+id+"/cards", body)
	if err != nil {
		s.t.Fatal(err)
	}
	r.Header.Set("Content-Type", "text/csv")
	r.Header.Set("Authorization", "Bearer "+s.key)
	response, err := http.DefaultClient.Do(r)
	if err != nil {
		return reply{}, err
	}
	defer response.Body.Close()
	read, err := io.ReadAll(response.Body)
	return reply{t: s.t, status: response.StatusCode, header: response.Header, body: read}, err
}

func (s *service) cards(id, table string) reply {
	s.t.Helper()
	r, err := s.sendCards(id, strings.NewReader(table))
	if err != nil {
		s.t.Fatal(err)
	}
	return r
}

func lines(r reply) string {
	return fmt.Sprint(r.at("lines", "read"), " read, ", r.at("lines", "taken"), " taken, ", r.at("lines", "replayed"), " replayed, ",
		r.at("lines", "doubtful"), " doubtful, ", r.at("lines", "refused"), " refused")
}

func demoFile(t *testing.T, name string) string {
	t.Helper()
	b, err := os.ReadFile("../../testdata/demo/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// The shoebox goes in dry first, then in earnest, and comes out as a history:
// nothing lost, nothing invented, and every bad line with its reasons.
func TestShoebox(t *testing.T) {
	t.Parallel()
	s := newService(t)
	table := demoFile(t, "shoebox.csv")
	request := func(dryRun string) string {
		return strings.Replace(demoFile(t, "shoebox-mapping.json"), `"dryRun": true`, `"dryRun": `+dryRun, 1)
	}
	begin := func(dryRun string) string {
		return s.do(http.MethodPost, "/v1/imports", request(dryRun), header{"Idempotency-Key", "shoebox-" + dryRun}).want(201).id()
	}
	dry := s.cards(begin("true"), table).want(200)
	if got := lines(dry); got != "14 read, 9 taken, 0 replayed, 5 doubtful, 5 refused" || dry.at("state") != "done" {
		t.Errorf("dry run: got %s: %s", got, dry.body)
	}
	if got := s.do(http.MethodGet, "/v1/treatments?state=any", nil).want(200).ids(); len(got) != 0 {
		t.Fatalf("the dry run recorded %d treatments", len(got))
	}

	earnest := begin("false")
	if got := lines(s.cards(earnest, table).want(200)); got != "14 read, 9 taken, 0 replayed, 5 doubtful, 5 refused" {
		t.Errorf("got %s", got)
	}
	if got := s.do(http.MethodGet, "/v1/treatments", nil).want(200).ids(); len(got) != 9 {
		t.Errorf("got %d treatments, want 9", len(got))
	}
	var told []string
	for _, item := range s.do(http.MethodGet, "/v1/imports/"+earnest+"/lines", nil).want(200).at("items").([]any) {
		line := item.(object)
		about := fmt.Sprint(line["line"], " ", line["outcome"])
		for _, list := range []string{"reasons", "doubts"} {
			for _, reason := range line[list].([]any) {
				about += fmt.Sprint(" ", reason.(object)["code"])
			}
		}
		told = append(told, about)
		if (line["outcome"] == "doubtful") != (line["treatment"] != nil) || line["raw"] == "" {
			t.Errorf("line %v: got %v", line["line"], line)
		}
	}
	if diff := cmp.Diff(told, []string{"4 doubtful material-ambiguous number-spelled-two-ways", "6 refused date-unreadable material-ambiguous",
		"7 doubtful material-ambiguous", "8 doubtful material-unknown", "9 doubtful material-unknown", "10 refused cell-formula",
		"11 refused number-missing material-unknown", "14 refused line-unreadable", "15 doubtful material-unknown", "16 refused date-unreadable material-ambiguous"}); diff != "" {
		t.Errorf("lines (-got +want):\n%s", diff)
	}
	skull := s.do(http.MethodGet, "/v1/specimen-lookup?number=LV.1931/0007&collection=palaeontology", nil).want(200)
	if skull.at("answer") != "recorded" || skull.at("specimens", 0, "treatments") != 2.0 {
		t.Errorf("got %s, want two treatments on the skull", skull.body)
	}
	card := s.do(http.MethodGet, "/v1/specimens/"+skull.at("specimens", 0, "specimen", "id").(string)+"/treatments", nil).want(200)
	if card.at("items", 0, "statement", "oldCard", "verbatim") == nil || card.at("items", 0, "source", "system") != "shoebox of the north store" {
		t.Errorf("got %s, want the card word for word and its source", card.body)
	}

	// Once more, with the lines mended: what was recorded is replayed.
	mended := strings.Replace(strings.Replace(table, "31.2.1961", "28.2.1961", 1), `"brown stuff,,,1971`, `brown stuff,,,1971`, 1)
	again := s.do(http.MethodPost, "/v1/imports", request("false"), header{"Idempotency-Key", "shoebox-again"}).want(201).id()
	if got := lines(s.cards(again, mended).want(200)); got != "14 read, 2 taken, 9 replayed, 7 doubtful, 3 refused" {
		t.Errorf("with lines mended: got %s", got)
	}
}

// cutWhen is a wire that is cut as soon as something is so.
type cutWhen func() bool

func (so cutWhen) Read([]byte) (int, error) {
	for !so() {
	}
	return 0, errors.New("the wire was cut")
}

// A file that breaks off is gone on with where it stopped, and every card is
// recorded once.
func TestAnImportIsResumed(t *testing.T) {
	t.Parallel()
	s := newService(t)
	var table strings.Builder
	table.WriteString("Card,Number,Date\n")
	for i := range 1400 {
		fmt.Fprintf(&table, "%d,LV.%d,%d\n", i, i%300, 1500+i/300)
	}
	id := s.beginImport("drawer 1", false, plainMapping())
	position := func() float64 { return s.do(http.MethodGet, "/v1/imports/"+id, nil).want(200).at("position").(float64) }
	half := io.MultiReader(strings.NewReader(table.String()[:table.Len()*6/10]), cutWhen(func() bool { return position() >= 500 }))
	if r, err := s.sendCards(id, half); err == nil && r.status < 400 {
		t.Fatalf("half a file was answered %d", r.status)
	}
	var stopped reply
	for state := any(""); state != "stopped"; state = stopped.at("state") { // until the service has heard of the cut
		stopped = s.do(http.MethodGet, "/v1/imports/"+id, nil).want(200)
	}
	if done := stopped.at("position").(float64); stopped.at("state") != "stopped" || done < 500 || done > 900 {
		t.Fatalf("got %s, want it stopped after a chunk or two", stopped.body)
	}
	other := strings.Replace(table.String(), "LV.7,", "LV.77,", 1)
	s.cards(id, other).wantProblem(409, "another-file")
	s.cards(id, "Card,Number,Date\n1,LV.1,1901\n").wantProblem(409, "another-file")
	whole := s.cards(id, table.String()).want(200)
	if got := lines(whole); got != "1400 read, 1400 taken, 0 replayed, 0 doubtful, 0 refused" || whole.at("finishedAt") == nil {
		t.Errorf("got %s: %s", got, whole.body)
	}
	if got := lines(s.cards(id, table.String()).want(200)); got != "1400 read, 1400 taken, 0 replayed, 0 doubtful, 0 refused" {
		t.Errorf("sent again: got %s", got)
	}
	if got := lines(s.cards(s.beginImport("drawer 1", false, plainMapping()), table.String()).want(200)); got != "1400 read, 0 taken, 1400 replayed, 0 doubtful, 0 refused" {
		t.Errorf("imported again: got %s", got)
	}
	if n := len(s.do(http.MethodGet, "/v1/people?limit=500", nil).want(200).ids()); n != 2 {
		t.Errorf("got %d people, want the founder and the one of the cards", n)
	}
	if n := len(s.do(http.MethodGet, "/v1/specimens?limit=500", nil).want(200).ids()); n != 300 {
		t.Errorf("got %d specimens, want 300", n)
	}
}

func TestCardsThatDifferOrAreDoubled(t *testing.T) {
	t.Parallel()
	s := newService(t)
	s.create("/v1/specimens", specimen("LV.9"))
	send := func(table string) reply {
		return s.cards(s.beginImport("drawer 2", false, plainMapping()), "Card,Number,Date\n"+table).want(200)
	}
	if got := lines(send("a,LV.1,1950\na,LV.1,1950\na,LV.1,1951\n,LV.2,1950\n,LV.2,1950\nb,lv 9,1950\n")); got != "6 read, 3 taken, 2 replayed, 2 doubtful, 1 refused" {
		t.Errorf("got %s", got)
	}
	if got := lines(send("a,LV.1,1952\n,LV.2,1950\n")); got != "2 read, 0 taken, 1 replayed, 0 doubtful, 1 refused" {
		t.Errorf("recorded before: got %s", got)
	}
}

// A card whose dates contradict each other, or that says what is on record already, is taken
// with a doubt, in a trial too.
func TestCardsThatAreOddAreMarked(t *testing.T) {
	t.Parallel()
	s := newService(t)
	mapping := object{"format": "csv", "columns": array{
		object{"name": "Card", "field": "card-id"}, object{"name": "Number", "field": "number"}, object{"name": "Date", "field": "date"},
	}, "constants": array{object{"field": "action", "value": "cleaning"}}}
	send := func(name string, dryRun bool, table string) (string, string) {
		id := s.beginImport(name, dryRun, mapping)
		answer := lines(s.cards(id, "Card,Number,Date\n"+table).want(200))
		codes := ""
		for _, item := range s.do(http.MethodGet, "/v1/imports/"+id+"/lines", nil).want(200).at("items").([]any) {
			for _, doubt := range item.(object)["doubts"].([]any) {
				codes += fmt.Sprint(doubt.(object)["code"], " ")
			}
		}
		return answer, codes
	}
	const table = "1,LV.1,1950\n2,LV.1,1950\n3,LV.1,2199\n"
	for _, dryRun := range []bool{true, false} {
		if got, codes := send("drawer 7", dryRun, table); got != "3 read, 3 taken, 0 replayed, 2 doubtful, 0 refused" ||
			codes != "treatment-said-twice date-in-future " {
			t.Errorf("dry run %t: got %s with %q", dryRun, got, codes)
		}
	}
	if got, codes := send("another drawer", false, "9,LV.1,1950\n"); got != "1 read, 1 taken, 0 replayed, 1 doubtful, 0 refused" ||
		codes != "treatment-said-twice " {
		t.Errorf("what is on record: got %s with %q", got, codes)
	}
}

// A card that names what cannot be told is refused, and registers nobody.
func TestARefusedCardLeavesNothing(t *testing.T) {
	t.Parallel()
	s := newService(t)
	for range 2 {
		s.create("/v1/people", object{"name": "H. Lindner"})
	}
	mapping := plainMapping()
	mapping["columns"] = append(mapping["columns"].(array), object{"name": "By", "field": "person"})
	id := s.beginImport("drawer 3", false, mapping)
	if got := lines(s.cards(id, "Card,Number,Date,By\n1,LV.1,1950,H. Lindner\n2,LV.2,1950,M. Oser\n").want(200)); got != "2 read, 1 taken, 0 replayed, 0 doubtful, 1 refused" {
		t.Errorf("got %s", got)
	}
	refused := s.do(http.MethodGet, "/v1/imports/"+id+"/lines?outcome=refused", nil).want(200)
	if refused.at("items", 0, "reasons", 0, "code") != "person-ambiguous" || refused.at("items", 0, "reasons", 0, "pointer") != "/people/0/person/name" {
		t.Errorf("got %s", refused.body)
	}
	if got := s.do(http.MethodGet, "/v1/specimen-lookup?number=LV.1", nil).want(200).at("answer"); got != "not-known-here" {
		t.Errorf("the refused card's specimen: got %v, want not-known-here", got)
	}
}

func TestImportFaults(t *testing.T) {
	t.Parallel()
	s := newService(t)
	id := s.beginImport("drawer 4", true, plainMapping())
	s.cards(id, "Card,Nummer,Date\n1,LV.1,1950\n").wantProblem(422, "validation")
	s.cards(id, "").wantProblem(422, "table-empty")
	if got := s.do(http.MethodGet, "/v1/imports/"+id, nil).want(200).at("state"); got != "waiting" {
		t.Errorf("after tables that do not fit: got %v, want waiting", got)
	}
	s.do(http.MethodPut, "/v1/imports/"+id+"/cards", `{}`).want(415)
	s.do(http.MethodPut, "/v1/imports/"+id+"/cards", `{}`, header{"Content-Type", "application/x-ndjson"}).want(415)
	s.cards(uuid.NewString(), "Card\n").wantProblem(404, "import-unknown")
	bad := plainMapping()
	bad["columns"] = array{object{"name": "Card", "field": "card-id"}, object{"name": "B", "field": "card-id"}}
	bad["materials"] = array{object{"words": "x", "material": "no-such-material"}}
	got := s.do(http.MethodPost, "/v1/imports", object{"name": "x", "dryRun": true, "mapping": bad}, header{"Idempotency-Key", "bad"}).want(422)
	var codes []string
	for i := range got.at("errors").([]any) {
		codes = append(codes, got.at("errors", i, "code").(string))
	}
	slices.Sort(codes)
	if diff := cmp.Diff(codes, []string{"field-twice", "material-unknown", "number-column-missing"}); diff != "" {
		t.Errorf("(-got +want):\n%s\n%s", diff, got.body)
	}
	s.do(http.MethodPost, "/v1/imports", object{"name": "x", "dryRun": true, "mapping": plainMapping()}).wantProblem(400, "idempotency-key-missing")
	first := s.do(http.MethodPost, "/v1/imports", object{"name": "x", "dryRun": true, "mapping": plainMapping()}, header{"Idempotency-Key", "one"}).want(201)
	again := s.do(http.MethodPost, "/v1/imports", object{"name": "x", "dryRun": true, "mapping": plainMapping()}, header{"Idempotency-Key", "one"}).want(201)
	if first.id() != again.id() || again.header.Get("Idempotency-Replayed") != "true" {
		t.Errorf("got %s and %s, want one import", first.body, again.body)
	}
	if n := len(s.do(http.MethodGet, "/v1/imports?limit=1", nil).want(200).ids()); n != 1 {
		t.Errorf("got %d imports on a page of one", n)
	}
}

// While one sender sends, to this process or to another, a second is told so.
func TestOneSenderAtATime(t *testing.T) {
	t.Parallel()
	s := newService(t)
	id := s.beginImport("drawer 5", false, plainMapping())
	if _, err := s.store.For(s.inst).LeaseImport(t.Context(), uuid.MustParse(id), time.Hour); err != nil {
		t.Fatal(err)
	}
	s.cards(id, "Card,Number,Date\n1,LV.1,1950\n").wantProblem(409, "import-at-work")
}

// A second sender to this process is told so without waiting for a turn.
func TestASecondSenderIsToldAtOnce(t *testing.T) {
	t.Parallel()
	s := newService(t)
	h := mustServe(t, httpapi.Config{Store: s.store, PublicURL: "https://meniscus.example"})
	s.url = listen(t, h).URL
	id := s.beginImport("drawer 5", false, plainMapping())
	out, in := io.Pipe()
	var first sync.WaitGroup
	defer first.Wait()
	defer in.Close()
	first.Go(func() { _, _ = s.sendCards(id, io.MultiReader(strings.NewReader("Card,Number,Date\n"), out)) })
	for state := any(""); state != "running"; {
		state = s.do(http.MethodGet, "/v1/imports/"+id, nil).want(200).at("state")
	}
	defer h.TakeTurns(s.inst.String(), "import")()
	s.cards(id, "Card,Number,Date\n1,LV.1,1950\n").wantProblem(409, "import-at-work")
}

// Of two senders that both come before the first has begun, the second is told so while the
// first still waits for its turn; then the first goes on.
func TestOfTwoSendersThatWaitTheSecondIsTold(t *testing.T) {
	t.Parallel()
	s := newService(t)
	h := mustServe(t, httpapi.Config{Store: s.store, PublicURL: "https://meniscus.example"})
	s.url = listen(t, h).URL
	id := s.beginImport("drawer 5", false, plainMapping())
	const table = "Card,Number,Date\n1,LV.1,1950\n"
	giveBack := h.TakeTurns(s.inst.String(), "import")
	var first reply
	var sending sync.WaitGroup
	sending.Go(func() { first, _ = s.sendCards(id, strings.NewReader(table)) })
	for h.Waiting(s.inst.String()) == 0 {
		runtime.Gosched()
	}
	s.cards(id, table).wantProblem(409, "import-at-work")
	if h.Waiting(s.inst.String()) != 1 {
		t.Error("the first did not wait any more when the second was told")
	}
	giveBack()
	sending.Wait()
	if first.status != http.StatusOK || lines(first) != "1 read, 1 taken, 0 replayed, 0 doubtful, 0 refused" {
		t.Errorf("got %d, %s", first.status, first.body)
	}
	s.cards(id, table).want(http.StatusOK) // when the first has gone
}

// withCards adds the calls of imports and exports to those of the other
// operations.
func withCards(w world, calls map[string]wallCall) map[string]wallCall {
	imported := "/v1/imports/" + w.imported
	maps.Copy(calls, map[string]wallCall{
		"listImports":     {path: "/v1/imports"},
		"createImport":    {path: "/v1/imports", body: object{"name": "drawer", "dryRun": true, "mapping": plainMapping()}, headers: []header{{"Idempotency-Key", uuid.NewString()}}},
		"readImport":      {path: imported},
		"sendCards":       {path: imported + "/cards", body: "Card,Number,Date\n1,LV.1,1950\n", headers: []header{{"Content-Type", "text/csv"}}},
		"listImportLines": {path: imported + "/lines"},
	})
	return calls
}

// However large the cards are that need a person's eye, each is met once in pages of so
// many bytes.
func TestLargeImportLinesHavePages(t *testing.T) {
	t.Parallel()
	s := newService(t)
	id := s.beginImport("cards", true, plainMapping())
	if _, err := pgtest.Pool(t, s.db.Super()).Exec(t.Context(), `
		insert into import_line (institution_id, import_id, line, outcome, raw, reasons, doubts)
		select $1, $2, n, 'refused', repeat('long words ', 20000), '[]', '[]' from generate_series(1, 60) n`, s.inst, id); err != nil {
		t.Fatal(err)
	}
	var met []string
	for path := "/v1/imports/" + id + "/lines?limit=500"; path != ""; {
		page := s.do(http.MethodGet, path, nil).want(http.StatusOK)
		if len(page.body) > 5<<20 {
			t.Errorf("got a page of %d bytes, want 5 MB at most", len(page.body))
		}
		for _, line := range page.at("items").(array) {
			met = append(met, fmt.Sprint(line.(object)["line"]))
		}
		path = ""
		if next, more := page.at("next").(object); more {
			path = strings.TrimPrefix(next["href"].(string), "https://meniscus.example")
		}
	}
	if len(met) != 60 || len(slices.Compact(slices.Sorted(slices.Values(met)))) != 60 {
		t.Errorf("got %v, want each of 60 lines once", met)
	}
}
