package stack

import (
	"fmt"
	"slices"
	"strings"
)

// pattern tells roles apart in black and white.
type pattern struct {
	id, label string
	size      float64
	shape     string
	roles     []Role
}

var patterns = []pattern{
	{"consolidant", "consolidant, in the body", 6, `<circle cx="3" cy="3" r="1.3" fill="#000"/>`,
		[]Role{Consolidant, PenetratingConsolidant}},
	{"joint", "joint", 6, `<path d="M0 6L6 0" stroke="#000" stroke-width="1.4"/>`, []Role{Adhesive}},
	{"film", "coating or paint", 5, `<path d="M0 2.5H5" stroke="#000" stroke-width="1"/>`, []Role{Coat, Paint}},
	{"barrier", "barrier", 6, `<path d="M0 0L6 6M0 6L6 0" stroke="#000" stroke-width=".8"/>`, []Role{Barrier}},
	{"label", "label or ink", 5, `<path d="M2.5 0V5" stroke="#000" stroke-width="1"/>`, []Role{LabelBase, LabelTop, Ink}},
	{"fill", "fill or mount", 4, `<rect width="4" height="4" fill="#888"/>`, []Role{Fill, Mount}},
	{"other", "other, or not known", 4, `<rect width="4" height="4" fill="#ddd"/>`, []Role{OtherRole, UnknownRole}},
}

func patternOf(r Role) string {
	for _, p := range patterns {
		for _, x := range p.roles {
			if x == r {
				return p.id
			}
		}
	}
	return "other"
}

// stretch is a part of a bar in which the layer is in one state.
type stretch struct {
	from, to float64
	state    LayerState
	inPart   bool // reduced, or not detected, in a part of the area alone
}

// bar draws one layer in one area.
func (d *drawing) bar(l int, area Area, top float64) {
	top += labelHeight
	layer := &d.layers[l]
	of := d.barOf(l)
	title, stretches := of.title, d.stretches(l, area, of.became)
	if over := len(stretches) - maxStretches; over > 0 {
		title += fmt.Sprintf("; %d earlier changes are not drawn", over)
		stretches = stretches[over:]
	}
	d.put(`<g><title>%s</title>`, escape(title))
	begin := d.beginning(layer, top)
	for _, p := range stretches {
		d.stretch(p, patternOf(layer.Role), top)
	}
	d.barLabel(layer, begin, top)
	d.put(`</g>`)
}

// layerBar is what all bars of one layer say.
type layerBar struct {
	title  string
	became []LocalState
}

// barOf works out once what all bars of a layer say.
func (d *drawing) barOf(l int) layerBar {
	if d.ofLayer == nil {
		d.ofLayer = map[int]layerBar{}
	}
	of, known := d.ofLayer[l]
	if !known {
		of = layerBar{d.sayLayer(l), d.becameOf(l)}
		d.ofLayer[l] = of
	}
	return of
}

// maxStretches is how many changes of one layer are drawn.
const maxStretches = 50

// starts gives where a bar begins and from where it is sure.
func (d *drawing) starts(layer *Layer) (begin, sure float64) {
	from, to := layer.When.From, layer.When.To
	begin, sure = gutterLeft, picWidth-gutterRight
	if !from.IsZero() {
		begin = d.x(from)
	}
	if !to.IsZero() {
		sure = d.x(to)
	} else if !d.at.IsZero() {
		sure = d.x(d.at)
	}
	if sure-begin < 3 {
		return begin, begin
	}
	return begin, sure
}

// beginning draws the time in which the layer was put on where it is not a
// day, and gives where the bar begins.
func (d *drawing) beginning(layer *Layer, top float64) float64 {
	begin, sure := d.starts(layer)
	if sure == begin {
		return begin
	}
	d.put(`<rect x="%.1f" y="%.1f" width="%.1f" height="%g" fill="#fff" stroke="#000" stroke-width="1" `+
		`stroke-dasharray="3 2.5"/>`, begin, top, sure-begin, barHeight)
	if layer.When.From.IsZero() {
		d.put(`<rect x="%.1f" y="%.1f" width="3" height="%g" fill="#fff"/>`+
			`<text x="%.1f" y="%.1f" font-weight="bold">?</text>`, begin-1, top-1, barHeight+2, begin+2, top+12)
	}
	return begin
}

