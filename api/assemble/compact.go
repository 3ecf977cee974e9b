package main

import (
	"cmp"
	"regexp"
	"slices"
	"strings"
	"unicode"

	"go.yaml.in/yaml/v3"
)

// compact makes openapi.json of the reference: the same operations, members, types and
// examples of requests, in few bytes. What it leaves out stands in openapi.yaml and in the
// reference:
//
//   - of a description, all but what it begins with (see first), and the descriptions of
//     operations, which have a summary;
//   - of schemas that only answers have, the limits of values, which callers need not
//     check, the names of plain values, and the descriptions of members, except those that
//     a reading of the value rests on (see tells);
//   - that no other members are taken, which is so of every object;
//   - all but the shortest example of a body;
//   - the answer 304, which If-None-Match tells, the headers of answers, and what the only
//     success of an operation is called, which the summary tells;
//   - that an operation needs the scope read alone, which stands once for all that do not say
//     otherwise;
//   - the summary of a request's example that says that it is an ordinary one;
//   - the codes of problems and their statuses, which /problems lists;
//   - how long a text may be that is one of a list;
//   - the names of schemas, parameters and headers that are used once (see inline).
//
// A test holds the two equal in all else (TestCompactMeansTheSame).
func compact(doc *yaml.Node) {
	components := member(doc, "components")
	schemas := member(components, "schemas")
	c := compactor{schemas: map[string]*yaml.Node{}, asked: map[string]bool{}}
	for _, s := range pairs(schemas) {
		c.schemas[s.name] = s.value
	}
	for _, item := range pairs(member(doc, "paths")) {
		c.item(item.value)
	}
	take(doc, "security")
	set(doc, "security", sequence())
	member(doc, "security").Content = []*yaml.Node{mapping("accessKey", sequence("read"))}
	for _, s := range pairs(schemas) {
		if !c.asked[s.name] {
			c.answered(s.value)
		}
		words(s.value, open)
		words(s.value, shorten)
		words(s.value, listed)
	}
	words(member(doc, "paths"), open)
	words(member(doc, "paths"), shorten)
	words(member(doc, "paths"), listed)
	for _, sort := range []string{"parameters", "responses", "securitySchemes"} {
		for _, component := range pairs(member(components, sort)) {
			shorten(component.value)
			words(component.value, listed)
		}
	}
	take(doc, "x-problem-codes")
	inline(doc, schemas)
	unused(doc, components)
	for _, s := range pairs(schemas) {
		if !c.asked[s.name] {
			terse(s.value)
		}
	}
	for _, item := range pairs(member(doc, "paths")) {
		for _, op := range pairs(item.value) {
			for _, body := range bodies(op.value) {
				terse(body)
			}
		}
	}
}

// shortest takes away all examples of a body but the shortest.
func shortest(examples *yaml.Node) {
	all := pairs(examples)
	if len(all) == 0 {
		return
	}
	kept := slices.MinFunc(all, func(a, b pair) int { return cmp.Compare(size(a.value), size(b.value)) })
	for _, example := range all {
		if example.name != kept.name {
			take(examples, example.name)
		}
	}
}

// size is about how many bytes a node has as JSON.
func size(n *yaml.Node) int {
	bytes := len(n.Value)
	for _, child := range n.Content {
		bytes += size(child) + 2
	}
	return bytes
}

// bodies are the schemas of what an operation answers with.
func bodies(op *yaml.Node) []*yaml.Node {
	var schemas []*yaml.Node
	for _, r := range pairs(member(op, "responses")) {
		for _, media := range pairs(member(r.value, "content")) {
			schemas = append(schemas, member(media.value, "schema"))
		}
	}
	return schemas
}

// listed takes away how long a text may be that is one of a list.
func listed(schema *yaml.Node) {
	if member(schema, "enum") != nil {
		take(schema, "maxLength")
	}
}

type compactor struct {
	schemas map[string]*yaml.Node
	asked   map[string]bool // the schemas that parameters and bodies of requests have
}

// item compacts the operations of a path.
func (c compactor) item(item *yaml.Node) {
	for _, op := range pairs(item) {
		if op.name == "parameters" {
			c.ask(op.value)
			continue
		}
		take(op.value, "description")
		c.ask(member(op.value, "parameters"))
		c.ask(member(op.value, "requestBody"))
		for _, media := range pairs(member(member(op.value, "requestBody"), "content")) {
			shortest(member(media.value, "examples"))
		}
		take(member(op.value, "responses"), "304") // If-None-Match tells it
		for _, body := range bodies(op.value) {
			c.answered(body)
		}
		for _, r := range pairs(member(op.value, "responses")) {
			take(r.value, "headers")
		}
		if needsOnlyRead(member(op.value, "security")) {
			take(op.value, "security")
		}
		loneSuccess(member(op.value, "responses"))
		ordinary(member(op.value, "requestBody"))
		take(op.value, "x-problems")
	}
}

