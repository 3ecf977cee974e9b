package publish

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/edtf"
	"meniscus/internal/quantity"
	"meniscus/internal/record"
)

// Field is one thing that a statement says, as a person reads it: a value, or
// fields within it.
type Field struct {
	Label  string
	Value  string
	Href   string // where the value has an address
	Within []Field
}

// Known gives the links of the ids that a statement names.
type Known struct {
	Records   map[uuid.UUID]Link
	Materials func(id string) (Link, bool)
}

// firstNames are the members that are read first, in this order; the others
// follow as the statement has them.
var firstNames = []string{
	"specimen", "joinedTo", "identifiers", "collection", "description", "classification", "owner", "bodyKind", "condition",
	"path", "kind", "value", "hazard", "status", "person", "part", "verbatim", "action", "purpose", "areas",
	"possiblyReached",
	"dates", "started", "ended", "people", "materials", "used", "batch", "supply", "material", "words", "role", "amount",
	"method",
	"methodRemark", "coats", "drying", "conditionBefore", "conditionAfter",
}

// Fields gives everything that a statement says, for people: every member, so
// that a printed record leaves nothing out.
func Fields(said record.Members, known Known) []Field { return known.members(said) }

// Cell gives a member of a statement as a cell of a table.
func Cell(name string, value any, known Known) string {
	return known.field(name, value).InLine()
}

// InLine is a field in one line: nested fields in brackets, items of a list
// separated by semicolons, and members of one object by commas.
func (f Field) InLine() string {
	if len(f.Within) == 0 {
		return f.Value
	}
	parts, between := make([]string, len(f.Within)), ", "
	for i, in := range f.Within {
		if parts[i] = in.InLine(); in.Label == "" {
			between = "; "
			continue
		}
		if in.Value == "" && len(in.Within) > 1 {
			parts[i] = "(" + parts[i] + ")"
		}
		parts[i] = in.Label + ": " + parts[i]
	}
	within := strings.Join(parts, between)
	if f.Value == "" {
		return within
	}
	return f.Value + " (" + within + ")"
}

func (k Known) members(members record.Members) []Field {
	sorted := slices.SortedFunc(slices.Values(members), func(a, b record.Member) int {
		return cmp.Or(rank(a.Name)-rank(b.Name), strings.Compare(a.Name, b.Name))
	})
	fields := make([]Field, 0, len(sorted))
	for _, m := range sorted {
		fields = append(fields, k.field(m.Name, m.Value))
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
	case record.Members:
		f.Value, f.Href, f.Within = k.object(v)
	case []any:
		f.Value, f.Within = k.list(v)
	default:
		f.Value, f.Href = k.scalar(name, v)
	}
	return f
}

// object writes the known shapes as one value; others are written member by member.
func (k Known) object(members record.Members) (value, href string, within []Field) {
	if len(members) == 1 {
		switch inner := members[0].Value.(type) {
		case bool, int, quantity.Decimal: // means nothing without its name
		default:
			f := k.field(members[0].Name, inner)
			return f.Value, f.Href, f.Within
		}
	}
	if unit, ok := members.At("unit").(string); ok && members.At("basis") == nil && members.At("value") != nil {
		return numberText(members.At("value")) + " " + cmp.Or(quantity.Unit(unit).Said(), unit), "",
			k.members(without(members, "value", "unit"))
	}
	if path, ok := members.At("path").(string); ok { // an area, with what is said of it
		return path, "", k.members(without(members, "path"))
	}
	if basis, ok := members.At("basis").(record.Word); ok {
		rest := without(members, "basis", "value", "unit", "parts", "in", "product")
		return strengthOf(members, basis).Said(), "", k.members(rest)
	}
	return "", "", k.members(members)
}

func strengthOf(members record.Members, basis record.Word) Strength {
	s := Strength{Basis: string(basis), Value: numberText(members.At("value")), In: numberText(members.At("in"))}
	s.Unit, _ = members.At("unit").(string)
	s.Product, _ = members.At("product").(string)
	parts, _ := members.At("parts").([]any)
	for _, p := range parts {
		s.Parts = append(s.Parts, numberText(p))
	}
	return s
}

// list writes a list: short texts on one line, anything else item by item.
func (k Known) list(items []any) (value string, within []Field) {
	if len(items) == 0 {
		return "none", nil
	}
	texts := make([]string, 0, len(items))
	for _, item := range items {
		switch item.(type) {
		case string, record.Word, record.Ref:
			if text, href := k.scalar("", item); href == "" {
				texts = append(texts, text)
				continue
			}
		}
		within = append(within, k.field("", item))
	}
	return strings.Join(texts, ", "), within
}

func (k Known) scalar(name string, value any) (text, href string) {
	switch v := value.(type) {
	case bool:
		if v {
			return "yes", ""
		}
		return "no", ""
	case record.Word:
		return spaced(string(v)), ""
	case record.Ref:
		if link, ok := k.Records[v]; ok {
			return link.Label, link.IRI
		}
	case edtf.Date:
		return dateSaid(v), ""
	case time.Time:
		return v.Format(time.RFC3339Nano), ""
	case string:
		return k.text(name, v)
	}
	return fmt.Sprint(value), ""
}

// plainDate is a date that its words say whole.
var plainDate = regexp.MustCompile(`^\d{4}(-\d\d){0,2}$`)

// dateSaid is a date in words, and as it is written where the words may say less.
func dateSaid(d edtf.Date) string {
	words, written := d.Words(), d.String()
	if words == written || plainDate.MatchString(written) {
		return words
	}
	return words + " (" + written + ")"
}

// text writes a text; a material by its name.
func (k Known) text(name, value string) (text, href string) {
	if k.Materials != nil && (name == "id" || name == "" || name == "solvent") {
		if link, ok := k.Materials(value); ok {
			return link.Label, link.IRI
		}
	}
	if name == "url" {
		return value, webIRI(value)
	}
	return value, ""
}

func numberText(value any) string {
	if n, ok := value.(quantity.Decimal); ok {
		return n.String()
	}
	return ""
}

func without(members record.Members, names ...string) record.Members {
	return slices.DeleteFunc(slices.Clone(members), func(m record.Member) bool { return slices.Contains(names, m.Name) })
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
	case "sha256":
		return "SHA-256 digest"
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
