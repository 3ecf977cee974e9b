package stack

import (
	"container/heap"
	"crypto/sha256"
	"fmt"
	"io"
	"slices"
)

// PlanRequest asks what could come off.
type PlanRequest struct {
	// Treatments are the ones whose layers are wanted off; none means all that can
	// come off.
	Treatments []string
	// EvaporatedGrams is how much solvent the bench means to let evaporate a step, if
	// known; it travels to each step so that the vapour can be computed from it.
	EvaporatedGrams *float64
}

// RemovalPlan is the order in which layers could come off, with what, and at
// what cost to the others. It is advice for people who test first.
type RemovalPlan struct {
	// Before is what has to be settled before any step: the specimen's own hazards
	// and the contradictions in its records.
	Before []Preparation
	Steps  []Step
	// Unreachable are layers that no solvent gets at, with the reason.
	Unreachable     []Unreachable
	MoreUnreachable int
	// AlreadyGone are wanted layers that were not detected or should have sublimed.
	AlreadyGone []GoneLayer
	// Questions are what has to be found out before the order is settled.
	Questions          []Question
	MoreQuestions      bool
	Contradictions     []Contradiction
	MoreContradictions int
	// Remaining is how many layers come after the steps listed.
	Remaining int
	Cautions  []string
}

// Preparation is something to do before a step.
type Preparation struct {
	// Code is specimen-hazard, record-number, support, new-label, curator-approval,
	// replacement or settle-records.
	Code string
	// Layers are at most maxListed of the treatments of Count layers.
	Layers   []string
	Count    int
	Sentence string
	Rule     string
	Sources  Sources
}

// Unreachable is a layer that cannot be got at, and why.
type Unreachable struct {
	Treatment string
	Index     int
	// Below is the layer that shuts it off, if another one does.
	Below    string
	Sentence string
	Sources  Sources
}

// Exception is ground where a layer cannot be reached although it can elsewhere.
type Exception struct {
	Below string
	Areas []Area
	// MoreAreas is how many areas there are beyond those.
	MoreAreas int

	ground [sha256.Size]byte // the digest of all areas
}

// maxExceptAreas is how many areas one exception names: a step has maxListed of them.
const maxExceptAreas = 20

// GoneLayer is a layer that needs no step, as far as anyone knows.
type GoneLayer struct {
	Treatment string
	Index     int
	State     LayerState
	Sentence  string
}

// Question is what a plan asks instead of guessing.
type Question struct {
	Pair     Pair
	Sentence string
}

// maxSteps is how many steps one plan works out; what is left is counted.
const maxSteps = 100

// maxUnreachable is how many unreachable layers a plan lists.
const maxUnreachable = 500

// planCautions stand under every plan.
var planCautions = []string{
	"The product's safety data sheet, local codes and licensed practice come first.",
	"Test each step on a small place first and record the test: it outranks every table.",
	"Removing a layer reduces it; nothing shows that all of it is gone.",
}

// Plan works out a removal. Layers that lie over a wanted one come off first,
// wanted or not; where the order is not known, the plan asks.
func (s *Stack) Plan(r PlanRequest) RemovalPlan {
	p := newPlanner(s, r)
	plan := RemovalPlan{Cautions: planCautions}
	plan.Contradictions, plan.MoreContradictions = s.Contradictions()
	plan.Before = s.hazardsFirst()
	if p.left() {
		return plan
	}
	p.choose(&plan)
	p.shutOff(&plan)
	if p.shutFull {
		plan.Cautions = append(slices.Clip(plan.Cautions), "There are more layers and relations below what cannot come off "+
			"than are followed: a step may be for a layer that no solvent reaches. Ask about fewer treatments.")
	}
	order := p.sequence(&plan)
	if len(order) > maxSteps {
		plan.Remaining = len(order) - maxSteps
		order = order[:maxSteps]
	}
	for _, l := range order {
		if p.left() {
			return plan
		}
		plan.Steps = append(plan.Steps, p.step(l))
		p.off[l] = true
	}
	p.ask(&plan)
	return plan
}

