package stack

import (
	"crypto/sha256"
	"fmt"
	"slices"

	"meniscus/internal/material"
)

// PlanRequest asks what could come off.
type PlanRequest struct {
	// Treatments are those whose layers are to come off; none means all that can come off
	// but for joints, labels and barriers, and what lies under labels and barriers.
	Treatments []string
	// EvaporatedGrams is how much solvent the bench means to let evaporate in each
	// step, if known; each step repeats it so that the vapour can be computed from
	// it.
	EvaporatedGrams *float64
	// Brief leaves out what only an answer in full tells: the collateral of the liquids that no step
	// is told with.
	Brief bool
}

// RemovalPlan is the order in which layers could come off, with what, and at
// what cost to the others. It is advice: test each step first.
type RemovalPlan struct {
	// Before is what has to be settled before any step: the specimen's own hazards
	// and the contradictions in its records.
	Before []Preparation
	Steps  []Step
	// Unreachable are layers that no solvent gets at, with the reason.
	Unreachable     []Unreachable
	MoreUnreachable int
	// Kept are layers that stay because they were not named.
	Kept     []KeptLayer
	MoreKept int
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

// GoneLayer is a layer that needs no step, as far as is known.
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
	if said := unknownHazards(plan.Steps); said != "" {
		plan.Cautions = append(slices.Clip(plan.Cautions), said)
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
	kept    []bool // what stays because it was not named
	except  map[int][]Exception
	effects map[string][]Observed // by liquid, and by kind of layer
	likes   []int                 // by kind of layer: which are described alike; 0 where not asked for
	likeOf  map[likeKey]int
	kindOf  []int // by layer
	kinds   []int // the first layer of each kind
	// barriersAt are the kinds of the barriers by area, where they were asked for.
	barriersAt map[int][]int
	grounds    map[string]*ground
	found      map[asked]foundLiquids
	shutOver   map[int]bool        // the first layers of treatments whose relations were followed
	exceptLeft map[int]int         // by layer: exceptions beyond those that are listed
	outOf      map[int]Unreachable // by layer, where all of them are asked for
	followed   int                 // layers and relations that were followed to find what is shut off
	shutFull   bool                // there are more than are followed
	// dissolvers is the evidence for liquids that dissolve a layer of a kind, and
	// reversals what the tables say about undoing layers of a sort.
	dissolvers map[int]Backing
	reversals  map[reversalKey]Reversal
}

// hazardsFirst says the dangers of the specimen itself, and what is contradictory about it.
func (s *Stack) hazardsFirst() []Preparation {
	var out []Preparation
	for _, text := range s.specimen.ReadHazards().Said() {
		if text != material.SheetFirst { // stands in the plan's cautions
			out = append(out, Preparation{Code: "specimen-hazard", Sentence: text, Sources: s.knowledge.cite("common-practice")})
		}
	}
	if len(s.contradictions) > 0 {
		out = append(out, Preparation{Code: "settle-records", Sources: s.knowledge.cite("common-practice"),
			Sentence: "The records contradict each other; settle the contradictions before any step."})
	}
	return out
}

// hazard tells whether a danger of the specimen is known or suspected.
func (s *Stack) hazard(name string) bool {
	return slices.ContainsFunc(s.specimen.Hazards, func(h Hazard) bool {
		return h.Name == name && h.present()
	})
}

// choose marks what is wanted and, with it, what lies over it.
func (p *planner) choose(plan *RemovalPlan) {
	n := len(p.layers)
	p.wanted, p.taken, p.off, p.kept = make([]bool, n), make([]bool, n), make([]bool, n), make([]bool, n)
	var kept []int
	asked := map[string]bool{}
	for _, id := range p.request.Treatments {
		asked[id] = true
	}
	for l := range p.layers {
		if p.left() {
			return
		}
		if len(asked) > 0 && !asked[p.layers[l].Treatment] || p.layers[l].Identity.Withheld {
			continue // nobody takes off what is not told
		}
		if state := p.layers[l].State; !state.mayBeThere() {
			plan.AlreadyGone = append(plan.AlreadyGone, GoneLayer{
				Treatment: p.layers[l].Treatment, Index: p.layers[l].Index, State: state,
				Sentence: sentence("%s is recorded as %s, which does not mean absent", p.called(&p.layers[l]), p.goneText(l)),
			})
			continue
		}
		if p.keeps(l) {
			kept = append(kept, l)
			p.keep(plan, l, -1)
			continue
		}
		p.wanted[l], p.taken[l] = true, true
	}
	for _, l := range slices.Backward(kept) { // the latest first: it covers most
		if p.left() {
			return
		}
		p.keepUnder(plan, l)
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

// ask lists the pairs whose order is unknown, where a step depends on it.
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
