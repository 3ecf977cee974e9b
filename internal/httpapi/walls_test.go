package httpapi_test

import (
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/deliver"
	"meniscus/internal/httpapi"
	"meniscus/internal/postgres"
)

// world is one institution's records, one of each kind.
type world struct {
	person, specimen, supply, batch, change, treatment, plan, key, hook, imported string
	schedule, run                                                                 string
	tag                                                                           string // of the specimen
	twin, second                                                                  string // a specimen to merge, a person to erase
}

func newWorld(s *service) world {
	w := world{person: s.create("/v1/people", object{"displayName": "Tomas Brandl"}).id()}
	made := s.create("/v1/specimens", specimen("LV.1987/0042"))
	w.specimen, w.tag = made.id(), made.header.Get("ETag")
	w.twin, w.second = s.create("/v1/specimens", specimen("F-17")).id(), s.create("/v1/people", object{"displayName": "Vera Lindt"}).id()
	w.supply = s.create("/v1/supplies", object{"code": "S-1", "material": object{"id": "acetone"}}).id()
	w.batch = s.create("/v1/batches", object{"code": "B-1", "kind": "solution", "inputs": array{
		object{"from": object{"supply": object{"id": w.supply}}, "part": "solvent", "amount": object{"answer": "unknown"}}}}).id()
	w.change = s.create("/v1/amount-changes", changeOf(w.batch)).id()
	w.treatment = s.create("/v1/treatments", treatedWith(w)).id()
	w.plan = s.create("/v1/plans", object{"treatment": treatedWith(w)}).id()
	w.key = s.do(http.MethodPost, "/v1/access-keys", keyFor(w.person), header{"Idempotency-Key", "a-key"}).want(201).id()
	w.imported = s.beginImport("drawer", true, plainMapping())
	s.seal()
	w.hook = s.do(http.MethodPost, "/v1/webhooks", hookTo("https://catalogue.museum.example/"), header{"Idempotency-Key", "a-hook"}).want(201).id()
	w.schedule, w.run = s.scheduledReport()
	return w
}

// scheduledReport makes a schedule that was due once.
func (s *service) scheduledReport() (schedule, run string) {
	s.t.Helper()
	schedule = s.do(http.MethodPost, "/v1/report-schedules", daily(), header{"Idempotency-Key", "a-schedule"}).want(201).id()
	store, err := postgres.OpenDeliverer(s.t.Context(), s.db.Worker())
	if err != nil {
		s.t.Fatal(err)
	}
	defer store.Close()
	tomorrow := func() time.Time { return time.Now().AddDate(0, 0, 2) }
	write := mustServe(s.t, httpapi.Config{Store: s.store}).WriteReport
	if _, err := deliver.NewReporter(deliver.ReporterConfig{Store: store, Write: write, Now: tomorrow}).Round(s.t.Context()); err != nil {
		s.t.Fatal(err)
	}
	return schedule, s.do(http.MethodGet, "/v1/report-schedules/"+schedule+"/runs", nil).want(200).at("items", 0, "id").(string)
}

func daily() object {
	return object{"name": "all", "report": object{"reversibleTreatments": object{}}, "rule": "FREQ=DAILY", "starts": "2026-01-01T07:00"}
}

func changeOf(batch string) object {
	return object{"batch": object{"id": batch}, "kind": "discarded", "amount": object{"answer": "unknown"}}
}

func treatedWith(w world) object {
	t := treatment(w.specimen, "cleaning", "2024-03-12")
	t["materials"] = array{object{"used": object{"batch": object{"id": w.batch}}}}
	return t
}

func keyFor(person string) object {
	return object{"name": "push", "person": person, "scopes": array{"read"}}
}

// wallCall is an operation's call that succeeds for the institution whose world
// it is.
type wallCall struct {
	path    string
	body    any
	headers []header
	refused int // what everybody hears whose institution has a record
}

// statementCall creates with an id of the caller's own.
func statementCall(path string, statement object) wallCall {
	return wallCall{path: path, body: object{"id": uuid.NewString(), "statement": statement}}
}

