package publish

import (
	"fmt"
	"slices"
	"time"

	"meniscus/internal/record"
)

// provContext is the context of a PROV-O document. It stands in the document
// itself, so that nobody has to fetch one.
//
// Source of classes and properties: W3C, PROV-O: The PROV Ontology,
// Recommendation of 30 April 2013.
func provContext(base Base) node {
	return node{
		"@version": 1.1,
		"prov":     "http://www.w3.org/ns/prov#", "xsd": "http://www.w3.org/2001/XMLSchema#",
		"rdfs": "http://www.w3.org/2000/01/rdf-schema#", "own": base.Term(""),
		"id": "@id", "type": "@type", "graph": "@graph", "label": "rdfs:label",
		"Activity": "prov:Activity", "Entity": "prov:Entity", "Person": "prov:Person", "Plan": "prov:Plan",
		"Usage": "prov:Usage", "Association": "prov:Association", "Quantity": "own:Quantity", "Strength": "own:Strength",
		"used": iriSet("prov:used"), "wasGeneratedBy": iriKey("prov:wasGeneratedBy"),
		"wasDerivedFrom": iriSet("prov:wasDerivedFrom"), "wasInformedBy": iriSet("prov:wasInformedBy"),
		"wasInvalidatedBy": iriKey("prov:wasInvalidatedBy"), "wasAssociatedWith": iriSet("prov:wasAssociatedWith"),
		"wasAttributedTo": iriSet("prov:wasAttributedTo"), "wasRevisionOf": iriSet("prov:wasRevisionOf"),
		"specializationOf": iriKey("prov:specializationOf"), "alternateOf": iriSet("prov:alternateOf"),
		"qualifiedUsage":       node{"@id": "prov:qualifiedUsage", "@container": "@set"},
		"qualifiedAssociation": node{"@id": "prov:qualifiedAssociation", "@container": "@set"},
		"entity":               iriKey("prov:entity"), "agent": iriKey("prov:agent"),
		"hadRole": iriKey("prov:hadRole"), "hadPlan": iriKey("prov:hadPlan"),
		"startedAtTime": instantKey("prov:startedAtTime"), "endedAtTime": instantKey("prov:endedAtTime"),
		"generatedAtTime": instantKey("prov:generatedAtTime"),
		"date":            "own:date", "area": node{"@id": "own:area", "@container": "@set"}, "verbatim": "own:verbatim",
		"action": iriKey("own:action"), "left": iriKey("own:left"), "outcome": iriKey("own:outcome"), "observed": iriKey("own:observed"),
		"ofMaterial": iriSet("own:ofMaterial"), "mayBe": iriSet("own:mayBe"), "certainty": iriKey("own:certainty"),
		"strength": "own:strength", "amount": "own:amount", "basis": iriKey("own:basis"), "unit": "own:unit",
		"value":      node{"@id": "own:value", "@type": "xsd:decimal"},
		"onBehalfOf": "own:onBehalfOf", "describes": iriKey("own:describes"), "notice": node{"@id": "own:notice", "@container": "@set"}, "method": "own:method",
	}
}

func instantKey(iri string) node { return node{"@id": iri, "@type": "xsd:dateTime"} }

// States says how a treated specimen is told in PROV, whose entities have fixed
// aspects.
type States bool

const (
	// OneSpecimen lets a treatment use the specimen, and says no more of it.
	OneSpecimen States = false
	// BeforeAndAfter mints the specimen's state before and after each treatment
	// that changed it. Treatments' dates may overlap, so the states of different
	// treatments are not put in order.
	BeforeAndAfter States = true
)

// provenance gathers the nodes of a PROV document, each once.
type provenance struct {
	base   Base
	states States
	nodes  []any
	seen   map[string]bool
	named  []Link // told of by name alone, unless the document says more
	// earlier are treatments that are told of by name alone.
	earlier []Link
	// removals counts the removals of each treatment's material in this document.
	removals map[string][]Treatment
}

// SpecimenProvenance is everything recorded of a specimen as PROV-O.
func SpecimenProvenance(base Base, s Specimen, states States) ([]byte, error) {
	p := newProvenance(base, states, s.Treatments)
	p.specimen(s)
	for _, t := range byDate(s.Treatments) {
		p.treatment(t)
	}
	for _, t := range s.Treatments {
		if !t.Revision.Standing() {
			p.record(t.Revision, "", recordOf(t))
		}
	}
	return p.encode()
}

