// Package sheet reads and writes tables as comma-separated values (RFC 4180),
// as spreadsheets exchange them.
//
// It promises that one broken line costs one line: a quote that is never closed
// does not swallow the rest of the file. It promises that what it writes is
// never run as a formula by a spreadsheet, and that Unguard gives back every
// cell as it was. Both ways are streams: no table is held in memory.
//
// It gives cells as text and knows nothing of what they mean.
package sheet

import (
	"bufio"
	"fmt"
	"io"
	"strings"
)

// MediaType is the media type of what Writer writes.
const MediaType = "text/csv; charset=utf-8"

// runs are the characters with which a spreadsheet takes a cell for something
// to run, in their ordinary and full-width forms, and the guard itself.
// Source: OWASP, CSV Injection (recalled).
const runs = "=+-@\t\r\n＝＋－＠'"

// Guard makes a cell that no spreadsheet runs: an apostrophe goes before a cell
// that begins like a formula, or with an apostrophe.
func Guard(cell string) string {
	if cell != "" && strings.ContainsRune(runs, firstRune(cell)) {
		return "'" + cell
	}
	return cell
}

// Unguard takes away what Guard put there.
func Unguard(cell string) string {
	if rest, guarded := strings.CutPrefix(cell, "'"); guarded && rest != "" && strings.ContainsRune(runs, firstRune(rest)) {
		return rest
	}
	return cell
}

func firstRune(s string) rune {
	for _, r := range s {
		return r
	}
	return 0
}

// A Writer writes rows of guarded cells, with CR LF at the end of each.
type Writer struct {
	w *bufio.Writer
}

// NewWriter writes to w.
func NewWriter(w io.Writer) *Writer { return &Writer{bufio.NewWriter(w)} }

// Write writes one row. An error of the destination may only show in Flush.
func (w *Writer) Write(cells ...string) error {
	for i, c := range cells {
		if i > 0 {
			_ = w.w.WriteByte(',')
		}
		_, _ = w.w.WriteString(quoted(Guard(c)))
	}
	if _, err := w.w.WriteString("\r\n"); err != nil {
		return fmt.Errorf("writing a row: %w", err)
	}
	return nil
}

// Flush sends what is buffered on its way, and tells of any error so far.
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
