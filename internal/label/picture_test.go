package label

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"image"
	"image/color"
	"io"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"
	"pgregory.net/rapid"

	"meniscus/internal/material"
	"meniscus/internal/pdftext"
	"meniscus/internal/typeface"
)

var solvents = []string{"acetone", "ethanol", "water", "toluene", "methanol", "xylene-mixed-isomers", "n-heptane",
	"dichloromethane", "white-spirit-stoddard-solvent", "diacetone-alcohol"}

// drawFacts draws what may be on record: long names, words without spaces,
// scripts that the letters lack, many of everything, nothing.
func drawFacts(t *rapid.T) Facts {
	words := rapid.StringMatching(`[A-Za-zäöüß漢€0-9(),/\-]{1,90}( [a-z]{1,14}){0,12}`)
	f := Facts{
		Owner: words.Draw(t, "owner"), Code: words.Draw(t, "code"), Bottle: rapid.Bool().Draw(t, "bottle"),
		Notices: rapid.SliceOfN(words, 0, 2).Draw(t, "notices"), Solids: rapid.SliceOfN(words, 0, 3).Draw(t, "solids"),
		Liquids: rapid.SliceOfN(words, 0, 4).Draw(t, "liquids"), From: rapid.SliceOfN(words, 0, 8).Draw(t, "from"),
		Substances: rapid.SliceOfNDistinct(rapid.SampledFrom(solvents), 0, 5, rapid.ID).Draw(t, "substances"),
		Unnamed:    rapid.SliceOfN(words, 0, 2).Draw(t, "unnamed"),
		Strength:   Strength{Why: words.Draw(t, "why"), Changed: rapid.Bool().Draw(t, "changed")},
		By:         rapid.SliceOfN(words, 0, 3).Draw(t, "by"),
	}
	if rapid.Bool().Draw(t, "addressed") {
		f.Address = "https://meniscus.example/v1/batches/" + rapid.StringMatching(`[a-z0-9]{10,120}`).Draw(t, "address")
	}
	return f
}

// Nothing is cut, nothing leaves the paper, and nothing overlaps.
func TestEverythingStandsOnThePaper(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		f := drawFacts(t)
		l := New(f, material.Builtin(), rapid.SampledFrom([]float64{2, 8, 25, 100, 250, 2000, 20_000}).Draw(t, "capacity"))
		for _, p := range l.Pieces {
			standsOnThePaper(t, p)
		}
	})
}

// standsOnThePaper fails where something of a piece is cut, leaves the paper or overlaps.
func standsOnThePaper(t rapid.TB, p Piece) {
	t.Helper()
	var printed strings.Builder
	var lines []box
	for _, line := range p.picture.lines {
		printed.WriteString(line.text)
		b := box{line.at.x, line.at.y - 0.75*line.size, line.width, 0.95 * line.size}
		if b.x < 0 || b.y < 0 || b.x+b.w > p.picture.width || b.y+b.h > p.picture.height {
			t.Fatalf("%s: %q leaves the paper: %+v of %v × %v", p.Place, line.text, b, p.picture.width, p.picture.height)
		}
		lines = append(lines, b)
	}
	all := squeezed(printed.String())
	for _, s := range p.Content.Says {
		if !strings.Contains(all, strings.TrimSuffix(squeezed(s.Text), ".")) {
			t.Fatalf("%s: %q is not printed whole: %q", p.Place, s.Text, all)
		}
	}
	for _, b := range taken(p) {
		if b.x < 0 || b.y < -1e-9 || b.x+b.w > p.picture.width+1e-9 || b.y+b.h > p.picture.height {
			t.Fatalf("%s: %+v leaves the paper of %v × %v", p.Place, b, p.picture.width, p.picture.height)
		}
		if i := slices.IndexFunc(lines, func(line box) bool { return overlap(b, line) }); i >= 0 {
			t.Fatalf("%s: %q stands on a pictogram or on the code", p.Place, p.picture.lines[i].text)
		}
	}
	for i, a := range lines {
		for j, b := range lines[:i] {
			if overlap(a, b) {
				t.Fatalf("%s: %q stands on %q", p.Place, p.picture.lines[i].text, p.picture.lines[j].text)
			}
		}
	}
}

func squeezed(text string) string { return strings.ReplaceAll(text, " ", "") }

// taken is where the code and the pictograms are, by their shapes.
func taken(p Piece) []box {
	var out []box
	for _, s := range p.picture.shapes {
		if s.ink == red || s.ink == black && p.Content.Camera != nil && len(s.outline) == len(p.Content.Camera.dark) {
			out = append(out, boundsOf(s.outline))
		}
	}
	return out
}