func newPlanner(s *Stack, r PlanRequest) *planner {
	p := &planner{
		Stack: s, request: r, effects: map[string][]Observed{}, except: map[int][]Exception{}, exceptLeft: map[int]int{},
		shutOver:   map[int]bool{},
		barriersAt: map[int][]int{}, found: map[asked]foundLiquids{}, grounds: map[string]*ground{},
		dissolvers: map[int]Backing{}, reversals: map[reversalKey]Reversal{},
	}
	p.sortKinds()
	p.likes, p.likeOf = make([]int, len(p.kinds)), map[likeKey]int{}
	return p
}

// planner is a plan being made.
type planner struct {
	*Stack
	request PlanRequest
	wanted  []bool // what was asked for
	taken   []bool // what comes off: wanted, and what lies over it
	off     []bool // what the steps so far have taken
	except  map[int][]Exception
	effects map[string][]Observed // by liquid, and by kind of layer
	likes   []int                 // by kind of layer: which are described alike; 0 where nobody asked
	likeOf  map[likeKey]int
	kindOf  []int // by layer
	kinds   []int // the first layer of each kind
	// barriersAt are the kinds of the barriers by area, where they were asked for.
	barriersAt map[int][]int
	grounds    map[string]*ground
	found      map[asked]foundLiquids
	shutOver   map[int]bool // the first layers of treatments whose relations were followed
	exceptLeft map[int]int  // by layer: exceptions beyond those that are listed
	followed   int          // layers and relations that were followed to find what is shut off
	shutFull   bool         // there are more than are followed
	// dissolvers is the evidence for liquids that dissolve a layer of a kind, and
	// reversals what the tables say of undoing layers of a sort.
	dissolvers map[int]Backing
	reversals  map[reversalKey]Reversal
}

// hazardsFirst lists the dangers of the specimen itself. One that nobody looked
// for is said too.
func (s *Stack) hazardsFirst() []Preparation {
	var out []Preparation
	for _, h := range s.specimen.Hazards[:min(len(s.specimen.Hazards), maxNotices)] {
		if text := hazardNotice(h); text != "" {
			out = append(out, Preparation{Code: "specimen-hazard", Sentence: text, Sources: s.knowledge.cite("common-practice")})
		}
	}
	if open := s.unaskedHazards(); len(open) > 0 {
		out = append(out, Preparation{Code: "specimen-hazard", Sources: s.knowledge.cite("common-practice"),
			Sentence: sentence("It is not recorded whether the specimen was examined for %s; "+
				"solvents, tools and heat set them free", listed(open, 6))})
	}
	if len(s.contradictions) > 0 {
		out = append(out, Preparation{Code: "settle-records", Sources: s.knowledge.cite("common-practice"),
			Sentence: "The records contradict each other; settle the contradictions before any step."})
	}
	return out
}

// usualHazards are the dangers that are asked for on every specimen.
var usualHazards = []string{"arsenic", "mercury", "asbestos", "radioactivity", "cellulose-nitrate"}

func (s *Stack) unaskedHazards() []string {
	var open []string
	for _, name := range usualHazards {
		if !slices.ContainsFunc(s.specimen.Hazards, func(h Hazard) bool { return h.Name == name }) {
			open = append(open, hazardName(name))
		}
	}
	return open
}

func hazardName(name string) string {
	if name == "cellulose-nitrate" {
		return "cellulose nitrate"
	}
	return name
}

// hazard tells whether a danger of the specimen is known or suspected.
func (s *Stack) hazard(name string) bool {
	return slices.ContainsFunc(s.specimen.Hazards, func(h Hazard) bool {
		return h.Name == name && (h.Status == "known" || h.Status == "suspected")
	})
}