// wallCalls has a call for every operation of the contract that needs a key. An
// operation that is missing here fails the test below: add its call.
func wallCalls(w world) map[string]wallCall {
	record := "/v1/records/" + w.specimen
	match := []header{{"If-Match", "*"}}
	once := []header{{"Idempotency-Key", uuid.NewString()}}
	return withCards(w, map[string]wallCall{
		"listPeople":     {path: "/v1/people"},
		"createPerson":   statementCall("/v1/people", object{"displayName": "Nadia Okeke"}),
		"readPerson":     {path: "/v1/people/" + w.person},
		"listSpecimens":  {path: "/v1/specimens"},
		"createSpecimen": statementCall("/v1/specimens", object{"identifiers": array{object{"kind": "other", "value": "x"}}, "sampleOf": object{"specimen": w.specimen}}),
		"readSpecimen":   {path: "/v1/specimens/" + w.specimen},
		"mergeSpecimen":  {path: "/v1/specimens/" + w.twin + "/merge", body: object{"into": w.specimen, "reason": "One bone."}, headers: match},
		"undoMerge":      {path: "/v1/specimens/" + w.twin + "/merge/undoing", body: object{"reason": "Two bones."}, headers: match},
		"splitSpecimen": {path: "/v1/specimens/" + w.specimen + "/parts", headers: append(slices.Clone(once), match...),
			body: object{"date": object{"edtf": "2024"}, "reason": "Lifted.", "statement": specimen("LV.1987/0042.1")}},
		"erasePerson":              {path: "/v1/people/" + w.second + "/erasure", body: object{"reason": "Asked for."}, headers: match},
		"listTreatmentsOfSpecimen": {path: "/v1/specimens/" + w.specimen + "/treatments"},
		"lookUpSpecimens":          {path: "/v1/specimen-lookup", body: object{"numbers": array{object{"number": "LV.1987/0042"}}}},
		"lookUpSpecimen":           {path: "/v1/specimen-lookup?number=LV.1987/0042"},
		"listSupplies":             {path: "/v1/supplies"},
		"createSupply":             statementCall("/v1/supplies", object{"code": "S-2", "material": object{"id": "acetone"}}),
		"readSupply":               {path: "/v1/supplies/" + w.supply},
		"traceWhereUsedOfSupply":   {path: "/v1/supplies/" + w.supply + "/where-used"},
		"listBatches":              {path: "/v1/batches"},
		"createBatch": statementCall("/v1/batches", object{"code": "B-2", "kind": "dilution", "inputs": array{
			object{"from": object{"batch": object{"id": w.batch}}, "part": "stock", "amount": object{"answer": "unknown"}}}}),
		"readBatch":             {path: "/v1/batches/" + w.batch},
		"fillBottles":           {path: "/v1/batches/" + w.batch + "/bottles", body: object{"bottles": array{object{"code": "b", "amount": object{"value": 1, "unit": "mL"}}}}, headers: once},
		"readBatchContents":     {path: "/v1/batches/" + w.batch + "/contents"},
		"labelBatch":            {path: "/v1/batches/" + w.batch + "/label"},
		"traceLineage":          {path: "/v1/batches/" + w.batch + "/lineage"},
		"traceWhereUsedOfBatch": {path: "/v1/batches/" + w.batch + "/where-used"},
		"listAmountChanges":     {path: "/v1/batches/" + w.batch + "/amount-changes"},
		"createAmountChange":    statementCall("/v1/amount-changes", changeOf(w.batch)),
		"readAmountChange":      {path: "/v1/amount-changes/" + w.change},
		"listTreatments":        {path: "/v1/treatments"},
		"createTreatment":       statementCall("/v1/treatments", treatedWith(w)),
		"createGroupTreatment": {path: "/v1/group-treatments", headers: once,
			body: object{"statement": treatedWith(w), "alsoOn": array{object{"specimen": object{"identifier": object{"kind": "other", "value": "y"}}}}}},
		"readTreatment":              {path: "/v1/treatments/" + w.treatment},
		"listFindingsOfTreatment":    {path: "/v1/treatments/" + w.treatment + "/findings"},
		"readSpecimenProvenance":     {path: "/v1/specimens/" + w.specimen + "/provenance"},
		"readTreatmentProvenance":    {path: "/v1/treatments/" + w.treatment + "/provenance"},
		"summarizeSpecimen":          {path: "/v1/specimens/" + w.specimen + "/summary"},
		"readSpecimenSheet":          {path: "/v1/specimens/" + w.specimen + "/sheet"},
		"exportDarwinCore":           {path: "/v1/exports/darwin-core"},
		"exportRecords":              {path: "/v1/exports/records"},
		"restoreRecords":             {path: "/v1/restorations", body: "{}", headers: []header{{"Content-Type", "application/x-ndjson"}}, refused: 409},
		"packSpecimen":               {path: "/v1/specimens/" + w.specimen + "/package"},
		"transferSpecimen":           {path: "/v1/specimens/" + w.specimen + "/transfer", body: object{"to": "Museum on the Hill", "date": object{"edtf": "2026"}, "reason": "Exchanged."}, headers: match},
		"receiveSpecimen":            {path: "/v1/specimen-receipts", body: "{}", headers: []header{{"Content-Type", "application/x-ndjson"}}, refused: 422},
		"readPresentState":           {path: "/v1/specimens/" + w.specimen + "/present-state"},
		"planRemoval":                {path: "/v1/specimens/" + w.specimen + "/removal-plan"},
		"assessSuitability":          {path: "/v1/specimens/" + w.specimen + "/suitability"},
		"readTravelTemperature":      {path: "/v1/specimens/" + w.specimen + "/travel-temperature"},
		"drawTimeline":               {path: "/v1/specimens/" + w.specimen + "/timeline"},
		"reportReversibleTreatments": {path: "/v1/reports/reversible-treatments"},
		"reportSuitability":          {path: "/v1/reports/suitability"},
		"tuneCheckRule":              {path: "/v1/check-rules/N1/severity", body: object{"severity": "warn", "reason": "Tried on our own finds."}},
		"checkTreatment":             {path: "/v1/treatment-checks", body: object{"treatment": treatedWith(w)}},
		"listPlans":                  {path: "/v1/plans"},
		"createPlan":                 statementCall("/v1/plans", object{"treatment": treatedWith(w)}),
		"readPlan":                   {path: "/v1/plans/" + w.plan},
		"listFindingsOfPlan":         {path: "/v1/plans/" + w.plan + "/findings"},
		"authorisePlan":              {path: "/v1/plans/" + w.plan + "/authorisation", body: object{"class": "single"}, headers: match},
		"stateMaterial":              {path: "/v1/materials/" + uuid.NewString(), body: object{"statement": beads()}},
		"readRecord":                 {path: record},
		"readCompleteness":           {path: "/v1/records/" + w.treatment + "/completeness"},
		"reportIncompleteRecords":    {path: "/v1/reports/incomplete-records"},
		"listRevisions":              {path: record + "/revisions"},
		"readRevision":               {path: record + "/revisions/1"},
		"amendRecord":                {path: record + "/amendments", body: object{"reason": "misread", "statement": specimen("LV.1987/0043")}, headers: match},
		"retractRecord":              {path: record + "/retraction", body: object{"reason": "twice"}, headers: match},
		"redactRecord":               {path: record + "/redaction", body: object{"reason": "asked for"}, headers: match},
		"listChanges":                {path: "/v1/changes"},
		"streamChanges":              {path: "/v1/changes/stream", headers: []header{{"Last-Event-ID", "AAAAAAAAAAEAAAAAAAAAAAAAAAAAAAAA"}}}, // ends with a reset
		"listWebhooks":               {path: "/v1/webhooks"},
		"createWebhook":              {path: "/v1/webhooks", body: hookTo("https://other.museum.example/"), headers: once},
		"readWebhook":                {path: "/v1/webhooks/" + w.hook},
		"suspendWebhook":             {path: "/v1/webhooks/" + w.hook + "/suspension"},
		"resumeWebhook":              {path: "/v1/webhooks/" + w.hook + "/resumption"},
		"rotateWebhookSecret":        {path: "/v1/webhooks/" + w.hook + "/secrets", body: object{}, headers: once},
		"listDeliveries":             {path: "/v1/webhooks/" + w.hook + "/deliveries"},
		"listRedeliveries":           {path: "/v1/webhooks/" + w.hook + "/redeliveries"},
		"redeliver":                  {path: "/v1/webhooks/" + w.hook + "/redeliveries", body: object{"places": object{"from": 1, "to": 1}}, headers: once},
		"listReportSchedules":        {path: "/v1/report-schedules"},
		"createReportSchedule":       {path: "/v1/report-schedules", body: daily(), headers: once},
		"readReportSchedule":         {path: "/v1/report-schedules/" + w.schedule},
		"amendReportSchedule":        {path: "/v1/report-schedules/" + w.schedule, body: daily(), headers: match},
		"listReportRuns":             {path: "/v1/report-schedules/" + w.schedule + "/runs"},
		"readReportFile":             {path: "/v1/report-schedules/" + w.schedule + "/runs/" + w.run + "/file"},
		"endReportSchedule":          {path: "/v1/report-schedules/" + w.schedule + "/ending"},
		"deleteWebhook":              {path: "/v1/webhooks/" + w.hook},
		"readInstitution":            {path: "/v1/institution"},
		"listAccessKeys":             {path: "/v1/access-keys"},
		"createAccessKey":            {path: "/v1/access-keys", body: keyFor(w.person), headers: once},
		"revokeAccessKey":            {path: "/v1/access-keys/" + w.key},
	})
}