// TreatmentProvenance is one treatment as PROV-O: what it used, who did it, and
// the record that says so.
func TreatmentProvenance(base Base, t Treatment, states States) ([]byte, error) {
	p := newProvenance(base, states, []Treatment{t})
	if t.Revision.Standing() {
		p.name(t.Specimen.IRI, t.Specimen.Label)
		p.treatment(t)
	} else {
		p.record(t.Revision, "", recordOf(t))
	}
	return p.encode()
}

func newProvenance(base Base, states States, list []Treatment) *provenance {
	p := &provenance{base: base, states: states, seen: map[string]bool{}, removals: map[string][]Treatment{}}
	for _, t := range list {
		for _, removed := range t.Removes {
			p.removals[removed.IRI] = append(p.removals[removed.IRI], t)
		}
	}
	return p
}

func (p *provenance) encode() ([]byte, error) {
	for _, l := range p.named {
		p.add(node{"id": l.IRI, "type": "Entity", "label": l.Label})
	}
	for _, l := range p.earlier {
		p.add(node{"id": l.IRI, "type": "Activity", "label": capital(l.Label)})
	}
	return encode(node{"@context": provContext(p.base), "graph": p.nodes})
}

// add keeps a node unless its id is there already.
func (p *provenance) add(n node) {
	id, _ := n["id"].(string)
	if p.seen[id] {
		return
	}
	p.seen[id] = true
	p.nodes = append(p.nodes, n)
}

// name makes sure that something is told of, at least by its name.
func (p *provenance) name(iri, label string) { p.named = append(p.named, Link{iri, label}) }

func (p *provenance) specimen(s Specimen) {
	n := node{"id": s.IRI, "type": "Entity", "label": s.Title}
	put(n, "notice", texts(s.Notices))
	same := s.elsewhere()
	for _, m := range s.Merged {
		same = append(same, m.IRI)
		p.name(m.IRI, m.Label)
	}
	if s.MergedInto != nil {
		same = append(same, s.MergedInto.IRI)
		p.name(s.MergedInto.IRI, s.MergedInto.Label)
	}
	put(n, "alternateOf", same)
	if s.PartOf != nil {
		n["wasDerivedFrom"] = []any{s.PartOf.IRI}
		p.name(s.PartOf.IRI, s.PartOf.Label)
	}
	p.add(n)
	p.record(s.Revision, s.IRI, "Record of specimen "+s.Title)
}

func (p *provenance) treatment(t Treatment) {
	n := node{"id": t.IRI, "type": "Activity", "label": t.Sentence(), "action": p.base.word("action", t.Action)}
	put(n, "date", t.Date.String())
	put(n, "area", texts(t.Areas))
	put(n, "method", t.How())
	putInstant(n, "startedAtTime", t.Started)
	putInstant(n, "endedAtTime", t.Ended)
	putWord(n, p.base, "outcome", listed("outcome", t.Outcome))
	putWord(n, p.base, "observed", listed("observed", t.Observed))
	put(n, "wasInformedBy", linkIRIs(t.Removes))
	p.earlier = append(p.earlier, t.Removes...)
	used, usages := p.uses(t)
	n["used"] = iris(append(p.before(t), used...))
	put(n, "qualifiedUsage", usages)
	agents, associations := p.associations(t.People, t.Plan)
	put(n, "wasAssociatedWith", agents)
	put(n, "qualifiedAssociation", associations)
	p.add(n)
	p.layers(t)
	p.remains(t)
	p.record(t.Revision, t.IRI, recordOf(t))
}

func recordOf(t Treatment) string { return "Record of a treatment of " + t.Specimen.Label }

// before gives what the treatment was carried out on: the specimen, or its
// state before.
func (p *provenance) before(t Treatment) []string {
	if t.JoinedTo != nil {
		p.name(t.JoinedTo.IRI, t.JoinedTo.Label)
	}
	on := []string{t.Specimen.IRI}
	p.name(t.Specimen.IRI, t.Specimen.Label)
	if t.JoinedTo != nil {
		on = append(on, t.JoinedTo.IRI)
	}
	if p.states == OneSpecimen || !changes(t.Action) {
		return on
	}
	before, after := t.IRI+"#before", t.IRI+"#after"
	p.add(node{"id": before, "type": "Entity", "label": t.Specimen.Label + " before the treatment", "specializationOf": t.Specimen.IRI, "wasInvalidatedBy": t.IRI})
	p.add(node{"id": after, "type": "Entity", "label": t.Specimen.Label + " after the treatment", "specializationOf": t.Specimen.IRI,
		"wasGeneratedBy": t.IRI, "wasDerivedFrom": []any{before}})
	on[0] = before
	return on
}

