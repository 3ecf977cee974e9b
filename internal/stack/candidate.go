package stack

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"meniscus/internal/material"
)

// Candidate is one liquid that may take a layer off.
type Candidate struct {
	Solvent  string
	Name     string
	Observed Observed
	// OpensBarrier says that Observed is of the barrier under the layer, which is
	// loosened with it.
	OpensBarrier bool
	// Test says that it is a test to make and not an instruction: recalled, of
	// another age, disputed, or for a material that is only one of several.
	Test bool
	// Why says what makes it a test.
	Why []string
	Backing
	// Collateral is what else it would, or might, disturb.
	Collateral []Collateral
	// MoreCollateral counts the layers of the groups beyond those.
	MoreCollateral int
	// Disturbed and Unknown count the layers to be kept that it is known to disturb,
	// and those for which that is unknown.
	Disturbed, Unknown int
	// Harm ranks the liquid by its harmonised classification: 0 none, 1 flammable
	// only, 2 irritant or narcotic, 3 harmful, 4 toxic or a danger to reproduction,
	// genes or of cancer; 5 not classified here.
	Harm int
	// Hazards are the statements that the rank rests on; where there are none for a
	// part, a line says that its hazards are not known here.
	Hazards []string
	// EvaporatedGrams is what the request said, for the vapour estimate.
	EvaporatedGrams *float64

	tested bool // on this layer
}

// Collateral is a group of layers that a liquid would disturb.
type Collateral struct {
	Role     Role
	Material string
	Observed Observed
	// Wanted says that they are to come off anyway.
	Wanted bool
	// Possible says that they lie in a neighbouring area.
	Possible bool
	Layers   []string
	Count    int
}

// maxCandidates is how many liquids a step lists, and maxExcluded how many it says
// that it leaves out.
const (
	maxCandidates = 50
	maxExcluded   = 20
)

// candidates lists the liquids that the tables, or tests on this specimen, name
// for a layer, ranked. Classes of liquids and washing sequences are not among
// them: a class cannot be poured.
func (p *planner) candidates(l int, near []neighbour) (out []Candidate, excluded []string, more int) {
	found := p.liquidsOnce(l)
	out = make([]Candidate, len(found.liquids))
	for i, c := range found.liquids {
		out[i] = *c
		out[i].Why = slices.Clip(c.Why)
		p.rank(&out[i], near)
	}
	slices.SortFunc(out, compareCandidates)
	if more = len(out) - maxCandidates; more > 0 {
		out = out[:maxCandidates]
	}
	told := toldWith(out)
	for i := range out {
		if c := &out[i]; i == told || !p.request.Brief {
			c.Collateral, c.MoreCollateral = p.collateral(near, c.Solvent)
		}
	}
	return out, found.excluded, max(more, 0)
}

// opened is a kind of layer and the materials whose solvents open it.
type opened struct {
	kind int
	by   string
}

// asked is what decides which liquids act on a layer.
type asked struct {
	opened
	barrier, disputed bool
}

// foundLiquids is what liquids finds, kept for all layers that are alike.
type foundLiquids struct {
	liquids  []*Candidate
	excluded []string
}

func (p *planner) liquidsOnce(l int) foundLiquids {
	refs, barrier := p.openers(l)
	key := asked{opened{p.kindOf[l], Identity{Solids: refs}.key()}, barrier, p.inDoubt(l, barrier)}
	found, known := p.found[key]
	if !known {
		found.liquids, found.excluded = p.liquids(l)
		p.found[key] = found
	}
	return found
}

// liquids finds the liquids that act on a layer, in the order of their names,
// and says which are left out, and why.
func (p *planner) liquids(l int) (out []*Candidate, excluded []string) {
	refs, barrier := p.openers(l)
	disputed := p.inDoubt(l, barrier)
	for _, c := range byName(p.acting(l, refs)) {
		if !c.Observed.disturbs() {
			continue
		}
		c.OpensBarrier = barrier && !c.tested
		c.doubt(disputed && c.Observed == Dissolves && !c.tested, p.whyDisputed(l))
		if !barrier && !c.tested {
			p.actsOnAll(l, c)
		}
		if why := p.waterRefused(c); why != "" {
			excluded = append(excluded, why)
			continue
		}
		out = append(out, c)
	}
	if over := len(excluded) - maxExcluded; over > 0 {
		excluded = append(excluded[:maxExcluded:maxExcluded],
			sentence("%d more liquids are left out for the same reasons", over))
	}
	return out, excluded
}