// needsOnlyRead tells whether an operation needs a key with the scope read, as most do.
func needsOnlyRead(security *yaml.Node) bool {
	ways := items(security)
	if len(ways) != 1 {
		return false
	}
	scopes := items(member(ways[0], "accessKey"))
	return len(scopes) == 1 && scopes[0].Value == "read"
}

// loneSuccess says no more of the only success than that it is one: a response has to have a
// description.
func loneSuccess(responses *yaml.Node) {
	var successes []*yaml.Node
	for _, r := range pairs(responses) {
		if strings.HasPrefix(r.name, "2") {
			successes = append(successes, r.value)
		}
	}
	if len(successes) == 1 {
		*member(successes[0], "description") = *scalar("OK")
	}
}

// ordinary takes away that an example of a request is an ordinary one.
func ordinary(request *yaml.Node) {
	for _, media := range pairs(member(request, "content")) {
		for _, example := range pairs(member(media.value, "examples")) {
			if text(example.value, "summary") == "An ordinary request." {
				take(example.value, "summary")
			}
		}
	}
}

// ask marks the schemas that a node refers to, and those that these refer to.
func (c compactor) ask(n *yaml.Node) {
	if n == nil {
		return
	}
	if name, found := strings.CutPrefix(text(n, "$ref"), schemaPath); found && !c.asked[name] {
		c.asked[name] = true
		c.ask(c.schemas[name])
	}
	for _, child := range n.Content {
		c.ask(child)
	}
}

const schemaPath = "#/components/schemas/"

// limits are the words of a schema that bound values.
var limits = []string{"minLength", "maxLength", "pattern", "minItems", "maxItems", "minimum", "maximum",
	"exclusiveMinimum", "exclusiveMaximum"}

// spelled are schemas of answers whose type says all.
var spelled = []string{"Id", "Line", "Text", "Count", "ComputedNumber", "Uri", "Word", "Reason", "Revision", "Sequence",
	"PlainAnswer", "Page", "PrintedLabel", "LabelPicture"}

// answered compacts a schema that only answers have.
func (c compactor) answered(schema *yaml.Node) {
	words(schema, func(s *yaml.Node) {
		for _, word := range limits {
			take(s, word)
		}
		name := strings.TrimPrefix(text(s, "$ref"), schemaPath)
		if !slices.Contains(spelled, name) {
			return
		}
		take(s, "$ref")
		for _, word := range []string{"type", "format"} {
			if said := member(c.schemas[name], word); said != nil {
				set(s, word, said)
			}
		}
	})
	words(schema, func(s *yaml.Node) {
		if member(s, "type") != nil && text(s, "type") != "string" {
			take(s, "format")
		}
	})
}

func open(s *yaml.Node) {
	if text(s, "additionalProperties") == "false" {
		take(s, "additionalProperties")
	}
}

func shorten(s *yaml.Node) {
	if text(s, "description") == inFull {
		take(s, "description")
	}
	if said := member(s, "description"); said != nil && said.Kind == yaml.ScalarNode {
		*said = *scalar(first(said.Value))
	}
}

// terse takes the descriptions of members from a schema that only answers have.
func terse(schema *yaml.Node) {
	words(schema, func(s *yaml.Node) {
		said := member(s, "description")
		if s != schema && said != nil && text(s, "type") != "boolean" && !tells.MatchString(said.Value) {
			take(s, "description")
		}
	})
}

// tells matches a description that a reading of the value rests on: it tells a unit, a
// basis, a date or an order, or what numbers stand for. What yes and no mean is told as well.
var tells = regexp.MustCompile(`\d|%|°|\b(bytes|hours|mass|volume|grams|mole|date|day|EDTF|first|last|order)\b`)