// changes tells whether an action can change a specimen at all.
func changes(action string) bool { return action != string(record.ActionExamination) }

// uses gives what a treatment used besides the specimen.
func (p *provenance) uses(t Treatment) (used []string, usages []any) {
	for _, b := range t.BatchesBelow {
		p.batch(b)
	}
	for i, u := range t.Uses {
		id := p.used(t, i, u)
		used = append(used, id)
		usage := node{"type": "Usage", "entity": id}
		putWord(usage, p.base, "hadRole", listed("role", u.Role))
		put(usage, "amount", quantityNode(u.Amount))
		usages = append(usages, usage)
	}
	for i, x := range t.Exposures {
		id := fmt.Sprintf("%s#contact-%d", t.IRI, i+1)
		contact := node{"id": id, "type": "Entity", "label": capital(x.Said())}
		put(contact, "ofMaterial", linkIRIs([]Link{x.Solvent}))
		p.add(contact)
		used = append(used, id)
		usage := node{"type": "Usage", "entity": id}
		put(usage, "amount", quantityNode(x.Time))
		usages = append(usages, usage)
	}
	for _, removed := range t.Removes {
		used = append(used, removedLayer(removed.IRI))
	}
	return used, usages
}

// used is the thing itself where it is recorded, else one that is known by this
// treatment alone.
func (p *provenance) used(t Treatment, i int, u Use) string {
	if u.From != nil {
		p.name(u.From.IRI, u.From.Label)
		return u.From.IRI
	}
	n := node{"id": fmt.Sprintf("%s#used-%d", t.IRI, i+1), "type": "Entity", "label": u.Said()}
	put(n, "ofMaterial", linkIRIs(slices.Concat(u.Materials, u.Solvents)))
	put(n, "mayBe", linkIRIs(u.Candidates))
	put(n, "verbatim", u.Words)
	putWord(n, p.base, "certainty", listed("certainty", u.Certainty))
	put(n, "strength", p.strength(u.Strength))
	p.add(n)
	return n["id"].(string)
}

// listed is the name of a list's word as a term, or "".
func listed(list, word string) string {
	if word == "" {
		return ""
	}
	return list + "-" + word
}

// removedLayer stands for the material that a treatment put on, all of it.
func removedLayer(treatment string) string { return treatment + "#layers" }

// layers are what a treatment put on or in the specimen. When exactly one
// removal is on record, the layers as they were applied ceased with it; what is
// left of them is another entity. With several removals it is not known which
// one ended what, and nothing is said.
func (p *provenance) layers(t Treatment) {
	if !record.Action(t.Action).Adds() || len(t.Uses) == 0 {
		return
	}
	all := node{"id": removedLayer(t.IRI), "type": "Entity", "label": "What was put on by: " + t.Sentence(), "wasGeneratedBy": t.IRI}
	var from []string
	for i, u := range t.Uses {
		if u.From != nil {
			from = append(from, u.From.IRI)
		} else {
			from = append(from, fmt.Sprintf("%s#used-%d", t.IRI, i+1))
		}
	}
	slices.Sort(from)
	all["wasDerivedFrom"] = iris(slices.Compact(from))
	if removals := p.removals[t.IRI]; len(removals) == 1 {
		all["wasInvalidatedBy"] = removals[0].IRI
	}
	p.add(all)
}

// remains is what a removal left of the layers that it was about.
func (p *provenance) remains(t Treatment) {
	if len(t.Removes) == 0 {
		return
	}
	n := node{"id": t.IRI + "#left", "type": "Entity", "label": "What was left; " + t.Result(), "wasGeneratedBy": t.IRI}
	var from []string
	for _, removed := range t.Removes {
		from = append(from, removedLayer(removed.IRI))
		p.name(removedLayer(removed.IRI), "What was put on by "+removed.Label)
	}
	n["wasDerivedFrom"] = iris(from)
	putWord(n, p.base, "left", listed("left", t.Left))
	p.add(n)
}

// batch is a batch or supply, and how it was made.
func (p *provenance) batch(b Batch) {
	n := node{"id": b.IRI, "type": "Entity", "label": b.Label}
	put(n, "ofMaterial", linkIRIs(slices.Concat(b.Materials, b.Solvents)))
	put(n, "strength", p.strength(b.Strength))
	if len(b.Inputs) > 0 {
		making := b.IRI + "#making"
		n["wasGeneratedBy"] = making
		put(n, "wasDerivedFrom", p.making(making, b))
	}
	p.add(n)
}

