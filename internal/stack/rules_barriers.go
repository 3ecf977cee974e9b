package stack

import (
	"slices"
)

// tested barriers, by what the sources tried under a reacting resin. Animal
// glue was tried on wood.
var testedBarriers = oneOf("ethyl-methacrylate-methyl-acrylate-copolymer", "pvb-low-hydroxyl", "pvb-high-hydroxyl",
	"poly-vinyl-butyral", "animal-glue")

// failedBarriers are those that were tested under a reacting resin and failed. No
// test of a blend with one of them was published.
var failedBarriers = oneOf("poly-isobutyl-methacrylate")

func barrierNeeded(sc *scene) {
	reacts := sc.puts(sets)
	if reacts == No {
		return
	}
	for _, face := range cleaned(sc.p.Areas) {
		barriers := sc.barriersOn(face)
		if len(barriers) > 0 && reacts == Yes {
			sc.judgeBarriers(barriers)
			continue
		}
		f := Finding{
			Areas: []Area{face},
			Sentence: sentence("A reacting resin goes on %s and no barrier is recorded there; "+
				"the area becomes practically irreversible", face),
		}
		if reacts == Unknown {
			f.Unknown = true
			f.Sentence = sentence("What is put on %s may be a reacting resin, and no barrier is recorded there", face)
			if len(barriers) > 0 {
				continue
			}
		}
		sc.add(f)
	}
}

// barriersOn are the barriers that cover one face.
func (sc *scene) barriersOn(face Area) []met {
	id := sc.atlas.id(face)
	var found []met
	for _, m := range withRole(sc.met, Barrier) {
		for _, a := range m.foot.certain {
			if sc.atlas.within(id, a) && sc.stateIn(m.index, id).mayBeThere() {
				found = append(found, m)
				break
			}
		}
	}
	return found
}

// judgeBarriers looks at the material and the drying of barriers.
func (sc *scene) judgeBarriers(barriers []met) {
	var sound []met
	for _, g := range grouped(barriers, func(m met) string { return m.key }) {
		switch {
		case g[0].Identity.may(failedBarriers) == Yes:
			sc.add(Finding{
				Severity: Block,
				Sentence: sentence("%s failed as a barrier under a reacting resin, in strength and in reversal", sc.these(g)),
				Sources:  sc.knowledge.cite("ellis-heginbotham-2004"),
			}, g...)
			continue
		case g[0].Identity.may(testedBarriers) == Yes:
			sc.clear(sentence("%s is of a material that was tested as a barrier", sc.these(g)), Backing{}, g...)
		default:
			sc.add(Finding{
				Unknown: true, Sentence: sentence("No published test shows %s as a barrier under a reacting resin", sc.these(g)),
			}, g...)
		}
		sound = append(sound, g...)
	}
	sc.dryEnough(sound, sc.settings.BarrierDays)
}

func barrierLinked(sc *scene) {
	if sc.puts(sets) == No {
		return
	}
	linked := func(m met) bool {
		if slices.ContainsFunc(sc.p.Relations, func(r Relation) bool { return r.Kind == Over && r.To == m.Treatment }) {
			return true
		}
		return slices.ContainsFunc(sc.byID[m.Treatment].Relations, func(r Relation) bool {
			return r.Kind == BarrierFor && r.To == sc.p.ID
		})
	}
	var loose, tied []met
	for _, m := range withRole(sc.met, Barrier) {
		switch {
		case m.touch == Possibly:
		case linked(m):
			tied = append(tied, m)
		default:
			loose = append(loose, m)
		}
	}
	if len(tied) > 0 {
		sc.clear("The record ties the barrier to the resin over it.", Backing{}, tied...)
	}
	if len(loose) > 0 {
		f := Finding{
			Sentence: "A barrier is recorded under the reacting resin: its solvent would open the joint, " +
				"but the record does not tie the two.",
		}
		if sc.puts(sets) == Unknown {
			f.Unknown, f.Sentence = true,
				"A barrier is recorded and what goes over it may be a reacting resin; the record does not tie the two."
		}
		sc.add(f, loose...)
	}
}
