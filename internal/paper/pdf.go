package paper

import (
	"bytes"
	"fmt"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"meniscus/internal/qrcode"
	"meniscus/internal/typeface"
)

// A sheet of A4 and its margins, in mm.
const (
	sheetWidth, sheetHeight = 210.0, 297.0
	left, right             = 15.0, sheetWidth - 15.0
	top, bottom             = 14.0, sheetHeight - 22.0
	column                  = right - left
)

// Sizes of letters, in mm: a point is a 72nd of 25.4 mm.
const (
	point       = 25.4 / 72
	textSize    = 11 * point
	headSize    = 13 * point
	titleSize   = 18 * point
	leading     = 1.24
	codeSide    = 27.0 // about 0.6 mm a module, with the quiet zone
	indentNote  = 5.0
	indentTick  = 8.0
	boxSide     = 4.4
	writeHeight = 9 // room for a hand
)

// dated is the date in every PDF, so that the same paper has the same bytes. The recorded
// dates are on the paper.
var dated = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

// PDF is the paper on sheets of A4, with its letters embedded and its text in the order in
// which it is read. It is not tagged: the library that writes it cannot do that.
func (p Paper) PDF() ([]byte, error) {
	w := newPrinting(p)
	w.head(p)
	w.notices(p.Before)
	for _, s := range p.Sections {
		w.section(s)
	}
	if w.full() {
		w.notice(fmt.Sprintf("Only %d sheets are printed. The rest is on the paper's page, and on record.", mostSheets), false)
	}
	if len(p.After) > 0 {
		w.heading("Cautions", false)
		for _, text := range p.After {
			w.flow(left+indentNote, right, []run{{text: text}}, func(y float64) { w.Text(left, y, "–") })
		}
	}
	w.gap(2)
	w.flow(left, right, []run{{text: p.Foot}}, nil)
	if w.lacking {
		w.flow(left, right, []run{{text: "□ stands for a character that the letters of this print lack; the record has it."}}, nil)
	}
	w.feet(p.Title+" · "+p.About+" · "+p.Record, p.About)
	var b bytes.Buffer
	if err := w.Output(&b); err != nil {
		return nil, fmt.Errorf("writing the paper: %w", err)
	}
	return b.Bytes(), nil
}

// mostSheets is how many sheets are filled; what does not fit is said to be missing.
const mostSheets = 100

// full tells whether no more is printed, but cautions and the foot.
func (w *printing) full() bool { return w.PageNo() >= mostSheets }

// printing is a PDF being written, from the top down; y is where the next line begins.
type printing struct {
	*fpdf.Fpdf
	y       float64
	size    float64
	bold    bool
	lacking bool // a character was replaced
}

func newPrinting(p Paper) *printing {
	w := &printing{Fpdf: fpdf.New("P", "mm", "A4", "")}
	w.SetCatalogSort(true)
	w.SetCreationDate(dated)
	w.SetModificationDate(dated)
	w.SetMargins(0, 0, 0)
	w.SetAutoPageBreak(false, 0)
	w.SetTitle(typeface.Printable(p.Title+", "+p.About), true)
	w.SetLang("en-GB")
	w.AddUTF8FontFromBytes("Go", "", typeface.Regular)
	w.AddUTF8FontFromBytes("Go", "B", typeface.Bold)
	w.SetLineWidth(0.3)
	w.SetFillColor(0, 0, 0)
	w.sheet()
	w.letters(textSize, false)
	return w
}

// sheet begins a new sheet.
func (w *printing) sheet() {
	w.AddPage()
	w.y = top
}

// letters sets the letters of what follows.
func (w *printing) letters(size float64, bold bool) {
	weight := ""
	if bold {
		weight = "B"
	}
	w.SetFont("Go", weight, 0)
	w.SetFontUnitSize(size)
	w.size, w.bold = size, bold
}

// room begins a new sheet where less than a height is left on this one.
func (w *printing) room(height float64) {
	if w.y+height > bottom {
		w.sheet()
	}
}

// gap leaves white, but not at the top of a sheet.
func (w *printing) gap(height float64) {
	if w.y > top {
		w.y += height
	}
}

// line is the height of a line of letters.
func (w *printing) line() float64 { return w.size * leading }

// base is where the letters of the next line stand.
func (w *printing) base() float64 { return w.y + w.size*0.95 }

