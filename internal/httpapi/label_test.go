package httpapi_test

import (
	"bytes"
	"encoding/xml"
	"io"
	"net/http"
	"strings"
	"testing"
)

// saying is what the first piece of a label says of an element.
func saying(r reply, piece int, element string) string {
	var out []string
	for i := range r.at("pieces", piece, "says").([]any) {
		if r.at("pieces", piece, "says", i, "element") == element {
			out = append(out, r.at("pieces", piece, "says", i, "text").(string))
		}
	}
	return strings.Join(out, " ")
}

// labelled is a jar of 150 mL with 30 g of a resin, filled to the mark.
func labelled(s *service) reply {
	resin := s.create("/v1/supplies", object{"code": "S-1", "material": object{"id": "ethyl-methacrylate-methyl-acrylate-copolymer"}}).id()
	solvent := s.create("/v1/supplies", object{"code": "S-2", "material": object{"id": "acetone"}}).id()
	return s.create("/v1/batches", object{"code": "B-1", "kind": "solution", "finished": ml(150), "made": object{"edtf": "2026-03-02"},
		"expires": object{"edtf": "2027-03"}, "madeBy": array{object{"person": object{"name": "Tomas Brandl"}, "part": "carried-out"}},
		"clearCheck": object{"result": "pellets-left", "date": object{"edtf": "2026-03-03"}, "by": object{"name": "Nadia Okeke"}},
		"container":  object{"material": "glass", "capacity": object{"value": 0.2, "unit": "L"}},
		"inputs": array{into(object{"supply": of(resin)}, "solute", object{"quantity": object{"value": 30, "unit": "g"}}),
			into(object{"supply": of(solvent)}, "solvent", object{"answer": "unknown"})}})
}

func TestLabelOfABatch(t *testing.T) {
	t.Parallel()
	s := newService(t)
	jar := labelled(s)
	path := "/v1/batches/" + jar.id() + "/label"
	got := s.do(http.MethodGet, path, nil).want(200)
	for element, want := range map[string]string{
		"name": "Ethyl methacrylate/methyl acrylate copolymer", "strength": "20 g per 100 mL solution (as measured)", "code": "B-1",
		"made": "Made: 2 March 2026, by Tomas Brandl", "check": "Checked 3 March 2026 by Nadia Okeke: pellets left", "expires": "Use by: March 2027",
		"made-from": "From: S-1, S-2", "signal-word": "Danger", "owner": "Museum of the Lower Valley", "strength-now": "",
	} {
		if said := saying(got, 0, element); !strings.HasPrefix(said, want) || want == "" && said != "" {
			t.Errorf("%s: got %q, want %q", element, said, want)
		}
	}
	if said := saying(got, 0, "name"); !strings.HasSuffix(said, " in acetone") {
		t.Errorf("got %q, want the solvent named", said)
	}
	if !strings.Contains(saying(got, 0, "hazard"), "Highly flammable liquid and vapour.") || !strings.Contains(saying(got, 0, "hazards-unknown"), "copolymer") {
		t.Errorf("got %s, want the hazards of acetone, and those of the resin not known", got.body)
	}
	if got.at("capacity", "value") != 200.0 || got.at("capacityFrom") != "record" || got.at("address") != "https://meniscus.example/v1/batches/"+jar.id() {
		t.Errorf("got %s, want the capacity on record and the address", got.body)
	}

	small := s.do(http.MethodGet, path+"?capacity=30", nil).want(200)
	if small.at("capacityFrom") != "request" || saying(small, 0, "precaution") != "" || saying(small, 1, "precaution") == "" || len(small.at("leftOut").([]any)) == 0 {
		t.Errorf("got %s, want two pieces, the small one without precautions", small.body)
	}

	s.create("/v1/amount-changes", object{"batch": of(jar.id()), "kind": "evaporated", "amount": ml(30), "date": object{"edtf": "2026-04"}})
	toluene := s.create("/v1/supplies", object{"code": "S-3", "material": object{"id": "toluene"}}).id()
	s.create("/v1/amount-changes", object{"batch": of(jar.id()), "kind": "topped-up", "amount": ml(30), "date": object{"edtf": "2026-05"}, "with": object{"supply": of(toluene)}})
	later := s.do(http.MethodGet, path, nil).want(200)
	if now := saying(later, 0, "strength-now"); !strings.HasPrefix(now, "Now 20 g per 100 mL solution") {
		t.Errorf("got %q, want the strength after evaporation and topping up", now)
	}
	if name := saying(later, 0, "name"); !strings.HasSuffix(name, " in acetone and toluene") || !strings.Contains(saying(later, 0, "hazard"), "May be fatal if swallowed and enters airways.") {
		t.Errorf("got %s, want toluene and its hazards since it was poured in", later.body)
	}
	bottle := s.do(http.MethodPost, "/v1/batches/"+jar.id()+"/bottles", object{"filled": object{"edtf": "2026-06"}, "bottles": array{object{"code": "B-1-1", "amount": object{"value": 20, "unit": "mL"}}}},
		header{"Idempotency-Key", "one"}).want(201).at("items", 0, "id").(string)
	of := s.do(http.MethodGet, "/v1/batches/"+bottle+"/label", nil).want(200)
	if made := saying(of, 0, "made"); made != "Filled: June 2026, by whom is not recorded" || of.at("capacityFrom") != "assumed" {
		t.Errorf("got %q from %v, want a bottle that was filled, of an assumed capacity", made, of.at("capacityFrom"))
	}
	if hazards := saying(of, 0, "hazard"); !strings.Contains(hazards, "airways") {
		t.Errorf("got %q, want the hazards of all that was in the jar", hazards)
	}
}

