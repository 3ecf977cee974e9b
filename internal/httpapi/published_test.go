package httpapi_test

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"encoding/xml"
	"io"
	"net/http"
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"
)

const (
	asPage   = "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8" // what a browser sends
	asLinked = "application/ld+json"
	asBadge  = "image/svg+xml"
	asText   = "text/plain"
)

func (s *service) as(mediaType, path string, headers ...header) reply {
	s.t.Helper()
	if mediaType != "" {
		headers = append(headers, header{"Accept", mediaType})
	}
	return s.do(http.MethodGet, path, nil, headers...)
}

// treated is a specimen with a consolidation out of a bottle, and its removal.
func treated(s *service) (skull, consolidation, removal string) {
	resin := s.create("/v1/supplies", object{"code": "S-0107", "material": object{"id": "ethyl-methacrylate-methyl-acrylate-copolymer"}}).id()
	solvent := s.create("/v1/supplies", object{"code": "S-0108", "material": object{"id": "acetone"}}).id()
	from := func(kind, id, part string, amount object) object {
		return object{"from": object{kind: object{"id": id}}, "part": part, "amount": amount}
	}
	weighed := object{"quantity": jsonQuantity("30.10", "g")}
	batch := s.create("/v1/batches", object{"code": "B-0311", "kind": "solution", "made": object{"edtf": "2024-03-11"},
		"labelStrength": object{"basis": "mass-per-solution-volume", "value": rawObject("20.00"), "unit": "g/dL"},
		"inputs":        array{from("supply", resin, "solute", weighed), from("supply", solvent, "solvent", object{"answer": "unknown"})}}).id()
	bottle := s.create("/v1/batches", object{"code": "B-0311-1", "kind": "bottle", "inputs": array{from("batch", batch, "stock", weighed)}}).id()
	skull = s.create("/v1/specimens", specimen("LV.1987/0042")).id()
	put := treatment(skull, "consolidation", "2024-03-12")
	put["materials"] = array{object{"used": object{"batch": object{"id": bottle}}, "role": "consolidant", "amount": object{"quantity": jsonQuantity("12", "mL")}}}
	put["people"] = array{object{"person": object{"name": "Ilse Varga"}, "part": "carried-out"}}
	consolidation = s.create("/v1/treatments", put).id()
	off := treatment(skull, "removal", "2025-06")
	off["removal"] = object{"treatments": array{object{"id": consolidation}}, "left": "reduced"}
	return skull, consolidation, s.create("/v1/treatments", off).id()
}

// One address: JSON for a program, a page for a browser, linked data for those
// who ask; each with its own validator.
func TestStableLinksAnswerByAccept(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull, consolidation, _ := treated(s)
	for _, path := range []string{"/v1/specimens/" + skull, "/v1/treatments/" + consolidation} {
		tags := map[string]bool{}
		for accept, wantType := range map[string]string{
			"":       "application/json",
			"*/*":    "application/json",
			asPage:   "text/html; charset=utf-8",
			asLinked: `application/ld+json;profile="https://linked.art/ns/v1/linked-art.json"`,
			"application/ld+json;q=0.2, text/html;q=0.1": `application/ld+json;profile="https://linked.art/ns/v1/linked-art.json"`,
		} {
			got := s.as(accept, path).want(200)
			if h := got.header.Get("Content-Type"); h != wantType {
				t.Errorf("%s as %q: got %s, want %s", path, accept, h, wantType)
			}
			if got.header.Get("Vary") != "Accept" {
				t.Errorf("%s as %q: got Vary %q", path, accept, got.header.Get("Vary"))
			}
			tags[got.header.Get("ETag")] = true
			again := s.as(accept, path, header{"If-None-Match", got.header.Get("ETag")}).want(http.StatusNotModified)
			if len(again.body) > 0 {
				t.Errorf("%s as %q: got a body with 304", path, accept)
			}
		}
		if len(tags) != 3 {
			t.Errorf("%s: got %d validators for three media types: %v", path, len(tags), tags)
		}
		s.as("image/png", path).wantProblem(http.StatusNotAcceptable, "media-type-not-given")
	}
	page := string(s.as(asPage, "/v1/treatments/"+consolidation).body)
	for _, want := range []string{"Consolidation, <bdi>LV.1987/0042</bdi>", "ethyl methacrylate/methyl acrylate copolymer (70:30), 20.00 g/dL of solution in acetone", "B-0311-1", "Ilse Varga", "12 March 2024"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q:\n%s", want, page)
		}
	}
}