// making is the activity that made a batch; it gives what the batch was made
// from.
func (p *provenance) making(id string, b Batch) []any {
	n := node{"id": id, "type": "Activity", "label": "Making of " + b.Label}
	put(n, "date", b.Made.String())
	var from []string
	var usages []any
	for i, in := range b.Inputs {
		source := in.From.IRI
		if !in.Recorded {
			source = fmt.Sprintf("%s-input-%d", id, i+1)
			entity := node{"id": source, "type": "Entity", "label": in.From.Label}
			put(entity, "ofMaterial", linkIRIs([]Link{in.From}))
			p.add(entity)
		} else {
			p.name(in.From.IRI, in.From.Label)
		}
		from = append(from, source)
		usage := node{"type": "Usage", "entity": source}
		putWord(usage, p.base, "hadRole", listed("input", in.Part))
		put(usage, "amount", quantityNode(in.Amount))
		usages = append(usages, usage)
	}
	n["used"], n["qualifiedUsage"] = iris(from), usages
	agents, associations := p.associations(b.MadeBy, "")
	put(n, "wasAssociatedWith", agents)
	put(n, "qualifiedAssociation", associations)
	p.add(n)
	slices.Sort(from)
	return iris(slices.Compact(from))
}

func (p *provenance) strength(s Strength) node {
	if s.IsZero() {
		return nil
	}
	n := node{"type": "Strength", "basis": p.base.word("basis", s.Basis), "label": s.Said()}
	put(n, "value", decimal(s.Value))
	put(n, "unit", s.Unit)
	return n
}

func quantityNode(q Quantity) node {
	if q.IsZero() {
		return nil
	}
	return node{"type": "Quantity", "value": decimal(q.Value), "unit": q.Unit}
}

// associations are who took part, each with the part and, for those who carried
// it out, the plan.
func (p *provenance) associations(people []Involvement, plan string) (agents, associations []any) {
	var names []string
	if plan != "" {
		p.add(node{"id": plan, "type": []any{"Plan", "Entity"}, "label": "Plan"})
	}
	for _, who := range people {
		if who.IRI == "" { // answered with a word: nobody can be pointed at
			continue
		}
		p.person(who.Person)
		names = append(names, who.iri())
		a := node{"type": "Association", "agent": who.iri()}
		putWord(a, p.base, "hadRole", listed("part", who.Part))
		put(a, "onBehalfOf", who.Organisation)
		if who.Part == "carried-out" {
			put(a, "hadPlan", plan)
		}
		associations = append(associations, a)
	}
	slices.Sort(names)
	return iris(slices.Compact(names)), associations
}

func (p *provenance) person(who Person) {
	p.add(node{"id": who.iri(), "type": "Person", "label": who.Label()})
}

// record is the revision that says all this; the earlier one stays readable.
func (p *provenance) record(r Revision, describes, label string) {
	n := node{"id": revisionIRI(r.IRI, r.Number), "type": "Entity", "label": fmt.Sprintf("%s, revision %d%s", label, r.Number, standing(r))}
	putInstant(n, "generatedAtTime", &r.At)
	put(n, "describes", describes)
	n["wasAttributedTo"] = []any{r.By.iri()}
	p.person(r.By)
	if r.Number > 1 {
		earlier := revisionIRI(r.IRI, r.Number-1)
		n["wasRevisionOf"] = []any{earlier}
		p.name(earlier, fmt.Sprintf("%s, revision %d", label, r.Number-1))
	}
	p.add(n)
}

func standing(r Revision) string {
	switch {
	case r.Retracted:
		return ": retracted"
	case r.Erased:
		return ": words erased"
	case r.Unreadable:
		return ": words cannot be read"
	case r.Received != nil:
		return ": received, as the sender says from " + r.Received.Name + "; nothing was proved"
	}
	return ""
}

func revisionIRI(recordIRI string, n int) string {
	return fmt.Sprintf("%s/revisions/%d", recordIRI, n)
}

func iris(list []string) []any {
	out := make([]any, len(list))
	for i, iri := range list {
		out[i] = iri
	}
	return out
}

func texts(list []string) []any { return iris(list) }

func linkIRIs(links []Link) []any {
	var out []any
	for _, l := range links {
		if l.IRI != "" {
			out = append(out, l.IRI)
		}
	}
	return out
}

// putInstant adds a moment; a date that is no moment is never padded to one.
func putInstant(n node, name string, at *time.Time) {
	if at != nil && !at.IsZero() {
		n[name] = at.UTC().Format(time.RFC3339Nano)
	}
}

// putWord adds the IRI of a term.
func putWord(n node, base Base, name, term string) {
	if term == "" {
		return
	}
	n[name] = base.Term(term)
}
