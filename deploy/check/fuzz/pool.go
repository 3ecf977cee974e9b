package main

import (
	"fmt"
	"math/rand/v2"
	"net/http"
	"regexp"
	"strings"
)

// pool keeps what answers gave, for later requests of the same round.
type pool struct {
	ids     map[string][]string // by kind of record
	tags    map[string]string   // the last ETag of a path
	cursors []string
	keys    []string // access keys in their text, the round's own first
	foreign []string // the keys of a second institution
	never   string   // the id of the round's own key, which stays in force
	exports []string // what exports and packages answered
	stated  map[string]statement
}

// statement is the last statement of a record, for amendments to begin with.
type statement struct {
	kind  string
	value object
}

func newPool() *pool {
	return &pool{ids: map[string][]string{}, tags: map[string]string{}, stated: map[string]statement{}}
}

// mostKept bounds each kind, so that a round's memory is bounded.
const mostKept = 400

func (p *pool) keep(kind, id string) {
	if kind == "" || id == "" || id == p.never || len(p.ids[kind]) >= mostKept {
		return
	}
	for _, known := range p.ids[kind] {
		if known == id {
			return
		}
	}
	p.ids[kind] = append(p.ids[kind], id)
}

// any is an id of a kind, the latest more often; "" when there is none.
func (p *pool) any(rng *rand.Rand, kind string) string {
	ids := p.ids[kind]
	if len(ids) == 0 {
		return ""
	}
	if rng.IntN(3) == 0 {
		return ids[len(ids)-1-rng.IntN(min(len(ids), 5))]
	}
	return ids[rng.IntN(len(ids))]
}

// recordKinds are the kinds that /v1/records/{recordId} knows.
var recordKinds = []string{"person", "specimen", "supply", "batch", "treatment", "plan", "amountChange", "material"}

func (p *pool) anyRecord(rng *rand.Rand) string {
	for range 10 {
		if id := p.any(rng, recordKinds[rng.IntN(len(recordKinds))]); id != "" {
			return id
		}
	}
	return ""
}

// learn takes from an answer what later requests can use.
func (p *pool) learn(op *operation, target string, a *reply) {
	if op == nil || a == nil || a.status >= http.StatusBadRequest {
		return
	}
	path, _, _ := strings.Cut(target, "?")
	if tag := a.header.Get("ETag"); tag != "" {
		p.tags[path] = tag
	}
	body, _ := parse(a.body).(object)
	kind := kindOf[collection(op.path)]
	p.learnRecord(kind, body, a.header.Get("ETag"))
	for _, name := range []string{"items", "bottles", "treatments"} {
		items, _ := body.at(name).(list)
		for _, item := range items {
			if o, ok := item.(object); ok {
				p.learnRecord(kind, o, "")
			}
		}
	}
	if next, ok := body.at("next").(object); ok {
		p.learnCursor(text(next))
	}
	if key, ok := body.at("secret").(string); ok && op.id == "createAccessKey" && len(p.keys) < 50 {
		p.keys = append(p.keys, key)
	}
	if (op.id == "exportRecords" || op.id == "packSpecimen") && len(p.exports) < 20 && len(a.body) < 1<<19 {
		p.exports = append(p.exports, string(a.body))
	}
}

func (p *pool) learnRecord(kind string, o object, tag string) {
	id, _ := o.at("id").(string)
	if said, ok := o.at("kind").(string); ok && contains(recordKinds, camel(said)) {
		kind = camel(said)
	}
	p.keep(kind, id)
	if tag != "" && id != "" {
		p.tags["/v1/records/"+id] = tag
	}
	if value, ok := o.at("statement").(object); ok && id != "" {
		p.stated[id] = statement{kind, value}
	}
}

var cursorIn = regexp.MustCompile(`cursor=([A-Za-z0-9_=-]+)`)

func (p *pool) learnCursor(next string) {
	if found := cursorIn.FindStringSubmatch(next); found != nil && len(p.cursors) < mostKept {
		p.cursors = append(p.cursors, found[1])
	}
}

// tagOf is the ETag of a record as it was last seen.
func (p *pool) tagOf(id string) string {
	for _, known := range []string{"records", "specimens", "batches", "supplies", "treatments", "plans", "people", "materials", "report-schedules"} {
		if tag := p.tags[fmt.Sprintf("/v1/%s/%s", known, id)]; tag != "" {
			return tag
		}
	}
	return ""
}

func camel(word string) string {
	if word == "amount-change" {
		return "amountChange"
	}
	return word
}

func contains(words []string, word string) bool {
	for _, w := range words {
		if w == word {
			return true
		}
	}
	return false
}
