package stack

import (
	"slices"

	"meniscus/internal/material"
)

// Step is one layer coming off.
type Step struct {
	Treatment string
	Index     int
	Layer     *Layer
	// Because says why the step is there when the layer itself is not wanted off.
	Because string
	Areas   []Area
	// Except is where the layer cannot be reached, below one that cannot come off.
	Except []Exception
	// MoreExcept is how many such places there may be beyond those.
	MoreExcept int
	// Candidates are the liquids, the one with the least collateral first, then the
	// one that harms people least.
	Candidates []Candidate
	// MoreCandidates is how many liquids there are beyond those.
	MoreCandidates int
	// Excluded says which liquids are left out, and why.
	Excluded []string
	// SpotTest says that no published evidence names a liquid.
	SpotTest bool
	Methods  []MethodChoice
	// Heat says whether heat may be thought of, and why not.
	Heat HeatChoice
	// Before is what has to be done before this step, After what follows it.
	Before, After []Preparation
	// Expect is what the step can reach at best.
	Expect   string
	Blocked  []Finding
	Cautions []string
}

// MethodChoice is a way to bring the liquid, with what it needs.
type MethodChoice struct {
	Method   Method
	Sentence string
	Sources  Sources
	// ReachesPiece says that it acts on the whole connected piece; Touches then
	// counts the other layers there.
	ReachesPiece bool
	Touches      int
}

// HeatChoice is whether heat may be used.
type HeatChoice struct {
	Allowed  bool
	Sentence string
	Sources  Sources
}

// step works out one step.
func (p *planner) step(l int) Step {
	layer := &p.layers[l]
	st := Step{Treatment: layer.Treatment, Index: layer.Index, Layer: layer, Areas: layer.Areas, Except: p.except[l],
		MoreExcept: p.exceptLeft[l], Expect: p.expect(l)}
	if !p.wanted[l] {
		st.Because = "It lies over a layer that is wanted off."
	}
	near := p.neighbours(l)
	st.Candidates, st.Excluded, st.MoreCandidates = p.candidates(l, near)
	usable := slices.ContainsFunc(st.Candidates, func(c Candidate) bool { return !c.Test })
	st.SpotTest = len(st.Candidates) == 0
	st.Methods = p.methods(l)
	st.Heat = p.heat(l)
	p.prepare(l, near, &st)
	if c, ok := st.first(); ok {
		st.Blocked = append(st.Blocked, p.disturbedUnprepared(near, c)...)
	}
	switch {
	case len(st.Candidates) == 0 && !p.leavesByItself(l):
		st.Cautions = append(st.Cautions, "No published evidence names a liquid for this layer: "+
			"make a spot test and record it.")
	case !usable && !p.leavesByItself(l):
		st.Cautions = append(st.Cautions, "Every liquid here is a test to make and not an instruction.")
	}
	if p.lid(l) == Unknown {
		st.Cautions = append(st.Cautions, "It may be a practically irreversible resin: then no solvent takes it off.")
	}
	if layer.Identity.may(crossLinks) == Yes && p.settings.ageing(layer.When, p.at) != Young {
		st.Cautions = append(st.Cautions, "Its material is known or reported to cross-link with age; "+
			"what dissolved it fresh may only swell it now.")
	}
	return st
}

// unknownHazards says once of a plan of which liquids a part's hazards are not known here;
// "" where there are none.
func unknownHazards(steps []Step) string {
	var names []string
	for _, st := range steps {
		for _, c := range st.Candidates {
			if slices.Contains(c.Hazards, hazardsUnknown) && !slices.Contains(names, c.Name) {
				names = append(names, c.Name)
			}
		}
	}
	if len(names) == 0 {
		return ""
	}
	return sentence("Hazards not known here of %s; see the safety data sheet", listed(names, maxNotices))
}

// expect says what the step can reach at best.
func (p *planner) expect(l int) string {
	switch {
	case p.leavesByItself(l):
		return "It leaves by itself when it lies open; verify by weight."
	case p.layers[l].Role.soaksIn() && p.specimen.Is(Porous) != No:
		return "Reduced: nothing comes out of a porous body completely."
	}
	return "Reduced; not detected at best, by a method and down to a limit that the record has to name."
}

func (p *planner) leavesByItself(l int) bool {
	return p.layers[l].Identity.may(p.knowledge.ofKind(material.VolatileBinder)) == Yes
}

