package httpapi_test

import (
	"bytes"
	"html"
	"net/http"
	"regexp"
	"strings"
	"testing"
)

var marks = regexp.MustCompile(`<[^>]*>`)

// wordsOf is what a person reads on a paper.
func wordsOf(r reply) string {
	_, body, _ := strings.Cut(string(r.body), "<main>")
	return strings.Join(strings.Fields(html.UnescapeString(marks.ReplaceAllString(body, " "))), " ")
}

func (s *service) paper(specimen, name string) string {
	s.t.Helper()
	return wordsOf(s.as(asPage, "/v1/specimens/"+specimen+"/papers/"+name).want(200))
}

// documented is a specimen with one treatment that answers all that is asked of one.
func documented(s *service) string {
	person := s.create("/v1/people", object{"name": "Ilse Varga", "role": "conservator", "organisation": "Museum of the Lower Valley"}).id()
	resin := s.create("/v1/supplies", object{"code": "S-0107", "material": object{"id": "ethyl-methacrylate-methyl-acrylate-copolymer"},
		"makerLotCode": "H22-118", "safetyDataSheet": object{"url": "https://documents.lower-valley.example/s-0107.pdf",
			"dated": "2022"}}).id()
	solvent := s.create("/v1/supplies", object{"code": "S-0108", "material": object{"id": "acetone"}, "makerLotCode": "K-2290"}).id()
	from := func(id, part, grams string) object {
		return object{"from": object{"supply": object{"id": id}}, "part": part, "amount": object{"quantity": jsonQuantity(grams, "g")}}
	}
	batch := s.create("/v1/batches", object{"code": "B-0311", "kind": "solution", "made": object{"edtf": "2024-03-11"},
		"inputs":          array{from(resin, "solute", "30.10"), from(solvent, "solvent", "98.0")},
		"finished":        object{"quantity": jsonQuantity("150", "mL")},
		"referenceSample": object{"text": "Drawer 4"}}).id()
	about := specimen("LV.1987/0042")
	about["owner"], about["classification"] = object{"text": "Museum of the Lower Valley"}, object{"text": "Ursus spelaeus"}
	about["description"] = "Skull of a cave bear"
	id := s.create("/v1/specimens", about).id()
	plan := s.create("/v1/plans", object{"treatment": treatment(id, "consolidation", "2024-03")}).id()
	answered, given := func(text string) object { return object{"text": text} }, object{"by": object{"id": person},
		"date":  object{"edtf": "2024-03-01"},
		"class": "single", "authority": "Delegated by the owner"}
	put := treatment(id, "consolidation", "2024-03-12~")
	for name, value := range (object{
		"purpose": answered("Flaking around the orbit"), "areas": object{"paths": array{"skull/left-orbit"}},
		"extent": answered("12 square centimetres"),
		"materials": array{object{"used": object{"batch": object{"id": batch}}, "role": "consolidant",
			"amount": object{"quantity": jsonQuantity("6", "mL")}}},
		"method": "pipette", "coats": 2, "drying": object{"state": "touch-dry"}, "amountRemoved": object{"answer": "none"},
		"environment": object{"airTemperature": object{"quantity": jsonQuantity("21", "Cel")},
			"relativeHumidity": object{"quantity": jsonQuantity("48", "%")}},
		"conditionBefore": answered("Flaking, dry"), "conditionAfter": object{"answer": "not-examined"},
		"images": array{object{"url": "https://images.lower-valley.example/before.tif", "stage": "before",
			"scale": answered("50 mm bar"), "taken": "2024-03-11"},
			object{"url": "https://images.lower-valley.example/hidden.tif", "stage": "hidden-stage",
				"scale": answered("50 mm bar"), "taken": "2024-03-12"},
			object{"url": "https://images.lower-valley.example/after.tif", "stage": "after",
				"scale": answered("50 mm bar"), "taken": "2024-03-13"}},
		"people":        array{object{"person": object{"id": person}, "part": "carried-out"}},
		"authorisation": object{"given": given}, "plan": object{"id": plan},
		"deviations": array{object{"what": "A second coat", "approval": object{"given": given}}},
		"reversibility": object{"says": "Comes off with acetone", "testedHow": answered("A swab"),
			"by": object{"id": person}, "date": object{"edtf": "2024-03-14"}},
		"untreatedReference": answered("Underside of the palate"), "nextCheck": object{"edtf": "2027-03"},
		"informationGained": answered("Old adhesive found"), "informationLost": object{"answer": "unknown"},
		"catalogueUpdated": answered("Yes"),
		"report":           object{"url": "https://documents.lower-valley.example/report.pdf"}, "recordCopyLocation": answered("Folder 12"),
	}) {
		put[name] = value
	}
	s.create("/v1/treatments", put)
	card := treatment(id, "coating", "1988~")
	card["materials"] = array{object{"used": object{"words": object{"verbatim": "PVA", "certainty": "inferred"}}}}
	s.create("/v1/treatments", card)
	return id
}

