package httpapi_test

import (
	"archive/zip"
	"bytes"
	"io"
	"maps"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/pdftext"
	"meniscus/internal/postgres"
)

// marks stand in the words of what is restricted, one for each kind of word; mark is in all of them.
const mark = "zzq"

// restrictedWorld is a world whose specimen is restricted, with marks in all that is on record of
// it, and a person, a batch and a material that nothing else names.
type restrictedWorld struct {
	world
	hidden []string // ids that only what is restricted names
	beside string   // a specimen that is not restricted, and was joined to it
}

func newRestrictedWorld(s *service) restrictedWorld {
	w := restrictedWorld{world: newWorld(s)}
	person := s.create("/v1/people", object{"name": "Zyta Quell"}).id()
	const resin = "ethyl-methacrylate-methyl-acrylate-copolymer"
	supply := s.create("/v1/supplies", object{"code": "S-77", "material": object{"id": resin}}).id()
	batch := s.create("/v1/batches", object{"code": "B-77", "kind": "solution", "inputs": array{
		object{"from": object{"supply": object{"id": supply}}, "part": "solute",
			"amount": object{"quantity": object{"value": 5, "unit": "g"}}},
		object{"from": object{"supply": object{"id": w.supply}}, "part": "solvent",
			"amount": object{"quantity": object{"value": 95, "unit": "g"}}}}}).id()
	w.hidden = []string{person, batch, resin}
	said := treatment(w.specimen, "consolidation", "2024-03-12")
	maps.Copy(said, object{
		"materials": array{object{"used": object{"batch": object{"id": batch}}, "role": "consolidant"},
			object{"used": object{"words": object{"verbatim": mark + "varnish", "certainty": "unknown"}}, "remark": mark + "used"}},
		"people": array{object{"person": object{"id": person}, "part": "carried-out"}}, "purpose": object{"text": mark + "purpose"},
		"remarks": "poisoned with arsenic, " + mark + "remarks", "nextCheck": object{"edtf": "2025-01-01"},
	})
	s.amends(w.treatment, said)
	plan := maps.Clone(said)
	delete(plan, "nextCheck")
	s.amends(w.plan, object{"treatment": plan, "reason": object{"text": mark + "reason"}})
	of := specimen("LV.1987/0042")
	maps.Copy(of, object{"description": mark + "description", "remarks": mark + "remarks",
		"hazards":         array{object{"hazard": "mercury", "status": "known", "how": mark + "how"}},
		"plannedSampling": array{object{"areas": object{"paths": array{"skull/left-orbit"}}, "analysis": "radiocarbon"}}})
	s.amends(w.specimen, of)
	w.beside = s.create("/v1/specimens", specimen("LV.1987/0043")).id()
	joint := treatment(w.specimen, "joining", "2024-04-12")
	maps.Copy(joint, object{"joinedTo": object{"id": w.beside}, "materials": said["materials"], "remarks": mark + "joint"})
	s.create("/v1/treatments", joint)
	s.create("/v1/treatments", treatment(w.beside, "cleaning", "2025-04-12"))
	s.seal()
	s.refresh()
	of["restricted"] = "A vow to its keepers, " + mark + "vow."
	s.amends(w.specimen, of)
	s.seal()
	s.refresh()
	return w
}

// amends states a record anew.
func (s *service) amends(id string, statement object) {
	s.t.Helper()
	body := object{"reason": "Looked at again, " + mark + "why.", "statement": statement}
	s.do(http.MethodPost, "/v1/records/"+id+"/amendments", body, header{"If-Match", "*"}).want(201)
}

// ofMany are operations whose answers here are of many records, what is restricted among them.
var ofMany = strings.Fields(`listSpecimens listTreatments listPlans listChanges listDue reportReversibleTreatments
	reportSuitability reportIncompleteRecords traceWhereUsedOfBatch traceWhereUsedOfSupply exportDarwinCore
	exportRecords listImportLines readBatchContents`)

// ofItsOwn are operations that tell what a specimen's own record says, and nothing of treatments.
var ofItsOwn = strings.Fields(`labelSpecimen listRevisions readRecord readRevision readSpecimen`)