// choose marks what is wanted and, with it, what lies over it.
func (p *planner) choose(plan *RemovalPlan) {
	n := len(p.layers)
	p.wanted, p.taken, p.off = make([]bool, n), make([]bool, n), make([]bool, n)
	asked := map[string]bool{}
	for _, id := range p.request.Treatments {
		asked[id] = true
	}
	for l := range p.layers {
		if p.left() {
			return
		}
		if len(asked) > 0 && !asked[p.layers[l].Treatment] {
			continue
		}
		if state := p.layers[l].State; !state.mayBeThere() {
			plan.AlreadyGone = append(plan.AlreadyGone, GoneLayer{
				Treatment: p.layers[l].Treatment, Index: p.layers[l].Index, State: state,
				Sentence: sentence("%s is recorded as %s, which does not mean absent", p.called(&p.layers[l]), p.goneText(l)),
			})
			continue
		}
		p.wanted[l], p.taken[l] = true, true
	}
	if len(p.request.Treatments) == 0 {
		return
	}
	for u, over := range p.whatLiesOver() {
		if over && p.layers[u].State.mayBeThere() {
			p.taken[u] = true
		}
	}
}

func (p *planner) goneText(l int) string {
	if n := len(p.layers[l].Local); n > 0 {
		return p.layers[l].Local[n-1].describe()
	}
	return string(p.layers[l].State)
}

// whatLiesOver marks the layers from which a wanted one can be reached downward.
func (p *planner) whatLiesOver() []bool {
	var queue []int
	for l, w := range p.wanted {
		if w {
			queue = append(queue, l)
		}
	}
	return reached(p.order.above, queue...)[:len(p.layers)]
}

// shutOff takes out what no solvent reaches: practically irreversible layers,
// what lies below them, and layers in a circle of contradicting records.
func (p *planner) shutOff(plan *RemovalPlan) {
	for l := len(p.layers) - 1; l >= 0 && !p.left(); l-- { // the latest first: it shuts off most
		switch {
		case !p.taken[l]:
		case p.order.knot[l] != 0:
			p.unreachable(plan, l, "", sentence("%s is recorded both over and under another layer; settle which lies on top",
				p.called(&p.layers[l])), "common-practice")
		case p.lid(l) == Yes:
			p.unreachable(plan, l, "", sentence("%s is practically irreversible; mechanical means only, or vapour at the edges",
				p.called(&p.layers[l])), "podany-2001", "common-practice")
			p.shutUnder(plan, l)
		}
	}
}

// shutUnder takes out what lies below a layer that cannot come off: all of it
// where that layer covers all of its ground, and the shared ground elsewhere. A
// layer that is recorded below and shares no ground goes with it.
func (p *planner) shutUnder(plan *RemovalPlan, lid int) {
	for queue := []int{lid}; len(queue) > 0 && !p.left(); queue = queue[1:] {
		if p.followed > maxFollowed {
			p.shutFull = true
			return
		}
		upper := queue[0]
		g, recorded := p.groundOf(upper), p.recordedOnce(upper)
		var found []int
		p.followed += 1 + len(recorded) + walkNew(g.under, p.order.below, func(l int) { found = append(found, l) }, upper)
		slices.Sort(found)
		related := idsOf(recorded)
		for _, l := range slices.Concat(found, recorded) {
			if l < len(p.layers) && p.taken[l] && p.shut(plan, upper, l, related[l], g.touch) && p.order.hasRecordedUnder(l) {
				queue = append(queue, l)
			}
		}
	}
}

// recordedOnce are the layers that are recorded as lying under a layer. Those that its
// treatment lies over are given with the first of its layers that is asked for: what
// one shuts off, another does not shut off again.
func (p *planner) recordedOnce(l int) []int {
	first := p.siblings[l][0]
	if !p.shutOver[first] {
		p.shutOver[first] = true
		return p.order.recordedUnder(l)
	}
	within := func(n int) bool { return n >= len(p.layers) }
	return slices.DeleteFunc(slices.Clone(p.order.recorded[l]), within)
}