// TestATreatmentRecordHoldsWhatGuidelinesAsk walks the fields that a treatment record must
// hold. Each is on the paper, as answered: R01 to R21 are those of the project's reading of
// AIC's Guidelines for Practice with Commentaries 6 and 24 to 28, EN 16095:2012 and EN
// 15898:2019 (scopes read, contents recalled), Spectrum 5.0's conservation procedure, and
// the preparators' competencies of Brown and others 2012.
func TestATreatmentRecordHoldsWhatGuidelinesAsk(t *testing.T) {
	t.Parallel()
	s := newService(t)
	id := documented(s)
	s.seal()
	said := s.paper(id, "treatment-record")
	for field, wanted := range map[string][]string{
		"R01 number, owner, classification": {"LV.1987/0042", "Owner: Museum of the Lower Valley",
			"Classification: Ursus spelaeus", "Description: Skull of a cave bear", "Made of: bone"},
		"R02 reason": {"Purpose: Flaking around the orbit"},
		"R03 author, dates with precision": {"Record: revision 1, entry ", ", recorded ", " by ",
			"Consolidation, about 12 March 2024 (2024-03-12~)"},
		"R04 who did it, organisation": {"Carried out: Ilse Varga, Museum of the Lower Valley"},
		"R05 areas with extent":        {"Areas: skull/left-orbit", "Extent: 12 square centimetres"},
		"R06 action class":             {"Consolidation, ", "Coating, "},
		"R07 material, maker's lot, batch": {"Consolidant: ethyl methacrylate/methyl acrylate copolymer (70:30)",
			"from B-0311", "Maker lot code: H22-118", "Safety data sheet: "},
		"R08 solvents and proportions": {"in acetone",
			"Made from: 30.10 g of S-0107 (solute); 98.0 g of S-0108 (solvent)", "Material: acetone"},
		"R09 strength with its basis": {"20.1 g/dL of solution (computed from the amounts measured)"},
		"R10 amounts":                 {"amount: 6 mL", "Amount removed: none"},
		"R11 method": {"Method: pipette", "Coats: 2", "Air temperature: 21 °C",
			"Relative humidity: 48 %", "Drying: touch dry"},
		"R12 condition": {"Condition before: Flaking, dry", "Condition after: not examined"},
		"R13 images":    {"before.tif", "hidden.tif", "after.tif", "Scale: 50 mm bar", "Taken: 2024-03-11"},
		"R14 authorisation": {"Authorisation: ", "By: Ilse Varga", "Class: single",
			"Date: 1 March 2024", "Authority: Delegated by the owner"},
		"R15 plan, deviations":       {"Plan: ", "Deviations: ", "A second coat", "Approval: "},
		"R16 certainty of old words": {"“PVA” (identification inferred)"},
		"R17 reversibility":          {"Reversibility: ", "Comes off with acetone", "Tested how: A swab"},
		"R18 information": {"Information gained: Old adhesive found", "Information lost: unknown",
			"Catalogue updated: Yes"},
		"R19 samples":             {"Untreated reference: Underside of the palate", "Reference sample: Drawer 4"},
		"R20 next check":          {"Next check: March 2027"},
		"R21 report, record copy": {"report.pdf", "Record copy location: Folder 12"},
		"what is missing":         {"1. Coating, about 1988", "Not recorded: purpose"},
		"which state":             {"This paper is of the record up to entry "},
	} {
		for _, want := range wanted {
			if !strings.Contains(said, want) {
				t.Errorf("%s: the record lacks %q:\n%s", field, want, said)
			}
		}
	}
	for _, once := range []string{"Flaking around the orbit", "A second coat", "H22-118", "hidden.tif", "Drawer 4", "Folder 12"} {
		if n := strings.Count(said, once); n != 1 {
			t.Errorf("%q is printed %d times", once, n)
		}
	}
}

