package stack

// A layer of which the tables say that it cannot be redissolved, and of which they
// name a liquid that dissolves it (most often a row that does not look at age), is
// one of which nobody knows. All answers say the same of it: unknown and
// contradicted; and the liquid is a test to make.

// reconcile makes the answer of a layer that of the liquids that are known for it.
func (p *planner) reconcile(l int, r *Reversal) {
	if r.Redissolvable.Answer != No {
		return
	}
	if evidence := p.dissolvedBy(l); len(evidence) > 0 {
		r.Redissolvable.Answer, r.Redissolvable.Contradicted = Unknown, true
		r.Redissolvable.Evidence = append(
			r.Redissolvable.Evidence[:len(r.Redissolvable.Evidence):len(r.Redissolvable.Evidence)], evidence...)
	}
}

// dissolvedBy is the evidence for liquids that dissolve a layer itself, and not a
// barrier under it. Layers of one kind share it.
func (p *planner) dissolvedBy(l int) []Evidence {
	kind := p.kindOf[l]
	if known, ok := p.dissolvers[kind]; ok {
		return known
	}
	layer, seen := &p.layers[l], map[Evidence]bool{}
	found := p.acting(l, layer.Identity.all())
	var out []Evidence
	for _, c := range byName(found) {
		if c.Observed != Dissolves {
			continue
		}
		for _, e := range c.Evidence {
			if !seen[e] {
				seen[e] = true
				out = append(out, e)
			}
		}
	}
	p.dissolvers[kind] = out
	return out
}

// disputed tells whether the tables contradict each other on whether a layer can be
// redissolved.
func (p *planner) disputed(l int) bool {
	return p.reversalOf(l, p.reversals).Redissolvable.Answer == No
}
