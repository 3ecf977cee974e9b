package stack

import (
	"slices"
	"strings"
)

// verdictKey is what a verdict depends on where no test was made.
type verdictKey struct {
	identity string
	age      Ageing
}

// verdict is what the liquids of the treatment do to a layer: the worst of
// them, and which it is. A test on this specimen outranks every table for its
// layer, area and liquid.
func (sc *scene) verdict(m met) (Observation, string) {
	if slices.ContainsFunc(sc.liquids, func(l Share) bool { return len(sc.trialsOf(m, l.Solvent)) > 0 }) {
		return sc.worst(m)
	}
	key := verdictKey{m.key, m.age}
	if o, ok := sc.verdicts[key]; ok {
		return o.Observation, o.liquid
	}
	o, liquid := sc.worst(m)
	sc.verdicts[key] = liquidVerdict{o, liquid}
	return o, liquid
}

type liquidVerdict struct {
	Observation
	liquid string
}

// worst looks at each liquid by itself and then at the mixture.
func (sc *scene) worst(m met) (Observation, string) {
	total := Observation{}
	liquid := ""
	for _, l := range sc.liquids {
		o := sc.single(m, l.Solvent)
		switch {
		case liquid == "", o.Observed.gravity() > total.Observed.gravity():
			total, liquid = o, l.Solvent
		case o.Observed == total.Observed:
			total.Backing = total.Backing.and(o.Backing, string(total.Observed))
			total.Tested = total.Tested && o.Tested
		}
	}
	return sc.mixed(m, total, liquid)
}

// single is what one liquid does to a layer.
func (sc *scene) single(m met, solvent string) Observation {
	if trials := sc.trialsOf(m, solvent); len(trials) > 0 {
		return fromTrials(trials)
	}
	return sc.knowledge.onIdentity(m.Identity, solvent, m.age, sc.p.Method == VapourChamber)
}

// mixed applies the rows on a mixture that the tables name, and leaves the
// matter open where two liquids that have no effect by themselves are mixed:
// together they may have one.
func (sc *scene) mixed(m met, total Observation, liquid string) (Observation, string) {
	if total.Tested {
		return total, liquid
	}
	for _, mix := range sc.knowledge.mixed {
		if !sc.brings(mix.parts) {
			continue
		}
		o := sc.knowledge.onIdentity(m.Identity, mix.id, m.age, false)
		if len(o.Evidence) > 0 && o.Observed.gravity() > total.Observed.gravity() {
			total, liquid = o, mix.id
		}
	}
	if total.Observed == NoEffect && sc.organicParts() > 1 {
		total.Observed = NotKnown
	}
	return total, liquid
}

// brings tells whether the treatment brings every one of these liquids or of
// these classes.
func (sc *scene) brings(names []string) bool {
	for _, n := range names {
		if !sc.knowledge.anyIsA(sc.liquids, n) {
			return false
		}
	}
	return true
}

// organicParts counts the liquids that are more than a trace; a fraction that
// is not stated counts.
func (sc *scene) organicParts() int {
	n := 0
	for _, l := range sc.liquids {
		if l.Fraction == 0 || l.Fraction >= trace {
			n++
		}
	}
	return n
}

// trialsOf are the tests of a liquid on a layer where the treatment meets it. A
// test that names no layer counts for a layer whose material is not certain.
func (sc *scene) trialsOf(m met, solvent string) []trial {
	var found []trial
	pick := func(trials []trial) {
		for _, t := range trials {
			if t.solvent == solvent && !t.before(m.Layer) && sc.triedHere(t, m.foot) {
				t.alike = t.alike[:t.alike.since(m.When.From)]
				found = append(found, t)
			}
		}
	}
	if !m.Identity.Settled() {
		pick(sc.trialsOn[""])
	}
	pick(sc.trialsOn[m.Treatment])
	return found
}

// triedHere tells whether a test was made on ground that the treatment reaches
// and the layer covers.
func (sc *scene) triedHere(t trial, layer footprint) bool {
	for _, a := range t.areas {
		if sc.touch[a] == Untouched {
			continue
		}
		if len(layer.certain) == 0 {
			return true
		}
		for _, b := range layer.certain {
			if _, ok := sc.atlas.common(a, b); ok {
				return true
			}
		}
	}
	return false
}

// fromTrials gives what tests saw, the worst where they differ.
func fromTrials(trials []trial) Observation {
	o := Observation{Observed: NoEffect, Tested: true}
	var all []Evidence
	more := 0
	for _, t := range trials {
		more += len(t.alike)
		o.Observed = worse(o.Observed, t.observed)
		says := "test on this specimen: " + string(t.observed)
		if t.dwell != "" {
			says += " after " + t.dwell
		}
		all = append(all, Evidence{
			Says: says, Treatment: t.treatment, Date: t.date,
			word: string(t.observed), of: t.solvent, latest: t.latest,
		})
	}
	o.Backing = backing(all, string(o.Observed))
	o.MoreEvidence += more
	return o
}

// key is an identity as one text.
func (id Identity) key() string {
	var b strings.Builder
	for _, refs := range [][]Ref{id.Solids, id.Candidates} {
		for _, r := range refs {
			b.WriteString(r.Material + "\x00" + r.Grade + "\x01")
		}
		b.WriteByte('\x02')
	}
	return b.String()
}

// layerSort is what layers of one finding share at least.
type layerSort struct {
	identity string
	role     Role
	doubt    string
}

func (l *Layer) sort() layerSort { return layerSort{l.key, l.Role, l.Identity.doubt()} }

// grouped puts things together that give the same finding: the same key, in the
// order in which the keys first come.
func grouped[T any, K comparable](things []T, key func(T) K) [][]T {
	at := map[K]int{}
	var groups [][]T
	for _, t := range things {
		k := key(t)
		i, ok := at[k]
		if !ok {
			i = len(groups)
			at[k] = i
			groups = append(groups, nil)
		}
		groups[i] = append(groups[i], t)
	}
	return groups
}

// alikeNow puts layers together that are alike and have had as long to dry.
func (sc *scene) alikeNow(layers []met, days float64) [][]met {
	type key struct {
		sort               layerSort
		state              string
		dried, long, short bool
	}
	return grouped(layers, func(m met) key {
		passed := since(m.When, sc.day(sc.p))
		return key{m.sort(), m.Drying.State, m.Drying.Days >= days, passed.certainlyAtLeast(days), passed.certainlyLess(days)}
	})
}

// these names the layers of a group in a sentence.
func (sc *scene) these(group []met) string {
	first := group[0].Layer
	if len(group) == 1 {
		return sc.called(first)
	}
	return "each of " + tally(len(group)) + " layers of " + sc.knowledge.describe(first.Identity) + " (" +
		roleNouns[first.Role] + ")"
}
