package stack

import (
	"fmt"
	"slices"

	"meniscus/internal/edtf"
	"meniscus/internal/graph"
)

// order is the partial order of the layers of one specimen.
//
// A recorded relation (over, under, inside, barrier-for) decides. Where none
// does and the dates of two layers in one place do not overlap, the later lies
// over the earlier: that is inferred. Every other pair is undetermined, and a
// plan asks.
//
// The date order of n layers in one place has about n² pairs. It is kept as a
// chain of days instead: an upper layer enters the chain of its place at the
// last day before its own, the chain runs down the days, and each day leads to
// the layers that were surely done by then. One chain holds what lies under
// the layers of an area and of all inside it, a second what lies under the
// layers of the area itself in the areas inside it, so that two areas side by
// side never order each other.
//
// The layers of two treatments are not tied one by one: a treatment of several
// layers has an entry node that leads to all of them and an exit node that all of
// them lead to, and relations and days are tied to those.
type order struct {
	stack *Stack
	// below are the edges from an upper to a lower node: layers first, then the nodes
	// of treatments, then days.
	below    [][]int
	above    [][]int  // the same edges from the lower to the upper
	recorded [][]int  // the recorded relations alone, and the order within labels
	pairs    [][2]int // the relations, as an upper and a lower layer that stand for their treatments
	// entry and exit are, by the first layer of a treatment, the nodes that lead to all of
	// its layers and that all of them lead to; those of a single layer are itself.
	entry, exit []int
	related     bool // whether there are any relations
	// undated are the layers whose dates contradict a recorded relation: their
	// dates are not used for the order.
	undated []bool
	// knot is, for a node in a circle of recorded relations, the circle's number
	// from 1, and 0 for every other.
	knot []int
}

// arrange makes the order, naming the contradictions in it.
func (s *Stack) arrange() {
	o := &order{stack: s, undated: make([]bool, len(s.layers))}
	o.recordTreatments()
	o.recordRelations()
	o.knot = circles(o.recorded)
	o.related = o.related || len(o.pairs) > 0
	o.link()
	if o.distrustDates() {
		o.link()
	}
	o.nameKnots()
	o.above = turned(o.below)
	s.order = o
}

// recordTreatments makes the nodes of treatments.
func (o *order) recordTreatments() {
	n := len(o.stack.layers)
	o.recorded, o.entry, o.exit = make([][]int, n), make([]int, n), make([]int, n)
	for l, together := range o.stack.siblings {
		o.entry[l], o.exit[l] = l, l
		if len(together) == 1 || !o.stack.isFirst(l) {
			continue
		}
		o.entry[l], o.exit[l] = len(o.recorded), len(o.recorded)+1
		o.recorded = append(o.recorded, together, nil)
		for _, sibling := range together {
			o.recorded[sibling] = append(o.recorded[sibling], o.exit[l])
		}
	}
}

// recordRelations ties treatments by their relations, upper to lower.
func (o *order) recordRelations() {
	s := o.stack
	for _, t := range s.treatments {
		if s.left() {
			break
		}
		for _, r := range t.Relations {
			if !s.relationKnown(t, r) {
				continue
			}
			upper, lower := s.layersOf[t.ID], s.layersOf[r.To]
			switch r.Kind {
			case Under, Inside, BarrierFor:
				upper, lower = lower, upper
			case Bridges:
				continue
			}
			if len(upper) > 0 && len(lower) > 0 {
				o.tie(upper[0], lower[0])
			}
		}
		o.orderWithin(t)
	}
}

// tie notes that a treatment lies over another; each is given by its first
// layer.
func (o *order) tie(upper, lower int) {
	o.pairs = append(o.pairs, [2]int{upper, lower})
	o.recorded[o.exit[upper]] = append(o.recorded[o.exit[upper]], o.entry[lower])
}

// relationKnown names a relation to a treatment that is not among this
// specimen's.
func (s *Stack) relationKnown(t *Treatment, r Relation) bool {
	if _, ok := s.byID[r.To]; ok {
		return true
	}
	if !s.leftOut[r.To] {
		s.contradict("names-unknown-treatment",
			fmt.Sprintf("A relation (%s) names a treatment that is not recorded for this specimen.", r.Kind), t.ID, r.To)
	}
	return false
}

