package httpapi_test

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"meniscus/internal/edtf"
	"meniscus/internal/httpapi"
)

// pastDay is the day that all views are asked about; the service's clock says the
// same.
const pastDay = "2025-01-01"

// newPastService is a service that believes that it is pastDay.
func newPastService(t testing.TB) *service {
	t.Helper()
	s := newService(t)
	clock := func() time.Time { return time.Date(2025, 1, 1, 12, 0, 0, 0, time.UTC) }
	s.url = listen(t, mustServe(t, httpapi.Config{Store: s.store, PublicURL: publicURL, Now: clock})).URL
	return s
}

const publicURL = "https://meniscus.example"

func (s *service) refreshPast() { s.t.Helper(); s.refreshOn(edtf.Day{Year: 2025, Month: 1, Day: 1}) }

// told is a history on record: the ids of what it is made of.
type told struct {
	past
	museum      *service
	records     map[int]string // of specimens, by key
	ids         map[int]string // of treatments, by key
	jar, bottle string
	stock       []string // the batches whose labels are compared
}

// tell records a history.
func (s *service) tell(p past) *told {
	s.t.Helper()
	h := &told{past: p, museum: s, records: map[int]string{}, ids: map[int]string{}}
	h.makeStock()
	for _, sp := range slices.Backward(p.specimens) { // what the first came from is there before it
		h.records[sp.key] = h.makeSpecimen(sp)
	}
	for i := range p.list {
		h.treat(&p.list[i])
	}
	for _, sp := range slices.Backward(p.specimens) { // what is merged into one that is merged itself comes first
		if sp.came == "merged" || sp.came == "undone" {
			s.merge(h.records[sp.key], h.records[sp.into]).want(201)
		}
		if sp.came == "undone" {
			s.undo(h.records[sp.key]).want(201)
		}
	}
	return h
}

func (h *told) code(name string) string {
	return fmt.Sprintf("%s-%d-%s", name, h.number, h.museum.inst.String()[24:])
}

func (h *told) makeStock() {
	s := h.museum
	h.jar = s.create("/v1/batches", object{"code": h.code("J"), "kind": "solution", "finished": ml(150), "inputs": array{
		into(object{"material": of(copolymer)}, "solute", g(h.past.jar.grams)),
		into(object{"material": of("acetone")}, "solvent", object{"answer": "unknown"})}}).id()
	h.bottle = h.jar
	if h.past.jar.bottled {
		h.bottle = s.do(http.MethodPost, "/v1/batches/"+h.jar+"/bottles",
			object{"bottles": array{object{"code": h.code("F"), "amount": object{"value": 60, "unit": "mL"}}}},
			header{"Idempotency-Key", h.code("fill")}).want(201).at("items", 0, "id").(string)
	}
	h.stock = sorted([]string{h.jar, h.bottle})
	for i, c := range h.past.jar.changes {
		change := object{"batch": of([]string{h.jar, h.bottle}[i%2]), "kind": c.kind, "amount": ml(c.ml)}
		if c.ml == 0 {
			change["amount"] = object{"answer": "unknown"}
		}
		if c.date != "" {
			change["date"] = object{"edtf": c.date}
		}
		if c.kind == "topped-up" {
			change["with"] = object{"material": of("acetone")}
		}
		s.create("/v1/amount-changes", change)
	}
}

func (h *told) numberOf(sp pastSpecimen) string { return fmt.Sprintf("%s.%d", h.code("LV"), sp.key) }

func (h *told) makeSpecimen(sp pastSpecimen) string {
	st := specimen(h.numberOf(sp))
	st["areas"] = array{object{"path": "skull/orbit"}, object{"path": "jaw"}, object{"path": "tail", "separate": sp.apart},
		object{"path": "ribs"}}
	var hazards array
	for _, name := range pastHazards {
		if status := sp.hazards[name]; status != "" {
			hazards = append(hazards, object{"hazard": name, "status": status})
		}
	}
	if hazards != nil {
		st["hazards"] = hazards
	}
	if sp.left != "" {
		st["passedOn"] = object{"to": "Museum of the Far Shore", "date": object{"edtf": sp.left}}
	}
	if sp.key == 0 {
		for _, other := range h.specimens {
			switch from := h.records[other.key]; other.came {
			case "parent":
				st["areas"] = array{object{"path": "skull/orbit"}, object{"path": "skull/nasal"}}
				return h.museum.split(from, object{
					"areas": array{splitArea}, "date": object{"edtf": splitDay}, "reason": "Lifted as a block.", "statement": st,
				}).want(201).id()
			case "sampled":
				st["sampleOf"] = object{"specimen": object{"id": from}, "area": "skull"}
			}
		}
	}
	return h.museum.create("/v1/specimens", st).id()
}

