package ledger

import (
	"encoding/hex"
	"fmt"
	"strconv"
	"time"

	"github.com/go-json-experiment/json/jsontext"
	"github.com/google/uuid"
	"golang.org/x/mod/sumdb/tlog"
)

// Leaf is what the log holds of an entry: everything but its words, which a redaction
// takes, and for these their digest, which a redaction leaves. Names of people are words;
// people are ids here.
type Leaf struct {
	Sequence         int64 // from 1, without gaps
	SealedAt         time.Time
	Entry            uuid.UUID
	Kind             string
	Record           uuid.UUID
	Revision         int
	Act              Act
	Request          uuid.UUID
	RecordedAt       time.Time
	RecordedBy       uuid.UUID
	System, SystemID *string // the source, if there is one; both or none
	Digest           []byte  // see Digest
}

// Append appends the leaf without its closing brace. It is how a line of an export begins.
func (l Leaf) Append(b []byte) []byte {
	b = strconv.AppendInt(append(b, `{"sequence":`...), l.Sequence, 10)
	b = stored(l.SealedAt).AppendFormat(append(b, `,"sealedAt":"`...), time.RFC3339Nano)
	b = append(append(b, `","entry":"`...), l.Entry.String()...)
	b = append(append(b, `","kind":"`...), l.Kind...)
	b = append(append(b, `","record":"`...), l.Record.String()...)
	b = strconv.AppendInt(append(b, `","revision":`...), int64(l.Revision), 10)
	b = append(append(b, `,"act":"`...), l.Act...)
	b = append(append(b, `","request":"`...), l.Request.String()...)
	b = stored(l.RecordedAt).AppendFormat(append(b, `","recordedAt":"`...), time.RFC3339Nano)
	b = append(append(b, `","recordedBy":"`...), l.RecordedBy.String()...)
	b = append(b, '"')
	if l.System != nil {
		b, _ = jsontext.AppendQuote(append(b, `,"source":{"system":`...), *l.System) // it fails for invalid UTF-8,
		b, _ = jsontext.AppendQuote(append(b, `,"recordId":`...), *l.SystemID)       // which is never stored
		b = append(b, '}')
	}
	return append(hex.AppendEncode(append(b, `,"digest":"`...), l.Digest), '"')
}

// stored is a time as it is stored: to a microsecond.
func stored(t time.Time) time.Time { return t.UTC().Truncate(time.Microsecond) }

// Text is the leaf as it is hashed: one JSON object in UTF-8, without white space.
func (l Leaf) Text() []byte { return append(l.Append(nil), '}') }

// Name is what the entry is, for people.
func (l Leaf) Name() string {
	return fmt.Sprintf("entry number %d (%s, revision %d of the %s %s)", l.Sequence, l.Entry, l.Revision, l.Kind, l.Record)
}

// Hash is the leaf's hash: SHA-256 of a zero byte and the text (RFC 9162, section 2.1.1).
func (l Leaf) Hash() tlog.Hash { return tlog.RecordHash(l.Text()) }
