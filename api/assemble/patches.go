package main

import (
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"
)

// patches turns a schema with `servedPatches: SCHEMA` into any of the merge patches of the
// statements NAMEStatement that are that schema's servedAnyOf, and adds the patches to the
// schemas as NAMEPatch.
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
		statement := member(schemas, name.Value)
		name.Value = strings.TrimSuffix(name.Value, "Statement") + "Patch"
		set(schemas, name.Value, patch(statement, schemas))
	}
	anyOf(n, served)
}

// patch is a merge patch (RFC 7396) of a statement: members that it has to have keep their
// schema, and others may be null, which takes them away. A member that is an object is
// patched itself, so that it is any object here.
func patch(statement, schemas *yaml.Node) *yaml.Node {
	members := mapping()
	for _, p := range pairs(member(statement, "properties")) {
		own := copied(p.value)
		take(own, "description")
		if isObject(own, schemas) {
			own = mapping("type", scalar("object"), "additionalProperties", literal("true"))
		}
		if !slices.ContainsFunc(items(member(statement, "required")), func(n *yaml.Node) bool { return n.Value == p.name }) {
			own = orNull(own)
		}
		set(members, p.name, own)
	}
	return mapping("type", scalar("object"), "additionalProperties", literal("false"), "properties", members)
}

func isObject(schema, schemas *yaml.Node) bool {
	if name, is := strings.CutPrefix(text(schema, "$ref"), schemaPath); is {
		return isObject(member(schemas, name), schemas)
	}
	return text(schema, "type") == "object"
}

// orNull is a schema that null matches too.
func orNull(schema *yaml.Node) *yaml.Node {
	if kind := member(schema, "type"); kind != nil && member(schema, "enum") == nil {
		*kind = *sequence(kind.Value, "null")
		return schema
	}
	return mapping("anyOf", &yaml.Node{Kind: yaml.SequenceNode, Content: []*yaml.Node{schema, mapping("type", scalar("null"))}})
}
