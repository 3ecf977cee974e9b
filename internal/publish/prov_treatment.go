package publish

import (
	"fmt"
	"slices"

	"meniscus/internal/record"
)

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
	p.add(node{"id": before, "type": "Entity", "label": t.Specimen.Label + " before the treatment",
		"specializationOf": t.Specimen.IRI, "wasInvalidatedBy": t.IRI})
	p.add(node{"id": after, "type": "Entity", "label": t.Specimen.Label + " after the treatment",
		"specializationOf": t.Specimen.IRI, "wasGeneratedBy": t.IRI, "wasDerivedFrom": []any{before}})
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

// used is the thing itself where it is recorded, else an entity that only this
// treatment refers to.
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

// removedLayer stands for all the material that a treatment put on.
func removedLayer(treatment string) string { return treatment + "#layers" }

// layers are what a treatment put on or in the specimen. When exactly one removal
// is on record, it ended the layers as they were applied; what is left of them is
// another entity. With several removals it is unknown which one ended what, so no
// end is stated.
func (p *provenance) layers(t Treatment) {
	if !record.Action(t.Action).Adds() || len(t.Uses) == 0 {
		return
	}
	all := node{"id": removedLayer(t.IRI), "type": "Entity", "label": "What was put on by: " + t.Sentence(),
		"wasGeneratedBy": t.IRI}
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
