package cardimport

import (
	"errors"
	"fmt"
	"hash/maphash"
	"io"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"

	"meniscus/internal/fault"
	"meniscus/internal/record"
	"meniscus/internal/sheet"
)

// maxVerbatim is the longest card, in characters.
const maxVerbatim = 20000

// A Reader reads cards from a stream.
type Reader struct {
	mapping Mapping
	words   Vocabulary
	source  source
	seed    maphash.Seed
	// spellings detects a number that is spelled in two ways, and ids a card that
	// appears twice. Both hold digests only, so that two million cards fit.
	spellings map[uint64]spelling
	ids       map[uint64]int
}

type spelling struct {
	exact uint64
	line  int
}

// source gives one line after the other; a line that is not a card has Wrong set.
type source interface {
	next() (sourceLine, error)
}

type sourceLine struct {
	number int
	raw    string
	cells  cells
	wrong  string
}

// NewReader begins to read. The heading of a table is read at once: a fault
// means that the mapping does not fit it.
func NewReader(r io.Reader, m Mapping, words Vocabulary) (*Reader, error) {
	if err := m.Check(); err != nil {
		return nil, err
	}
	decoded, err := m.decode(r)
	if err != nil {
		return nil, err
	}
	out := &Reader{mapping: m, words: words, seed: maphash.MakeSeed(), spellings: map[uint64]spelling{},
		ids: map[uint64]int{}}
	if m.Format == NDJSON {
		out.source = newJSONLines(decoded, m)
		return out, nil
	}
	out.source, err = newTable(decoded, m)
	return out, err
}

// decode gives the text in UTF-8.
func (m Mapping) decode(r io.Reader) (io.Reader, error) {
	switch m.Encoding {
	case "", "utf-8":
		return r, nil
	case "windows-1252":
		return transform.NewReader(r, charmap.Windows1252.NewDecoder()), nil
	case "utf-16":
		return transform.NewReader(r, unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewDecoder()), nil
	}
	return nil, fault.New("encoding-unknown", "/encoding", "The encoding is utf-8, windows-1252 or utf-16.")
}

// Next gives the next card, or io.EOF. A card that cannot be taken comes back
// with Faults set, and reading continues.
func (r *Reader) Next() (Card, error) {
	line, err := r.source.next()
	if err != nil {
		return Card{}, err
	}
	card := Card{Line: line.number, Raw: line.raw}
	if line.wrong != "" {
		card.Faults.Add("line-unreadable", "", "%s", line.wrong)
		return card, nil
	}
	a := assembler{mapping: r.mapping, words: r.words, cells: line.cells, card: &card}
	a.assemble()
	if utf8.RuneCountInString(card.Treatment.OldCard.Verbatim) > maxVerbatim {
		card.Faults.Add("card-too-long", "",
			"A card holds at most %d characters; this line may be several cards run together.", maxVerbatim)
	}
	card.SourceID = line.cells.one(CardID).text
	r.notice(&card, line.cells)
	return card, nil
}

// notice looks for duplicates on earlier lines: the number in another spelling,
// or the same card id.
func (r *Reader) notice(card *Card, cs cells) {
	number := cs.one(Number)
	if number.text != "" {
		within := card.Names.Specimen.Kind + "\n" + card.Names.Collection + "\n"
		exact, folded := maphash.String(r.seed, number.text), maphash.String(r.seed, within+record.Fold(number.text))
		if first, seen := r.spellings[folded]; !seen {
			r.spellings[folded] = spelling{exact, card.Line}
		} else if first.exact != exact {
			card.Doubts = append(card.Doubts, Doubt{DoubtTwoSpellings, number.column.Name,
				fmt.Sprintf("Line %d writes a number that differs from this one only in case, spaces, punctuation or "+
					"leading zeros; as they stand they are two specimens.", first.line)})
		}
	}
	if card.SourceID == "" {
		return
	}
	id := maphash.String(r.seed, card.SourceID)
	if first, seen := r.ids[id]; seen {
		card.Doubts = append(card.Doubts, Doubt{DoubtDoubled, cs.one(CardID).column.Name,
			fmt.Sprintf("Line %d has the same card id: it is the same card if it says the same, and is "+
				"refused otherwise.", first)})
		return
	}
	r.ids[id] = card.Line
}

// table reads cards from CSV.
type table struct {
	sheet   *sheet.Reader
	columns []Column // by position; those that the mapping does not name are ignored ones
}

func newTable(r io.Reader, m Mapping) (*table, error) {
	separator := m.Separator
	if separator == 0 {
		separator = ','
	}
	t := &table{sheet: sheet.NewReader(r, separator)}
	heading, err := t.sheet.Next()
	switch {
	case errors.Is(err, io.EOF):
		return nil, fault.Of(fault.Invalid, "table-empty", "The table is empty; it begins with a line of headings.")
	case err != nil:
		return nil, fmt.Errorf("reading the heading: %w", err)
	case heading.Wrong != "":
		return nil, fault.Of(fault.Invalid, "heading-unreadable", "The line of headings cannot be read: %s", heading.Wrong)
	}
	t.sheet.Expect(len(heading.Cells))
	return t, t.match(heading.Cells, m)
}

// match finds the mapping's columns among the headings.
func (t *table) match(headings []string, m Mapping) error {
	var faults fault.List
	found := map[string]bool{}
	for _, h := range headings {
		h = strings.TrimSpace(sheet.Unguard(h))
		column := Column{Name: h, Field: Ignored}
		for _, c := range m.Columns {
			if c.Name == h && !found[h] {
				column = c
			}
		}
		if found[h] && h != "" {
			faults.Add("heading-twice", "/columns", "Two columns of the table have the same heading; give each its own.")
		}
		found[h] = true
		t.columns = append(t.columns, column)
	}
	for i, c := range m.Columns {
		if !found[c.Name] {
			faults.Add("column-not-in-table", fmt.Sprintf("/columns/%d/name", i),
				"The table has no column with this heading; its first line must hold the headings as the mapping writes them.")
		}
	}
	return faults.Err()
}

func (t *table) next() (sourceLine, error) {
	row, err := t.sheet.Next()
	if err != nil {
		return sourceLine{}, err
	}
	out := sourceLine{number: row.Line, raw: row.Raw, wrong: row.Wrong}
	for i, text := range row.Cells {
		if text = cleanCell(text); text != "" && i < len(t.columns) {
			out.cells = append(out.cells, cell{t.columns[i], text})
		}
	}
	return out, nil
}

// cleanCell removes what is not the card's: spaces around the text, the guard
// before a formula, and the ="…" by which tables keep a number as text.
func cleanCell(text string) string {
	text = strings.TrimSpace(sheet.Unguard(text))
	if inner, ok := strings.CutPrefix(text, `="`); ok && strings.HasSuffix(inner, `"`) && strings.Count(inner, `"`) == 1 {
		return strings.TrimSpace(strings.TrimSuffix(inner, `"`))
	}
	return text
}
