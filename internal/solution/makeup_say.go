package solution

import (
	"math"
	"strings"

	"meniscus/internal/quantity"
)

// mixingCautions are the cautions of every mixing: with solvents, and with what burns.
var mixingCautions = []Caution{
	{"Wear gloves and eye protection that the safety data sheets name for these solvents, and work where the vapour is drawn away from the face.", practice},
	{"Keep flames, hot plates and sparking equipment away: most resin solvents burn, and their vapour travels.", practice},
}

// dissolvingSource is the one published dissolving time that was read.
var dissolvingSource = Cited("koob-2018", Read)

// vessel fills in how the container fits, the mark, the time to clear and the label.
func (m *mixing) vessel(p *Preparation, target Mixture, main Recipe) {
	x := m.s.nominal()
	switch {
	case main.Poured > 0:
		p.Fit = m.room.fit(main.Poured)
	case target.Volume.Answered():
		p.Fit = m.room.fit(m.s.poured(x, m.plan.exact(x)))
	}
	if main.Way == ToTheMark && main.Unanswered == "" {
		p.MarkWater = m.markWater(main.Ingredients[len(main.Ingredients)-1].Mark)
	}
	p.Clearing = m.clears(target)
	if main.TooCoarse == nil {
		p.Label = m.label(target, main)
	}
}

// markWater gives the water to weigh in to find a mark, as a scale shows it at the
// temperature of the room.
func (m *mixing) markWater(millilitres float64) *MarkWater {
	g := millilitres * waterWeighed(m.s.celsius)
	return &MarkWater{Millilitres: millilitres, Grams: g, Rounded: m.gauges.scale.round(g)}
}

// clears says when it is ready: dissolving takes time, dilution does not.
func (m *mixing) clears(target Mixture) string {
	if m.role == ResinRole && m.in0().Resin {
		return clearing(target.On(MassPerSolutionVolume))
	}
	if m.role == ResinRole {
		return "Let it dissolve, stirred or turned now and then; look for lumps and cloud before use."
	}
	return "Look for cloud or threads before use."
}

// in0 is the substance that is dissolved first of all.
func (m *mixing) in0() Component { return m.s.components[0] }

// clearing says how long a solution takes. Where low ends and high begins (10 g per
// 100 mL) is common practice too.
func clearing(v View) string {
	const high = 10
	if v.Answered() && v.Value < high {
		return "It takes a few hours to clear, turned now and then; look for pellets and cloud before use."
	}
	return "Leave it overnight to clear, turned now and then; look for pellets and cloud before use."
}

// label gives the lines of the jar's label, without the date and the maker: the strength is that
// of the recipe as rounded.
func (m *mixing) label(target Mixture, made Recipe) []string {
	strength := m.onLabel(made)
	_, liquids := target.names()
	lines := append(target.labelled(strength), "made on (date), by (initials), from supplies (codes)")
	if liquids == "water" || liquids == "" {
		return lines
	}
	return append(lines, "hazards: as on the labels of "+liquids)
}

// labelled are the first lines of a label: what is dissolved, how strong, and in what; without those
// that say nothing.
func (m Mixture) labelled(strength string) []string {
	solids, liquids := m.names()
	switch {
	case liquids == "":
		return []string{solids}
	case solids == "":
		return []string{liquids}
	}
	return []string{solids, strength, "in " + liquids}
}

// onLabel is the strength that a label says of what a recipe makes. Where no density is known
// that it depends on, it is the one that was asked.
func (m *mixing) onLabel(made Recipe) string {
	if made.Strength.Said == "" {
		return m.asked.said()
	}
	return made.Strength.Said
}

// asMade is the strength of a recipe as rounded, as a label says it. Without an uncertainty it has
// three digits, as the amounts have.
func (m *mixing) asMade(r Recipe) View {
	v := r.AsRounded.saidOn(m.basis, m.stockBasis)
	if v.Said != "" && v.Standard == 0 {
		v.Said = said(v.Basis, quantity.Digits(v.Value, 3))
	}
	return v
}

// saidOn gives the view for a label: on the first of the bases that is a strength and
// is answered, else by mass. Parts say how a solution was mixed, not what it is.
func (m Mixture) saidOn(bases ...Basis) View {
	for _, b := range bases {
		if v := m.On(b); v.Answered() && b != PartsByVolume && b != PartsByMass {
			return v
		}
	}
	return m.On(MassFraction)
}

