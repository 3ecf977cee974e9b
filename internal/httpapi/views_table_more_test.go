package httpapi_test

import (
	"fmt"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"
)

func (c *comparison) dates() {
	for _, l := range c.layers {
		for _, x := range c.present(l) {
			c.sameDates("present state", l.pastTreatment, x["dates"])
		}
		if row := c.rowOf(l); row != nil {
			c.sameDates("report", l.pastTreatment, row["dates"])
			line, dates := c.lineOf(l), row["dates"].(object)
			if line["earliest"] != orNothing(dates["earliest"]) || line["latest"] != orNothing(dates["latest"]) ||
				line["dateWritten"] != orNothing(dates["written"]) {
				c.say("report's table", "%d is of %v, in JSON of %v", l.key, line, dates)
			}
		}
		if step := c.stepOf(l); step != nil {
			c.sameDates("removal plan", l.pastTreatment, step["layer"].(object)["dates"])
		}
		if l.qualified() && !slices.ContainsFunc(titles(c.text["timeline"]), func(t string) bool {
			return strings.Contains(t, l.dateSaid())
		}) {
			c.say("timeline", "lacks %q", l.dateSaid())
		}
	}
	for _, t := range c.standing {
		for _, view := range tellers {
			said := c.ofTreatment(view, t)
			if !strings.Contains(said, t.dateSaid()) && (t.date == "" || !strings.Contains(said, t.date)) && t.date != "" {
				c.say(view, "%d is of %q (%s): %s", t.key, t.dateSaid(), t.date, said)
			}
		}
		if n := c.node("linked data", c.ids[t.key]); n != nil && t.date != "" {
			span, bounds := n["timespan"].(object), boundsOf(t.date)
			from, to := orNothing(span["begin_of_the_begin"]), orNothing(span["end_of_the_end"])
			if !strings.HasPrefix(from, bounds[0]) || !strings.HasPrefix(to, bounds[1]) || (bounds[1] == "") != (to == "") {
				c.say("linked data", "%d is from %s to %s, want %v", t.key, from, to, bounds)
			}
		}
		c.removedInOrder(t)
	}
}

func orNothing(v any) string {
	if v == nil {
		return ""
	}
	return fmt.Sprint(v)
}

func (c *comparison) sameDates(view string, t *pastTreatment, said any) {
	d, want := said.(object), boundsOf(t.date)
	written := ""
	if t.qualified() {
		written = t.date
	}
	if orNothing(d["earliest"]) != want[0] || orNothing(d["latest"]) != want[1] || orNothing(d["written"]) != written {
		c.say(view, "%d is of %v, want %v %q", t.key, d, want, written)
	}
}

// removedInOrder: a removal that may be later than its layer is no contradiction.
func (c *comparison) removedInOrder(t *pastTreatment) {
	for _, key := range t.removes {
		for _, l := range c.layers {
			off, on := boundsOf(t.date)[1], boundsOf(l.date)[0]
			if l.key != key || off != "" && on != "" && off < on {
				continue
			}
			for _, x := range objectsIn(c.json["present state"]["contradictions"]) {
				if of := idsIn(x["treatments"]); x["code"] == "removal-before-layer" && slices.Contains(of, c.ids[key]) &&
					slices.Contains(of, c.ids[t.key]) {
					c.say("present state", "%d may be later than %d, and contradicts it", t.key, key)
				}
			}
		}
	}
}