func TestLinkedDataOfASpecimen(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull, consolidation, removal := treated(s)
	crm := s.as(asLinked, "/v1/specimens/"+skull).want(200)
	if got := crm.at("type"); got != "BiologicalObject" {
		t.Errorf("got type %v, want BiologicalObject for bone", got)
	}
	if got := crm.at("modified_by", 0, "employed", 0, "_label"); got != "ethyl methacrylate/methyl acrylate copolymer (70:30)" {
		t.Errorf("got %v, want the material by its generic name: %s", got, crm.body)
	}
	if got := len(s.as(asLinked, "/v1/treatments/"+removal).want(200).at("modified_by").([]any)); got != 1 {
		t.Errorf("got %d treatments in one treatment's document, want 1", got)
	}
	prov := s.as(asLinked, "/v1/specimens/"+skull+"/provenance").want(200)
	for _, want := range []string{
		`"wasInvalidatedBy":"https://meniscus.example/v1/treatments/` + removal + `"`, // the layers, by the removal
		`"wasInformedBy":["https://meniscus.example/v1/treatments/` + consolidation + `"]`,
		`"label":"Making of B-0311"`, `"value":"30.10"`, `"label":"S-0107"`,
	} {
		if !bytes.Contains(prov.body, []byte(want)) {
			t.Errorf("the provenance lacks %s:\n%s", want, prov.body)
		}
	}
	if bytes.Contains(prov.body, []byte("specializationOf\":\"")) {
		t.Errorf("got states of the specimen without asking: %s", prov.body)
	}
	states := s.as(asLinked, "/v1/treatments/"+consolidation+"/provenance?states=true").want(200)
	if !bytes.Contains(states.body, []byte(`"specializationOf":"https://meniscus.example/v1/specimens/`+skull+`"`)) {
		t.Errorf("got no states of the specimen: %s", states.body)
	}
	s.as(asLinked, "/v1/specimens/"+uuid.NewString()+"/provenance").wantProblem(http.StatusNotFound, "specimen-unknown")
	s.as(asLinked, "/v1/treatments/"+skull+"/provenance").wantProblem(http.StatusNotFound, "treatment-unknown")
	s.as(asLinked, "/v1/treatments/"+consolidation+"/provenance?states=perhaps").want(http.StatusBadRequest)
}

// Nothing on record is said as that, in every form, and never as untreated.
func TestSummaryOfNothing(t *testing.T) {
	t.Parallel()
	s := newService(t)
	path := "/v1/specimens/" + s.create("/v1/specimens", specimen("LV.2")).id() + "/summary"
	if got := s.do(http.MethodGet, path, nil).want(200); got.at("answer") != "registered-nothing-recorded" || got.at("treatments") != 0.0 {
		t.Errorf("got %s", got.body)
	}
	for accept, want := range map[string]string{asPage: "That does not say that the specimen is untreated", asBadge: "no conservation on record", asText: "no conservation treatment recorded"} {
		if got := s.as(accept, path).want(200); !bytes.Contains(got.body, []byte(want)) {
			t.Errorf("as %s: got %s, want %q in it", accept, got.body, want)
		}
	}
	s.as("application/pdf", path).wantProblem(http.StatusNotAcceptable, "media-type-not-given")
}

func TestSummary(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull, consolidation, _ := treated(s)
	path := "/v1/specimens/" + skull + "/summary"
	const line = "consolidation 2024-03-12, ethyl methacrylate/methyl acrylate copolymer (70:30), 20.00 g/dL of solution in acetone, skull/left-orbit" +
		" | removal 2025-06, skull/left-orbit, the material is reduced"
	if got := string(s.as(asText, path).want(200).body); !strings.HasPrefix(got, "Hazards not recorded: ") ||
		!strings.HasSuffix(got, " | "+line) {
		t.Errorf("got\n%s, want the hazards first, then\n%s", got, line)
	}
	got := s.do(http.MethodGet, path+"?detail=full", nil).want(200)
	if got.at("preparations") != line || got.at("latest") != "2025-06" || got.at("items", 0, "treatment") != "https://meniscus.example/v1/treatments/"+consolidation {
		t.Errorf("got %s", got.body)
	}
	wellFormed(t, s.as(asBadge, path).want(200).body)
	s.do(http.MethodHead, path, nil, header{"Accept", asBadge}).want(200)
}