// labelOrder is how the parts of one label lie, from below.
var labelOrder = []Role{LabelBase, Ink, LabelTop}

// orderWithin orders the layers of one label.
func (o *order) orderWithin(t *Treatment) {
	s := o.stack
	for _, u := range s.layersOf[t.ID] {
		for _, l := range s.layersOf[t.ID] {
			if slices.Index(labelOrder, s.layers[u].Role) > slices.Index(labelOrder, s.layers[l].Role) &&
				s.layers[l].Role.label() {
				o.recorded[u] = append(o.recorded[u], l)
				o.related = true
			}
		}
	}
}

// recordedUnder are the layers that are recorded as lying under a node.
func (o *order) recordedUnder(node int) []int {
	var under []int
	for _, n := range o.recorded[node] {
		if n < len(o.stack.layers) {
			under = append(under, n)
		} else {
			under = append(under, o.recordedUnder(n)...)
		}
	}
	return under
}

// hasRecordedUnder tells whether there are any.
func (o *order) hasRecordedUnder(node int) bool {
	return slices.ContainsFunc(o.recorded[node], func(n int) bool {
		return n < len(o.stack.layers) || o.hasRecordedUnder(n)
	})
}

// link makes the graph of the recorded relations and the chains of days.
func (o *order) link() {
	o.below = make([][]int, len(o.recorded))
	for i, lower := range o.recorded {
		o.below[i] = slices.Clone(lower)
	}
	inside := o.stack.strictlyInside()
	for area, here := range o.stack.firstsAt {
		if len(here) == 0 {
			continue
		}
		if o.stack.left() {
			return
		}
		o.chain(slices.Concat(here, inside[area]), here)
		o.chain(here, inside[area])
	}
}

// strictlyInside gives for each area the first layers of the areas inside it, for
// those areas that have layers of their own.
func (s *Stack) strictlyInside() [][]int {
	inside := make([][]int, len(s.firstsAt))
	for area, here := range s.firstsAt {
		if up := s.atlas.parent[area]; up >= 0 && len(here) > 0 {
			s.atlas.above(up, func(i int) {
				if len(s.firstsAt[i]) > 0 {
					inside[i] = append(inside[i], here...)
				}
			})
		}
	}
	return inside
}

// chain lets each upper layer lie over every lower one that was surely done
// before it began.
func (o *order) chain(uppers, lowers []int) {
	var dated []int
	for _, l := range lowers {
		if !o.undated[l] && !o.stack.layers[l].When.To.IsZero() {
			dated = append(dated, l)
		}
	}
	if len(dated) == 0 {
		return
	}
	to := func(l int) edtf.Day { return o.stack.layers[l].When.To }
	slices.SortStableFunc(dated, func(a, b int) int { return to(a).Compare(to(b)) })
	var days []edtf.Day
	var nodes []int
	for _, l := range dated {
		if len(days) == 0 || days[len(days)-1] != to(l) {
			n := len(o.below)
			o.below = append(o.below, nil)
			if len(nodes) > 0 {
				o.below[n] = append(o.below[n], nodes[len(nodes)-1])
			}
			days, nodes = append(days, to(l)), append(nodes, n)
		}
		n := nodes[len(nodes)-1]
		o.below[n] = append(o.below[n], o.entry[l])
	}
	for _, u := range uppers {
		from := o.stack.layers[u].When.From
		if o.undated[u] || from.IsZero() {
			continue
		}
		if k, _ := slices.BinarySearchFunc(days, from, edtf.Day.Compare); k > 0 {
			o.below[o.exit[u]] = append(o.below[o.exit[u]], nodes[k-1])
		}
	}
}

// distrustDates finds the layers whose dates and relations contradict: those at
// either end of a recorded relation that lies on a circle through the days. The order
// within a label contradicts no dates: its layers have the same.
func (o *order) distrustDates() bool {
	circle := circles(o.below)
	found := false
	for _, pair := range o.pairs {
		u, l := pair[0], pair[1]
		if circle[u] == 0 || circle[u] != circle[l] || (o.knot[u] != 0 && o.knot[u] == o.knot[l]) {
			continue
		}
		found = true
		o.distrust(u)
		o.distrust(l)
		a, b := &o.stack.layers[u], &o.stack.layers[l]
		o.stack.contradict("dates-against-relation",
			"The recorded order of these layers contradicts their dates; the dates are not used to order them.",
			a.Treatment, b.Treatment)
	}
	return found
}

