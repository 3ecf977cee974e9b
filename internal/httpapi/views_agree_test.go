package httpapi_test

import (
	"fmt"
	"html"
	"math/rand/v2"
	"net/http"
	"slices"
	"strings"
	"testing"
)

// viewsOf is every view of a specimen, by name. The text is what a reader of it
// sees: without the marks of HTML.
func (s *service) viewsOf(specimen string) map[string]string {
	s.t.Helper()
	out := map[string]string{}
	for name, path := range map[string]string{
		"present state": "/present-state?detail=full&at=2025-01-01", "suitability": "/suitability?detail=full&at=2025-01-01",
		"temperature": "/travel-temperature?detail=full&at=2025-01-01", "removal plan": "/removal-plan?detail=full&at=2025-01-01",
		"present state as believed": "/present-state?detail=full&at=2025-01-01&believedAt=" + s.now(),
		"timeline":                  "/timeline?at=2025-01-01", "summary": "/summary",
	} {
		out[name] = string(s.do(http.MethodGet, "/v1/specimens/"+specimen+path, nil).want(200).body)
	}
	out["page"] = string(s.as(asPage, "/v1/specimens/"+specimen).want(200).body)
	out["sheet"] = string(s.as(asPage, "/v1/specimens/"+specimen+"/sheet").want(200).body)
	out["fragment"] = string(s.as(asPage, "/v1/specimens/"+specimen+"/summary").want(200).body)
	out["badge"] = string(s.as(asBadge, "/v1/specimens/"+specimen+"/summary").want(200).body)
	out["summary text"] = string(s.as(asText, "/v1/specimens/"+specimen+"/summary").want(200).body)
	for name, path := range map[string]string{"present state": "present-state", "suitability": "suitability",
		"temperature": "travel-temperature", "removal plan": "removal-plan"} {
		for form, as := range map[string]string{"brief": "", "text": asText} {
			out[name+" "+form] = strings.Join(strings.Fields(string(
				s.as(as, "/v1/specimens/"+specimen+"/"+path+"?at=2025-01-01").want(200).body)), " ")
		}
	}
	out["linked data"] = string(s.as(asLinked, "/v1/specimens/"+specimen).want(200).body)
	out["provenance"] = string(s.as(asLinked, "/v1/specimens/"+specimen+"/provenance").want(200).body)
	check := s.do(http.MethodPost, "/v1/treatment-checks?detail=full", object{"treatment": treatment(specimen, "cleaning", "2024")}).want(200)
	out["check"] = string(check.body)
	for name, text := range out {
		out[name] = html.UnescapeString(text)
	}
	return out
}

// wantInEach tells which views lack a text.
func wantInEach(t *testing.T, views map[string]string, text string, but ...string) {
	t.Helper()
	for name, view := range views {
		if !strings.Contains(view, text) && !slices.Contains(but, name) {
			t.Errorf("%s lacks %q: %.1500s", name, text, view)
		}
	}
}

var hazardWords = []string{"none-found", "not-examined", "suspected", "known"}

// hazardous is a specimen with a hazard.
func hazardous(number, hazard, status string) object {
	out := specimen(number)
	out["hazards"] = array{object{"hazard": hazard, "status": status}}
	return out
}

// saysHazard is how a view says a hazard of such a status.
func saysHazard(hazard, status string) string {
	hazard = strings.ReplaceAll(hazard, "-", " ")
	switch status {
	case "known":
		return "known to hold " + hazard
	case "suspected":
		return "suspected to hold " + hazard
	case "not-examined":
		return "The specimen was not examined for " + hazard
	}
	return ""
}

// namesHazard tells whether a view says a hazard of such a status; those that nobody
// examined stand on one line.
func namesHazard(view, hazard, status string) bool {
	if status != "not-examined" {
		return strings.Contains(view, saysHazard(hazard, status))
	}
	_, line, _ := strings.Cut(view, "The specimen was not examined for ")
	line, _, _ = strings.Cut(line, ".")
	return strings.Contains(line, strings.ReplaceAll(hazard, "-", " "))
}

