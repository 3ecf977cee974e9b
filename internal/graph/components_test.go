package graph_test

import (
	"slices"
	"testing"

	"pgregory.net/rapid"

	"meniscus/internal/graph"
)

// The groups are those of the reference model (Warshall): two nodes are in one
// group if each leads to the other, and a group comes after those that it leads to.
func TestComponentsAgreeWithTheClosure(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 10).Draw(t, "nodes")
		next := make([][]int, n)
		reaches := make([][]bool, n)
		for i := range n {
			reaches[i] = make([]bool, n)
			for range rapid.IntRange(0, 3).Draw(t, "edges") {
				to := rapid.IntRange(0, n-1).Draw(t, "to")
				next[i], reaches[i][to] = append(next[i], to), true
			}
		}
		for k := range n {
			for i := range n {
				for j := range n {
					reaches[i][j] = reaches[i][j] || reaches[i][k] && reaches[k][j]
				}
			}
		}
		group := make([]int, n)
		met := 0
		for g, nodes := range graph.Components(next) {
			for _, node := range nodes {
				group[node] = g
				met++
			}
		}
		if met != n {
			t.Fatalf("%v: got %d nodes, want each once", next, met)
		}
		for i := range n {
			for j := range n {
				together := i == j || reaches[i][j] && reaches[j][i]
				if (group[i] == group[j]) != together || reaches[i][j] && group[j] > group[i] {
					t.Fatalf("%v: %d and %d are in groups %d and %d", next, i, j, group[i], group[j])
				}
			}
		}
	})
}

// A chain and a circle of a million nodes need no stack of that depth.
func TestLongChainsNeedNoStack(t *testing.T) {
	t.Parallel()
	const n = 1_000_000
	next := make([][]int, n)
	for i := range n - 1 {
		next[i] = []int{i + 1}
	}
	if got := graph.Components(next); len(got) != n || !slices.Equal(got[0], []int{n - 1}) {
		t.Errorf("a chain: got %d groups, want %d, the end first", len(got), n)
	}
	next[n-1] = []int{0}
	if got := graph.Components(next); len(got) != 1 || len(got[0]) != n {
		t.Errorf("a circle: got %d groups, want one", len(got))
	}
}
