package httpapi_test

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// agreements is all that the views have to agree on.
var agreements = []struct {
	name  string
	check func(*comparison)
}{
	{"hazards are named by every view, across merges, parts and samples", (*comparison).hazards},
	{"a bath reaches the whole piece, and areas are the same everywhere", (*comparison).areas},
	{"a test older than its layer is no evidence for it", (*comparison).tests},
	{"what is left of a layer is the same everywhere", (*comparison).states},
	{"nothing dissolves what does not dissolve", (*comparison).undoing},
	{"dates keep their words and their bounds", (*comparison).dates},
	{"hours that nobody recorded are not none", (*comparison).hours},
	{"nothing is said to be unrecorded where something is", (*comparison).silences},
	{"work without a layer and solvents are shown", (*comparison).works},
	{"a material that is not sure stays so", (*comparison).certainty},
	{"the address of a merged record answers from the survivor", (*comparison).merged},
	{"a specimen that left says so", (*comparison).departure},
	{"contradictions are shown, and what was retracted is marked", (*comparison).marks},
	{"a label says what the contents say", (*comparison).bottles},
	{"strengths are the same everywhere", (*comparison).strengths},
	{"counts are the same everywhere", (*comparison).counts},
	{"nothing is shown of what does not stand", (*comparison).gone},
	{"in brief and as text the same is said as in full", (*comparison).briefly},
}

// compare goes through the table.
func (c *comparison) compare() []string {
	for _, a := range agreements {
		c.row = a.name
		a.check(c)
	}
	return c.found
}

func (c *comparison) hazards() {
	want := c.gravest()
	for _, v := range append([]*looked{c.looked}, c.old...) {
		for name, text := range v.text {
			for hazard, status := range want {
				if !namesHazard(text, hazard, status) {
					c.say(name, "lacks %q", saysHazard(hazard, status))
				}
			}
			if want["arsenic"] == "" && strings.Contains(text, "hold arsenic") {
				c.say(name, "names a hazard that nobody stated")
			}
			if _, ok := v.json[name]["at"]; ok || name == "summary" || name == "check" {
				c.sameHazards(name, v.json[name]["hazards"], want)
			}
		}
	}
	c.sameHazards("suitability report", c.suited["hazards"], want)
	for _, line := range c.suitTable {
		for hazard, status := range want {
			if !strings.Contains(line["hazards"], hazard+" ("+strings.ReplaceAll(status, "-", " ")+")") {
				c.say("suitability table", "lacks %s, %s: %q", hazard, status, line["hazards"])
			}
		}
	}
	for hazard, status := range want {
		if !namesHazard(c.core["materialEntityRemarks"], hazard, status) {
			c.say("archive", "lacks %q: %v", saysHazard(hazard, status), c.core)
		}
	}
	for _, asked := range []string{"arsenic", "mercury", "asbestos"} {
		for _, before := range objectsIn(c.json["removal plan"]["before"]) {
			says := fmt.Sprint(before["sentence"])
			if want[asked] != "" && strings.Contains(says, "not recorded whether") && strings.Contains(says, asked) {
				c.say("removal plan", "does not know that %s is %s", asked, want[asked])
			}
		}
	}
}

func (c *comparison) sameHazards(view string, said any, want map[string]string) {
	got := map[string]string{}
	for _, h := range objectsIn(said) {
		got[h["hazard"].(string)] = h["status"].(string)
	}
	if !maps.Equal(got, want) {
		c.say(view, "has the hazards %v, want %v", got, want)
	}
}

