package stack

// circles numbers the circles of a directed graph from 1 (its strongly
// connected components of more than one node, and nodes that lead to
// themselves); every other node has 0. It is Tarjan's algorithm (SIAM Journal on
// Computing 1, 1972), with a stack of its own so that a long chain needs no deep
// recursion.
func circles(edges [][]int) []int {
	t := tarjan{edges: edges, number: make([]int, len(edges)), low: make([]int, len(edges)), open: make([]bool, len(edges)), circle: make([]int, len(edges))}
	for n := range edges {
		if t.number[n] == 0 {
			t.visit(n)
		}
	}
	return t.circle
}

type tarjan struct {
	edges       [][]int
	number, low []int
	open        []bool
	path        []int
	count       int
	circle      []int
	circles     int
}

// frame is a node that is being visited and how many of its edges are done.
type frame struct{ node, done int }

func (t *tarjan) visit(root int) {
	calls := []frame{t.enter(root)}
	for len(calls) > 0 {
		f := &calls[len(calls)-1]
		if f.done < len(t.edges[f.node]) {
			next := t.edges[f.node][f.done]
			f.done++
			switch {
			case t.number[next] == 0:
				calls = append(calls, t.enter(next))
			case t.open[next]:
				t.low[f.node] = min(t.low[f.node], t.number[next])
			}
			continue
		}
		node := f.node
		calls = calls[:len(calls)-1]
		if len(calls) > 0 {
			up := calls[len(calls)-1].node
			t.low[up] = min(t.low[up], t.low[node])
		}
		if t.low[node] == t.number[node] {
			t.close(node)
		}
	}
}

func (t *tarjan) enter(n int) frame {
	t.count++
	t.number[n], t.low[n], t.open[n] = t.count, t.count, true
	t.path = append(t.path, n)
	return frame{node: n}
}

// close takes a finished component off the path.
func (t *tarjan) close(root int) {
	start := len(t.path) - 1
	for t.path[start] != root {
		start--
	}
	members := t.path[start:]
	t.path = t.path[:start]
	mark := 0
	if len(members) > 1 || leadsToItself(t.edges[root], root) {
		t.circles++
		mark = t.circles
	}
	for _, m := range members {
		t.open[m], t.circle[m] = false, mark
	}
}

func leadsToItself(edges []int, n int) bool {
	for _, m := range edges {
		if m == n {
			return true
		}
	}
	return false
}
