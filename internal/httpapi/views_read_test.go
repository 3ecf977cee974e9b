package httpapi_test

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"encoding/json"
	"html"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// jsonNumber is a number as it was written.
func jsonNumber(text string) json.Number { return json.Number(text) }

// looked is what every view says of one record of a specimen, by the view's name:
// JSON as it was decoded, and everything as text without the marks of HTML.
type looked struct {
	id   string
	json map[string]object
	text map[string]string

	brief           map[string]object // the answers in brief
	told, toldWhole map[string]string // the same as text, short and whole, in one line
	list            []object          // its treatments, as they are listed

	reported  []object            // rows of the report of layers
	table     []map[string]string // the same as a table
	suited    object              // its row of the suitability report
	suitTable []map[string]string // the same as a table
	core      map[string]string   // its row of the Darwin Core archive
	facts     []map[string]string // the archive's rows about it
}

// askedOf are the views of a specimen: their address behind the specimen's, and
// the media type.
var askedOf = map[string][2]string{
	"present state": {"/present-state?detail=full&at=" + pastDay, ""}, "suitability": {"/suitability?detail=full&at=" + pastDay, ""},
	"temperature": {"/travel-temperature?detail=full&at=" + pastDay, ""}, "removal plan": {"/removal-plan?detail=full&at=" + pastDay, ""}, "summary": {"/summary?detail=full", ""},
	"timeline": {"/timeline?at=" + pastDay, ""}, "page": {"", asPage}, "sheet": {"/sheet", asPage}, "fragment": {"/summary", asPage},
	"badge": {"/summary", asBadge}, "line": {"/summary", asText}, "linked data": {"", asLinked}, "provenance": {"/provenance", asLinked}, "states": {"/provenance?states=true", asLinked},
}

// look asks every view of one record.
func (s *service) look(id string) *looked {
	s.t.Helper()
	v := &looked{id: id, json: map[string]object{}, text: map[string]string{},
		brief: map[string]object{}, told: map[string]string{}, toldWhole: map[string]string{}}
	for name, ask := range askedOf {
		v.put(name, s.as(ask[1], "/v1/specimens/"+id+ask[0]).want(200))
		if path, query, found := strings.Cut(ask[0], "?detail=full"); found {
			v.askBriefly(name, func(detail, mediaType string) reply {
				return s.as(mediaType, "/v1/specimens/"+id+path+"?"+detail+query)
			})
		}
	}
	proposed := treatment(id, "cleaning", "2024-12-31")
	proposed["areas"] = object{"paths": array{"whole"}}
	proposed["solventExposure"] = array{object{"solvent": "acetone", "time": object{"answer": "unknown"}, "during": "cleaning"}}
	asked := object{"treatment": proposed, "at": pastDay}
	v.put("check", s.do(http.MethodPost, "/v1/treatment-checks?detail=full", asked).want(200))
	v.askBriefly("check", func(detail, mediaType string) reply {
		return s.do(http.MethodPost, "/v1/treatment-checks?"+detail, asked, header{"Accept", cmp.Or(mediaType, "application/json")})
	})
	for _, item := range s.do(http.MethodGet, "/v1/specimens/"+id+"/treatments?limit=500", nil).want(200).at("items").([]any) {
		v.list = append(v.list, item.(object))
	}
	return v
}

func (v *looked) put(name string, r reply) {
	v.text[name] = html.UnescapeString(betweenMarks.ReplaceAllString(strings.ReplaceAll(string(r.body), "<wbr>", ""), "><"))
	if strings.Contains(r.header.Get("Content-Type"), "json") {
		var body object
		if err := json.Unmarshal(r.body, &body); err != nil {
			r.t.Fatalf("%s is not JSON: %s", name, r.body)
		}
		v.json[name] = body
	}
}

// ledgers are the tables about many specimens, read once for all of them.
type ledgers struct {
	reported, suited []object
	table, suitTable []map[string]string
	core, facts      []map[string]string
}