func (c *comparison) areas() {
	for _, l := range c.layers {
		here := c.present(l)
		if len(here) == 0 {
			c.say("present state", "lacks layer %d.%d", l.key, l.position)
			continue
		}
		ground := groundIn(here)
		for _, a := range l.pastTreatment.areas {
			if !slices.Contains(ground, a) && !(c.inherited(l.pastTreatment)) {
				c.say("present state", "has %d on %v, want %s", l.key, ground, a)
			}
		}
		own := c.specimen(0)
		if l.bath() && !c.inherited(l.pastTreatment) && slices.ContainsFunc(l.pastTreatment.areas, func(a string) bool {
			return a != "tail" || !own.apart
		}) && !slices.Contains(ground, "whole") {
			c.say("present state", "has a bath on %v, want the whole piece", ground)
		}
		c.sameGround(l, ground)
	}
}

// groundIn are the areas of a layer as the present state has them.
func groundIn(here map[string]object) []string {
	var rows []string
	for area, x := range here {
		if areas := textsIn(x["areas"]); len(areas) > 0 {
			return sorted(areas)
		}
		if area != "" {
			rows = append(rows, area)
		}
	}
	// the area that it was put on comes before those in which its state differs
	slices.SortFunc(rows, func(a, b string) int {
		return cmp.Or(-cmp.Compare(btoi(a == "whole"), btoi(b == "whole")), cmp.Compare(len(a), len(b)))
	})
	return rows[:min(1, len(rows))]
}

func btoi(is bool) int {
	if is {
		return 1
	}
	return 0
}

func (c *comparison) sameGround(l pastLayer, ground []string) {
	if row := c.rowOf(l); c.inherited(l.pastTreatment) {
		c.reportedWithParts(l)
	} else if row == nil {
		c.say("report", "lacks layer %d.%d", l.key, l.position)
	} else if got := sorted(textsIn(row["areas"])); !slices.Equal(got, ground) || row["areasKnown"] != (len(ground) > 0) {
		c.say("report", "has %d on %v, the present state on %v", l.key, got, ground)
	}
	if line := c.lineOf(l); !c.inherited(l.pastTreatment) &&
		!slices.Equal(sorted(strings.FieldsFunc(line["areas"], func(r rune) bool {
			return r == ';' || r == ' '
		})), ground) {
		c.say("report's table", "has %d on %v, the present state on %v", l.key, line["areas"], ground)
	}
	if step := c.stepOf(l); step != nil {
		if got := sorted(textsIn(step["layer"].(object)["areas"])); !slices.Equal(got, ground) {
			c.say("removal plan", "has %d on %v, the present state on %v", l.key, got, ground)
		}
	}
	for analysis, on := range c.bearings(c.ids[l.key]) {
		if len(on) == 0 {
			c.say("suitability", "%s says nothing of layer %d", analysis, l.key)
			continue
		}
		for _, o := range on {
			for _, a := range ground {
				if !slices.Contains(textsIn(o["areas"]), a) {
					c.say("suitability", "%s has %d on %v, the present state on %v", analysis, l.key, o["areas"], ground)
				}
			}
		}
	}
	for _, a := range ground {
		if !strings.Contains(c.text["timeline"], ">"+a+"<") {
			c.say("timeline", "does not draw %s, on which %d is", a, l.key)
		}
		for _, u := range objectsIn(c.json["suitability"]["unrecorded"]) {
			if u["area"] == a {
				c.say("suitability", "%s has no record, and %d is on it", a, l.key)
			}
		}
	}
	for _, page := range []string{"page", "sheet"} {
		shown := map[string]bool{}
		for _, row := range shownRows(c.text[page]) {
			if row.treatment == c.ids[l.key] {
				shown[row.area] = true
			}
		}
		for area := range c.present(l) {
			if area = cmp.Or(area, "place not known"); !shown[area] {
				c.say(page, "does not show %d on %s", l.key, area)
			}
		}
	}
}

// reportedWithParts: a layer that is inherited has its row under the whole, which
// names the part.
func (c *comparison) reportedWithParts(l pastLayer) {
	if !slices.ContainsFunc(c.reported, func(row object) bool {
		return idOf(row["treatment"]) == c.ids[l.key] && slices.Contains(idsIn(row["parts"]), c.stands)
	}) {
		c.say("report", "does not name the part that inherited layer %d", l.key)
	}
}

