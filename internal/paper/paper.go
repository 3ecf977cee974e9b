// Package paper is what people print, keep in folders and write on: one model of a paper,
// and two renderings of it, a page of HTML and a PDF on A4, which say the same in the same
// order. It is black on white, in letters of eleven points and more.
package paper

import "meniscus/internal/chart"

// Paper is what one paper says, in the order in which it is read.
type Paper struct {
	Title       string // what kind of paper it is
	About       string // the number of the specimen
	Institution string // and the collection
	Address     string // of the record; the code opens it
	Before      []Notice
	Sections    []Section
	After       []string // cautions, and what comes before this paper
	Foot        string   // which state of the record the paper is of
	Record      string   // the same, for the foot of each page
}

// Notice is what is to be known first: strongly, or quietly where it is only that nobody
// knows.
type Notice struct {
	Text  string
	Quiet bool
}

// Section is a part of a paper under its heading.
type Section struct {
	Title   string
	Address string // of the record that it tells of; the page leads there
	// Within says that it belongs to the section before it.
	Within bool
	// Whole keeps it on one sheet: what is signed for belongs together.
	Whole bool
	Lines []Line
}

// Line is one thing in a section. One of its members is set.
type Line struct {
	// Fields are named values; short ones stand beside each other.
	Fields []Field
	Text   string
	Strong string // a text that must not be missed
	Tick   string // beside a box to tick
	Write  []string
	Chart  *chart.Bars // all of it stands in a table as well
	Table  *Table
}

// Table has a name in the first column of each row, and numbers in the others.
type Table struct {
	Head []string
	Rows [][]string
}

// Field is a named value.
type Field struct{ Label, Value string }

// fieldShort is up to how many characters a field stands beside others.
const fieldShort = 76

// short tells whether the field may stand beside others.
func (f Field) short() bool { return len([]rune(f.Label))+len([]rune(f.Value)) <= fieldShort }

// rows are fields as they stand on lines: short ones together, a long one alone.
func (l Line) rows() [][]Field {
	var out [][]Field
	together := false
	for _, f := range l.Fields {
		if f.short() && together {
			out[len(out)-1] = append(out[len(out)-1], f)
		} else {
			out = append(out, []Field{f})
		}
		together = f.short()
	}
	return out
}
