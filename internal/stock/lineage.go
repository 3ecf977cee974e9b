package stock

import (
	"fmt"
	"slices"
	"strings"
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
			Sentence: fmt.Sprintf("The record says that %d batches were made from each other in a circle, which cannot be.", len(circle)),
			Remedy:   "Find the entry that names the wrong input and amend it.",
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
	suspects := onlyBetweenCircles(links)
	from, into := map[string][]string{}, map[string][]string{}
	for _, l := range suspects {
		from[l.Into] = append(from[l.Into], l.From)
		into[l.From] = append(into[l.From], l.Into)
	}
	var out [][]string
	settled := map[string]bool{}
	for _, l := range suspects {
		if settled[l.From] {
			continue
		}
		settled[l.From] = true
		if circle := around(l.From, from, into); len(circle) > 0 {
			for _, id := range circle {
				settled[id] = true
			}
			out = append(out, circle)
		}
	}
	return out
}

// around gives every batch that is both before and after id, if id is on a
// circle at all.
func around(id string, from, into map[string][]string) []string {
	before := depths(id, reach(id, from))
	circle := []string{id}
	for _, n := range reach(id, into) {
		if _, ok := before[n.ID]; ok {
			circle = append(circle, n.ID)
		}
	}
	if len(circle) == 1 && !slices.Contains(into[id], id) {
		return nil
	}
	slices.Sort(circle)
	return circle
}

// onlyBetweenCircles takes away, again and again, every link from a batch into
// which nothing goes and every link to one that goes nowhere. In a record
// without circles nothing is left, which is the usual case and costs one pass.
func onlyBetweenCircles(links []Link) []Link {
	links = withoutSources(links, func(l Link) (string, string) { return l.From, l.Into })
	return withoutSources(links, func(l Link) (string, string) { return l.Into, l.From })
}

func withoutSources(links []Link, ends func(Link) (from, into string)) []Link {
	arriving := map[string]int{}
	leaving := map[string][]string{}
	for _, l := range links {
		from, into := ends(l)
		arriving[into]++
		leaving[from] = append(leaving[from], into)
	}
	var bare []string
	for id := range leaving {
		if arriving[id] == 0 {
			bare = append(bare, id)
		}
	}
	gone := map[string]bool{}
	for len(bare) > 0 {
		id := bare[len(bare)-1]
		bare = bare[:len(bare)-1]
		gone[id] = true
		for _, to := range leaving[id] {
			if arriving[to]--; arriving[to] == 0 {
				bare = append(bare, to)
			}
		}
	}
	return slices.DeleteFunc(slices.Clone(links), func(l Link) bool {
		from, _ := ends(l)
		return gone[from]
	})
}