// actsOnAll makes a liquid a test where it is not known to act on all that is in the layer.
func (p *planner) actsOnAll(l int, c *Candidate) {
	layer := &p.layers[l]
	if len(layer.Identity.Solids) < 2 {
		return
	}
	age := p.settings.ageing(layer.When, p.at)
	for _, r := range layer.Identity.Solids {
		o := p.knowledge.effect(r, c.Solvent, age)
		c.doubt(!o.disturbs(), "it is not known to act on the "+p.knowledge.name(r.Material)+" in the layer")
	}
}

// acting finds what the tables say that liquids do to materials of a layer, and
// what tests saw them do to the layer.
func (p *planner) acting(l int, refs []Ref) map[string]*Candidate {
	layer := &p.layers[l]
	age := p.settings.ageing(layer.When, p.at)
	found := map[string]*Candidate{}
	for _, ref := range refs {
		for _, c := range p.fromRows(ref, layer, age) {
			if have, ok := found[c.Solvent]; ok {
				have.merge(c)
			} else {
				found[c.Solvent] = &c
			}
		}
	}
	p.fromTrials(l, found)
	return found
}

func byName(found map[string]*Candidate) []*Candidate {
	var out []*Candidate
	for _, name := range slices.Sorted(maps.Keys(found)) {
		out = append(out, found[name])
	}
	return out
}

// TakenOffBy are the liquids that take a layer off.
type TakenOffBy struct {
	// Named are those that a source or a test on the specimen names; Tests are
	// tests to make.
	Named, Tests []string
}

// TakesOff lists, for every layer in the order of the layers, what takes it off: nothing where
// no solvent reaches it.
func (s *Stack) TakesOff() []TakenOffBy {
	p := newPlanner(s, PlanRequest{})
	known := map[asked]TakenOffBy{}
	out := make([]TakenOffBy, 0, len(s.layers))
	for l := range s.layers {
		if s.left() {
			break
		}
		if _, shut := s.outOfSolvents().outOf[l]; shut {
			out = append(out, TakenOffBy{})
			continue
		}
		refs, barrier := p.openers(l)
		key := asked{opened{p.kindOf[l], Identity{Solids: refs}.key()}, barrier, p.inDoubt(l, barrier)}
		t, ok := known[key]
		if !ok {
			t = p.takenOffBy(l)
			known[key] = t
		}
		out = append(out, t)
	}
	return out
}

func (p *planner) takenOffBy(l int) TakenOffBy {
	var out TakenOffBy
	found, _ := p.liquids(l)
	for _, c := range found {
		if c.Test {
			out.Tests = append(out.Tests, c.Solvent)
		} else {
			out.Named = append(out.Named, c.Solvent)
		}
	}
	return out
}

// waterRefused says why a liquid with water in it is no candidate, and marks it
// as a test where it is unknown whether the body stands water.
func (p *planner) waterRefused(c *Candidate) string {
	if !p.knowledge.waterborne(p.knowledge.parts([]Share{{Solvent: c.Solvent}})) {
		return ""
	}
	switch stands, traits := p.specimen.standsWater(); stands {
	case No:
		return sentence("%s is left out: the body does not stand water (%s)", c.Name, traitNames(traits))
	case Unknown:
		c.doubt(true, "whether the body stands water is not known ("+traitNames(traits)+" not stated)")
	}
	return ""
}

// openers are the materials whose solvents take the layer off: its own, or,
// for a reacting resin over a barrier, those of the barrier.
func (p *planner) openers(l int) (refs []Ref, barrier bool) {
	layer := &p.layers[l]
	if layer.Identity.may(irreversible) != Yes || p.barrierUnder(l) != material.OverBarrier {
		return layer.Identity.all(), false
	}
	kinds := map[int]bool{}
	for _, a := range layer.foot.certain {
		for _, kind := range p.barrierKinds(a) {
			kinds[kind] = true
		}
	}
	for kind := range kinds {
		refs = append(refs, p.layers[p.kinds[kind]].Identity.all()...)
	}
	slices.SortFunc(refs, func(a, b Ref) int {
		return cmp.Or(cmp.Compare(a.Material, b.Material), cmp.Compare(a.Grade, b.Grade))
	})
	return slices.Compact(refs), true
}

