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
// kind, and they are there for the same. A layer that was tested is one by itself.
func (p *planner) sortKinds() {
	type kind struct {
		identity, tested string
		role             Role
		age              Ageing
	}
	numbers := map[kind]int{}
	p.kindOf = make([]int, len(p.layers))
	for l := range p.layers {
		layer := &p.layers[l]
		k := kind{identity: layer.key, role: layer.Role, age: p.settings.ageing(layer.When, p.at)}
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
// said again for each liquid of each step, and was most of a plan's bytes.
const maxCollateral = 5

// collateral lists the neighbours that a liquid disturbs, or of which nobody
// knows, those that are to stay first.
func (p *planner) collateral(near []neighbour, solvent string) []Collateral {
	var all []Collateral
	for _, n := range near {
		if o := p.effectOn(n.first, solvent); o != NoEffect {
			layer := &p.layers[n.first]
			all = append(all, Collateral{
				Role: layer.Role, Material: p.knowledge.describe(layer.Identity), Observed: o,
				Wanted: n.wanted, Possible: n.possible, Layers: n.layers, Count: n.count,
			})
		}
	}
	slices.SortStableFunc(all, func(a, b Collateral) int { return boolOrder(a.Wanted, b.Wanted) })
	var out []Collateral
	left := maxCollateral
	type key struct {
		role             Role
		material         string
		observed         Observed
		wanted, possible bool
	}
	for _, g := range grouped(all, func(c Collateral) key {
		return key{c.Role, c.Material, c.Observed, c.Wanted, c.Possible}
	}) {
		one := g[0]
		one.Layers, one.Count = nil, 0
		for _, c := range g {
			named := c.Layers[:min(len(c.Layers), left)]
			one.Layers, one.Count, left = append(one.Layers, named...), one.Count+c.Count, left-len(named)
		}
		out = append(out, one)
	}
	return out
}

// effectOn is what a liquid does to a layer: a test first, then the tables.
func (p *planner) effectOn(l int, solvent string) Observed {
	var trials []trial
	for _, t := range p.trialsOn[p.layers[l].Treatment] {
		if t.solvent == solvent {
			trials = append(trials, t)
		}
	}
	if len(trials) > 0 {
		return fromTrials(trials).Observed
	}
	age := p.settings.ageing(p.layers[l].When, p.at)
	key := effectKey{p.layers[l].key, solvent, age}
	if o, ok := p.effects[key]; ok {
		return o
	}
	total := NoEffect
	for _, s := range p.knowledge.parts([]Share{{Solvent: solvent}}) {
		total = worse(total, p.knowledge.onIdentity(p.layers[l].Identity, s.Solvent, age, false).Observed)
	}
	p.effects[key] = total
	return total
}

type effectKey struct {
	identity, solvent string
	age               Ageing
}

// listOnce adds a treatment to a list of at most maxListed; those of one treatment
// come one after another.
func listOnce(list []string, treatment string) []string {
	if len(list) == maxListed || len(list) > 0 && list[len(list)-1] == treatment {
		return list
	}
	return append(list, treatment)
}
