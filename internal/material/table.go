package material

import (
	"bufio"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"strings"

	"meniscus/internal/bibliography"
)

// reader reads the tables and gathers every fault, each with its file and line.
type reader struct {
	files  fs.FS
	faults []error
}

// row is one line of a table.
type row struct {
	r    *reader
	file string
	line int
	// columns gives the place of each column, shared by all rows of the file.
	columns map[string]int
	cells   []string
}

func (w row) cell(column string) string { return w.cells[w.columns[column]] }

// table calls f for every row of a file. Lines that begin with # are comments;
// the first other line names the columns, which must be exactly these.
func (r *reader) table(file string, columns string, f func(row)) {
	in, err := r.files.Open(file)
	if err != nil {
		r.faults = append(r.faults, fmt.Errorf("opening table: %w", err))
		return
	}
	defer in.Close()
	var names map[string]int
	lines := bufio.NewScanner(in)
	for n := 1; lines.Scan(); n++ {
		text := lines.Text()
		if strings.HasPrefix(text, "#") {
			continue
		}
		at := row{r: r, file: file, line: n}
		cells := strings.Split(text, "\t")
		switch {
		case names == nil:
			if got := strings.Join(cells, " "); got != columns {
				at.fail("the columns are %q, want %q", got, columns)
				return
			}
			names = make(map[string]int, len(cells))
			for i, name := range cells {
				names[name] = i
			}
		case len(cells) != len(names):
			at.fail("%d cells, want %d", len(cells), len(names))
		default:
			at.columns, at.cells = names, cells
			f(at)
		}
	}
	if err := lines.Err(); err != nil {
		r.faults = append(r.faults, fmt.Errorf("reading %s: %w", file, err))
	}
	if names == nil {
		r.faults = append(r.faults, fmt.Errorf("%s: no columns", file))
	}
}

func (r *reader) err() error { return errors.Join(r.faults...) }

func (w row) fail(format string, args ...any) {
	w.r.faults = append(w.r.faults, fmt.Errorf("%s:%d: %s", w.file, w.line, fmt.Sprintf(format, args...)))
}

// text gives a cell that may be empty; a column that the table does not have
// counts as empty.
func (w row) text(column string) string {
	if _, ok := w.columns[column]; !ok {
		return ""
	}
	return w.cell(column)
}

// need gives a cell that may not be empty.
func (w row) need(column string) string {
	s := w.cell(column)
	if s == "" {
		w.fail("%s is empty", column)
	}
	return s
}

// word gives a cell that must be on a list.
func word[T ~string](w row, column string, allowed set[T]) T {
	s := w.cell(column)
	if !allowed.has(s) {
		w.fail("%s: %q is not on the list", column, s)
	}
	return T(s)
}

// number gives a cell that must be a plain number.
func (w row) number(column string) float64 {
	f, err := parseFigure(w.cell(column))
	if err != nil {
		w.fail("%s: %q is not a number", column, w.cell(column))
	}
	return f
}

// optional gives a cell that is a number or empty, NaN then.
func (w row) optional(column string) float64 {
	if w.cell(column) == "" {
		return math.NaN()
	}
	return w.number(column)
}

// evidence reads the source, also and status of a row.
func (w row) evidence() Evidence {
	e := Evidence{Source: w.source(w.cell("source")), Status: word(w, "status", statuses)}
	for _, key := range strings.Fields(w.text("also")) {
		e.Also = append(e.Also, w.source(key))
	}
	if all := append([]Source{e.Source}, e.Also...); e.Status == Verified && !bibliography.Verify(all...) {
		w.fail("status: verified, and none of the sources is primary, nor are two of them independent")
	}
	return e
}

func (w row) source(key string) Source {
	s, ok := bibliography.Find(key)
	switch {
	case key == "":
		w.fail("has no source")
	case !ok:
		w.fail("source %q is not in the bibliography", key)
	}
	return s
}

// material gives a cell that must be the id of a material.
func (w row) material(b *Base, column string) string {
	id := w.cell(column)
	if _, ok := b.materials[id]; !ok {
		w.fail("%s: %q is not a material", column, id)
	}
	return id
}

// maybeMaterial gives a cell that is empty or the id of a material.
func (w row) maybeMaterial(b *Base, column string) string {
	if w.cell(column) == "" {
		return ""
	}
	return w.material(b, column)
}

// grade gives a cell that must be any, not-stated or a grade of the material.
func (w row) grade(b *Base, id, column string) string {
	g := w.cell(column)
	if g == AnyGrade {
		return g
	}
	for _, known := range b.materials[id].Grades {
		if known.Name == g {
			return g
		}
	}
	w.fail("%s: %q is not a grade of %s", column, g, id)
	return g
}