// stretches cuts the sure part of a bar at the events that changed the layer in
// this area. A state too short to be seen is not drawn.
func (d *drawing) stretches(l int, area Area, became []LocalState) []stretch {
	layer := &d.layers[l]
	_, sure := d.starts(layer)
	end := picWidth - gutterRight
	if !d.at.IsZero() {
		end = d.x(d.at)
	}
	out := []stretch{{from: sure, to: end, state: layer.base}}
	id := d.atlas.id(area)
	for _, e := range became {
		if _, shared := d.atlas.common(id, e.area); !shared {
			continue
		}
		next := stretch{to: end, state: e.State}
		if !d.atlas.within(id, e.area) { // in the rest of this area it stays as it was
			next.state, next.inPart = out[len(out)-1].state, true
		}
		when := d.byID[e.By].When
		day := when.To
		if day.IsZero() {
			day = when.From
		}
		if day.IsZero() {
			continue
		}
		last := &out[len(out)-1]
		next.from = max(d.x(day), last.from)
		switch {
		case next.state == last.state && next.inPart == last.inPart:
		case next.from-last.from < 0.05 && len(out) > 1:
			*last = stretch{last.from, end, next.state, next.inPart}
		default:
			last.to = next.from
			out = append(out, next)
		}
	}
	return out
}

// stretch draws one part: full for present, half height for reduced, full with an
// empty upper half where it is reduced in a part of the area, an empty outline for
// not detected, broken lines for unknown.
func (d *drawing) stretch(p stretch, fill string, top float64) {
	width := max(2, p.to-p.from)
	y, height, style := top, barHeight, fmt.Sprintf(`fill="url(#p-%s)" stroke="#000" stroke-width="1"`, fill)
	switch p.state {
	case Present:
		if p.inPart {
			d.put(`<rect x="%.1f" y="%.1f" width="%.1f" height="%.1f" fill="#fff" stroke="#000" stroke-width="1"/>`, p.from, top,
				width, barHeight)
			y, height = top+barHeight/2, barHeight/2
		}
	case Reduced:
		y, height = top+barHeight/2, barHeight/2
	case NotDetected, ShouldHaveSublimed:
		y, height = top+barHeight-4, 4
		style = `fill="none" stroke="#000" stroke-width="1" stroke-dasharray="2 2"`
	case StateUnknown:
		y, height = top+barHeight/2, barHeight/2
		style = `fill="#fff" stroke="#000" stroke-width="1" stroke-dasharray="5 2"`
	}
	d.put(`<rect x="%.1f" y="%.1f" width="%.1f" height="%.1f" %s/>`, p.from, y, width, height, style)
}

// barLabel writes what the layer is made of above its bar.
func (d *drawing) barLabel(layer *Layer, begin, top float64) {
	text := shortName(d.knowledge.names(layer.Identity))
	if doubt := layer.Identity.doubt(); doubt != "" {
		text += " (" + doubt + ")"
	}
	if in := d.solventNames(layer.Solvents); len(in) > 0 {
		text += " in " + listed(in, 3)
	}
	text += ", " + dateText(layer.Date, layer.When)
	if begin+width(text) <= picWidth-gutterRight {
		d.text(begin, top-3, picWidth-gutterRight-begin, text, plain)
		return
	}
	d.text(picWidth-gutterRight, top-3, picWidth-gutterRight-margin, text, leftward)
}

// shortName cuts a long name.
func shortName(name string) string {
	name, _, _ = strings.Cut(name, " (solution grade)")
	runes := []rune(name)
	if len(runes) > 46 {
		return string(runes[:45]) + "…"
	}
	return name
}

// placeEvents gives every event of a row a line of its own where the words of
// two would run into each other, and says how many lines there are.
func (d *drawing) placeEvents(a Area) int {
	var ends []float64 // where each line is free again
	for i := range d.events {
		e := &d.events[i]
		if e.area != a {
			continue
		}
		e.place(d)
		line := 0
		for line < len(ends) && ends[line] > e.left {
			line++
		}
		if line == len(ends) {
			ends = append(ends, 0)
		}
		ends[line] = e.right + 8
		e.line = line
	}
	return len(ends)
}