func (c *comparison) hours() {
	type place struct{ area, solvent string }
	stood := map[place]object{}
	for _, x := range objectsIn(c.json["suitability"]["exposures"]) {
		stood[place{x["area"].(string), x["solvent"].(string)}] = x
		if x["hours"] == 0.0 {
			c.say("suitability", "%v stood on %v for no time", x["solvent"], x["area"])
		}
	}
	for _, x := range objectsIn(c.suited["exposures"]) {
		if beyond(x, stood[place{x["area"].(string), x["solvent"].(string)}]) != "" {
			c.say("suitability report", "has %v, one specimen's answer %v", x,
				stood[place{x["area"].(string), x["solvent"].(string)}])
		}
	}
	for at, x := range stood {
		says := at.solvent + " in " + at.area + ": hours not recorded"
		if x["hours"] != nil {
			says = fmt.Sprintf("%s in %s: %s", at.solvent, at.area, inTable(x["hours"].(float64)))
			if x["unknown"] != 0.0 {
				says = fmt.Sprintf("%s in %s: at least %s", at.solvent, at.area, inTable(x["hours"].(float64)))
			}
		}
		for _, line := range c.suitTable {
			if !strings.Contains(line["solventHours"], says) {
				c.say("suitability table", "lacks %q: %s", says, line["solventHours"])
			}
		}
	}
	for view, text := range c.text {
		if strings.Contains(text, " 0 h") || strings.Contains(text, " no hours") {
			c.say(view, "says 0 h: %s", text)
		}
	}
	for _, t := range c.standing {
		for _, x := range t.exposures {
			c.oneExposure(t, x, func(area string) object { return stood[place{area, x.solvent}] })
		}
	}
}

// oneExposure is shown by all that show exposures.
func (c *comparison) oneExposure(t *pastTreatment, x pastExposure, at func(area string) object) {
	for _, area := range t.areas {
		if s := at(area); !slices.Contains(idsIn(s["treatments"]), c.ids[t.key]) && !c.inherited(t) {
			c.say("suitability", "does not know that %d brought %s to %s: %v", t.key, x.solvent, area, s)
		} else if s != nil && x.hours == 0 && x.said == "" && s["unknown"] == 0.0 {
			c.say("suitability", "knows the hours of %s in %s, which %d did not say", x.solvent, area, t.key)
		} else if hours, _ := s["hours"].(float64); hours < x.hours && !c.inherited(t) {
			c.say("suitability", "has %v hours of %s in %s, and %d alone says %v", hours, x.solvent, area, t.key, x.hours)
		}
	}
	says := fmt.Sprintf("%v h", x.hours)
	switch {
	case x.said != "":
		says = x.said
	case x.hours == 0:
		says = "time not known"
	}
	for _, view := range []string{"page", "sheet", "fragment", "summary", "linked data", "provenance", "archive"} {
		said := c.ofTreatment(view, t)
		asUnknown := view == "sheet" && says == "time not known" && strings.Contains(said, "unknown")
		if !strings.Contains(said, says) && !asUnknown {
			c.say(view, "lacks that %s of %d stood for %s: %s", x.solvent, t.key, says, said)
		}
	}
}

// silences: what says that nothing is on record is right.
func (c *comparison) silences() {
	for _, t := range c.standing {
		if c.inherited(t) {
			continue
		}
		for _, area := range t.areas {
			for _, page := range []string{"page", "sheet"} {
				for _, row := range shownRows(c.text[page]) {
					if row.area == area && row.nothing == "nothing recorded" {
						c.say(page, "says that nothing is recorded of %s, and %d was done there", area, t.key)
					}
				}
			}
			for _, a := range objectsIn(c.json["present state"]["areas"]) {
				if a["area"] == area && a["status"] == "not-recorded" && a["withoutLayer"] == nil {
					c.say("present state", "has nothing on record of %s, and %d was done there", area, t.key)
				}
			}
			for _, u := range objectsIn(c.json["suitability"]["unrecorded"]) {
				if u["area"] == area && t.action != "examination" && t.action != "damage" {
					c.say("suitability", "has no treatment on record of %s, and %d (%s) was done there", area, t.key, t.action)
				}
			}
		}
	}
	if len(c.standing) == 0 {
		return
	}
	for view, text := range c.text {
		for _, silence := range []string{"no treatment recorded", "nothing on record", "No conservation treatment",
			"no conservation treatment recorded", "no conservation on record", "registered-nothing-recorded", "No treatment is on record"} {
			if strings.Contains(text, silence) {
				c.say(view, "says %q of %d treatments", silence, len(c.standing))
			}
		}
	}
}

