package stack

import (
	"slices"

	"meniscus/internal/material"
)

// Reversal is the three answers of one layer, each with what it rests on. They
// hold on the day asked about: the answer to "is it reversible" changes with
// age.
type Reversal struct {
	Treatment string
	Index     int
	Role      Role
	At        string
	Ageing    Ageing
	// Redissolvable: can the material be taken into solution again?
	// Removable: can it be got out of this body? Retreatable: can the area still be
	// treated again?
	Redissolvable, Removable, Retreatable Reasoned
	// Cautions are sentences that stand beside all three.
	Cautions []string
}

// Reasoned is one answer and its evidence, the most specific first.
type Reasoned struct {
	Answer Answer
	Backing
	// Contradicted says that the evidence does not agree; the answer is then the
	// most cautious one.
	Contradicted bool
}

// Reversibility gives the answers for every layer, in the order of the layers.
func (s *Stack) Reversibility() []Reversal {
	out := make([]Reversal, 0, len(s.layers))
	p, known := newPlanner(s, PlanRequest{}), map[reversalKey]Reversal{}
	for l := range s.layers {
		if s.left() {
			break
		}
		r := s.reversalOf(l, known)
		p.reconcile(l, &r)
		s.confine(l, &r)
		out = append(out, r)
	}
	return out
}

// reversalKey is what the answers of the tables depend on.
type reversalKey struct {
	sort    layerSort
	age     Ageing
	barrier material.BarrierState
}

// reversalOf gives the answers for one layer: a test on this specimen first,
// then the tables. What the tables say of equal layers is looked up once.
func (s *Stack) reversalOf(l int, known map[reversalKey]Reversal) Reversal {
	layer := &s.layers[l]
	age := s.settings.ageing(layer.When, s.at)
	barrier := s.barrierUnder(l)
	key := reversalKey{layer.sort(), age, barrier}
	r, ok := known[key]
	if !ok {
		r = s.tabled(layer, age, barrier)
		if known != nil {
			known[key] = r
		}
	}
	r.Treatment, r.Index, r.Role, r.At, r.Ageing = layer.Treatment, layer.Index, layer.Role, s.at.String(), age
	s.fromTests(l, &r)
	return r
}

// tabled reads the tables. Of several materials the most cautious answer counts.
func (s *Stack) tabled(l *Layer, age Ageing, barrier material.BarrierState) Reversal {
	var r Reversal
	refs := l.Identity.all()
	if len(refs) == 0 {
		r.Cautions = append(r.Cautions, "The material is not known, so nothing can be said; make a test.")
		return r
	}
	for i, ref := range refs {
		next := s.knowledge.reversal(ref, l.Role, age, barrier)
		if i == 0 {
			r = next
			continue
		}
		r.Redissolvable = cautious(r.Redissolvable, next.Redissolvable)
		r.Removable = cautious(r.Removable, next.Removable)
		r.Retreatable = cautious(r.Retreatable, next.Retreatable)
	}
	if l.Role.soaksIn() && r.Removable.Answer == Yes {
		r.Removable.Answer = Partial
	}
	if s.setsOrMay(l) && barrier == material.NoBarrier {
		r.Cautions = append(r.Cautions, "No barrier is recorded under it.")
	}
	return r
}

// reversal asks the tables about one material. A row on aged films outweighs a
// more hopeful one that does not look at age.
func (k knowing) reversal(ref Ref, role Role, age Ageing, barrier material.BarrierState) Reversal {
	found := k.Reversibility(material.ReversibilityQuery{
		Material: ref.Material, Grade: ref.Grade, Role: material.Role(role), Age: age.asked(), Barrier: barrier,
	})
	pick := func(question string, r material.Reasoned, of func(material.ReversibilityRow) material.Answer) Reasoned {
		return k.reasoned(question, r, found.Considered, age, of)
	}
	return Reversal{
		Redissolvable: pick("redissolves", found.Redissolvable, func(x material.ReversibilityRow) material.Answer {
			return x.Redissolvable
		}),
		Removable:   pick("comes out of the body", found.Removable, func(x material.ReversibilityRow) material.Answer { return x.Removable }),
		Retreatable: pick("can be treated again", found.Retreatable, func(x material.ReversibilityRow) material.Answer { return x.Retreatable }),
	}
}

