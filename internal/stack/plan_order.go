package stack

import (
	"container/heap"
	"slices"
)

// sequence sorts what is taken so that nothing comes off before what lies over
// it; of what is free to come off, the latest first.
func (p *planner) sequence(plan *RemovalPlan) []int {
	waits := make([]int, len(p.order.below))
	for u := range p.order.below {
		for _, l := range p.order.below[u] {
			waits[l]++
		}
	}
	free := &freeLayers{planner: p}
	for n := range p.order.below {
		if waits[n] == 0 {
			heap.Push(free, n)
		}
	}
	var out []int
	for free.Len() > 0 {
		n := heap.Pop(free).(int)
		if n < len(p.layers) && p.taken[n] {
			out = append(out, n)
		}
		for _, l := range p.order.below[n] {
			if waits[l]--; waits[l] == 0 {
				heap.Push(free, l)
			}
		}
	}
	p.behindKnots(plan, waits)
	return slices.DeleteFunc(out, func(l int) bool { return !p.taken[l] })
}

// behindKnots takes out what lies below a circle of contradicting records:
// its place in the sequence is unknown.
func (p *planner) behindKnots(plan *RemovalPlan, waits []int) {
	for l := range p.layers {
		if waits[l] > 0 && p.taken[l] {
			p.unreachable(plan, l, "", sentence("%s lies below layers whose recorded order is contradictory",
				p.called(&p.layers[l])), "common-practice")
		}
	}
}

// freeLayers is a heap of nodes that nothing lies over any more: days come
// before layers, then the latest layer, then the treatment's name.
type freeLayers struct {
	*planner
	nodes []int
}

func (f *freeLayers) Len() int      { return len(f.nodes) }
func (f *freeLayers) Swap(i, j int) { f.nodes[i], f.nodes[j] = f.nodes[j], f.nodes[i] }
func (f *freeLayers) Push(x any)    { f.nodes = append(f.nodes, x.(int)) }
func (f *freeLayers) Pop() any {
	last := f.nodes[len(f.nodes)-1]
	f.nodes = f.nodes[:len(f.nodes)-1]
	return last
}

func (f *freeLayers) Less(i, j int) bool {
	a, b := f.nodes[i], f.nodes[j]
	n := len(f.layers)
	if (a >= n) != (b >= n) {
		return a >= n
	}
	if a >= n {
		return a < b
	}
	if c := compareEnds(f.layers[a].When.To, f.layers[b].When.To); c != 0 {
		return c > 0
	}
	if f.layers[a].Treatment != f.layers[b].Treatment {
		return f.layers[a].Treatment < f.layers[b].Treatment
	}
	return a > b // within one treatment the last put on first
}