// about tells whether a call's answer is about what is restricted.
func (w restrictedWorld) about(op privateOperation, c wallCall) bool {
	if slices.Contains(ofMany, op.id) {
		return true
	}
	body := string(encoded(c.body))
	return slices.ContainsFunc([]string{w.specimen, w.treatment, w.plan, w.beside, "LV.1987/0042"}, func(id string) bool {
		return strings.Contains(c.path, id) || strings.Contains(body, id)
	})
}

// asks are the ways in which an operation that reads is asked: in each of its media types, in full, and
// of what was believed.
func (w restrictedWorld) asks(t *testing.T, op privateOperation, call wallCall) []wallCall {
	t.Helper()
	of := inContract(t, op.id)
	all := []wallCall{call}
	with := func(query string) string {
		if strings.Contains(call.path, "?") {
			return call.path + "&" + query
		}
		return call.path + "?" + query
	}
	for mediaType := range of.Responses.Status(http.StatusOK).Value.Content {
		x := call
		x.headers = append(slices.Clone(call.headers), header{"Accept", mediaType})
		if op.id == "exportRecords" && mediaType == "text/csv" {
			for _, kind := range []string{"specimen", "treatment", "plan"} {
				x.path = with("kind=" + kind + "&revisions=all")
				all = append(all, x)
			}
			continue
		}
		all = append(all, x)
	}
	for _, p := range of.Parameters {
		x := call
		switch p.Value.Name {
		case "detail":
			x.path = with("detail=full")
		case "believedAt":
			x.path = with("believedAt=" + time.Now().UTC().Add(time.Minute).Format(time.RFC3339))
		case "kind":
			if op.id == "reportIncompleteRecords" {
				x.path = with("kind=specimen")
			}
		}
		if x.path != call.path {
			all = append(all, x)
		}
	}
	if op.id == "printPaper" {
		x := all
		for _, c := range x {
			for _, paper := range []string{"examination-report", "loan-sheet", "hand-over", "bench-sheet"} {
				c.path = strings.Replace(call.path, "treatment-record", paper, 1)
				all = append(all, c)
			}
		}
	}
	return all
}

// read is the text of an answer, of whatever kind it is.
func (r reply) read() string {
	r.t.Helper()
	switch r.header.Get("Content-Type") {
	case "application/pdf":
		return strings.Join(pdftext.Of(r.body), " ")
	case "application/zip":
		files, err := zip.NewReader(bytes.NewReader(r.body), int64(len(r.body)))
		if err != nil {
			r.t.Fatal(err)
		}
		var all strings.Builder
		for _, f := range files.File {
			in, err := f.Open()
			if err != nil {
				r.t.Fatal(err)
			}
			text, _ := io.ReadAll(in)
			all.Write(text)
		}
		return all.String()
	}
	return string(r.body)
}

// Whoever may not see restricted records is told of none what it says, whatever they ask; and whatever they
// ask about one says that something is withheld.
func TestRestrictedIsWithheld(t *testing.T) {
	t.Parallel()
	s := newService(t)
	w := newRestrictedWorld(s)
	narrow := s.keyOf("read", "record", "stock", "authorise", "report", "integrate", "export", "administer")
	seen := map[string]bool{}
	for _, op := range privateOperations(t) {
		call, asks := wallCalls(w.world)[op.id]
		if !asks || op.id == "deleteWebhook" || op.id == "revokeAccessKey" {
			continue
		}
		if op.method != http.MethodGet {
			w.holds(t, op, call, send(t, s.url, narrow, op.method, call.path, call.body, call.headers...))
			continue
		}
		for _, call := range w.asks(t, op, call) {
			if strings.Contains(s.do(op.method, call.path, nil, call.headers...).read(), mark) {
				seen[op.id] = true
			}
			w.holds(t, op, call, send(t, s.url, narrow, op.method, call.path, nil, call.headers...))
			beside := call
			if beside.path = strings.ReplaceAll(call.path, w.specimen, w.beside); beside.path != call.path {
				w.holds(t, op, beside, send(t, s.url, narrow, op.method, beside.path, nil, call.headers...))
			}
		}
	}
	if len(seen) < 25 {
		t.Errorf("with the scope, marks were seen in %d operations: %v", len(seen), slices.Sorted(maps.Keys(seen)))
	}
}

