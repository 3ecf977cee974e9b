package solution

import (
	"fmt"
	"html"
	"math"
	"strings"

	"meniscus/internal/quantity"
)

// Measures of the drawing, in units of 1/96 inch.
const (
	sheetWidth  = 760.0
	sideLength  = 540.0
	leftCorner  = 110.0 // x of the corner of dispersion
	baseLine    = 560.0 // y of the lower side
	legendTop   = 660.0
	legendLine  = 22.0
	markRadius  = 9.0
	togetherFor = 2 * markRadius // marks closer than this share one label
)

// TeasTriangle draws the Teas fractions of a blend and its solvents as SVG: dispersion at
// the lower left, polar at the lower right, hydrogen bonding at the top. Each point is at
// the fractions as barycentric coordinates; every point has a number, and the blend a shape
// of its own, so that nothing depends on colour. No area of solubility is drawn:
// observations of a resin do not define an area, and are in the answer instead.
func TeasTriangle(a SolventBlendAnswer) []byte {
	var marks []mark
	for i, p := range a.Parts {
		m := mark{number: i + 1, part: p}
		if p.Teas != nil {
			m.x, m.y = place(*p.Teas)
			m.placed = true
		}
		marks = append(marks, m)
	}
	d := drawing{}
	height := legendTop + legendLine*float64(len(marks)+4)
	d.open(height, title(a), description(a))
	d.text(leftCorner-40, 40, `font-size="18" font-weight="bold"`, title(a))
	d.grid()
	d.axes()
	d.path(marks, a.Teas)
	d.marks(marks)
	if a.Teas != nil {
		d.blend(*a.Teas)
	}
	d.legend(marks, a.Teas)
	d.add("</svg>\n")
	return []byte(d.String())
}

// mark is one solvent on the sheet.
type mark struct {
	number int
	part   BlendPart
	x, y   float64
	placed bool
}

// corner positions.
var (
	cornerD = [2]float64{leftCorner, baseLine}
	cornerP = [2]float64{leftCorner + sideLength, baseLine}
	cornerH = [2]float64{leftCorner + sideLength/2, baseLine - sideLength*math.Sqrt(3)/2}
)

// place gives the point of three fractions. They are divided by their sum, which
// rounding may put at 99.9 or 100.1.
func place(t Teas) (x, y float64) {
	sum := t.Dispersion + t.Polar + t.Hydrogen
	d, p, h := t.Dispersion/sum, t.Polar/sum, t.Hydrogen/sum
	return d*cornerD[0] + p*cornerP[0] + h*cornerH[0], d*cornerD[1] + p*cornerP[1] + h*cornerH[1]
}

func title(a SolventBlendAnswer) string {
	if len(a.Parts) > 4 {
		return fmt.Sprintf("Teas triangle of %d solvents", len(a.Parts))
	}
	names := make([]string, len(a.Parts))
	for i, p := range a.Parts {
		names[i] = p.Name
	}
	return "Teas triangle: " + list(names)
}

// description describes the drawing in words, for people who cannot see it.
func description(a SolventBlendAnswer) string {
	var b strings.Builder
	b.WriteString("A triangle with dispersion at the lower left, polar at the lower right and hydrogen bonding " +
		"at the top. ")
	for i, p := range a.Parts {
		fmt.Fprintf(&b, "Point %d, %s: %s. ", i+1, p.Name, inWords(p.Teas))
	}
	fmt.Fprintf(&b, "The blend: %s.", inWords(a.Teas))
	return b.String()
}

func inWords(t *Teas) string {
	if t == nil {
		return "not placed, no fractions are held"
	}
	return fmt.Sprintf("dispersion %.0f, polar %.0f, hydrogen bonding %.0f per cent", t.Dispersion, t.Polar, t.Hydrogen)
}

// drawing gathers SVG.
type drawing struct{ strings.Builder }

func (d *drawing) add(format string, args ...any) { fmt.Fprintf(d, format, args...) }