// place works out where an event stands and how much room its words take: to its
// right where they fit, else on the side with more room.
func (e *timelineEvent) place(d *drawing) {
	when := e.treatment.When
	day := when.To
	if day.IsZero() {
		day = when.From
	}
	e.word, e.x = d.eventWord(e.treatment, 3), gutterLeft+8
	if day.IsZero() {
		e.word += " (date unknown)"
	} else {
		e.x = d.x(day)
	}
	begin := e.x
	if !when.From.IsZero() {
		begin = min(begin, d.x(when.From))
	}
	right, left := picWidth-gutterRight-e.x-9, min(e.x-9, begin-3)-margin
	if e.room = right; width(e.word) > right && left > right {
		e.leftward, e.room = true, left
	}
	taken := min(width(e.word), e.room)
	e.left, e.right = e.x-6, e.x+9+taken
	if e.leftward {
		e.left, e.right = margin+left-taken, e.x+6
	}
	e.left = min(e.left, begin)
}

// marks draws removals, tests, samples and examinations under the bars of their
// area.
func (d *drawing) marks() {
	for _, e := range d.events {
		for i := range d.rows {
			if d.rows[i].area == e.area {
				d.mark(e, d.rows[i].top+float64(max(1, len(d.rows[i].lanes)))*laneHeight+float64(e.line)*eventHeight)
			}
		}
	}
}

func (d *drawing) mark(e timelineEvent, top float64) {
	when := e.treatment.When
	d.put(`<g><title>%s, %s, on %s</title>`, escape(d.eventWord(e.treatment, mostUsed)), escape(e.treatment.dateText()),
		escape(string(e.area)))
	if !when.From.IsZero() && e.x-d.x(when.From) > 3 {
		d.put(`<line x1="%.1f" y1="%.1f" x2="%.1f" y2="%.1f" stroke="#000" stroke-dasharray="3 2.5"/>`, d.x(when.From), top+7,
			e.x, top+7)
	}
	d.put(`%s`, symbol(e.treatment.Action, e.x, top+7))
	if e.leftward {
		d.text(margin+e.room, top+11, e.room, e.word, leftward)
	} else {
		d.text(e.x+9, top+11, e.room, e.word, plain)
	}
	d.put(`</g>`)
}

// eventWord names a treatment, with up to most of the materials and liquids
// that it was done with.
func (d *drawing) eventWord(t *Treatment, most int) string {
	word := actionWord(t)
	if with := d.usedIn(t); len(with) > 0 {
		word += " with " + listed(with, most)
	}
	return word
}

// mostUsed is how many materials and liquids of a treatment the words beside a mark
// name; the mark itself has room for three.
const mostUsed = 20

// usedIn names the materials and liquids that a treatment was done with.
func (d *drawing) usedIn(t *Treatment) []string {
	var names []string
	for i := range t.Uses {
		u := &t.Uses[i]
		for _, r := range slices.Concat(u.Solids, u.Candidates) {
			names = append(names, d.knowledge.name(r.Material))
		}
		if u.Verbatim != "" {
			names = append(names, fmt.Sprintf("%q", u.Verbatim))
		}
		names = append(names, d.solventNames(u.Solvents)...)
	}
	for _, x := range t.Exposures {
		names = append(names, d.knowledge.name(x.Solvent))
	}
	if t.Trial != nil && t.Trial.Solvent != "" {
		names = append(names, d.knowledge.name(t.Trial.Solvent))
	}
	return compactedText(names)
}

func (d *drawing) solventNames(shares []Share) []string {
	var names []string
	for _, s := range shares {
		names = append(names, d.knowledge.name(s.Solvent))
	}
	return names
}

func actionWord(t *Treatment) string {
	switch {
	case t.Action == Removing && t.Removal != nil && t.Removal.Left == NotDetected:
		return "removal: not detected after"
	case t.Action == Removing:
		return "removal"
	case t.Action == Testing && t.Trial != nil && t.Trial.Observed != "":
		return "test: " + t.Trial.Observed
	case t.Action == Examining && t.Examination != nil && t.Examination.Outcome == "none-found":
		return "examined: none found"
	case t.Action == Examining:
		return "examined"
	}
	return strings.ReplaceAll(string(t.Action), "-", " ")
}

