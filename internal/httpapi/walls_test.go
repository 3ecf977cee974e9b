package httpapi_test

import (
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/google/uuid"
	"github.com/jackc/pgx/v5/pgxpool"

	"meniscus/api"
	"meniscus/internal/access"
	"meniscus/internal/deliver"
	"meniscus/internal/httpapi"
	"meniscus/internal/pgtest"
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
	w := world{person: s.create("/v1/people", object{"name": "Tomas Brandl"}).id()}
	made := s.create("/v1/specimens", specimen("LV.1987/0042"))
	w.specimen, w.tag = made.id(), made.header.Get("ETag")
	s.says("specimen", "900", specimen("LV.1987/0900"))
	w.twin, w.second = s.create("/v1/specimens", specimen("F-17")).id(), s.create("/v1/people", object{"name": "Vera Lindt"}).id()
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
func (s *service) scheduledReport() (schedule, run string) { s.t.Helper(); return s.reported(daily()) }

// reported makes a schedule of the test's own that was due once.
func (s *service) reported(statement object) (schedule, run string) {
	s.t.Helper()
	schedule = s.do(http.MethodPost, "/v1/report-schedules", statement, header{"Idempotency-Key", "a-schedule"}).want(201).id()
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
	return object{"name": "push", "person": object{"id": person}, "scopes": array{"read"}}
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
		"listPeople":    {path: "/v1/people"},
		"createPerson":  statementCall("/v1/people", object{"name": "Nadia Okeke"}),
		"readPerson":    {path: "/v1/people/" + w.person},
		"listSpecimens": {path: "/v1/specimens"},
		"createSpecimen": statementCall("/v1/specimens", object{"identifiers": array{object{"kind": "other",
			"value": "x"}}, "sampleOf": object{"specimen": object{"id": w.specimen}}}),
		"readSpecimen": {path: "/v1/specimens/" + w.specimen},
		"mergeSpecimen": {path: "/v1/specimens/" + w.twin + "/merge", body: object{"into": object{"id": w.specimen},
			"reason": "One bone."}, headers: match},
		"undoMerge": {path: "/v1/specimens/" + w.twin + "/merge/undoing", body: object{"reason": "Two bones."}, headers: match},
		"splitSpecimen": {path: "/v1/specimens/" + w.specimen + "/parts", headers: append(slices.Clone(once), match...),
			body: object{"date": object{"edtf": "2024"}, "reason": "Lifted.", "statement": specimen("LV.1987/0042.1")}},
		"erasePerson":              {path: "/v1/people/" + w.second + "/erasure", body: object{"reason": "Asked for."}, headers: match},
		"endSessions":              {path: "/v1/people/" + w.person + "/sessions"},
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
		"labelSpecimen":         {path: "/v1/specimens/" + w.specimen + "/label"},
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
		"printPaper":                 {path: "/v1/specimens/" + w.specimen + "/papers/treatment-record"},
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
		"reportTreatments":           {path: "/v1/reports/treatments"},
		"reportSuitability":          {path: "/v1/reports/suitability"},
		"listCollectionBodies":       {path: "/v1/collection-bodies"},
		"chooseCollectionBody": {path: "/v1/collection-bodies", body: object{"collection": "palaeontology",
			"bodyTraits": array{object{"trait": "fossil", "answer": "yes"}}}},
		"tuneCheckRule": {path: "/v1/check-rules/solvent-resin-on-damp-body/severity",
			body: object{"severity": "warn", "reason": "Tried on our own finds."}},
		"checkTreatment": {path: "/v1/treatment-checks", body: object{"treatment": treatedWith(w)}},
		"listPlans":      {path: "/v1/plans"},
		"amendRecords": {path: "/v1/amendments", body: object{"records": array{object{"id": w.specimen}}, "reason": "Misread.",
			"replace": object{"from": "dry", "to": "damp"}}},
		"listDue":                 {path: "/v1/due"},
		"readCheckpoint":          {path: "/v1/log/checkpoint", refused: 404},        // signed where the operator has a key
		"proveInLog":              {path: "/v1/log/proofs?sequence=1", refused: 404}, // of an entry that has its place
		"listLogKeys":             {path: "/v1/log/keys"},
		"readDueCalendar":         {path: "/v1/due.ics", refused: 403}, // of a key of its own
		"createPlan":              statementCall("/v1/plans", object{"treatment": treatedWith(w)}),
		"readPlan":                {path: "/v1/plans/" + w.plan},
		"listFindingsOfPlan":      {path: "/v1/plans/" + w.plan + "/findings"},
		"authorisePlan":           {path: "/v1/plans/" + w.plan + "/authorisation", body: object{"class": "single"}, headers: match},
		"stateMaterial":           {path: "/v1/materials/" + uuid.NewString(), body: object{"statement": beads()}},
		"findSourceRecord":        {path: sourcePath("specimen", "900")},
		"stateSourceRecord":       {path: sourcePath("specimen", "900"), body: object{"statement": specimen("LV.1987/0900")}},
		"stateSourceRecords":      {path: "/v1/source-records", body: sourcesSaid()},
		"readRecord":              {path: record},
		"readCompleteness":        {path: "/v1/records/" + w.treatment + "/completeness"},
		"reportIncompleteRecords": {path: "/v1/reports/incomplete-records"},
		"listRevisions":           {path: record + "/revisions"},
		"readRevision":            {path: record + "/revisions/1"},
		"amendRecord":             {path: record + "/amendments", body: object{"reason": "misread", "statement": specimen("LV.1987/0043")}, headers: match},
		"retractRecord":           {path: record + "/retraction", body: object{"reason": "twice"}, headers: match},
		"redactRecord":            {path: record + "/redaction", body: object{"reason": "asked for"}, headers: match},
		"listChanges":             {path: "/v1/changes"},
		"streamChanges":           {path: "/v1/changes/stream", headers: []header{{"Last-Event-ID", "AAAAAAAAAAEAAAAAAAAAAAAAAAAAAAAA"}}}, // ends with a reset
		"listWebhooks":            {path: "/v1/webhooks"},
		"createWebhook":           {path: "/v1/webhooks", body: hookTo("https://other.museum.example/"), headers: once},
		"readWebhook":             {path: "/v1/webhooks/" + w.hook},
		"suspendWebhook":          {path: "/v1/webhooks/" + w.hook + "/suspension"},
		"resumeWebhook":           {path: "/v1/webhooks/" + w.hook + "/resumption"},
		"rotateWebhookSecret":     {path: "/v1/webhooks/" + w.hook + "/secrets", body: object{}, headers: once},
		"listDeliveries":          {path: "/v1/webhooks/" + w.hook + "/deliveries"},
		"listRedeliveries":        {path: "/v1/webhooks/" + w.hook + "/redeliveries"},
		"redeliver":               {path: "/v1/webhooks/" + w.hook + "/redeliveries", body: object{"sequences": object{"from": 1, "to": 1}}, headers: once},
		"listReportSchedules":     {path: "/v1/report-schedules"},
		"createReportSchedule":    {path: "/v1/report-schedules", body: daily(), headers: once},
		"readReportSchedule":      {path: "/v1/report-schedules/" + w.schedule},
		"amendReportSchedule":     {path: "/v1/report-schedules/" + w.schedule, body: daily(), headers: match},
		"listReportRuns":          {path: "/v1/report-schedules/" + w.schedule + "/runs"},
		"readReportFile":          {path: "/v1/report-schedules/" + w.schedule + "/runs/" + w.run + "/file"},
		"endReportSchedule":       {path: "/v1/report-schedules/" + w.schedule + "/ending"},
		"deleteWebhook":           {path: "/v1/webhooks/" + w.hook},
		"readInstitution":         {path: "/v1/institution"},
		"listAccessKeys":          {path: "/v1/access-keys"},
		"createAccessKey":         {path: "/v1/access-keys", body: keyFor(w.person), headers: once},
		"rotateAccessKey":         {path: "/v1/access-keys/" + w.key + "/rotation", body: object{"endsAt": soon()}, headers: once},
		"listAccesses":            {path: "/v1/access-log"},
		"revokeAccessKey":         {path: "/v1/access-keys/" + w.key},
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

// needsKey tells an operation that no one may call without a key, and that a key opens.
func needsKey(requirements openapi3.SecurityRequirements) bool {
	byKey := func(r openapi3.SecurityRequirement) bool { return r["accessKey"] != nil }
	withoutKey := func(r openapi3.SecurityRequirement) bool { return len(r) == 0 }
	return slices.ContainsFunc(requirements, byKey) && !slices.ContainsFunc(requirements, withoutKey)
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

// kindScope is what recording a kind asks for; nothing else records it.
var kindScope = map[string]string{"person": "record", "specimen": "record", "treatment": "record", "plan": "record",
	"supply": "stock", "batch": "stock", "amount-change": "stock", "material": "stock"}

// A key opens what its scopes say and nothing else: every operation is tried with
// each scope alone, with what it declares but one, and with what it declares; then
// what it wrote is held against the scopes too.
func TestScopes(t *testing.T) {
	t.Parallel()
	s := newService(t)
	w := newWorld(s)
	calls := wallCalls(w)
	earnest := calls["sendCards"]
	earnest.path = "/v1/imports/" + s.beginImport("shoebox", false, plainMapping()) + "/cards"
	calls["sendCards"] = earnest
	received := calls["receiveSpecimen"]
	hill := s.neighbour("Museum on the Hill")
	skull, _, _ := authorisedPlan(hill)
	received.body, received.refused = string(hill.pack(skull)), 0
	calls["receiveSpecimen"] = received
	made := calls["createAccessKey"]
	made.body = object{"name": "push", "person": object{"id": w.person}, "scopes": array{"administer"}}
	calls["createAccessKey"] = made
	replaced := calls["rotateAccessKey"]
	replaced.path = "/v1/access-keys/" + s.makeKey(s.key, made.body.(object)).want(201).id() + "/rotation"
	calls["rotateAccessKey"] = replaced
	pool := pgtest.Pool(t, s.db.Super())
	keys := map[string]string{}
	keyOf := func(scopes []string) string {
		name := strings.Join(scopes, " ")
		if keys[name] == "" {
			keys[name] = s.keyOf(scopes...)
		}
		return keys[name]
	}
	for _, op := range privateOperations(t) {
		call := calls[op.id]
		try := func(key string) reply { return send(t, s.url, key, op.method, call.path, call.body, call.headers...) }
		if got := try(""); got.status != http.StatusUnauthorized {
			t.Errorf("%s: got %d without a key, want 401: %s", op.id, got.status, got.body)
		}
		needed := op.needs(t)
		for _, scopes := range tooFew(needed) {
			if got := try(keyOf(scopes)); got.status != http.StatusForbidden {
				t.Errorf("%s: got %d with the scopes %v, want 403: %s", op.id, got.status, scopes, got.body)
			}
		}
		before := s.written(pool)
		if got := try(keyOf(needed)); got.status >= 300 && got.status != call.refused {
			t.Errorf("%s: got %d with the scopes %v that it declares: %s", op.id, got.status, needed, got.body)
		}
		for what, n := range s.written(pool) {
			if n > before[what] && !slices.ContainsFunc(scopesOfWriting(op.id, what), func(scope string) bool { return slices.Contains(needed, scope) }) {
				t.Errorf("%s: wrote %s with the scopes %v", op.id, what, needed)
			}
		}
	}
}

// scopesOfWriting are the scopes of which one is needed to write a kind by an act.
func scopesOfWriting(op, what string) []string {
	kind, act, _ := strings.Cut(what, " ")
	switch {
	case act == "redacted", op == "restoreRecords":
		return []string{"administer"}
	case op == "authorisePlan" && kind == "plan" && act == "amended":
		return []string{"authorise"}
	}
	return []string{kindScope[kind]}
}

// A new name is a new person, and a key that may not record people records none
// by naming one; who is on record already may be named.
func TestANameRecordsNobodyWithoutTheScope(t *testing.T) {
	t.Parallel()
	s := newService(t)
	w := newWorld(s)
	stock, authorise := s.keyOf("stock"), s.keyOf("authorise")
	by := func(name string) array { return array{object{"person": object{"name": name}, "part": "carried-out"}} }
	try := func(key, name string) []reply {
		return []reply{
			send(t, s.url, key, http.MethodPost, "/v1/batches", object{"statement": object{"code": "B-9", "kind": "solution", "madeBy": by(name)}}, header{"Idempotency-Key", uuid.NewString()}),
			send(t, s.url, key, http.MethodPost, "/v1/amount-changes", object{"statement": with(changeOf(w.batch), "by", object{"name": name})}, header{"Idempotency-Key", uuid.NewString()}),
			send(t, s.url, key, http.MethodPost, "/v1/batches/"+w.batch+"/bottles", object{"by": object{"name": name},
				"bottles": array{object{"code": "b", "amount": object{"value": 1, "unit": "mL"}}}}, header{"Idempotency-Key", uuid.NewString()}),
		}
	}
	pointers := []string{"/statement/madeBy/0/person", "/statement/by", "/by"}
	for i, got := range try(stock, "Nobody Known") {
		got.want(403)
		if got.at("errors", 0, "code") != "scope-missing" || got.at("errors", 0, "pointer") != pointers[i] {
			t.Errorf("got %s, want the name at %s refused", got.body, pointers[i])
		}
	}
	for _, got := range try(stock, "Vera Lindt") {
		got.want(201)
	}
	for _, got := range try(s.keyOf("stock", "record"), "Somebody New") {
		got.want(201)
	}
	sign := func(name string) reply {
		return send(t, s.url, authorise, http.MethodPost, "/v1/plans/"+w.plan+"/authorisation", object{"class": "single", "by": object{"name": name}}, anyTag)
	}
	sign("Nobody Known").want(403)
	sign("Vera Lindt").want(201)
	if names := s.do(http.MethodGet, "/v1/people", nil).want(200); strings.Contains(string(names.body), "Nobody Known") {
		t.Errorf("got %s, want nobody recorded by a name", names.body)
	}
}

// written counts the institution's entries by kind and act.
func (s *service) written(pool *pgxpool.Pool) map[string]int {
	s.t.Helper()
	rows, err := pool.Query(s.t.Context(), `select kind || ' ' || act, count(*) from entry where institution_id = $1 group by 1`, s.inst)
	if err != nil {
		s.t.Fatal(err)
	}
	defer rows.Close()
	counts := map[string]int{}
	for rows.Next() {
		var what string
		var n int
		if err := rows.Scan(&what, &n); err != nil {
			s.t.Fatal(err)
		}
		counts[what] = n
	}
	return counts
}

// keyOf is a key of the service's own person with these scopes and no others,
// made without asking the service.
func (s *service) keyOf(scopes ...string) string {
	s.t.Helper()
	chosen := make([]access.Scope, len(scopes))
	for i, scope := range scopes {
		chosen[i] = access.Scope(scope)
	}
	who, err := s.store.For(s.inst).PersonNamed(s.t.Context(), "Ilse Varga")
	if err != nil {
		s.t.Fatal(err)
	}
	key, err := s.store.For(s.inst).NewKey(s.t.Context(), who, "narrow", chosen)
	if err != nil {
		s.t.Fatal(err)
	}
	return key.Text()
}

// needs is what the operation declares; those on any record need the scope of its
// kind, here a specimen's.
func (o privateOperation) needs(t *testing.T) []string {
	if needed := operationScopes(t, o.id); len(needed) > 0 {
		return needed
	}
	return []string{kindScope["specimen"]}
}

// tooFew are scopes that do not suffice: each alone that is not all that is
// needed, all others together, and what is needed without one.
func tooFew(needed []string) [][]string {
	var others []string
	var sets [][]string
	for _, scope := range access.Scopes() {
		if !slices.Equal(needed, []string{string(scope)}) {
			sets = append(sets, []string{string(scope)})
		}
		if !slices.Contains(needed, string(scope)) {
			others = append(others, string(scope))
		}
	}
	for i := range needed {
		sets = append(sets, slices.Concat(others, needed[:i], needed[i+1:]))
	}
	return sets
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