// What people write is text wherever it lands.
func TestNothingThatIsWrittenRuns(t *testing.T) {
	t.Parallel()
	s := newService(t)
	const attack = `"><script>alert(1)</script><img src=x onerror=alert(1)>'`
	const mixed = "گنجینه\u200cی ۴۲ \u202e reversed 🦴 & <b>"
	st := specimen("LV" + attack)
	st["description"], st["collection"], st["owner"] = mixed, attack, object{"text": attack}
	skull := s.create("/v1/specimens", st).id()
	put := treatment(skull, "consolidation", "1998~")
	put["areas"] = object{"paths": array{"skull" + attack, "череп/левая глазница"}}
	put["materials"] = array{object{"used": object{"words": object{"verbatim": attack, "certainty": "unknown"}}, "remark": attack}}
	put["people"] = array{object{"person": object{"name": attack}, "part": "carried-out", "organisation": mixed}}
	put["purpose"], put["remarks"] = object{"text": attack}, mixed
	put["report"] = object{"url": "javascript:alert(1)"}
	treated := s.create("/v1/treatments", put).id()
	for _, page := range []reply{
		s.as(asPage, "/v1/specimens/"+skull), s.as(asPage, "/v1/treatments/"+treated), s.as(asPage, "/v1/specimens/"+skull+"/sheet"),
		s.as(asPage, "/v1/specimens/"+skull+"/summary"), s.as(asBadge, "/v1/specimens/"+skull+"/summary"),
	} {
		page.want(200)
		for _, bad := range []string{"<script", "<img", "<b>", `href="javascript:`} {
			if bytes.Contains(page.body, []byte(bad)) {
				t.Errorf("%q stands in a page as it was written:\n%s", bad, page.body)
			}
		}
		if policy := page.header.Get("Content-Security-Policy"); !strings.HasPrefix(policy, "default-src 'none'") {
			t.Errorf("got policy %q", policy)
		}
	}
	wellFormed(t, s.as(asBadge, "/v1/specimens/"+skull+"/summary").body)
	if got := s.as(asLinked, "/v1/specimens/"+skull).want(200).at("_label"); got != "LV"+attack {
		t.Errorf("got label %v, want it as it was written", got)
	}
	sheet := string(s.as(asPage, "/v1/specimens/"+skull+"/sheet").body)
	if !strings.Contains(sheet, "گنجینه\u200cی ۴۲") || !strings.Contains(sheet, "череп/левая глазница") || !strings.Contains(sheet, "🦴") {
		t.Errorf("the sheet lacks what was written in other scripts:\n%s", sheet)
	}
	line := string(s.as(asText, "/v1/specimens/"+skull+"/summary").want(200).body)
	if strings.ContainsAny(line, "\n\r") {
		t.Errorf("got more than one line: %q", line)
	}
}

// wellFormed wants XML that can be read, and gives its elements' names.
func wellFormed(t *testing.T, document []byte) (elements []string) {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(document))
	for {
		token, err := d.Token()
		if err == io.EOF {
			return elements
		}
		if err != nil {
			t.Fatalf("not well-formed: %v\n%s", err, document)
		}
		if start, ok := token.(xml.StartElement); ok {
			elements = append(elements, start.Name.Local)
		}
	}
}