func (d *drawing) open(height float64, title, description string) {
	d.add(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %.0f %.0f" width="%.0f" height="%.0f" role="img" `+
		`aria-labelledby="title description" font-family="sans-serif" font-size="14" fill="#000">`+"\n",
		sheetWidth, height, sheetWidth, height)
	d.add("<title id=\"title\">%s</title>\n<desc id=\"description\">%s</desc>\n", html.EscapeString(title),
		html.EscapeString(description))
	d.add(`<rect width="%.0f" height="%.0f" fill="#fff"/>`+"\n", sheetWidth, height)
}

func (d *drawing) line(x1, y1, x2, y2 float64, style string) {
	d.add(`<line x1="%.1f" y1="%.1f" x2="%.1f" y2="%.1f" %s/>`+"\n", x1, y1, x2, y2, style)
}

func (d *drawing) text(x, y float64, style, text string) {
	d.add(`<text x="%.1f" y="%.1f" %s>%s</text>`+"\n", x, y, style, html.EscapeString(text))
}

// grid draws the lines of equal fraction: every tenth fine, every fifth of the
// whole stronger.
func (d *drawing) grid() {
	for percent := 10.0; percent < 100; percent += 10 {
		style := `stroke="#ccc" stroke-width="0.6"`
		if math.Mod(percent, 20) == 0 {
			style = `stroke="#999" stroke-width="0.9"`
		}
		rest := 100 - percent
		for _, ends := range [][2]Teas{
			{{Dispersion: percent, Polar: rest}, {Dispersion: percent, Hydrogen: rest}},
			{{Polar: percent, Dispersion: rest}, {Polar: percent, Hydrogen: rest}},
			{{Hydrogen: percent, Dispersion: rest}, {Hydrogen: percent, Polar: rest}},
		} {
			x1, y1 := place(ends[0])
			x2, y2 := place(ends[1])
			d.line(x1, y1, x2, y2, style)
		}
	}
	d.add(`<path d="M%.1f %.1fL%.1f %.1fL%.1f %.1fZ" fill="none" stroke="#000" stroke-width="1.8"/>`+"\n", cornerD[0],
		cornerD[1], cornerP[0], cornerP[1], cornerH[0], cornerH[1])
}

// axes write the fractions at the sides. Each number stands where its lines leave
// the triangle, with a tick that runs on in their direction: along the base for
// dispersion, along the right side for polar, along the left one for hydrogen
// bonding.
func (d *drawing) axes() {
	const tick = 7
	s, c := math.Sin(math.Pi/3), math.Cos(math.Pi/3)
	style := `stroke="#000" stroke-width="1.2"`
	for percent := 0.0; percent <= 100; percent += 20 {
		label := fmt.Sprintf("%.0f", percent)
		x, y := place(Teas{Dispersion: percent, Polar: 100 - percent})
		d.line(x, y, x+tick*c, y+tick*s, style)
		d.text(x+3.2*tick*c, y+3.7*tick*s, `text-anchor="middle"`, label)
		x, y = place(Teas{Polar: percent, Hydrogen: 100 - percent})
		d.line(x, y, x+tick*c, y-tick*s, style)
		d.text(x+1.6*tick*c, y-1.6*tick*s, `text-anchor="start"`, label)
		x, y = place(Teas{Hydrogen: percent, Dispersion: 100 - percent})
		d.line(x, y, x-tick, y, style)
		d.text(x-1.5*tick, y+5, `text-anchor="end"`, label)
	}
	const away = 62
	middle := func(a, b [2]float64) (float64, float64) { return (a[0] + b[0]) / 2, (a[1] + b[1]) / 2 }
	name := `text-anchor="middle" font-size="16" font-weight="bold"`
	x, y := middle(cornerD, cornerP)
	d.text(x, y+away, name, "← dispersion, %")
	x, y = middle(cornerP, cornerH)
	d.side(x+away*s, y-away*c, 60, name, "polar, % →")
	x, y = middle(cornerD, cornerH)
	d.side(x-away*s, y-away*c, -60, name, "hydrogen bonding, % →")
}

