package api_test

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"meniscus/api"
)

// TestServedIsSmall: what callers are served has fewer bytes than they are promised.
func TestServedIsSmall(t *testing.T) {
	t.Parallel()
	const most, mostPacked = 350_000, 60_000
	var packed bytes.Buffer
	z, err := gzip.NewWriterLevel(&packed, gzip.BestCompression)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := z.Write(api.Served); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	t.Logf("%d bytes, %d compressed", len(api.Served), packed.Len())
	if len(api.Served) >= most || packed.Len() >= mostPacked {
		t.Errorf("got %d bytes, %d compressed, want fewer than %d and %d: begin descriptions with a short sentence",
			len(api.Served), packed.Len(), most, mostPacked)
	}
}

// TestCompactMeansTheSame: what callers are served is the reference, but for what the
// package assemble says of compact.
func TestCompactMeansTheSame(t *testing.T) {
	t.Parallel()
	c := comparison{t: t, asked: map[string]bool{}}
	for doc, said := range map[*object][]byte{&c.served: api.Served, &c.reference: api.Readable} {
		if err := json.Unmarshal(said, doc); err != nil {
			t.Fatal(err)
		}
	}
	for _, item := range c.reference["paths"].(object) {
		for method, op := range item.(object) {
			if method == "parameters" {
				c.ask(op)
				continue
			}
			if op.(object)["security"] == nil {
				t.Errorf("%v does not say what it needs", op.(object)["operationId"])
			}
			c.ask(op.(object)["parameters"])
			c.ask(op.(object)["requestBody"])
		}
	}
	c.same("", c.served, c.reference, false)
	if c.compared < 5000 || c.inlined < 100 {
		t.Errorf("compared %d objects and %d schemas that are used once", c.compared, c.inlined)
	}
}

type comparison struct {
	t                 *testing.T
	served, reference object
	asked             map[string]bool // the schemas that requests have
	compared, inlined int
}

const schemaPath = "#/components/schemas/"

// ask marks the schemas that requests have.
func (c *comparison) ask(v any) {
	switch v := v.(type) {
	case []any:
		for _, item := range v {
			c.ask(item)
		}
	case object:
		ref, _ := v["$ref"].(string)
		if name, is := strings.CutPrefix(ref, schemaPath); is && !c.asked[name] {
			c.asked[name] = true
			c.ask(c.schema(name))
		}
		for _, item := range v {
			c.ask(item)
		}
	}
}

func (c *comparison) schema(name string) any {
	return c.reference["components"].(object)["schemas"].(object)[name]
}

// same compares what is served with the reference. Of an answer the limits may be
// missing.
func (c *comparison) same(at string, served, reference any, answer bool) {
	c.t.Helper()
	switch reference := reference.(type) {
	case object:
		if served, is := served.(object); is {
			c.object(at, served, reference, answer)
			return
		}
	case []any:
		if served, is := served.([]any); is && len(served) == len(reference) {
			for i := range reference {
				c.same(at+"/*", served[i], reference[i], answer)
			}
			return
		}
	}
	if diff := cmp.Diff(reference, served); diff != "" {
		c.t.Errorf("%s: the reference (-) is served as (+)\n%s", at, diff)
	}
}

func (c *comparison) object(at string, served, reference object, answer bool) {
	c.t.Helper()
	c.compared++
	if kind, name, is := component(reference); is && served["$ref"] == nil {
		if kind == "schemas" {
			reference = c.placed(at, reference, name, answer)
		} else {
			reference = c.reference["components"].(object)[kind].(object)[name].(object)
			if c.used("#/components/"+kind+"/"+name, c.served) {
				c.t.Errorf("%s: %s has lost its name", at, name)
			}
		}
	}
	for name, of := range reference {
		here := at + "/" + name
		if named := strings.HasSuffix(at, "/properties"); named {
			here = at + "/." + name
		}
		got, is := served[name]
		switch {
		case name == "examples" && strings.Contains(at, "/requestBody/"):
			c.one(here, got, of)
		case name == "examples":
			c.same(here, got, of, answer)
		case name == "security" && at == "":
			c.same(here, got, []any{object{"accessKey": []any{"read"}}}, answer)
		case name == "security" && !is:
			c.same(here, c.served["security"], of, answer)
		case name == "description" && got == "OK" && strings.Contains(at, "/responses/2"):
		case name == "summary" && !is && of == "An ordinary request." && strings.Contains(at, "/requestBody/"):
		case name == "description" && !is && answer && c.silent(at, reference):
		case name == "description" && !strings.HasSuffix(at, "/properties"):
			c.begins(here, got, of)
		case !is && name == "maxLength" && reference["enum"] != nil:
		case !is && (c.left(at, name, of) || answer && limits[name]):
		case !is && name == "format" && answer && served["type"] != "string":
		case !is:
			c.t.Errorf("%s is not served", here)
		default:
			c.same(here, got, of, c.answer(at, name, answer))
		}
	}
	for name := range served {
		if _, is := reference[name]; !is {
			c.t.Errorf("%s/%s is served, and not in the reference", at, name)
		}
	}
}

