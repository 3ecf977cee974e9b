package stack

import (
	"slices"
	"strings"
)

// disturbingRules ask whether the liquids of a treatment disturb what is there.
var disturbingRules = []Rule{
	{
		ID: solventReaches, Severity: Warn,
		Condition: "The new solvent dissolves, softens or swells an earlier layer in an overlapping area; it blocks over " +
			"a joint that carries load and is not supported, and over a label whose number is not recorded.",
		Remedy: "Choose another solvent, lay a barrier, or support the piece; " +
			"record the number before its base coat can go.",
		Sources: []string{"common-practice", "fossil-repository-numbering", "furniture-conservator-2012"},
		look:    disturb,
	},
	{
		ID: sameResinOver, Severity: Info,
		Condition: "The same resin in the same solvent goes over an earlier consolidant, into which it re-enters, or over " +
			"a joint, which it softens; it blocks over a joint that carries load and is not supported.",
		Remedy: "Over a joint, support it until it is dry, or choose a solvent that does not act on its adhesive; " +
			"over a consolidant, expect the resin to re-enter and to migrate.",
		Sources: []string{"common-practice"},
		look:    disturb,
	},
	{
		ID: knownSolvent, Severity: Warn,
		Condition: "Alcohol over shellac, poly(vinyl butyral) or hydroxypropylcellulose; water over glue, gelatin, " +
			"methylcellulose, polyethylene glycol, gum or plaster; acetone over the acrylic copolymer, poly(vinyl acetate), " +
			"cellulose nitrate or lower-hydroxyl poly(vinyl butyral).",
		Remedy: "Choose another solvent, lay a barrier, or support the piece; " +
			"record the number before its base coat can go.",
		Sources: []string{"goldberg-davidson-2014", "recalled"},
		look:    disturb,
	},
	{
		ID: "earlier-layer-unknown", Severity: Warn,
		Condition: "An earlier layer is unknown or named by words that may mean several materials, " +
			"or nothing is recorded of the area.",
		Remedy:  "Make a small test with each candidate solvent in the area and record it.",
		Sources: []string{"common-practice"},
		look:    unknownLayers,
	},
	{
		ID: "solvent-near-labels-or-paint", Severity: Info,
		Condition: "Solvent near plastics, old labels, inked numbers, painted or coated surfaces.",
		Remedy:    "Test first, beside the place where it matters.",
		Sources:   []string{"common-practice"},
		look:      nearColour,
	},
}

// knownPairs are the liquids that are known to take materials off.
var knownPairs = map[string][]string{
	"alcohols": {"shellac", "pvb-low-hydroxyl", "pvb-high-hydroxyl", "poly-vinyl-butyral", "hydroxypropylcellulose"},
	"water":    {"animal-glue", "methylcellulose", "polyethylene-glycol", "gum", "plaster-of-paris"},
	"acetone": {
		"ethyl-methacrylate-methyl-acrylate-copolymer", "poly-vinyl-acetate-resin", "cellulose-nitrate", "pvb-low-hydroxyl",
	},
}

func (k knowing) knownPair(id Identity, liquid string) bool {
	for class, materials := range knownPairs {
		if k.IsA(liquid, class) || (class == "water" && k.IsA(liquid, "hot-water")) {
			if id.may(func(r Ref) bool { return slices.Contains(materials, r.Material) }) == Yes {
				return true
			}
		}
	}
	return false
}

// disturbance is how one layer is disturbed, and which rule says so.
type disturbance struct {
	rule     string
	severity Severity
	verb     string
	liquid   string
	because  string
	obs      Observation
}

