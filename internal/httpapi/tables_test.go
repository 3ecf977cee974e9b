package httpapi_test

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"io"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/sheet"
)

// hostile are texts that a spreadsheet would take for something to run, each as
// the contract lets it stand in one line.
var hostile = []string{"=1+1|x", "+1+1|x", "-1+1|x", "@SUM(1)|x", "＝1|x", "＋1|x", "－1|x", "＠x|x", " =1+1|x", "\u00a0=1|x", "\u200e=1|x", `"=1+1|x`, `" +1|x`, "'=1+1|x", "﹢1|x"}

// tableTypes are the media types of tables, and of archives of tables.
var tableTypes = []string{"text/csv", "application/zip"}

// Every operation that gives a table guards every cell of it, in one way that can
// be taken back, whatever names are on record.
func TestNoTableRunsInASpreadsheet(t *testing.T) {
	t.Parallel()
	s := newService(t)
	s.recordHostile()
	s.refresh()
	schedule, run := s.reported(with(daily(), "format", "csv"))
	paths := map[string][]string{
		"exportRecords":              {},
		"exportDarwinCore":           {"/v1/exports/darwin-core", "/v1/exports/darwin-core?coreId=catalogue-number", "/v1/exports/darwin-core?coreId=source"},
		"reportReversibleTreatments": {"/v1/reports/reversible-treatments"},
		"reportTreatments":           {"/v1/reports/treatments"},
		"reportIncompleteRecords":    {"/v1/reports/incomplete-records", "/v1/reports/incomplete-records?kind=supply"},
		"reportSuitability":          {"/v1/reports/suitability"},
		"listDue":                    {"/v1/due"},
		"readReportFile":             {"/v1/report-schedules/" + schedule + "/runs/" + run + "/file"},
	}
	for kind := range kindScope {
		paths["exportRecords"] = append(paths["exportRecords"], "/v1/exports/records?kind="+kind, "/v1/exports/records?revisions=all&kind="+kind)
	}
	for id, mediaType := range tableOperations(t) {
		if len(paths[id]) == 0 {
			t.Errorf("no path for %s, which gives %s: add it", id, mediaType)
		}
		for _, path := range paths[id] {
			cells := cellsOf(t, s.as(mediaType, path).want(http.StatusOK))
			for _, cell := range cells {
				if runs(cell) {
					t.Errorf("%s: a spreadsheet would run the cell %q", path, cell)
				}
			}
			if told := hostileAmong(cells); len(told) == 0 && !strings.Contains(path, "kind=") {
				t.Errorf("%s: none of the hostile names is in it; nothing was tried", path)
			}
		}
	}
}

// What a Darwin Core archive guards comes back as it was recorded, by taking one
// apostrophe away, and numbers are as they were.
func TestAnArchiveComesBackAsItWasRecorded(t *testing.T) {
	t.Parallel()
	s := newService(t)
	s.recordHostile()
	s.create("/v1/specimens", specimen("-12.5"))
	cells := cellsOf(t, s.as("application/zip", "/v1/exports/darwin-core").want(http.StatusOK))
	if !slices.Contains(cells, "-12.5") {
		t.Error("a number was altered")
	}
	var back []string
	for _, cell := range cells {
		back = append(back, sheet.Unguard(cell))
	}
	for _, name := range hostile {
		if one := strings.Join(strings.Fields(name), " "); !slices.Contains(back, name) && !slices.Contains(back, one) {
			t.Errorf("%q is not among what came back", name)
		}
	}
}

// tableOperations are the contract's operations that give a table, with its type.
func tableOperations(t *testing.T) map[string]string {
	t.Helper()
	doc, err := api.Document()
	if err != nil {
		t.Fatal(err)
	}
	found := map[string]string{}
	for _, item := range doc.Paths.Map() {
		for _, op := range item.Operations() {
			for code, response := range op.Responses.Map() {
				for mediaType := range response.Value.Content {
					if strings.HasPrefix(code, "2") && slices.Contains(tableTypes, mediaType) {
						found[op.OperationID] = mediaType
					}
				}
			}
		}
	}
	return found
}