// holds holds an answer to what may be told.
func (w restrictedWorld) holds(t *testing.T, op privateOperation, call wallCall, told reply) {
	t.Helper()
	text := told.read()
	if at := strings.Index(text, mark); at >= 0 {
		t.Errorf("%s %s: a mark is in the answer: …%s…", op.id, call.path, text[max(0, at-150):min(len(text), at+50)])
	}
	if !w.about(op, call) || op.method != http.MethodGet && told.status == 201 { // a caller's own words
		return
	}
	for _, id := range w.hidden {
		if op.id != "listChanges" && strings.Contains(text, id) {
			t.Errorf("%s %s: the answer names %s: %.3000s", op.id, call.path, id, text)
		}
	}
	if strings.Contains(call.path, w.beside) && slices.Contains(ofItsOwn, op.id) {
		return
	}
	said := strings.ToLower(text)
	if told.status != http.StatusNotAcceptable && !strings.Contains(said, "withheld") && !strings.Contains(said, "restricted") {
		t.Errorf("%s %s %v: %d, and nothing says that something is withheld: %.900s", op.id, call.path, call.headers,
			told.status, text)
	}
}

// No filter tells what a restricted record says: it is among what a list gives whatever is asked.
func TestFiltersDoNotTellWhatIsWithheld(t *testing.T) {
	t.Parallel()
	s := newService(t)
	w := newRestrictedWorld(s)
	narrow := s.keyOf("read", "report")
	for _, query := range []string{
		"treatments?material=ethyl-methacrylate-methyl-acrylate-copolymer", "treatments?material=acetone", "treatments?material=ethanol",
		"treatments?person=" + w.hidden[0], "treatments?person=" + w.person, "treatments?batch=" + w.hidden[1],
		"treatments?area=skull/left-orbit", "treatments?area=tail", "treatments?action=consolidation", "treatments?action=filling",
		"treatments?from=2024-03-01&until=2024-03-31", "treatments?from=1950-01-01&until=1950-02-01", "treatments?notBefore=2026-01-01",
		"treatments?recordedSince=2026-01-01T00:00:00Z&material=ethanol", "treatments?material=ethanol&area=tail&person=" + w.person,
		"plans?action=filling", "plans?authorised=true", "plans?material=ethanol", "specimens?bodyKind=shell", "specimens?bodyKind=bone",
	} {
		list := send(t, s.url, narrow, http.MethodGet, "/v1/"+query, nil).want(200)
		want := map[byte]string{'t': w.treatment, 'p': w.plan, 's': w.specimen}[query[0]]
		found := false
		for _, item := range list.at("items").([]any) {
			found = found || item.(map[string]any)["id"] == want && item.(map[string]any)["withheld"] != nil
		}
		if !found {
			t.Errorf("%s: the withheld record is not there: %s", query, list.body)
		}
	}
	send(t, s.url, narrow, http.MethodGet, "/v1/batches?specimen="+w.specimen, nil).wantProblem(403, "record-restricted")
	send(t, s.url, narrow, http.MethodGet, "/v1/supplies?specimen="+w.specimen, nil).wantProblem(403, "record-restricted")
	stock := send(t, s.url, narrow, http.MethodGet, "/v1/batches?specimen="+w.beside, nil).want(200)
	if len(stock.at("items").([]any)) > 0 {
		t.Errorf("the stock of a joint is told: %s", stock.body)
	}
	if got := s.do(http.MethodGet, "/v1/treatments?material=ethanol", nil).want(200).at("items"); len(got.([]any)) != 0 {
		t.Errorf("with the scope, a filter gave %v, want none", got)
	}
}

