package main

import (
	"encoding/base64"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"github.com/getkin/kin-openapi/openapi3"
)

// request is a request as it is sent, byte for byte.
type request struct {
	n      int        // its number in the run
	op     *operation // nil for a path of no operation
	method string
	target string // path and query as they are sent
	header [][2]string
	body   string
	leave  bool // the caller leaves before the answer
	class  class
}

// curl is the command that sends the request again. A body that a command line cannot
// contain is encoded as base64.
func (r *request) curl(base string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "curl -sS -i --path-as-is -g -X %s %s", shell(r.method), shell(base+r.target))
	for _, h := range r.header {
		fmt.Fprintf(&b, " \\\n  -H %s", shell(strings.TrimSuffix(h[0]+": "+h[1], " ")))
	}
	switch {
	case r.body == "":
	case len(r.body) > 4000 || strings.ContainsAny(r.body, "\x00\r") || !validText(r.body):
		return "echo " + shortened(base64.StdEncoding.EncodeToString([]byte(r.body))) + " | base64 -d | " + b.String() +
			" --data-binary @-"
	default:
		fmt.Fprintf(&b, " \\\n  --data-binary %s", shell(r.body))
	}
	return b.String()
}

// bears tells whether the request has this key.
func (r *request) bears(key string) bool {
	return slices.ContainsFunc(r.header, func(h [2]string) bool {
		return h[0] == "Authorization" && strings.HasSuffix(h[1], key)
	})
}

func validText(s string) bool { return strings.ToValidUTF8(s, "") == s }

