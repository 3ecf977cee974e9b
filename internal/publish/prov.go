package publish

import (
	"fmt"
	"slices"
)

// provContext is the context of a PROV-O document. It is embedded in the
// document, so that readers need not fetch one.
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
		"action": iriKey("own:action"), "left": iriKey("own:left"),
		"outcome": iriKey("own:outcome"), "observed": iriKey("own:observed"),
		"ofMaterial": iriSet("own:ofMaterial"), "mayBe": iriSet("own:mayBe"), "certainty": iriKey("own:certainty"),
		"strength": "own:strength", "amount": "own:amount", "basis": iriKey("own:basis"), "unit": "own:unit",
		"value":      node{"@id": "own:value", "@type": "xsd:decimal"},
		"onBehalfOf": "own:onBehalfOf", "describes": iriKey("own:describes"),
		"notice": node{"@id": "own:notice", "@container": "@set"}, "method": "own:method",
	}
}

func instantKey(iri string) node { return node{"@id": iri, "@type": "xsd:dateTime"} }

// States says how a treated specimen is modelled in PROV, whose entities have
// fixed aspects.
type States bool

const (
	// OneSpecimen only says that a treatment used the specimen.
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
	named  []Link // given by name alone, unless the document says more
	// earlier are treatments that are given by name alone.
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

// name makes sure that something has a node, at least with its name.
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

// associations are the people who took part, each with the part and, for those
// who carried it out, the plan.
func (p *provenance) associations(people []Involvement, plan string) (agents, associations []any) {
	var names []string
	if plan != "" {
		p.add(node{"id": plan, "type": []any{"Plan", "Entity"}, "label": "Plan"})
	}
	for _, who := range people {
		if who.IRI == "" { // answered with a word: there is no person to refer to
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

// record is the revision that the document is taken from; the earlier one stays readable.
func (p *provenance) record(r Revision, describes, label string) {
	said := fmt.Sprintf("%s, revision %d%s", label, r.Number, standing(r))
	n := node{"id": revisionIRI(r.IRI, r.Number), "type": "Entity", "label": said}
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
	case r.Withheld:
		return ": words withheld, the record is restricted"
	case r.Unreadable:
		return ": words cannot be read"
	case r.Received != nil:
		return ": received, as the sender says from " + r.Received.Name + "; " +
			r.Received.proved("nothing was proved", "signed by the sender")
	}
	return ""
}

func revisionIRI(recordIRI string, n int) string {
	return fmt.Sprintf("%s/revisions/%d", recordIRI, n)
}