// component is what a reference refers to.
func component(reference object) (kind, name string, is bool) {
	ref, _ := reference["$ref"].(string)
	path, is := strings.CutPrefix(ref, "#/components/")
	kind, name, _ = strings.Cut(path, "/")
	return kind, name, is
}

// one compares the one example that is served with that of its name in the reference.
func (c *comparison) one(at string, served, reference any) {
	c.t.Helper()
	got, of := served.(object), reference.(object)
	if len(got) != 1 {
		c.t.Errorf("%s: %d examples are served, want one", at, len(got))
	}
	for name, value := range got {
		c.same(at+"/"+name, value, of[name], false)
	}
}

// placed is a schema that stands in the place of the reference to it.
func (c *comparison) placed(at string, reference object, name string, answer bool) object {
	if inComponents := c.served["components"].(object)["schemas"].(object)[name]; inComponents != nil && (!answer || !spelled[name]) {
		c.t.Errorf("%s: %s has lost its name", at, name)
	}
	c.inlined++
	out := object{}
	for member, value := range c.schema(name).(object) {
		if member != "description" || !spelled[name] {
			out[member] = value
		}
	}
	for member, value := range reference {
		if member != "$ref" && value != inFull {
			out[member] = value
		}
	}
	return out
}

// inFull is a description that is left out.
const inFull = "With `detail=full`."

// spelled are the schemas of plain values, which answers do not name.
var spelled = map[string]bool{"Id": true, "Line": true, "Text": true, "Count": true, "ComputedNumber": true, "Uri": true,
	"Word": true, "Reason": true, "Revision": true, "Sequence": true,
	"PlainAnswer": true, "Page": true, "PrintedLabel": true, "LabelPicture": true}

var limits = map[string]bool{"minLength": true, "maxLength": true, "pattern": true, "minItems": true, "maxItems": true,
	"minimum": true, "maximum": true, "exclusiveMinimum": true, "exclusiveMaximum": true}

// answer tells whether what is below a name is only in answers.
func (c *comparison) answer(at, name string, already bool) bool {
	return already || at == "/components/schemas" && !c.asked[name] ||
		strings.HasPrefix(at, "/paths/") && strings.Contains(at, "/responses/") && name == "schema"
}

// left tells what may be left out.
func (c *comparison) left(at, name string, of any) bool {
	kind, component := strings.CutPrefix(at, "/components/")
	switch {
	case component && !strings.Contains(kind, "/"):
		return !c.used("#/components/"+kind+"/"+name, c.served)
	case name == "additionalProperties":
		return of == false
	case strings.HasSuffix(at, "/responses"):
		return name == "304"
	case strings.HasPrefix(at, "/paths/") && name == "headers":
		return true
	case name == "x-problems", name == "x-problem-codes":
		return true
	}
	return false
}

// silent tells whether a schema within one that only answers have may do without its
// description: no reading of the value rests on what it begins with.
func (c *comparison) silent(at string, schema object) bool {
	kind, _ := strings.CutPrefix(at, schemaPath[1:])
	said, _ := schema["description"].(string)
	begins := sentence.Split(strings.Join(strings.Fields(said), " "), 2)[0]
	return strings.Contains(kind, "/") && schema["type"] != "boolean" && !tells.MatchString(begins)
}

var sentence = regexp.MustCompile(`[.;] `)

// tells matches what tells a unit, a basis, a date or an order, or what numbers stand for.
var tells = regexp.MustCompile(`\d|%|°|\b(bytes|hours|mass|volume|grams|mole|date|day|EDTF|first|last|order)\b`)

// used tells whether what is served refers to a component.
func (c *comparison) used(ref string, v any) bool {
	switch v := v.(type) {
	case []any:
		return slices.ContainsFunc(v, func(item any) bool { return c.used(ref, item) })
	case object:
		for name, item := range v {
			if name == "$ref" && item == ref || c.used(ref, item) {
				return true
			}
		}
	}
	return false
}

// begins checks that a description is what that of the reference begins with, or is left
// out where it may be.
func (c *comparison) begins(at string, served, reference any) {
	c.t.Helper()
	whole, _ := reference.(string)
	said, _ := served.(string)
	operation := strings.HasPrefix(at, "/paths/") && strings.Count(strings.ReplaceAll(at, "//", "/"), "/") > 2 &&
		!strings.Contains(at, "/responses/") && !strings.Contains(at, "/parameters/")
	if said == "" && (operation || whole == inFull) {
		return
	}
	said, whole = strings.Join(strings.Fields(said), " "), strings.Join(strings.Fields(whole), " ")
	if said == "" || !strings.HasPrefix(whole, strings.TrimSuffix(said, ".")) {
		c.t.Errorf("%s: %q does not begin %q", at, said, whole)
	}
}