// disturb files the findings of the three rules on disturbed layers; each takes those
// that are its own.
func disturb(sc *scene) {
	if !sc.watches() {
		return
	}
	if !sc.liquidsKnown && sc.rule.ID == solventReaches {
		sc.unknownLiquid()
	}
	mine := map[int]disturbance{}
	var disturbed, open, gone, calm []met
	for i, d := range sc.disturbed {
		m := sc.met[i]
		if d.rule != sc.rule.ID || sc.isRemoved(m) {
			continue
		}
		mine[m.index] = d
		switch {
		case d.obs.Observed.disturbs():
			disturbed = append(disturbed, m)
		case !d.obs.Observed.open():
			calm = append(calm, m)
		case m.Identity.Settled() && m.state.mayBeThere():
			open = append(open, m)
		case m.Identity.Settled():
			gone = append(gone, m)
		}
	}
	sc.fileDisturbed(disturbed, mine)
	sc.fileOpen(open)
	sc.fileGone(gone)
	for _, g := range grouped(calm, met.sort) {
		sc.clear(sentence("%s: no effect on %s", sc.knowledge.liquidNames(sc.liquids), sc.these(g)),
			mine[g[0].index].obs.Backing, g...)
	}
}

// isRemoved tells whether a layer is what the treatment means to take off.
func (sc *scene) isRemoved(m met) bool {
	return sc.p.Action == Removing && sc.removes[m.Treatment]
}

func (sc *scene) disturbanceOf(m met) disturbance {
	o, liquid := sc.verdict(m)
	d := disturbance{rule: solventReaches, severity: Warn, liquid: liquid, obs: o, verb: observedVerbs[o.Observed]}
	if !o.Observed.disturbs() {
		return d
	}
	same := sc.sameResin(m, liquid)
	switch {
	case same && m.Role.soaksIn():
		d.rule, d.severity = sameResinOver, Info
		d.because = "; it re-enters, which is ordinary, and may migrate"
	case same && m.joint():
		d.rule = sameResinOver
		d.severity, d.because = sc.weigh(m)
		d.because = "; the joint softens and can slump until it is dry" + d.because
	default:
		if sc.knowledge.knownPair(m.Identity, liquid) && !o.Tested {
			d.rule = knownSolvent
		}
		d.severity, d.because = sc.weigh(m)
	}
	if o.Ambiguous {
		d.severity, d.because = min2(d.severity, Warn), d.because+"; it depends on which of its candidates it is"
		d.verb = "may " + strings.TrimSuffix(d.verb, "s")
	}
	return d
}

// weigh raises the severity over a joint that carries load and over a label
// whose number is not recorded, and says so where that is not known.
func (sc *scene) weigh(m met) (Severity, string) {
	switch {
	case m.joint() && sc.p.Supported == Yes:
		return Warn, "; the joint is to be supported"
	case m.joint() && m.CarriesLoad == Yes:
		return Block, "; the joint carries load"
	case m.joint() && m.CarriesLoad == Unknown:
		return Warn, "; whether the joint carries load is not recorded"
	case m.Role.label() && m.NumberRecorded == No:
		return Block, "; the number is not recorded and would be lost"
	case m.Role.label() && m.NumberRecorded == Unknown:
		return Warn, "; whether the number is recorded elsewhere is not known"
	}
	return Warn, ""
}

func min2(a, b Severity) Severity {
	if a.weight() < b.weight() {
		return a
	}
	return b
}

// sameResin tells whether the treatment brings the layer's own resin in the
// liquid that the layer came in.
func (sc *scene) sameResin(m met, liquid string) bool {
	if !m.SolventsKnown || !slices.ContainsFunc(m.Solvents, func(s Share) bool { return s.Solvent == liquid }) {
		return false
	}
	return slices.ContainsFunc(sc.put, func(l Layer) bool { return l.Identity.shares(m.Identity) })
}

func (sc *scene) fileDisturbed(layers []met, by map[int]disturbance) {
	type key struct {
		sort                  layerSort
		severity              Severity
		verb, liquid, because string
		state                 LayerState
		possibly, tested      bool
	}
	for _, g := range grouped(layers, func(m met) key {
		d := by[m.index]
		return key{m.sort(), d.severity, d.verb, d.liquid, d.because, m.state, m.touch == Possibly, d.obs.Tested}
	}) {
		m, d := g[0], by[g[0].index]
		f := Finding{Severity: d.severity, Backing: d.obs.Backing}
		f.Sentence = sentence("%s %s %s%s", sc.knowledge.name(d.liquid), d.verb, sc.these(g), d.because)
		if d.obs.WrongAge {
			f.Sentence = sentence("%s %s fresh films of the material of %s; of films as old as this nothing is published%s",
				sc.knowledge.name(d.liquid), d.verb, sc.these(g), d.because)
		}
		if d.obs.recalledOnly() {
			f.Sentence += " This is recalled and not read in a source: make a test."
		}
		if d.obs.Tested {
			f.Sources = nowhere // the evidence names the test
		}
		sc.soften(&f, m)
		sc.add(f, g...)
	}
}