// Nothing that one institution's key can send reads, guesses or touches
// another's records. The owner's identical call succeeds first, so that a wrong
// address cannot pass for a wall.
func TestWalls(t *testing.T) {
	t.Parallel()
	s := newService(t)
	w := newWorld(s)
	_, stranger := addInstitution(t, s.db, s.store, "Museum on the Hill")
	calls := wallCalls(w)
	for _, op := range privateOperations(t) {
		call, ok := calls[op.id]
		if !ok {
			t.Errorf("no call for the operation %s: add it to wallCalls", op.id)
			continue
		}
		mine := s.do(op.method, call.path, call.body, call.headers...)
		if mine.status >= 300 && mine.status != call.refused {
			t.Errorf("%s: the owner's call was answered %d: %s", op.id, mine.status, mine.body)
		}
		theirs := send(t, s.url, stranger, op.method, call.path, call.body, call.headers...)
		if namesRecord(call, w) && theirs.status < 400 {
			t.Errorf("%s: the stranger's call was answered %d: %s", op.id, theirs.status, theirs.body)
		}
		if leak := leaks(theirs.body, w, s.inst.String()); leak != "" && !strings.Contains(call.path, leak) {
			t.Errorf("%s: the stranger's answer has the owner's %s in it: %s", op.id, leak, theirs.body)
		}
	}
	if got := s.do(http.MethodGet, "/v1/specimens/"+w.specimen, nil).want(200).at("revision"); got != 5.0 {
		t.Errorf("got revision %v of the specimen, want 5: the owner's four changes and no others", got)
	}
}

