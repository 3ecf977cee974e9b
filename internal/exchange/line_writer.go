package exchange

import (
	"bufio"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"hash"
	"io"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/postgres"
	"meniscus/internal/wire"
)

// lineWriter writes the lines of an export, and counts and digests them.
type lineWriter struct {
	out                 *bufio.Writer
	digest              hash.Hash
	entries, severities int64
	bodies              int64
	line                []byte
}

func newLineWriter(w io.Writer) *lineWriter {
	digest := sha256.New()
	return &lineWriter{out: bufio.NewWriter(io.MultiWriter(w, digest)), digest: digest}
}

func (l *lineWriter) entry(x postgres.Exported) error {
	l.entries++
	l.line = appendEntryLine(l.line[:0], x)
	_, err := l.out.Write(l.line)
	return err
}

// appendEntryLine appends an entry as a line: its leaf of the log, the leaf's hash as the
// log keeps it, and the words. These are copied byte for byte, because their digest is of
// these bytes.
func appendEntryLine(b []byte, x postgres.Exported) []byte {
	b = x.Leaf().Append(b)
	if x.Hashes != nil {
		b = append(hex.AppendEncode(append(b, `,"leaf":"`...), x.Hashes[:sha256.Size]), '"')
	}
	if x.Body != nil {
		b = append(hex.AppendEncode(append(b, `,"nonce":"`...), x.Nonce), '"')
		b = append(append(b, `,"body":`...), *x.Body...)
	}
	if x.Remains != nil {
		b = append(append(b, `,"remains":`...), *x.Remains...)
	}
	return append(b, "}\n"...)
}

// severityLine is a choice of an own severity, as it is exported.
type severityLine struct {
	ID       uuid.UUID `json:"id"`
	Rule     string    `json:"rule"`
	Severity string    `json:"severity"`
	Reason   string    `json:"reason"`
	ChosenBy uuid.UUID `json:"chosenBy"`
	ChosenAt time.Time `json:"chosenAt"`
}

func (l *lineWriter) severity(c postgres.ChosenSeverity) error {
	l.severities++
	words, err := wire.Encode(severityLine{c.ID, c.Rule, c.Severity, c.Reason, c.By, c.At.UTC()})
	if err == nil {
		_, err = fmt.Fprintf(l.out, "{\"ruleSeverity\":%s}\n", words)
	}
	return err
}

// bodyLine is a choice of how a collection's bodies are made, as it is exported.
type bodyLine struct {
	ID         uuid.UUID       `json:"id"`
	Collection string          `json:"collection"`
	BodyTraits json.RawMessage `json:"bodyTraits"`
	ChosenBy   uuid.UUID       `json:"chosenBy"`
	ChosenAt   time.Time       `json:"chosenAt"`
}

func (l *lineWriter) body(c postgres.ChosenBody) error {
	l.bodies++
	words, err := wire.Encode(bodyLine{c.ID, c.Collection, json.RawMessage(c.Traits), c.By, c.At.UTC()})
	if err == nil {
		_, err = fmt.Fprintf(l.out, "{\"collectionBody\":%s}\n", words)
	}
	return err
}

// endLine is the last line of an export: how much there is, and the digest of all
// lines before it.
type endLine struct {
	Entries        int64  `json:"entries"`
	RuleSeverities int64  `json:"ruleSeverities"`
	Bodies         int64  `json:"collectionBodies,omitempty"`
	SHA256         string `json:"sha256"`
	// Signed is a note of a package's sender over its digest (ledger.SignPackage).
	Signed string `json:"signed,omitempty"`
}

func (l *lineWriter) end() error {
	return l.endSigned(func(string) ([]byte, error) { return nil, nil })
}

// endSigned is end with what sign makes of the digest.
func (l *lineWriter) endSigned(sign func(sha256 string) ([]byte, error)) error {
	if err := l.out.Flush(); err != nil {
		return err
	}
	digest := hex.EncodeToString(l.digest.Sum(nil))
	signed, err := sign(digest)
	if err != nil {
		return err
	}
	words, err := json.Marshal(endLine{l.entries, l.severities, l.bodies, digest, string(signed)})
	if err != nil {
		return err
	}
	if _, err := fmt.Fprintf(l.out, "{\"end\":%s}\n", words); err != nil {
		return err
	}
	return l.out.Flush()
}
