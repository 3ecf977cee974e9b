package stack

import (
	"cmp"
	"slices"

	"meniscus/internal/edtf"
	"meniscus/internal/fault"
)

// CheckConfig is the input of a check beside the treatment.
type CheckConfig struct {
	Tuning    Tuning
	Overrides []Override
	// Recorded says that the treatment has happened: what is not recorded about
	// the moment of working is then information and not a warning.
	Recorded bool
}

// Check looks at a treatment, proposed or recorded, against what is on the
// specimen: the findings, most severe first, and what was cleared. It never
// refuses a record.
func (s *Stack) Check(p Treatment, c CheckConfig) (Checked, error) {
	if err := c.Tuning.Check(); err != nil {
		return Checked{}, err
	}
	return s.around(&p).check(&p, c)
}

// around is the stack with the areas of a treatment in its atlas, and without an
// earlier record of that treatment.
func (s *Stack) around(p *Treatment) *Stack {
	known := !s.Has(p.ID)
	p.eachArea(func(a Area) {
		_, ok := s.atlas.index[a.Clean()]
		known = known && ok
	})
	if known {
		return s
	}
	return build(s.config, s.knowledge, p)
}

func (s *Stack) check(p *Treatment, c CheckConfig) (Checked, error) {
	if s.left() {
		return Checked{}, s.Err()
	}
	sc := s.sceneFor(p, c.Recorded)
	for i := range allRules {
		if s.left() {
			break
		}
		if sc.rule = &allRules[i]; sc.rule.look != nil {
			sc.rule.look(sc)
		}
	}
	for i := range sc.findings {
		tune(&sc.findings[i], c)
	}
	out := Checked{Findings: sortFindings(sc.findings), Cleared: sc.cleared}
	out.Contradictions, out.MoreContradictions = s.Contradictions()
	return out, s.Err()
}

// CheckRecorded looks at one of the treatments that a configuration holds, as
// it stood on its own day: against the others that may have come before it.
func CheckRecorded(c Config, id string, check CheckConfig) (Checked, error) {
	if err := c.check(); err != nil {
		return Checked{}, err
	}
	if err := check.Tuning.Check(); err != nil {
		return Checked{}, err
	}
	at := slices.IndexFunc(c.Treatments, func(t Treatment) bool { return t.ID == id })
	if at < 0 {
		return Checked{}, fault.Of(fault.NotFound, "treatment-not-among",
			"The treatment to check is not among those of the specimen.")
	}
	p := &c.Treatments[at]
	if !p.When.To.IsZero() {
		c.At = p.When.To
	}
	check.Recorded = true
	return build(c, newKnowing(c.Knowledge), p).check(p, check)
}

// tune applies the institution's severities and the overrides.
func tune(f *Finding, c CheckConfig) {
	if t, ok := c.Tuning[f.Rule]; ok && t.Severity != f.Severity {
		f.TunedFrom, f.TunedBecause, f.Severity = f.Severity, t.Reason, t.Severity
	}
	for _, o := range c.Overrides {
		if o.Rule == f.Rule && o.Reason != "" && f.Severity == Block {
			f.Overridden = o.Reason
		}
	}
}

// scene is one treatment before the layers that it meets.
type scene struct {
	*Stack
	p        *Treatment
	recorded bool
	rule     *Rule
	foot     footprint
	touch    []Touch
	// put are the layers that the treatment makes.
	put []Layer
	// liquids are what it brings; liquidsKnown is false where that is not said.
	liquids      []Share
	liquidsKnown bool
	met          []met
	disturbed    []disturbance // what the liquids do to each layer that is met
	verdicts     map[verdictKey]liquidVerdict
	removes      map[string]bool // the treatments that it means to take off
	findings     []Finding
	cleared      []Cleared
}

// met is an earlier layer that the treatment reaches.
type met struct {
	index int
	*Layer
	touch Touch
	state LayerState
	age   Ageing
}

