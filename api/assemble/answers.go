package main

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"
)

// answers adds what every answer has (`answers: true` of an operation): the parameters
// that select more or less of it, and its form as text, with the examples in
// examples/OPERATION/200.NAME.txt; and, with `answers: card`, its form as a card, a page, and
// with `answers: recipe` a PDF too.
func (a assembler) answers(op *yaml.Node) error {
	asked := text(op, "answers")
	if take(op, "answers") == nil {
		return nil
	}
	parameters := member(op, "parameters")
	if parameters == nil {
		parameters = sequence()
		parameters.Style = 0
		set(op, "parameters", parameters)
	}
	for _, name := range []string{"Detail", "Fields"} {
		if !names(parameters, name) {
			parameters.Content = append(parameters.Content, scalar(name))
		}
	}
	success := member(member(op, "responses"), "200")
	content := member(success, "content")
	if content == nil {
		content = mapping()
		set(success, "content", content)
	}
	said, err := a.text(text(op, "operationId"))
	if err != nil {
		return err
	}
	if asked == "card" || asked == "recipe" {
		set(content, "text/html", mapping("schema", reference("schemas", "Page")))
	}
	if asked == "recipe" {
		set(content, "application/pdf", mapping("schema", reference("schemas", "PrintedLabel")))
	}
	set(content, "text/plain", said)
	return nil
}

// text is an answer as text, with its examples.
func (a assembler) text(operation string) (*yaml.Node, error) {
	files, err := filepath.Glob(filepath.Join(a.examples, operation, "200.*.txt"))
	if err != nil {
		return nil, err
	}
	if len(files) == 0 {
		return nil, fmt.Errorf("an answer has an example of its text: examples/%s/200.NAME.txt", operation)
	}
	examples := mapping()
	for _, file := range files {
		said, err := os.ReadFile(file)
		if err != nil {
			return nil, err
		}
		a.used[file] = true
		value := scalar(string(said))
		value.Style = yaml.LiteralStyle
		set(examples, strings.Split(filepath.Base(file), ".")[1], mapping("value", value))
	}
	return mapping("schema", reference("schemas", "PlainAnswer"), "examples", examples), nil
}

// inFull says of a member that it comes with detail=full.
const inFull = "With `detail=full`."

// details adds to each member that is marked with `full: true` that it comes with
// `detail=full`: in the description for people, and as x-detail for programs.
func details(n *yaml.Node) error {
	required := items(member(n, "required"))
	for _, p := range pairs(member(n, "properties")) {
		if take(p.value, "full") == nil {
			continue
		}
		if slices.ContainsFunc(required, func(r *yaml.Node) bool { return r.Value == p.name }) {
			return fmt.Errorf("%s is required, and comes only with detail=full", p.name)
		}
		said := inFull
		if own := take(p.value, "description"); own != nil {
			said = strings.TrimSpace(own.Value) + " " + inFull
		}
		set(p.value, "description", scalar(said))
		set(p.value, "x-detail", scalar("full"))
	}
	for _, p := range pairs(member(n, "properties")) {
		if err := details(p.value); err != nil {
			return fmt.Errorf("%s: %w", p.name, err)
		}
	}
	if of := member(n, "items"); of != nil {
		return details(of)
	}
	return nil
}