// works: every view that tells of a treatment names what was done and with what.
func (c *comparison) works() {
	for _, t := range c.standing {
		var liquids []string
		for _, x := range t.exposures {
			liquids = append(liquids, materialName(x.solvent))
		}
		for _, u := range t.uses {
			for _, s := range u.brought() {
				liquids = append(liquids, materialName(s))
			}
		}
		for _, view := range tellers {
			said := c.ofTreatment(view, t)
			if plain := strings.ToLower(strings.ReplaceAll(said, "-", " ")); !strings.Contains(plain,
				strings.ReplaceAll(t.action, "-", " ")) {
				c.say(view, "lacks %d, %s: %s", t.key, t.action, said)
			}
			for _, liquid := range liquids {
				if !strings.Contains(said, liquid) && !(strings.HasPrefix(view, "prov") || view == "states") {
					c.say(view, "%d lacks %s: %s", t.key, liquid, said)
				}
			}
		}
		for _, liquid := range liquids {
			if !slices.ContainsFunc(titles(c.text["timeline"]), func(title string) bool {
				return strings.Contains(title, liquid)
			}) && !strings.Contains(c.text["timeline"], liquid) {
				c.say("timeline", "%d lacks %s", t.key, liquid)
			}
			if !strings.Contains(c.text["line"], liquid) {
				c.say("line", "%d lacks %s: %s", t.key, liquid, c.text["line"])
			}
		}
		if !slices.Contains(putsOn, t.action) && !slices.ContainsFunc(titles(c.text["timeline"]), func(title string) bool {
			return strings.HasPrefix(title, timelineWord(t))
		}) {
			c.say("timeline", "does not mark %d, %s", t.key, t.action)
		}
	}
}

// timelineWord is how a timeline names a treatment that left no layer.
func timelineWord(t *pastTreatment) string {
	switch t.action {
	case "examination":
		return "examined"
	case "test":
		return "test: " + t.observed
	}
	return strings.ReplaceAll(t.action, "-", " ")
}

func (c *comparison) certainty() {
	for _, l := range c.layers {
		sure := map[bool]string{true: l.use.certainty}[l.use.material != "" || l.use.words != ""]
		for _, x := range c.present(l) {
			m := x["material"].(object)
			if sure != "" && m["certainty"] != sure {
				c.say("present state", "%d is %v, want %s", l.key, m["certainty"], sure)
			}
			if candidates := idsIn(m["candidates"]); len(l.use.candidates) > 0 &&
				!slices.Equal(candidates, sorted(l.use.candidates)) {
				c.say("present state", "%d has the candidates %v, want %v", l.key, m["candidates"], l.use.candidates)
			}
		}
		row, line := c.rowOf(l), c.lineOf(l)
		if row != nil {
			c.described("report", l, fmt.Sprint(row["material"]))
			c.described("report's table", l, line["material"])
			if sure != "" && (row["certainty"] != sure || line["certainty"] != sure) {
				c.say("report", "%d is %v and in the table %v, want %s", l.key, row["certainty"], line["certainty"], sure)
			}
		}
		for _, x := range objectsIn(c.json["temperature"]["layers"]) {
			if idOf(x["treatment"]) == c.ids[l.key] && x["position"] == float64(l.position) {
				c.described("temperature", l, fmt.Sprint(x["material"]))
				if sure != "" && x["certainty"] != sure {
					c.say("temperature", "%d is %v, want %s", l.key, x["certainty"], sure)
				}
			}
		}
		for _, on := range c.bearings(c.ids[l.key]) {
			if !slices.ContainsFunc(on, func(o object) bool { return c.describes(l, fmt.Sprint(o["subject"])) }) {
				c.say("suitability", "does not describe %d.%d: %v", l.key, l.position, on)
			}
		}
		if !slices.ContainsFunc(titles(c.text["timeline"]), func(t string) bool { return c.describes(l, t) }) {
			c.say("timeline", "does not describe %d.%d (%+v)", l.key, l.position, l.use)
		}
		c.doubtShown(l)
	}
}

func idsIn(v any) (ids []string) {
	for _, m := range objectsIn(v) {
		ids = append(ids, m["id"].(string))
	}
	return ids
}

func (c *comparison) described(view string, l pastLayer, text string) {
	if !c.describes(l, text) {
		c.say(view, "%d.%d, %+v, is %q", l.key, l.position, l.use, text)
	}
}

