package exchange

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"slices"
	"time"

	"github.com/go-json-experiment/json/jsontext"
	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/ledger"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/statement"
	"meniscus/internal/wire"
)

// longestLine bounds a line of an export, in bytes: a statement is at most as long as a
// request body, with ids for names, and the rest of the line is short. mostValues
// bounds the JSON values in a line: three bytes can become a map in memory.
const (
	longestLine = 8 << 20
	mostValues  = 100_000
)

// exportLine is a line of an export: an entry, or a line of another kind.
type exportLine struct {
	Sequence     int64          `json:"sequence"`
	SealedAt     time.Time      `json:"sealedAt"`
	Entry        uuid.UUID      `json:"entry"`
	Kind         record.Kind    `json:"kind"`
	Record       uuid.UUID      `json:"record"`
	Revision     int            `json:"revision"`
	Act          ledger.Act     `json:"act"`
	Request      uuid.UUID      `json:"request"`
	RecordedAt   time.Time      `json:"recordedAt"`
	RecordedBy   uuid.UUID      `json:"recordedBy"`
	Source       *api.Source    `json:"source"`
	Digest       string         `json:"digest"`
	Leaf         string         `json:"leaf"`
	Nonce        string         `json:"nonce"`
	Body         jsontext.Value `json:"body"`
	Remains      jsontext.Value `json:"remains"`
	RuleSeverity *severityLine  `json:"ruleSeverity"`
	Collection   *bodyLine      `json:"collectionBody"`
	Package      *packageLine   `json:"package"`
	End          *endLine       `json:"end"`
	// Place is the name of Sequence in exports of earlier versions.
	Place int64 `json:"place"`
}

// lineReader reads the lines of an export or of a package, one at a time.
type lineReader struct {
	in     *bufio.Reader
	digest hash.Hash // of the lines so far
	before []byte    // the digest before the last one
	line   int64     // the number of the last one
}

func newLineReader(in io.Reader) *lineReader {
	return &lineReader{in: bufio.NewReaderSize(in, 64<<10), digest: sha256.New()}
}

// next is the next line.
func (l *lineReader) next() (exportLine, error) {
	var line exportLine
	text, err := l.text()
	if err != nil {
		return line, err
	}
	l.before = l.digest.Sum(l.before[:0])
	l.digest.Write(text)
	if moreValues(text, mostValues) {
		return line, fault.New("line-too-long", "", "A line of an export holds %d values at most.", mostValues)
	}
	if err := wire.Decode(bytes.TrimSuffix(text, []byte("\n")), &line); err != nil {
		return line, fault.New("line-unreadable", "",
			"This is not a line of an export: one JSON object, with the members that an export has.")
	}
	if line.Place != 0 && line.Sequence != 0 {
		return line, fault.New("line-unreadable", "", "Its sequence number is said twice, as sequence and as place.")
	}
	line.Sequence += line.Place // only one of them is set
	return line, nil
}

// moreValues tells whether a JSON text holds more than most values. It ignores syntax
// errors, which the parser reports.
func moreValues(text []byte, most int) bool {
	if len(text) < most {
		return false
	}
	in := jsontext.NewDecoder(bytes.NewReader(text), jsontext.AllowDuplicateNames(true))
	for values := 0; ; {
		token, err := in.ReadToken()
		if err != nil {
			return false
		}
		if kind := token.Kind(); kind != '}' && kind != ']' {
			values++ // names are counted as values
		}
		if values > 2*most {
			return true
		}
	}
}

// text is the next line, with its end.
func (l *lineReader) text() ([]byte, error) {
	l.line++
	var line []byte
	for {
		piece, err := l.in.ReadSlice('\n')
		line = append(line, piece...)
		switch {
		case len(line) > longestLine:
			return nil, fault.New("line-too-long", "", "A line of an export has %d bytes at most.", longestLine)
		case err == nil:
			return line, nil
		case errors.Is(err, io.EOF):
			return nil, fault.New("export-broken-off", "",
				"The export breaks off here: its last line says how many entries it has. Fetch it again.")
		case !errors.Is(err, bufio.ErrBufferFull):
			return nil, err
		}
	}
}