func (s *service) ledgers() ledgers {
	s.t.Helper()
	csvOf := func(path string) []map[string]string {
		return rowsByName(s.t, string(s.do(http.MethodGet, path, nil, header{"Accept", "text/csv"}).want(200).body))
	}
	const layers, samples = "/v1/reports/reversible-treatments", "/v1/reports/suitability?at=" + pastDay
	l := ledgers{table: csvOf(layers)}
	l.reported = objectsIn(s.do(http.MethodGet, layers, nil).want(200).at("items"))
	for path := samples; path != ""; {
		page := s.do(http.MethodGet, path, nil).want(200)
		l.suited, l.suitTable = append(l.suited, objectsIn(page.at("items"))...), append(l.suitTable, csvOf(path)...)
		path, _ = page.at("next", "href").(string)
		path = strings.TrimPrefix(path, publicURL)
	}
	archive := archived(s.t, s.do(http.MethodGet, "/v1/exports/darwin-core", nil).want(200))
	l.core, l.facts = archive["specimen.csv"], archive["measurementorfact.csv"]
	return l
}

// of gives a record what the tables say of it, and of the record that it is of.
func (l *ledgers) of(v *looked, stands string) {
	for _, row := range l.reported {
		if idOf(row["specimen"]) == stands || slices.Contains(idsIn(row["parts"]), stands) {
			v.reported = append(v.reported, row)
		}
	}
	for _, row := range l.table {
		if row["specimen"] == stands {
			v.table = append(v.table, row)
		}
	}
	for _, row := range l.suited {
		if idOf(row["specimen"]) == stands {
			v.suited = row
		}
	}
	for _, row := range l.suitTable {
		if row["specimen"] == stands {
			v.suitTable = append(v.suitTable, row)
		}
	}
	for _, row := range l.core {
		if strings.HasSuffix(row["materialEntityID"], stands) {
			v.core = row
		}
	}
	for _, row := range l.facts {
		if strings.HasSuffix(row["coreid"], stands) {
			v.facts = append(v.facts, row)
		}
	}
}

func objectsIn(v any) (out []object) {
	list, _ := v.([]any)
	for _, item := range list {
		if o, ok := item.(object); ok {
			out = append(out, o)
		}
	}
	return out
}

func textsIn(v any) (out []string) {
	list, _ := v.([]any)
	for _, item := range list {
		if text, ok := item.(string); ok {
			out = append(out, text)
		}
	}
	return out
}

// rowsByName are a table's rows by the names of its columns.
func rowsByName(t interface{ Fatal(...any) }, text string) (rows []map[string]string) {
	cells, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil || len(cells) == 0 {
		t.Fatal("no table: ", err, text)
	}
	for _, line := range cells[1:] {
		row := map[string]string{}
		for i, name := range cells[0] {
			row[name] = strings.TrimPrefix(line[i], "'")
		}
		rows = append(rows, row)
	}
	return rows
}

// shownRow is a row of what is on a specimen, as a page shows it.
type shownRow struct {
	area, treatment, material, state      string
	redissolvable, removable, retreatable string
	nothing                               string // said where there is no layer
}

// shownTreatment is a row of the treatments, as a page shows it.
type shownTreatment struct{ date, treatment, action, where, with string }

var (
	layerRow     = regexp.MustCompile(`<tr><td(?: dir="auto")?>([^<]*)</td><td dir="auto"><a href="[^"]*/v1/treatments/([-0-9a-f]{36})">(.*?)</a></td><td class="word">(.*?)</td><td class="word">(.*?)</td><td class="word">(.*?)</td><td class="word">(.*?)</td></tr>`)
	bareRow      = regexp.MustCompile(`<tr><td dir="auto">([^<]*)</td><td colspan="5">(.*?)</td></tr>`)
	treatmentRow = regexp.MustCompile(`<tr><td>([^<]*)</td><td><a class="word" href="[^"]*/v1/treatments/([-0-9a-f]{36})">(.*?)</td><td dir="auto">(.*?)</td><td dir="auto">(.*?)</td></tr>`)
	betweenMarks = regexp.MustCompile(`>\s+<`)
	title        = regexp.MustCompile(`(?s)<g><title>(.*?)</title>`)
)

