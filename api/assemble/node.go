package main

import (
	"fmt"
	"slices"

	"go.yaml.in/yaml/v3"
)

// pair is a member of a mapping.
type pair struct {
	name  string
	value *yaml.Node
}

func pairs(m *yaml.Node) []pair {
	if m == nil {
		return nil
	}
	out := make([]pair, 0, len(m.Content)/2)
	for i := 0; i+1 < len(m.Content); i += 2 {
		out = append(out, pair{m.Content[i].Value, m.Content[i+1]})
	}
	return out
}

func items(list *yaml.Node) []*yaml.Node {
	if list == nil {
		return nil
	}
	return list.Content
}

// member is a mapping's member, or nil.
func member(m *yaml.Node, name string) *yaml.Node {
	for _, p := range pairs(m) {
		if p.name == name {
			return p.value
		}
	}
	return nil
}

func text(m *yaml.Node, name string) string {
	if n := member(m, name); n != nil {
		return n.Value
	}
	return ""
}

// take removes a member from a mapping and gives it.
func take(m *yaml.Node, name string) *yaml.Node {
	for i, p := range pairs(m) {
		if p.name == name {
			m.Content = slices.Delete(m.Content, 2*i, 2*i+2)
			return p.value
		}
	}
	return nil
}

func set(m *yaml.Node, name string, value *yaml.Node) {
	m.Content = append(m.Content, scalar(name), value)
}

// add copies the members of one mapping into another, which must have none of them.
func add(to, from *yaml.Node) error {
	for _, p := range pairs(from) {
		if member(to, p.name) != nil {
			return fmt.Errorf("%s stands in two files", p.name)
		}
		set(to, p.name, p.value)
	}
	return nil
}

func scalar(value string) *yaml.Node {
	n := &yaml.Node{}
	n.SetString(value)
	return n
}

// literal is a number or a boolean.
func literal(value string) *yaml.Node { return &yaml.Node{Kind: yaml.ScalarNode, Value: value} }

func sequence(values ...string) *yaml.Node {
	n := &yaml.Node{Kind: yaml.SequenceNode, Style: yaml.FlowStyle}
	for _, v := range values {
		n.Content = append(n.Content, scalar(v))
	}
	return n
}

// mapping makes a mapping of names and nodes.
func mapping(members ...any) *yaml.Node {
	n := &yaml.Node{Kind: yaml.MappingNode}
	for i := 0; i < len(members); i += 2 {
		set(n, members[i].(string), members[i+1].(*yaml.Node))
	}
	return n
}

func reference(sort, name string) *yaml.Node {
	return mapping("$ref", scalar("#/components/"+sort+"/"+name))
}

// quoteStatuses writes statuses as texts, which JSON needs, in their order.
func quoteStatuses(responses *yaml.Node) {
	all := pairs(responses)
	slices.SortFunc(all, func(a, b pair) int { return slices.Compare([]byte(a.name), []byte(b.name)) })
	responses.Content = nil
	for _, p := range all {
		name := &yaml.Node{Kind: yaml.ScalarNode, Value: p.name, Tag: "!!str", Style: yaml.SingleQuotedStyle}
		responses.Content = append(responses.Content, name, p.value)
	}
}

// strip removes the examples, but no members of that name.
func strip(n *yaml.Node) { stripIn(n, false) }

func stripIn(n *yaml.Node, membersAreNames bool) {
	if n.Kind == yaml.MappingNode {
		if !membersAreNames {
			for _, name := range []string{"examples", "example"} {
				take(n, name)
			}
		}
		for _, p := range pairs(n) {
			stripIn(p.value, !membersAreNames && p.name == "properties")
		}
		return
	}
	for _, c := range n.Content {
		stripIn(c, false)
	}
}

// silence takes out the texts that no fault repeats: a fault says the form of a text that has a
// pattern or a format, and what a parameter is.
func silence(doc *yaml.Node) {
	words(doc, func(n *yaml.Node) {
		if member(n, "in") != nil && member(n, "schema") != nil {
			return
		}
		take(n, "summary")
		take(n, "title")
		if member(n, "pattern") == nil && member(n, "format") == nil && member(n, "content") == nil && member(n, "version") == nil {
			take(n, "description")
		}
	})
}
