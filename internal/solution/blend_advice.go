package solution

import (
	"fmt"
	"strings"
)

// advise adds the warnings of a blend.
func (a *SolventBlendAnswer) advise(b SolventBlend, m blend) {
	var open []string
	for i, s := range m.solvents {
		for _, t := range m.solvents[:i] {
			p := b.pair(t.Name, s.Name)
			a.advisePair(p, len(m.solvents))
			if p.Mixing == MixesUnknown {
				open = append(open, t.Name+" and "+s.Name)
			}
		}
		a.citeSolvent(s)
	}
	if len(open) > 0 {
		a.warn("mixing-not-known", Info, miscibility, "Whether these mix in every proportion is not held here: "+
			strings.Join(open, "; ")+". Most organic solvents do; try a few millilitres.")
	}
	a.adviseEvaporation()
	if len(m.solvents) > 1 {
		a.warn("hazards-of-parts", Info, notMixture,
			"The hazards are those of the parts together; the mixture itself may be classed otherwise, by "+
				"concentration limits that are not held here.")
	}
	if a.Resin != nil {
		a.adviseResin()
	}
	a.Steps = a.steps()
	a.Cautions = append(a.Cautions,
		Caution{"Mix in a fume hood or outdoors, away from flames and sparks, with the gloves and eye protection " +
			"that the safety data sheets name; a glove that stands one part may not stand the other.", practice},
	)
	for _, s := range m.solvents {
		a.caution(s.Cautions...)
	}
}

// advisePair warns of two solvents that mix only in part, or shrink.
func (a *SolventBlendAnswer) advisePair(p SolventPair, solvents int) {
	source := p.Source
	if source.Citation == "" {
		source = miscibility
	}
	remark := ""
	if p.Remark != "" {
		remark = " (" + p.Remark + ")"
	}
	switch p.Mixing {
	case MixesPartly:
		a.warn("mixes-partly", Warn, source,
			fmt.Sprintf("%s and %s mix only in part%s: beyond that they stand as two layers.", capital(p.A), p.B, remark))
	case DoesNotMix:
		a.warn("held-together", Warn, source,
			fmt.Sprintf("%s and %s do not mix by themselves; whether the others hold them together in this "+
				"proportion is not known here.", capital(p.A), p.B))
	}
	if p.Shrinks == "" {
		return
	}
	how := "the computed density is that much too low or high"
	if solvents == 2 {
		how = "measure by weight, or make it up to volume, where that matters"
	}
	a.warn("not-additive", Info, p.ShrinksSource, fmt.Sprintf("The volume of %s and %s departs from the sum by %s; %s.",
		p.A, p.B, p.Shrinks, how))
}

// citeSolvent names the sources of what was used of a solvent.
func (a *SolventBlendAnswer) citeSolvent(s BlendSolvent) {
	a.cite(s.Density.Source)
	if s.Teas != nil {
		a.cite(s.Teas.Source)
	}
	if s.Hansen != nil {
		a.cite(s.Hansen.Source)
	}
	for _, r := range s.Rates {
		a.cite(r.Source)
	}
	for _, h := range s.Hazards {
		a.cite(h.Source)
	}
}

// adviseEvaporation says what is left at the end, and where the figures disagree.
func (a *SolventBlendAnswer) adviseEvaporation() {
	var unknown []string
	for _, l := range a.Evaporation {
		if l.Rate == nil {
			unknown = append(unknown, l.Name)
			continue
		}
		for _, o := range l.Others {
			if ratio := o.Value / l.Rate.Value; ratio > 1.25 || ratio < 0.8 {
				a.warn("rates-disagree", Info, o.Source,
					fmt.Sprintf("Another source gives %s the rate %s where %s is used here.", l.Name, number(o.Value),
						number(l.Rate.Value)))
			}
		}
	}
	if len(unknown) > 0 {
		a.warn("rate-unknown", Info, ratesNote, "No evaporation rate is held for "+list(unknown)+
			"; its place in the order is open.")
	}
	if n := len(a.Evaporation); n > 1 && len(unknown) == 0 {
		first, last := a.Evaporation[0], a.Evaporation[n-1]
		a.warn("composition-shifts", Info, ratesNote,
			fmt.Sprintf("%s leaves first and %s last: near the end the resin is in %s almost alone, and a blend that "+
				"dissolves it fresh may drop it then. Azeotropes and water from the air change the order.",
				capital(first.Name), last.Name, last.Name))
	}
}

// adviseResin brings the estimate's faults and the observations' sources in.
func (a *SolventBlendAnswer) adviseResin() {
	for _, o := range a.Resin.Observations {
		a.cite(o.Source)
	}
	if len(a.Resin.Observations) == 0 {
		a.warn("no-observation", Warn, practice, a.Resin.Seen)
	}
	if a.Resin.Estimate != nil {
		a.cite(a.Resin.Estimate.Source, knownWrong)
		a.warn("estimate-only", Info, knownWrong, a.Resin.Estimate.Sentence)
	}
}