// A name that was erased is erased everywhere; what was done stays.
func TestErasedNamesStayErased(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull, _, _ := treated(s)
	person := s.create("/v1/people", object{"name": "Mara Okonkwo-Lindqvist", "orcid": "9999-1234-5678-9011"})
	put := treatment(skull, "cleaning", "2020")
	put["people"] = array{object{"person": object{"id": person.id()}, "part": "carried-out"}}
	cleaning := s.create("/v1/treatments", put).id()
	everywhere := func() map[string]reply {
		return map[string]reply{
			"page":       s.as(asPage, "/v1/treatments/"+cleaning),
			"sheet":      s.as(asPage, "/v1/specimens/"+skull+"/sheet"),
			"crm":        s.as(asLinked, "/v1/specimens/"+skull),
			"provenance": s.as(asLinked, "/v1/specimens/"+skull+"/provenance"),
			"archive":    unzipped(s.t, s.do(http.MethodGet, "/v1/exports/darwin-core", nil)),
		}
	}
	for name, r := range everywhere() {
		if !bytes.Contains(r.want(200).body, []byte("Mara Okonkwo-Lindqvist")) {
			t.Errorf("%s: the name is missing before it is erased", name)
		}
	}
	s.do(http.MethodPost, "/v1/records/"+person.id()+"/redaction", object{"reason": "asked for"}, header{"If-Match", person.header.Get("ETag")}).want(http.StatusCreated)
	for name, r := range everywhere() {
		if bytes.Contains(r.want(200).body, []byte("Mara")) || bytes.Contains(r.body, []byte("9999-1234-5678-9011")) {
			t.Errorf("%s: the erased name or iD is still there:\n%s", name, r.body)
		}
		if !bytes.Contains(r.body, []byte("name erased")) {
			t.Errorf("%s: it is not said that a name was erased", name)
		}
	}
}

// unzipped puts an archive's files one after the other.
func unzipped(t testing.TB, r reply) reply {
	t.Helper()
	archive, err := zip.NewReader(bytes.NewReader(r.body), int64(len(r.body)))
	if err != nil {
		t.Fatal(err)
	}
	r.body = nil
	for _, f := range archive.File {
		opened, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		content, err := io.ReadAll(opened)
		if err != nil {
			t.Fatalf("%s: %v", f.Name, err)
		}
		r.body = append(r.body, content...)
	}
	return r
}

// A retracted treatment says so and claims nothing; it is counted nowhere.
func TestRetractedTreatments(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull, consolidation, _ := treated(s)
	tag := s.do(http.MethodGet, "/v1/treatments/"+consolidation, nil).header.Get("ETag")
	s.do(http.MethodPost, "/v1/records/"+consolidation+"/retraction", object{"reason": "The wrong <skull>"}, header{"If-Match", tag}).want(http.StatusCreated)
	page := s.as(asPage, "/v1/treatments/"+consolidation).want(200)
	if !bytes.Contains(page.body, []byte("This record was retracted")) || !bytes.Contains(page.body, []byte("The wrong &lt;skull&gt;")) || bytes.Contains(page.body, []byte("B-0311")) {
		t.Errorf("got %s", page.body)
	}
	if crm := s.as(asLinked, "/v1/treatments/"+consolidation).want(200); crm.at("modified_by") != nil {
		t.Errorf("a retracted treatment still modifies: %s", crm.body)
	}
	if prov := s.as(asLinked, "/v1/treatments/"+consolidation+"/provenance").want(200); bytes.Contains(prov.body, []byte(`"type":"Activity"`)) || !bytes.Contains(prov.body, []byte("retracted")) {
		t.Errorf("got %s", prov.body)
	}
	if got := s.do(http.MethodGet, "/v1/specimens/"+skull+"/summary", nil).at("treatments"); got != 1.0 {
		t.Errorf("got %v treatments, want the removal alone", got)
	}
}