// A record of seven treatments fits on three sheets; a second print has the same bytes.
func TestSevenTreatmentsFitOnThreeSheets(t *testing.T) {
	t.Parallel()
	s := newService(t)
	id := documented(s)
	for _, year := range []string{"2009", "2012", "2015", "2018", "2021"} {
		put := treatment(id, "coating", year)
		put["purpose"] = object{"text": "Powdering surface over the whole of the vault"}
		put["conditionBefore"] = object{"text": "Powder comes off on a soft brush"}
		put["conditionAfter"] = object{"text": "No powder on a soft brush; slight sheen"}
		put["materials"] = array{object{"used": object{"material": object{"id": "poly-vinyl-acetate-resin"}}, "role": "coating"}}
		s.create("/v1/treatments", put)
	}
	s.seal()
	get := func() reply { return s.as("application/pdf", "/v1/specimens/"+id+"/papers/treatment-record").want(200) }
	body := get().body
	if sheets := len(regexp.MustCompile(`/Type /Page\b`).FindAll(body, -1)); sheets > 3 {
		t.Errorf("seven treatments take %d sheets", sheets)
	}
	if !bytes.Equal(body, get().body) {
		t.Error("the same record twice has other bytes")
	}
}

// Words that were erased or retracted are named, and gone.
func TestAPaperNamesWhatIsGone(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull, consolidation, removal := treated(s)
	s.do(http.MethodPost, "/v1/records/"+consolidation+"/redaction", object{"reason": "Asked for."}, anyTag).want(201)
	s.do(http.MethodPost, "/v1/records/"+removal+"/retraction", object{"reason": "A mistake."}, anyTag).want(201)
	said := s.paper(skull, "treatment-record")
	for _, want := range []string{"Treatment " + removal + ", revision ", "retracted; it should not have been recorded",
		"its words were erased"} {
		if !strings.Contains(said, want) {
			t.Errorf("the record lacks %q:\n%s", want, said)
		}
	}
	if strings.Contains(said, "B-0311") {
		t.Errorf("what was erased is printed:\n%s", said)
	}
}

func TestPapersRefuseWhatTheyCannotDo(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull, consolidation, _ := treated(s)
	at := "/v1/specimens/" + skull + "/papers/"
	s.as(asPage, at+"love-letter").wantProblem(http.StatusNotFound, "not-found")
	s.as(asPage, at+"treatment-record?treatments="+consolidation).wantProblem(http.StatusBadRequest, "malformed-request")
	s.as("image/png", at+"bench-sheet").wantProblem(http.StatusNotAcceptable, "media-type-not-given")
	s.as(asPage, "/v1/specimens/01900000-0000-7000-8000-0000000000ff/papers/bench-sheet").want(http.StatusNotFound)
}

// A bench sheet has what has to be done first, a box for each step, and lines for what was
// really done.
func TestABenchSheetIsWrittenOn(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull := s.create("/v1/specimens", specimen("LV.1987/0042")).id()
	coat := treatment(skull, "coating", "2012")
	coat["materials"] = array{object{"used": object{"material": object{"id": "poly-vinyl-acetate-resin"}}, "role": "coating"}}
	s.create("/v1/treatments", coat)
	r := s.as(asPage, "/v1/specimens/"+skull+"/papers/bench-sheet").want(200)
	said := wordsOf(r)
	at := 0
	for _, want := range []string{
		"Bench sheet for removal: LV.1987/0042", "Hazards not recorded: ", "Before you begin", "1 layer could come off",
		"Authorised by", "Step 1",
		"seen: dissolves", "Highly flammable liquid and vapour (H225)", "Tested at an inconspicuous place.",
		"Carried out.", "Liquid really used",
		"What came off, what is left", "Afterwards", "Recorded in the catalogue.", "Cautions", "The safety data sheet of the product",
	} {
		i := strings.Index(said[at:], want)
		if i < 0 {
			t.Fatalf("the sheet lacks %q, or in another order:\n%s", want, said)
		}
		at += i
	}
	if n := bytes.Count(r.body, []byte(`class="box"`)); n < 6 {
		t.Errorf("the sheet has %d boxes to tick", n)
	}
}

// proposed is a plan for a specimen, with what was considered.
func proposed(s *service, specimen string) {
	plan := object{"treatment": treatment(specimen, "coating", "2027"), "reason": object{"text": "The surface powders"},
		"options": array{object{"what": "Do nothing", "why": "Powder is lost", "chosen": false},
			object{"what": "Coat it", "chosen": true}}, "risks": object{"text": "Gloss"}}
	s.create("/v1/plans", plan)
}

