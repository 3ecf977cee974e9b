// Package chart draws counts as bars, for people who would rather look than read.
//
// It promises that a chart says nothing by its colours, that its picture (SVG) has what it shows
// in its title and its description, and that its letters have the size of the text around it,
// however wide the page is. It draws no more bars than a person takes in; all figures belong in a
// table beside it.
package chart

import (
	"fmt"
	"html"
	"strings"
)

// Most is how many bars a chart has at most.
const Most = 12

// Bars is a chart: a bar for each row, the first at the top.
type Bars struct {
	Title string // what is counted, and by what
	Rows  []Bar
}

// Bar is one of the bars.
type Bar struct {
	Label string
	Count int64
}

// mostLetters is how long the label of a bar is at most; the table has it in full.
const mostLetters = 60

// Said is what stands above the bar: the count first, so that a long label does not hide it.
func (b Bar) Said() string {
	label := []rune(b.Label)
	if len(label) > mostLetters {
		label = append(label[:mostLetters-1], '…')
	}
	return fmt.Sprintf("%d  %s", b.Count, string(label))
}

// Shown are the rows that are drawn: the first of more than Most.
func (b Bars) Shown() []Bar { return b.Rows[:min(len(b.Rows), Most)] }

// Length is how long a bar is, in parts of the longest.
func (b Bars) Length(of Bar) float64 {
	longest := int64(1)
	for _, row := range b.Shown() {
		longest = max(longest, row.Count)
	}
	return float64(max(of.Count, 0)) / float64(longest)
}

// About says what the chart shows to those who do not see it.
func (b Bars) About() string {
	shown := b.Shown()
	said := make([]string, len(shown))
	for i, row := range shown {
		said[i] = fmt.Sprintf("%s %d", row.Label, row.Count)
	}
	about := "Bars, from the top: " + strings.Join(said, ", ") + "."
	if left := len(b.Rows) - len(shown); left > 0 {
		about += fmt.Sprintf(" %d more are in the table.", left)
	}
	return about
}

// Measures of a bar with its label above it, in parts of the size of the letters.
const (
	RowHeight = 2.5
	BarAt     = 1.35
	BarHeight = 0.7
)

// SVG is the chart as a part of a page. Lengths are in parts of the page's width and of the size of
// its letters, so that neither is stretched with the other.
func (b Bars) SVG() string {
	var out strings.Builder
	shown := b.Shown()
	fmt.Fprintf(&out, `<svg class="chart" role="img" width="100%%" height="%.1fem"><title>%s</title><desc>%s</desc>`,
		RowHeight*float64(len(shown)), html.EscapeString(b.Title), html.EscapeString(b.About()))
	for i, row := range shown {
		top := RowHeight * float64(i)
		fmt.Fprintf(&out, `<text x="0" y="%.2fem">%s</text><rect x="0" y="%.2fem" width="%.1f%%" height="%.1fem"/>`,
			top+1, html.EscapeString(row.Said()), top+BarAt, 100*b.Length(row), BarHeight)
	}
	out.WriteString("</svg>")
	return out.String()
}