type privateOperation struct{ id, method string }

// privateOperations are those that need a key, reads first, so that what is
// read has not been taken back yet.
func privateOperations(t *testing.T) []privateOperation {
	t.Helper()
	doc, err := api.Document()
	if err != nil {
		t.Fatal(err)
	}
	var ops []privateOperation
	for _, item := range doc.Paths.Map() {
		for method, op := range item.Operations() {
			if op.Security == nil || needsKey(*op.Security) {
				ops = append(ops, privateOperation{op.OperationID, method})
			}
		}
	}
	order := func(o privateOperation) string {
		rank := map[string]string{"GET": "1", "POST": "2", "PUT": "3", "DELETE": "4"}[o.method]
		if o.id == "redactRecord" || o.id == "endReportSchedule" {
			rank = "5"
		}
		if o.id == "transferSpecimen" {
			rank = "1z" // while the specimen stands
		}
		return rank + o.id
	}
	slices.SortFunc(ops, func(a, b privateOperation) int { return strings.Compare(order(a), order(b)) })
	return ops
}

// needsKey tells an operation that no one may call without a key.
func needsKey(requirements openapi3.SecurityRequirements) bool {
	return len(requirements) > 0 && !slices.ContainsFunc(requirements, func(r openapi3.SecurityRequirement) bool { return len(r) == 0 })
}

