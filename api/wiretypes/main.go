// Command wiretypes makes the contract's Go types, with each type's members in the
// order in which the contract lists them: people read answers too, and a number should
// come before its unit.
//
// It is run by `go generate ./api`.
package main

import (
	"fmt"
	"log"
	"os"
	"os/exec"
	"strconv"

	"go.yaml.in/yaml/v3"
)

func main() {
	log.SetFlags(0)
	if err := run("openapi.yaml", "wire.yaml"); err != nil {
		log.Fatal("wiretypes: ", err)
	}
}

// run orders the contract's members in a copy and generates from that.
func run(contract, config string) error {
	text, err := os.ReadFile(contract)
	if err != nil {
		return fmt.Errorf("reading the contract: %w", err)
	}
	var doc yaml.Node
	if err := yaml.Unmarshal(text, &doc); err != nil {
		return fmt.Errorf("parsing the contract: %w", err)
	}
	order(&doc)
	keepDigits(&doc)
	ordered, err := yaml.Marshal(&doc)
	if err != nil {
		return fmt.Errorf("writing the ordered contract: %w", err)
	}
	file, err := os.CreateTemp("", "contract-*.yaml")
	if err != nil {
		return fmt.Errorf("making a file for the ordered contract: %w", err)
	}
	defer os.Remove(file.Name())
	if _, err := file.Write(ordered); err != nil {
		return fmt.Errorf("writing the ordered contract: %w", err)
	}
	if err := file.Close(); err != nil {
		return fmt.Errorf("writing the ordered contract: %w", err)
	}
	generate := exec.Command("go", "tool", "oapi-codegen", "-config", config, file.Name())
	generate.Stdout, generate.Stderr = os.Stdout, os.Stderr
	return generate.Run()
}

// order gives every property its place, as the generator understands it.
func order(n *yaml.Node) {
	for i := 0; n.Kind == yaml.MappingNode && i+1 < len(n.Content); i += 2 {
		if n.Content[i].Value == "properties" && n.Content[i+1].Kind == yaml.MappingNode {
			number(n.Content[i+1])
		}
	}
	for _, child := range n.Content {
		order(child)
	}
}

// keepDigits gives the schema of decimals the service's own type, which keeps the
// digits.
func keepDigits(doc *yaml.Node) {
	decimal := member(member(member(doc.Content[0], "components"), "schemas"), "Decimal")
	decimal.Content = append(decimal.Content, text("x-go-type"), text("quantity.Decimal"),
		text("x-go-type-import"), &yaml.Node{
			Kind: yaml.MappingNode, Content: []*yaml.Node{text("path"), text("meniscus/internal/quantity")},
		})
}

func text(s string) *yaml.Node {
	return &yaml.Node{Kind: yaml.ScalarNode, Tag: "!!str", Value: s}
}

// member is a mapping's value by its name.
func member(mapping *yaml.Node, name string) *yaml.Node {
	for i := 0; i+1 < len(mapping.Content); i += 2 {
		if mapping.Content[i].Value == name {
			return mapping.Content[i+1]
		}
	}
	log.Fatalf("wiretypes: the contract has no %s", name)
	return nil
}

func number(properties *yaml.Node) {
	for i := 1; i < len(properties.Content); i += 2 {
		schema := properties.Content[i]
		if schema.Kind != yaml.MappingNode {
			continue
		}
		schema.Content = append(schema.Content,
			&yaml.Node{Kind: yaml.ScalarNode, Value: "x-order"},
			&yaml.Node{Kind: yaml.ScalarNode, Tag: "!!int", Value: strconv.Itoa((i + 1) / 2)})
	}
}