// The hazards of what is withheld are told, and so is what blocks, without what they are known by.
func TestHazardsAndBlocksAreTold(t *testing.T) {
	t.Parallel()
	s := newService(t)
	w := newRestrictedWorld(s)
	narrow := s.keyOf("read", "record", "report")
	for _, path := range strings.Fields("present-state removal-plan suitability travel-temperature summary label timeline sheet") {
		text := send(t, s.url, narrow, http.MethodGet, "/v1/specimens/"+w.specimen+"/"+path, nil).want(200).read()
		for _, hazard := range []string{"mercury", "arsenic"} {
			if !strings.Contains(text, hazard) {
				t.Errorf("%s does not say %s: %.2000s", path, hazard, text)
			}
		}
	}
	blocks := func(r reply, in string) (rules []string) {
		for _, f := range r.at(in).([]any) {
			if f.(map[string]any)["severity"] == "block" {
				rules = append(rules, f.(map[string]any)["rule"].(string))
			}
		}
		return rules
	}
	proposed := treatment(w.specimen, "consolidation", "2026-04-12")
	proposed["materials"] = array{object{"used": object{"material": object{"id": "ethyl-methacrylate-methyl-acrylate-copolymer"}},
		"role": "consolidant"}}
	asked := object{"treatment": proposed}
	whole := s.do(http.MethodPost, "/v1/treatment-checks", asked).want(200)
	told := send(t, s.url, narrow, http.MethodPost, "/v1/treatment-checks", asked).want(200)
	got, want := blocks(told, "findings"), blocks(whole, "findings")
	if len(got) == 0 || !slices.Equal(got, want) || told.at("blocked") != true {
		t.Errorf("blocks %v of %s, want %v", got, told.body, want)
	}
	if text := string(told.body); strings.Contains(text, "radiocarbon") || strings.Contains(text, mark) {
		t.Errorf("what is withheld is told: %s", text)
	}
	for _, path := range []string{"/v1/treatments/" + w.treatment, "/v1/plans/" + w.plan} {
		want := blocks(s.do(http.MethodGet, path+"/findings", nil).want(200), "items")
		got := blocks(send(t, s.url, narrow, http.MethodGet, path+"/findings", nil).want(200), "items")
		if !slices.Equal(got, want) {
			t.Errorf("%s blocks %v, want %v", path, got, want)
		}
	}
}

// What is restricted is changed by no one who may not see it, and a treatment of it can be recorded by anyone who records.
func TestRestrictedIsNotChanged(t *testing.T) {
	t.Parallel()
	s := newService(t)
	w := newRestrictedWorld(s)
	narrow := s.keyOf("read", "record", "authorise", "administer", "integrate")
	match := header{"If-Match", "*"}
	for path, body := range map[string]any{
		"/v1/records/" + w.specimen + "/amendments":  object{"reason": "x", "statement": specimen("LV.1987/0042")},
		"/v1/records/" + w.treatment + "/amendments": object{"reason": "x", "statement": treatment(w.specimen, "cleaning", "2024")},
		"/v1/records/" + w.treatment + "/retraction": object{"reason": "x"},
		"/v1/records/" + w.treatment + "/redaction":  object{"reason": "x"},
		"/v1/plans/" + w.plan + "/authorisation":     object{"class": "single"},
		"/v1/specimens/" + w.specimen + "/merge":     object{"into": object{"id": w.twin}, "reason": "x"},
		"/v1/specimens/" + w.specimen + "/transfer":  object{"to": "Museum on the Hill", "date": object{"edtf": "2026"}, "reason": "x"},
		"/v1/amendments": object{"records": array{object{"id": w.treatment}}, "reason": "x", "replace": object{"from": mark, "to": "y"}},
	} {
		send(t, s.url, narrow, http.MethodPost, path, body, match).wantProblem(403, "record-restricted")
	}
	made := send(t, s.url, narrow, http.MethodPost, "/v1/treatments", object{"id": uuid.NewString(),
		"statement": treatment(w.specimen, "cleaning", "2026-02-03")}).want(201).id()
	got := send(t, s.url, narrow, http.MethodGet, "/v1/treatments/"+made, nil).want(200)
	if got.at("withheld", "specimen", "id") != w.specimen {
		t.Errorf("got %s, want it withheld", got.body)
	}
	before := s.do(http.MethodGet, "/v1/treatments/"+w.treatment, nil).want(200).header.Get("ETag")
	of := specimen("LV.1987/0042")
	s.amends(w.specimen, of)
	after := send(t, s.url, narrow, http.MethodGet, "/v1/treatments/"+w.treatment, nil).want(200)
	if after.header.Get("ETag") != before || !strings.Contains(string(after.body), mark) {
		t.Errorf("got %s, want the treatment as it is, since the restriction was lifted", after.body)
	}
}

