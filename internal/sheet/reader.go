package sheet

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"
)

const (
	// MaxLine is the longest line that is read, in bytes.
	MaxLine = 1 << 20
	// maxRowLines is the most lines of one row. A quoted cell may hold line
	// breaks; a longer one is taken for a missing closing quote.
	maxRowLines = 100
)

// A Row is one row of a table, or a line that is not a valid row.
type Row struct {
	// Line is the number of the row's first line, from 1.
	Line int
	// Raw is the text of the row without its last line break; of a line that is
	// too long, only the beginning.
	Raw string
	// Cells are nil if the line is not a valid row.
	Cells []string
	// Wrong says in a sentence why the line is not a valid row.
	Wrong string
}

// A Reader reads rows. Empty lines, and rows in which every cell is empty, are
// skipped.
type Reader struct {
	lines     *lines
	separator byte
	columns   int
	ahead     []line
}

// NewReader reads UTF-8 text, with or without a byte order mark, whose cells are
// separated by this character.
func NewReader(r io.Reader, separator byte) *Reader {
	return &Reader{lines: newLines(r), separator: separator}
}

// Expect sets how many cells each following row must have. Further empty cells
// are ignored.
func (r *Reader) Expect(columns int) { r.columns = columns }

// Next gives the next row, or io.EOF. A line that is not a valid row comes back
// with Wrong set, and reading continues with the next line. Any other error comes
// from the source, and is final.
func (r *Reader) Next() (Row, error) {
	for {
		if err := r.look(1); err != nil {
			return Row{}, err
		}
		row, taken, err := r.row()
		if err != nil {
			return Row{}, err
		}
		r.ahead = r.ahead[taken:]
		if row.Wrong != "" || !blank(row.Cells) {
			return row, nil
		}
	}
}

// look makes sure that n lines are ahead; io.EOF if there are fewer.
func (r *Reader) look(n int) error {
	for len(r.ahead) < n {
		l, err := r.lines.next()
		if err != nil {
			return err
		}
		r.ahead = append(r.ahead, l)
	}
	return nil
}

// row reads one row from the lines ahead and tells how many of them it took. A
// row with an error takes only its first line.
func (r *Reader) row() (Row, int, error) {
	s := scan{separator: r.separator}
	size := 0
	for taken := 1; ; taken++ {
		err := r.look(taken)
		switch {
		case errors.Is(err, io.EOF):
			return r.bad("A quote is opened in this line and never closed."), 1, nil
		case err != nil:
			return Row{}, 0, err
		case taken > maxRowLines:
			return r.bad(fmt.Sprintf("A quote is opened in this line and not closed within %d lines.", maxRowLines)), 1, nil
		}
		here := r.ahead[taken-1]
		if size += len(here.text); size > MaxLine && taken > 1 {
			return r.bad(fmt.Sprintf("A quote is opened in this line and not closed within %d bytes.", MaxLine)), 1, nil
		}
		if here.wrong != "" {
			if taken == 1 {
				return r.bad(here.wrong), 1, nil
			}
			return r.bad("A quote is opened in this line and not closed before a line that cannot be read."), 1, nil
		}
		switch s.line(here.text) {
		case scanWrong:
			return r.bad("A quoted cell has text after its closing quote; " +
				"a quote inside a quoted cell is written twice."), 1, nil
		case scanDone:
			return r.fit(s.cells, taken), r.taken(s.cells, taken), nil
		}
	}
}

// fit gives the row, with Wrong set if the number of cells is wrong.
func (r *Reader) fit(cells []string, taken int) Row {
	if !r.fits(cells) {
		return r.bad(fmt.Sprintf("The row has %d cells, and the heading has %d.", len(cells), r.columns))
	}
	if r.columns > 0 && len(cells) > r.columns {
		cells = cells[:r.columns]
	}
	raw := make([]string, taken)
	for i, l := range r.ahead[:taken] {
		raw[i] = l.text
	}
	return Row{Line: r.ahead[0].number, Raw: strings.TrimSuffix(strings.Join(raw, "\n"), "\r"), Cells: cells}
}

// taken is how many lines a finished row takes: one only if it is wrong.
func (r *Reader) taken(cells []string, taken int) int {
	if !r.fits(cells) && !blank(cells) {
		return 1
	}
	return taken
}

