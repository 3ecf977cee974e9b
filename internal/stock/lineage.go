package stock

import (
	"fmt"
	"slices"
	"strings"

	"meniscus/internal/graph"
)

// A Link says that one supply or batch went into another.
type Link struct {
	From, Into string
}

// A Node is a supply or batch that is reached, and by how few steps.
type Node struct {
	ID    string
	Depth int
}

// Lineage is what a batch was made from and into.
type Lineage struct {
	// MadeFrom and MadeInto are in order of depth, then of id; the batch itself
	// is in neither, even if the record runs in a circle through it.
	MadeFrom, MadeInto []Node
	// Links are those between the batch and what was reached, in order.
	Links    []Link
	Findings []Finding
}

// LineageOf follows the links from one batch both ways, to any depth. A circle is
// followed once and named in a finding.
func LineageOf(of string, links []Link) Lineage {
	from, into := map[string][]string{}, map[string][]string{}
	for _, l := range links {
		from[l.Into] = append(from[l.Into], l.From)
		into[l.From] = append(into[l.From], l.Into)
	}
	up, down := reach(of, from), reach(of, into)
	inUp, inDown := depths(of, up), depths(of, down)
	out := Lineage{MadeFrom: up, MadeInto: down}
	for _, l := range links {
		if both(inUp, l) || both(inDown, l) {
			out.Links = append(out.Links, l)
		}
	}
	slices.SortFunc(out.Links, compareLinks)
	out.Links = slices.Compact(out.Links)
	for _, circle := range circles(out.Links) {
		out.Findings = append(out.Findings, Finding{
			Rule: "lineage-circle", Severity: Warn, Of: circle,
			Sentence: fmt.Sprintf("The record says that %d batches were made from each other in a circle, which cannot be.",
				len(circle)),
			Remedy: "Find the entry that names the wrong input and amend it.",
		})
	}
	return out
}

func compareLinks(a, b Link) int {
	if c := strings.Compare(a.From, b.From); c != 0 {
		return c
	}
	return strings.Compare(a.Into, b.Into)
}

func both(depths map[string]int, l Link) bool {
	_, from := depths[l.From]
	_, into := depths[l.Into]
	return from && into
}

func depths(of string, nodes []Node) map[string]int {
	m := map[string]int{of: 0}
	for _, n := range nodes {
		m[n.ID] = n.Depth
	}
	return m
}

// reach walks breadth first, so that each node has its least depth.
func reach(of string, next map[string][]string) []Node {
	seen := map[string]bool{of: true}
	var nodes []Node
	for frontier, depth := []string{of}, 1; len(frontier) > 0; depth++ {
		var found []string
		for _, id := range frontier {
			for _, to := range next[id] {
				if !seen[to] {
					seen[to] = true
					found = append(found, to)
				}
			}
		}
		slices.Sort(found)
		for _, id := range found {
			nodes = append(nodes, Node{id, depth})
		}
		frontier = found
	}
	return nodes
}

// circles gives the ids of each set of batches that were made from each other:
// the strongly connected components that hold a circle, each sorted.
func circles(links []Link) [][]string {
	number := map[string]int{}
	var ids []string
	var next [][]int
	of := func(id string) int {
		i, known := number[id]
		if !known {
			i = len(ids)
			number[id] = i
			ids, next = append(ids, id), append(next, nil)
		}
		return i
	}
	for _, l := range links {
		from, into := of(l.From), of(l.Into)
		next[from] = append(next[from], into)
	}
	var out [][]string
	for _, group := range graph.Components(next) {
		if !graph.Circle(next, group) {
			continue
		}
		circle := make([]string, len(group))
		for i, node := range group {
			circle[i] = ids[node]
		}
		slices.Sort(circle)
		out = append(out, circle)
	}
	slices.SortFunc(out, func(a, b []string) int { return strings.Compare(a[0], b[0]) })
	return out
}
