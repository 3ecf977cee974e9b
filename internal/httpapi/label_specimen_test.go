package httpapi_test

import (
	"bytes"
	"net/http"
	"slices"
	"strings"
	"testing"
)

// labelSays is what the label of a specimen says, an entry "element: text" each.
func labelSays(r reply) []string {
	var out []string
	for _, s := range objectsIn(r.at("piece", "says")) {
		out = append(out, s["element"].(string)+": "+s["text"].(string))
	}
	return out
}

// usualHazardsOfAll states each usual hazard alike.
func usualHazardsOfAll(status string) array {
	var out array
	for _, h := range []string{"arsenic", "mercury", "lead", "asbestos", "radioactivity", "cellulose-nitrate", "mould", "pesticide"} {
		out = append(out, object{"hazard": h, "status": status, "how": "X-ray fluorescence and a lamp, limit 10 ppm"})
	}
	return out
}

// TestLabelOfASampleBeginsWithTheHazards: those of the specimen that it was taken from, in
// full where they are known or suspected, and a short line each on the rest.
func TestLabelOfASampleBeginsWithTheHazards(t *testing.T) {
	t.Parallel()
	s := newService(t)
	for _, c := range []struct {
		name    string
		hazards array
		first   string
	}{
		{"known", array{object{"hazard": "arsenic", "status": "known"}, object{"hazard": "lead", "status": "not-examined"}},
			"specimen-hazard: The specimen is known to hold arsenic"},
		{"suspected", array{object{"hazard": "mercury", "status": "suspected"}},
			"specimen-hazard: The specimen is suspected to hold mercury"},
		{"not examined", usualHazardsOfAll("not-examined"), "hazards-unknown: The specimen was not examined for arsenic"},
		{"not recorded", nil, "hazards-unknown: Hazards not recorded: arsenic, mercury"},
		{"none", usualHazardsOfAll("none-found"), "code: LB.none.s"},
	} {
		bone := specimen("LB." + c.name)
		if c.hazards != nil {
			bone["hazards"] = c.hazards
		}
		id := s.create("/v1/specimens", bone).id()
		taken := specimen("LB." + c.name + ".s")
		taken["sampleOf"] = object{"specimen": object{"id": id}, "area": "skull/left-orbit"}
		sample := s.create("/v1/specimens", taken).id()
		says := labelSays(s.as("", "/v1/specimens/"+sample+"/label").want(200))
		all := strings.Join(says, "\n")
		if !strings.HasPrefix(says[0], c.first) {
			t.Errorf("%s: got %q first, want %q", c.name, says[0], c.first)
		}
		if n := strings.Count(all, "licensed practice come first"); n != 1 {
			t.Errorf("%s: got %d sentences of deference: %s", c.name, n, all)
		}
		for _, want := range []string{"code: LB." + c.name + ".s", "made-from: Sample of LB." + c.name + ", area skull/left-orbit",
			"owner: Museum of the Lower Valley"} {
			if !strings.Contains(all, want) {
				t.Errorf("%s: got %s, want %q", c.name, all, want)
			}
		}
		if c.name == "known" && (!strings.Contains(all, "hazards-unknown: The specimen was not examined for lead.") ||
			!strings.Contains(all, "hazards-unknown: Hazards not recorded: mercury, asbestos")) {
			t.Errorf("got %s, want a line on what was not examined and one on what is not recorded", all)
		}
	}
}

// TestLabelOfAPart: from which areas and when it was taken; after a merge the hazards are
// those of the record that stands, and a retracted one keeps its own.
func TestLabelOfAPart(t *testing.T) {
	t.Parallel()
	s := newService(t)
	whole := s.create("/v1/specimens", specimen("LP.1"))
	part := specimen("LP.1.1")
	delete(part, "areas")
	part["hazards"] = array{object{"hazard": "asbestos", "status": "known"}}
	split := s.do(http.MethodPost, "/v1/specimens/"+whole.id()+"/parts", object{"date": object{"edtf": "2024-03-12"}, "reason": "Lifted.",
		"areas": array{"skull/left-orbit"}, "statement": part}, header{"Idempotency-Key", "one"}, anyTag).want(201)
	path := "/v1/specimens/" + split.id() + "/label"
	got := strings.Join(labelSays(s.as("", path).want(200)), "\n")
	for _, want := range []string{"made-from: Part of LP.1, area skull/left-orbit", "made: Taken: 12 March 2024", "code: LP.1.1"} {
		if !strings.Contains(got, want) {
			t.Errorf("got %s, want %q", got, want)
		}
	}
	twin := specimen("LP.2")
	twin["hazards"] = array{object{"hazard": "lead", "status": "known"}}
	stands := s.create("/v1/specimens", twin)
	s.do(http.MethodPost, "/v1/specimens/"+split.id()+"/merge", object{"into": object{"id": stands.id()}, "reason": "One bone."},
		anyTag).want(201)
	got = strings.Join(labelSays(s.as("", path).want(200)), "\n")
	if !strings.Contains(got, "hold asbestos") || !strings.Contains(got, "hold lead") ||
		!strings.Contains(got, "notice: MERGED: LP.2 stands for the specimen") {
		t.Errorf("got %s, want the hazards of both, and that it was merged", got)
	}
	s.do(http.MethodPost, "/v1/specimens/"+split.id()+"/merge/undoing", object{"reason": "Two bones."}, anyTag).want(201)
	s.do(http.MethodPost, "/v1/records/"+split.id()+"/retraction", object{"reason": "The wrong bone."}, anyTag).want(201)
	says := labelSays(s.as("", path).want(200))
	if got = strings.Join(says, "\n"); !strings.Contains(says[0], "known to hold asbestos") ||
		!strings.Contains(got, "notice: RETRACTED: The wrong bone.") {
		t.Errorf("got %s, want its hazard first, and that it was retracted", got)
	}
	s.do(http.MethodPost, "/v1/records/"+split.id()+"/redaction", object{"reason": "Asked for."}, anyTag).want(201)
	if got = strings.Join(labelSays(s.as("", path).want(200)), "\n"); !strings.Contains(got, "redacted") ||
		!strings.Contains(got, "code: Number not known") ||
		!strings.Contains(got, "Hazards not recorded") || strings.Contains(got, "wrong bone") {
		t.Errorf("got %s, want it said that the words were redacted, and none of them", got)
	}
}

