package main

import "net/url"

// sourceKinds are the kinds of record that a source states, as the contract names them.
var sourceKinds = []string{"person", "specimen", "supply", "batch", "treatment", "plan", "amount-change", "material"}

// ofSource gives a parameter that names a source; "" for another. There are few sources,
// so that some state the same record again.
func (g *gen) ofSource(parameter string) string {
	switch parameter {
	case "kind":
		return g.pick(sourceKinds)
	case "system":
		return "catalogue"
	case "recordId":
		return g.digits(1)
	}
	return ""
}

// ofSources is the body of a request that states one record of a source, which the target
// names, or several.
func (g *gen) ofSources(op *operation, target string, c class) object {
	if op.id == "stateSourceRecord" {
		at, _ := url.Parse(target) // a target that is no address has no kind
		if at == nil {
			at = &url.URL{}
		}
		return g.statedBySource(at.Query().Get("kind"), c)
	}
	items := list{}
	for range g.between(1, 9) {
		kind := g.pick(sourceKinds)
		items = append(items, append(object{{"kind", kind}, {"source", object{{"system", "catalogue"},
			{"recordId", g.digits(1)}}}}, g.statedBySource(kind, c)...))
	}
	return object{{"items", items}}
}

// statedBySource states what a record of the round states, perhaps with other remarks,
// under an identity of its own or that record's.
func (g *gen) statedBySource(kind string, c class) object {
	id := g.id(camel(kind))
	said := g.pool.stated[id].value
	if said == nil {
		said = object{{"name", "Nadia Okeke"}}
	}
	switch {
	case c == nearly:
		said, _ = g.spoilt(said).(object)
	case g.oneIn(3):
		said = said.with("remarks", g.pick(plainTexts))
	}
	o := object{{"statement", said}}
	if id != "" && g.oneIn(5) {
		o = append(o, member{"record", object{{"id", id}}})
	}
	return o
}
