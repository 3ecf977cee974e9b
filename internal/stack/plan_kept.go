package stack

import (
	"fmt"
	"slices"
)

// KeptLayer is a layer that a plan without a wish leaves where it is.
type KeptLayer struct {
	Treatment string
	Index     int
	// Under is the kept layer that it lies under, where that is why.
	Under    string
	Sentence string
}

// keeps tells whether a plan without a wish leaves a layer where it is: what holds parts
// together, says what the specimen is, or parts a resin from it comes off when it is named,
// and not because it could. What no solvent reaches is told as such.
func (p *planner) keeps(l int) bool {
	layer := &p.layers[l]
	return len(p.request.Treatments) == 0 && layer.State.mayBeThere() && p.lid(l) != Yes &&
		(layer.holds() || layer.Role.label() || layer.Role == Barrier)
}

// holds tells whether the layer holds parts together or carries load.
func (l *Layer) holds() bool { return l.joint() || l.Role == Mount || l.CarriesLoad == Yes }

// keep leaves a layer where it is; upper is the kept layer that it lies under, or -1.
func (p *planner) keep(plan *RemovalPlan, l, upper int) {
	p.wanted[l], p.taken[l], p.kept[l] = false, false, true
	if len(plan.Kept) == maxUnreachable {
		plan.MoreKept++
		return
	}
	k := KeptLayer{Treatment: p.layers[l].Treatment, Index: p.layers[l].Index,
		Sentence: sentence("%s stays; name it to have it planned", p.called(&p.layers[l]))}
	if upper >= 0 {
		k.Under = p.layers[upper].Treatment
		k.Sentence = sentence("%s lies under %s, which stays; name it to have both planned", p.called(&p.layers[l]),
			p.called(&p.layers[upper]))
	}
	plan.Kept = append(plan.Kept, k)
}

// keepUnder keeps what lies under a kept layer. A label or a barrier covers its ground. What
// holds parts sits between them, and keeps only what a record says lies under it.
func (p *planner) keepUnder(plan *RemovalPlan, upper int) {
	if !p.layers[upper].holds() {
		p.shutUnder(plan, upper)
		return
	}
	g := p.groundOf(upper)
	for _, l := range p.recordedOnce(upper) {
		if l < len(p.layers) && p.taken[l] {
			p.shut(plan, upper, l, true, g.touch)
		}
	}
}

// disturbedUnprepared are the findings on what a step's first liquid does to layers that stay:
// a joint that carries load, and a label whose number is recorded nowhere else.
func (p *planner) disturbedUnprepared(near []neighbour, c Candidate) []Finding {
	var out []Finding
	for _, n := range near {
		layer, o := &p.layers[n.first], p.effectOn(n.first, c.Solvent)
		if n.wanted || !o.disturbs() {
			continue
		}
		f := Finding{Rule: solventReaches, Severity: Block, Layers: n.layers, Count: n.count, Possible: n.possible,
			Sources: p.knowledge.cite("common-practice"), Status: "common-practice"}
		did := fmt.Sprintf("%s %s %s", c.Name, observedVerbs[o], p.called(layer))
		if n.count > 1 {
			did = fmt.Sprintf("%s %s %s layers of %s (%s)", c.Name, observedVerbs[o], tally(n.count),
				p.knowledge.describe(layer.Identity), roleNouns[layer.Role])
		}
		switch {
		case layer.joint() && layer.CarriesLoad == Yes:
			f.Sentence = sentence("%s; the joint carries load", did)
			f.Remedy = "Support the joint until it is dry, or take a liquid that does not act on its adhesive."
		case layer.Role.label() && layer.NumberRecorded == No:
			f.Sentence = sentence("%s; the number is not recorded and would be lost", did)
			f.Remedy = "Record the number before its base coat can go."
		default:
			continue
		}
		if n.possible {
			f.Severity = f.Severity.softer()
			f.Sentence += " The layer is only possibly reached."
		}
		out = append(out, f)
	}
	return out
}

// first is the liquid that a step is told with: the first that is not a test, or the first.
func (s *Step) first() (Candidate, bool) {
	i := toldWith(s.Candidates)
	if i >= len(s.Candidates) {
		return Candidate{}, false
	}
	return s.Candidates[i], true
}

// toldWith is the index of the candidate that a step is told with.
func toldWith(all []Candidate) int {
	return max(0, slices.IndexFunc(all, func(c Candidate) bool { return !c.Test }))
}

// mostDisturbedNamed is how many groups of layers a sentence on a liquid names.
const mostDisturbedNamed = 2

// Disturbs tells in a clause what a liquid does to the layers that stay; "" for nothing.
func (c Candidate) Disturbs() string {
	var parts []string
	named := 0
	for _, x := range c.Collateral {
		if x.Wanted || len(parts) == mostDisturbedNamed {
			continue
		}
		what := fmt.Sprintf("the %s of %s", roleNouns[x.Role], x.Material)
		if x.Count > 1 {
			what = fmt.Sprintf("%s layers of %s (%s)", tally(x.Count), x.Material, roleNouns[x.Role])
		}
		verb := observedVerbs[x.Observed]
		if !x.Observed.disturbs() {
			verb = "may disturb"
		}
		parts, named = append(parts, verb+" "+what), named+x.Count
	}
	if rest := c.Disturbed + c.Unknown - named; rest > 0 && len(parts) > 0 {
		parts = append(parts, fmt.Sprintf("disturbs or may disturb %d more", rest))
	}
	return listed(parts, mostDisturbedNamed+1)
}