// TestLabelOfASpecimenAsPictureAndToPrint: the pictures say what the JSON says, and a foreign
// record is unknown.
func TestLabelOfASpecimenAsPictureAndToPrint(t *testing.T) {
	t.Parallel()
	s := newService(t)
	bone := specimen(strings.Repeat("LQ 1987, ", 45)[:400])
	bone["hazards"] = array{object{"hazard": "arsenic", "status": "known"}}
	path := "/v1/specimens/" + s.create("/v1/specimens", bone).id() + "/label"
	made := s.as("", path+"?capacity=0.1").want(200)
	if made.at("piece", "grown") != true || made.at("piece", "cameraCode") != true || made.at("piece", "leastWidth", "value") != 26.0 {
		t.Errorf("got %s, want the smallest size to grow", made.body)
	}
	if usual := s.as("", path).want(200); usual.at("capacity", "value") != 30.0 || usual.at("piece", "leastWidth", "value") != 52.0 {
		t.Errorf("got %s, want a vial of 30 mL where nothing is said", usual.body)
	}
	drawn := string(s.as("image/svg+xml", path).want(200).body)
	if !strings.HasPrefix(drawn, "<svg ") || !strings.Contains(drawn, `<desc id="description">The specimen is known to hold arsenic`) {
		t.Errorf("got %.600s, want the hazard first in the picture's words", drawn)
	}
	first, again := s.as("application/pdf", path).want(200), s.as("application/pdf", path).want(200)
	if !bytes.HasPrefix(first.body, []byte("%PDF-")) || !bytes.Equal(first.body, again.body) {
		t.Errorf("got %.40q and %.40q, want one PDF twice", first.body, again.body)
	}
	if sheet := s.as("application/pdf", path+"?copies=12").want(200); len(sheet.body) <= len(first.body) {
		t.Errorf("got %d bytes for twelve, want more than %d", len(sheet.body), len(first.body))
	}
	s.as("", path+"?copies=2").wantProblem(400, "malformed-request")
	s.as("", path+"?capacity=0").wantProblem(400, "malformed-request")
	s.as("image/png", path).wantProblem(406, "media-type-not-given")
	s.neighbour("Museum on the Hill").as("", path).wantProblem(404, "specimen-unknown")
}

// TestLabelOfASampleSaysWhenItWasTaken: by its own record, else by the treatment that took it; else that
// this is not known. The record that is exported says what was stated.
func TestLabelOfASampleSaysWhenItWasTaken(t *testing.T) {
	t.Parallel()
	s := newService(t)
	bone := s.create("/v1/specimens", specimen("LT.1")).id()
	other := s.create("/v1/specimens", specimen("LT.1.other")).id()
	for number, c := range map[string]struct {
		date    object
		sampled string // the date of the treatment that took it
		want    string
	}{
		"LT.own":     {object{"edtf": "2024-03-12"}, "2024-03-13", "Taken: 12 March 2024"},
		"LT.event":   {nil, "2024-03-13", "Taken: 13 March 2024"},
		"LT.unknown": {object{"answer": "unknown"}, "", "Taken: when is not known"},
		"LT.nothing": {nil, "", "Taken: when is not recorded"},
	} {
		st := specimen(number)
		of := object{"specimen": object{"id": bone}, "area": "skull"}
		if c.date != nil {
			of["date"] = c.date
		}
		st["sampleOf"] = of
		sample := s.create("/v1/specimens", st)
		for named, date := range map[string]string{sample.id(): c.sampled, other: "1999"} {
			if date != "" {
				took := treatment(bone, "sampling", date)
				took["sampling"] = object{"sample": object{"id": named}, "takenFor": "radiocarbon " + sample.id()}
				s.create("/v1/treatments", took)
			}
		}
		says := labelSays(s.as("", "/v1/specimens/"+sample.id()+"/label").want(200))
		if !slices.Contains(says, "made: "+c.want) {
			t.Errorf("%s: got %q, want %q", number, says, c.want)
		}
		if page := string(s.as(asPage, "/v1/specimens/"+sample.id()).want(200).body); c.date["edtf"] != nil &&
			!strings.Contains(page, "2024-03-12") && !strings.Contains(page, "12 March 2024") {
			t.Errorf("%s: the page does not say when it was taken", number)
		}
		s.seal()
		pack := string(s.pack(sample.id()))
		if c.date["edtf"] != nil && !strings.Contains(pack, `"date":{"edtf":"2024-03-12"}`) &&
			!strings.Contains(pack, `\"date\":{\"edtf\":\"2024-03-12\"}`) {
			t.Errorf("%s: the package does not say when it was taken", number)
		}
	}
}