func (r *Reader) fits(cells []string) bool {
	if r.columns == 0 || len(cells) == r.columns || blank(cells) {
		return true
	}
	return len(cells) > r.columns && blank(cells[r.columns:])
}

func (r *Reader) bad(wrong string) Row {
	first := r.ahead[0]
	return Row{Line: first.number, Raw: strings.TrimSuffix(first.text, "\r"), Wrong: wrong}
}

func blank(cells []string) bool {
	for _, c := range cells {
		if c != "" {
			return false
		}
	}
	return true
}

// A scan parses a row, line by line.
type scan struct {
	separator byte
	cells     []string
	cell      strings.Builder
	open      bool // inside a quoted cell
}

type scanState int

const (
	scanDone scanState = iota
	scanOpen
	scanWrong
)

// line takes in one line of the row, which may end in a carriage return: at the
// end of the row it belongs to the line break, in a quoted cell to the cell. A
// inside a cell that does not begin with one is an ordinary character (a 5" jar).
func (s *scan) line(text string) scanState {
	for {
		if s.open {
			end := strings.IndexByte(text, '"')
			if end < 0 {
				s.cell.WriteString(text)
				s.cell.WriteByte('\n')
				return scanOpen
			}
			s.cell.WriteString(text[:end])
			text = text[end+1:]
			if strings.HasPrefix(text, `"`) {
				s.cell.WriteByte('"')
				text = text[1:]
				continue
			}
			s.open = false
			if text == "\r" {
				text = ""
			}
			if text != "" && text[0] != s.separator {
				return scanWrong
			}
			s.finish(s.cell.String())
		} else if strings.HasPrefix(text, `"`) {
			s.open = true
			text = text[1:]
			continue
		} else {
			end := strings.IndexByte(text, s.separator)
			if end < 0 {
				s.finish(strings.TrimSuffix(text, "\r"))
				return scanDone
			}
			s.finish(text[:end])
			text = text[end:]
		}
		if text == "" {
			return scanDone
		}
		text = text[1:] // the separator
	}
}

func (s *scan) finish(cell string) {
	s.cells = append(s.cells, cell)
	s.cell.Reset()
}

// A line is one line of a file, without its line break.
type line struct {
	number int
	text   string
	wrong  string
}

// lines reads a file line by line.
type lines struct {
	r      *bufio.Reader
	number int
}

func newLines(r io.Reader) *lines {
	b := bufio.NewReaderSize(r, 64<<10)
	if mark, err := b.Peek(3); err == nil && bytes.Equal(mark, []byte("\xef\xbb\xbf")) {
		_, _ = b.Discard(3)
	}
	return &lines{r: b}
}

// next gives the next line. A line that is too long is skipped to its end without
// being kept.
func (l *lines) next() (line, error) {
	var text []byte
	tooLong := false
	for {
		part, err := l.r.ReadSlice('\n')
		if !tooLong {
			text = append(text, part...)
			tooLong = len(text) > MaxLine
		}
		switch {
		case errors.Is(err, bufio.ErrBufferFull):
			continue
		case errors.Is(err, io.EOF) && len(text) == 0:
			return line{}, io.EOF
		case err != nil && !errors.Is(err, io.EOF):
			return line{}, fmt.Errorf("reading line %d: %w", l.number+1, err)
		}
		l.number++
		return judge(l.number, text, tooLong), nil
	}
}

func judge(number int, text []byte, tooLong bool) line {
	const beginning = 2000
	text = bytes.TrimSuffix(text, []byte("\n"))
	out := line{number: number, text: string(text)}
	switch {
	case tooLong:
		out.text = strings.ToValidUTF8(string(text[:beginning]), "�")
		out.wrong = fmt.Sprintf("The line is longer than %d bytes.", MaxLine)
	case !utf8.Valid(text):
		out.text = strings.ToValidUTF8(out.text, "�")
		out.wrong = "The line is not text in UTF-8; save the file as UTF-8."
	case bytes.IndexByte(text, 0) >= 0:
		out.wrong = "The line has a NUL character in it."
	}
	out.text = strings.ReplaceAll(out.text, "\x00", "�") // always: no text column can store it
	return out
}
