package main

import (
	"fmt"
	"regexp"
	"strings"
)

// The classes of bodies: valid by the contract, nearly valid, and hostile.
type class string

const (
	wellFormed class = "well formed"
	nearly     class = "nearly"
	hostile    class = "hostile"
)

func (g *gen) class() class {
	switch n := g.below(10); {
	case n < 5:
		return wellFormed
	case n < 8:
		return nearly
	}
	return hostile
}

// body is the text of a request's body.
func (g *gen) body(op *operation, c class) string {
	v := g.wellFormed(op)
	switch c {
	case nearly:
		for range g.between(1, 3) {
			v = g.spoilt(v)
		}
	case hostile:
		return g.hostileText(g.ruined(v))
	}
	return text(v)
}

// wellFormed is an example of the contract, or a value made by its schema. Ids in
// examples are replaced by ids that this round knows.
func (g *gen) wellFormed(op *operation) any {
	if op.body == nil {
		return object{}
	}
	var v any
	if len(op.examples) > 0 && !g.oneIn(3) {
		v = g.settled(op.examples[g.below(len(op.examples))], "")
	} else {
		v = g.value(op.body, "", 0)
	}
	if o, ok := v.(object); ok {
		v = g.fresh(op, o)
	}
	return v
}

// fresh gives a new record unused codes and identities, so that it is recorded more
// often than refused.
func (g *gen) fresh(op *operation, o object) object {
	if op.id == "amendRecord" {
		return o
	}
	if source, ok := o.at("source").(object); ok {
		o = o.with("source", source.with("recordId", g.digits(8)))
	}
	if o.at("id") != nil {
		o = o.with("id", g.uuid())
	}
	if said, ok := o.at("statement").(object); ok {
		if said.at("code") != nil {
			said = said.with("code", g.code("B"))
		}
		if said.at("identifiers") != nil && !g.oneIn(6) {
			said = said.with("identifiers",
				list{object{{"kind", "catalogue-number"}, {"value", "LV." + g.digits(4) + "/" + g.digits(4)}}})
		}
		o = o.with("statement", said)
	}
	if op.id == "redeliver" {
		o = object{{"sequences", object{{"from", number("1")}, {"to", number(fmt.Sprint(g.between(1, 40)))}}}}
	}
	if op.id == "createWebhook" || op.id == "amendWebhook" {
		o = o.with("url", g.at)
	}
	return o
}

var uuidText = regexp.MustCompile(`^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$`)

// settled replaces every id in v by one of the kind that its place needs.
func (g *gen) settled(v any, place string) any {
	switch v := v.(type) {
	case object:
		o := make(object, len(v))
		for i, m := range v {
			inner := m.name
			if m.name == "id" {
				inner = place
			}
			o[i] = member{m.name, g.settled(m.value, inner)}
		}
		return o
	case list:
		l := make(list, len(v))
		for i := range v {
			l[i] = g.settled(v[i], place)
		}
		return l
	case string:
		if uuidText.MatchString(v) {
			return g.idFor(place)
		}
	}
	return v
}

// spoilt changes one value somewhere in v.
func (g *gen) spoilt(v any) any { return g.changed(v, g.oddValue) }

// ruined changes one value into a costly one, or into something that is no JSON.
func (g *gen) ruined(v any) any { return g.changed(v, g.costlyValue) }

// changed walks to some value in v and changes it.
func (g *gen) changed(v any, change func(any) any) any {
	switch v := v.(type) {
	case object:
		if len(v) > 0 && !g.oneIn(6) {
			at := g.below(len(v))
			o := append(object{}, v...)
			o[at].value = g.changed(v[at].value, change)
			return o
		}
		return change(v)
	case list:
		if len(v) > 0 && !g.oneIn(4) {
			at := g.below(len(v))
			l := append(list{}, v...)
			l[at] = g.changed(v[at], change)
			return l
		}
		return change(v)
	}
	return change(v)
}

// odd values: each is JSON, and none is where it belongs.
func (g *gen) oddValue(v any) any {
	switch o := v.(type) {
	case object:
		switch g.below(4) {
		case 0: // a member is missing
			if len(o) > 0 {
				at := g.below(len(o))
				return append(append(object{}, o[:at]...), o[at+1:]...)
			}
		case 1: // one is unknown
			return append(append(object{}, o...),
				member{g.pick([]string{"colour", "", "__proto__", "Id", "$ref", "a/b~c"}), number("1")})
		case 2: // one is said twice
			if len(o) > 0 {
				return append(append(object{}, o...), o[g.below(len(o))])
			}
		}
	case list:
		switch g.below(3) {
		case 0:
			return list{}
		case 1:
			return append(append(list{}, o...), o...)
		}
	case number:
		return number(g.pick(extreme))
	case string:
		if !g.oneIn(3) {
			return g.oddText()
		}
	}
	return pickOf(g, []any{nil, true, number("0"), "", list{}, object{}, number("1e300"), list{nil},
		object{{"answer", "unknown"}}, object{{"answer", "none"}}, "unknown"})
}

func (g *gen) oddText() string {
	odd := []string{"", " ", "\t", "\u200b", "\u202e", "\u2066\u2069", "\ufeff", "A\u0301", "🦴", "\u0000", "=1+1",
		"../..", "%00", "'; drop", "<script>", "null", "\U0010ffff", "\uffff", "İ", "ß", "ﷺ", "9", "-", "whole/whole",
		"a//b", "/a", "0001-01-01", "2001-02-31", "1e5", "00000000-0000-0000-0000-000000000000"}
	if g.oneIn(5) {
		return strings.Repeat(g.pick([]string{"a", "e\u0301", "🦴", " ", "/x", "1"}), g.between(100, 6000))
	}
	return g.pick(odd)
}