func TestDarwinCoreArchive(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull, consolidation, removal := treated(s)
	other := specimen("LV.9")
	other["collection"] = "archaeology"
	s.create("/v1/specimens", other)
	bare := s.create("/v1/specimens", specimen("LV.1987/0042")).id() // the same number again
	r := s.do(http.MethodGet, "/v1/exports/darwin-core?collection=palaeontology&coreId=catalogue-number", nil).want(200)
	files := archiveRows(t, r)
	core := files["specimen.csv"]
	if len(core) != 3 || core[1][0] != "LV.1987/0042" || core[2][0] != "https://meniscus.example/v1/specimens/"+bare {
		t.Errorf("got core %v, want the number once and the link for the second that has it", core)
	}
	measured := files["measurementorfact.csv"]
	link := "https://meniscus.example/v1/treatments/" + consolidation
	for _, want := range [][]string{
		{"LV.1987/0042", link, "", "conservation treatment", "consolidation", "", "Ilse Varga", "2024-03-12"},
		{"LV.1987/0042", link + "#material-1-strength", link, "consolidant concentration", "20.00", "g/dL", "Ilse Varga", "2024-03-12", "", "mass-per-solution-volume"},
		{"LV.1987/0042", link + "#material-1-amount", link, "consolidant amount", "12", "mL"},
		{"LV.1987/0042", "https://meniscus.example/v1/treatments/" + removal + "#left", "https://meniscus.example/v1/treatments/" + removal, "material left", "reduced"},
	} {
		if !slices.ContainsFunc(measured, func(row []string) bool { return slices.Equal(row[:len(want)], want) }) {
			t.Errorf("no row %v in %v", want, measured)
		}
	}
	related := files["resourcerelationship.csv"]
	if len(related) != 3 || related[1][2] != "https://meniscus.example/v1/specimens/"+skull || related[1][4] != link || related[1][3] != "https://meniscus.example/vocabulary/wasTreatedIn" {
		t.Errorf("got %v", related)
	}
	s.do(http.MethodGet, "/v1/exports/darwin-core?collection=nowhere", nil).wantProblem(http.StatusNotFound, "collection-unknown")
	s.do(http.MethodGet, "/v1/exports/darwin-core?coreId=colour", nil).want(http.StatusBadRequest)
}

// archiveRows reads an archive as its own descriptor says, and holds the rows
// against it: as many cells as fields, ids of the core once, and no extension's
// row without its core.
func archiveRows(t testing.TB, r reply) map[string][][]string {
	t.Helper()
	archive, err := zip.NewReader(bytes.NewReader(r.body), int64(len(r.body)))
	if err != nil {
		t.Fatal(err)
	}
	read := func(name string) []byte {
		f, err := archive.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		content, err := io.ReadAll(f)
		if err != nil {
			t.Fatal(err)
		}
		return content
	}
	type file struct {
		Location string `xml:"files>location"`
		Fields   []struct {
			Index int    `xml:"index,attr"`
			Term  string `xml:"term,attr"`
		} `xml:"field"`
	}
	var meta struct {
		XMLName    xml.Name `xml:"http://rs.tdwg.org/dwc/text/ archive"`
		Core       file     `xml:"core"`
		Extensions []file   `xml:"extension"`
	}
	if err := xml.Unmarshal(read("meta.xml"), &meta); err != nil {
		t.Fatal(err)
	}
	ids, all := map[string]bool{}, map[string][][]string{}
	for i, f := range append([]file{meta.Core}, meta.Extensions...) {
		rows, err := csv.NewReader(bytes.NewReader(read(f.Location))).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		for _, row := range rows[1:] {
			if len(row) != len(f.Fields)+1 {
				t.Errorf("%s: got %d cells, want %d", f.Location, len(row), len(f.Fields)+1)
			}
			if i == 0 == ids[row[0]] {
				t.Errorf("%s: the id %s is there twice, or nowhere in the core", f.Location, row[0])
			}
			if i == 0 {
				ids[row[0]] = true
			}
		}
		all[f.Location] = rows
	}
	return all
}

// The words of the record are terms with a page and with SKOS, for anybody.
func TestVocabulary(t *testing.T) {
	t.Parallel()
	s := newService(t)
	s.key = ""
	term := s.as(asLinked, "/vocabulary/action-consolidation").want(200)
	if term.at("id") != "https://meniscus.example/vocabulary/action-consolidation" || term.header.Get("Access-Control-Allow-Origin") != "*" {
		t.Errorf("got %v %s", term.header, term.body)
	}
	if page := s.as(asPage, "/vocabulary/action-consolidation").want(200); !bytes.Contains(page.body, []byte("unconfirmed at source")) {
		t.Errorf("the page does not say that the match is unconfirmed: %s", page.body)
	}
	s.as(asPage, "/vocabulary").want(200)
	s.do(http.MethodGet, "/vocabulary", nil).want(200)
	s.as(asLinked, "/contexts/linked-art.json").want(200)
	s.as(asPage, "/vocabulary/action-levitation").wantProblem(http.StatusNotFound, "term-unknown")
	s.as("text/turtle", "/vocabulary/action-consolidation").wantProblem(http.StatusNotAcceptable, "media-type-not-given")
}

