package main

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"

	"github.com/getkin/kin-openapi/openapi3"
)

// gen makes the values of one request. All its choices come from rng, which is seeded
// by the request's number, and from the round's pool.
type gen struct {
	rng  *rand.Rand
	pool *pool
	doc  *openapi3.T
	at   string // the URL of webhooks: on this machine, without a listener
}

func (g *gen) below(n int) int           { return g.rng.IntN(n) }
func (g *gen) pick(from []string) string { return from[g.below(len(from))] }
func (g *gen) oneIn(n int) bool          { return g.rng.IntN(n) == 0 }
func (g *gen) uuid() string              { return uuidOf(g.rng) }
func (g *gen) code(prefix string) string { return fmt.Sprintf("%s-%06d", prefix, g.below(1e6)) }
func (g *gen) between(low, high int) int { return low + g.below(high-low+1) }
func pickOf[T any](g *gen, from []T) T   { return from[g.below(len(from))] }
func (g *gen) id(kind string) string     { return g.pool.any(g.rng, kind) }
func (g *gen) idOr(kind string) string   { return cmpOr(g.id(kind), g.uuid()) }
func (g *gen) ref(kind string) object    { return object{{"id", g.idOr(kind)}} }
func (g *gen) digits(n int) string       { return fmt.Sprintf("%0*d", n, g.below(pow10(n))) }

func uuidOf(rng *rand.Rand) string {
	high, low := rng.Uint64(), rng.Uint64()
	return fmt.Sprintf("%08x-%04x-7%03x-a%03x-%012x", uint32(high>>32), uint16(high>>16), high&0xfff, low>>52,
		low&0xffffffffffff)
}

func pow10(n int) int {
	p := 1
	for range n {
		p *= 10
	}
	return p
}

func cmpOr(a, b string) string {
	if a != "" {
		return a
	}
	return b
}

var (
	plainTexts = []string{"Flaking, dry", "B-0311", "skull/left-orbit", "white glue", "LV.1987/0042", "whole", "bone",
		"a", "palaeontology", "Ilse Varga"}
	materials = []string{"acetone", "ethanol", "toluene", "water", "ethyl-methacrylate-methyl-acrylate-copolymer",
		"pvb-high-hydroxyl", "cellulose-nitrate", "epoxy-bisphenol-a-amine", "plaster-of-paris", "shellac",
		"poly-vinyl-acetate-dispersion", "polyethylene-glycol", "cyclododecane"}
	units = []string{"g", "kg", "mg", "mL", "L", "[oz_av]", "[lb_av]", "[foz_us]", "g/dL", "g/L", "%", "Cel", "h",
		"min", "d", "K", "mL/g", "cm2", "m3", "mm", "[degF]", "1"}
	dates = []string{"1985", "2009-03-10", "2003/2004", "197X", "19XX", "2024-02-29", "2022-21", "1993~", "2001-04?",
		"2011-09-14/2011-09-18", "/1990", "1990/..", "1998-12%", "0001", "9999-12-31", "2024-03-12T10:00:00Z",
		"Y170000002", "-0044"}
	days     = []string{"2024-01-01", "1900-01-01", "2030-12-31", "0001-01-01", "9999-12-31", "2024-02-29", "1987-06-15"}
	instants = []string{"2026-03-02T09:15:00Z", "2020-01-01T00:00:00+02:00", "9999-12-31T23:59:59Z",
		"0001-01-01T00:00:00Z", "2035-06-01T12:00:00.123456789Z", "1970-01-01T00:00:00-12:00"}
	areas = []string{"whole", "skull", "skull/left-orbit", "skull/left-orbit/rim", "mandible", "shell", "base",
		"label", "a/b/c/d/e/f/g"}
)

// value is a value that a schema accepts, as far as the schema is complete.
func (g *gen) value(ref *openapi3.SchemaRef, name string, depth int) any {
	s := ref.Value
	if len(s.Enum) > 0 {
		return valueOf(s.Enum[g.below(len(s.Enum))])
	}
	switch {
	case s.Type.Is("object"):
		return g.object(s, depth)
	case s.Type.Is("array"):
		return g.list(s, name, depth)
	case s.Type.Is("boolean"):
		return g.oneIn(2)
	case s.Type.Is("integer"):
		return g.integer(s)
	case s.Type.Is("number"):
		return g.number(s)
	case s.Type.Is("string"):
		return g.string(ref, name)
	}
	return object{}
}

func (g *gen) object(s *openapi3.Schema, depth int) object {
	names := make([]string, 0, len(s.Properties))
	for name := range s.Properties {
		names = append(names, name)
	}
	slices.Sort(names)
	g.rng.Shuffle(len(names), func(i, j int) { names[i], names[j] = names[j], names[i] })
	least, most := int(s.MinProps), len(names)
	if s.MaxProps != nil {
		most = min(most, int(*s.MaxProps))
	}
	o := object{}
	add := func(name string) { o = append(o, member{name, g.value(s.Properties[name], name, depth+1)}) }
	for _, name := range s.Required {
		if s.Properties[name] != nil {
			add(name)
		}
	}
	for _, name := range names {
		if slices.Contains(s.Required, name) || len(o) >= most {
			continue
		}
		if len(o) < least || g.oneIn(3+depth) && depth < 7 {
			add(name)
		}
	}
	return o
}

