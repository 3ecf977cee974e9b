// Package graph walks directed graphs, such as the lineage of batches.
//
// It promises that each node and each edge is looked at once, in every graph: a
// chain, layers that are fully connected, or a circle.
package graph

import "slices"

// Components gives the strongly connected components of a directed graph, whose
// nodes are numbered from 0: nodes that can reach each other are in one group. A
// group comes after those that it leads to. Each node and each edge is looked at
// once, without recursion, so that a long chain costs no stack.
//
// Source: R. Tarjan, Depth-first search and linear graph algorithms, SIAM Journal
// on Computing 1 (1972), 146 to 160 (recalled).
func Components(next [][]int) [][]int {
	t := tarjan{next: next, index: make([]int, len(next)), low: make([]int, len(next)), open: make([]bool, len(next))}
	for node := range next {
		if t.index[node] == 0 {
			t.from(node)
		}
	}
	return t.groups
}

// Circle tells whether a group of Components is a circle: several nodes, or one
// that leads to itself.
func Circle(next [][]int, group []int) bool {
	return len(group) > 1 || slices.Contains(next[group[0]], group[0])
}

// tarjan is the work of Components.
type tarjan struct {
	next   [][]int
	index  []int // the order in which nodes are met, from 1; 0 is not yet
	low    []int // the earliest node that is reached and still open
	open   []bool
	stack  []int
	met    int
	groups [][]int
}

// visit is a node whose edges are being followed.
type visit struct{ node, edge int }

func (t *tarjan) from(root int) {
	way := []visit{t.enter(root)}
	for len(way) > 0 {
		at := &way[len(way)-1]
		if at.edge == len(t.next[at.node]) {
			node := at.node
			way = way[:len(way)-1]
			t.leave(node)
			if len(way) > 0 {
				above := way[len(way)-1].node
				t.low[above] = min(t.low[above], t.low[node])
			}
			continue
		}
		to := t.next[at.node][at.edge]
		at.edge++
		switch {
		case t.index[to] == 0:
			way = append(way, t.enter(to))
		case t.open[to]:
			t.low[at.node] = min(t.low[at.node], t.index[to])
		}
	}
}

func (t *tarjan) enter(node int) visit {
	t.met++
	t.index[node], t.low[node], t.open[node] = t.met, t.met, true
	t.stack = append(t.stack, node)
	return visit{node: node}
}

// leave closes a group when its first node is left.
func (t *tarjan) leave(node int) {
	if t.low[node] != t.index[node] {
		return
	}
	for i := len(t.stack) - 1; ; i-- {
		t.open[t.stack[i]] = false
		if t.stack[i] == node {
			t.groups = append(t.groups, append([]int(nil), t.stack[i:]...))
			t.stack = t.stack[:i]
			return
		}
	}
}