// The other papers have what their readers look for, in the order in which it is needed.
func TestPapersOfAJourneyAndAProposal(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull, _, _ := treated(s)
	joint := treatment(skull, "joining", "1996")
	joint["materials"] = array{object{"used": object{"material": object{"id": "poly-vinyl-acetate-resin"}}, "role": "adhesive"}}
	joint["joint"] = object{"carriesLoad": "unknown"}
	joint["images"] = array{object{"url": "https://images.lower-valley.example/j.tif", "stage": "after",
		"sha256": strings.Repeat("ab", 32)}}
	s.create("/v1/treatments", joint)
	proposed(s, skull)
	s.seal()
	for name, wanted := range map[string][]string{
		"examination-report": {"Hazards not recorded", "The specimen", "No examination is on record",
			"Treatments on record", "1. Joining", "What is on it",
			"Proposal 1: Coating", "Planned for: 2027", "Do nothing", "Powder is lost", "Reason: The surface powders",
			"Risks: Gloss", "Authorisation: none on record",
			"Record: revision 1, entry ", "Approved as proposed.", "Signature", "Cautions"},
		"loan-sheet": {"Hazards not recorded", "Temperature", "Unknown: one layer is without evidence",
			"no limit known", "Relative humidity", "Joints, fills and mounts", "1. Joining", "Bears load: unknown",
			"What must not happen", "no sampling", "Condition before the journey", "Last on record", "Leaving the owner", "Signature",
			"Arriving at the borrower", "Leaving the borrower", "Back with the owner", "Signature", "Cautions"},
		"hand-over": {"Hazards not recorded", "The specimen", "Treatments on record", "1. Joining", "Joints, fills and mounts",
			"1. Joining", "Plans on record",
			"1. Coating (skull/left-orbit)",
			"Pictures and documents", "SHA-256 digest: abababab", "j.tif", "Handed over", "Taken over by", "Signature",
			"Cautions", "up to entry 10,"},
	} {
		inOrder(t, name, s.paper(skull, name), wanted)
	}
}

// A recipe is a card for the bench: the answer first, a box for each step, and a line for
// what was really weighed.
func TestARecipeIsACard(t *testing.T) {
	t.Parallel()
	s := newService(t)
	ask := object{"resin": object{"solid": object{"material": "ethyl-methacrylate-methyl-acrylate-copolymer"}},
		"solvent":  object{"liquid": object{"material": "acetone"}},
		"strength": object{"value": 20, "unit": "g/dL", "basis": "mass-per-solution-volume"},
		"amount":   object{"finished": jsonQuantity("150", "mL")}}
	r := s.do(http.MethodPost, "/v1/compute/make-up", ask, header{"Accept", "text/html"}).want(200)
	text := string(s.do(http.MethodPost, "/v1/compute/make-up?detail=full", ask, header{"Accept", asText}).want(200).body)
	answer, _, _ := strings.Cut(text, "\n")
	said, at := wordsOf(r), 0
	for _, want := range []string{"Recipe card: make up", "Answer", answer, "Steps", "1. Take", "2. Mark",
		"3. Pour in", "Really weighed or measured", "4. ", "weigh in", "Really weighed or measured",
		"6. Fill to the mark", "Really weighed or measured", "7. Label", "Made", "Code of the batch", "Cautions", "The safety data sheet of the product", "It is on record only when"} {
		i := strings.Index(said[at:], want)
		if i < 0 {
			t.Fatalf("the card lacks %q, or in another order:\n%s", want, said)
		}
		at += i
	}
	if n := strings.Count(said, "Really weighed or measured"); n != 3 { // of what goes in, and of no vessel, mark or label
		t.Errorf("got %d lines for what was weighed, want 3:\n%s", n, said)
	}
	body := s.do(http.MethodPost, "/v1/compute/make-up", ask, header{"Accept", "application/pdf"}).want(200).body
	if !bytes.HasPrefix(body, []byte("%PDF-")) {
		t.Errorf("got %.40s, want a PDF", body)
	}
}

