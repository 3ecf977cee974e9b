package stack

import (
	"crypto/sha256"
	"fmt"
	"io"
	"slices"
)

// whatLiesOver marks the layers from which a wanted one can be reached downward.
func (p *planner) whatLiesOver() []bool {
	var queue []int
	for l, w := range p.wanted {
		if w {
			queue = append(queue, l)
		}
	}
	return reached(p.order.above, queue...)[:len(p.layers)]
}

// shutOff takes out what no solvent reaches: practically irreversible layers,
// what lies below them, and layers in a circle of contradicting records.
func (p *planner) shutOff(plan *RemovalPlan) {
	for l := len(p.layers) - 1; l >= 0 && !p.left(); l-- { // the latest first: it shuts off most
		switch {
		case !p.taken[l]:
		case p.order.knot[l] != 0:
			p.unreachable(plan, l, "", sentence("%s is recorded both over and under another layer; settle which lies on top",
				p.called(&p.layers[l])), "common-practice")
		case p.lid(l) == Yes:
			p.unreachable(plan, l, "", sentence("%s is practically irreversible; mechanical means only, or vapour at the edges",
				p.called(&p.layers[l])), "podany-2001", "common-practice")
			p.shutUnder(plan, l)
		}
	}
}

// shutUnder takes out what lies below a layer that cannot come off: all of it
// where that layer covers all of its ground, and the shared ground elsewhere. A
// layer that is recorded below and shares no ground goes with it.
func (p *planner) shutUnder(plan *RemovalPlan, lid int) {
	for queue := []int{lid}; len(queue) > 0 && !p.left(); queue = queue[1:] {
		if p.followed > maxFollowed {
			p.shutFull = true
			return
		}
		upper := queue[0]
		g, recorded := p.groundOf(upper), p.recordedOnce(upper)
		var found []int
		p.followed += 1 + len(recorded) + walkNew(g.under, p.order.below, func(l int) { found = append(found, l) }, upper)
		slices.Sort(found)
		related := idsOf(recorded)
		for _, l := range slices.Concat(found, recorded) {
			if l < len(p.layers) && p.taken[l] && p.shut(plan, upper, l, related[l], g.touch) && p.order.hasRecordedUnder(l) {
				queue = append(queue, l)
			}
		}
	}
}

// recordedOnce are the layers that are recorded as lying under a layer. Those that its
// treatment lies over are given for the first of its layers that is asked about, and
// not again.
func (p *planner) recordedOnce(l int) []int {
	first := p.siblings[l][0]
	if !p.shutOver[first] {
		p.shutOver[first] = true
		return p.order.recordedUnder(l)
	}
	within := func(n int) bool { return n >= len(p.layers) }
	return slices.DeleteFunc(slices.Clone(p.order.recorded[l]), within)
}

func idsOf(list []int) map[int]bool {
	ids := make(map[int]bool, len(list))
	for _, i := range list {
		ids[i] = true
	}
	return ids
}

// ground is what layers of one footprint cover, and what is known to lie under those
// followed so far: the next ones follow only what is new.
type ground struct {
	touch []Touch
	under []bool
}

// mostGrounds is how many grounds are kept; each is as large as the stack.
const mostGrounds = 50

func (p *planner) groundOf(l int) *ground {
	certain := p.layers[l].foot.certain
	key := fmt.Sprint(certain)
	if g, known := p.grounds[key]; known {
		return g
	}
	g := &ground{p.atlas.touches(footprint{certain: certain}), make([]bool, len(p.order.below))}
	p.followed += len(g.touch) + len(g.under)
	if len(p.grounds) < mostGrounds {
		p.grounds[key] = g
	}
	return g
}

// shut takes a layer out that lies below another one, or what they share of its
// ground. touch is how far the other reaches each area, and recorded tells whether a
// relation says that the layer lies below it.
func (p *planner) shut(plan *RemovalPlan, upper, l int, recorded bool, touch []Touch) bool {
	p.followed += len(p.layers[l].foot.certain)
	shares := slices.ContainsFunc(p.layers[l].foot.certain, func(a int) bool { return touch[a] != Untouched })
	covered := !slices.ContainsFunc(p.layers[l].foot.certain, func(a int) bool { return touch[a] != Fully })
	switch {
	case !shares && !recorded:
		return false
	case shares && !covered:
		p.exempt(upper, l, touch)
		return false
	}
	if p.kept[upper] {
		p.keep(plan, l, upper)
		return true
	}
	p.unreachable(plan, l, p.layers[upper].Treatment, sentence("%s lies below %s, which cannot be taken off; "+
		"not reachable by solvent", p.called(&p.layers[l]), p.called(&p.layers[upper])), "podany-2001", "common-practice")
	return true
}

// exempt notes ground where a layer cannot be reached; of several layers that
// shut off the same ground the first is named.
func (p *planner) exempt(upper, l int, touch []Touch) {
	if len(p.except[l]) == maxListed {
		p.exceptLeft[l]++
		return
	}
	x := Exception{Below: p.layers[upper].Treatment, Areas: p.sharedGround(upper, l, touch)}
	x.ground = digestOf(x.Areas)
	if over := len(x.Areas) - maxExceptAreas; over > 0 {
		x.Areas, x.MoreAreas = slices.Clone(x.Areas[:maxExceptAreas]), over
	}
	if !slices.ContainsFunc(p.except[l], func(known Exception) bool { return known.ground == x.ground }) {
		p.except[l] = append(p.except[l], x)
	}
}

// digestOf is the digest of a list of areas, to compare lists.
func digestOf(areas []Area) (sum [sha256.Size]byte) {
	h := sha256.New()
	for _, a := range areas {
		io.WriteString(h, string(a)+"\x00")
	}
	h.Sum(sum[:0])
	return sum
}

// sharedGround lists the areas of a lower layer that an upper one shares: those
// that it covers, and its own inside those that it covers in part.
func (p *planner) sharedGround(upper, l int, touch []Touch) []Area {
	var ground []Area
	for _, y := range p.layers[l].foot.certain {
		if touch[y] == Fully {
			ground = append(ground, p.atlas.paths[y])
			continue
		}
		if touch[y] == Untouched {
			continue
		}
		p.followed += len(p.layers[upper].foot.certain)
		for _, x := range p.layers[upper].foot.certain {
			if p.atlas.within(x, y) {
				ground = append(ground, p.atlas.paths[x])
			}
		}
	}
	slices.Sort(ground)
	return slices.Compact(ground)
}

func (p *planner) unreachable(plan *RemovalPlan, l int, below, text string, sources ...string) {
	p.taken[l] = false
	u := Unreachable{
		Treatment: p.layers[l].Treatment, Index: p.layers[l].Index, Below: below, Sentence: text,
		Sources: p.knowledge.cite(sources...),
	}
	if p.outOf != nil {
		p.outOf[l] = u
	}
	if len(plan.Unreachable) == maxUnreachable {
		plan.MoreUnreachable++
		return
	}
	plan.Unreachable = append(plan.Unreachable, u)
}
