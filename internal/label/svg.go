package label

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"math"
	"meniscus/internal/typeface"
	"strconv"
	"strings"
)

// between pieces of a picture, in mm.
const apart = 4

// SVG draws all pieces, one below the other, in millimetres. Every line is as
// long as it was measured, whichever letters the viewer has.
func (l Label) SVG() []byte {
	width, height := 0.0, -float64(apart)
	for _, p := range l.Pieces {
		width, height = max(width, p.picture.width), height+p.picture.height+apart
	}
	var b bytes.Buffer
	fmt.Fprintf(&b,
		`<svg xmlns="http://www.w3.org/2000/svg" width="%smm" height="%smm" viewBox="0 0 %s %s" role="img" `+
			`aria-labelledby="title description">`+"\n",
		mm(width), mm(height), mm(width), mm(height))
	fmt.Fprintf(&b, "<title id=\"title\">%s</title>\n<desc id=\"description\">%s</desc>\n", escaped(l.title()),
		escaped(l.description()))
	fmt.Fprintf(&b, `<rect width="%s" height="%s" fill="#fff"/>`+"\n", mm(width), mm(height))
	y := 0.0
	for _, p := range l.Pieces {
		fmt.Fprintf(&b,
			`<g transform="translate(0 %s)" font-family="Go, Arial, 'Liberation Sans', Helvetica, sans-serif">`+"\n", mm(y))
		p.picture.svg(&b)
		b.WriteString("</g>\n")
		y += p.picture.height + apart
	}
	b.WriteString("</svg>\n")
	return b.Bytes()
}

// PictogramSVG draws a pictogram to stand in a page, with what it shows as its text.
func PictogramSVG(code string) string {
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="pictogram" viewBox="0 0 20 20" role="img" aria-label="%s">`, escaped(PictogramName(code)))
	shapes, _ := pictogram(code, point{10, 10}, 20/math.Sqrt2)
	for _, s := range shapes {
		fmt.Fprintf(&b, `<path fill="%s" d="%s"/>`, hex(s.ink), s.svg())
	}
	return b.String() + "</svg>"
}

// title names the label.
func (l Label) title() string {
	c := l.Pieces[len(l.Pieces)-1].Content
	return strings.TrimSuffix("Label "+c.text(CodeText)+": "+c.text(Name), ": ")
}

// description is all that the pieces say.
func (l Label) description() string {
	var out []string
	for _, p := range l.Pieces {
		if len(l.Pieces) > 1 {
			out = append(out, map[Place]string{OnContainer: "On the container:",
				OnOuterPackage: "On a tag or the outer package:"}[p.Place])
		}
		for _, s := range p.picture.says {
			out = append(out, sentence(s))
		}
	}
	return strings.Join(out, " ")
}

func (p picture) svg(b *bytes.Buffer) {
	fmt.Fprintf(b, `<rect x="0.05" y="0.05" width="%s" height="%s" fill="none" stroke="%s" stroke-width="0.1"/>`+"\n",
		mm(p.width-0.1), mm(p.height-0.1), hex(grey))
	for _, s := range p.shapes {
		fmt.Fprintf(b, `<path fill="%s" d="%s"/>`+"\n", hex(s.ink), s.svg())
	}
	for _, l := range p.lines {
		weight := ""
		if l.bold {
			weight = ` font-weight="bold"`
		}
		length := ""
		if typeface.Printable(l.text) == l.text { // letters that were not measured keep their own length
			length = fmt.Sprintf(` textLength="%s" lengthAdjust="spacingAndGlyphs"`, mm(l.width))
		}
		fmt.Fprintf(b, `<text x="%s" y="%s" font-size="%s" fill="%s"%s%s>%s</text>`+"\n", mm(l.at.x), mm(l.at.y),
			mm(l.size), hex(l.ink), weight, length, escaped(l.text))
	}
}

func (o outline) svg() string {
	var b strings.Builder
	for i, s := range o {
		switch {
		case s.move && i > 0:
			b.WriteString("ZM")
		case s.move:
			b.WriteString("M")
		case s.curve:
			fmt.Fprintf(&b, "C%s %s %s %s ", mm(s.by[0].x), mm(s.by[0].y), mm(s.by[1].x), mm(s.by[1].y))
		default:
			b.WriteString("L")
		}
		b.WriteString(mm(s.to.x) + " " + mm(s.to.y))
	}
	return b.String() + "Z"
}

// mm writes a length to a thousandth.
func mm(x float64) string {
	text := strings.TrimRight(strings.TrimRight(strconv.FormatFloat(x, 'f', 3, 64), "0"), ".")
	if text == "-0" {
		return "0"
	}
	return text
}

func hex(i ink) string {
	c := colours[i]
	return fmt.Sprintf("#%02x%02x%02x", c[0], c[1], c[2])
}

func escaped(text string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(text)) // a builder never returns an error
	return b.String()
}
