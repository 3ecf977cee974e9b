package httpapi_test

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"meniscus/internal/edtf"
	"meniscus/internal/material"
)

// comparison holds what every view says of one history against what was recorded,
// and against the other views.
type comparison struct {
	*told
	*looked
	stands   string    // the id of the record that stands
	old      []*looked // the same, asked under the addresses of records merged into it
	standing []*pastTreatment
	layers   []pastLayer
	row      string // of the table of what has to agree
	found    []string
}

// pastLayer is a layer that a history's treatment left.
type pastLayer struct {
	*pastTreatment
	position int
	use      pastUse // empty: nobody said what
}

func (c *comparison) say(view, format string, args ...any) {
	said := c.row + " | " + view + " | " + fmt.Sprintf(format, args...)
	if !slices.Contains(c.found, said) {
		c.found = append(c.found, said)
	}
}

// compared makes the comparison of a history that is on record.
func compared(h *told, l *ledgers) *comparison {
	c := &comparison{told: h, stands: h.records[0]}
	c.looked = h.museum.look(c.stands)
	l.of(c.looked, c.stands)
	for _, sp := range h.specimens {
		if sp.came == "merged" && h.survivor(sp.key) == 0 {
			c.old = append(c.old, h.museum.look(h.records[sp.key]))
		}
	}
	for i := range h.list {
		if t := &h.list[i]; t.fate != "retracted" && t.fate != "redacted" && h.belongs(t) {
			c.standing = append(c.standing, t)
		}
	}
	for _, t := range c.standing {
		if !slices.Contains(putsOn, t.action) || t.nothing {
			continue
		}
		for i, u := range t.uses {
			c.layers = append(c.layers, pastLayer{t, i, u})
		}
		if len(t.uses) == 0 {
			c.layers = append(c.layers, pastLayer{t, 0, pastUse{}})
		}
	}
	return c
}

// belongs tells whether a treatment is one of the first specimen: stated about it,
// about a record merged into it, or inherited from the one that it was part of.
func (h *told) belongs(t *pastTreatment) bool {
	switch h.specimen(t.on).came {
	case "parent":
		return h.inherits(t)
	case "sampled", "undone":
		return false
	}
	return h.survivor(t.on) == 0
}

// inherits tells whether a treatment of the whole reached the part before it was
// split off. One without a date is of the time when it was recorded, and all are
// recorded after the split.
func (h *told) inherits(t *pastTreatment) bool {
	if from := boundsOf(t.date)[0]; from == "" || from > splitDay {
		return false
	}
	reached := func(a string) bool {
		return a == "whole" || a == splitArea || strings.HasPrefix(a, splitArea+"/") || strings.HasPrefix(splitArea, a+"/")
	}
	return len(t.areas) == 0 || slices.ContainsFunc(t.areas, reached)
}

func (h *told) inherited(t *pastTreatment) bool { return h.specimen(t.on).came == "parent" }

// boundsOf is the first and the last day that a date may mean.
func boundsOf(date string) [2]string {
	if bounds, ok := pastDates[date]; ok {
		return bounds
	}
	p, out := edtf.MustParse(date).Period(), [2]string{}
	for i, day := range []edtf.Day{p.From, p.To} {
		if !day.IsZero() {
			out[i] = day.String()
		}
	}
	return out
}

// bath tells whether a treatment reached the whole piece.
func (t *pastTreatment) bath() bool {
	return !t.partial && slices.Contains([]string{"immersion", "vacuum", "vapour-chamber"}, t.method)
}

// dateSaid is a date in words.
func (t *pastTreatment) dateSaid() string {
	if t.date == "" {
		return "unknown"
	}
	return edtf.MustParse(t.date).Words()
}

func (t *pastTreatment) qualified() bool { return strings.ContainsAny(t.date, "~?%") }

// materialName is a material's name.
func materialName(id string) string {
	m, ok := material.Builtin().Material(id)
	if !ok {
		panic("no material " + id)
	}
	return m.Name
}

// unlisted are words of which nobody knows what they may mean; of others the tables
// say it where the record does not.
const unlisted = "Lack Nr. 3"

// names are what every view of a layer has to name: its material, or all that it
// may be, or the words.
func (u pastUse) names() (names []string) {
	switch {
	case u.from == "jar" || u.from == "bottle":
		return []string{materialName(copolymer)}
	case u.material != "":
		return []string{materialName(u.material)}
	case u.words == unlisted && len(u.candidates) == 0:
		return []string{u.words}
	}
	for _, id := range u.candidates {
		names = append(names, materialName(id))
	}
	return names
}

// doubtful tells whether what the layer is made of is named and not sure.
func (u pastUse) doubtful() bool {
	return u.words != "" || u.certainty == "inferred" || u.certainty == "unknown"
}

// brought are the solvents that a use is known to have come with.
func (u pastUse) brought() []string {
	if u.from == "jar" || u.from == "bottle" {
		return []string{"acetone"}
	}
	return u.solvents
}

