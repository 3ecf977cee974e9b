package httpapi_test

import (
	"fmt"
	"maps"
	"net/http"
	"reflect"
	"strings"
	"testing"
)

// hazardState is how a hazard of a specimen is known, and how every view says it.
type hazardState struct {
	name   string
	hazard object // of the specimen's own record
	past   object // members of a treatment on record
	says   string
	tag    string // on the badge
}

var hazardStates = []hazardState{
	{"known", object{"hazard": "arsenic", "status": "known"}, nil, "known to hold arsenic", "HAZARD: arsenic known"},
	{"suspected", object{"hazard": "mercury", "status": "suspected"}, nil, "suspected to hold mercury", "HAZARD: mercury suspected"},
	{"not examined", object{"hazard": "asbestos", "status": "not-examined"}, nil,
		"The specimen was not examined for asbestos.", "not examined for asbestos"},
	{"not recorded", nil, nil, "Hazards not recorded: arsenic, mercury, lead, asbestos", "hazards not recorded"},
	{"a pest treatment, a card's words", nil, object{"action": "pest-treatment", "dates": object{"edtf": "1911"},
		"materials": array{object{"used": object{"words": object{"verbatim": "arsenical soap", "certainty": "documented"}}}}},
		"suspected to hold arsenic (“arsenical soap” in a treatment, 1911)", "HAZARD: arsenic suspected"},
	{"a pest treatment, its remarks", nil, object{"action": "pest-treatment", "dates": object{"edtf": "1931"},
		"remarks": "Sublimate brushed on, then para in the drawer."},
		"suspected to hold mercury (“sublimate” in a treatment, 1931)", "HAZARD: mercury suspected, 1,4-dichlorobenzene suspected"},
	{"any treatment, its remarks", nil, object{"action": "cleaning", "dates": object{"edtf": "1950"},
		"remarks": "The old label says poisoned."},
		"suspected to hold arsenic (“poisoned” in a treatment, 1950)", "HAZARD: arsenic suspected"},
	{"a layer", nil, object{"action": "joining", "dates": object{"edtf": "1925"},
		"materials": array{object{"used": object{"material": of("cellulose-nitrate")}}}},
		"suspected to hold cellulose nitrate (“cellulose nitrate” in a treatment, 1925)", "HAZARD: cellulose nitrate suspected"},
}

// TestEveryViewByStateOfHazards: each view of a specimen, of its treatment and of a report, for
// each way in which a hazard is known, on the specimen itself and on a sample of it.
func TestEveryViewByStateOfHazards(t *testing.T) {
	t.Parallel()
	s := newService(t)
	for n, c := range hazardStates {
		bone := specimen(fmt.Sprintf("HZ.%d", n))
		if c.hazard != nil {
			bone["hazards"] = array{c.hazard}
		}
		id := s.create("/v1/specimens", bone).id()
		if c.past != nil {
			past := treatment(id, "cleaning", "1950")
			for member, value := range c.past {
				past[member] = value
			}
			s.create("/v1/treatments", past)
		}
		coat := s.create("/v1/treatments", coated(id, "2001", "skull")).id()
		sample := specimen(fmt.Sprintf("HZ.%d.sample", n))
		sample["sampleOf"] = object{"specimen": object{"id": id}, "area": "skull"}
		taken := s.create("/v1/specimens", sample).id()
		on := s.create("/v1/treatments", coated(taken, "2002", "skull")).id()
		s.seal()
		for of, put := range map[string]string{id: coat, taken: on} {
			views := s.viewsOf(of)
			views["label"] = string(s.as("", "/v1/specimens/"+of+"/label").want(200).body)
			views["label's picture"] = string(s.as("image/svg+xml", "/v1/specimens/"+of+"/label").want(200).body)
			views["treatment's page"] = string(s.as(asPage, "/v1/treatments/"+put).want(200).body)
			views["findings"] = string(s.as("", "/v1/treatments/"+put+"/findings").want(200).body)
			views["findings as text"] = string(s.as(asText, "/v1/treatments/"+put+"/findings").want(200).body)
			for name, view := range views {
				view = strings.Join(strings.Fields(view), " ")
				switch {
				case name == "page" || name == "sheet" || name == "treatment's page" || name == "fragment":
					view = strings.ReplaceAll(view, "&#34;", `"`)
					if strings.Contains(view, `<strong dir="auto">`+c.says) {
						t.Errorf("%s: %s says strongly what nobody knows", c.name, name)
					}
				case name == "badge" && !strings.Contains(view, ">"+c.tag):
					t.Errorf("%s: the badge does not begin with %q: %s", c.name, c.tag, view)
				}
				if !strings.Contains(view, c.says) {
					t.Errorf("%s: %s lacks %q: %.900s", c.name, name, c.says, view)
				}
				if spoken := strings.HasPrefix(c.says, "known") || strings.HasPrefix(c.says, "suspected"); spoken &&
					!strings.Contains(view, "licensed practice come first") && name != "badge" {
					t.Errorf("%s: %s does not defer: %.900s", c.name, name, view)
				} else if spoken && (strings.HasSuffix(name, "text") || name == "summary text") &&
					!strings.HasPrefix(view, "The specimen is "+c.says) {
					t.Errorf("%s: %s does not begin with the hazard: %.300s", c.name, name, view)
				}
			}
		}
	}
}