// describes tells whether a text names all that a layer is or may be, and says so
// where it is not sure.
func (c *comparison) describes(l pastLayer, text string) bool {
	for _, name := range l.use.names() {
		if !strings.Contains(text, name) {
			return false
		}
	}
	doubts := []string{"(one of them; not known which)", "(read from words)", "(inferred)", "(not identified for certain)",
		"something recorded as"}
	return !l.use.doubtful() || slices.ContainsFunc(doubts, func(d string) bool { return strings.Contains(text, d) })
}

// doubtShown: what is told of a treatment keeps the words and the doubt.
func (c *comparison) doubtShown(l pastLayer) {
	for _, view := range append([]string{"rows of the page"}, tellers...) {
		said := c.ofTreatment(view, l.pastTreatment)
		if view == "rows of the page" {
			for _, row := range shownRows(c.text["page"]) {
				if row.treatment == c.ids[l.key] {
					said += row.material
				}
			}
		}
		switch u := l.use; {
		case u.words != "" && !strings.Contains(said, u.words):
			c.say(view, "%d lacks the words %q: %s", l.key, u.words, said)
		case u.words == "" && len(u.names()) > 0 && !strings.Contains(said, u.names()[0]):
			c.say(view, "%d lacks %v: %s", l.key, u.names(), said)
		case (u.certainty == "inferred" || u.certainty == "unknown") && !strings.Contains(said, "identification "):
			c.say(view, "%d is not said to be doubtful: %s", l.key, said)
		}
	}
	for _, id := range l.use.candidates {
		for view, text := range map[string]string{"sheet": c.text["sheet"], "provenance": c.text["provenance"]} {
			if !strings.Contains(text, id) && !strings.Contains(text, materialName(id)) {
				c.say(view, "does not say that the words of %d may mean %s", l.key, id)
			}
		}
	}
}

// merged: under the address of a merged record stands what is on record of the
// survivor, and that it is.
func (c *comparison) merged() {
	for _, v := range c.old {
		says := "The record " + v.id + " was merged; the record " + c.stands + " stands for the specimen"
		for view, text := range v.text {
			if !strings.Contains(text, says) {
				c.say(view, "does not say that %s was merged", v.id)
			}
			if strings.Contains(c.text[view], says) {
				c.say(view, "the survivor says that it was merged")
			}
		}
		for view, body := range v.json {
			switch {
			case view == "linked data" || view == "provenance" || view == "states":
				c.sameNodes(view, v)
				continue
			case view == "summary" && !strings.HasSuffix(orNothing(body["mergedInto"]), c.stands),
				view != "summary" && fmt.Sprint(body["mergedInto"]) != fmt.Sprint(object{"id": c.stands}):
				c.say(view, "has mergedInto %v, want %s", body["mergedInto"], c.stands)
			}
			if asked, stands := c.unasked(view, v), c.unasked(view, c.looked); asked != stands {
				c.say(view, "says under the old address %s\nand of the survivor %s", asked, stands)
			}
		}
		for _, view := range []string{"page", "sheet"} {
			if saidIn(fmt.Sprint(shownRows(v.text[view]))) != saidIn(fmt.Sprint(shownRows(c.text[view]))) ||
				fmt.Sprint(shownTreatments(v.text[view])) != fmt.Sprint(shownTreatments(c.text[view])) {
				c.say(view, "shows other rows under the old address")
			}
		}
		if got, want := titles(v.text["timeline"]), titles(c.text["timeline"]); !slices.Equal(got, want) {
			c.say("timeline", "draws other bars under the old address: %v, want %v", got, want)
		}
	}
}

// unasked is an answer without what differs by the record that was asked about.
func (c *comparison) unasked(view string, v *looked) string {
	body := object{}
	for name, member := range v.json[view] {
		switch name {
		case "specimen", "number", "mergedInto", "sequence":
		case "cautions":
			rest := slices.DeleteFunc(textsIn(member), func(text string) bool {
				return strings.Contains(text, "was merged; the record")
			})
			if len(rest) > 0 {
				body[name] = rest
			}
		default:
			body[name] = member
		}
	}
	return saidIn(body)
}