// Joints under load and damaged ones are marked where joints are listed.
func TestJointsUnderLoadAreMarked(t *testing.T) {
	t.Parallel()
	s := newService(t)
	bone := s.create("/v1/specimens", specimen("J.1")).id()
	join := func(area, date string, load any) string {
		st := treatment(bone, "joining", date)
		st["areas"] = object{"paths": array{area}}
		st["materials"] = array{object{"used": object{"material": of("poly-n-butyl-methacrylate")}, "role": "adhesive"}}
		if load != nil {
			st["joint"] = object{"carriesLoad": load}
		}
		return s.create("/v1/treatments", st).id()
	}
	join("femur", "1990", "yes")
	join("rib", "1991", "no")
	join("tail", "1992", nil)
	slumped := join("neck", "1993", "yes")
	damage := treatment(bone, "damage", "2020-07")
	damage["damage"] = object{"kind": "slumped", "treatments": array{object{"id": slumped}}}
	s.create("/v1/treatments", damage)
	for _, paper := range []string{"loan-sheet", "hand-over"} {
		page := s.as(asPage, "/v1/specimens/"+bone+"/papers/"+paper).want(200)
		said := wordsOf(page)
		for _, want := range []string{"UNDER LOAD: 1. Joining (femur)", "It bears load: support what it holds",
			"2. Joining (rib)", "It bears no load, as recorded.", "Whether it bears load is not recorded",
			"DAMAGED: 4. Joining (neck)", "Damage: slumped (treatment 5, July 2020)."} {
			if !strings.Contains(said, want) {
				t.Errorf("%s lacks %q:\n%s", paper, want, said)
			}
		}
		if n := bytes.Count(page.body, []byte(`<strong dir="auto">UNDER LOAD`)); n != 1 || strings.Count(said, "DAMAGED: ") != 1 {
			t.Errorf("%s: %d joints are marked as under load:\n%s", paper, n, said)
		}
	}
}

// Every computation has its card as a page, recipes as a PDF too: its answer first, a box for each of its
// steps, lines to write on, and what it defers to. Where something is mixed, it is a recipe.
func TestEveryComputationIsACard(t *testing.T) {
	t.Parallel()
	s := newService(t)
	mixed := map[string]bool{"make-up": true, "dilute": true, "blend": true, "adjust": true, "formaldehyde": true}
	cards := 0
	for _, e := range examples(t, nil) {
		if !strings.HasPrefix(e.path, "/v1/compute/") {
			continue
		}
		cards++
		text := string(s.do(http.MethodPost, e.path+"?detail=full", []byte(e.body), header{"Accept", asText}).want(200).body)
		answer, _, _ := strings.Cut(text, "\n")
		r := s.do(http.MethodPost, e.path, []byte(e.body), header{"Accept", asPage}).want(200)
		title := "card: " // of ethanol and water, and of a blend, either
		if name := strings.TrimPrefix(e.path, "/v1/compute/"); mixed[name] {
			title = "Recipe card: "
		} else if name == "vapour" || name == "convert" {
			title = "Bench card: "
		}
		said, at := wordsOf(r), 0
		for _, want := range []string{title, "Answer", answer, "Date", "Name", "Cautions", "The safety data sheet of the product"} {
			i := strings.Index(said[at:], want)
			if i < 0 {
				t.Errorf("%s lacks %q, or in another order:\n%s", e.path, want, said)
				break
			}
			at += i
		}
		steps := len(regexp.MustCompile(`(?m)^\d+\. `).FindAllString(text, -1))
		if boxes := bytes.Count(r.body, []byte(`class="box"`)); steps != boxes {
			t.Errorf("%s has %d boxes for %d steps", e.path, boxes, steps)
		}
		want := 406
		if name := strings.TrimPrefix(e.path, "/v1/compute/"); mixed[name] && name != "formaldehyde" {
			want = 200
		}
		body := s.do(http.MethodPost, e.path, []byte(e.body), header{"Accept", "application/pdf"}).want(want).body
		if want == 200 && !bytes.HasPrefix(body, []byte("%PDF-")) {
			t.Errorf("%s: got %.40s, want a PDF", e.path, body)
		}
	}
	if cards != 12 {
		t.Errorf("got %d computations, want 12", cards)
	}
}

// inOrder wants words in a text, one after the other.
func inOrder(t *testing.T, name, said string, wanted []string) {
	t.Helper()
	at := 0
	for _, want := range wanted {
		i := strings.Index(said[at:], want)
		if i < 0 {
			t.Errorf("%s lacks %q, or in another order:\n%s", name, want, said)
			return
		}
		at += i
	}
}