// symbol is a mark for an event, told apart by its shape.
func symbol(a Action, x, y float64) string {
	switch a {
	case Removing:
		return fmt.Sprintf(`<path d="M%.1f %.1fl10 10m0 -10l-10 10" stroke="#000" stroke-width="2.2" fill="none"/>`, x-5, y-5)
	case Testing:
		return fmt.Sprintf(`<path d="M%.1f %.1fl5 5l-5 5l-5 -5z" fill="#fff" stroke="#000" stroke-width="1.4"/>`, x, y-5)
	case Sampling:
		return fmt.Sprintf(`<path d="M%.1f %.1fl5 9h-10z" fill="#000"/>`, x, y-5)
	case Damage:
		return fmt.Sprintf(`<path d="M%.1f %.1fl5 -4l-3 4l5 -2l-6 7z" fill="#000"/>`, x-4, y)
	}
	if a != Examining {
		return fmt.Sprintf(`<rect x="%.1f" y="%.1f" width="8" height="8" fill="#fff" stroke="#000" stroke-width="1.4"/>`, x-4,
			y-4)
	}
	return fmt.Sprintf(`<circle cx="%.1f" cy="%.1f" r="4.5" fill="#fff" stroke="#000" stroke-width="1.4"/>`, x, y)
}

// legend says what the patterns and marks mean.
func (d *drawing) legend() {
	y := d.bottom + 14
	x := 14.0
	for _, p := range patterns {
		d.put(`<rect x="%.1f" y="%.1f" width="22" height="11" fill="url(#p-%s)" stroke="#000"/>`+
			`<text x="%.1f" y="%.1f">%s</text>`, x, y, p.id, x+27, y+9.5, escape(p.label))
		x += 27 + float64(len(p.label))*letter + 16
	}
	y += 22
	x = 14
	for _, m := range []struct {
		action Action
		x      float64
		label  string
	}{{Removing, 20, "removal"}, {Testing, 98, "test"}, {Examining, 158, "examination"}, {Sampling, 254, "sample"}} {
		d.put(`%s<text x="%g" y="%.1f">%s</text>`, symbol(m.action, m.x, y+5), m.x+10, y+9, m.label)
	}
	d.put(`<rect x="330" y="%.1f" width="22" height="11" fill="#fff" stroke="#000" stroke-dasharray="3 2.5"/>`+
		`<text x="357" y="%.1f">put on some time in here</text>`, y, y+9)
	d.put(`<rect x="520" y="%.1f" width="22" height="5.5" fill="url(#p-film)" stroke="#000"/>`+
		`<text x="547" y="%.1f">reduced</text>`, y+5, y+9)
	d.put(`<rect x="14" y="%.1f" width="22" height="11" fill="#fff" stroke="#000"/>`+
		`<rect x="14" y="%.1f" width="22" height="5.5" fill="url(#p-film)" stroke="#000"/>`+
		`<text x="41" y="%.1f">reduced, or not detected, in a part of the area</text>`, y+18, y+23.5, y+27)
	d.put(`<rect x="330" y="%.1f" width="22" height="5.5" fill="#fff" stroke="#000" stroke-dasharray="5 2"/>`+
		`<text x="357" y="%.1f">whether it is still there is not known</text>`, y+21, y+27)
	d.put(`<rect x="576" y="%.1f" width="22" height="4" fill="none" stroke="#000" stroke-dasharray="2 2"/>`+
		`<text x="603" y="%.1f">not detected, or should have sublimed: not the same as absent</text>`, y+24, y+27)
	left := ""
	if d.hidden > 0 {
		left = fmt.Sprintf("%d more layers are not drawn. ", d.hidden)
	}
	if d.undrawn > 0 {
		left += fmt.Sprintf("Layers that are drawn are on %d more areas that are not shown. ", d.undrawn)
	}
	if d.unmarked > 0 {
		left += fmt.Sprintf("%d more treatments that left no layer are not marked.", d.unmarked)
	}
	for i, line := range wrapped([]string{strings.TrimSpace(left)}) {
		d.text(margin, y+48+float64(i)*noticeHeight, picWidth-2*margin, line, bold)
	}
}
