// Package sheet reads and writes tables as comma-separated values (RFC 4180),
// as spreadsheets exchange them.
//
// It promises that a broken line affects no other: a quote that is never closed
// does not swallow the rest of the file. It promises that a spreadsheet never
// runs a written cell as a formula, and that Unguard gives back every cell as it
// was. It reads and writes streams: no table is held in memory.
//
// Cells are text; their meaning is the caller's.
package sheet

import (
	"bufio"
	"fmt"
	"io"
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"
)

// MediaType is the media type of what Writer writes.
const MediaType = "text/csv; charset=utf-8"

// formulas are the first characters of cells that a spreadsheet runs, in their
// ordinary, full-width and small forms; controls are those that some spreadsheets
// attach to the following cell. Source: OWASP, CSV Injection (recalled).
const (
	formulas = "=+-@＝＋－＠﹦﹢﹣﹫"
	controls = "\t\r\n"
)

// negative is a number below zero, which is no formula.
var negative = regexp.MustCompile(`^-(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$`)

// Guard makes a cell that no spreadsheet runs: an apostrophe goes before a cell
// that begins like a formula, also behind spaces, quotes and invisible
// characters, and before one that begins with an apostrophe. Numbers stay.
func Guard(cell string) string {
	if guarded(cell) && !negative.MatchString(cell) {
		return "'" + cell
	}
	return cell
}

// Unguard removes what Guard added.
func Unguard(cell string) string {
	if rest, ok := strings.CutPrefix(cell, "'"); ok && guarded(rest) {
		return rest
	}
	return cell
}

func guarded(cell string) bool {
	return begins(cell, controls+"'") || begins(strings.TrimLeftFunc(cell, unseen), formulas)
}

func unseen(r rune) bool { return r == '"' || unicode.IsSpace(r) || unicode.Is(unicode.Cf, r) }

func begins(cell, with string) bool {
	first, size := utf8.DecodeRuneInString(cell)
	return size > 0 && strings.ContainsRune(with, first)
}

// A Writer writes rows of guarded cells.
type Writer struct {
	w   *bufio.Writer
	end string // of each row
}

// NewWriter writes to w, with CR LF at the end of each row.
func NewWriter(w io.Writer) *Writer { return &Writer{bufio.NewWriter(w), "\r\n"} }

// NewLineWriter writes to w, with LF at the end of each row.
func NewLineWriter(w io.Writer) *Writer { return &Writer{bufio.NewWriter(w), "\n"} }

// Write writes one row. An error of the destination may only show in Flush.
func (w *Writer) Write(cells ...string) error {
	for i, c := range cells {
		if i > 0 {
			_ = w.w.WriteByte(',')
		}
		_, _ = w.w.WriteString(quoted(Guard(c)))
	}
	if _, err := w.w.WriteString(w.end); err != nil {
		return fmt.Errorf("writing a row: %w", err)
	}
	return nil
}

// Flush writes what is buffered, and gives the first error so far.
func (w *Writer) Flush() error {
	if err := w.w.Flush(); err != nil {
		return fmt.Errorf("writing rows: %w", err)
	}
	return nil
}

// quoted puts a cell in quotes if it needs them.
func quoted(cell string) string {
	if strings.ContainsAny(cell, ",\"\r\n") || strings.HasPrefix(cell, " ") || strings.HasSuffix(cell, " ") {
		return `"` + strings.ReplaceAll(cell, `"`, `""`) + `"`
	}
	return cell
}