// treat records a treatment as it was first said, and what was said of it later.
func (h *told) treat(t *pastTreatment) {
	s, first := h.museum, t
	if t.first != nil {
		first = t.first
	}
	r := s.create("/v1/treatments", h.statement(first))
	h.ids[t.key] = r.id()
	if t.first != nil {
		r = s.amend(r, h.statement(t))
	}
	path := "/v1/records/" + r.id()
	switch t.fate {
	case "retracted", "returned":
		s.do(http.MethodPost, path+"/retraction", object{"reason": "Another bone."}, anyTag).want(201)
	case "redacted":
		s.do(http.MethodPost, path+"/redaction", object{"reason": "Asked for."}, anyTag).want(201)
	}
	if t.fate == "returned" {
		s.do(http.MethodPost, path+"/amendments", object{"reason": "It was this one.", "statement": h.statement(t)},
			anyTag).want(201)
	}
}

func (h *told) statement(t *pastTreatment) object {
	st := object{"specimen": of(h.records[t.on]), "action": t.action, "areas": object{"answer": "unknown"},
		"dates": object{"answer": "unknown"}}
	if len(t.areas) > 0 {
		st["areas"] = object{"paths": t.areas}
	}
	if t.date != "" {
		st["dates"] = object{"edtf": t.date}
	}
	if t.method != "" {
		st["method"] = t.method
	}
	if t.partial {
		st["partialBath"] = true
	}
	if t.uses != nil || t.nothing {
		uses := array{}
		for _, u := range t.uses {
			uses = append(uses, h.use(u))
		}
		st["materials"] = uses
	}
	var exposures array
	for _, x := range t.exposures {
		time := object{"answer": "unknown"}
		if x.hours > 0 {
			time = object{"quantity": object{"value": x.hours, "unit": "h"}}
		}
		exposures = append(exposures, object{"solvent": x.solvent, "time": time, "during": "cleaning"})
	}
	if exposures != nil {
		st["solventExposure"] = exposures
	}
	if t.over > 0 && h.ids[t.over] != "" {
		st["relations"] = array{object{"relation": "over", "treatment": object{"id": h.ids[t.over]}}}
	}
	h.outcome(t, st)
	return st
}

func (h *told) outcome(t *pastTreatment, st object) {
	switch t.action {
	case "removal":
		removed := array{}
		for _, key := range t.removes {
			removed = append(removed, object{"id": h.ids[key]})
		}
		st["removal"] = object{"treatments": removed, "left": t.left}
		if t.left == "not-detected" {
			st["removal"].(object)["method"] = "infrared spectroscopy"
		}
	case "test":
		test := object{"solvent": t.solvent, "observed": t.observed}
		if t.tested > 0 {
			test["layer"] = object{"id": h.ids[t.tested]}
		}
		st["test"] = test
	case "labelling":
		st["label"] = object{"numberRecorded": true}
	case "examination":
		st["examination"] = object{"outcome": t.outcome, "how": "under ultraviolet light"}
	}
}

func (h *told) use(u pastUse) object {
	out := object{}
	if u.role != "" {
		out["role"] = u.role
	}
	switch {
	case u.words != "":
		words := object{"verbatim": u.words, "certainty": u.certainty}
		if len(u.candidates) > 0 {
			words["candidates"] = u.candidates
		}
		out["used"] = object{"words": words}
	case u.from != "":
		out["used"] = object{"batch": of(map[string]string{"jar": h.jar, "bottle": h.bottle}[u.from])}
	default:
		m := object{"id": u.material}
		if u.certainty != "" {
			m["certainty"] = u.certainty
		}
		if value, unit, ok := strings.Cut(u.strength, " "); ok {
			m["strength"] = object{"value": jsonNumber(value), "unit": unit, "basis": "mass-per-solution-volume"}
		}
		var shares array
		for _, s := range u.solvents {
			shares = append(shares, object{"id": s})
		}
		if shares != nil {
			m["solvents"] = shares
		} else if u.solventsAnswer != "" {
			m["solventsAnswer"] = u.solventsAnswer
		}
		out["used"] = object{"material": m}
	}
	return out
}