// costly values: large, deep, many, or no JSON.
func (g *gen) costlyValue(any) any {
	n := pickOf(g, []int{100, 1000, 3000, 30000})
	switch g.below(12) {
	case 0:
		return raw(strings.Repeat("[", n) + strings.Repeat("]", n))
	case 1:
		return raw(strings.Repeat(`{"a":`, n) + "1" + strings.Repeat("}", n))
	case 2: // many unknown members
		var b strings.Builder
		for i := range n {
			fmt.Fprintf(&b, `,"m%d":1`, i)
		}
		return raw("{" + strings.TrimPrefix(b.String(), ",") + "}")
	case 3:
		return raw("[" + strings.TrimSuffix(strings.Repeat("1,", n*4), ",") + "]")
	case 4:
		return raw("[" + strings.TrimSuffix(strings.Repeat("{},", n), ",") + "]")
	case 5:
		return strings.Repeat("é", n)
	case 6:
		return number(strings.Repeat("9", n))
	case 7:
		return number("0." + strings.Repeat("3", n))
	case 8:
		return number(g.pick([]string{"1e999", "-1e999", "1e-999", "1e99999999999", "-0.0e0", "1E+400", "0e999999",
			"1e-400"}))
	case 9:
		return raw(g.pick([]string{"NaN", "Infinity", "01", "+1", ".5", "1.", "0x10", "'a'", "tru", `"\x"`, `"\ud800"`,
			`"\udc00\ud800"`, "\"\xff\xfe\"", "\"\xed\xa0\x80\"", "\"\x00\"", "\"\n\"", "//"}))
	case 10: // the same name many times
		return raw("{" + strings.TrimSuffix(strings.Repeat(`"id":1,`, n), ",") + "}")
	}
	return g.repeated(n)
}

// repeated is an array of one example's ordinary things, over every limit.
func (g *gen) repeated(n int) any {
	item := text(pickOf(g, []any{object{{"id", g.idOr("batch")}}, g.idOr("treatment"), g.pick(areas),
		object{{"code", g.code("B")}, {"amount", object{{"value", number("1")}, {"unit", "mL"}}}}}))
	return raw("[" + strings.TrimSuffix(strings.Repeat(item+",", n), ",") + "]")
}

// hostileText is a hostile form of a whole body.
func (g *gen) hostileText(v any) string {
	s := text(v)
	switch g.below(12) {
	case 0:
		return s[:g.below(len(s)+1)]
	case 1:
		return s + g.pick([]string{"{}", "]", "\x00", " 1", "//", strings.Repeat(" ", 100000)})
	case 2:
		return ""
	case 3:
		return "\ufeff" + s
	case 4:
		at := g.below(len(s) + 1)
		return s[:at] + g.pick([]string{"\xff", "\x00", "\xc0\xaf", "\u202e", "\u2028", "\\", "\""}) + s[at:]
	case 5:
		return strings.Repeat(g.pick([]string{"[", `{"a":`, " ", "\n", "0", `{"statement":`}), pickOf(g, []int{1000, 100000}))
	case 6:
		return `{"statement":` + strings.Repeat(" ", 1<<20) + s + "}"
	case 7:
		return `"` + strings.Repeat("a", g.pickSize()) + `"`
	}
	return s
}

func (g *gen) pickSize() int {
	return pickOf(g, []int{1 << 10, 1 << 16, 1<<20 - 2, 1 << 20, 1<<20 + 1, 3 << 20})
}

// lines is the body of a stream of cards or entries.
func (g *gen) lines(op *operation, mediaType string, c class) string {
	var b strings.Builder
	n := g.between(1, 20)
	if c == hostile {
		n = g.between(1, 2000)
	}
	if strings.HasPrefix(mediaType, "text/csv") {
		b.WriteString("Card,Number,Part,Treatment,Material,Strength,Solvent,Date,By,Notes\n")
	}
	for i := range n {
		cells := []string{fmt.Sprint(i), "LV.1931/" + g.digits(4), g.pick(areas),
			g.pick([]string{"hardened", "glued", "washed"}), g.pick(materials), g.pick(ordinary) + " %",
			"acetone", g.pick([]string{"12.4.1934", "1934", g.pick(dates)}), "H. Reiter", g.pick(plainTexts)}
		if c != wellFormed && g.oneIn(3) {
			cells[g.below(len(cells))] = g.oddText()
		}
		if c == hostile && g.oneIn(20) {
			cells = append(cells, strings.Repeat(`"`, g.between(1, 3)), "\xff", strings.Repeat(",", g.below(3000)))
		}
		b.WriteString(cardLine(mediaType, cells))
	}
	return b.String()
}

func cardLine(mediaType string, cells []string) string {
	if strings.HasPrefix(mediaType, "text/csv") {
		for i, cell := range cells {
			if strings.ContainsAny(cell, ",\n") {
				cells[i] = `"` + strings.ReplaceAll(cell, `"`, `""`) + `"`
			}
		}
		return strings.Join(cells, ",") + "\n"
	}
	names := strings.Split("Card,Number,Part,Treatment,Material,Strength,Solvent,Date,By,Notes", ",")
	o := object{}
	for i, cell := range cells {
		o = append(o, member{names[i%len(names)], cell})
	}
	return text(o) + "\n"
}