// TestEveryViewNamesTheHazards: of merged records, parts, samples, and parts of
// merged records; the gravest of what is said counts, and it stands first.
func TestEveryViewNamesTheHazards(t *testing.T) {
	t.Parallel()
	s := newService(t)
	random := rand.New(rand.NewPCG(17, 4))
	for n := range 12 {
		hazard := []string{"arsenic", "mercury", "lead", "asbestos"}[random.IntN(4)]
		gravest := 0
		record := func(part string) string {
			k := random.IntN(len(hazardWords))
			gravest = max(gravest, k)
			return s.create("/v1/specimens", hazardous(fmt.Sprintf("H.%d.%s", n, part), hazard, hazardWords[k])).id()
		}
		bone := record("a")
		for m := range random.IntN(3) {
			s.merge(record(fmt.Sprint("m", m)), bone).want(201)
		}
		s.create("/v1/treatments", coated(bone, "2001", "skull"))
		switch random.IntN(3) {
		case 0:
			bone = s.split(bone, splitOf(fmt.Sprintf("H.%d.part", n), "2010", "skull")).want(201).id()
		case 1:
			sample := specimen(fmt.Sprintf("H.%d.sample", n))
			sample["sampleOf"] = object{"specimen": object{"id": bone}, "area": "skull"}
			bone = s.create("/v1/specimens", sample).id()
		}
		s.seal()
		says, status := saysHazard(hazard, hazardWords[gravest]), hazardWords[gravest]
		for name, view := range s.viewsOf(bone) {
			if !namesHazard(view, hazard, status) {
				t.Errorf("%d: %s lacks %q: %.1500s", n, name, says, view)
			}
			member := fmt.Sprintf(`"hazards":[{"hazard":"%s","status":"%s"}]`, hazard, status)
			if strings.HasPrefix(view, "{") && !strings.Contains(view, "@context") && !strings.Contains(view, member) {
				t.Errorf("%d: %s lacks %s: %.1500s", n, name, member, view)
			}
			if at := strings.LastIndex(view, `"cautions":["`); at >= 0 && hazardWords[gravest] != "none-found" &&
				says != "" && !strings.HasPrefix(view[at:], `"cautions":["The specimen is `+says) &&
				!strings.HasPrefix(view[at:], `"cautions":["`+says) {
				t.Errorf("%d: %s does not begin its cautions with the hazard: %.1500s", n, name, view[at:])
			}
		}
	}
}

// TestAMergedRecordAnswersFromTheSurvivor: in every view, which says so.
func TestAMergedRecordAnswersFromTheSurvivor(t *testing.T) {
	t.Parallel()
	s := newService(t)
	old := s.create("/v1/specimens", specimen("F-1")).id()
	middle, bone := s.create("/v1/specimens", specimen("F-2")).id(), s.create("/v1/specimens", hazardous("LV.1", "arsenic", "known")).id()
	coat := s.create("/v1/treatments", coated(bone, "2001", "skull")).id()
	s.merge(old, middle).want(201)
	s.merge(middle, bone).want(201)
	s.seal()
	views := s.viewsOf(old)
	wantInEach(t, views, "The record "+old+" was merged; the record "+bone+" stands for the specimen")
	wantInEach(t, views, "known to hold arsenic")
	wantInEach(t, views, coat, "timeline", "badge", "check", "suitability", "suitability brief", "suitability text",
		"summary text", "present state text", "temperature text", "removal plan text")
	for name, view := range s.viewsOf(bone) {
		if strings.Contains(view, "was merged; the record") {
			t.Errorf("%s of the survivor says that it was merged: %.500s", name, view)
		}
	}
	if !strings.Contains(views["summary"], `"mergedInto":"`+publicURL+"/v1/specimens/"+bone+`"`) {
		t.Errorf("summary lacks the address of the survivor: %.500s", views["summary"])
	}
	for _, name := range []string{"present state", "suitability", "temperature", "removal plan", "check"} {
		if !strings.Contains(views[name], `"mergedInto":{"id":"`+bone+`"}`) {
			t.Errorf("%s lacks mergedInto: %.500s", name, views[name])
		}
	}
}

// TestASpecimenThatLeftSaysSo: in every view, also where the record that says it
// was merged.
func TestASpecimenThatLeftSaysSo(t *testing.T) {
	t.Parallel()
	s := newService(t)
	gone := hazardous("LV.2", "lead", "not-examined")
	gone["passedOn"] = object{"to": "Museum of the Far Shore", "date": object{"edtf": "2023-05"}}
	bone, other := s.create("/v1/specimens", gone).id(), s.create("/v1/specimens", specimen("LV.3")).id()
	s.seal()
	wantInEach(t, s.viewsOf(bone), "passed on to Museum of the Far Shore, date 2023-05")
	table := s.do(http.MethodGet, "/v1/reports/suitability?specimens="+bone, nil, header{"Accept", "text/csv"}).want(200)
	for _, row := range rowsByName(t, string(table.body)) {
		if row["passedOn"] != "Museum of the Far Shore, 2023-05" || row["hazards"] != "lead (not examined)" {
			t.Errorf("got %v, want a table of samples to say that it left, and its hazard", row)
		}
	}
	s.merge(bone, other).want(201)
	s.seal()
	wantInEach(t, s.viewsOf(other), "passed on to Museum of the Far Shore, date 2023-05")
	s.undo(bone).want(201)
	s.seal()
	for name, view := range s.viewsOf(other) {
		if strings.Contains(view, "Far Shore") {
			t.Errorf("%s of another specimen says that it left: %.500s", name, view)
		}
	}
}