// recordHostile records a hostile text wherever a name or words are taken, one
// specimen with its history for each text.
func (s *service) recordHostile() {
	s.t.Helper()
	for i, name := range hostile {
		who := s.create("/v1/people", object{"name": name, "organisation": name, "role": name}).id()
		sp := specimen(name)
		sp["collection"], sp["description"] = name, "\t"+name
		skull := s.do(http.MethodPost, "/v1/specimens", object{"source": object{"system": name, "recordId": name}, "statement": sp}).want(201).id()
		supply := s.create("/v1/supplies", object{"code": name, "material": object{"id": "acetone"}}).id()
		batch := s.create("/v1/batches", object{"code": name + strconv.Itoa(i), "kind": "solution", "inputs": array{
			object{"from": object{"supply": object{"id": supply}}, "part": "solvent", "amount": object{"answer": "unknown"}},
			object{"from": object{"words": object{"verbatim": name, "certainty": "unknown"}}, "part": "solute", "amount": object{"answer": "unknown"}}}}).id()
		s.create("/v1/amount-changes", changeOf(batch))
		st := treatment(skull, "consolidation", "2001")
		st["people"] = array{object{"person": object{"id": who}, "part": "carried-out", "organisation": name}}
		st["materials"] = array{object{"used": object{"words": object{"verbatim": name, "certainty": "unknown"}}, "role": "consolidant"}, object{"used": object{"batch": object{"id": batch}}}}
		st["remarks"] = "\r\n" + name
		made := s.create("/v1/treatments", st)
		s.do(http.MethodPost, "/v1/records/"+made.id()+"/amendments", object{"reason": name, "statement": with(st,
			"coats", 2)}, anyTag).want(201)
		s.create("/v1/plans", object{"treatment": treatment(skull, "cleaning", "2002"), "reason": object{"text": name}})
		s.do(http.MethodPut, "/v1/materials/"+uuid.NewString(), object{"statement": with(beads(), "name", name)}).want(201)
	}
	s.seal()
}

// cellsOf are the cells of a table, or of all tables in an archive.
func cellsOf(t *testing.T, r reply) []string {
	t.Helper()
	if !strings.HasPrefix(r.header.Get("Content-Type"), "application/zip") {
		return cellsIn(t, bytes.NewReader(r.body))
	}
	archive, err := zip.NewReader(bytes.NewReader(r.body), int64(len(r.body)))
	if err != nil {
		t.Fatal(err)
	}
	var all []string
	for _, f := range archive.File {
		if !strings.HasSuffix(f.Name, ".csv") {
			continue
		}
		in, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, cellsIn(t, in)...)
		_ = in.Close()
	}
	return all
}

func cellsIn(t *testing.T, in io.Reader) []string {
	t.Helper()
	rows, err := csv.NewReader(in).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return slices.Concat(rows...)
}

// runs tells, in its own words, what a spreadsheet may run: what begins with one
// of the characters once all that nobody sees is away, and is no number.
func runs(cell string) bool {
	if _, err := strconv.ParseFloat(cell, 64); err == nil && !strings.HasPrefix(cell, "+") {
		return false
	}
	seen := strings.TrimLeft(cell, " \t\r\n\"\u00a0\u200b\u200e\u200f\ufeff")
	return strings.HasPrefix(cell, "\t") || strings.HasPrefix(cell, "\r") || strings.HasPrefix(cell, "\n") ||
		seen != "" && strings.ContainsRune("=+-@＝＋－＠﹢﹣﹦﹫", []rune(seen)[0])
}

func hostileAmong(cells []string) []string {
	return slices.DeleteFunc(slices.Clone(cells), func(cell string) bool { return !strings.Contains(cell, "|x") || !strings.HasPrefix(cell, "'") })
}