func boundsOf(o outline) box {
	low, high := point{math.Inf(1), math.Inf(1)}, point{math.Inf(-1), math.Inf(-1)}
	for _, s := range o {
		low, high = point{min(low.x, s.to.x), min(low.y, s.to.y)}, point{max(high.x, s.to.x), max(high.y, s.to.y)}
	}
	return box{low.x, low.y, high.x - low.x, high.y - low.y}
}

func overlap(a, b box) bool {
	const touch = 1e-6
	return a.x+touch < b.x+b.w && b.x+touch < a.x+a.w && a.y+touch < b.y+b.h && b.y+touch < a.y+a.h
}

// Each symbol stays inside its frame, so that it is seen in black and white too.
func TestSymbolsStayInTheirFrames(t *testing.T) {
	t.Parallel()
	for code, layers := range symbols {
		if PictogramName(code) == "" {
			t.Errorf("%s has no name", code)
		}
		for _, l := range layers {
			for _, s := range l.outline {
				for _, p := range []point{s.to, s.by[0], s.by[1]} {
					if l.ink == black && math.Abs(p.x)+math.Abs(p.y) > 1-frame {
						t.Errorf("%s: the symbol touches its frame at %v", code, p)
					}
				}
			}
		}
	}
	for _, solvent := range solvents {
		for _, code := range material.Builtin().LabelHazards(solvent, material.Pictogram) {
			if symbols[code] == nil {
				t.Errorf("%s of %s is not drawn", code, solvent)
			}
		}
	}
}

// An independent reader reads the code off the picture, quiet zone and all.
func TestACameraReadsTheCode(t *testing.T) {
	t.Parallel()
	for _, address := range []string{"https://meniscus.example/v1/batches/0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7a13",
		"http://127.0.0.1:8080/v1/batches/0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7a13",
		"https://m.example/" + strings.Repeat("x", 400)} {
		f := jar("acetone")
		f.Address = address
		p := New(f, material.Builtin(), 250).Pieces[0]
		source := gozxing.NewLuminanceSourceFromImage(raster(p.picture, 20))
		bitmap, err := gozxing.NewBinaryBitmap(gozxing.NewHybridBinarizer(source))
		if err != nil {
			t.Fatal(err)
		}
		got, err := qrcode.NewQRCodeReader().Decode(bitmap,
			map[gozxing.DecodeHintType]any{gozxing.DecodeHintType_TRY_HARDER: true})
		if err != nil {
			t.Errorf("%s: %v", address, err)
		} else if got.GetText() != address {
			t.Errorf("got %q, want %q", got.GetText(), address)
		}
	}
}

// raster paints the rectangles of a picture at a number of dots per
// millimetre.
func raster(p picture, dots float64) image.Image {
	img := image.NewGray(image.Rect(0, 0, int(p.width*dots), int(p.height*dots)))
	for i := range img.Pix {
		img.Pix[i] = 255
	}
	for _, s := range p.shapes {
		for _, part := range (layer{s.ink, s.outline}).parts() {
			if len(part) != 4 || s.ink != black {
				continue
			}
			b := boundsOf(part)
			for y := int(math.Round(b.y * dots)); y < int(math.Round((b.y+b.h)*dots)); y++ {
				for x := int(math.Round(b.x * dots)); x < int(math.Round((b.x+b.w)*dots)); x++ {
					img.SetGray(x, y, color.Gray{})
				}
			}
		}
	}
	return img
}

// The SVG is well-formed, in millimetres, loads nothing, and says in words what
// it shows.
func TestSVG(t *testing.T) {
	t.Parallel()
	f := jar("acetone")
	f.Notices, f.Unnamed = []string{"Retracted: <b>\"A\"\x01\n& B</b>"}, []string{"漆"}
	l := New(f, material.Builtin(), 100)
	drawn := l.SVG()
	texts := map[string]string{}
	var inside []string
	d := xml.NewDecoder(bytes.NewReader(drawn))
	for {
		token, err := d.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatalf("%v in %s", err, drawn)
		}
		switch x := token.(type) {
		case xml.StartElement:
			inside = append(inside, x.Name.Local)
			for _, a := range x.Attr {
				if a.Name.Local == "href" || strings.HasPrefix(a.Name.Local, "on") {
					t.Errorf("%s has %s", x.Name.Local, a.Name.Local)
				}
			}
		case xml.EndElement:
			inside = inside[:len(inside)-1]
		case xml.CharData:
			if len(inside) > 0 {
				texts[inside[len(inside)-1]] += string(x)
			}
		}
	}
	if texts["title"] != "Label B-1: Poly(vinyl butyral) in acetone" {
		t.Errorf("got the title %q", texts["title"])
	}
	for _, want := range []string{`Retracted: <b>"A" & B</b>`, "Pictogram: flame.", "Danger", f.Address, "漆",
		"On a tag or the outer package:"} {
		if !strings.Contains(texts["desc"], want) {
			t.Errorf("got the description %q, want %q in it", texts["desc"], want)
		}
	}
	if !strings.Contains(texts["text"], "漆") ||
		!strings.HasPrefix(string(drawn), `<svg xmlns="http://www.w3.org/2000/svg" width="`) {
		t.Errorf("got %.200s", drawn)
	}
}

