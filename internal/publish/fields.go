package publish

import (
	"bytes"
	"encoding/json"
	"slices"
	"strings"

	"github.com/google/uuid"

	"meniscus/internal/edtf"
)

// Field is one thing that a statement says, as a person reads it: a value, or
// fields within it.
type Field struct {
	Label  string
	Value  string
	Href   string // where the value has an address
	Within []Field
}

// Known gives the ids that a statement names their links.
type Known struct {
	Records   map[uuid.UUID]Link
	Materials func(id string) (Link, bool)
}

// firstNames are the members that are read first, in this order; the others
// follow as the statement has them.
var firstNames = []string{
	"specimen", "joinedTo", "identifiers", "collection", "description", "classification", "owner", "bodyKind", "condition",
	"path", "kind", "value", "hazard", "status", "person", "part", "verbatim", "action", "purpose", "areas", "possiblyReached", "dates", "started", "ended", "people", "materials", "used", "batch",
	"supply", "material", "words", "role", "amount", "method", "methodRemark", "coats", "drying", "conditionBefore", "conditionAfter",
}

// Fields reads a whole statement for people: every member that it has, so that
// a printed record leaves nothing out. It gives nothing for what is no object.
func Fields(statement []byte, known Known) []Field {
	decoder := json.NewDecoder(bytes.NewReader(statement))
	decoder.UseNumber() // digits stay as they were written
	var members map[string]any
	if decoder.Decode(&members) != nil {
		return nil
	}
	return known.members(members)
}

func (k Known) members(members map[string]any) []Field {
	names := make([]string, 0, len(members))
	for name := range members {
		names = append(names, name)
	}
	slices.SortFunc(names, func(a, b string) int {
		if d := rank(a) - rank(b); d != 0 {
			return d
		}
		return strings.Compare(a, b)
	})
	fields := make([]Field, 0, len(names))
	for _, name := range names {
		fields = append(fields, k.field(name, members[name]))
	}
	return fields
}

func rank(name string) int {
	if i := slices.Index(firstNames, name); i >= 0 {
		return i
	}
	return len(firstNames)
}

func (k Known) field(name string, value any) Field {
	f := Field{Label: humanName(name)}
	switch v := value.(type) {
	case map[string]any:
		f.Value, f.Href, f.Within = k.object(v)
	case []any:
		f.Value, f.Within = k.list(v)
	default:
		f.Value, f.Href = k.scalar(name, v)
	}
	return f
}

// object reads the shapes that have one meaning; others are read member by
// member.
func (k Known) object(members map[string]any) (value, href string, within []Field) {
	if text, ok := answerable(members); ok {
		return text, "", nil
	}
	if len(members) == 1 {
		for name, v := range members {
			switch inner := v.(type) {
			case string:
				value, href = k.scalar(name, inner)
				return value, href, nil
			case []any:
				value, within = k.list(inner)
				return value, "", within
			case map[string]any:
				value, href, within = k.object(inner)
				return value, href, within
			}
		}
	}
	if unit, ok := members["unit"].(string); ok && members["basis"] == nil && members["value"] != nil {
		rest := without(members, "value", "unit")
		return numberText(members["value"]) + " " + unit, "", k.members(rest)
	}
	if basis, ok := members["basis"].(string); ok {
		return strengthOf(members, basis).Said(), "", k.members(without(members, "basis", "value", "unit", "parts", "in", "product"))
	}
	return "", "", k.members(members)
}

// answerable reads a date or one of the answers.
func answerable(members map[string]any) (string, bool) {
	if len(members) != 1 {
		return "", false
	}
	if answer, ok := members["answer"].(string); ok {
		return spaced(answer), true
	}
	if text, ok := members["edtf"].(string); ok {
		date, err := edtf.Parse(text)
		if err != nil {
			return text, true
		}
		return date.Words() + " (" + text + ")", true
	}
	return "", false
}

func strengthOf(members map[string]any, basis string) Strength {
	s := Strength{Basis: basis, Value: numberText(members["value"]), In: numberText(members["in"])}
	s.Unit, _ = members["unit"].(string)
	s.Product, _ = members["product"].(string)
	parts, _ := members["parts"].([]any)
	for _, p := range parts {
		s.Parts = append(s.Parts, numberText(p))
	}
	return s
}

// list reads a list: short texts on one line, anything else item by item.
func (k Known) list(items []any) (value string, within []Field) {
	if len(items) == 0 {
		return "none", nil
	}
	texts := make([]string, 0, len(items))
	for _, item := range items {
		if text, ok := item.(string); ok {
			shown, href := k.scalar("", text)
			if href == "" {
				texts = append(texts, shown)
				continue
			}
		}
		within = append(within, k.field("", item))
	}
	return strings.Join(texts, ", "), within
}

// lists whose words read better with spaces.
var wordNames = []string{"action", "method", "role", "part", "kind", "stage", "state", "left", "observed", "outcome", "relation",
	"certainty", "class", "bodyKind", "condition", "hazard", "status", "during", "tint", "result", "distribution"}

func (k Known) scalar(name string, value any) (text, href string) {
	switch v := value.(type) {
	case nil:
		return "", ""
	case bool:
		if v {
			return "yes", ""
		}
		return "no", ""
	case json.Number:
		return v.String(), ""
	case string:
		return k.text(name, v)
	}
	return "", ""
}

func (k Known) text(name, value string) (text, href string) {
	if id, err := uuid.Parse(value); err == nil && len(value) == 36 {
		if link, ok := k.Records[id]; ok {
			return link.Label, link.IRI
		}
	}
	if k.Materials != nil {
		if link, ok := k.Materials(value); ok && (name == "id" || name == "" || name == "solvent") {
			return link.Label, link.IRI
		}
	}
	if name == "url" {
		return value, webIRI(value)
	}
	if slices.Contains(wordNames, name) {
		return spaced(value), ""
	}
	return value, ""
}

func numberText(value any) string {
	if n, ok := value.(json.Number); ok {
		return n.String()
	}
	return ""
}

func without(members map[string]any, names ...string) map[string]any {
	rest := map[string]any{}
	for name, v := range members {
		if !slices.Contains(names, name) {
			rest[name] = v
		}
	}
	return rest
}

// humanName is a member's name as a person reads it: "conditionBefore" is
// "Condition before".
func humanName(name string) string {
	switch name {
	case "bodyKind":
		return "Made of"
	case "id":
		return "What"
	case "url":
		return "Address"
	}
	var b strings.Builder
	for _, r := range name {
		if r >= 'A' && r <= 'Z' {
			b.WriteByte(' ')
			r += 'a' - 'A'
		}
		b.WriteRune(r)
	}
	return capital(b.String())
}