func (k knowing) reasoned(
	question string, r material.Reasoned, considered []material.ReversibilityRow, age Ageing,
	of func(material.ReversibilityRow) material.Answer,
) Reasoned {
	out := Reasoned{Answer: answerOf(r.Answer), Contradicted: r.Contradicted}
	rows := slices.Clone(r.Rows)
	for _, row := range considered {
		if age == Young || row.Age != material.Aged || of(row) == material.NotKnown {
			continue
		}
		if a := answerOf(of(row)); out.Answer != Unknown && a.hope() < out.Answer.hope() {
			out.Answer, out.Contradicted = a, true
			rows = append([]material.ReversibilityRow{row}, rows...)
		}
	}
	var all []Evidence
	for _, row := range rows {
		e := from(row.Evidence, question+": "+reversalText(row, of(row)))
		e.word, e.of = string(of(row)), row.Material
		all = append(all, e)
	}
	out.Backing = backing(all, out.Answer.String())
	return out
}

func reversalText(row material.ReversibilityRow, a material.Answer) string {
	text := string(a)
	if row.Role != material.AnyRole {
		text += " as " + string(row.Role)
	}
	if row.Age != material.AnyAge {
		text += ", " + string(row.Age)
	}
	return text + ": " + row.Reason
}

func answerOf(a material.Answer) Answer {
	switch a {
	case material.Yes:
		return Yes
	case material.Partly:
		return Partial
	case material.No:
		return No
	}
	return Unknown
}

// hope orders answers, the least hopeful first; Unknown is below a plain yes
// and above a plain no.
func (a Answer) hope() int { return slices.Index([]Answer{No, Unknown, Partial, Yes}, a) }

// cautious joins the answers for two materials: the less hopeful one.
func cautious(a, b Reasoned) Reasoned {
	out := a
	if b.Answer.hope() < a.Answer.hope() {
		out.Answer = b.Answer
	}
	out.Contradicted = a.Contradicted || b.Contradicted || a.Answer != b.Answer
	out.Backing = a.Backing.and(b.Backing, out.Answer.String())
	return out
}

// fromTests puts tests on this specimen first for whether the layer can be
// redissolved. A test that saw no effect holds only for its own liquid.
func (s *Stack) fromTests(l int, r *Reversal) {
	seen := s.trialsOn[s.layers[l].Treatment]
	if len(seen) == 0 {
		return
	}
	tests := fromTrials(seen)
	for i, e := range tests.Evidence {
		tests.Evidence[i].Says += " with " + s.knowledge.name(e.of)
	}
	best := tests.Observed
	r.Redissolvable.Backing = tests.Backing.and(r.Redissolvable.Backing, string(best))
	switch {
	case best == Dissolves:
		r.Redissolvable.Answer = Yes
	case best == Softens || best == Swells:
		r.Redissolvable.Answer = Partial
	case r.Redissolvable.Answer == Yes:
		r.Redissolvable.Answer, r.Redissolvable.Contradicted = Unknown, true
	}
	r.Removable = removableAs(r.Removable, tests)
}

// removableAs lets tests decide whether a layer comes off: what dissolved on a small place comes
// off in part at least, and what no tried liquid touched is not known to come off.
func removableAs(tabled Reasoned, tests Observation) Reasoned {
	out := tabled
	switch acts := tests.Observed == Dissolves; {
	case acts && (tabled.Answer == No || tabled.Answer == Unknown):
		out.Answer, out.Contradicted = Partial, tabled.Answer == No
	case !tests.Observed.disturbs() && tabled.Answer != No && tabled.Answer != Unknown:
		out.Answer, out.Contradicted = Unknown, true
	case !acts:
		return tabled
	}
	out.Backing = tests.Backing.and(tabled.Backing, string(tests.Observed))
	return out
}

// loosened tells whether a test on this specimen saw a liquid act on the layer.
func (s *Stack) loosened(l int) bool {
	return slices.ContainsFunc(s.trialsOn[s.layers[l].Treatment], func(t trial) bool {
		return (t.observed == Dissolves || t.observed == Softens || t.observed == Swells) && !t.before(&s.layers[l])
	})
}

// setsOrMay tells whether the layer's material is, or may be, a resin that
// sets into a network.
func (s *Stack) setsOrMay(l *Layer) bool { return l.Identity.may(sets) != No && l.Identity.Named() }

// lid answers whether a layer shuts off what lies below it: no solvent takes it
// apart, and no barrier opens it.
func (s *Stack) lid(l int) Answer {
	layer := &s.layers[l]
	shuts := layer.Identity.may(irreversible)
	if shuts == No {
		return No
	}
	if s.loosened(l) || s.barrierUnder(l) == material.OverBarrier {
		return No
	}
	if !layer.Identity.Named() {
		return No // not known is asked for elsewhere; it is not taken for a lid
	}
	return shuts
}

// irreversible are the materials that no solvent of the tables takes apart.
func irreversible(r Ref) bool {
	return sets(r) || (r.Material == "ethyl-silicate" && r.Grade != "liquid") ||
		r.Material == "calcium-hydroxide-nanolime" ||
		(r.Material == "animal-glue" && r.Grade == "hardened")
}