// distrust stops using the dates of a layer's treatment.
func (o *order) distrust(l int) {
	if !o.undated[l] {
		for _, sibling := range o.stack.siblings[l] {
			o.undated[sibling] = true
		}
	}
}

// nameKnots names the circles that the recorded relations make by themselves.
func (o *order) nameKnots() {
	members := map[int][]string{}
	for l, k := range o.knot[:len(o.stack.layers)] {
		if k != 0 && o.stack.isFirst(l) {
			members[k] = append(members[k], o.stack.layers[l].Treatment)
		}
	}
	for _, m := range members {
		o.stack.contradict("over-each-other", "These treatments are recorded as lying over one another in a circle; "+
			"say which lies on top.", m...)
	}
}

// circles numbers the circles of a graph from 1; a node outside every circle has
// 0.
func circles(edges [][]int) []int {
	circle, count := make([]int, len(edges)), 0
	for _, group := range graph.Components(edges) {
		if !graph.Circle(edges, group) {
			continue
		}
		count++
		for _, n := range group {
			circle[n] = count
		}
	}
	return circle
}

// surelyOlder tells whether layer l was done before layer u began, by dates that
// are used to order them.
func (o *order) surelyOlder(l, u int) bool {
	to, from := o.stack.layers[l].When.To, o.stack.layers[u].When.From
	return !o.undated[l] && !o.undated[u] && after(from, to)
}

// maxFollowed bounds how many nodes a listing of pairs follows up and down the
// stack.
const maxFollowed = 10_000_000

// relations tells whether layers lie over or under one of them.
type relations struct {
	order    *order
	of       int    // the layer that was followed last
	lower    []bool // what lies under it
	upper    []bool // what lies over it
	followed int
	pairs    int // how often two layers were compared
}

// maxCompared is how many pairs of layers one rule of a check compares.
const maxCompared = 1_000_000

// spent counts a pair and tells whether the bound is passed.
func (r *relations) spent() bool {
	r.pairs++
	return r.pairs > maxCompared || r.followed > maxFollowed
}

// between tells whether a layer lies under and whether it lies over the layer of: by
// their own dates, or, where relations are recorded at all, by way of them. In a
// circle of contradicting records both are true.
func (r *relations) between(of, other int) (under, over bool) {
	under, over = r.order.surelyOlder(other, of), r.order.surelyOlder(of, other)
	if r.order.related && !under && !over {
		r.follow(of)
		return r.lower[other], r.upper[other]
	}
	return under, over
}

// follow marks what lies under and over a layer.
func (r *relations) follow(of int) {
	if r.lower != nil && r.of == of {
		return
	}
	r.of = of
	if r.lower == nil {
		r.lower, r.upper = make([]bool, len(r.order.below)), make([]bool, len(r.order.above))
	}
	clear(r.lower)
	clear(r.upper)
	r.followed += 2 * len(r.order.above)
	r.followed += walk(r.lower, r.order.below, of)
	r.followed += walk(r.upper, r.order.above, of)
}

// turned gives the edges the other way round.
func turned(edges [][]int) [][]int {
	back := make([][]int, len(edges))
	for from, list := range edges {
		for _, to := range list {
			back[to] = append(back[to], from)
		}
	}
	return back
}

// reached marks all that can be reached from some nodes, themselves not included
// unless an edge leads back.
func reached(edges [][]int, from ...int) []bool {
	seen := make([]bool, len(edges))
	walk(seen, edges, from...)
	return seen
}

// walk marks what can be reached from some nodes; what is marked already is not
// gone through again. It counts the edges that it follows.
func walk(seen []bool, edges [][]int, from ...int) (followed int) {
	return walkNew(seen, edges, func(int) {}, from...)
}

// walkNew is walk, and calls f with each node that it marks.
func walkNew(seen []bool, edges [][]int, f func(int), from ...int) (followed int) {
	queue := slices.Clone(from)
	for len(queue) > 0 {
		n := queue[len(queue)-1]
		queue = queue[:len(queue)-1]
		followed += len(edges[n])
		for _, m := range edges[n] {
			if !seen[m] {
				seen[m] = true
				queue = append(queue, m)
				f(m)
			}
		}
	}
	return followed
}