// soften lowers a finding where the layer is only possibly reached, or was not
// found any more.
func (sc *scene) soften(f *Finding, m met) {
	if m.touch == Possibly {
		f.Possible = true
		f.Severity = f.Severity.softer()
		f.Sentence += " The layer is only possibly reached."
	}
	if !m.state.mayBeThere() {
		f.Severity = Info
		f.Sentence += " What is left of it is recorded as " + string(m.state) + ", which does not mean absent."
	}
}

// fileOpen files one finding for all layers on which the effect of the liquid
// is not published.
func (sc *scene) fileOpen(layers []met) {
	if len(layers) == 0 {
		return
	}
	kinds := map[string]bool{}
	var names []string
	for _, m := range layers {
		if name := sc.knowledge.describe(m.Identity); !kinds[name] {
			kinds[name] = true
			names = append(names, name)
		}
	}
	slices.Sort(names)
	sc.add(Finding{
		Unknown: true,
		Sentence: sentence("No published observation settles what %s does to %s", sc.knowledge.liquidNames(sc.liquids),
			listed(names, 6)),
		Remedy:  "Make a small test on the layer and record it.",
		Sources: nowhere, Status: "memory",
	}, layers...)
}

// fileGone files layers that were not found any more, where the effect of the
// liquid on what may be left is unknown.
func (sc *scene) fileGone(layers []met) {
	type key struct {
		sort  layerSort
		state LayerState
	}
	for _, g := range grouped(layers, func(m met) key { return key{m.sort(), m.state} }) {
		f := Finding{
			Severity: Info,
			Sources:  nowhere,
			Sentence: sentence("What %s does to what may be left of %s is not known", sc.knowledge.liquidNames(sc.liquids),
				sc.these(g)),
		}
		sc.soften(&f, g[0])
		sc.add(f, g...)
	}
}

// unknownLiquid warns where the record does not say what the treatment
// brings.
func (sc *scene) unknownLiquid() {
	if len(sc.met) == 0 {
		return
	}
	said := "Which solvent the treatment brings is not said, so what it does to the earlier layers cannot be told."
	if len(sc.liquids) > 0 {
		said = sentence("Whether the treatment brings other liquids than %s is not said, so what they do to the earlier layers "+
			"cannot be told", sc.knowledge.liquidNames(sc.liquids))
	}
	sc.add(Finding{
		Unknown:  true,
		Sentence: said,
		Remedy:   "Say the solvents, or name the batch.",
	}, sc.met...)
}

// unknownLayers files one collapsed finding for all earlier layers whose
// material is not certain, and for areas without any record.
func unknownLayers(sc *scene) {
	if !sc.watches() || (len(sc.liquids) == 0 && sc.liquidsKnown) {
		return
	}
	var open, tested []met
	for _, m := range sc.met {
		switch {
		case m.Identity.Settled() && sc.allKnown(m.Identity):
		case sc.testedWithAll(m):
			tested = append(tested, m)
		default:
			open = append(open, m)
		}
	}
	if len(tested) > 0 {
		sc.clear("Unknown layers were tested in this area with every solvent of the treatment.", Backing{}, tested...)
	}
	bare := sc.unrecorded()
	if len(open) == 0 && len(bare) == 0 {
		return
	}
	sc.add(Finding{Unknown: true, Severity: Warn, Areas: bare, Sentence: sc.unknownSentence(open, bare)}, open...)
}

// allKnown tells whether the service knows the materials by name at all.
func (sc *scene) allKnown(id Identity) bool {
	return !slices.ContainsFunc(id.all(), func(r Ref) bool { return !sc.knowledge.known(r.Material) })
}

