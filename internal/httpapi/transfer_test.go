package httpapi_test

import (
	"bytes"
	"encoding/json"
	"net/http"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// neighbour is the same service acting for another institution.
func (s *service) neighbour(name string) *service {
	s.t.Helper()
	other := *s
	other.inst, other.key = addInstitution(s.t, s.db, s.store, name)
	return &other
}

// pack is the package of a specimen.
func (s *service) pack(specimen string) []byte {
	s.t.Helper()
	s.seal()
	return s.do(http.MethodGet, "/v1/specimens/"+specimen+"/package", nil).want(200).body
}

func (s *service) receive(pack []byte) reply {
	s.t.Helper()
	return s.do(http.MethodPost, "/v1/specimen-receipts", pack, asLines)
}

func (s *service) passOn(specimen, to string) reply {
	s.t.Helper()
	return s.do(http.MethodPost, "/v1/specimens/"+specimen+"/transfer", object{"to": to, "date": object{"edtf": "2026-03"}, "reason": "Exchanged."}, anyTag)
}

// TestASpecimenIsPassedOnAndComesHome: its history goes with it, says where it
// is from, stays where it was, and is not doubled when it returns.
func TestASpecimenIsPassedOnAndComesHome(t *testing.T) {
	t.Parallel()
	a := newRichRecord(t)
	hill := a.neighbour("Museum on the Hill")
	pack := a.pack(a.specimen)
	got := hill.receive(pack).want(201)
	if got.at("specimen", "id") != a.specimen || got.at("name") != "Museum of the Lower Valley" || got.at("hereAlready") != 0.0 {
		t.Errorf("got %s, want all of it new", got.body)
	}
	before, here := a.do(http.MethodGet, "/v1/specimens/"+a.specimen+"/treatments", nil).want(200), hill.do(http.MethodGet, "/v1/specimens/"+a.specimen+"/treatments", nil).want(200)
	if !slices.Equal(before.ids(), here.ids()) || len(here.ids()) < 8 {
		t.Fatalf("got treatments %v, want %v", here.ids(), before.ids())
	}
	for i := range here.ids() {
		if from := here.at("items", i, "receivedFrom", "institution"); from != a.inst.String() ||
			here.at("items", i, "recordedBy", "id") == before.at("items", i, "recordedBy", "id") {
			t.Errorf("got %v, want it to say where it is from, and that it was recorded here", here.at("items", i))
		}
		if before.at("items", i, "receivedFrom") != nil ||
			here.at("items", i, "receivedFrom", "recordedBy") != before.at("items", i, "recordedBy", "id") {
			t.Errorf("got %v of %v, want who recorded it first", here.at("items", i), before.at("items", i))
		}
	}
	for _, path := range []string{"/v1/specimens/" + a.specimen + "/sheet", "/v1/specimens/" + a.specimen + "/provenance", "/v1/specimens/" + a.specimen + "/summary",
		"/v1/specimens/" + a.specimen + "/removal-plan?detail=full", "/v1/treatments/" + a.coat, "/v1/treatments/" + a.coat + "/findings?detail=full", "/v1/records/" + a.coat + "/revisions"} {
		hill.do(http.MethodGet, path, nil).want(200)
	}
	for _, other := range []string{"LV.7", "LV.8"} {
		if bytes.Contains(pack, []byte(`"`+other+`"`)) {
			t.Errorf("%s, which has nothing to do with the specimen, is in the package", other)
		}
	}
	hill.refresh()
	if wrong := hill.verify(); len(wrong) > 0 {
		t.Errorf("received: got %v, want nothing wrong", wrong)
	}
	if again := hill.receive(pack).want(201); again.at("entries") != 0.0 || again.at("hereAlready") != got.at("entries") {
		t.Errorf("sent again: got %s, want nothing new", again.body)
	}

	passed := a.passOn(a.specimen, "Museum on the Hill").want(201)
	if passed.at("statement", "passedOn", "to") != "Museum on the Hill" || passed.at("act") != "amended" {
		t.Errorf("got %s, want it to say where the specimen is", passed.body)
	}
	a.passOn(a.specimen, "Museum on the Hill").wantProblem(409, "passed-on-already")
	if after := a.do(http.MethodGet, "/v1/specimens/"+a.specimen+"/treatments", nil).want(200); !bytes.Equal(after.body, before.body) {
		t.Error("the history changed when the specimen was passed on")
	}
	marked := hill.receive(a.pack(a.specimen)).want(201)
	if s := hill.do(http.MethodGet, "/v1/specimens/"+a.specimen, nil).want(200); s.at("statement", "passedOn") != nil || s.at("reason") != "Received; from Museum of the Lower Valley, as the package says. Nothing of that was proved." || marked.at("entries") != 2.0 {
		t.Errorf("got %s after %s, want the specimen to be here", s.body, marked.body)
	}

	jaw := hill.create("/v1/treatments", treatment(a.specimen, "cleaning", "2027")).id()
	home := a.receive(hill.pack(a.specimen)).want(201)
	if s := a.do(http.MethodGet, "/v1/specimens/"+a.specimen, nil).want(200); s.at("statement", "passedOn") != nil || s.at("receivedFrom", "name") != "Museum on the Hill" {
		t.Errorf("got %s, want the specimen at home", s.body)
	}
	if all := a.do(http.MethodGet, "/v1/specimens/"+a.specimen+"/treatments", nil).want(200); len(all.ids()) != len(before.ids())+1 || !slices.Contains(all.ids(), jaw) {
		t.Errorf("got %v after %s, want what was done meanwhile and nothing twice", all.ids(), home.body)
	}
	a.refresh()
	if wrong := a.verify(); len(wrong) > 0 {
		t.Errorf("at home: got %v, want nothing wrong", wrong)
	}
}

// TestReceiptRefuses: what was altered, what is no package, what is another
// record, and what was changed on both sides.
func TestReceiptRefuses(t *testing.T) {
	t.Parallel()
	a := newService(t)
	skull := a.create("/v1/specimens", specimen("LV.30"))
	who := a.create("/v1/people", object{"name": "Jonas Feld"})
	st := treatment(skull.id(), "cleaning", "2001")
	st["people"] = array{object{"person": object{"id": who.id()}, "part": "carried-out"}}
	a.create("/v1/treatments", st)
	pack := a.pack(skull.id())
	hill := a.neighbour("Museum on the Hill")
	hill.receive(bytes.Replace(pack, []byte("LV.30"), []byte("LV.31"), 1)).wantProblem(422, "digest-wrong")
	hill.receive(bytes.Replace(pack, []byte(`"revision":1`), []byte(`"revision":2`), 1)).wantProblem(422, "digest-wrong")
	hill.receive(bytes.Replace(pack, []byte(`"name":"Museum`), []byte(`"name":"House`), 1)).wantProblem(422, "export-altered")
	hill.receive(pack[:len(pack)-10]).wantProblem(422, "export-broken-off")
	hill.receive(a.lines()).wantProblem(422, "no-package")
	a.receive(pack).wantProblem(409, "package-of-our-own")
	if left := hill.rowsOf(t, "specimen") + hill.rowsOf(t, "treatment"); left != "" {
		t.Errorf("this was left: %s", left)
	}
	hill.do(http.MethodGet, "/v1/specimens/"+skull.id()+"/package", nil).want(404)

	other := a.neighbour("Museum by the Sea")
	other.do(http.MethodPost, "/v1/specimens", object{"id": skull.id(), "statement": specimen("S.1")}).want(201)
	other.receive(pack).wantProblem(409, "id-taken")

	hill.receive(pack).want(201)
	a.amend(who, object{"name": "Jonas Feldmann"})
	mine := hill.do(http.MethodGet, "/v1/people/"+who.id(), nil).want(200)
	hill.amend(mine, object{"name": "J. Feld"})
	conflict := hill.receive(a.pack(skull.id())).wantProblem(409, "records-changed-here")
	if !strings.Contains(string(conflict.body), who.id()) {
		t.Errorf("got %s, want which record it is", conflict.body)
	}
}

// A package holds the plans for its specimen, also one that nobody carried out, and lists the
// pictures and documents that its records name, with what is known of each.
func TestAPackageHoldsPlansAndListsFiles(t *testing.T) {
	t.Parallel()
	a := newService(t)
	hill := a.neighbour("Museum on the Hill")
	skull := a.create("/v1/specimens", specimen("LV.1")).id()
	sheet := object{"url": "https://documents.lower-valley.example/s-1.pdf", "mediaType": "application/pdf", "bytes": 88211}
	resin := a.create("/v1/supplies", object{"code": "S-1", "material": of("acetone"), "safetyDataSheet": sheet}).id()
	coat := treatment(skull, "coating", "2024")
	coat["materials"] = array{object{"used": object{"supply": object{"id": resin}}}}
	picture := object{"url": "https://images.lower-valley.example/1.tif", "stage": "before", "sha256": strings.Repeat("ab", 32)}
	coat["images"] = array{with(picture, "url", "https://images.lower-valley.example/0.tif")}
	done := a.create("/v1/treatments", coat)
	coat["images"] = array{picture}
	a.do(http.MethodPost, "/v1/records/"+done.id()+"/amendments", object{"reason": "Another picture.", "statement": coat}, anyTag).want(201)
	plan := a.create("/v1/plans", object{"treatment": treatment(skull, "cleaning", "2027"), "reason": object{"text": "Dust"}}).id()
	other := a.create("/v1/specimens", specimen("LV.2")).id()
	elsewhere := a.create("/v1/plans", object{"treatment": treatment(other, "cleaning", "2027")}).id()
	joint := treatment(other, "joining", "2027")
	joint["joinedTo"] = object{"id": skull}
	joined := a.create("/v1/plans", object{"treatment": joint}).id()

	pack := a.pack(skull)
	var first struct {
		Package struct {
			Files []map[string]any `json:"files"`
		} `json:"package"`
	}
	line, _, _ := bytes.Cut(pack, []byte("\n"))
	if err := json.Unmarshal(line, &first); err != nil {
		t.Fatal(err)
	}
	want := []map[string]any{
		{"record": resin, "url": sheet["url"], "mediaType": "application/pdf", "bytes": 88211.0},
		{"record": done.id(), "url": picture["url"], "sha256": picture["sha256"]}}
	if diff := cmp.Diff(want, first.Package.Files); diff != "" {
		t.Errorf("files: -want +got\n%s", diff)
	}
	hill.receive(pack).want(201)
	for id, comes := range map[string]bool{plan: true, joined: true, elsewhere: false} {
		if got := hill.do(http.MethodGet, "/v1/plans/"+id, nil); (got.status == 200) != comes {
			t.Errorf("the plan %s: got %d; it comes: %v", id, got.status, comes)
		}
	}
	hill.refresh()
	if wrong := hill.verify(); len(wrong) > 0 {
		t.Errorf("received: got %v, want nothing wrong", wrong)
	}
	said := hill.paper(skull, "hand-over")
	for _, want := range []string{"1. Cleaning", "Treatment 1, Images:", "SHA-256 digest: abab",
		"S-1, Safety data sheet:", "Bytes: 88211"} {
		if !strings.Contains(said, want) {
			t.Errorf("the paper lacks %q:\n%s", want, said)
		}
	}
}

// TestASpecimenThatLeftSaysSoEverywhere: every answer, page and paper that is about it names where it
// went, and a row of a table about it does.
func TestASpecimenThatLeftSaysSoEverywhere(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull := s.create("/v1/specimens", specimen("LV.1")).id()
	coat := treatment(skull, "coating", "2024")
	coat["materials"] = array{object{"used": object{"material": of("ethyl-methacrylate-methyl-acrylate-copolymer")}}}
	coat["nextCheck"] = object{"edtf": "2024-06"}
	done := s.create("/v1/treatments", coat).id()
	plan := s.create("/v1/plans", object{"treatment": treatment(skull, "cleaning", "2027")}).id()
	s.passOn(skull, "Museum on the Hill").want(201)
	s.refresh()
	of := "/v1/specimens/" + skull
	for _, x := range []struct{ accept, path string }{
		{"", of}, {"text/html", of}, {"application/ld+json", of},
		{"", of + "/summary"}, {"text/html", of + "/summary"}, {"text/plain", of + "/summary"}, {"image/svg+xml", of + "/summary"},
		{"", of + "/provenance"}, {"", of + "/sheet"}, {"", of + "/present-state"}, {"text/plain", of + "/present-state"},
		{"", of + "/removal-plan"}, {"text/plain", of + "/removal-plan"}, {"", of + "/suitability"}, {"text/plain", of + "/suitability"},
		{"", of + "/travel-temperature"}, {"text/plain", of + "/travel-temperature"}, {"", of + "/timeline"},
		{"", of + "/label"}, {"image/svg+xml", of + "/label?capacity=1000"},
		{"text/html", of + "/papers/treatment-record"}, {"text/html", of + "/papers/bench-sheet"},
		{"text/html", of + "/papers/examination-report"}, {"text/html", of + "/papers/loan-sheet"},
		{"text/html", of + "/papers/hand-over"},
		{"text/html", "/v1/treatments/" + done}, {"", "/v1/treatments/" + done + "/findings"},
		{"", "/v1/plans/" + plan + "/findings"}, {"", "/v1/due?until=2030-12-31"}, {"text/plain", "/v1/due?until=2030-12-31"},
		{"text/csv", "/v1/due?until=2030-12-31"},
		{"", "/v1/specimen-lookup?number=LV.1"}, {"", "/v1/specimens"},
		{"", "/v1/reports/reversible-treatments"}, {"text/csv", "/v1/reports/reversible-treatments"},
		{"text/html", "/v1/reports/reversible-treatments"},
		{"", "/v1/reports/suitability"}, {"text/csv", "/v1/reports/suitability"}, {"text/csv", "/v1/exports/records?kind=specimen"},
		{"application/zip", "/v1/exports/darwin-core"}, {"", of + "/package"},
	} {
		var headers []header
		if x.accept != "" {
			headers = append(headers, header{"Accept", x.accept})
		}
		r := s.do(http.MethodGet, x.path, nil, headers...).want(200)
		said := string(r.body)
		if x.accept == "application/zip" {
			said = strings.Join(cellsOf(t, r), " ")
		}
		if !strings.Contains(said, "Museum on the Hill") {
			t.Errorf("%s %s does not say it", x.accept, x.path)
		}
	}
}
