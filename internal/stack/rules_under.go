package stack

import (
	"slices"
)

// liesUnder asks for every layer that is to stay and may lie over one that is
// to come off.
func liesUnder(sc *scene) {
	targets, said := sc.targets()
	if !said || len(targets) == 0 {
		return
	}
	var over, open []met
	for i, lies := range sc.lieOver(targets) {
		switch m := sc.met[i]; {
		case sc.isRemoved(m) || !m.state.mayBeThere() || m.touch == Possibly:
		case lies == Yes:
			over = append(over, m)
		case lies == Unknown:
			open = append(open, m)
		}
	}
	if len(over) > 0 {
		sc.add(Finding{
			Sentence: sentence("%s over what is to come off: %s", plural(len(over), "a layer lies", "layers lie"),
				sc.these(over)),
		}, over...)
	}
	if len(open) > 0 {
		sc.add(Finding{
			Unknown: true,
			Sentence: sentence("Whether %s over or under what is to come off is not recorded, and the dates do not tell",
				plural(len(open), "a layer lies", "layers lie")),
		}, open...)
	}
	if len(over)+len(open) == 0 {
		sc.clear("Nothing is known to lie over what is to come off.", Backing{}, targets...)
	}
}

// lieOver tells of each layer that is met whether it lies over one of the
// targets.
func (sc *scene) lieOver(targets []met) []Answer {
	answers := make([]Answer, len(sc.met))
	for i := range answers {
		answers[i] = No
	}
	rel := relations{order: sc.order}
	for _, t := range targets {
		for i, m := range sc.met {
			if rel.spent() || sc.left() {
				sc.leaveOpen(answers)
				return answers
			}
			if answers[i] == Yes || m.Treatment == t.Treatment || !sc.shareGround(m.index, t.index) {
				continue
			}
			switch under, over := rel.between(t.index, m.index); {
			case over:
				answers[i] = Yes
			case !under:
				answers[i] = Unknown
			}
		}
	}
	return answers
}

// leaveOpen marks layers that were not followed to the end as possibly over a
// target.
func (sc *scene) leaveOpen(answers []Answer) {
	for i := range answers {
		if answers[i] == No {
			answers[i] = Unknown
		}
	}
	sc.notFollowed()
}

// notFollowed names the bound on what a check follows.
func (sc *scene) notFollowed() {
	sc.add(Finding{Unknown: true, Sentence: "There are more layers than are followed for one removal: " +
		"what lies over what is not worked out for all of them.",
		Remedy: "Name fewer treatments, and check them one after another."})
}

// shareGround tells whether two layers share an area.
func (s *Stack) shareGround(a, b int) bool {
	return s.atlas.meet(s.layers[a].foot.certain, s.layers[b].foot.certain)
}

func outOfReach(sc *scene) {
	targets, said := sc.targets()
	if !said {
		return
	}
	for _, g := range grouped(sc.lidsOver(targets), lid.kind) {
		var lids, targets []met
		for _, l := range g {
			lids, targets = append(lids, l.met), append(targets, l.over()...)
		}
		what := "what is to come off"
		if names, _ := treatmentsOf(targets); len(names) == 1 {
			what = sc.these(targets[:1])
		}
		f := Finding{
			Sentence: sentence("%s cannot be reached by solvent below %s, which is practically irreversible", what,
				sc.these(lids)),
		}
		if !g[0].sure() {
			f.Unknown = true
			f.Sentence = sentence("%s may lie below %s, which is or may be practically irreversible", what, sc.these(lids))
		}
		sc.add(f, append(targets, lids...)...)
	}
}

// lid is a layer that is, or may be, practically irreversible, and what is to come
// off below it: for certain, or perhaps.
type lid struct {
	met
	shuts          Answer
	under, perhaps []met
}

// sure tells whether the lid shuts something off for certain.
func (l lid) sure() bool { return l.shuts == Yes && len(l.under) > 0 }

// over is what a finding about the lid names.
func (l lid) over() []met {
	if l.sure() {
		return l.under
	}
	return slices.Concat(l.under, l.perhaps)
}

// kind is what lids of one finding have in common.
func (l lid) kind() lidKind { return lidKind{l.sort(), l.shuts, l.sure()} }

type lidKind struct {
	sort  layerSort
	shuts Answer
	sure  bool
}

// lidsOver finds the lids that lie, or may lie, over one of the targets.
func (sc *scene) lidsOver(targets []met) []lid {
	var lids []lid
	for _, m := range sc.met {
		if shuts := sc.lid(m.index); m.state.mayBeThere() && shuts != No {
			lids = append(lids, lid{met: m, shuts: shuts})
		}
	}
	rel := relations{order: sc.order}
	for _, t := range targets {
		for i := range lids {
			l := &lids[i]
			if rel.spent() || sc.left() {
				sc.notFollowed()
				return slices.DeleteFunc(lids, func(l lid) bool { return len(l.over()) == 0 })
			}
			if t.index == l.index || !sc.shareGround(l.index, t.index) {
				continue
			}
			switch under, over := rel.between(t.index, l.index); {
			case over:
				l.under = append(l.under, t)
			case !under:
				l.perhaps = append(l.perhaps, t)
			}
		}
	}
	return slices.DeleteFunc(lids, func(l lid) bool { return len(l.over()) == 0 })
}
