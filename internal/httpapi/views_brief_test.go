package httpapi_test

import (
	"fmt"
	"math"
	"net/http"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// askBriefly asks a view of one record again, in brief and as text.
func (v *looked) askBriefly(name string, ask func(detail, mediaType string) reply) {
	brief := ask("", "").want(200)
	v.brief[name], _ = brief.at().(object)
	if name != "summary" { // its text is read as the view "line"
		v.told[name] = strings.Join(strings.Fields(string(ask("", asText).want(200).body)), " ")
		v.toldWhole[name] = strings.Join(strings.Fields(string(ask("detail=full", asText).want(200).body)), " ")
	}
}

// briefly holds that what is said in brief and as text is what is said in full.
func (c *comparison) briefly() {
	for _, v := range append([]*looked{c.looked}, c.old...) {
		for name, brief := range v.brief {
			full := v.json[name]
			if at := beyond(brief, full); at != "" {
				c.say(name, "says in brief what it does not say in full: %s", at)
			}
			for _, never := range []string{"answer", "hazards", "passedOn", "mergedInto", "blocked", "known", "cautions", "unanswerable", "ask"} {
				if !reflect.DeepEqual(brief[never], full[never]) {
					c.say(name, "has in brief the %s %v, want %v", never, brief[never], full[never])
				}
			}
			for _, list := range []string{"areas", "unplaced", "steps", "analyses", "before", "after"} {
				if name != "contents" && len(objectsIn(brief[list])) != len(objectsIn(full[list])) {
					c.say(name, "has in brief %d %s, want %d", len(objectsIn(brief[list])), list, len(objectsIn(full[list])))
				}
			}
			c.sameFindings(v, name, brief, full)
			if name != "summary" {
				c.asText(v, name, brief)
			}
		}
	}
}

// sameFindings holds that all that block stand in brief, and that the others are counted.
func (c *comparison) sameFindings(v *looked, name string, brief, full object) {
	blocks := func(of object) (all []string) {
		for _, f := range objectsIn(of["findings"]) {
			if f["severity"] == "block" {
				all = append(all, fmt.Sprint(f["rule"], ": ", f["sentence"]))
			}
		}
		return all
	}
	if got, want := blocks(brief), blocks(full); !slices.Equal(got, want) {
		c.say(name, "has in brief the blocks %v, want %v", got, want)
	}
	n := len(objectsIn(brief["findings"]))
	if more, ok := brief["moreFindings"].(object); ok {
		for _, severity := range []string{"block", "warn", "info"} {
			n += int(more[severity].(float64))
		}
	}
	for _, f := range objectsIn(full["findings"]) { // what is counted apart
		if name == "check" && f["severity"] != "block" && (f["unanswerable"] == true || f["traits"] != nil) {
			n++
		}
	}
	if want := len(objectsIn(full["findings"])); n != want {
		c.say(name, "counts in brief %d findings, want %d", n, want)
	}
	for _, f := range objectsIn(full["findings"]) {
		if says := flat(f["sentence"]); f["severity"] == "block" && !strings.Contains(v.told[name], says) {
			c.say(name, "lacks as text the block %q", says)
		}
	}
}

// asText holds that a text says the answer, the cautions and, if it is whole, each layer and
// step as the answer does.
func (c *comparison) asText(v *looked, name string, brief object) {
	said := v.told[name]
	first := said
	for _, caution := range textsIn(brief["cautions"]) { // the hazards of the specimen come before the answer
		first = strings.TrimSpace(strings.TrimPrefix(first, flat(caution)))
	}
	if !strings.HasPrefix(first, flat(brief["answer"])) {
		c.say(name, "begins as text with something else than the hazards and %q: %q", brief["answer"], said[:min(len(said), 200)])
	}
	if hazards := objectsIn(brief["hazards"]); len(hazards) > 0 && strings.HasPrefix(said, flat(brief["answer"])) &&
		hazards[0]["status"] != "none-found" {
		c.say(name, "begins as text with the answer and not with the hazards: %q", said[:min(len(said), 200)])
	}
	for _, caution := range textsIn(brief["cautions"]) {
		if !strings.Contains(said, flat(caution)) {
			c.say(name, "lacks as text the caution %q", caution)
		}
	}
	lines := objectsIn(brief["unplaced"])
	for _, area := range objectsIn(brief["areas"]) {
		lines = append(lines, objectsIn(area["layers"])...)
	}
	for _, line := range append(lines, objectsIn(brief["steps"])...) {
		if !strings.Contains(v.toldWhole[name], flat(line["sentence"])) {
			c.say(name, "lacks as text %q", line["sentence"])
		}
		if state, ok := line["state"].(string); ok &&
			!strings.Contains(flat(line["sentence"]), ": "+strings.ReplaceAll(state, "-", " ")) {
			c.say(name, "says of a layer that is %s: %q", state, line["sentence"])
		}
	}
}

// flat is a text as it stands in a line.
func flat(v any) string { return strings.Join(strings.Fields(fmt.Sprint(v)), " ") }

// counting are the members by which an answer in brief says how much it leaves out.
func counting(name string) bool { return strings.HasPrefix(name, "more") || name == "count" }

// beyond gives the first place at which an answer in brief says what the one in full does
// not: a list in brief has some of the items, in their order, and a number some of the digits.
func beyond(brief, full any) string {
	switch brief := brief.(type) {
	case object:
		full, ok := full.(object)
		if !ok {
			return fmt.Sprintf(": %v", brief)
		}
		for name, value := range brief {
			if counting(name) {
				continue
			}
			if at := beyond(value, full[name]); at != "" {
				return "/" + name + at
			}
		}
	case []any:
		rest, _ := full.([]any)
		for i, item := range brief {
			at := slices.IndexFunc(rest, func(x any) bool { return beyond(item, x) == "" })
			if at < 0 {
				return fmt.Sprintf("/%d: %v", i, item)
			}
			rest = rest[at+1:]
		}
	default:
		if !reflect.DeepEqual(brief, full) && !isRounded(brief, full) {
			return fmt.Sprintf(": %v", brief)
		}
	}
	return ""
}

// isRounded tells whether a number in brief is the one in full with fewer digits, of which
// it has two at least.
func isRounded(brief, full any) bool {
	b, ok := brief.(float64)
	f, isNumber := full.(float64)
	if !ok || !isNumber {
		return false
	}
	mantissa, exponent, _ := strings.Cut(strconv.FormatFloat(b, 'e', -1, 64), "e")
	digits := max(len(strings.Trim(mantissa, "-"))-1, 2)
	power, err := strconv.Atoi(exponent)
	return err == nil && math.Abs(b-f) <= 0.5001*math.Pow10(power-digits+1)
}

// TestViewsInBriefAreShort asks every view of everything in the demo's museum: an answer takes
// 3 kB at most, a removal plan 6 kB, and a text twenty lines unless more of it is never cut.
func TestViewsInBriefAreShort(t *testing.T) {
	t.Parallel()
	s := newPastService(t)
	specimens, batches := s.loadDemo()
	s.refreshPast()
	paths := map[string]int{}
	for _, id := range specimens {
		at := "/v1/specimens/" + id
		for _, view := range []string{"/present-state", "/suitability", "/travel-temperature", "/summary"} {
			paths[at+view] = 3_000
		}
		paths[at+"/removal-plan"] = 6_000
		for _, item := range s.do(http.MethodGet, at+"/treatments?limit=500", nil).want(200).at("items").([]any) {
			paths["/v1/treatments/"+item.(object)["id"].(string)+"/findings"] = 3_000
		}
	}
	for _, id := range batches {
		paths["/v1/batches/"+id+"/contents"] = 3_000
	}
	short := func(path string, most int, r, text reply) {
		if strings.Contains(string(r.want(200).body), `"status":"suspected"`) ||
			strings.Contains(string(r.body), `"status":"known"`) {
			most += 500 // hazards of the specimen are never cut
		}
		if n := len(r.body); n > most {
			t.Errorf("%s: got %d bytes, want %d at most: %s", path, n, most, r.body)
		}
		if n := strings.Count(string(text.want(200).body), "\n"); n > 30 || n > 20 && !strings.Contains(string(text.body), " more at ") {
			t.Errorf("%s: got a text of %d lines: %s", path, n, text.body)
		}
	}
	for path, most := range paths {
		short(path, most, s.do(http.MethodGet, path, nil), s.as(asText, path))
	}
	for _, id := range specimens {
		proposed := object{"treatment": treatment(id, "consolidation", "2026-03-09")}
		const path = "/v1/treatment-checks"
		short(path+" "+id, 3_000, s.do(http.MethodPost, path, proposed),
			s.do(http.MethodPost, path, proposed, header{"Accept", asText}))
	}
	if len(paths) < 40 {
		t.Errorf("got %d answers, want those of the museum", len(paths))
	}
}