func (s *Stack) sceneFor(p *Treatment, recorded bool) *scene {
	sc := &scene{Stack: s, p: p, recorded: recorded, verdicts: map[verdictKey]liquidVerdict{}}
	sc.removes = map[string]bool{}
	if p.Removal != nil {
		for _, id := range p.Removal.Treatments {
			sc.removes[id] = true
		}
	}
	sc.foot = s.atlas.reach(p)
	sc.touch = s.atlas.touches(sc.foot)
	sc.put = layersOf(p, s.knowledge)
	sc.liquids, sc.liquidsKnown = s.knowledge.liquidsOf(p)
	day := s.day(p)
	for i := range s.layers {
		if s.left() {
			return sc
		}
		l := &s.layers[i]
		touch := s.atlas.meets(sc.touch, l.foot)
		if touch == Untouched || after(l.When.From, p.When.To) {
			continue
		}
		sc.met = append(sc.met, met{
			index: i, Layer: l, touch: touch, state: s.stateUnder(i, sc.foot), age: s.settings.ageing(l.When, day),
		})
	}
	if sc.watches() && len(sc.liquids) > 0 {
		for _, m := range sc.met {
			if s.left() {
				break
			}
			sc.disturbed = append(sc.disturbed, sc.disturbanceOf(m))
		}
	}
	return sc
}

// day is the day of a treatment: its last possible one, or the day asked about.
func (s *Stack) day(p *Treatment) edtf.Day {
	if !p.When.To.IsZero() {
		return p.When.To
	}
	return s.at
}

// liquidsOf gives every liquid that a treatment brings, from what was used and
// from the exposures, and whether they are known.
func (k knowing) liquidsOf(p *Treatment) ([]Share, bool) {
	var liquids []Share
	known := true
	for i := range p.Uses {
		shares, ok := k.broughtWith(&p.Uses[i])
		liquids = append(liquids, shares...)
		known = known && ok
	}
	for _, e := range p.Exposures {
		liquids = append(liquids, k.parts([]Share{{Solvent: e.Solvent}})...)
	}
	if len(p.Uses) == 0 && len(p.Exposures) == 0 {
		known = !p.bringsLiquid()
	}
	slices.SortStableFunc(liquids, func(a, b Share) int { return cmp.Compare(a.Solvent, b.Solvent) })
	return slices.CompactFunc(liquids, func(a, b Share) bool { return a.Solvent == b.Solvent }), known
}

// bringsLiquid tells whether an action like this usually wets the specimen, so
// that a record that names no liquid leaves the matter open.
func (t *Treatment) bringsLiquid() bool {
	if t.Method == Mechanical {
		return false
	}
	switch t.Action {
	case MechanicalPreparation, Sampling, Testing, Examining, Damage, Mounting:
		return false
	}
	return true
}

// watches tells whether the rules on layers apply: to all that acts on the
// specimen, and not to looking, to a trial or to damage.
func (sc *scene) watches() bool {
	switch sc.p.Action {
	case Examining, Testing, Damage, Sampling:
		return false
	}
	return true
}

// add files a finding of the rule at hand, filling what the rule says itself.
func (sc *scene) add(f Finding, layers ...met) {
	f.Rule = sc.rule.ID
	f.Severity = cmp.Or(f.Severity, sc.rule.Severity)
	if f.Unknown {
		f.Severity = sc.unknownSeverity(f.Severity)
		f.Unanswerable = sc.recorded && sc.rule.Application
	}
	f.Remedy = cmp.Or(f.Remedy, sc.rule.Remedy)
	if f.Sources == "" {
		f.Sources = sourcesOf(f.Evidence).and(sc.knowledge.cite(sc.rule.Sources...))
	}
	f.Status = cmp.Or(f.Status, sc.rule.Status)
	f.Layers, f.Count = treatmentsOf(layers)
	if f.Areas == nil {
		f.Areas = cleaned(sc.p.Areas)
	}
	sc.findings = append(sc.findings, f)
}

// unknownSeverity: what is unknown gives a warning, and never no finding.
// About a moment that is past it gives information.
func (sc *scene) unknownSeverity(s Severity) Severity {
	if sc.recorded && sc.rule.Application {
		return Info
	}
	if s == Info {
		return Warn
	}
	return s
}

// clear files a matter that has an answer.
func (sc *scene) clear(text string, rests Backing, layers ...met) {
	sources := sourcesOf(rests.Evidence)
	if sources == "" && len(rests.Evidence) == 0 {
		sources = sc.knowledge.cite(sc.rule.Sources...)
	}
	c := Cleared{Rule: sc.rule.ID, Sentence: text, Backing: rests, Sources: sources}
	c.Layers, c.Count = treatmentsOf(layers)
	sc.cleared = append(sc.cleared, c)
}

// treatmentsOf lists the treatments of layers, at most maxListed of them, and
// how many layers there are.
func treatmentsOf(layers []met) ([]string, int) {
	var ids []string
	for _, m := range layers {
		ids = append(ids, m.Treatment)
	}
	slices.Sort(ids)
	ids = slices.Compact(ids)
	if len(ids) > maxListed {
		ids = ids[:maxListed]
	}
	return ids, len(layers)
}