// methods lists the ways that suit the layer's role and material.
func (p *planner) methods(l int) []MethodChoice {
	layer := &p.layers[l]
	k := p.knowledge
	if p.leavesByItself(l) {
		return []MethodChoice{{
			Method: OtherMethod, Sentence: "Leave it open and wait; sealing it stops sublimation.", Sources: k.cite("stein-2000"),
		}}
	}
	swab := MethodChoice{
		Method: Swab, Sentence: "Swab: at the surface and local; change the swab often.", Sources: k.cite("common-practice"),
	}
	poultice := MethodChoice{Method: Poultice, Sentence: "Poultice: draws the resin out; covered, and repeated.",
		Sources: k.cite("welsh-1980", "restorers-list-2002")}
	mechanical := MethodChoice{
		Method:   Mechanical,
		Sentence: "Mechanical: for reacting resins, plaster and aged dispersions.",
		Sources:  k.cite("brock-2018-citing"),
	}
	vapour := MethodChoice{
		Method: VapourChamber,
		Sentence: "Vapour chamber: for joints; support the load. Vapour of acetone lies above its explosive range " +
			"while saturated and passes through it when the chamber is opened; toluene and ethanol are inside theirs " +
			"while it is closed.",
		Sources:      k.cite("podany-2001"),
		ReachesPiece: true,
	}
	immersion := MethodChoice{
		Method:       Immersion,
		Sentence:     "Immersion: only for robust dry pieces, in fresh baths; everything soluble goes with it.",
		Sources:      k.cite("common-practice"),
		ReachesPiece: true,
	}
	wicking := MethodChoice{
		Method: OtherMethod,
		Sentence: "Exchange in place: wick in acetone and feed acrylic copolymer, section by section; " +
			"full dismantling is quoted at 8 to 40 hours.",
		Sources: k.cite("neiro-2003"),
	}
	var out []MethodChoice
	switch {
	case layer.Identity.may(oneOf("cellulose-nitrate")) == Yes && layer.joint():
		out = []MethodChoice{wicking, swab, vapour}
	case layer.joint():
		out = []MethodChoice{swab, poultice, vapour}
	case layer.Role.soaksIn():
		out = []MethodChoice{poultice, immersion}
	case layer.Role == Fill || layer.Identity.may(p.knowledge.ofKind(material.Dispersion)) == Yes:
		out = []MethodChoice{mechanical, poultice}
	case layer.Identity.may(sets) == Yes:
		out = []MethodChoice{vapour, mechanical}
	default:
		out = []MethodChoice{swab, poultice}
	}
	for i := range out {
		if out[i].ReachesPiece {
			out[i].Touches = p.othersOnPiece(l)
		}
	}
	return p.fit(out)
}

// fit drops a bath for a body that is not known to be robust and dry.
func (p *planner) fit(ways []MethodChoice) []MethodChoice {
	return slices.DeleteFunc(ways, func(m MethodChoice) bool {
		return m.Method == Immersion && (p.specimen.Is(Friable) == Yes || p.specimen.Condition != "dry")
	})
}

// othersOnPiece counts the other layers on the connected piece.
func (p *planner) othersOnPiece(l int) int {
	bath := Treatment{Method: Immersion, Areas: p.layers[l].Areas}
	touch := p.atlas.touches(p.atlas.reach(&bath))
	n := 0
	for other := range p.layers {
		if other != l && !p.off[other] && p.layers[other].State.mayBeThere() &&
			p.atlas.meets(touch, p.layers[other].foot) != Untouched {
			n++
		}
	}
	return n
}

// heat says whether heat may be thought of at all.
func (p *planner) heat(l int) HeatChoice {
	sources := p.knowledge.cite("common-practice", "eklund-thomas-2010")
	refuse := func(why string) HeatChoice { return HeatChoice{Sentence: "No heat: " + why, Sources: sources} }
	layer := &p.layers[l]
	switch {
	case p.anyOnPiece(l, oneOf("cellulose-nitrate")):
		return refuse("cellulose nitrate is, or may be, on the piece.")
	case p.anyOnPiece(l, oneOf("ethyl-cyanoacrylate")):
		return refuse("cyanoacrylate is, or may be, on the piece.")
	case p.hazard("cellulose-nitrate") || p.hazard("asbestos") || p.hazard("arsenic") || p.hazard("mercury") ||
		p.hazard("radioactivity"):
		return refuse("of the specimen's own hazards.")
	case p.specimen.holdsCollagen() && p.specimen.Is(Fossil) != Yes:
		return refuse("the body may be wanted for ancient DNA or collagen.")
	}
	tg := p.glassTransition(layer)
	if tg == "" {
		return refuse("no glass transition of its material is known here.")
	}
	return HeatChoice{Allowed: true, Sentence: "Only above the glass transition (" + tg +
		"), and never on anything wet with solvent.", Sources: sources}
}

