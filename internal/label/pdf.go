package label

import (
	"bytes"
	"fmt"
	"meniscus/internal/typeface"
	"time"

	"codeberg.org/go-pdf/fpdf"
)

// dated is the date in every PDF, so that the same label has the same bytes. The
// recorded dates are on the label.
var dated = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

// A sheet of A4, in mm, with a border that printers leave free.
const (
	sheetWidth, sheetHeight = 210.0, 297.0
	border                  = 8.0
)

// PDF draws the pieces: each on a page of its own size, or, with copies, that
// number of each on sheets of A4. The fonts are embedded.
func (l Label) PDF(copies int) ([]byte, error) {
	p := newPrinting(l)
	if copies > 0 {
		p.sheets(l, copies)
	} else {
		for _, piece := range l.Pieces {
			p.page(piece.picture.width, piece.picture.height)
			p.draw(piece.picture, point{})
		}
	}
	var b bytes.Buffer
	if err := p.Output(&b); err != nil {
		return nil, fmt.Errorf("writing the label: %w", err)
	}
	return b.Bytes(), nil
}

// printing is a PDF being written.
type printing struct{ *fpdf.Fpdf }

func newPrinting(l Label) printing {
	p := printing{fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: sheetWidth, Ht: sheetHeight}})}
	p.SetCatalogSort(true)
	p.SetCreationDate(dated)
	p.SetModificationDate(dated)
	p.SetMargins(0, 0, 0)
	p.SetAutoPageBreak(false, 0)
	p.SetTitle(typeface.Printable(l.title()), true)
	p.SetLang("en-GB")
	p.AddUTF8FontFromBytes("Go", "", typeface.Regular)
	p.AddUTF8FontFromBytes("Go", "B", typeface.Bold)
	return p
}

func (p printing) page(width, height float64) {
	p.AddPageFormat("P", fpdf.SizeType{Wd: width, Ht: height})
}

// sheets sets copies of each piece from left to right and from the top down. Each
// piece is drawn once, as a form that the sheets refer to (PDF 1.7, section 8.10). A
// piece that is larger than a sheet has pages of its own.
func (p printing) sheets(l Label, copies int) {
	x, y, row := border, border, 0.0
	open := false
	for _, piece := range l.Pieces {
		w, h := piece.picture.width, piece.picture.height
		once := p.CreateTemplateCustom(fpdf.PointType{}, fpdf.SizeType{Wd: w, Ht: h}, func(t *fpdf.Tpl) {
			printing{&t.Fpdf}.draw(piece.picture, point{})
		})
		place := func(at point) {
			p.UseTemplateScaled(once, fpdf.PointType{X: at.x, Y: at.y}, fpdf.SizeType{Wd: w, Ht: h})
		}
		for range copies {
			if w > sheetWidth-2*border || h > sheetHeight-2*border {
				p.page(w, h)
				place(point{})
				open = false
				continue
			}
			if open && x+w > sheetWidth-border {
				x, y, row = border, y+row, 0
			}
			if !open || y+h > sheetHeight-border {
				p.page(sheetWidth, sheetHeight)
				x, y, row, open = border, border, 0, true
			}
			place(point{x, y})
			x, row = x+w, max(row, h)
		}
	}
}

// draw draws a picture at a place on the page.
func (p printing) draw(pic picture, at point) {
	p.SetDrawColor(colours[grey][0], colours[grey][1], colours[grey][2])
	p.SetLineWidth(0.1)
	p.Rect(at.x+0.05, at.y+0.05, pic.width-0.1, pic.height-0.1, "D")
	for _, s := range pic.shapes {
		p.SetFillColor(colours[s.ink][0], colours[s.ink][1], colours[s.ink][2])
		p.trace(s.placed(at, 1))
	}
	for _, l := range pic.lines {
		weight := ""
		if l.bold {
			weight = "B"
		}
		p.SetFont("Go", weight, 0)
		p.SetFontUnitSize(l.size)
		p.SetTextColor(colours[l.ink][0], colours[l.ink][1], colours[l.ink][2])
		p.Text(at.x+l.at.x, at.y+l.at.y, typeface.Printable(l.text))
	}
}

// trace fills an outline.
func (p printing) trace(o outline) {
	for i, s := range o {
		switch {
		case s.move && i > 0:
			p.ClosePath()
			p.MoveTo(s.to.x, s.to.y)
		case s.move:
			p.MoveTo(s.to.x, s.to.y)
		case s.curve:
			p.CurveBezierCubicTo(s.by[0].x, s.by[0].y, s.by[1].x, s.by[1].y, s.to.x, s.to.y)
		default:
			p.LineTo(s.to.x, s.to.y)
		}
	}
	p.ClosePath()
	p.DrawPath("f")
}