// fromRows makes a candidate of every liquid that was seen to act on the
// material.
func (p *planner) fromRows(ref Ref, layer *Layer, age Ageing) []Candidate {
	var out []Candidate
	seen := map[string]bool{}
	for _, m := range p.knowledge.expand(ref) {
		for _, row := range p.knowledge.SolubilityRows(m.Material) {
			if seen[row.Solvent] || !pourable(p.knowledge.kind(row.Solvent)) {
				continue
			}
			seen[row.Solvent] = true
			o := p.knowledge.on(m, row.Solvent, age, false)
			c := Candidate{Solvent: row.Solvent, Name: p.knowledge.name(row.Solvent), Observed: o.Observed, Backing: o.Backing}
			c.doubt(o.recalledOnly(), "recalled, not read in a source")
			c.doubt(o.WrongAge, "seen on fresh films only")
			c.doubt(disagrees(o.Evidence), "the sources disagree")
			c.doubt(o.Observed != Dissolves, "seen to "+plainVerb(o.Observed)+" and not to dissolve")
			c.doubt(len(layer.Identity.Candidates) > 1, "only if the layer is "+p.knowledge.name(ref.Material))
			out = append(out, c)
		}
	}
	return out
}

// pourable tells whether an entry of the tables is a liquid that one can take
// in hand.
func pourable(k material.Kind) bool {
	return k == material.Solvent || k == material.SolventMixture || k == material.Reagent
}

// disagrees tells whether observations differ in more than how far they affect
// the material.
func disagrees(evidence []Evidence) bool {
	acts, not := false, false
	for _, e := range evidence {
		acts = acts || strings.HasPrefix(e.Says, "dissolves") || strings.HasPrefix(e.Says, "softens") ||
			strings.HasPrefix(e.Says, "swells")
		not = not || strings.HasPrefix(e.Says, "no-effect") || strings.HasPrefix(e.Says, "disputed") ||
			strings.HasPrefix(e.Says, "unknown")
	}
	return acts && not
}

func plainVerb(o Observed) string {
	switch o {
	case Softens:
		return "soften"
	case Swells:
		return "swell"
	}
	return "change"
}

// maxWhy is how many reasons a liquid has for being a test.
const maxWhy = 10

func (c *Candidate) doubt(yes bool, why string) {
	if !yes || slices.Contains(c.Why, why) {
		return
	}
	c.Test = true
	switch {
	case len(c.Why) < maxWhy-1:
		c.Why = append(c.Why, why)
	case len(c.Why) < maxWhy:
		c.Why = append(c.Why, "there are more reasons than are listed")
	}
}

// merge joins the observations of a liquid on two materials of one layer: the
// lesser effect counts, because the liquid has to work on both.
func (c *Candidate) merge(other Candidate) {
	if other.Observed.gravity() < c.Observed.gravity() {
		c.Observed = other.Observed
	}
	c.Backing = c.Backing.and(other.Backing, string(c.Observed))
	for _, why := range other.Why {
		c.doubt(true, why)
	}
}

// fromTrials applies tests on this specimen: what was seen on this layer
// outranks the tables.
func (p *planner) fromTrials(l int, found map[string]*Candidate) {
	byLiquid := map[string][]trial{}
	for _, t := range p.trialsOn[p.layers[l].Treatment] {
		byLiquid[t.solvent] = append(byLiquid[t.solvent], t)
	}
	for solvent, trials := range byLiquid {
		o := fromTrials(trials)
		c := &Candidate{
			Solvent: solvent, Name: p.knowledge.name(solvent), Observed: o.Observed, Backing: o.Backing, tested: true,
		}
		if before, ok := found[solvent]; ok {
			c.Backing = c.Backing.and(before.Backing, string(c.Observed))
		}
		c.doubt(o.Observed != Dissolves, "seen to "+plainVerb(o.Observed)+" and not to dissolve")
		found[solvent] = c
	}
}

// rank adds what candidates are compared by: how many layers they disturb, and their harm.
func (p *planner) rank(c *Candidate, near []neighbour) {
	for _, n := range near {
		switch o := p.effectOn(n.first, c.Solvent); {
		case n.wanted || o == NoEffect:
		case o.disturbs():
			c.Disturbed += n.count
		default:
			c.Unknown += n.count
		}
	}
	c.Harm, c.Hazards = p.knowledge.harm(c.Solvent)
	c.EvaporatedGrams = p.request.EvaporatedGrams
}