func (c *comparison) tests() {
	for _, t := range c.standing {
		if t.action != "test" || t.tested == 0 || t.observed == "unknown" {
			continue
		}
		for _, l := range c.layers {
			last, first := boundsOf(t.date)[1], boundsOf(l.date)[0]
			if l.key != t.tested || last == "" || first == "" || last >= first {
				continue
			}
			id := c.ids[t.key]
			for _, x := range c.present(l) {
				if strings.Contains(saidIn(x["reversibility"]), id) {
					c.say("present state", "takes test %d, which is older, for evidence of %d", t.key, l.key)
				}
			}
			if strings.Contains(saidIn(c.rowOf(l)["evidence"]), id) {
				c.say("report", "takes test %d, which is older, for evidence of %d", t.key, l.key)
			}
			if step := c.stepOf(l); step != nil && strings.Contains(saidIn(step["candidates"]), `"treatment":"`+id) {
				c.say("removal plan", "takes test %d, which is older, for evidence of %d", t.key, l.key)
			}
			for _, view := range []string{"present state", "removal plan", "check"} {
				if !slices.ContainsFunc(objectsIn(c.json[view]["contradictions"]), func(x object) bool {
					return x["code"] == "test-before-layer" && slices.Contains(idsIn(x["treatments"]), id)
				}) {
					c.say(view, "does not say that test %d is older than %d", t.key, l.key)
				}
			}
		}
	}
}

func (c *comparison) states() {
	for _, l := range c.layers {
		here := c.present(l)
		states := map[string]bool{}
		for _, x := range here {
			states[x["state"].(string)] = true
		}
		if row := c.rowOf(l); row != nil && !states[fmt.Sprint(row["state"])] {
			c.say("report", "%d is %v, and in no area: %v", l.key, row["state"], states)
		} else if row != nil && c.lineOf(l)["state"] != row["state"] {
			c.say("report's table", "%d is %v, in JSON %v", l.key, c.lineOf(l)["state"], row["state"])
		}
		if step := c.stepOf(l); step != nil {
			c.plannedAs(l, step["layer"].(object)["state"], states)
		}
		for _, gone := range objectsIn(c.json["removal plan"]["alreadyGone"]) {
			if idOf(gone["treatment"]) == c.ids[l.key] && gone["position"] == float64(l.position) {
				c.plannedAs(l, gone["state"], states)
			}
		}
		c.statesShown(l, here)
		c.leftOf(l, here)
	}
}

// plannedAs: the plan has a layer in the state that the report has, and one that some
// area has.
func (c *comparison) plannedAs(l pastLayer, state any, states map[string]bool) {
	if row := c.rowOf(l); !states[fmt.Sprint(state)] || row != nil && row["state"] != state {
		c.say("removal plan", "%d is %v, in the report %v, in the areas %v", l.key, state, row["state"], states)
	}
}

// statesShown: pages say of a layer in an area what the present state says.
func (c *comparison) statesShown(l pastLayer, here map[string]object) {
	for _, page := range []string{"page", "sheet"} {
		shown := shownRows(c.text[page])
		for area, x := range here {
			want := strings.ReplaceAll(x["state"].(string), "-", " ")
			if !slices.ContainsFunc(shown, func(r shownRow) bool {
				return r.treatment == c.ids[l.key] && r.area == cmp.Or(area, "place not known") &&
					(r.state == want || strings.HasPrefix(r.state, want+" by"))
			}) {
				c.say(page, "does not say that %d on %s is %s", l.key, area, want)
			}
		}
	}
}