// TestDryCleaningOfAHazardousSpecimen: a check of it blocks until the protection is stated,
// and says so before anything else.
func TestDryCleaningOfAHazardousSpecimen(t *testing.T) {
	t.Parallel()
	s := newService(t)
	bone := s.create("/v1/specimens", specimen("HZ.100")).id()
	soap := treatment(bone, "pest-treatment", "1911")
	soap["remarks"] = "Arsenikseife"
	old := s.create("/v1/treatments", soap).id()
	s.seal()
	dry := treatment(bone, "cleaning", "2026-01-01")
	dry["method"] = "brush"
	check := s.do(http.MethodPost, "/v1/treatment-checks", object{"treatment": dry}).want(200)
	if check.at("blocked") != true || check.at("findings", 0, "rule") != "dust-from-hazardous-specimen" {
		t.Errorf("got %s, want a block by the dust", check.body)
	}
	if check.at("hazards", 0, "because", 0, "treatment", "id") != old || check.at("hazards", 0, "because", 0, "words") != "Arsenikseife" {
		t.Errorf("got %s, want the treatment as evidence", check.body)
	}
	dry["protection"] = object{"text": "fume cupboard, FFP3 and nitrile gloves, as the safety officer settled"}
	check = s.do(http.MethodPost, "/v1/treatment-checks", object{"treatment": dry}).want(200)
	if check.at("blocked") == true || check.at("findings", 0, "severity") != "warn" {
		t.Errorf("got %s, want a warning where the protection is stated", check.body)
	}
	dry["protection"], dry["method"] = object{"answer": "unknown"}, "swab"
	dry["solventExposure"] = array{object{"solvent": "ethanol", "time": object{"answer": "unknown"}, "during": "cleaning"}}
	text := s.do(http.MethodPost, "/v1/treatment-checks", object{"treatment": dry}, header{"Accept", asText}).want(200)
	for _, want := range []string{"The specimen is suspected to hold arsenic", "carries along", "does not take it"} {
		if !strings.Contains(strings.Join(strings.Fields(string(text.body)), " "), want) {
			t.Errorf("got %s, want %q", text.body, want)
		}
	}
}

// TestWhatIsHandedOverNamesTheHazards: the package, its receipt, the transfer, and the report of
// reversible treatments, for each way in which a hazard is known, of a specimen and of a sample of it.
func TestWhatIsHandedOverNamesTheHazards(t *testing.T) {
	t.Parallel()
	s := newService(t)
	hill := s.neighbour("Museum on the Hill")
	says := map[string]hazardState{}
	for n, c := range hazardStates {
		bone := specimen(fmt.Sprintf("HO.%d", n))
		if c.hazard != nil {
			bone["hazards"] = array{c.hazard}
		}
		id := s.create("/v1/specimens", bone).id()
		if c.past != nil {
			past := treatment(id, "cleaning", "1950")
			maps.Copy(past, c.past)
			s.create("/v1/treatments", past)
		}
		sample := specimen(fmt.Sprintf("HO.%d.sample", n))
		sample["sampleOf"] = object{"specimen": object{"id": id}, "area": "skull"}
		taken := s.create("/v1/specimens", sample).id()
		for _, of := range []string{id, taken} {
			says[of] = c
			coat := s.create("/v1/treatments", coated(of, "2001", "skull")).id()
			off := treatment(of, "removal", "2003")
			off["removal"] = object{"treatments": array{object{"id": coat}}, "left": "reduced"}
			s.create("/v1/treatments", off)
		}
	}
	s.seal()
	for of, c := range says {
		pack := s.pack(of)
		first, _, _ := strings.Cut(string(pack), "\n")
		if !strings.HasPrefix(first, `{"package":{"hazards":["`) || !strings.Contains(first, c.says) {
			t.Errorf("%s: the package does not begin with %q: %s", c.name, c.says, first)
		}
		receipt, passed := hill.receive(pack).want(201), s.passOn(of, "Museum on the Hill").want(201)
		for name, r := range map[string]reply{"receipt": receipt, "transfer": passed} {
			if said := strings.Join(textsIn(r.at("cautions")), " "); !strings.Contains(said, c.says) {
				t.Errorf("%s: the %s lacks %q: %s", c.name, name, c.says, r.body)
			}
		}
	}
	const path = "/v1/reports/reversible-treatments"
	report := s.do(http.MethodGet, path, nil).want(200)
	rows, hazards := objectsIn(report.at("items")), map[any]any{}
	table := rowsByName(t, string(s.do(http.MethodGet, path, nil, header{"Accept", "text/csv"}).want(200).body))
	if len(rows) < 2*len(hazardStates) || len(table) != len(rows) {
		t.Fatalf("got %d rows and %d lines", len(rows), len(table))
	}
	for _, row := range rows {
		hazards[idOf(row["specimen"])] = row["hazards"]
	}
	for _, row := range objectsIn(report.at("removals")) {
		if want := hazards[idOf(row["specimen"])]; !reflect.DeepEqual(row["hazards"], want) {
			t.Errorf("%s: got hazards %v of a removal, want those of the layers, %v",
				says[idOf(row["specimen"])].name, row["hazards"], want)
		}
	}
	if n := len(objectsIn(report.at("removals"))); n != len(says) {
		t.Errorf("got %d removals, want %d", n, len(says))
	}
	for i, row := range rows {
		c, cell := says[idOf(row["specimen"])], "not recorded"
		if named := objectsIn(row["hazards"]); len(named) > 0 {
			cell = fmt.Sprint(named[0]["hazard"], " (", strings.ReplaceAll(fmt.Sprint(named[0]["status"]), "-", " "), ")")
		}
		if got := table[i]["hazards"]; !strings.HasPrefix(got, cell) || (cell == "not recorded") != (c.name == "not recorded") ||
			!strings.Contains(strings.ReplaceAll(cell, "-", " "), strings.TrimSpace(strings.Split(c.name, ",")[0])) && c.hazard != nil {
			t.Errorf("%s: got %q in the table and %v in JSON", c.name, got, row["hazards"])
		}
	}
}
