package stack

import (
	"fmt"
	"slices"
	"strings"

	"meniscus/internal/edtf"
)

// Sizes of the picture, in its own units (about 1/96 inch).
const (
	picWidth     = 1000.0
	gutterLeft   = 190.0
	gutterRight  = 20.0
	axisTop      = 74.0
	labelHeight  = 14.0 // room for the words above a bar
	laneHeight   = 32.0
	eventHeight  = 20.0
	barHeight    = 12.0
	rowGap       = 10.0
	noticeHeight = 16.0
	margin       = 14.0
	letter       = 6.1 // width of a letter at size 11, about
)

// Timeline draws the specimen's history as an SVG: time across, areas down,
// layers as bars, what left no layer marked: removals, tests, cleaning. A date that
// is not sure is drawn as not sure: the time in which a layer was put on is
// dashed and empty, and an unknown beginning is open. Roles differ by pattern,
// not by colour, and every mark has a text of its own.
func (s *Stack) Timeline(title string) []byte {
	t := s.layOut()
	d := drawing{Stack: s, timeline: t, title: title, notices: s.specimen.Notices()}
	d.place()
	d.head()
	d.axis()
	for i := range d.rows {
		if d.left() {
			return nil
		}
		d.row(&d.rows[i])
	}
	d.marks()
	d.legend()
	d.b.WriteString("</g>\n</svg>\n")
	return []byte(d.b.String())
}

type drawing struct {
	*Stack
	timeline
	title string
	// notices stand above everything else.
	notices []string
	b       strings.Builder
	ofLayer map[int]layerBar
	bottom  float64
	height  float64
}

// place gives every row its height.
func (d *drawing) place() {
	y := axisTop + 12
	for i := range d.rows {
		d.rows[i].top = y
		y += float64(max(1, len(d.rows[i].lanes)))*laneHeight + rowGap
		y += float64(d.placeEvents(d.rows[i].area)) * eventHeight
	}
	d.bottom = y
	d.height = y + 126
}

// x is where a day stands across the picture.
func (d *drawing) x(day edtf.Day) float64 {
	span := float64(max(1, d.from.DaysUntil(d.to)))
	return gutterLeft + float64(d.from.DaysUntil(day))/span*(picWidth-gutterLeft-gutterRight)
}

func (d *drawing) put(format string, args ...any) { fmt.Fprintf(&d.b, format+"\n", args...) }

func (d *drawing) head() {
	notices := wrapped(d.notices)
	above := float64(len(notices)) * noticeHeight
	d.put(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %g %g" width="%g" height="%g" role="img" `+
		`aria-labelledby="timeline-title timeline-desc" font-family="sans-serif" font-size="11">`, picWidth, d.height+above,
		picWidth, d.height+above)
	d.put(`<title id="timeline-title">%s</title>`, escape(d.title))
	d.put(`<desc id="timeline-desc">%s</desc>`, escape(d.describeAll()))
	d.put(`<defs>`)
	for _, p := range patterns {
		d.put(`<pattern id="p-%s" width="%g" height="%g" patternUnits="userSpaceOnUse">`+
			`<rect width="%g" height="%g" fill="#fff"/>%s</pattern>`, p.id, p.size, p.size, p.size, p.size, p.shape)
	}
	d.put(`</defs>`)
	d.put(`<rect width="%g" height="%g" fill="#fff"/>`, picWidth, d.height+above)
	for i, notice := range notices {
		d.text(margin, 16+float64(i)*noticeHeight, picWidth-2*margin, notice, bold)
	}
	d.put(`<g transform="translate(0 %g)">`, above)
	d.text(margin, 26, picWidth-2*margin, d.title, heading)
	d.put(`<text x="14" y="44" fill="#333">What is recorded, up to %s. An area without a bar or a mark is not shown to `+
		`be untreated.</text>`, escape(dayOr(d.at, "the last record")))
}

func dayOr(day edtf.Day, otherwise string) string {
	if day.IsZero() {
		return otherwise
	}
	return day.String()
}

