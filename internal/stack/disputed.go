package stack

import "slices"

// The tables may say that a layer cannot be redissolved and also name a liquid
// that dissolves it (most often in a row that does not look at age). All answers
// then say the same of the layer: unknown and contradicted; and the liquid is a
// test to make.

// reconcile makes the answer for a layer agree with the liquids that are known to
// dissolve it.
func (p *planner) reconcile(l int, r *Reversal) {
	if r.Redissolvable.Answer != No {
		return
	}
	if against := p.dissolvedBy(l); len(against.Evidence) > 0 {
		r.Redissolvable.Answer, r.Redissolvable.Contradicted = Unknown, true
		r.Redissolvable.Backing = r.Redissolvable.Backing.and(against, "")
	}
}

// dissolvedBy is the evidence for liquids that dissolve a layer itself, and not a
// barrier under it. Layers of one kind share it.
func (p *planner) dissolvedBy(l int) Backing {
	kind := p.kindOf[l]
	if known, ok := p.dissolvers[kind]; ok {
		return known
	}
	layer, seen := &p.layers[l], map[Evidence]bool{}
	found := p.acting(l, layer.Identity.all())
	var all []Evidence
	more := 0
	for _, c := range byName(found) {
		if c.Observed != Dissolves {
			continue
		}
		more += c.MoreEvidence
		for _, e := range c.Evidence {
			if !seen[e] {
				seen[e] = true
				all = append(all, e)
			}
		}
	}
	out := backing(all, string(Dissolves))
	out.MoreEvidence += more
	p.dissolvers[kind] = out
	return out
}

// disputed tells whether it is in doubt that a layer can be redissolved: the tables contradict
// each other, or what was tried on the specimen did not act on it.
func (p *planner) disputed(l int) bool {
	r := p.reversalOf(l, p.reversals).Redissolvable
	return r.Answer == No || r.Answer == Unknown && r.Contradicted
}

// inDoubt is disputed of what a liquid has to dissolve: the layer, or the barriers under it.
func (p *planner) inDoubt(l int, barrier bool) bool {
	if !barrier {
		return p.disputed(l)
	}
	for _, a := range p.layers[l].foot.certain {
		if slices.ContainsFunc(p.barrierKinds(a), func(kind int) bool { return p.disputed(p.kinds[kind]) }) {
			return true
		}
	}
	return false
}

func (p *planner) whyDisputed(l int) string {
	if len(p.trialsOn[p.layers[l].Treatment]) > 0 {
		return "what was tried on the specimen did not act on the layer"
	}
	return "the sources disagree on whether such a film can be dissolved again"
}