// head is the title, what it is about, and the code beside them.
func (w *printing) head(p Paper) {
	edge := right
	if code := qrcode.Of(p.Address); code != nil {
		edge = right - codeSide
		side := codeSide / float64(code.Side)
		for _, r := range code.Dark {
			w.Rect(edge+float64(r.X)*side, top-3+float64(r.Y)*side, float64(r.Length)*side, side, "F")
		}
	}
	w.letters(titleSize, true)
	w.flow(left, edge, []run{{text: p.Title + ": " + p.About, bold: true}}, nil)
	w.letters(textSize, false)
	w.flow(left, edge, []run{{text: p.Institution}}, nil)
	w.flow(left, edge, []run{{text: p.Address}}, nil)
	if edge < right && w.PageNo() == 1 {
		w.y = max(w.y, top+codeSide-4)
	}
	w.gap(1)
}

// notices are what is to be known first; a bar stands beside what must not be missed.
func (w *printing) notices(list []Notice) {
	for _, n := range list {
		w.notice(n.Text, n.Quiet)
	}
}

func (w *printing) notice(text string, quiet bool) {
	bar := func(float64) { w.Rect(left, w.y, 1.6, w.line(), "F") }
	if quiet {
		bar = nil
	}
	w.each(left+indentNote, right, []run{{text: text, bold: !quiet}}, bar)
	w.gap(0.8)
}

// section is a heading and what stands under it.
func (w *printing) section(s Section) {
	if w.full() {
		return
	}
	if s.Whole {
		w.room(w.height(s))
	}
	if len(s.Lines) > 0 && s.Lines[0].Chart != nil {
		w.room(3 + 2*headSize*leading + barsHeight(*s.Lines[0].Chart, textSize))
	}
	w.heading(s.Title, s.Within)
	for _, l := range s.Lines {
		if w.full() {
			return
		}
		switch {
		case l.Fields != nil:
			for _, row := range l.rows() {
				w.flow(left, right, fieldRuns(row), nil)
			}
			w.gap(1)
		case l.Tick != "":
			w.gap(0.8)
			w.flow(left+indentTick, right, []run{{text: l.Tick}}, func(float64) {
				w.Rect(left+0.5, w.y, boxSide, boxSide, "D")
			})
			w.gap(0.8)
		case l.Write != nil:
			w.write(l.Write)
		case l.Strong != "":
			w.notice(l.Strong, false)
		case l.Chart != nil:
			w.bars(*l.Chart)
		case l.Table != nil:
			w.table(*l.Table)
		default:
			w.flow(left, right, []run{{text: l.Text}}, nil)
			w.gap(0.6)
		}
	}
}

// height is about how high a section is: its lines to write on decide that.
func (w *printing) height(s Section) float64 {
	sum := 3 + headSize*leading + 1
	for _, l := range s.Lines {
		if sum += w.line() + 2; l.Write != nil {
			sum += writeHeight - w.line() - 0.5
		}
	}
	return sum
}

// heading begins a section; some of what follows stands on the same sheet.
func (w *printing) heading(title string, within bool) {
	const follows = 10
	size := headSize
	w.gap(3)
	if within {
		size = textSize
	}
	w.room(size*leading + follows)
	w.Bookmark(typeface.Printable(title), map[bool]int{false: 0, true: 1}[within], w.y)
	w.letters(size, true)
	w.flow(left, right, []run{{text: title, bold: true}}, nil)
	if !within {
		w.Line(left, w.y, right, w.y)
		w.y += 1
	}
	w.letters(textSize, false)
}

// write is lines to write on, beside each other, each after its name.
func (w *printing) write(names []string) {
	w.room(writeHeight)
	w.y += writeHeight
	const white = 5
	wide := (column - white*float64(len(names)-1)) / float64(len(names))
	for i, name := range names {
		x := left + float64(i)*(wide+white)
		name = w.printable(name)
		w.Text(x, w.y-1.2, name)
		w.Line(x, w.y, x+wide, w.y)
	}
	w.gap(1.5)
}

// feet are written last, when it is known how many sheets there are.
func (w *printing) feet(text, short string) {
	sheets := w.PageCount()
	w.letters(textSize, false)
	for n := 1; n <= sheets; n++ {
		w.SetPage(n)
		number := fmt.Sprintf("sheet %d of %d", n, sheets)
		wide := typeface.Width(number, textSize, false)
		w.Line(left, bottom+5, right, bottom+5)
		line, _ := typeface.TakeLine(w.printable(text), column-wide-6, textSize, false)
		w.Text(left, bottom+10, line)
		w.Text(right-wide, bottom+10, number)
	}
}

// printable is a text in the letters that there are.
func (w *printing) printable(text string) string {
	if len(typeface.Lacking(text)) > 0 {
		w.lacking = true
	}
	return typeface.Printable(text)
}