// The PDF says what the label says, replaces characters that its font lacks by a
// visible mark and names them, and is the same each time.
func TestPDF(t *testing.T) {
	t.Parallel()
	f := jar("toluene", "n-heptane")
	f.Unnamed = []string{"漆 Ölfirnis"}
	l := New(f, material.Builtin(), 30)
	first := printed(t, l, 0)
	if again := printed(t, New(f, material.Builtin(), 30), 0); !bytes.Equal(first, again) {
		t.Error("the same label has other bytes the second time")
	}
	text := squeezed(strings.Join(textOf(t, first), ""))
	for _, p := range l.Pieces {
		for _, s := range p.Content.Says {
			want := strings.TrimSuffix(squeezed(typeface.Printable(s.Text)), ".")
			if !strings.Contains(text, want) {
				t.Errorf("got %q, want %q in it", text, want)
			}
		}
	}
	if !strings.Contains(text, "□Ölfirnis") || !slices.Equal(l.Replaced, []string{"漆"}) {
		t.Errorf("got %q, replaced %q; want a mark for 漆, and it named", text, l.Replaced)
	}
	if pages := bytes.Count(first, []byte("/Type /Page\n")); pages != 2 {
		t.Errorf("got %d pages, want one for each piece", pages)
	}
}

// Copies stand on sheets of A4: ten of 74 × 52 mm to a sheet and three of 105 × 74,
// the first of these beside the last of those where there is room.
func TestSheets(t *testing.T) {
	t.Parallel()
	l := New(jar("acetone"), material.Builtin(), 100)
	for _, row := range []struct{ copies, pages int }{{1, 1}, {7, 3}, {40, 18}} {
		sheet := printed(t, l, row.copies)
		if got := strings.Count(strings.Join(textOf(t, sheet), "\n"), "B-1"); got != 2 {
			t.Errorf("%d copies: got the code drawn %d times, want once for each of the two pieces", row.copies, got)
		}
		if got := placed(sheet); got != 2*row.copies {
			t.Errorf("%d copies: got %d places, want %d", row.copies, got, 2*row.copies)
		}
		if got := bytes.Count(sheet, []byte("/Type /Page\n")); got != row.pages {
			t.Errorf("%d copies: got %d pages, want %d", row.copies, got, row.pages)
		}
	}
}

// placed counts how often the pages of a PDF show a form.
func placed(pdf []byte) (n int) {
	for _, content := range pdftext.Contents(pdf) {
		n += bytes.Count(content, []byte(" Do "))
	}
	return n
}

// A hundred copies take little more memory than one: a piece is drawn once.
func TestCopiesAreDrawnOnce(t *testing.T) {
	l := New(jar("acetone"), material.Builtin(), 100)
	printed(t, l, 1) // reads the fonts
	one := testing.AllocsPerRun(3, func() { printed(t, l, 1) })
	hundred := testing.AllocsPerRun(3, func() { printed(t, l, 100) })
	if hundred > 1.5*one {
		t.Errorf("a hundred copies take %.0f allocations, one takes %.0f", hundred, one)
	}
	if !bytes.Equal(printed(t, l, 100), printed(t, l, 100)) {
		t.Error("the same label twice has other bytes")
	}
}

func printed(t *testing.T, l Label, copies int) []byte {
	t.Helper()
	b, err := l.PDF(copies)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// textOf reads the lines off a PDF.
func textOf(t *testing.T, pdf []byte) []string {
	t.Helper()
	out := pdftext.Of(pdf)
	if len(out) == 0 {
		t.Fatalf("no text in %d bytes of PDF", len(pdf))
	}
	return out
}

func BenchmarkLabel(b *testing.B) {
	f := jar("toluene", "methanol", "n-heptane")
	for _, capacity := range []float64{3, 250} {
		b.Run(fmt.Sprint(capacity), func(b *testing.B) {
			for b.Loop() {
				if _, err := New(f, material.Builtin(), capacity).PDF(0); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