func (p *planner) anyOnPiece(l int, is func(Ref) bool) bool {
	suspect := make([]bool, len(p.kinds))
	for kind, first := range p.kinds {
		suspect[kind] = p.layers[first].Identity.may(is) != No
	}
	bath := Treatment{Method: Immersion, Areas: p.layers[l].Areas, AreasUnknown: p.layers[l].AreasUnknown}
	touch := p.atlas.touches(p.atlas.reach(&bath))
	for other := range p.layers {
		if suspect[p.kindOf[other]] && p.layers[other].State.mayBeThere() &&
			(other == l || p.atlas.meets(touch, p.layers[other].foot) != Untouched) {
			return true
		}
	}
	return false
}

func (p *planner) glassTransition(l *Layer) string {
	var values []string
	for _, r := range l.Identity.all() {
		for _, f := range p.knowledge.Property(r.Material, material.GlassTransition, r.Grade).All {
			values = append(values, f.Value.Written+" °C")
		}
	}
	return listed(slices.Compact(values), 3)
}

// prepare lists what has to be done around the step.
func (p *planner) prepare(l int, near []neighbour, st *Step) {
	layer := &p.layers[l]
	own := neighbour{layers: []string{layer.Treatment}, count: 1}
	prepare := func(code, rule, text string, concerned ...neighbour) Preparation {
		out := Preparation{Code: code, Rule: rule, Sentence: text, Sources: p.knowledge.cite("common-practice")}
		for _, n := range concerned {
			out.Layers, out.Count = append(out.Layers, n.layers...), out.Count+n.count
		}
		out.Layers = compactedText(out.Layers)
		return out
	}
	labels, joints := p.atRisk(near, st.Candidates)
	if layer.Role.label() {
		labels = append(labels, own)
		st.Before = append(st.Before, prepare("curator-approval", labelUnapproved,
			"Ask the curator: labels, numbers and field-jacket evidence come off only with approval.", own))
	}
	if len(labels) > 0 {
		st.Before = append(st.Before, prepare("record-number", unpreparedRemoval,
			"Record the number, and photograph it, before its base coat can go; plan the new label.", labels...))
		st.After = append(st.After,
			prepare("new-label", unpreparedRemoval, "Put the number back on, and keep it with the piece until then.", labels...))
	}
	if layer.joint() {
		joints = append(joints, own)
	}
	if len(joints) > 0 {
		st.Before = append(st.Before, prepare("support", unpreparedRemoval,
			"Support the joints and fills that share the solvent, and the parts that they hold.", joints...))
	}
	if layer.Role.soaksIn() && p.specimen.Is(Friable) != No {
		st.Before = append(st.Before, prepare("replacement", friableUnreplaced,
			"Name the consolidant or the support that takes its place before any of it comes out.", own))
		st.Blocked = append(st.Blocked, p.outOfFriable(layer))
	}
}

// outOfFriable is the finding on a step that takes a consolidant out of what may be friable.
func (p *planner) outOfFriable(layer *Layer) Finding {
	f := Finding{
		Rule:     friableUnreplaced,
		Severity: Block,
		Sentence: "A consolidant is taken out of friable material; name a replacement or a support.",
		Layers:   []string{layer.Treatment},
		Remedy:   "Name the replacement or the support.",
		Sources:  p.knowledge.cite("common-practice"),
		Status:   "common-practice",
	}
	if p.specimen.Is(Friable) == Unknown {
		f.Severity, f.Unknown, f.Traits, f.Sentence = Warn, true, []Trait{Friable},
			"Whether the body is friable is not recorded; if it is, name a replacement or a support before any "+
				"consolidant comes out."
	}
	return f
}

// atRisk lists the labels, and the joints and fills, that a candidate disturbs
// or may disturb.
func (p *planner) atRisk(near []neighbour, candidates []Candidate) (labels, joints []neighbour) {
	for _, n := range near {
		role := p.layers[n.first].Role
		harmed := slices.ContainsFunc(candidates, func(c Candidate) bool {
			return p.effectOn(n.first, c.Solvent) != NoEffect
		})
		switch {
		case !harmed:
		case role.label():
			labels = append(labels, n)
		case role == Adhesive || role == Fill:
			joints = append(joints, n)
		}
	}
	return labels, joints
}

func compactedText(list []string) []string {
	list = slices.Clone(list)
	slices.Sort(list)
	list = slices.Compact(list)
	if len(list) > maxListed {
		list = list[:maxListed]
	}
	return list
}
