package paper

import (
	"strings"

	"meniscus/internal/chart"
	"meniscus/internal/typeface"
)

// bars draws a chart, each bar under its label; all on one sheet.
func (w *printing) bars(b chart.Bars) {
	w.room(barsHeight(b, w.size))
	for _, row := range b.Shown() {
		label, _ := typeface.TakeLine(w.printable(visible(row.Said())), column, w.size, false)
		w.Text(left, w.base(), label)
		if row.Count > 0 {
			w.Rect(left, w.y+chart.BarAt*w.size, b.Length(row)*column, chart.BarHeight*w.size, "F")
		}
		w.y += chart.RowHeight * w.size
	}
	w.gap(2)
}

// barsHeight is how high a chart is, beside letters of a size.
func barsHeight(b chart.Bars, size float64) float64 {
	return float64(len(b.Shown())) * chart.RowHeight * size
}

// number is how wide a column of numbers is.
const number = 27.0

// table writes a table. Where a name takes several lines, the numbers stand on the last of them, so
// that they are read after it.
func (w *printing) table(t Table) {
	w.cells(t.Head, true)
	for _, row := range t.Rows {
		if w.full() {
			return
		}
		w.cells(row, false)
	}
	w.gap(2)
}

func (w *printing) cells(row []string, bold bool) {
	w.room(2 * w.line())
	name := row[0]
	if strings.TrimSpace(visible(name)) == "" {
		name = "–"
	}
	w.flow(left, right-number*float64(len(row)-1)-2, []run{{text: name, bold: bold}}, nil)
	w.y -= w.line()
	for i, cell := range row[1:] {
		cell = w.printable(cell)
		w.letters(w.size, bold)
		edge := right - number*float64(len(row)-2-i)
		w.Text(edge-typeface.Width(cell, w.size, bold), w.base(), cell)
	}
	w.y += w.line()
	w.letters(w.size, false)
	w.SetLineWidth(0.15)
	w.Line(left, w.y+0.4, right, w.y+0.4)
	w.SetLineWidth(0.3)
	w.y += 1.2
}