// names lists what is dissolved and what in.
func (m Mixture) names() (solids, liquids string) {
	var s, l []string
	for _, part := range m.Parts {
		switch {
		case part.Aside:
		case part.Dissolved:
			s = append(s, part.Name)
		default:
			l = append(l, part.Name)
		}
	}
	return list(s), list(l)
}

// advise adds steps, warnings, cautions and sources.
func (m *mixing) advise(a *Advice, p *Preparation, target Mixture, main, byWeight *Recipe) {
	main.Steps, byWeight.Steps = m.steps(*p, target, *main), m.steps(*p, target, *byWeight)
	a.Steps = main.Steps
	a.Answer = m.says(*main)
	a.warnFit(p.Fit)
	if main.TooCoarse != nil {
		a.Warnings = append(a.Warnings, *main.TooCoarse)
	}
	a.warnInstruments(m.gauges, main.Way)
	a.warnFrozen(m.s)
	a.warnModels(target.Models)
	whole := m.plan.exact(m.s.nominal())
	a.warnTemperature(m.s, whole)
	a.warnPartly(m.s, whole)
	a.careful(m.s, target.Volume)
	a.citeMixture(m.s, target)
	a.cite(practice)
}

// careful adds the cautions of mixing, and what the labels of the components say.
func (a *Advice) careful(s *system, volume Size) {
	if volume.Answered() {
		a.Millilitres = volume.Value
	}
	a.caution(mixingCautions[:s.guarded()]...)
	for _, c := range s.components {
		a.caution(c.Cautions...)
		for _, share := range c.Supplied {
			a.caution(share.Component.Cautions...)
		}
	}
}

// guarded is how many of the cautions of mixing hold: all of them, none about fire where no
// liquid burns, and none about solvents where all that is wet is water.
func (s *system) guarded() int {
	fireproof, harmless, wet := true, true, false
	for _, c := range s.components {
		if c.Phase != Liquid {
			continue
		}
		wet, fireproof, harmless = true, fireproof && c.Fireproof, harmless && c.Harmless
	}
	switch {
	case wet && harmless:
		return 0
	case wet && fireproof:
		return 1
	}
	return len(mixingCautions)
}

// warnPartly says which liquids form two layers over a range.
func (a *Advice) warnPartly(s *system, g grams) {
	for i, m := range g {
		for j := range g[:i] {
			if m > 0 && g[j] > 0 && mixesPartly(s.components[i], s.components[j]) {
				a.warn("may-form-two-layers", Warn, practice, capital(s.components[j].Name)+" and "+
					s.components[i].Name+" form two layers over a range of mixtures: mix a little first, and look.")
			}
		}
	}
}

// warnings about what was asked of a make-up.
func (m *making) warnings(a *MakeUpAnswer) {
	a.warnPurity(m.in.Resin.Purity, m.in0().Name)
	for _, share := range m.in.Solvent.Shares {
		if share.AfterDissolving {
			a.warn("order-matters", Warn, practice,
				capital(share.Component.Name)+
					" goes in after the resin has dissolved in the rest. Its share is counted in the strength that "+
					"was asked; added on top of a finished solution it would dilute it.")
		}
	}
	for _, o := range m.in.Observed {
		a.warnObserved(m.in0().Name, o, len(m.in.Solvent.Shares) > 1)
	}
	a.warnCoarse(a.Smallest)
	if m.role == ResinRole && m.basis == MassPerSolventVolume {
		a.warn("solvent-basis-overfills", Info, additiveSource,
			"On this basis the resin comes on top of the solvent: the finished volume is "+m.volumeText(a)+".")
	}
}

// warnCoarse says that the instruments are too coarse for the amount, and how much would do.
func (a *Advice) warnCoarse(z *Smallest) {
	if z != nil && !z.Enough {
		a.warn("scale-too-coarse", Warn, practice, z.Sentence)
	}
}

// warnRounded says that what the instruments show may be further from the strength asked than is
// usual.
func (a *Advice) warnRounded(made, asked View) {
	if !made.Answered() || !asked.Answered() || asked.Value == 0 {
		return
	}
	if off := 100 * (math.Abs(made.Value-asked.Value) + made.Expanded()) / asked.Value; off > usualTolerance {
		a.warn("scale-too-coarse", Warn, practice, "With these instruments the strength may be "+rough(off)+
			" % from the one asked: take finer ones, or make more at once.")
	}
}