// first is what a description begins with: its first sentence, or what stands before the
// first semicolon that is in no list.
func first(said string) string {
	said = strings.Join(strings.Fields(said), " ")
	inside, listed := 0, false // inside brackets or code; after a colon
	code := false
	for i, r := range said {
		ends := i+1 == len(said) || said[i+1] == ' '
		switch {
		case r == '`':
			code = !code
		case code:
		case strings.ContainsRune("([{", r):
			inside++
		case strings.ContainsRune(")]}", r):
			inside--
		case inside > 0 || !ends:
		case r == ':':
			listed = true
		case r == ';' && !listed:
			return said[:i] + "."
		case r == '.' && begins(said[i+1:]):
			return said[:i+1]
		}
	}
	return said
}

// begins tells whether a sentence begins after a space.
func begins(rest string) bool {
	for _, r := range strings.TrimPrefix(rest, " ") {
		return !unicode.IsLower(r) && !unicode.IsDigit(r)
	}
	return true
}

// words gives f each object of the contract below a node, but none of the maps of names,
// and nothing of the examples.
func words(n *yaml.Node, f func(*yaml.Node)) { wordsIn(n, f, false) }

func wordsIn(n *yaml.Node, f func(*yaml.Node), named bool) {
	if n == nil {
		return
	}
	if n.Kind != yaml.MappingNode {
		for _, child := range n.Content {
			wordsIn(child, f, false)
		}
		return
	}
	if !named {
		f(n)
	}
	for _, p := range pairs(n) {
		if named || !slices.Contains([]string{"examples", "example", "default", "enum", "mapping"}, p.name) {
			wordsIn(p.value, f, !named && p.name == "properties")
		}
	}
}

// inline puts each schema that is used once in the place where it is used. A choice, what
// is one of any, what is a whole body but a page of a list, and what stands beside events
// keep their names: programs say them.
func inline(doc, schemas *yaml.Node) {
	uses, whole := map[string]int{}, map[string]bool{}
	count(doc, uses, whole)
	once := map[string]*yaml.Node{}
	for _, s := range pairs(schemas) {
		named := whole[s.name] && !strings.HasSuffix(s.name, "List") || member(s.value, "oneOf") != nil ||
			slices.Contains(eventData, s.name)
		if uses[s.name] == 1 && !named {
			once[s.name] = s.value
		}
	}
	for name := range once {
		take(schemas, name)
	}
	place(doc, once)
	for _, s := range once {
		place(s, once)
	}
	for _, sort := range []string{"parameters", "headers"} {
		for _, component := range pairs(member(member(doc, "components"), sort)) {
			if to := "#/components/" + sort + "/" + component.name; uses[to] == 1 {
				place(doc, map[string]*yaml.Node{to: component.value})
				take(member(member(doc, "components"), sort), component.name)
			}
		}
	}
}

// unused takes away what nothing refers to any more.
func unused(doc, components *yaml.Node) {
	for _, sort := range []string{"schemas", "responses", "headers"} {
		uses := map[string]int{}
		count(doc, uses, map[string]bool{})
		for _, c := range pairs(member(components, sort)) {
			if uses[c.name]+uses["#/components/"+sort+"/"+c.name] == 0 {
				take(member(components, sort), c.name)
			}
		}
	}
}

// eventData are the schemas that events name in dataschema.
var eventData = []string{"Change", "ReportReady"}

// count counts the uses of schemas, and finds those that are whole bodies.
func count(n *yaml.Node, uses map[string]int, whole map[string]bool) {
	for _, p := range pairs(n) {
		name := strings.TrimPrefix(p.value.Value, schemaPath)
		switch p.name {
		case "$ref":
			uses[name]++
		case "anyOf":
			for _, of := range items(p.value) {
				whole[strings.TrimPrefix(text(of, "$ref"), schemaPath)] = true
			}
		case "schema":
			if member(n, "in") == nil { // of a body, not of a parameter
				whole[strings.TrimPrefix(text(p.value, "$ref"), schemaPath)] = true
			}
		case "mapping":
			for _, to := range pairs(p.value) {
				uses[strings.TrimPrefix(to.value.Value, schemaPath)] += 2
			}
		}
	}
	for _, child := range n.Content {
		count(child, uses, whole)
	}
}

// place replaces references to schemas with these; what stands beside a reference goes
// before what the schema says.
func place(n *yaml.Node, once map[string]*yaml.Node) {
	if schema := once[strings.TrimPrefix(text(n, "$ref"), schemaPath)]; schema != nil && n.Kind == yaml.MappingNode {
		take(n, "$ref")
		for _, p := range pairs(schema) {
			if member(n, p.name) == nil {
				set(n, p.name, p.value)
			}
		}
	}
	for _, child := range n.Content {
		place(child, once)
	}
}