func (sc *scene) testedWithAll(m met) bool {
	if !sc.liquidsKnown {
		return false
	}
	return !slices.ContainsFunc(sc.liquids, func(l Share) bool { return len(sc.trialsOf(m, l.Solvent)) == 0 })
}

// unrecorded gives the named areas without any record: no layer, no
// examination that found nothing, and no test with the solvents.
func (sc *scene) unrecorded() []Area {
	bare := sc.bareFindings()
	var areas []Area
	for _, a := range cleaned(sc.p.Areas) {
		id := sc.atlas.id(a)
		if sc.covered(id) {
			continue
		}
		if e := sc.bareIn(id, bare); e != nil {
			sc.clear(sentence("An examination of %s found nothing (%s)", e.Area, dateText(e.Date, e.When)), Backing{})
			continue
		}
		if sc.triedBare(id) {
			sc.clear(sentence("The surface of %s was tested with every solvent of the treatment", a), Backing{})
			continue
		}
		areas = append(areas, a)
	}
	return areas
}

// covered tells whether a recorded layer covers the area.
func (sc *scene) covered(area int) bool {
	found := false
	sc.atlas.above(area, func(i int) { found = found || len(sc.firstsAt[i]) > 0 })
	return found
}

// triedBare tells whether every liquid was tried in the area.
func (sc *scene) triedBare(area int) bool {
	if !sc.liquidsKnown || len(sc.liquids) == 0 {
		return false
	}
	return !slices.ContainsFunc(sc.liquids, func(l Share) bool {
		return !sc.triedIn(area, l.Solvent)
	})
}

// triedIn tells whether a liquid was tried in the area, on whatever lies there.
func (sc *scene) triedIn(area int, solvent string) bool {
	for _, trials := range sc.trialsOn {
		for _, t := range trials {
			if t.solvent == solvent && slices.ContainsFunc(t.areas, func(a int) bool {
				_, ok := sc.atlas.common(a, area)
				return ok
			}) {
				return true
			}
		}
	}
	return false
}

func (sc *scene) unknownSentence(open []met, bare []Area) string {
	text := ""
	if len(open) > 0 {
		var words []string
		for _, m := range open {
			if w := sc.knowledge.describe(m.Identity); !slices.Contains(words, w) && len(words) < 5 {
				words = append(words, w)
			}
		}
		text = sentence("%s earlier layers cannot be named for certain (%s)", tally(len(open)), listed(words, 4))
		if len(open) == 1 {
			text = sentence("An earlier layer cannot be named for certain (%s)", listed(words, 4))
		}
	}
	if len(bare) > 0 {
		var names []string
		for _, a := range bare {
			names = append(names, string(a))
		}
		text = sentence("%s %s", text, sentence("nothing is recorded of %s, which does not mean untreated", listed(names, 5)))
	}
	return text
}

// nearColour files labels, paint and coatings that the liquid comes near.
func nearColour(sc *scene) {
	if !sc.watches() || (len(sc.liquids) == 0 && sc.liquidsKnown) {
		return
	}
	var near, open []met
	for _, m := range sc.met {
		switch {
		case sc.testedWithAll(m) || sc.isRemoved(m):
		case m.Role.label() || m.Role == Paint || m.Role == Coat:
			near = append(near, m)
		case m.Role == UnknownRole:
			open = append(open, m)
		}
	}
	switch {
	case len(near)+len(open) == 0:
		if sc.specimen.Is(Coloured) == Yes {
			sc.add(Finding{Sentence: "The solvent comes near a painted or coated surface."})
		}
	case len(open) == 0:
		sc.add(Finding{Sentence: "The solvent comes near labels, inked numbers, paint or coatings."}, near...)
	case len(near) == 0:
		sc.add(Finding{
			Unknown:  true,
			Sentence: "What some layers in reach are there for is not known; they may be labels, paint or coatings.",
		}, open...)
	default:
		sc.add(Finding{
			Unknown: true,
			Sentence: sentence("The solvent comes near labels, inked numbers, paint or coatings, "+
				"and what %s in reach is there for is not known", plural(len(open), "one more layer", "more layers")),
		},
			slices.Concat(near, open)...)
	}
}