// warnUnshown says what an instrument cannot measure.
func (a *Advice) warnUnshown(name string, grams float64, g gauge) {
	a.warn("below-readability", Warn, additiveSource, "The scale cannot weigh "+amountText(grams, quantity.Gram)+" of "+
		name+": its smallest step is "+g.say(g.step)+".")
}

// warnObserved says what was seen of a resin in a liquid, unless it dissolves. No
// observation is a warning, never an all-clear.
func (a *MakeUpAnswer) warnObserved(resin string, o Observation, mixed bool) {
	switch o.Observed {
	case "dissolves":
		a.cite(o.Source)
	case "unknown", "":
		a.warn("solubility-not-known", Warn, practice, "Nothing was observed here of "+resin+" in "+o.Solvent+
			": try a little first.")
	case "disputed":
		a.warn("solubility-disputed", Warn, o.Source, "Sources disagree whether "+o.Solvent+" dissolves "+resin+
			"; it may depend on the grade. Try a little first.")
	default:
		said, then := "By itself "+o.Solvent, "Whether the mixture does is for a small trial."
		if !mixed {
			said, then = capital(o.Solvent), "Do not expect it to dissolve: take another liquid, or try a little first."
		}
		a.warn("solubility-doubtful", Warn, o.Source, said+" was seen not to dissolve "+resin+" (seen: "+
			strings.ReplaceAll(o.Observed, "-", " ")+"). "+then)
	}
}

func (m *making) volumeText(a *MakeUpAnswer) string {
	if a.Main.Poured == 0 {
		return "not known without the density of the resin"
	}
	return amountText(a.Main.Poured, quantity.Millilitre)
}

// warnInstruments says what is not in the uncertainty.
func (a *Advice) warnInstruments(g gauges, way Way) {
	if !g.scale.known() {
		a.warn("scale-not-stated", Info, practice,
			"No scale was named: the weighing is not in the uncertainty, and amounts are rounded to three digits.")
	}
	if way != ByWeight && !g.measure.known() {
		a.warn("measure-not-stated", Info, practice,
			"No measure for volumes was named: the measuring is not in the uncertainty of the recipe by volume.")
	}
}

// warnModels says which volumes do not add.
func (a *Advice) warnModels(models []VolumeModel) {
	for _, model := range models {
		if model.Name == knownContraction {
			a.warn("volumes-do-not-add", Warn, model.Source, model.Sentence)
		}
	}
}

// warnTemperature says which liquids are not corrected.
func (a *Advice) warnTemperature(s *system, g grams) {
	if s.celsius == referenceCelsius {
		return
	}
	a.warnWeight(s, g)
	var names []string
	for i, c := range s.components {
		if i < len(g) && g[i] > 0 && c.Phase == Liquid && !expands(c, s.celsius) {
			names = append(names, c.Name)
		}
	}
	if len(names) > 0 {
		a.warn("expansion-not-known", Warn, practice,
			"How "+list(names)+" changes with temperature is not known here, so its density at 20 °C is used.")
	}
}

// warnWeight says what a stated temperature does to the mass of a measured volume, for the liquid of
// which there is most.
func (a *Advice) warnWeight(s *system, g grams) {
	most := -1
	for i, c := range s.components {
		if i < len(g) && g[i] > 0 && c.Phase == Liquid && s.knows(i) && expands(c, s.celsius) && (most < 0 || g[i] > g[most]) {
			most = i
		}
	}
	if most < 0 {
		return
	}
	const noticed = 0.005 // of the mass; common practice
	x, severity := s.nominal(), Info
	there, usual := s.densityAt(x, most, s.celsius), s.rho[most](x)
	if math.Abs(there/usual-1) > noticed {
		severity = Warn
	}
	a.warn("measured-at-temperature", severity, s.components[most].Density.RatioSource, "Volumes are measured at "+
		number(s.celsius)+" °C: 100 mL of "+s.components[most].Name+" weigh "+amountText(100*there, quantity.Gram)+
		" then, and "+amountText(100*usual, quantity.Gram)+" at 20 °C. The amounts here are for that temperature.")
}

// citeMixture cites the densities, fits and models that a mixture needed.
func (a *Advice) citeMixture(s *system, m Mixture) {
	a.Warnings = append(a.Warnings, s.doubts...)
	for _, c := range s.components {
		a.cite(c.Density.Source)
		if s.celsius != referenceCelsius {
			a.cite(c.Density.RatioSource)
		}
		for _, share := range c.Supplied {
			a.cite(share.Component.Density.Source)
		}
	}
	for _, model := range m.Models {
		a.cite(model.Source)
	}
}
