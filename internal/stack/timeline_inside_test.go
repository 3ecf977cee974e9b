package stack_test

import (
	"encoding/xml"
	"fmt"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"

	"meniscus/internal/stack"
)

// TestEverythingIsInsideThePicture writes long words at both ends of the time, and
// holds every box, and every line as wide as it is in a real font, against the
// picture's edges.
func TestEverythingIsInsideThePicture(t *testing.T) {
	t.Parallel()
	long := strings.Repeat("WIDE LETTERS ON AN OLD CARD ", 8)
	s := newStack(t, bone(pieces("left-femur")),
		put("first", stack.Consolidation, stack.Area("skull/"+strings.Repeat("W", 60)), "1901", words(long, "shellac", nitrate)),
		put("middle", stack.Coating, "skull", "1960/1980", words(long)),
		put("late", stack.Coating, "skull", "2026-10", of(copolymer, "acetone", "toluene", "ethanol")),
		put("undated", stack.Coating, "skull", "", words(long)),
		tried("try", "skull", "1901", "first", "ethanol", "swells"),
		off("taken", "skull", "2026-09", stack.Reduced, "ethanol", "middle"),
		stack.Treatment{ID: "lost", Action: stack.Cleaning, AreasUnknown: true, Uses: []stack.Use{words(long), words(long + "2")}},
	)
	decoder, pic := xml.NewDecoder(strings.NewReader(string(s.Timeline(long)))), picture{face: faceOf(t, goregular.TTF), bold: faceOf(t, gobold.TTF)}
	var open map[string]string
	lines := 0
	for {
		token, err := decoder.Token()
		if err != nil {
			break
		}
		switch x := token.(type) {
		case xml.StartElement:
			open = map[string]string{"": x.Name.Local}
			for _, a := range x.Attr {
				open[a.Name.Local] = a.Value
			}
			if x.Name.Local == "svg" {
				pic.right, pic.bottom = number(t, open["width"]), number(t, open["height"])
			}
			if x.Name.Local == "rect" && open["x"] != "" {
				within(t, "a box", number(t, open["x"]), number(t, open["width"]), pic.right)
			}
		case xml.CharData:
			if open[""] == "text" && strings.TrimSpace(string(x)) != "" {
				lines++
				pic.line(t, open, string(x))
			}
		case xml.EndElement:
			open = nil
		}
	}
	if lines < 20 {
		t.Errorf("got %d lines of text, want those of every bar, mark and legend", lines)
	}
}

func (p *picture) line(t *testing.T, attributes map[string]string, text string) {
	t.Helper()
	face := p.face
	if attributes["font-weight"] == "bold" {
		face = p.bold
	}
	wide := float64(font.MeasureString(face, text)) / 64
	if size := attributes["font-size"]; size != "" {
		wide *= number(t, size) / 11
	}
	x := number(t, attributes["x"])
	switch attributes["text-anchor"] {
	case "end":
		x -= wide
	case "middle":
		x -= wide / 2
	}
	within(t, fmt.Sprintf("%q", text), x, wide, p.right)
	if y := number(t, attributes["y"]); y < 0 || y > p.bottom {
		t.Errorf("%q stands at %g of %g", text, y, p.bottom)
	}
}

// picture is how large a picture is, and the fonts that its words are measured in.
type picture struct {
	right, bottom float64
	face, bold    font.Face
}

func faceOf(t *testing.T, ttf []byte) font.Face {
	t.Helper()
	parsed, err := opentype.Parse(ttf)
	if err != nil {
		t.Fatal(err)
	}
	face, err := opentype.NewFace(parsed, &opentype.FaceOptions{Size: 11, DPI: 72})
	if err != nil {
		t.Fatal(err)
	}
	return face
}

func within(t *testing.T, what string, x, wide, edge float64) {
	t.Helper()
	if x < -0.5 || x+wide > edge+0.5 {
		t.Errorf("%s reaches from %.1f to %.1f, the picture ends at %g", what, x, x+wide, edge)
	}
}

func number(t *testing.T, text string) float64 {
	t.Helper()
	n, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return n
}
