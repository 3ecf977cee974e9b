package main

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"net/http"
	"regexp"
	"slices"
	"strings"
)

// pool stores values from answers, for later requests of the same round.
type pool struct {
	ids     map[string][]string // by kind of record
	tags    map[string]string   // the last ETag of a path
	cursors map[string][]string // by operation
	keys    []string            // access keys in their text, the round's own first
	foreign []string            // the keys of a second institution
	never   string              // the id of the round's own key, which stays in force
	founder string              // who recorded the first entry
	exports map[string][]string // answers of exports and packages, by operation
	stated  map[string]statement
}

// statement is the last statement of a record, from which amendments are made.
type statement struct {
	kind  string
	value object
}

func newPool() *pool {
	return &pool{ids: map[string][]string{}, tags: map[string]string{}, cursors: map[string][]string{},
		exports: map[string][]string{}, stated: map[string]statement{}}
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

// any is an id of a kind, more often a late one; "" if there is none.
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

// latest is the id of a kind that was kept last; "" when there is none.
func (p *pool) latest(kind string) string {
	if ids := p.ids[kind]; len(ids) > 0 {
		return ids[len(ids)-1]
	}
	return ""
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

// learn stores what later requests can use of an answer. Answers to another
// institution's key are stored separately.
func (p *pool) learn(r *request, a *reply) {
	if r.op == nil || a == nil || a.status >= http.StatusBadRequest {
		return
	}
	if slices.ContainsFunc(p.foreign, r.bears) {
		p.learnForeign(a)
		return
	}
	p.learnOwn(r.op, r.target, a)
}

func (p *pool) learnForeign(a *reply) {
	body, _ := parse(a.body).(object)
	if id, _ := body.at("id").(string); uuidText.MatchString(id) {
		p.keep("foreign", id)
	}
}

func (p *pool) learnOwn(op *operation, target string, a *reply) {
	path, query, _ := strings.Cut(target, "?")
	tag := a.header.Get("ETag")
	if query != "" || !strings.HasPrefix(a.header.Get("Content-Type"), "application/json") {
		tag = "" // the tag of a part or of another media type, which If-Match does not accept
	}
	if tag != "" {
		p.tags[path] = tag
	}
	body, _ := parse(a.body).(object)
	kind := kindOf[collection(op.path)]
	p.learnRecord(kind, body, tag)
	for _, name := range []string{"items", "bottles", "treatments"} {
		items, _ := body.at(name).(list)
		for _, item := range items {
			if o, ok := item.(object); ok {
				p.learnRecord(kind, o, "")
			}
		}
	}
	if next, ok := body.at("next").(object); ok {
		p.learnCursor(op, text(next))
	}
	if key, ok := body.at("secret").(string); ok && op.id == "createAccessKey" && len(p.keys) < 50 {
		p.keys = append(p.keys, key)
	}
	if (op.id == "exportRecords" || op.id == "packSpecimen") && len(p.exports[op.id]) < 5 && len(a.body) < 1<<20 {
		if plain, err := a.plain(); err == nil && len(plain) > 0 {
			p.exports[op.id] = append(p.exports[op.id], string(plain))
		}
	}
}

func (p *pool) learnRecord(kind string, o object, tag string) {
	id, _ := o.at("id").(string)
	if said, ok := o.at("kind").(string); ok && slices.Contains(recordKinds, camel(said)) {
		kind = camel(said)
	}
	if rule, ok := o.at("rule").(string); ok && kind == "rule" {
		id = rule
	} else if !uuidText.MatchString(id) {
		return
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

func (p *pool) learnCursor(op *operation, next string) {
	if found := cursorIn.FindStringSubmatch(next); found != nil && len(p.cursors[op.id]) < 20 {
		p.cursors[op.id] = append(p.cursors[op.id], found[1])
	}
}

// cursor is one of the operation's own, or sometimes one of another list.
func (p *pool) cursor(rng *rand.Rand, op *operation) string {
	own := p.cursors[op.id]
	if rng.IntN(4) == 0 || len(own) == 0 {
		for _, id := range slices.Sorted(maps.Keys(p.cursors)) {
			if rng.IntN(3) == 0 {
				own = p.cursors[id]
			}
		}
	}
	if len(own) == 0 {
		return "bm90aGluZw"
	}
	return own[rng.IntN(len(own))]
}

// tagOf is the ETag of a record as it was last seen.
func (p *pool) tagOf(id string) string {
	for _, known := range []string{"records", "specimens", "batches", "supplies", "treatments", "plans", "people",
		"materials", "report-schedules"} {
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