// describeAll is the picture in words.
func (d *drawing) describeAll() string {
	first := strings.Join(append(slices.Clone(d.notices), ""), " ")
	var parts []string
	for i := range d.layers {
		if i == 20 {
			parts = append(parts, fmt.Sprintf("and %d more layers", len(d.layers)-i))
			break
		}
		parts = append(parts, d.sayLayer(i))
	}
	if len(parts) == 0 {
		parts = append(parts, "No layer is recorded, which does not mean that there is none")
	}
	for i, e := range d.events {
		if i == 20 {
			parts = append(parts, fmt.Sprintf("and %d more treatments", len(d.events)-i+d.unmarked))
			break
		}
		parts = append(parts, fmt.Sprintf("%s on %s", d.eventWord(e.treatment, mostUsed), e.area))
	}
	return first + strings.Join(parts, "; ") + "."
}

func (d *drawing) sayLayer(l int) string {
	layer := &d.layers[l]
	where := make([]string, 0, len(layer.Areas))
	for _, a := range layer.Areas {
		where = append(where, string(a))
	}
	return fmt.Sprintf("%s on %s, %s", strings.TrimPrefix(d.called(layer), "the "),
		saidOr(listed(where, 3), string(placeUnknown)), d.sayState(l))
}

func (d *drawing) sayState(l int) string {
	layer := &d.layers[l]
	if layer.State == Present && len(layer.Local) > 0 {
		return "present, in part reduced or not detected"
	}
	return strings.ReplaceAll(string(layer.State), "-", " ")
}

func (d *drawing) axis() {
	d.put(`<g stroke="#bbb" stroke-width="1">`)
	years := tickYears(d.from, d.to)
	for _, y := range years {
		x := d.x(edtf.Day{Year: y, Month: 1, Day: 1})
		d.put(`<line x1="%.1f" y1="%g" x2="%.1f" y2="%.1f"/>`, x, axisTop, x, d.bottom)
	}
	d.put(`</g>`)
	for _, y := range years {
		d.put(`<text x="%.1f" y="%g" text-anchor="middle" fill="#333">%d</text>`, d.x(edtf.Day{Year: y, Month: 1, Day: 1}),
			axisTop-3, y)
	}
	if !d.at.IsZero() {
		x := d.x(d.at)
		d.put(`<line x1="%.1f" y1="%g" x2="%.1f" y2="%.1f" stroke="#000" stroke-dasharray="1 3"/>`, x, axisTop, x, d.bottom)
		d.put(`<text x="%.1f" y="%.1f" text-anchor="end" font-style="italic">%s</text>`, x, d.bottom+3, d.at)
	}
}

func (d *drawing) row(r *timelineRow) {
	d.put(`<line x1="10" y1="%.1f" x2="%g" y2="%.1f" stroke="#ddd"/>`, r.top-rowGap/2, picWidth-10, r.top-rowGap/2)
	for i, line := range wrapArea(r.area) {
		look := plain
		if i == 0 {
			look = bold
		}
		d.text(margin, r.top+13+float64(i)*13, gutterLeft-margin-4, line, look)
	}
	for i, l := range r.lanes {
		d.bar(l, r.area, r.top+float64(i)*laneHeight)
	}
}

// wrapArea writes a path on at most two lines that fit the gutter.
func wrapArea(a Area) []string {
	const most = 27 // letters that fit the gutter
	text := []rune(string(a))
	if len(text) <= most {
		return []string{string(text)}
	}
	if len(text) <= 2*most {
		return []string{string(text[:most]), string(text[most:])}
	}
	return []string{string(text[:most]), "…" + string(text[len(text)-most+1:])}
}

// escape makes text fit for XML; what XML cannot hold is left out.
func escape(text string) string {
	text = strings.Map(func(r rune) rune {
		if r < 0x20 && r != '\t' && r != '\n' || r == 0xFFFE || r == 0xFFFF {
			return -1
		}
		return r
	}, text)
	return strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&quot;").Replace(text)
}
