// Command assemble makes the contract from its sources in the folder contract:
// shared.yaml, one file for each noun with its paths and schemas, problems.yaml with the
// codes of problems (x-problem-codes), and the examples.
// openapi.yaml is what bodies are validated by and Go types are generated from;
// reference.json is what people read at /docs (see makeReference), and openapi.json the
// same for programs, in few bytes (see compact).
//
// This program adds what every operation repeats and the sources leave out:
//
//   - json: Name, in a request body or a response, is its schema as
//     application/json, with the examples in examples/OPERATION/request.NAME.yaml
//     or examples/OPERATION/STATUS.NAME.yaml;
//   - patch: Name, in a request body, is its schema as application/merge-patch+json,
//     with the examples in examples/OPERATION/patch.NAME.yaml;
//   - headers: [Name, …] are references, and every success has those that limit
//     rates and tell origins as well;
//   - problems: [404, …] are the statuses of its problems; those that every operation of
//     its sort can give are added (see given), and all of them stand in x-problems, while
//     the response of all is default;
//   - parameters: [Name, …] may hold the names of shared parameters;
//   - page: Name, as a schema, is a page of a list;
//   - answers: true says that an operation answers a question: its answer is had in
//     brief, in full, in part and as text (see answers);
//   - full: true, of a member, says that it comes only with detail=full.
//
// judged.yaml is openapi.yaml without what judges no request: examples, and texts that no
// answer repeats. The service reads it when it starts.
//
// Run with -released it prints openapi.yaml without the examples, which do not matter
// for compatibility: `go run ./assemble -released > released.yaml` in this folder, when
// the contract is released.
package main

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"log"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"
)

func main() {
	log.SetFlags(0)
	released := flag.Bool("released", false, "print what compatibility is judged by")
	flag.Parse()
	doc, err := assemble("contract")
	if err != nil {
		log.Fatalf("assembling the contract: %v", err)
	}
	callers := copied(doc)
	unserved(doc)
	if *released {
		strip(doc)
		fmt.Print(write(doc))
		return
	}
	if err := os.WriteFile("openapi.yaml", []byte(header+write(doc)), 0o644); err != nil {
		log.Fatal(err)
	}
	strip(doc)
	silence(doc)
	if err := os.WriteFile("judged.yaml", []byte(header+write(doc)), 0o644); err != nil {
		log.Fatal(err)
	}
	makeReference(callers)
	save("reference.json", callers)
	compact(callers)
	save("openapi.json", callers)
}

// save writes a contract as JSON.
func save(file string, doc *yaml.Node) {
	var b bytes.Buffer
	err := writeJSON(&b, doc, 0)
	if err == nil {
		err = os.WriteFile(file, b.Bytes(), 0o644)
	}
	if err != nil {
		log.Fatalf("writing %s: %v", file, err)
	}
}

const header = "# Assembled from the folder contract by go generate: change it there.\n"

func write(doc *yaml.Node) string {
	var b bytes.Buffer
	e := yaml.NewEncoder(&b)
	e.SetIndent(2)
	if err := errors.Join(e.Encode(doc), e.Close()); err != nil {
		log.Fatal(err)
	}
	return b.String()
}

// assemble reads every source below a folder.
func assemble(folder string) (*yaml.Node, error) {
	doc, err := read(filepath.Join(folder, "shared.yaml"))
	if err != nil {
		return nil, err
	}
	files, err := filepath.Glob(filepath.Join(folder, "*.yaml"))
	if err != nil {
		return nil, err
	}
	paths, schemas := member(doc, "paths"), member(member(doc, "components"), "schemas")
	paths.Style = 0 // block, although it is empty in its source
	for _, file := range files {
		if filepath.Base(file) == "shared.yaml" {
			continue
		}
		noun, err := read(file)
		if err != nil {
			return nil, err
		}
		if err := errors.Join(add(paths, member(noun, "paths")), add(schemas, member(noun, "schemas"))); err != nil {
			return nil, fmt.Errorf("%s: %w", file, err)
		}
		if codes := member(noun, "problems"); codes != nil {
			set(doc, "x-problem-codes", codes)
		}
	}
	for _, s := range pairs(schemas) {
		page(s.value)
		if err := details(s.value); err != nil {
			return nil, fmt.Errorf("%s: %w", s.name, err)
		}
	}
	a := assembler{examples: filepath.Join(folder, "examples"), used: map[string]bool{}}
	for _, item := range pairs(paths) {
		for _, op := range pairs(item.value) {
			if err := a.operation(op.name, op.value); err != nil {
				return nil, fmt.Errorf("%s %s: %w", op.name, item.name, err)
			}
		}
	}
	return doc, a.unused()
}

func read(file string) (*yaml.Node, error) {
	text, err := os.ReadFile(file)
	if err != nil {
		return nil, err
	}
	var doc yaml.Node
	if err := yaml.Unmarshal(text, &doc); err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	return doc.Content[0], nil
}

type assembler struct {
	examples string          // the folder
	used     map[string]bool // the files that were used
}

