package publish

import (
	"fmt"
	"slices"
)

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