// side writes along a slanting side.
func (d *drawing) side(x, y, degrees float64, style, text string) {
	d.text(x, y, fmt.Sprintf(`%s transform="rotate(%.0f %.1f %.1f)"`, style, degrees, x, y), text)
}

// path joins each solvent to the blend: a blend lies on the straight line between
// two solvents, and inside the area of more.
func (d *drawing) path(marks []mark, blend *Teas) {
	if blend == nil || len(marks) < 2 {
		return
	}
	x, y := place(*blend)
	for _, m := range marks {
		if m.placed {
			d.line(m.x, m.y, x, y, `stroke="#000" stroke-width="1.1" stroke-dasharray="5 4"`)
		}
	}
}

// marks draws the solvents as numbered circles. Those that lie on each other share
// one, with all their numbers.
func (d *drawing) marks(marks []mark) {
	drawn := make([]bool, len(marks))
	for i, m := range marks {
		if !m.placed || drawn[i] {
			continue
		}
		label := fmt.Sprint(m.number)
		for j := i + 1; j < len(marks); j++ {
			if o := marks[j]; o.placed && !drawn[j] && math.Hypot(o.x-m.x, o.y-m.y) < togetherFor {
				drawn[j] = true
				label += ", " + fmt.Sprint(o.number)
			}
		}
		width := markRadius + 4.2*float64(len(label)-1)
		d.add(`<rect x="%.1f" y="%.1f" width="%.1f" height="%.1f" rx="%.1f" fill="#fff" `+
			`stroke="#000" stroke-width="1.6"/>`+"\n", m.x-width, m.y-markRadius, 2*width, 2*markRadius, markRadius)
		d.text(m.x, m.y+4.5, `text-anchor="middle" font-size="13"`, label)
	}
}

// blend draws the mixture: a dark square on its point, ringed in white, over
// everything else.
func (d *drawing) blend(t Teas) {
	x, y := place(t)
	d.diamond(x, y)
}

func (d *drawing) diamond(x, y float64) {
	const r = 8.5
	d.add(`<path d="M%.1f %.1fl%.1f %.1fl%.1f %.1fl%.1f %.1fZ" fill="#0b3c5d" stroke="#fff" `+
		`stroke-width="2" paint-order="stroke"/>`+"\n", x, y-r, r, r, -r, r, -r, -r)
}

// legend lists the points with their fractions, and what the drawing rests on.
func (d *drawing) legend(marks []mark, blend *Teas) {
	y := legendTop
	number, name := leftCorner-40, leftCorner-16
	columns := []float64{480, 570, 680}
	for i, head := range []string{"dispersion", "polar", "hydrogen"} {
		d.text(columns[i], y, `text-anchor="end" font-size="12" fill="#333"`, head)
	}
	row := func(said string, t *Teas) {
		d.text(name, y, "", said)
		if t == nil {
			d.text(columns[2], y, `text-anchor="end" font-style="italic"`, "not placed: no fractions are held")
			return
		}
		for i, v := range []float64{t.Dispersion, t.Polar, t.Hydrogen} {
			d.text(columns[i], y, `text-anchor="end"`, fmt.Sprintf("%.0f", v))
		}
	}
	for _, m := range marks {
		y += legendLine
		d.text(number, y, `text-anchor="middle"`, fmt.Sprint(m.number))
		said := m.part.Name
		if m.part.ByVolume != nil {
			said += fmt.Sprintf(", %s %% by volume", quantity.Digits(100**m.part.ByVolume, 3))
		}
		row(shortened(said), m.part.Teas)
	}
	y += legendLine
	d.diamond(number, y-5)
	row("blend, averaged by volume", blend)
	y += 1.4 * legendLine
	d.text(leftCorner-40, y, `font-size="12" fill="#333"`,
		"Teas fractional solubility parameters: they place solvents, and decide nothing of a resin; see what was observed.")
}

// shortened keeps a name out of the columns of numbers; the description has it whole.
func shortened(said string) string {
	const most = 44
	if r := []rune(said); len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return said
}