// Whoever hears a webhook is told what a key without the scope is told.
func TestWebhooksTellNothingRestricted(t *testing.T) {
	t.Parallel()
	s := newService(t)
	newRestrictedWorld(s)
	store, err := postgres.OpenDeliverer(t.Context(), s.db.Worker())
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close()
	now := time.Now().Add(time.Minute)
	leases, err := store.Lease(t.Context(), now, now.Add(time.Minute), 10)
	if err != nil || len(leases) == 0 {
		t.Fatalf("got %v, %v, want a webhook that is due", leases, err)
	}
	rows, _, err := store.Next(t.Context(), leases[0], 1000)
	withheld := 0
	for _, row := range rows {
		if row.Withheld() {
			withheld++
		}
		if row.Body != nil && strings.Contains(*row.Body, mark) {
			t.Errorf("a webhook tells %s", *row.Body)
		}
	}
	if err != nil || withheld < 4 {
		t.Errorf("got %d withheld entries of %d, %v", withheld, len(rows), err)
	}
}

// inContract is an operation as the contract has it.
func inContract(t *testing.T, id string) *openapi3.Operation {
	t.Helper()
	doc, err := api.Document()
	if err != nil {
		t.Fatal(err)
	}
	for _, item := range doc.Paths.Map() {
		for _, op := range item.Operations() {
			if op.OperationID == id {
				return op
			}
		}
	}
	return nil
}

// No view says of what is withheld that nothing is on record, nor how much is left of a batch that it may have used.
func TestWhatIsWithheldIsNotSaidToBeAbsent(t *testing.T) {
	t.Parallel()
	s := newService(t)
	w := newWorld(s)
	s.create("/v1/amount-changes", with(changeOf(w.batch), "kind", "used"))
	of := s.do(http.MethodGet, "/v1/specimens/"+w.specimen, nil).want(200).at("statement").(object)
	s.amend(s.do(http.MethodGet, "/v1/records/"+w.specimen, nil).want(200), with(of, "restricted", "A vow."))
	reader := s.in(t)
	reader.key = s.do(http.MethodPost, "/v1/access-keys", object{"name": "reader", "person": object{"id": w.person},
		"scopes": array{"read"}}, header{"Idempotency-Key", "reader"}).want(201).at("secret").(string)
	text := header{"Accept", "text/plain"}
	for _, path := range []string{"/summary", "/present-state", "/suitability?analysis=radiocarbon", "/removal-plan",
		"/travel-temperature"} {
		said := unwrapped(reader.do(http.MethodGet, "/v1/specimens/"+w.specimen+path, nil, text).want(200))
		if !strings.Contains(said, "withheld here, because") {
			t.Errorf("%s does not say that something is withheld: %s", path, said)
		}
		for _, absent := range []string{"no conservation treatment recorded", "nothing is recorded", "Nothing is recorded",
			"No layer is recorded",
			"no treatment is recorded", "material that was not recorded", "Nothing on record could come off",
			"could come off, in this order"} {
			if strings.Contains(said, absent) {
				t.Errorf("%s says %q: %s", path, absent, said)
			}
		}
	}
	for _, paper := range []string{"loan-sheet", "hand-over", "treatment-record"} {
		page := string(reader.do(http.MethodGet, "/v1/specimens/"+w.specimen+"/papers/"+paper, nil,
			header{"Accept", "text/html"}).want(200).body)
		for _, absent := range []string{"None is on record", "no condition is on record", "</dt><dd>not recorded"} {
			if strings.Contains(page, absent) || !strings.Contains(page, "withheld here, because") {
				t.Errorf("%s says %q, or not that something is withheld: %s", paper, absent, page)
			}
		}
	}
	said := unwrapped(reader.do(http.MethodGet, "/v1/batches/"+w.batch+"/contents", nil, text).want(200))
	if strings.Contains(said, "Left:") {
		t.Errorf("got %s", said)
	}
}