// operation adds what the operation's sources leave out.
func (a assembler) operation(method string, op *yaml.Node) error {
	if method == "parameters" {
		shared(op, "parameters")
		return nil
	}
	id := text(op, "operationId")
	if err := a.answers(op); err != nil {
		return err
	}
	parameters := member(op, "parameters")
	may := given{limited: take(op, "limited") == nil, body: member(op, "requestBody") != nil,
		key:    member(op, "security") == nil || len(member(op, "security").Content) > 0,
		stale:  names(parameters, "IfMatch"),
		known:  names(parameters, "IfMatchWhereKnown"),
		cached: names(parameters, "IfNoneMatch")}
	shared(parameters, "parameters")
	asked := member(op, "requestBody")
	if err := errors.Join(a.json(asked, id, "patch"), a.json(asked, id, "request")); err != nil {
		return err
	}
	responses := member(op, "responses")
	for _, r := range pairs(responses) {
		if err := a.json(r.value, id, r.name); err != nil {
			return err
		}
		headers(r.value, may.limited)
	}
	if may.cached {
		set(responses, "304", reference("responses", "NotModified"))
	}
	set(responses, "default", reference("responses", "Problem"))
	set(op, "x-problems", may.problems(take(op, "problems")))
	quoteStatuses(responses)
	return nil
}

// given are the properties of an operation from which some problems follow.
type given struct{ limited, body, key, stale, known, cached bool }

// problems are the statuses of the operation's own problems and of those that every
// operation of its sort can give, in order.
func (g given) problems(own *yaml.Node) *yaml.Node {
	all := []string{"400", "406", "500", "503"}
	for _, n := range items(own) {
		all = append(all, n.Value)
	}
	for _, rule := range []struct {
		holds    bool
		statuses []string
	}{
		{g.limited, []string{"429"}}, {g.key, []string{"401", "403"}}, {g.body, []string{"413", "415", "422"}},
		{g.stale, []string{"412", "428"}}, {g.known, []string{"412"}},
	} {
		if rule.holds {
			all = append(all, rule.statuses...)
		}
	}
	slices.Sort(all)
	list := &yaml.Node{Kind: yaml.SequenceNode, Style: yaml.FlowStyle}
	for _, status := range slices.Compact(all) {
		list.Content = append(list.Content, literal(status))
	}
	return list
}

// json adds the schema and the examples of a body of JSON, or of a merge patch.
func (a assembler) json(of *yaml.Node, operation, part string) error {
	mediaType, under := "application/json", "json"
	if part == "patch" {
		mediaType, under = "application/merge-patch+json", "patch"
	}
	name := take(of, under)
	if name == nil {
		return nil
	}
	body := mapping("schema", reference("schemas", name.Value))
	files, err := filepath.Glob(filepath.Join(a.examples, operation, part+".*.yaml"))
	if err != nil {
		return err
	}
	examples := mapping()
	for _, file := range files {
		example, err := read(file)
		if err != nil {
			return err
		}
		a.used[file] = true
		parts := strings.Split(filepath.Base(file), ".")
		set(examples, parts[1], example)
	}
	if len(files) > 0 {
		set(body, "examples", examples)
	}
	content := member(of, "content")
	if content == nil {
		content = mapping()
		set(of, "content", content)
	}
	content.Content = append([]*yaml.Node{scalar(mediaType), body}, content.Content...)
	return nil
}

// unused is an error that names an example that no operation uses.
func (a assembler) unused() error {
	files, err := filepath.Glob(filepath.Join(a.examples, "*", "*"))
	for _, file := range files {
		if !a.used[file] {
			err = errors.Join(err, fmt.Errorf("%s: no operation has this request or answer", file))
		}
	}
	return err
}

// headers are those that a success names, and those of every success.
func headers(response *yaml.Node, limited bool) {
	named := []string{"Access-Control-Allow-Origin"}
	if limited {
		named = append(named, "RateLimit", "Record-Position")
	}
	for _, n := range items(take(response, "headers")) {
		named = append(named, n.Value)
	}
	out := mapping()
	for _, name := range named {
		set(out, name, reference("headers", name))
	}
	set(response, "headers", out)
}

// shared replaces the names of shared components with references.
func shared(list *yaml.Node, sort string) {
	for i, n := range items(list) {
		if n.Kind == yaml.ScalarNode {
			list.Content[i] = reference(sort, n.Value)
		}
	}
}

func names(list *yaml.Node, name string) bool {
	return slices.ContainsFunc(items(list), func(n *yaml.Node) bool { return n.Value == name })
}

// page makes a page of a list of `page: Name`.
func page(schema *yaml.Node) {
	item := take(schema, "page")
	if item == nil {
		return
	}
	most := take(schema, "most")
	if most == nil {
		most = literal("500")
	}
	list := mapping("type", scalar("array"), "maxItems", most, "items", reference("schemas", item.Value))
	rest := schema.Content
	schema.Content = mapping("type", scalar("object"), "additionalProperties", literal("false"), "required", sequence("items"),
		"properties", mapping("items", list, "next", reference("schemas", "Next"))).Content
	schema.Content = append(schema.Content, rest...)
}