// end compares what was read with the counts and the digest of the last line, and
// refuses any line after it.
func (l *lineReader) end(said endLine, entries, severities, bodies int64) error {
	if said.Entries != entries || said.RuleSeverities != severities || said.Bodies != bodies {
		return fault.New("lines-missing", "",
			"The export has %d entries, %d severities and %d bodies of collections, and %d, %d and %d came before its "+
				"end.", said.Entries, said.RuleSeverities, said.Bodies, entries, severities, bodies)
	}
	if said.SHA256 != hex.EncodeToString(l.before) {
		return fault.New("export-altered", "",
			"The lines before it do not give the digest that it says: one of them was altered beside its words.")
	}
	if _, err := l.in.ReadByte(); !errors.Is(err, io.EOF) {
		l.line++
		return fault.New("line-after-end", "", "Something follows the last line of the export.")
	}
	return nil
}

// located adds to a fault the number of its line, and that nothing was recorded.
func located(line int64, err error) error {
	found := fault.From(err)
	if len(found) == 0 || found[0].Kind != fault.Invalid || found[0].Extra != nil {
		return err
	}
	there := *found[0]
	there.Detail = fmt.Sprintf("Line %d: %s Nothing was recorded.", line, there.Detail)
	there.Extra = map[string]any{"line": line}
	return &there
}

// entryOf is the entry of a line, if the digest of its words and the hash of its leaf are right.
func entryOf(line exportLine) (postgres.Exported, error) {
	e, err := entryIn(line)
	if err == nil {
		err = proveWords(line, &e)
	}
	if err != nil {
		return e, err
	}
	leaf := e.Leaf().Hash()
	if line.Leaf != "" && line.Leaf != hex.EncodeToString(leaf[:]) {
		return e, fault.New("digest-wrong", "", "It does not give the hash of its leaf: it was altered beside its words.")
	}
	return e, nil
}

// entryIn is the entry of a line without its words.
func entryIn(line exportLine) (postgres.Exported, error) {
	if !statement.Known(line.Kind) || line.Revision < 1 || !slices.Contains(ledger.Acts(), line.Act) {
		return postgres.Exported{}, fault.New("line-unreadable", "", "It has a kind, a revision or an act that no entry has.")
	}
	e := postgres.Exported{SealedAt: line.SealedAt, Fact: postgres.Fact{Row: postgres.Row{
		EntryID: line.Entry, Kind: line.Kind, Record: line.Record, Revision: line.Revision, Act: line.Act,
		RequestID: line.Request, RecordedAt: line.RecordedAt, RecordedBy: line.RecordedBy, Sequence: &line.Sequence}}}
	if line.Source != nil {
		e.System, e.SystemID = &line.Source.System, &line.Source.RecordId
	}
	if line.Remains != nil {
		remains := string(line.Remains)
		e.Remains = &remains
	}
	var err error
	if e.Digest, err = hex.DecodeString(line.Digest); err != nil || len(e.Digest) != sha256.Size {
		return e, fault.New("line-unreadable", "", "Its digest is not one: 64 hexadecimal digits.")
	}
	return e, nil
}

// proveWords copies a line's words to the entry, if their digest is right.
func proveWords(line exportLine, e *postgres.Exported) error {
	if line.Body == nil && line.Nonce == "" {
		return nil // redacted
	}
	var err error
	e.Nonce, err = hex.DecodeString(line.Nonce)
	if err != nil || len(e.Nonce) != ledger.NonceSize || line.Body.Kind() != '{' {
		return fault.New("line-unreadable", "", "Its words or its nonce are not those of an entry.")
	}
	if ledger.Digest(e.Nonce, line.Body) != [32]byte(e.Digest) {
		return fault.New("digest-wrong", "", "Its words do not give its digest: it was altered.")
	}
	if wire.HoldsNUL(line.Body) {
		return fault.New("line-unreadable", "", "Its words hold the character U+0000, which cannot be kept.")
	}
	body := string(line.Body)
	e.Body = &body
	return nil
}