func namesRecord(c wallCall, w world) bool {
	body := string(encoded(c.body))
	return slices.ContainsFunc(w.ids(), func(id string) bool { return strings.Contains(c.path, id) || strings.Contains(body, id) })
}

func (w world) ids() []string {
	return []string{w.person, w.specimen, w.supply, w.batch, w.change, w.treatment, w.plan, w.key, w.hook, w.twin, w.second, w.schedule, w.run}
}

func leaks(body []byte, w world, institution string) string {
	for _, id := range append(w.ids(), institution, "Tomas Brandl", "LV.1987/0042\",\"coll") {
		if strings.Contains(string(body), id) {
			return id
		}
	}
	return ""
}

// A key opens what its scopes say and nothing else, for every operation.
func TestScopes(t *testing.T) {
	t.Parallel()
	s := newService(t)
	w := newWorld(s)
	none := s.do(http.MethodPost, "/v1/access-keys", object{"name": "authorise alone", "person": w.person, "scopes": array{"authorise"}}, header{"Idempotency-Key", "narrow"}).want(201).at("secret").(string)
	calls := wallCalls(w)
	for _, op := range privateOperations(t) {
		call := calls[op.id]
		got := send(t, s.url, none, op.method, call.path, call.body, call.headers...)
		if op.scoped(t) && got.status != http.StatusForbidden {
			t.Errorf("%s: got %d with a key that lacks the scope, want 403: %s", op.id, got.status, got.body)
		}
		if got := send(t, s.url, "", op.method, call.path, call.body, call.headers...); got.status != http.StatusUnauthorized {
			t.Errorf("%s: got %d without a key, want 401: %s", op.id, got.status, got.body)
		}
	}
}

// scoped tells whether the operation needs anything beyond a key and the scope
// authorise; those that any key may call are named here.
func (o privateOperation) scoped(t *testing.T) bool {
	t.Helper()
	return !slices.Contains(operationScopes(t, o.id), "authorise")
}

func operationScopes(t *testing.T, id string) []string {
	t.Helper()
	doc, err := api.Document()
	if err != nil {
		t.Fatal(err)
	}
	for _, item := range doc.Paths.Map() {
		for _, op := range item.Operations() {
			if op.OperationID == id {
				return scopesIn(op)
			}
		}
	}
	return nil
}

func scopesIn(op *openapi3.Operation) []string {
	var scopes []string
	if op.Security != nil {
		for _, requirement := range *op.Security {
			scopes = append(scopes, requirement["accessKey"]...)
		}
	}
	return scopes
}

// A revoked or expired key opens nothing.
func TestRevokedKey(t *testing.T) {
	t.Parallel()
	s := newService(t)
	w := newWorld(s)
	made := s.do(http.MethodPost, "/v1/access-keys", keyFor(w.person), header{"Idempotency-Key", "short-lived"}).want(201)
	secret := made.at("secret").(string)
	send(t, s.url, secret, http.MethodGet, "/v1/institution", nil).want(200)
	s.do(http.MethodDelete, "/v1/access-keys/"+made.id(), nil).want(200)
	send(t, s.url, secret, http.MethodGet, "/v1/institution", nil).wantProblem(401, "access-key-unknown")
	s.do(http.MethodPost, "/v1/access-keys", keyFor(w.person), header{"Idempotency-Key", "short-lived"}).wantProblem(409, "secret-shown-once")
}
