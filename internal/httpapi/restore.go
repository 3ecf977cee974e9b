package httpapi

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"net/http"
	"slices"
	"time"

	jsonv2 "github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"
	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/ledger"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
)

const (
	// restoredTogether is how many entries go to the database at once.
	restoredTogether = 100
	// longestLine bounds a line of an export: a statement is at most a body, and
	// what stands around it is small.
	longestLine = 16 << 20
)

// restoreRecords makes an empty institution's record from an export, all of it
// or nothing.
func restoreRecords(s *Server, c *call) (*answer, error) {
	r := &restoring{server: s, call: c, digest: sha256.New()}
	err := s.store.Restore(c.ctx(), c.principal.Institution, func(into *postgres.Restoration) error {
		r.into = into
		return r.run(bufio.NewReaderSize(c.echo.Request().Body, 64<<10))
	})
	if err != nil {
		return nil, err
	}
	return with(http.StatusCreated, api.Restoration{Entries: r.place, RuleSeverities: r.severities, Sha256: r.proven})
}

// restoring is the work of restoreRecords.
type restoring struct {
	server     *Server
	call       *call
	into       *postgres.Restoration
	digest     hash.Hash // of the lines so far
	line       int64     // the line at work
	place      int64     // the place of the last entry
	sealed     time.Time // when it was given
	severities int64
	chunk      []postgres.Restored // the entries of the last lines, not yet restored
	proven     string              // the digest, when the last line has confirmed it
}

// exportLine is a line of an export: an entry, or one of the other two.
type exportLine struct {
	Place        int64          `json:"place"`
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
	Nonce        string         `json:"nonce"`
	Body         jsontext.Value `json:"body"`
	Remains      jsontext.Value `json:"remains"`
	RuleSeverity *severityLine  `json:"ruleSeverity"`
	End          *endLine       `json:"end"`
}

// run reads line by line until the last one.
func (r *restoring) run(in *bufio.Reader) error {
	for r.proven == "" {
		text, err := r.next(in)
		if err != nil {
			return err
		}
		before := r.digest.Sum(nil)
		r.digest.Write(text)
		if err := r.take(text, before); err != nil {
			return r.at(r.line, err)
		}
	}
	if _, err := in.ReadByte(); !errors.Is(err, io.EOF) {
		return r.at(r.line+1, fault.New("line-after-end", "", "Something follows the last line of the export."))
	}
	return nil
}

// next is the next line, with its end.
func (r *restoring) next(in *bufio.Reader) ([]byte, error) {
	r.line++
	var line []byte
	for {
		piece, err := in.ReadSlice('\n')
		line = append(line, piece...)
		switch {
		case len(line) > longestLine:
			return nil, r.at(r.line, fault.New("line-too-long", "", "A line of an export has %d bytes at most.", longestLine))
		case err == nil:
			return line, nil
		case errors.Is(err, io.EOF):
			return nil, r.at(r.line, fault.New("export-broken-off", "", "The export breaks off here: its last line says how many entries it has. Fetch it again."))
		case !errors.Is(err, bufio.ErrBufferFull):
			return nil, readFault(err, 0)
		}
	}
}

// at says of a fault which line it is in, and that nothing was restored.
func (r *restoring) at(line int64, err error) error {
	found := fault.From(err)
	if len(found) == 0 || found[0].Kind != fault.Invalid || found[0].Extra != nil {
		return err
	}
	located := *found[0]
	located.Detail = fmt.Sprintf("Line %d: %s Nothing was restored.", line, located.Detail)
	located.Extra = map[string]any{"line": line}
	return &located
}

// take does one line; before is the digest of all lines before it.
func (r *restoring) take(text, before []byte) error {
	var line exportLine
	if err := decodeInto(bytes.TrimSuffix(text, []byte("\n")), &line); err != nil {
		return fault.New("line-unreadable", "", "This is not a line of an export: one JSON object, with the members that an export has.")
	}
	switch {
	case line.End != nil:
		return r.end(*line.End, before)
	case line.RuleSeverity != nil:
		return r.severity(*line.RuleSeverity)
	case r.severities > 0:
		return fault.New("line-out-of-order", "", "An entry follows the institution's own severities.")
	}
	return r.entry(line)
}

func (r *restoring) entry(line exportLine) error {
	e, err := r.read(line)
	if err != nil {
		return err
	}
	project, err := r.server.replayed(r.call.ctx(), r.call.principal.Institution, e)
	if err != nil {
		return fault.New("statement-unreadable", "", "The statement cannot be read as one of a %s.", string(e.Kind))
	}
	r.place, r.sealed = line.Place, line.SealedAt
	r.chunk = append(r.chunk, postgres.Restored{Exported: e, Project: project})
	if len(r.chunk) == restoredTogether {
		return r.flush()
	}
	return nil
}