func idsOf(list []int) map[int]bool {
	ids := make(map[int]bool, len(list))
	for _, i := range list {
		ids[i] = true
	}
	return ids
}

// ground is what layers of one footprint cover, and what is known to lie under one of
// them: those after it ask only what lies under them besides.
type ground struct {
	touch []Touch
	under []bool
}

// mostGrounds is how many grounds are kept; each is as large as the stack.
const mostGrounds = 50

func (p *planner) groundOf(l int) *ground {
	certain := p.layers[l].foot.certain
	key := fmt.Sprint(certain)
	if g, known := p.grounds[key]; known {
		return g
	}
	g := &ground{p.atlas.touches(footprint{certain: certain}), make([]bool, len(p.order.below))}
	p.followed += len(g.touch) + len(g.under)
	if len(p.grounds) < mostGrounds {
		p.grounds[key] = g
	}
	return g
}

// shut takes a layer out that lies below another one, or what they share of its
// ground. touch is how far the other reaches each area, and recorded tells whether a
// relation says that the layer lies below it.
func (p *planner) shut(plan *RemovalPlan, upper, l int, recorded bool, touch []Touch) bool {
	p.followed += len(p.layers[l].foot.certain)
	shares := slices.ContainsFunc(p.layers[l].foot.certain, func(a int) bool { return touch[a] != Untouched })
	covered := !slices.ContainsFunc(p.layers[l].foot.certain, func(a int) bool { return touch[a] != Fully })
	switch {
	case !shares && !recorded:
		return false
	case shares && !covered:
		p.exempt(upper, l, touch)
		return false
	}
	p.unreachable(plan, l, p.layers[upper].Treatment, sentence("%s lies below %s, which cannot be taken off; "+
		"not reachable by solvent", p.called(&p.layers[l]), p.called(&p.layers[upper])), "podany-2001", "common-practice")
	return true
}

// exempt notes ground where a layer cannot be reached; of what shuts off the same
// ground the first is named.
func (p *planner) exempt(upper, l int, touch []Touch) {
	if len(p.except[l]) == maxListed {
		p.exceptLeft[l]++
		return
	}
	x := Exception{Below: p.layers[upper].Treatment, Areas: p.sharedGround(upper, l, touch)}
	x.ground = digestOf(x.Areas)
	if over := len(x.Areas) - maxExceptAreas; over > 0 {
		x.Areas, x.MoreAreas = slices.Clone(x.Areas[:maxExceptAreas]), over
	}
	if !slices.ContainsFunc(p.except[l], func(known Exception) bool { return known.ground == x.ground }) {
		p.except[l] = append(p.except[l], x)
	}
}

// digestOf tells lists of areas apart.
func digestOf(areas []Area) (sum [sha256.Size]byte) {
	h := sha256.New()
	for _, a := range areas {
		io.WriteString(h, string(a)+"\x00")
	}
	h.Sum(sum[:0])
	return sum
}

// sharedGround lists the areas of a lower layer that an upper one shares: those
// that it covers, and its own inside those that it covers in part.
func (p *planner) sharedGround(upper, l int, touch []Touch) []Area {
	var ground []Area
	for _, y := range p.layers[l].foot.certain {
		if touch[y] == Fully {
			ground = append(ground, p.atlas.paths[y])
			continue
		}
		if touch[y] == Untouched {
			continue
		}
		p.followed += len(p.layers[upper].foot.certain)
		for _, x := range p.layers[upper].foot.certain {
			if p.atlas.within(x, y) {
				ground = append(ground, p.atlas.paths[x])
			}
		}
	}
	slices.Sort(ground)
	return slices.Compact(ground)
}