func TestLabelAsPictureAndToPrint(t *testing.T) {
	t.Parallel()
	s := newService(t)
	jar := labelled(s)
	path := "/v1/batches/" + jar.id() + "/label?capacity=100"
	drawn := s.do(http.MethodGet, path, nil, header{"Accept", "image/svg+xml"}).want(200)
	for d := xml.NewDecoder(bytes.NewReader(drawn.body)); ; {
		if _, err := d.Token(); err == io.EOF {
			break
		} else if err != nil {
			t.Fatalf("%v in %s", err, drawn.body)
		}
	}
	pdf := header{"Accept", "application/pdf"}
	first, again := s.do(http.MethodGet, path, nil, pdf).want(200), s.do(http.MethodGet, path, nil, pdf).want(200)
	if !bytes.HasPrefix(first.body, []byte("%PDF-")) || !bytes.Equal(first.body, again.body) || first.header.Get("Content-Type") != "application/pdf" {
		t.Errorf("got %.40q and %.40q, want one PDF twice", first.body, again.body)
	}
	if etag := first.header.Get("ETag"); etag == "" || etag != again.header.Get("ETag") {
		t.Errorf("got the ETags %q and %q", etag, again.header.Get("ETag"))
	}
	if sheet := s.do(http.MethodGet, path+"&copies=12", nil, pdf).want(200); len(sheet.body) <= len(first.body) {
		t.Errorf("got %d bytes for twelve, want more than %d", len(sheet.body), len(first.body))
	}
	s.do(http.MethodGet, path+"&copies=12", nil).wantProblem(400, "malformed-request")
	s.do(http.MethodGet, path+"0000000", nil).wantProblem(400, "malformed-request")
	s.do(http.MethodGet, path, nil, header{"Accept", "image/png"}).wantProblem(406, "media-type-not-given")
	s.do(http.MethodGet, "/v1/batches/0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7aaa/label", nil).wantProblem(404, "batch-unknown")
}

// What nobody knows, what was retracted and what was redacted is said on the
// label, in every form of it.
func TestLabelOfWhatIsNotKnown(t *testing.T) {
	t.Parallel()
	s := newService(t)
	old := s.create("/v1/batches", object{"code": "old jar", "kind": "solution", "inputs": array{
		into(object{"words": object{"verbatim": "clear varnish", "certainty": "unknown"}}, "solute", object{"answer": "unknown"})}})
	got := s.do(http.MethodGet, "/v1/batches/"+old.id()+"/label", nil).want(200)
	if saying(got, 0, "name") != "“clear varnish”" || saying(got, 0, "hazards-unknown") != "Hazards not known: see the safety data sheet." ||
		!strings.HasPrefix(saying(got, 0, "strength"), "Strength not known: ") || saying(got, 0, "signal-word") != "" {
		t.Errorf("got %s, want it said what is not known", got.body)
	}
	asked := s.create("/v1/batches", object{"code": "B-7", "kind": "solution", "recipe": object{"strength": object{"value": 15, "unit": "g/dL", "basis": "mass-per-solution-volume"}}, "state": "discarded"})
	got = s.do(http.MethodGet, "/v1/batches/"+asked.id()+"/label", nil).want(200)
	if strength := saying(got, 0, "strength"); !strings.Contains(strength, "15 g/dL of solution (as the recipe asked, not measured)") || !strings.Contains(saying(got, 0, "notice"), "DISCARDED") {
		t.Errorf("got %s, want the recipe's strength, and that it was discarded", got.body)
	}

	jar := labelled(s)
	s.do(http.MethodPost, "/v1/records/"+jar.id()+"/retraction", object{"reason": "The wrong jar."}, header{"If-Match", "*"}).want(201)
	got = s.do(http.MethodGet, "/v1/batches/"+jar.id()+"/label", nil).want(200)
	if saying(got, 0, "notice") != "RETRACTED: The wrong jar." || saying(got, 0, "code") != "B-1" || saying(got, 0, "strength") != "Strength not known: the record was retracted" ||
		!strings.Contains(saying(got, 0, "hazard"), "flammable") {
		t.Errorf("got %s, want it retracted, its code, and the hazards of what was in it", got.body)
	}
	if drawn := s.do(http.MethodGet, "/v1/batches/"+jar.id()+"/label", nil, header{"Accept", "image/svg+xml"}).want(200); !strings.Contains(string(drawn.body), "RETRACTED: The wrong jar.</text>") {
		t.Errorf("got %s, want it drawn that it was retracted", drawn.body)
	}
	s.do(http.MethodPost, "/v1/records/"+jar.id()+"/redaction", object{"reason": "Asked for."}, header{"If-Match", "*"}).want(201)
	got = s.do(http.MethodGet, "/v1/batches/"+jar.id()+"/label", nil).want(200)
	if notice := saying(got, 0, "notice"); !strings.Contains(notice, "redacted") || strings.Contains(string(got.body), "Tomas Brandl") || strings.Contains(string(got.body), "wrong jar") {
		t.Errorf("got %s, want it said that the words were redacted, and none of them", got.body)
	}
	if saying(got, 0, "code") != "Code not known" || saying(got, 0, "hazards-unknown") == "" {
		t.Errorf("got %s, want it said that code and hazards are not known", got.body)
	}
}
