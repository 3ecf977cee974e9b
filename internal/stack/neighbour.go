package stack

import (
	"slices"
)

// neighbour is a group of other layers in reach of a local application that
// every liquid treats alike.
type neighbour struct {
	first    int
	possible bool
	wanted   bool
	layers   []string
	count    int
}

// neighbours groups the other layers in reach of a local application.
func (p *planner) neighbours(l int) []neighbour {
	local := Treatment{Method: Brush, Areas: p.layers[l].Areas, AreasUnknown: p.layers[l].AreasUnknown}
	touch := p.atlas.touches(p.atlas.reach(&local))
	type key struct {
		kind             int
		possible, wanted bool
	}
	groups := map[key]int{}
	var out []neighbour
	for other := range p.layers {
		if other == l || p.off[other] || !p.layers[other].State.mayBeThere() {
			continue
		}
		reach := p.atlas.meets(touch, p.layers[other].foot)
		if reach == Untouched {
			continue
		}
		k := key{p.kindOf[other], reach == Possibly, p.taken[other]}
		i, ok := groups[k]
		if !ok {
			i = len(out)
			groups[k] = i
			out = append(out, neighbour{first: other, possible: k.possible, wanted: k.wanted})
		}
		out[i].count++
		out[i].layers = listOnce(out[i].layers, p.layers[other].Treatment)
	}
	return out
}

// sortKinds sorts the layers into kinds: a liquid does the same to all of one
// kind, and they have the same role. Tested layers share a kind only within a
// treatment.
func (p *planner) sortKinds() {
	type kind struct {
		identity, tested string
		role             Role
		age              Ageing
		load, number     Answer
	}
	numbers := map[kind]int{}
	p.kindOf = make([]int, len(p.layers))
	for l := range p.layers {
		layer := &p.layers[l]
		k := kind{identity: layer.key, role: layer.Role, age: p.settings.ageing(layer.When, p.at),
			load: layer.CarriesLoad, number: layer.NumberRecorded}
		if len(p.trialsOn[layer.Treatment]) > 0 {
			k.tested = layer.Treatment
		}
		n, ok := numbers[k]
		if !ok {
			n = len(p.kinds)
			numbers[k], p.kinds = n, append(p.kinds, l)
		}
		p.kindOf[l] = n
	}
}

// maxCollateral is how many treatments the collateral of one liquid names: it is
// repeated for each liquid of each step, and made up most of a plan's bytes.
const maxCollateral = 5

// maxGroups is how many groups of layers the collateral of one liquid lists.
const maxGroups = 20

// collateralKind is what layers of one collateral share.
type collateralKind struct {
	like     int
	observed Observed
	possible bool
}

// collateral lists the neighbours that a liquid disturbs, or may disturb: those that
// are to stay first, and those known to be disturbed before the unknown ones. Layers
// beyond so many groups are counted.
func (p *planner) collateral(near []neighbour, solvent string) (list []Collateral, more int) {
	var ranked [4][]Collateral
	var at [4]map[collateralKind]int
	for _, n := range near {
		o := p.effectOn(n.first, solvent)
		if o == NoEffect {
			continue
		}
		rank := 2*boolOrder(n.wanted, false) + boolOrder(true, o.disturbs())
		k := collateralKind{p.like(n.first), o, n.possible}
		i, ok := at[rank][k]
		switch {
		case !ok && len(ranked[rank]) == maxGroups:
			more += n.count
			continue
		case !ok && at[rank] == nil:
			at[rank] = map[collateralKind]int{}
			fallthrough
		case !ok:
			i, at[rank][k] = len(ranked[rank]), len(ranked[rank])
			layer := &p.layers[n.first]
			ranked[rank] = append(ranked[rank], Collateral{
				Role: layer.Role, Material: p.knowledge.describe(layer.Identity), Observed: o, Wanted: n.wanted, Possible: n.possible,
			})
		}
		c := &ranked[rank][i]
		c.Count += n.count
		c.Layers = append(c.Layers, n.layers[:min(len(n.layers), max(maxCollateral-len(c.Layers), 0))]...)
	}
	all := slices.Concat(ranked[:]...)
	for _, c := range all[min(len(all), maxGroups):] {
		more += c.Count
	}
	list = slices.Clip(all[:min(len(all), maxGroups)])
	left := maxCollateral
	for i := range list {
		list[i].Layers = append([]string(nil), list[i].Layers[:min(len(list[i].Layers), left)]...)
		left -= len(list[i].Layers)
	}
	return list, more
}

// like numbers the layers that are described alike and have one role.
func (p *planner) like(l int) int {
	kind := p.kindOf[l]
	if p.likes[kind] == 0 {
		key := likeKey{p.layers[l].Role, p.knowledge.describe(p.layers[l].Identity)}
		n, ok := p.likeOf[key]
		if !ok {
			n = len(p.likeOf) + 1
			p.likeOf[key] = n
		}
		p.likes[kind] = n
	}
	return p.likes[kind]
}

type likeKey struct {
	role     Role
	material string
}

// effectOn is what a liquid does to the layers of one kind: a test first, then the
// tables.
func (p *planner) effectOn(l int, solvent string) Observed {
	known, ok := p.effects[solvent]
	if !ok {
		known = make([]Observed, len(p.kinds))
		p.effects[solvent] = known
	}
	kind := p.kindOf[l]
	if known[kind] == "" {
		known[kind] = p.effectOnKind(l, solvent)
	}
	return known[kind]
}

func (p *planner) effectOnKind(l int, solvent string) Observed {
	tested, total := false, NoEffect
	for _, t := range p.trialsOn[p.layers[l].Treatment] {
		if t.solvent == solvent {
			tested, total = true, worse(total, t.observed)
		}
	}
	id := p.layers[l].Identity
	switch {
	case tested:
		return total
	case !id.Named():
		return NotKnown
	}
	age := p.settings.ageing(p.layers[l].When, p.at)
	for _, part := range p.knowledge.parts([]Share{{Solvent: solvent}}) {
		for _, ref := range id.all() {
			if total = worse(total, p.knowledge.effect(ref, part.Solvent, age)); total == Dissolves {
				return total // nothing is worse
			}
		}
	}
	return total
}

// listOnce adds a treatment to a list of at most maxListed; those of one treatment
// come one after another.
func listOnce(list []string, treatment string) []string {
	if len(list) == maxListed || len(list) > 0 && list[len(list)-1] == treatment {
		return list
	}
	return append(list, treatment)
}
