package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"
)

// makeReference makes the contract that callers read, reference.json, from the one that bodies
// are validated by. They mean the same, but this one is in a form that generators of
// clients enforce:
//
//   - an object of exactly one member, which bodies are judged by in the words
//     minProperties: 1 and maxProperties: 1, is a choice of objects that each have one
//     of the members and none of the others (see choice);
//   - a schema with `servedAs: {MEMBER: {VALUE: SCHEMA, …}}` is a choice of these schemas;
//   - a schema with `servedAnyOf: [SCHEMA, …]` is any of these schemas, and one with
//     `servedPatches: SCHEMA` any of the merge patches of that one's (see patches);
//   - examples are those of requests; what operations need here alone (x-…) is left out.
func makeReference(doc *yaml.Node) {
	schemas := member(member(doc, "components"), "schemas")
	patches(schemas, schemas)
	for _, s := range pairs(schemas) {
		choices(s.value)
	}
	set(schemas, notAllowed, mapping(
		"description", scalar("A member that may not stand beside the others."),
		"allOf", &yaml.Node{Kind: yaml.SequenceNode, Content: []*yaml.Node{
			mapping("type", scalar("null")), mapping("type", scalar("boolean"))}}))
	for _, item := range pairs(member(doc, "paths")) {
		choices(item.value)
		for _, op := range pairs(item.value) {
			for _, r := range pairs(member(op.value, "responses")) {
				strip(r.value)
			}
		}
	}
	choices(member(doc, "webhooks"))
	private(doc)
}

// notAllowed is a schema that no value matches, in a form of which generators make a
// type without values (null & boolean): some of them drop the schemas false and `not:
// {}`.
const notAllowed = "Never"

// choices turns the objects of exactly one member below a node into choices.
func choices(n *yaml.Node) {
	if n == nil {
		return
	}
	for _, child := range n.Content {
		choices(child)
	}
	if as := take(n, "servedAs"); as != nil {
		named(n, as)
	}
	if of := take(n, "servedAnyOf"); of != nil {
		anyOf(n, of)
	}
	properties := member(n, "properties")
	if text(n, "minProperties") != "1" || text(n, "maxProperties") != "1" || len(pairs(properties)) < 2 {
		return
	}
	choice(n, properties)
}

// choice turns an object of exactly one member into a choice of objects.
func choice(n, properties *yaml.Node) {
	for _, gone := range []string{"properties", "minProperties", "maxProperties", "type"} {
		take(n, gone)
	}
	closed := take(n, "additionalProperties")
	branches := &yaml.Node{Kind: yaml.SequenceNode}
	for _, own := range pairs(properties) {
		members := mapping(own.name, own.value)
		for _, other := range pairs(properties) {
			if other.name != own.name {
				set(members, other.name, reference("schemas", notAllowed))
			}
		}
		branch := mapping("type", scalar("object"))
		if closed != nil {
			set(branch, "additionalProperties", closed)
		}
		set(branch, "required", sequence(own.name))
		set(branch, "properties", members)
		branches.Content = append(branches.Content, branch)
	}
	set(n, "oneOf", branches)
}

// named turns a schema into a choice of other schemas by the value of a member.
func named(n, as *yaml.Node) {
	for _, gone := range []string{"properties", "required", "type", "additionalProperties"} {
		take(n, gone)
	}
	by := pairs(as)[0]
	branches, targets := &yaml.Node{Kind: yaml.SequenceNode}, mapping()
	for _, of := range pairs(by.value) {
		branch := reference("schemas", of.value.Value)
		branches.Content = append(branches.Content, branch)
		set(targets, of.name, member(branch, "$ref"))
	}
	set(n, "oneOf", branches)
	set(n, "discriminator", mapping("propertyName", scalar(by.name), "mapping", targets))
}

// told are the extensions that callers are told.
var told = []string{"x-internal", "x-problems", "x-problem-codes"}

// anyOf turns a schema into any of other schemas.
func anyOf(n, of *yaml.Node) {
	take(n, "type")
	take(n, "additionalProperties")
	branches := &yaml.Node{Kind: yaml.SequenceNode}
	for _, name := range items(of) {
		branches.Content = append(branches.Content, reference("schemas", name.Value))
	}
	set(n, "anyOf", branches)
}

// private removes the extensions that only this program reads.
func private(n *yaml.Node) {
	for _, p := range pairs(n) {
		if n.Kind == yaml.MappingNode && strings.HasPrefix(p.name, "x-") && !slices.Contains(told, p.name) {
			take(n, p.name)
		}
	}
	for _, child := range n.Content {
		private(child)
	}
}

// unserved removes the extensions that control how the contract is served.
func unserved(n *yaml.Node) {
	if n.Kind == yaml.MappingNode {
		take(n, "servedAs")
		take(n, "servedAnyOf")
		take(n, "servedPatches")
	}
	for _, child := range n.Content {
		unserved(child)
	}
}

// copied is a deep copy of a node.
func copied(n *yaml.Node) *yaml.Node {
	c := *n
	c.Content = nil
	for _, child := range n.Content {
		c.Content = append(c.Content, copied(child))
	}
	return &c
}

// ownLine is the depth down to which members stand on lines of their own (each path and
// each schema does), so that two changes of the contract can be merged.
const ownLine = 2

// writeJSON writes a node as JSON without spaces, its members in their order.
func writeJSON(b *bytes.Buffer, n *yaml.Node, depth int) error {
	switch n.Kind {
	case yaml.MappingNode:
		b.WriteByte('{')
		for i, p := range pairs(n) {
			if i > 0 {
				b.WriteByte(',')
			}
			if depth <= ownLine {
				b.WriteByte('\n')
			}
			quote(b, p.name)
			b.WriteByte(':')
			if err := writeJSON(b, p.value, depth+1); err != nil {
				return err
			}
		}
		b.WriteByte('}')
	case yaml.SequenceNode:
		b.WriteByte('[')
		for i, item := range n.Content {
			if i > 0 {
				b.WriteByte(',')
			}
			if err := writeJSON(b, item, depth+1); err != nil {
				return err
			}
		}
		b.WriteByte(']')
	case yaml.ScalarNode:
		return writeScalar(b, n)
	default:
		return fmt.Errorf("line %d: no JSON is made of this", n.Line)
	}
	return nil
}

func writeScalar(b *bytes.Buffer, n *yaml.Node) error {
	switch n.ShortTag() {
	case "!!null":
		b.WriteString("null")
	case "!!bool":
		b.WriteString(strings.ToLower(n.Value))
	case "!!int", "!!float":
		if _, err := strconv.ParseFloat(n.Value, 64); err != nil {
			return fmt.Errorf("line %d: %w", n.Line, err)
		}
		b.WriteString(n.Value)
	default:
		quote(b, strings.TrimRight(n.Value, "\n"))
	}
	return nil
}

func quote(b *bytes.Buffer, text string) {
	e := json.NewEncoder(b)
	e.SetEscapeHTML(false)
	_ = e.Encode(text)      // encoding a text cannot fail
	b.Truncate(b.Len() - 1) // the line's end
}
