package main

import (
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"
)

// patches turns a schema with `servedPatches: SCHEMA` into any of the merge patches of the
// statements that are that schema's servedAnyOf, and adds the patches to the schemas: of
// NAME, or of NAMEStatement, it is NAMEPatch.
func patches(n, schemas *yaml.Node) {
	for _, child := range n.Content {
		patches(child, schemas)
	}
	of := take(n, "servedPatches")
	if of == nil {
		return
	}
	served := copied(member(member(schemas, of.Value), "servedAnyOf"))
	for _, name := range served.Content {
		name.Value = patch(name.Value, schemas)
	}
	anyOf(n, served)
	join(schemas)
}

// join makes NAMEPatchOrNull and NAMEPatch one schema where no patch has the latter alone.
func join(schemas *yaml.Node) {
	uses := map[string]int{}
	count(schemas, uses, map[string]bool{})
	for _, s := range pairs(schemas) {
		name, is := strings.CutSuffix(s.name, "PatchOrNull")
		if !is || uses[name+"Patch"] > 1 {
			continue
		}
		take(schemas, s.name)
		*member(member(schemas, name+"Patch"), "type") = *sequence("object", "null")
		rename(schemas, schemaPath+s.name, schemaPath+name+"Patch")
	}
}

func rename(n *yaml.Node, from, to string) {
	if n.Value == from {
		n.Value = to
	}
	for _, child := range n.Content {
		rename(child, from, to)
	}
}

// patch adds the merge patch (RFC 7396) of an object to the schemas, and gives its name.
// Members that the object has to have may not be null, and others may, which takes them
// away. A member that is an object is patched itself, unless it has one member alone; one of
// a choice may be null, so that another can take its place. Of plain values and lists the type is enough here: what
// results is judged as a whole statement is.
func patch(of string, schemas *yaml.Node) string {
	name := strings.TrimSuffix(of, "Statement") + "Patch"
	if member(schemas, name) != nil {
		return name
	}
	object, members := member(schemas, of), mapping()
	set(schemas, name, mapping("type", scalar("object"), "additionalProperties", literal("false"), "properties", members))
	for _, p := range pairs(member(object, "properties")) {
		own := patched(p.value, schemas)
		if !slices.ContainsFunc(items(member(object, "required")), func(n *yaml.Node) bool { return n.Value == p.name }) {
			own = orNull(own, schemas)
		}
		set(members, p.name, own)
	}
	return name
}

// patched is the schema of a member in a patch.
func patched(schema, schemas *yaml.Node) *yaml.Node {
	whole, name := schema, ""
	for text(whole, "$ref") != "" {
		name = strings.TrimPrefix(text(whole, "$ref"), schemaPath)
		whole = member(schemas, name)
	}
	required := len(items(member(whole, "required")))
	switch {
	case name != "" && member(whole, "enum") != nil:
		return reference("schemas", name)
	case required == 1 && len(pairs(member(whole, "properties"))) == 1:
		return reference("schemas", name)
	case text(whole, "type") == "object":
		return reference("schemas", patch(name, schemas))
	}
	own := mapping()
	for _, word := range []string{"type", "format", "enum", "items"} {
		if said := member(whole, word); said != nil {
			set(own, word, copied(said))
		}
	}
	return own
}

// orNull is a schema that null matches too; that of a named one is NAMEOrNull.
func orNull(schema, schemas *yaml.Node) *yaml.Node {
	if kind := member(schema, "type"); kind != nil && member(schema, "enum") == nil {
		*kind = *sequence(kind.Value, "null")
		return schema
	}
	either := mapping("anyOf", &yaml.Node{Kind: yaml.SequenceNode, Content: []*yaml.Node{schema, mapping("type", scalar("null"))}})
	named, is := strings.CutPrefix(text(schema, "$ref"), schemaPath)
	if !is {
		return either
	}
	if member(schemas, named+"OrNull") == nil {
		set(schemas, named+"OrNull", either)
	}
	return reference("schemas", named+"OrNull")
}
