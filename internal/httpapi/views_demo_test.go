package httpapi_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"testing"

	"github.com/google/uuid"

	"meniscus/testdata/demo"
)

// TestViewsAgreeOnTheDemo compares what every view says of the demo's specimens.
func TestViewsAgreeOnTheDemo(t *testing.T) {
	t.Parallel()
	s := newPastService(t)
	specimens, stock := s.loadDemo()
	s.refreshPast()
	l := s.ledgers()
	for n, id := range specimens {
		h := s.readPast(id)
		if n == 0 {
			h.stock = stock
		}
		for _, said := range compared(h, &l).compare() {
			t.Errorf("%s: %s", id, said)
		}
	}
	if len(specimens) < 6 || len(stock) < 5 {
		t.Errorf("got %d specimens and %d batches, want the museum", len(specimens), len(stock))
	}
}

// demoRequest is a request of the demo's museum.
type demoRequest struct{ path, body string }

func demoRequests(t testing.TB) (all []demoRequest) {
	t.Helper()
	for text := range bytes.Lines(demo.Museum) {
		var line struct {
			Path string
			Body json.RawMessage
		}
		if err := json.Unmarshal(text, &line); err != nil {
			t.Fatal(err)
		}
		all = append(all, demoRequest{line.Path, string(line.Body)})
	}
	return all
}

// loadDemo records the demo's museum and gives its specimens and batches.
func (s *service) loadDemo() (specimens, batches []string) {
	s.t.Helper()
	for _, line := range demoRequests(s.t) {
		r := s.do(http.MethodPost, line.path, line.body, header{"If-Match", "*"}, header{"Idempotency-Key", uuid.NewString()})
		if r.status/100 != 2 {
			s.t.Fatalf("%s: got %d: %s", line.path, r.status, r.body)
		}
		switch line.path {
		case "/v1/specimens":
			specimens = append(specimens, r.id())
		case "/v1/batches":
			batches = append(batches, r.id())
		}
	}
	return specimens, batches
}

// readPast reads what is on record of a specimen as the plain values that a
// generated history is made of.
func (s *service) readPast(id string) *told {
	s.t.Helper()
	h := &told{museum: s, records: map[int]string{0: id}, ids: map[int]string{}}
	words := s.do(http.MethodGet, "/v1/specimens/"+id, nil).want(200).at("statement").(object)
	sp := pastSpecimen{hazards: map[string]string{}}
	for _, x := range objectsIn(words["hazards"]) {
		sp.hazards[x["hazard"].(string)] = x["status"].(string)
	}
	h.specimens = []pastSpecimen{sp}
	keys := map[any]int{}
	list := objectsIn(s.do(http.MethodGet, "/v1/specimens/"+id+"/treatments?limit=500", nil).want(200).at("items"))
	for i, item := range list {
		h.ids[i+1], keys[item["id"]] = item["id"].(string), i+1
	}
	for i, item := range list {
		h.list = append(h.list, readTreatment(i+1, item["statement"].(object), keys))
	}
	return h
}

func readTreatment(key int, words object, keys map[any]int) pastTreatment {
	text := func(v any) string { return orNothing(v) }
	t := pastTreatment{key: key, action: text(words["action"]), method: text(words["method"]), partial: words["partialBath"] == true}
	t.areas, t.date = textsIn(words["areas"].(object)["paths"]), text(words["dates"].(object)["edtf"])
	for _, x := range objectsIn(words["materials"]) {
		t.uses = append(t.uses, readUse(x))
	}
	t.nothing = words["materials"] != nil && len(t.uses) == 0
	for _, x := range objectsIn(words["solventExposure"]) {
		one := pastExposure{solvent: text(x["solvent"])}
		if q, ok := x["time"].(object)["quantity"].(object); ok {
			one.said = fmt.Sprint(q["value"], " ", q["unit"])
		}
		t.exposures = append(t.exposures, one)
	}
	if r, ok := words["removal"].(object); ok {
		t.left = text(r["left"])
		for _, of := range r["treatments"].([]any) {
			t.removes = append(t.removes, keys[of.(object)["id"]])
		}
	}
	if x, ok := words["test"].(object); ok {
		if layer, ok := x["layer"].(object); ok {
			t.tested = keys[layer["id"]]
		}
		t.solvent, t.observed = text(x["solvent"]), text(x["observed"])
	}
	if x, ok := words["examination"].(object); ok {
		t.outcome = text(x["outcome"])
	}
	return t
}

func readUse(words object) pastUse {
	u := pastUse{role: orNothing(words["role"])}
	used := words["used"].(object)
	if m, ok := used["material"].(object); ok {
		u.material, u.certainty = m["id"].(string), orNothing(m["certainty"])
		for _, x := range objectsIn(m["solvents"]) {
			u.solvents = append(u.solvents, x["id"].(string))
		}
		return u
	}
	if w, ok := used["words"].(object); ok {
		u.words, u.certainty, u.candidates = w["verbatim"].(string), w["certainty"].(string), textsIn(w["candidates"])
		return u
	}
	for from := range used {
		u.from = strings.ToUpper(from) // any but the jar of a generated history
	}
	return u
}
