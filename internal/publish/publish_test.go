package publish_test

import (
	"bytes"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/edtf"
	"meniscus/internal/publish"
	"meniscus/internal/quantity"
	"meniscus/internal/record"
)

func TestSentences(t *testing.T) {
	t.Parallel()
	want := []string{
		"Consolidation (skull/left-orbit) with ethyl methacrylate/methyl acrylate copolymer, " +
			"20.00 g/dL of solution in acetone. Date: 12 March 2024.",
		"Removal (skull/left-orbit); afterwards not detected. Date: June 2025.",
		"Joining (area unknown) with “5 % PVA” (identification inferred). Date: possibly 1984.",
		"Examination (the whole specimen); outcome: none found. Date: from 10 January 2026 on.",
		"Test (skull) with acetone, 5 as written, basis not known; observed: softens. Date: unknown.",
	}
	var got []string
	for _, treatment := range skull().Treatments {
		got = append(got, treatment.Sentence())
	}
	if diff := cmp.Diff(got, want); diff != "" {
		t.Errorf("(-got +want):\n%s", diff)
	}
}

func TestStrengthsSayTheirBasis(t *testing.T) {
	t.Parallel()
	for want, s := range map[string]publish.Strength{
		"20 g/dL of solution":                             {Basis: "mass-per-solution-volume", Value: "20", Unit: "g/dL"},
		"20 g/dL of solvent (as the recipe asked)":        {Basis: "mass-per-solvent-volume", Value: "20", Unit: "g/dL", Asked: true},
		"20 % by mass":                                    {Basis: "mass-fraction", Value: "20", Unit: "%"},
		"70 % by volume":                                  {Basis: "volume-fraction", Value: "70", Unit: "%"},
		"5 % by volume of acrylic dispersion as supplied": {Basis: "as-supplied-volume", Value: "5", Unit: "%", Product: "acrylic dispersion"},
		"1 to 3 parts by volume":                          {Basis: "parts-by-volume", Parts: []string{"1", "3"}},
		"1 g in 200 mL of solution":                       {Basis: "one-in", In: "200"},
		"5 as written, basis not known":                   {Basis: "unknown", Value: "5"},
	} {
		if got := s.Said(); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

// A line for a catalogue: one line, separated values, no person named.
func TestPreparations(t *testing.T) {
	t.Parallel()
	s := skull()
	s.Treatments[0].Areas = []string{"skull|left\norbit"}
	line := s.Preparations()
	if got := len(strings.Split(line, " | ")); got != len(s.Treatments) {
		t.Errorf("got %d values, want %d: %s", got, len(s.Treatments), line)
	}
	if strings.ContainsAny(line, "\r\n") || strings.Contains(line, "Varga") {
		t.Errorf("got %q", line)
	}
}

// Every word of the contract's lists is a term, so that every IRI that the
// service coins has a page.
func TestEveryWordIsATerm(t *testing.T) {
	t.Parallel()
	doc, err := api.Document()
	if err != nil {
		t.Fatal(err)
	}
	enum := func(schema, property string) (words []string) {
		s := doc.Components.Schemas[schema].Value
		if property != "" {
			s = s.Properties[property].Value
		}
		for _, w := range s.Enum {
			words = append(words, w.(string))
		}
		return words
	}
	for list, words := range map[string][]string{
		"action": enum("Action", ""), "role": enum("LayerRole", ""), "relation": enum("LayerRelation", "relation"),
		"basis": enum("StrengthBasis", ""), "left": enum("Removal", "left"), "certainty": enum("Certainty", ""),
		"part": enum("Involvement", "part"), "outcome": enum("Examination", "outcome"),
		"observed": enum("SpotTest", "observed"),
		"input":    enum("BatchInput", "part"),
	} {
		if len(words) == 0 {
			t.Errorf("%s: the contract has no words", list)
		}
		for _, word := range words {
			if _, ok := publish.FindTerm(list + "-" + word); !ok {
				t.Errorf("%s-%s is no term", list, word)
			}
		}
		for _, term := range publish.Vocabulary() {
			if word, ok := strings.CutPrefix(term.Name, list+"-"); ok && term.Sort == list && !slices.Contains(words, word) {
				t.Errorf("%s is a term that the record does not know", term.Name)
			}
		}
	}
}

// Every own property in a PROV document is a term too.
func TestEveryOwnPropertyIsATerm(t *testing.T) {
	t.Parallel()
	document, err := publish.SpecimenProvenance(base, skull(), publish.BeforeAndAfter)
	if err != nil {
		t.Fatal(err)
	}
	for _, rest := range bytes.Split(document, []byte(`"own:`))[1:] {
		name, _, _ := bytes.Cut(rest, []byte(`"`))
		if _, ok := publish.FindTerm(string(name)); !ok {
			t.Errorf("own:%s is no term", name)
		}
	}
}

func TestTermsAreWhole(t *testing.T) {
	t.Parallel()
	seen := map[string]bool{}
	for _, term := range publish.Vocabulary() {
		if term.Label == "" || !strings.HasSuffix(term.Definition, ".") || seen[term.Name] {
			t.Errorf("got %+v, want a label, a sentence, and the name once", term)
		}
		seen[term.Name] = true
		if matched := term.Match == "exact" || term.Match == "broad"; matched != (term.MatchIRI != "") ||
			matched != (term.Evidence != "") {
			t.Errorf("%s: a match has its kind, its IRI and its evidence: %+v", term.Name, term)
		}
	}
}

// Several removals of one layer: it is unknown which one ended it, so no end is stated.
func TestSeveralRemovalsEndNothing(t *testing.T) {
	t.Parallel()
	s := skull()
	again := s.Treatments[1]
	again.IRI = base.Treatment(id("d09"))
	s.Treatments = append(s.Treatments, again)
	document, err := publish.SpecimenProvenance(base, s, publish.OneSpecimen)
	if err != nil {
		t.Fatal(err)
	}
	if bytes.Contains(document, []byte(`"wasInvalidatedBy":"`)) {
		t.Errorf("an invalidation is claimed: %s", document)
	}
}

// The same person twice, once erased: the erased one has no name and no iD.
func TestErasedPersonHasNoNameAndNoORCID(t *testing.T) {
	t.Parallel()
	s := skull()
	for i := range s.Treatments {
		s.Treatments[i].Revision.By = erased
		s.Treatments[i].People = []publish.Involvement{{Person: erased, Part: "carried-out"}}
		s.Treatments[i].BatchesBelow = nil
	}
	s.Revision.By = erased
	for _, document := range []func() ([]byte, error){
		func() ([]byte, error) { return publish.SpecimenCRM(base, s) },
		func() ([]byte, error) { return publish.SpecimenProvenance(base, s, publish.OneSpecimen) },
		func() ([]byte, error) { return publish.TreatmentPage(s.Treatments[0], s) },
	} {
		got, err := document()
		if err != nil {
			t.Fatal(err)
		}
		if bytes.Contains(got, []byte("orcid.org")) || !bytes.Contains(got, []byte("name erased")) {
			t.Errorf("got %s", got)
		}
	}
}

// says makes members of names and values in turn.
func says(pairs ...any) (m record.Members) {
	for i := 0; i < len(pairs); i += 2 {
		m = append(m, record.Member{Name: pairs[i].(string), Value: pairs[i+1]})
	}
	return m
}

// Every text and number of a statement is in Fields.
func TestFieldsLeaveNothingOut(t *testing.T) {
	t.Parallel()
	batch := id("c01")
	number, word := quantity.MustDecimal, func(w string) record.Word { return record.Word(w) }
	fields := publish.Fields(says(
		"action", word("acid-preparation"), "dates", edtf.MustParse("198X"), "purpose", says("answer", word("not-examined")),
		"materials", []any{
			says("used", says("batch", says("id", batch)), "amount", says("quantity",
				says("value", number("1.50"), "unit", "mL", "uncertainty", says("standard", number("0.5"))))),
			says("used",
				says("material", says("id", "acetone", "strength", says("basis", word("one-in"), "in", number("200"))))),
		},
		"images", []any{
			says("url", "https://images.example/1.jpg", "stage", word("before")),
			says("url", "javascript:alert(1)", "stage", word("after")),
		},
		"removal", says("treatments", []any{id("d01")}, "method", "micro-abrasive"),
		"coats", 3, "started", time.Date(2024, 3, 12, 9, 30, 0, 0, time.UTC),
		"label", says("numberRecorded", false), "areas", says("paths", []any{"a", "b"}), "people", []any{},
		"newMember", says("deep", []any{says("deeper", "kept")}),
	), publish.Known{
		Records: map[uuid.UUID]publish.Link{batch: {IRI: base.Batch(batch), Label: "B-0311"}},
		Materials: func(id string) (publish.Link, bool) {
			return publish.Link{IRI: base.Material(id), Label: "Acetone"}, id == "acetone"
		},
	})
	var flat []string
	var walk func(prefix string, list []publish.Field)
	walk = func(prefix string, list []publish.Field) {
		for _, f := range list {
			if f.Value != "" {
				flat = append(flat, prefix+f.Label+"="+f.Value+"@"+f.Href)
			}
			walk(prefix+f.Label+">", f.Within)
		}
	}
	walk("", fields)
	for _, want := range []string{
		"Action=acid preparation@", "Dates=the 1980s (198X)@", "Purpose=not examined@", "Areas=a, b@", "People=none@",
		"Materials>>Used=B-0311@" + base.Batch(batch), "Materials>>Amount=1.50 mL@", "Label>Number recorded=no@",
		"New member>=kept@",
		"Removal>Treatments=" + id("d01").String() + "@", "Removal>Method=micro-abrasive@", "Coats=3@",
		"Started=2024-03-12T09:30:00Z@",
		"Images>>Address=https://images.example/1.jpg@https://images.example/1.jpg", "Images>>Address=javascript:alert(1)@",
	} {
		if !slices.ContainsFunc(flat, func(s string) bool { return s == want }) {
			t.Errorf("no %q in\n%s", want, strings.Join(flat, "\n"))
		}
	}
	text := strings.Join(flat, "\n")
	for _, part := range []string{"0.5", "1 g in 200 mL", "Acetone", "before", "after", "kept"} {
		if !strings.Contains(text, part) {
			t.Errorf("%q is left out:\n%s", part, text)
		}
	}
}

// The tag is as large as its longest line; a hazard is bold, and what nobody knows of hazards is not.
func TestTheBadgeHasRoomForItsLines(t *testing.T) {
	t.Parallel()
	for tag, bold := range map[string]bool{
		"": false, "hazards not recorded": false, "not examined for arsenic; seven hazards not recorded": false,
		"HAZARD: arsenic known, 1,4-dichlorobenzene suspected, cellulose nitrate suspected, four more hazards": true,
	} {
		s := skull()
		s.HazardTag = tag
		badge := string(publish.Summarize(s).Badge())
		size := regexp.MustCompile(`^<svg [^>]*width="(\d+)" height="(\d+)"`).FindStringSubmatch(badge)
		width, _ := strconv.Atoi(size[1])
		height, _ := strconv.Atoi(size[2])
		lines := regexp.MustCompile(`<text x="(\d+)" y="([0-9.]+)"[^>]*textLength="(\d+)"[^>]*>([^<]*)<`).FindAllStringSubmatch(badge, -1)
		for _, line := range lines {
			x, _ := strconv.Atoi(line[1])
			y, _ := strconv.ParseFloat(line[2], 64)
			long, _ := strconv.Atoi(line[3])
			if x+long > width-5 || y > float64(height)-5 || long < 5*len(line[4]) {
				t.Errorf("%q: got the line %q of %d at %d, %g in a tag of %d by %d", tag, line[4], long, x, y, width, height)
			}
		}
		if tag != "" && (len(lines) != 2 || lines[0][4] != tag) {
			t.Errorf("got the lines %q, want %q first", lines, tag)
		}
		if strings.Contains(badge, `font-weight="bold"`) != bold {
			t.Errorf("%q: got %s", tag, badge)
		}
	}
}