func shell(s string) string { return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'" }

// mostShown bounds what a report shows of a body; -only writes all of it.
const mostShown = 6000

func shortened(s string) string {
	if len(s) <= mostShown {
		return s
	}
	return fmt.Sprintf("%s…(%d bytes in all; run again with -only for the whole)", s[:mostShown], len(s))
}

// request makes one request for an operation. ids are those that the path must
// name, by the name of its variable.
func (g *gen) request(op *operation, c class, ids map[string]string) *request {
	r := &request{op: op, method: op.method, class: c}
	path := variable.ReplaceAllStringFunc(op.path, func(v string) string {
		name := strings.Trim(v, "{}")
		if id := ids[name]; id != "" {
			return id
		}
		return g.pathValue(op, name, c)
	})
	r.target = path + g.query(op, c)
	r.header = g.headers(op, c, path)
	if len(op.takes) > 0 {
		g.fillBody(r, op, c)
	}
	if op.method == http.MethodGet && g.oneIn(15) {
		r.method = http.MethodHead
	}
	if c == hostile && g.oneIn(15) {
		r.method = g.pick([]string{"PATCH", "DELETE", "OPTIONS", "TRACE", "PUT", "POST", "HEAD", "GET", "BREW"})
		r.op = nil
	}
	return r
}

func (g *gen) pathValue(op *operation, name string, c class) string {
	if c == hostile && g.oneIn(4) || c == nearly && g.oneIn(15) {
		return g.pick([]string{"%00", "%zz", "..", "%2e%2e%2f", "0", "-", strings.Repeat("a", 5000), "%F0%9F%A6%B4",
			"%ff", ";", "a%2Fb", "00000000-0000-0000-0000-000000000000", "%E2%80%AE",
			"0193A5B4-7C1E-7D2F-9A64-3C2F1F0F7A10", "{0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7a10}"})
	}
	switch kind := kindOfVariable(name); {
	case kind == "record":
		return cmpOr(g.pool.anyRecord(g.rng), g.uuid())
	case kind == "material" && op.id == "stateMaterial":
		return pickOf(g, []string{g.uuid(), g.idOr("material")})
	case kind == "material":
		return g.material()
	case kind == "rule":
		return cmpOr(g.id("rule"), "solvent-resin-on-damp-body")
	case kind == "revision":
		return g.pick([]string{"1", "2", "3", "0", "2147483647", "99999999999999999999"})
	case kind == "term":
		return g.pick([]string{"action-cleaning", "action-consolidation", "action-removal", "nothing-such"})
	case g.oneIn(30):
		return g.idOr(g.pick(append([]string{"foreign"}, recordKinds...)))
	default:
		return g.idOr(kind)
	}
}

func (g *gen) fillBody(r *request, op *operation, c class) {
	mediaType := op.takes[g.below(len(op.takes))]
	switch {
	case mediaType == jsonType || mediaType == patchType:
		r.body = g.body(op, c)
		if op.id == "amendRecord" && (c != hostile || mediaType == patchType && g.oneIn(2)) {
			r.body = g.amendment(r.target, mediaType, c)
		}
		if (op.id == "stateSourceRecord" || op.id == "stateSourceRecords") && c != hostile {
			r.body = text(g.ofSources(op, r.target, c))
		}
	case len(g.pool.exports[givenTo[op.id]]) > 0:
		r.body = g.cut(g.pick(g.pool.exports[givenTo[op.id]]), c)
		if op.id == "restoreRecords" && !g.oneIn(4) {
			r.header = append(slices.DeleteFunc(r.header, func(h [2]string) bool { return h[0] == "Authorization" }),
				[2]string{"Authorization", "Bearer " + g.pool.foreign[1]})
		}
	default:
		r.body = g.lines(op, mediaType, c)
	}
	if c == hostile && g.oneIn(8) {
		mediaType = g.pick([]string{"", "text/plain", "application/json; charset=utf-16",
			"application/JSON;charset=utf-8", "a/b/c", ";", "application/json, text/csv", "multipart/form-data",
			strings.Repeat("x", 8000)})
	}
	r.header = append(r.header, [2]string{"Content-Type", mediaType})
}

// givenTo gives the operation whose answers are the bodies of another.
var givenTo = map[string]string{"restoreRecords": "exportRecords", "receiveSpecimen": "packSpecimen"}

// cut is an export or a package, unchanged or damaged.
func (g *gen) cut(lines string, c class) string {
	at := g.below(len(lines) + 1)
	switch {
	case c == wellFormed:
		return lines
	case c == nearly && g.oneIn(2):
		return lines[:at]
	}
	return lines[:at] + g.pick([]string{"1", "\n", "{}\n", "\xff", "\x00", strings.Repeat("[", 5000)}) +
		lines[min(at+g.below(3), len(lines)):]
}

// amendment is the record's last statement with one member changed or not, or a patch
// of it.
func (g *gen) amendment(target, mediaType string, c class) string {
	said := object{}
	words := strings.Split(target, "/")
	if len(words) > 3 {
		said = g.pool.stated[words[3]].value
	}
	if said == nil {
		said = object{{"name", "Nadia Okeke"}}
	}
	var value any = said
	switch {
	case mediaType == patchType:
		value = g.patch(said, c, 0)
	case c == nearly:
		value = g.spoilt(said)
	case g.oneIn(2):
		value = said.with("remarks", g.pick(plainTexts))
	}
	return text(object{{"reason", "The card says otherwise."}, {"statement", value}})
}

// patch is a merge patch of a value: some of its members as they are, gone, odd or
// patched in turn, and perhaps one more.
func (g *gen) patch(of object, c class, depth int) any {
	o := object{}
	for _, m := range of {
		if !g.oneIn(3) {
			continue
		}
		inner, isObject := m.value.(object)
		switch n := g.below(4); {
		case isObject && n < 2 && depth < 8:
			m.value = g.patch(inner, c, depth+1)
		case n == 2:
			m.value = nil
		case c == nearly:
			m.value = g.oddValue(m.value)
		case c == hostile:
			m.value = g.costlyValue(m.value)
		}
		o = append(o, m)
	}
	if g.oneIn(3) {
		o = append(o, member{g.pick([]string{"remarks", "colour", "dates", "", "a/b~c", "__proto__"}),
			pickOf(g, []any{nil, g.pick(plainTexts), object{}, object{{"edtf", g.date()}}, object{{"x", nil}}, list{nil}})})
	}
	return o
}

// query gives the operation's parameters values; in the hostile class it makes a
// malformed query string.
func (g *gen) query(op *operation, c class) string {
	var pairs []string
	for _, p := range op.params {
		if p.In == "query" && (p.Required && c != hostile || g.oneIn(4)) {
			pairs = append(pairs, p.Name+"="+url.QueryEscape(g.parameter(op, p, c)))
		}
	}
	if c == hostile && g.oneIn(3) {
		pairs = append(pairs, g.oddPair(op))
	}
	if len(pairs) == 0 {
		return ""
	}
	return "?" + strings.Join(pairs, "&")
}

func (g *gen) parameter(op *operation, p *openapi3.Parameter, c class) string {
	if c != wellFormed && g.oneIn(3) {
		return g.oddText()
	}
	if p.Name == "fields" {
		return g.pick([]string{"id", "kind,statement.action", "items.id", "statement", "next", "a.b.c", "id,id,id",
			"statement.materials.used.batch.id"})
	}
	if value := g.ofSource(p.Name); value != "" && strings.Contains(op.id, "SourceRecord") {
		return value
	}
	if p.Name == "cursor" {
		return g.pool.cursor(g.rng, op)
	}
	if p.Schema == nil {
		return g.pick(plainTexts)
	}
	switch v := g.value(p.Schema, p.Name, 0).(type) {
	case string:
		return v
	case list:
		return strings.Trim(text(v), `[]"`)
	default:
		return text(v)
	}
}

func (g *gen) oddPair(op *operation) string {
	name := "limit"
	if known := slices.IndexFunc(op.params, func(p *openapi3.Parameter) bool { return p.In == "query" }); known >= 0 {
		name = op.params[known].Name
	}
	n := pickOf(g, []int{100, 2000, 12000})
	return pickOf(g, []func() string{
		func() string { return name + "=%zz" }, func() string { return name + "=%" },
		func() string { return name + "=a;b=c" },
		func() string { return name + "=" }, func() string { return name }, func() string { return "=" },
		func() string { return name + "=1&" + name + "=2" }, func() string { return "colour=red" },
		func() string { return "%00=%00" },
		func() string { return name + "=%ff%fe" },
		func() string { return strings.TrimSuffix(strings.Repeat(name+"=1&", n), "&") },
		func() string { return strings.TrimSuffix(strings.Repeat("&", n), "&") },
		func() string { return name + "=" + strings.Repeat("a", n) },
		func() string { return "fields=" + strings.Repeat("a.", min(n, 4000)) + "b" },
		func() string { return "cursor=" + g.matching("^[A-Za-z0-9_=-]{1,200}$") },
		func() string {
			return "limit=" + g.pick([]string{"0", "-1", "501", "1e3", "99999999999999999999", "5.0", "+5"})
		},
	})()
}

// headers are the key, the headers that the operation needs, and others.
func (g *gen) headers(op *operation, c class, path string) [][2]string {
	var h [][2]string
	add := func(name, value string) { h = append(h, [2]string{name, value}) }
	if key := g.key(c); key != "" && !(op.keyless && g.oneIn(2)) {
		add("Authorization", key)
	}
	if op.takesHeader("Idempotency-Key") && !(c == hostile && g.oneIn(4)) {
		add("Idempotency-Key", g.requestKey(c))
	}
	// A new one has no state to match.
	isNew := op.id == "stateMaterial" && g.pool.tags[path] == "" || op.id == "stateSourceRecord" && !g.oneIn(6)
	if op.takesHeader("If-Match") && !isNew && !(c == hostile && g.oneIn(4)) {
		add("If-Match", g.tag(path, c))
	}
	if op.takesHeader("If-None-Match") && g.oneIn(6) {
		add("If-None-Match", g.tag(path, c))
	}
	if g.oneIn(3) && len(op.gives) > 0 {
		add("Accept", op.gives[g.below(len(op.gives))])
	}
	if g.oneIn(10) {
		add("Accept-Encoding", g.pick([]string{"gzip", "gzip;q=0", "br, gzip;q=0.5", "*", "identity;q=0"}))
	}
	if g.oneIn(10) {
		add("Prefer", g.pick([]string{"return=minimal", "return=representation", "respond-async, return=minimal",
			"return", ";;;"}))
	}
	if c == hostile && g.oneIn(2) {
		h = append(h, g.oddHeader())
	}
	return h
}

func (g *gen) key(c class) string {
	if c != wellFormed && g.oneIn(8) {
		return g.pick([]string{"", "Bearer", "Bearer ", "Bearer x", "Basic eDp5", "Bearer meniscus_",
			"Bearer " + strings.Repeat("a", 7000), "bearer " + g.pool.keys[0], "Bearer " + g.pool.keys[0] + "0",
			"Bearer " + g.pool.keys[0][:len(g.pool.keys[0])-1], "Bearer \xff\xfe",
			"Bearer " + g.pool.keys[0] + " " + g.pool.keys[0]})
	}
	switch {
	case g.oneIn(20) && len(g.pool.foreign) > 0:
		return "Bearer " + g.pick(g.pool.foreign)
	case g.oneIn(15):
		return "Bearer " + g.pick(g.pool.keys)
	}
	return "Bearer " + g.pool.keys[0]
}

func (g *gen) requestKey(c class) string {
	if c == hostile && g.oneIn(2) {
		return g.pick([]string{"", " ", `"`, `"a`, `"a\"b"`, strings.Repeat("k", 255), strings.Repeat("k", 256), "a,b",
			"é", "\x7f", "same"})
	}
	if g.oneIn(20) {
		return "same"
	}
	return g.uuid()
}

func (g *gen) tag(path string, c class) string {
	if c != wellFormed && g.oneIn(3) {
		return g.pick([]string{"*", `""`, `"a"`, `W/"a"`, "a", `"a", "b"`, strings.Repeat(`"x",`, 2000) + `"y"`, ",",
			`"`, "W/"})
	}
	tag := g.pool.tags[path]
	for word := range strings.SplitSeq(path, "/") {
		if tag == "" && uuidText.MatchString(word) {
			tag = g.pool.tagOf(word)
		}
	}
	return cmpOr(tag, `"1"`)
}

func (g *gen) oddHeader() [2]string {
	n := pickOf(g, []int{100, 3000})
	return pickOf(g, [][2]string{
		{"Accept", strings.TrimSuffix(strings.Repeat("text/html;q=0.1,", n), ",")}, {"Accept", "*/*;q=0"},
		{"Accept", ";,/"}, {"Accept", "application/json;q=NaN"}, {"Accept", "image/png"},
		{"Accept-Language", strings.Repeat("de,", n)}, {"Range", "bytes=0-0"},
		{"Range", "bytes=" + strings.Repeat("0-1,", n)}, {"Origin", "https://museum.example"}, {"Origin", "null"},
		{"If-None-Match", "*"}, {"If-Modified-Since", "Thu, 01 Jan 1970 00:00:00 GMT"}, {"Content-Encoding", "gzip"},
		{"X-Forwarded-For", strings.Repeat("1,", n)}, {"Forwarded", "for=;;;"},
		{"X-HTTP-Method-Override", "DELETE"}, {"Last-Event-ID", "\x01"}, {"Cookie", strings.Repeat("a=b;", n)},
		{"Accept-Charset", "utf-16"}, {"Traceparent", "00-0-0-0"},
	})
}