func (c *comparison) sameNodes(view string, v *looked) {
	there := nodesOf(v.json[view])
	for _, t := range c.standing {
		if there[publicURL+"/v1/treatments/"+c.ids[t.key]] == nil {
			c.say(view, "lacks %d under the old address", t.key)
		}
	}
}

func (c *comparison) departure() {
	went := c.went()
	for _, v := range append([]*looked{c.looked}, c.old...) {
		for view, text := range v.text {
			if says := "passed on to Museum of the Far Shore, date "; strings.Contains(text, says) != (went != "") ||
				went != "" && !strings.Contains(text, says+went) {
				c.say(view, "says that it left: %v, want %q", strings.Contains(text, says), went)
			}
		}
	}
	if says := orNothing(c.suited["passedOn"]); (says != "") != (went != "") {
		c.say("suitability report", "says that it left: %q, want %q", says, went)
	}
	for _, line := range c.suitTable {
		if (line["passedOn"] != "") != (went != "") {
			c.say("suitability table", "says that it left: %q, want %q", line["passedOn"], went)
		}
	}
	if went != "" && !strings.Contains(c.core["materialEntityRemarks"], "passed on to Museum of the Far Shore") {
		c.say("archive", "does not say that it left: %v", c.core)
	}
}

func (c *comparison) marks() {
	for _, x := range objectsIn(c.json["present state"]["contradictions"]) {
		says := x["sentence"].(string)
		for _, page := range []string{"page", "sheet"} {
			if !strings.Contains(c.text[page], says) {
				c.say(page, "lacks the contradiction %q", says)
			}
		}
	}
	for _, view := range []string{"removal plan", "check"} {
		if got, want := saidIn(c.json[view]["contradictions"]),
			saidIn(c.json["present state"]["contradictions"]); got != want {
			c.say(view, "has the contradictions %s, the present state %s", got, want)
		}
	}
	for i := range c.list {
		gone := &c.past.list[i]
		if gone.fate != "retracted" {
			continue
		}
		for _, t := range c.standing {
			if !slices.Contains(t.removes, gone.key) && t.tested != gone.key && t.over != gone.key {
				continue
			}
			views := map[string]string{
				"sheet":                 c.text["sheet"],
				"page of the treatment": string(c.museum.as(asPage, "/v1/treatments/"+c.ids[t.key]).want(200).body),
			}
			if slices.Contains(t.removes, gone.key) {
				views["provenance"] = c.text["provenance"]
				views["provenance of the treatment"] = string(c.museum.as(asLinked,
					"/v1/treatments/"+c.ids[t.key]+"/provenance").want(200).body)
			}
			for view, text := range views {
				if !strings.Contains(strings.ToLower(text), "treatment "+c.ids[gone.key]+" (retracted)") {
					c.say(view, "does not mark %d, which %d names and which was retracted", gone.key, t.key)
				}
			}
		}
	}
}

func (c *comparison) bottles() {
	for _, id := range c.stock {
		contents := c.museum.do(http.MethodGet, "/v1/batches/"+id+"/contents?detail=full", nil).want(200)
		label := c.museum.do(http.MethodGet, "/v1/batches/"+id+"/label", nil).want(200)
		value, known := contents.at("now", "strength", "value").(float64)
		says := saying(label, 0, "strength-now")
		var now float64
		_, _ = fmt.Sscanf(says, "Now %g ", &now) // of three digits
		if known && strings.Contains(says, "not known") ||
			says != "" && !strings.Contains(says, "not known") && math.Abs(now-value) > 0.006*value {
			c.say("label", "says %q, the contents %v (%v)", says, value, known)
		}
		made, ok := contents.at("asMade", "strength", "value").(float64)
		if want := 100 * c.past.jar.grams / 150; ok && want > 0 && math.Abs(made-want) > 0.01*want {
			c.say("contents", "are %v g/dL as made, want %v", made, want)
		}
	}
}