// Where no label says it, the strength comes from what was weighed: 30.10 g in
// 150 mL of finished solution is 20.07 g/dL, in the bottle as in the batch.
func TestPublishedStrengthIsComputed(t *testing.T) {
	t.Parallel()
	s := newService(t)
	resin := s.create("/v1/supplies", object{"code": "S-1", "material": object{"id": "ethyl-methacrylate-methyl-acrylate-copolymer"}}).id()
	solvent := s.create("/v1/supplies", object{"code": "S-2", "material": object{"id": "acetone"}}).id()
	batch := s.create("/v1/batches", object{"code": "B-1", "kind": "solution", "finished": object{"quantity": jsonQuantity("150", "mL")}, "inputs": array{
		object{"from": object{"supply": object{"id": resin}}, "part": "solute", "amount": object{"quantity": jsonQuantity("30.10", "g")}},
		object{"from": object{"supply": object{"id": solvent}}, "part": "solvent", "amount": object{"quantity": jsonQuantity("124", "mL")}}}}).id()
	bottle := s.create("/v1/batches", object{"code": "B-1-1", "kind": "bottle", "inputs": array{
		object{"from": object{"batch": object{"id": batch}}, "part": "stock", "amount": object{"quantity": jsonQuantity("50", "mL")}}}}).id()
	skull := s.create("/v1/specimens", specimen("LV.1")).id()
	put := treatment(skull, "consolidation", "2024")
	put["materials"] = array{object{"used": object{"batch": object{"id": bottle}}}}
	s.create("/v1/treatments", put)
	const want = "copolymer (70:30), 20.1 g/dL of solution in acetone (computed from the amounts measured)"
	if got := s.as(asText, "/v1/specimens/"+skull+"/summary").want(200); !bytes.Contains(got.body, []byte(want)) {
		t.Errorf("got %s, want %q in it", got.body, want)
	}
}

// The page says what is on the specimen now: what was taken off is reduced, and
// an area without a record is not called untreated.
func TestPagesSayWhatIsOnItNow(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull, _, _ := treated(s)
	for path, reduced := range map[string]string{"/v1/specimens/" + skull: `<td class="word">reduced</td>`,
		"/v1/specimens/" + skull + "/sheet": ", reduced; dissolves again: "} {
		page := string(s.as(asPage, path).want(200).body)
		for _, want := range []string{"What is on it on ", "An area without a record is not shown to be untreated", reduced} {
			if !strings.Contains(page, want) {
				t.Errorf("%s lacks %q:\n%s", path, want, page)
			}
		}
	}
}

// Words that were erased are nowhere; that there was a record is still said.
func TestErasedWordsStayErased(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull, consolidation, _ := treated(s)
	redact := func(kind, id string) {
		tag := s.do(http.MethodGet, "/v1/"+kind+"/"+id, nil).header.Get("ETag")
		s.do(http.MethodPost, "/v1/records/"+id+"/redaction", object{"reason": "asked for"}, header{"If-Match", tag}).want(http.StatusCreated)
	}
	redact("treatments", consolidation)
	page := s.as(asPage, "/v1/treatments/"+consolidation).want(200)
	if !bytes.Contains(page.body, []byte("The words of this record were erased")) || bytes.Contains(page.body, []byte("B-0311")) {
		t.Errorf("got %s", page.body)
	}
	if crm := s.as(asLinked, "/v1/treatments/"+consolidation).want(200); crm.at("modified_by") != nil {
		t.Errorf("an erased treatment still modifies: %s", crm.body)
	}
	if prov := s.as(asLinked, "/v1/treatments/"+consolidation+"/provenance").want(200); bytes.Contains(prov.body, []byte(`"type":"Activity"`)) || !bytes.Contains(prov.body, []byte("words erased")) {
		t.Errorf("got %s", prov.body)
	}
	redact("specimens", skull)
	for path, accept := range map[string]string{
		"/v1/specimens/" + skull: asPage, "/v1/specimens/" + skull + "/sheet": asPage, "/v1/specimens/" + skull + "/summary": asBadge,
		"/v1/specimens/" + skull + "/provenance": asLinked, "/v1/treatments/" + consolidation: asLinked,
	} {
		if got := s.as(accept, path).want(200); bytes.Contains(got.body, []byte("LV.1987/0042")) {
			t.Errorf("%s as %s: the erased number is still there:\n%s", path, accept, got.body)
		}
	}
}