func (p *planner) unreachable(plan *RemovalPlan, l int, below, text string, sources ...string) {
	p.taken[l] = false
	if len(plan.Unreachable) == maxUnreachable {
		plan.MoreUnreachable++
		return
	}
	plan.Unreachable = append(plan.Unreachable, Unreachable{
		Treatment: p.layers[l].Treatment, Index: p.layers[l].Index, Below: below, Sentence: text,
		Sources: p.knowledge.cite(sources...),
	})
}

// sequence sorts what is taken so that nothing comes off before what lies over
// it; of what is free to come off, the latest first.
func (p *planner) sequence(plan *RemovalPlan) []int {
	waits := make([]int, len(p.order.below))
	for u := range p.order.below {
		for _, l := range p.order.below[u] {
			waits[l]++
		}
	}
	free := &freeLayers{planner: p}
	for n := range p.order.below {
		if waits[n] == 0 {
			heap.Push(free, n)
		}
	}
	var out []int
	for free.Len() > 0 {
		n := heap.Pop(free).(int)
		if n < len(p.layers) && p.taken[n] {
			out = append(out, n)
		}
		for _, l := range p.order.below[n] {
			if waits[l]--; waits[l] == 0 {
				heap.Push(free, l)
			}
		}
	}
	p.behindKnots(plan, waits)
	return slices.DeleteFunc(out, func(l int) bool { return !p.taken[l] })
}

// behindKnots takes out what lies below a circle of contradicting records: it
// cannot be said when its turn is.
func (p *planner) behindKnots(plan *RemovalPlan, waits []int) {
	for l := range p.layers {
		if waits[l] > 0 && p.taken[l] {
			p.unreachable(plan, l, "", sentence("%s lies below layers whose recorded order is contradictory",
				p.called(&p.layers[l])), "common-practice")
		}
	}
}

// freeLayers is a heap of nodes that nothing lies over any more: days come
// before layers, then the latest layer, then the treatment's name.
type freeLayers struct {
	*planner
	nodes []int
}

func (f *freeLayers) Len() int      { return len(f.nodes) }
func (f *freeLayers) Swap(i, j int) { f.nodes[i], f.nodes[j] = f.nodes[j], f.nodes[i] }
func (f *freeLayers) Push(x any)    { f.nodes = append(f.nodes, x.(int)) }
func (f *freeLayers) Pop() any {
	last := f.nodes[len(f.nodes)-1]
	f.nodes = f.nodes[:len(f.nodes)-1]
	return last
}

func (f *freeLayers) Less(i, j int) bool {
	a, b := f.nodes[i], f.nodes[j]
	n := len(f.layers)
	if (a >= n) != (b >= n) {
		return a >= n
	}
	if a >= n {
		return a < b
	}
	if c := compareEnds(f.layers[a].When.To, f.layers[b].When.To); c != 0 {
		return c > 0
	}
	if f.layers[a].Treatment != f.layers[b].Treatment {
		return f.layers[a].Treatment < f.layers[b].Treatment
	}
	return a > b // within one treatment the last put on first
}

// ask lists the pairs whose order nobody knows, where a step depends on it.
func (p *planner) ask(plan *RemovalPlan) {
	pairs, more := p.Undetermined(maxPairs)
	plan.MoreQuestions = more
	for _, pair := range pairs {
		if !p.concerns(pair) {
			continue
		}
		plan.Questions = append(plan.Questions, Question{Pair: pair, Sentence: fmt.Sprintf(
			"On %s, which of the two lies on top? No relation is recorded and the dates do not tell; the plan does not guess.",
			pair.Area)})
	}
}

// concerns tells whether one of a pair is to come off.
func (p *planner) concerns(pair Pair) bool {
	for _, id := range []string{pair.A, pair.B} {
		for _, l := range p.layersOf[id] {
			if p.wanted[l] && p.layers[l].State.mayBeThere() {
				return true
			}
		}
	}
	return false
}