// gravest is each hazard of the records that tell of the specimen, by how it stands, with
// those that their treatments make suspected.
func (h *told) gravest() map[string]string {
	out := map[string]string{}
	state := func(name, status string) {
		if cmp.Compare(slices.Index(hazardWords, status), slices.Index(hazardWords, out[name])) > 0 {
			out[name] = status
		}
	}
	for _, sp := range h.specimens {
		if !h.tells(sp) {
			continue
		}
		for name, status := range sp.hazards {
			state(name, status)
		}
	}
	for _, t := range h.past.list {
		if t.fate == "retracted" || t.fate == "redacted" || !h.tells(*h.specimen(t.on)) {
			continue
		}
		for _, u := range t.uses {
			if u.material == "cellulose-nitrate" || slices.Equal(u.candidates, []string{"cellulose-nitrate"}) {
				state("cellulose-nitrate", "suspected")
			}
		}
	}
	return out
}

// tells tells whether a record says what the first specimen may hold.
func (h *told) tells(sp pastSpecimen) bool {
	return sp.came != "undone" &&
		(h.survivor(sp.key) == 0 || sp.came == "parent" || sp.came == "sampled" || h.ofOrigin(sp))
}

// ofOrigin tells whether a record was merged into what the first came from.
func (h *told) ofOrigin(sp pastSpecimen) bool {
	came := h.specimen(h.survivor(sp.key)).came
	return came == "parent" || came == "sampled"
}

// went is where the specimen went, if it left.
func (h *told) went() string {
	for _, sp := range h.specimens {
		if h.survivor(sp.key) == 0 && sp.came != "undone" && sp.left != "" {
			return sp.left
		}
	}
	return ""
}

// present are what the present state says of a layer, area by area; those that
// nobody can place have no area.
func (c *comparison) present(l pastLayer) map[string]object {
	out := map[string]object{}
	is := func(x object) bool {
		return idOf(x["treatment"]) == c.ids[l.key] && x["position"] == float64(l.position)
	}
	for _, a := range objectsIn(c.json["present state"]["areas"]) {
		for _, x := range objectsIn(a["layers"]) {
			if is(x) {
				out[a["area"].(string)] = x
			}
		}
	}
	for _, x := range objectsIn(c.json["present state"]["unplaced"]) {
		if is(x) {
			out[""] = x
		}
	}
	return out
}

// rowOf is the layer's row of the report. One that is inherited has its row under
// the specimen that it was put on, and nil here.
func (c *comparison) rowOf(l pastLayer) object {
	for _, row := range c.reported {
		if idOf(row["treatment"]) == c.ids[l.key] && row["position"] == float64(l.position) && idOf(row["specimen"]) == c.stands {
			return row
		}
	}
	return nil
}

// lineOf is the layer's line of the report's table.
func (c *comparison) lineOf(l pastLayer) map[string]string {
	if c.inherited(l.pastTreatment) {
		return nil
	}
	n := 0
	for _, line := range c.table {
		if line["treatment"] != c.ids[l.key] {
			continue
		}
		if n == l.position {
			return line
		}
		n++
	}
	return nil
}

// stepOf is the step of the removal plan that takes the layer off, if one does.
func (c *comparison) stepOf(l pastLayer) object {
	for _, step := range objectsIn(c.json["removal plan"]["steps"]) {
		if idOf(step["treatment"]) == c.ids[l.key] && step["position"] == float64(l.position) {
			return step
		}
	}
	return nil
}

// bearings are what the suitability says of a layer's treatment, by analysis.
func (c *comparison) bearings(id string) map[string][]object {
	out := map[string][]object{}
	for _, a := range objectsIn(c.json["suitability"]["analyses"]) {
		on := objectsIn(a["open"])
		for _, b := range objectsIn(a["bearing"]) {
			on = append(on, b["on"].(object))
		}
		name := a["analysis"].(string)
		out[name] = nil
		for _, o := range on {
			if o["role"] != nil && slices.Contains(idsIn(o["layers"]), id) {
				out[name] = append(out[name], o)
			}
		}
	}
	return out
}

// node is a treatment in a document of linked data.
func (c *comparison) node(view, id string) object {
	return nodesOf(c.json[view])["https://meniscus.example/v1/treatments/"+id]
}

// ofTreatment is what a view says of one treatment, as text; "" where it says
// nothing.
func (c *comparison) ofTreatment(view string, t *pastTreatment) string {
	id := c.ids[t.key]
	switch view {
	case "page", "sheet":
		for _, row := range shownTreatments(c.text[view]) {
			if row.treatment == id {
				return fmt.Sprint(row)
			}
		}
	case "fragment":
		for _, item := range strings.Split(c.text[view], "<li>") {
			if strings.Contains(item, id) {
				return item
			}
		}
	case "summary":
		for _, item := range objectsIn(c.json[view]["items"]) {
			if strings.HasSuffix(item["treatment"].(string), id) {
				return saidIn(item)
			}
		}
	case "linked data", "provenance", "states":
		if n := c.node(view, id); n["label"] != nil && n["action"] != nil || n["_label"] != nil {
			return saidIn(n)
		}
	case "archive":
		for _, row := range c.facts {
			if strings.HasPrefix(row["measurementID"][strings.LastIndex(row["measurementID"], "/")+1:], id) && row["parentMeasurementID"] == "" {
				return fmt.Sprint(row)
			}
		}
	}
	return ""
}

// tellers are the views that tell of each treatment by its address.
var tellers = []string{"page", "sheet", "fragment", "summary", "linked data", "provenance", "states", "archive"}