func (g *gen) list(s *openapi3.Schema, name string, depth int) list {
	n := int(s.MinItems) + g.below(3)
	if s.MaxItems != nil {
		n = min(n, int(*s.MaxItems))
	}
	if depth > 7 {
		n = int(s.MinItems)
	}
	l := list{}
	for range n {
		l = append(l, g.value(s.Items, strings.TrimSuffix(name, "s"), depth+1))
	}
	return l
}

func (g *gen) bounds(s *openapi3.Schema, low, high float64) (float64, float64) {
	if s.Min != nil {
		low = *s.Min
	}
	if s.Max != nil {
		high = *s.Max
	}
	return low, max(high, low)
}

func (g *gen) integer(s *openapi3.Schema) number {
	low, high := g.bounds(s, 0, 1000)
	switch g.below(8) {
	case 0:
		return number(strconv.FormatInt(int64(low), 10))
	case 1:
		return number(strconv.FormatInt(int64(min(high, 9e15)), 10))
	}
	return number(strconv.FormatInt(int64(low)+int64(g.below(int(min(high-low, 40))+1)), 10))
}

// ordinary and extreme numbers, all of which are decimals that JSON can write.
var (
	ordinary = []string{"1", "2", "5", "10", "20", "20.00", "0.5", "0.1", "150", "30.1", "99.9", "100", "1000"}
	extreme  = []string{"0", "-1", "1e-6", "1e-28", "1e-300", "1e300", "1.7976931348623157e308", "-0", "0.0", "5e-324",
		"1e15", "9007199254740993", "0.000000000000000000000000000001", "123456789.123456789123456789", "1e3", "-1e300",
		"99.99999999999999", "100.00000000000001"}
)

func (g *gen) number(s *openapi3.Schema) number {
	low, high := g.bounds(s, 0, 1e9)
	switch g.below(12) {
	case 0:
		return number(g.pick(extreme))
	case 1:
		return number(strconv.FormatFloat(low, 'g', -1, 64))
	case 2:
		return number(strconv.FormatFloat(high, 'g', -1, 64))
	}
	return number(g.pick(ordinary))
}

// string is a text for a schema, chosen mostly by the schema's name.
func (g *gen) string(ref *openapi3.SchemaRef, name string) string {
	switch ref.Ref[strings.LastIndex(ref.Ref, "/")+1:] {
	case "Id":
		return g.idFor(name)
	case "Edtf":
		return g.date()
	case "Day":
		return g.pick(days)
	case "Instant":
		return g.pick(instants)
	case "MaterialId":
		return g.material()
	case "Unit":
		return g.pick(units)
	case "AreaPath":
		return g.pick(areas)
	case "WebhookUrl":
		return g.at
	}
	s := ref.Value
	switch s.Format {
	case "uuid":
		return g.idFor(name)
	case "date":
		return g.pick(days)
	case "date-time":
		return g.pick(instants)
	}
	if s.Pattern != "" && !strings.HasPrefix(s.Pattern, "^[^") {
		return fitted(g.matching(s.Pattern), s)
	}
	return fitted(g.pick(plainTexts), s)
}

func fitted(text string, s *openapi3.Schema) string {
	for uint64(len(text)) < s.MinLength && text != "" {
		text += text
	}
	if s.MaxLength != nil && uint64(len(text)) > *s.MaxLength {
		return text[:*s.MaxLength]
	}
	return text
}

func (g *gen) date() string {
	if g.oneIn(3) {
		return g.pick(dates)
	}
	return fmt.Sprintf("%d-%02d-%02d", g.between(1950, 2026), g.between(1, 12), g.between(1, 28))
}

// material is one of the built-in ones, seldom one of the institution's own.
func (g *gen) material() string {
	if id := g.id("material"); id != "" && g.oneIn(3) {
		return id
	}
	return g.pick(materials)
}

// idFor is an id for the member of this name: of the kind that the name refers to, if
// it does.
func (g *gen) idFor(name string) string {
	if g.oneIn(25) {
		return cmpOr(g.id("foreign"), g.uuid())
	}
	if id := g.id(kindNamed(name)); id != "" {
		return id
	}
	return cmpOr(g.pool.anyRecord(g.rng), g.uuid())
}

// kindNamed is the kind of record that a member's name refers to.
func kindNamed(name string) string {
	name = strings.ToLower(name)
	for _, k := range []struct{ word, kind string }{{"batch", "batch"}, {"supply", "supply"}, {"supplies", "supply"},
		{"specimen", "specimen"},
		{"into", "specimen"}, {"treatment", "treatment"}, {"layer", "treatment"}, {"plan", "plan"},
		{"person", "person"}, {"by", "person"}, {"material", "material"}, {"webhook", "webhook"}} {
		if strings.Contains(name, k.word) {
			return k.kind
		}
	}
	return ""
}