// A paper tells of each treatment under its heading, and of what is on the specimen by the numbers of
// these.
var (
	paperHeading = regexp.MustCompile(`(?s)^<a href="[^"]*/v1/treatments/([-0-9a-f]{36})">(\d+)\. (.*?)</a>`)
	paperField   = regexp.MustCompile(`(?s)<dt>([^<]*):</dt>\s*<dd dir="auto">(.*?)</dd>`)
	paperLayer   = regexp.MustCompile(`^treatment (\d+), (.*); dissolves again: (.*); comes out: (.*); can be treated again: (.*)$`)
)

func toldOnPaper(page string) (ids map[string]string, rows []shownTreatment) {
	ids = map[string]string{}
	for _, part := range strings.Split(page, `<h3 dir="auto">`)[1:] {
		m := paperHeading.FindStringSubmatch(part)
		if m == nil {
			continue
		}
		body, _, _ := strings.Cut(part, "<h2")
		ids[m[2]] = m[1]
		rows = append(rows, shownTreatment{treatment: m[1], action: m[3], with: marks.ReplaceAllString(body, " ")})
	}
	return ids, rows
}

func rowsOnPaper(page string) (rows []shownRow) {
	ids, _ := toldOnPaper(page)
	_, part, found := strings.Cut(page, `<h2 dir="auto">What is on it`)
	if !found {
		return nil
	}
	part, _, _ = strings.Cut(part, "<h2")
	for _, m := range paperField.FindAllStringSubmatch(part, -1) {
		area := strings.Replace(m[1], "Place not known", "place not known", 1)
		for _, line := range strings.Split(m[2], "\n") {
			if l := paperLayer.FindStringSubmatch(line); l != nil {
				rows = append(rows, shownRow{area: area, treatment: ids[l[1]], state: l[2], redissolvable: l[3],
					removable: l[4], retreatable: l[5]})
			} else {
				rows = append(rows, shownRow{area: area, nothing: line})
			}
		}
	}
	return rows
}

func shownRows(page string) (rows []shownRow) {
	if strings.Contains(page, "<h1>Treatment record") {
		return rowsOnPaper(page)
	}
	for _, m := range layerRow.FindAllStringSubmatch(page, -1) {
		rows = append(rows, shownRow{area: m[1], treatment: m[2], material: m[3], state: m[4], redissolvable: m[5], removable: m[6], retreatable: m[7]})
	}
	for _, m := range bareRow.FindAllStringSubmatch(page, -1) {
		rows = append(rows, shownRow{area: m[1], nothing: m[2]})
	}
	return rows
}

func shownTreatments(page string) (rows []shownTreatment) {
	if _, told := toldOnPaper(page); strings.Contains(page, "<h1>Treatment record") {
		return told
	}
	for _, m := range treatmentRow.FindAllStringSubmatch(page, -1) {
		rows = append(rows, shownTreatment{m[1], m[2], m[3], m[4], m[5]})
	}
	return rows
}

// titles are what a timeline says of each bar and mark.
func titles(timeline string) (out []string) {
	for _, m := range title.FindAllStringSubmatch(timeline, -1) {
		out = append(out, m[1])
	}
	return out
}

// nodesOf are the nodes of a document of linked data, however deep, by their ids.
func nodesOf(v any) map[string]object {
	found := map[string]object{}
	var walk func(any)
	walk = func(v any) {
		switch x := v.(type) {
		case object:
			if id, ok := x["id"].(string); ok && len(x) > len(found[id]) {
				found[id] = x
			}
			for _, member := range x {
				walk(member)
			}
		case []any:
			for _, item := range x {
				walk(item)
			}
		}
	}
	walk(v)
	return found
}

// saidIn is everything that a decoded document says, as text.
func saidIn(v any) string {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		panic(err)
	}
	return b.String()
}

func sorted(list []string) []string {
	list = slices.Clone(list)
	slices.Sort(list)
	return slices.Compact(list)
}

// archived are the rows of an archive's files by the names of their columns.
func archived(t testing.TB, r reply) map[string][]map[string]string {
	t.Helper()
	out := map[string][]map[string]string{}
	for file, cells := range archiveRows(t, r) {
		for _, line := range cells[1:] {
			row := map[string]string{}
			for i, name := range cells[0] {
				row[name] = line[i]
			}
			out[file] = append(out[file], row)
		}
	}
	return out
}