func (c *comparison) strengths() {
	for _, l := range c.layers {
		row, line := c.rowOf(l), c.lineOf(l)
		for _, x := range c.present(l) {
			strength, _ := x["strength"].(object)
			if want, _, said := strings.Cut(l.use.strength, " "); said &&
				(strength == nil || fmt.Sprint(strength["value"]) != want || strength["origin"] != "stated") {
				c.say("present state", "%d is %v strong, want %s", l.key, strength, l.use.strength)
			}
			if row != nil && ((row["strength"] == nil) != (x["strength"] == nil) || beyond(row["strength"], x["strength"]) != "") {
				c.say("report", "%d is %v strong, in the present state %v", l.key, row["strength"], x["strength"])
			}
			if step := c.stepOf(l); step != nil && saidIn(step["layer"].(object)["strength"]) != saidIn(x["strength"]) {
				c.say("removal plan", "%d is %v strong, in the present state %v", l.key, step["layer"], x["strength"])
			}
			inLine := any(line["strength"])
			if number, err := strconv.ParseFloat(line["strength"], 64); err == nil {
				inLine = number
			}
			if line != nil && (strength == nil && inLine != "" || strength != nil && beyond(inLine, strength["value"]) != "" ||
				line["strengthUnit"] != orNothing(strength["unit"]) || line["strengthOrigin"] != orNothing(strength["origin"])) {
				c.say("report's table", "%d is %v strong, in the present state %v", l.key, line, strength)
			}
			c.strengthShown(l, strength)
		}
	}
}

// strengthShown: what is told of a treatment has a strength where the present state
// has one.
func (c *comparison) strengthShown(l pastLayer, strength object) {
	for _, view := range []string{"page", "sheet", "fragment", "summary", "linked data", "archive"} {
		said := c.ofTreatment(view, l.pastTreatment)
		if l.use.strength != "" && !strings.Contains(said, l.use.strength) {
			c.say(view, "%d lacks %s: %s", l.key, l.use.strength, said)
		}
		if l.use.from != "" && len(l.uses) == 1 && (strength != nil) != strings.Contains(said, "g/dL") {
			c.say(view, "%d has a strength of %v in the present state: %s", l.key, strength, said)
		}
	}
}

func (c *comparison) counts() {
	n := len(c.standing)
	if got := c.json["summary"]["treatments"]; got != float64(n) {
		c.say("summary", "counts %v treatments, want %d", got, n)
	}
	if says := fmt.Sprintf("%d conservation treatment", n); n > 0 && !strings.Contains(c.text["badge"], says) {
		c.say("badge", "lacks %q", says)
	}
	for _, t := range c.standing {
		id := c.ids[t.key]
		if !slices.ContainsFunc(c.looked.list, func(item object) bool { return item["id"] == id }) {
			c.say("list of treatments", "lacks %d", t.key)
		}
		for _, view := range tellers {
			if c.ofTreatment(view, t) == "" {
				c.say(view, "lacks %d", t.key)
			}
		}
	}
	if got := len(shownTreatments(c.text["page"])); got != n {
		c.say("page", "has %d treatments, want %d", got, n)
	}
	findings := objectsIn(c.json["check"]["findings"])
	if blocked := slices.ContainsFunc(findings, func(f object) bool {
		return f["severity"] == "block" && f["overridden"] == nil
	}); c.json["check"]["blocked"] != blocked {
		c.say("check", "is blocked: %v, its findings say %v", c.json["check"]["blocked"], blocked)
	}
	if got := len(c.suitTable); c.suited != nil && got != len(objectsIn(c.suited["analyses"])) {
		c.say("suitability table", "has %d lines", got)
	}
}

// gone: a treatment that was retracted, or is another specimen's, leaves no layer
// and is not told of.
func (c *comparison) gone() {
	for i := range c.past.list {
		t := &c.past.list[i]
		if t.fate == "redacted" || slices.Contains(c.standing, t) {
			continue
		}
		for _, view := range tellers {
			if c.ofTreatment(view, t) != "" {
				c.say(view, "tells of %d, which does not stand", t.key)
			}
		}
		if len(c.present(pastLayer{pastTreatment: t})) > 0 {
			c.say("present state", "has the layer of %d, which does not stand", t.key)
		}
	}
}

// inTable is a time as a table says it: in minutes below an hour.
func inTable(hours float64) string {
	if hours < 1 {
		return fmt.Sprintf("%.4g min", hours*60)
	}
	return fmt.Sprintf("%.4g h", hours)
}