// leftOf: a layer is as the only thing that happened to it left it, in the areas that
// this was about, and elsewhere as it was.
func (c *comparison) leftOf(l pastLayer, here map[string]object) {
	var by []*pastTreatment
	for _, t := range c.standing {
		if t.action == "removal" && (len(t.removes) == 0 || slices.Contains(t.removes, l.key)) ||
			t.action == "examination" && t.outcome == "none-found" {
			by = append(by, t)
		}
	}
	switch {
	case len(by) > 1 || len(by) == 1 && len(by[0].removes) == 0:
		return
	case len(by) == 1 && (c.inherited(by[0]) || c.inherited(l.pastTreatment)):
		return
	}
	for area, x := range here {
		want := "present"
		if len(by) == 1 {
			want = leftIn(area, by[0], l)
		}
		sublimed := x["state"] == "should-have-sublimed" && strings.Contains(fmt.Sprint(l.use), "cyclododecane") &&
			want == "present"
		if want != "" && x["state"] != want && !sublimed {
			c.say("present state", "%d on %q is %v, want %s", l.key, area, x["state"], want)
		}
	}
}

// leftIn is what a removal left of a layer in an area; "" where that is not plain.
func leftIn(area string, by *pastTreatment, l pastLayer) string {
	off, on := boundsOf(by.date)[1], boundsOf(l.date)[0]
	within := func(a, b string) bool { return a == b || b == "whole" || strings.HasPrefix(a, b+"/") }
	switch {
	case off != "" && on != "" && off < on:
		return "present"
	case area == "" && by.left == "not-detected":
		return "unknown"
	case area == "" || len(by.areas) == 0 || slices.ContainsFunc(by.areas, func(a string) bool { return within(area, a) }):
		return by.left
	case slices.ContainsFunc(by.areas, func(a string) bool { return within(a, area) }) || len(l.pastTreatment.areas) == 0:
		return ""
	}
	return "present"
}

func (c *comparison) undoing() {
	for _, l := range c.layers {
		row, line := c.rowOf(l), c.lineOf(l)
		for area, x := range c.present(l) {
			r := x["reversibility"].(object)
			for _, question := range []string{"redissolvable", "removable", "retreatable"} {
				answer := r[question].(object)["answer"]
				if row != nil && row[question] != answer || line != nil && line[question] != answer {
					c.say("report", "%s of %d is %v and in the table %v, in the present state %v", question, l.key, row[question],
						line[question], answer)
				}
				for _, page := range []string{"page", "sheet"} {
					for _, shown := range shownRows(c.text[page]) {
						said := map[string]string{
							"redissolvable": shown.redissolvable, "removable": shown.removable, "retreatable": shown.retreatable,
						}[question]
						if shown.treatment == c.ids[l.key] && len(l.uses) < 2 && said != answer {
							c.say(page, "%s of %d is %s, in the present state %v", question, l.key, said, answer)
						}
					}
				}
			}
			if r["redissolvable"].(object)["answer"] != "no" {
				continue
			}
			if step := c.stepOf(l); step != nil {
				for _, candidate := range objectsIn(step["candidates"]) {
					if candidate["observed"] == "dissolves" && candidate["opensBarrier"] != true {
						c.say("removal plan", "%d on %s does not dissolve, and %v dissolves it", l.key, area, candidate["solvent"])
					}
				}
			}
			if by := textsIn(row["removedBy"]); len(by) > 0 && c.stepOf(l) != nil &&
				!strings.Contains(saidIn(c.stepOf(l)["candidates"]), `"opensBarrier":true`) {
				c.say("report", "%d does not dissolve, and %v takes it off", l.key, by)
			}
		}
		if row != nil && (strings.Join(textsIn(row["removedBy"]), "; ") != line["removedBy"] ||
			strings.Join(textsIn(row["testsOnly"]), "; ") != line["testsOnly"]) {
			c.say("report's table", "%d comes off with %q and %q, in JSON %v and %v", l.key, line["removedBy"],
				line["testsOnly"], row["removedBy"], row["testsOnly"])
		}
	}
}