// flush restores the entries that wait.
func (r *restoring) flush() error {
	r.call.patience()
	first := r.place - int64(len(r.chunk)) + 1 // an entry's place is its line
	at, err := r.into.Put(r.call.ctx(), r.chunk)
	r.chunk = r.chunk[:0]
	if err != nil {
		return r.at(first+int64(at), err)
	}
	return nil
}

// read checks a line for itself and against the one before.
func (r *restoring) read(line exportLine) (postgres.Exported, error) {
	if line.Place != r.place+1 {
		return postgres.Exported{}, fault.New("place-missing", "", "It has the place %d where %d comes next: lines are missing or out of order.", line.Place, r.place+1)
	}
	if _, known := kinds[line.Kind]; !known || line.Revision < 1 || !slices.Contains(ledger.Acts(), line.Act) {
		return postgres.Exported{}, fault.New("line-unreadable", "", "It has a kind, a revision or an act that no entry has.")
	}
	if line.SealedAt.Before(r.sealed) || line.SealedAt.After(time.Now().Add(time.Minute)) {
		return postgres.Exported{}, fault.New("time-impossible", "", "It got its place before the one before it, or in the future.")
	}
	e := postgres.Exported{SealedAt: line.SealedAt, Fact: postgres.Fact{Row: postgres.Row{EntryID: line.Entry, Kind: line.Kind, Record: line.Record, Revision: line.Revision,
		Act: line.Act, RequestID: line.Request, RecordedAt: line.RecordedAt, RecordedBy: line.RecordedBy, Place: &line.Place}}}
	if line.Source != nil {
		e.System, e.SystemID = &line.Source.System, &line.Source.RecordId
	}
	if line.Remains != nil {
		remains := string(line.Remains)
		e.Remains = &remains
	}
	return e, proveWords(line, &e)
}

// proveWords takes over a line's words, if they give its digest.
func proveWords(line exportLine, e *postgres.Exported) error {
	var err error
	if e.Digest, err = hex.DecodeString(line.Digest); err != nil || len(e.Digest) != sha256.Size {
		return fault.New("line-unreadable", "", "Its digest is not one: 64 hexadecimal digits.")
	}
	if line.Body == nil && line.Nonce == "" {
		return nil // redacted
	}
	if e.Nonce, err = hex.DecodeString(line.Nonce); err != nil || len(e.Nonce) != ledger.NonceSize || line.Body.Kind() != '{' {
		return fault.New("line-unreadable", "", "Its words or its nonce are not those of an entry.")
	}
	if ledger.Digest(e.Nonce, line.Body) != [32]byte(e.Digest) {
		return fault.New("digest-wrong", "", "Its words do not give its digest: somebody altered it.")
	}
	if holdsNUL(line.Body) {
		return fault.New("line-unreadable", "", "Its words hold the character U+0000, which cannot be kept.")
	}
	body := string(line.Body)
	e.Body = &body
	return nil
}

// holdsNUL tells whether words hold the character that no text column can keep.
func holdsNUL(words jsontext.Value) bool {
	var value any
	var faults fault.List
	if bytes.Contains(words, []byte(`\u0000`)) && jsonv2.Unmarshal(words, &value) == nil {
		findNUL(value, "", &faults)
	}
	return len(faults) > 0
}

func (r *restoring) severity(line severityLine) error {
	if err := r.flush(); err != nil {
		return err
	}
	r.severities++
	return r.into.Choose(r.call.ctx(), postgres.ChosenSeverity{ID: line.ID,
		RuleTuning: postgres.RuleTuning{Rule: line.Rule, Severity: line.Severity, Reason: line.Reason, By: line.ChosenBy, At: line.ChosenAt}})
}

// end compares what came with what the last line says of it.
func (r *restoring) end(said endLine, digest []byte) error {
	if err := r.flush(); err != nil {
		return err
	}
	if said.Entries != r.place || said.RuleSeverities != r.severities {
		return fault.New("lines-missing", "", "The export has %d entries and %d severities, and %d and %d came before its end.", said.Entries, said.RuleSeverities, r.place, r.severities)
	}
	if said.SHA256 != hex.EncodeToString(digest) {
		return fault.New("export-altered", "", "The lines before it do not give the digest that it says: one of them was altered beside its words.")
	}
	r.proven = said.SHA256
	return nil
}
