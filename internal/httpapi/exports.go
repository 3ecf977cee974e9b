package httpapi

import (
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"hash"
	"io"
	"net/http"
	"strconv"
	"time"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/wire"
)

const (
	ndjsonType = "application/x-ndjson"
	csvType    = "text/csv"
	// exportPage is how many entries of an export are in memory at once at most. Of
	// large ones there are fewer (postgres.Export).
	exportPage = 100
)

// exportRecords streams the whole record of the institution as lines of JSON, or
// the records of one kind as a table.
func exportRecords(s *Server, c *call) (*answer, error) {
	upto, err := c.tenant().LastPlace(c.ctx())
	if err != nil {
		return nil, err
	}
	kind := record.Kind(c.text("kind"))
	switch {
	case c.mediaType == csvType && kind == "":
		return nil, &fault.Fault{Kind: fault.Malformed, Code: "parameter-invalid", Parameter: "kind",
			Detail: "A table has the records of one kind: say which. Everything at once is given as application/x-ndjson."}
	case c.mediaType != csvType && c.query["kind"] != nil || c.mediaType != csvType && c.query["revisions"] != nil:
		return nil, &fault.Fault{Kind: fault.Malformed, Code: "parameter-invalid", Parameter: "kind",
			Detail: "Lines of JSON are the whole record, so that it can be restored: leave kind and revisions out, or accept text/csv."}
	}
	e := &export{server: s, call: c, upto: upto}
	a := &answer{stream: e.lines}
	name := "record.ndjson"
	if c.mediaType == csvType {
		t := table{export: e, kind: kind, all: c.text("revisions") == "all"}
		a.stream, name = t.write, string(kind)+".csv"
	}
	a.setHeader("Content-Disposition", `attachment; filename="`+name+`"`)
	return a, nil
}

// export is the work of exportRecords: everything up to the place that was the
// last one when it began.
type export struct {
	server *Server
	call   *call
	upto   int64
}

// lines writes every entry, then the institution's own severities, then what
// proves that nothing is missing or altered.
func (e *export) lines(w io.Writer) error {
	out := newLineWriter(w)
	err := e.each(e.call.tenant().Export, func(x postgres.Exported) error { return out.entry(x) })
	if err == nil {
		err = e.severities(out)
	}
	if err == nil {
		err = out.end()
	}
	return err
}

// pages gives entries after a place, up to another, and whether there may be more.
type pages func(ctx context.Context, after, upto int64, limit int) ([]postgres.Exported, bool, error)

// each does every entry, page by page.
func (e *export) each(read pages, do func(postgres.Exported) error) error {
	for after := int64(0); ; {
		e.call.patience()
		var page []postgres.Exported
		var more bool
		err := e.call.inTurn(e.call.ctx(), func() (err error) {
			page, more, err = read(e.call.ctx(), after, e.upto, exportPage)
			return err
		})
		if err != nil {
			return fmt.Errorf("reading entries to export: %w", err)
		}
		for _, x := range page {
			if err := do(x); err != nil {
				return err
			}
			after = *x.Place
		}
		if !more {
			return nil
		}
	}
}

func (e *export) severities(out *lineWriter) error {
	for after := uuid.Nil; ; {
		page, err := e.call.tenant().ChosenSeverities(e.call.ctx(), after, exportPage)
		if err != nil {
			return fmt.Errorf("reading severities to export: %w", err)
		}
		for _, s := range page {
			if err := out.severity(s); err != nil {
				return err
			}
			after = s.ID
		}
		if len(page) < exportPage {
			return nil
		}
	}
}

// patience gives the other side time for the next piece; the server's limits are
// for requests that end soon.
func (c *call) patience() {
	out := http.NewResponseController(c.echo.Response())
	_ = out.SetReadDeadline(time.Now().Add(cardLease)) // a writer that has no deadlines needs none
	_ = out.SetWriteDeadline(time.Now().Add(cardLease))
}

// lineWriter writes the lines of an export, and counts and digests them.
type lineWriter struct {
	out                 *bufio.Writer
	digest              hash.Hash
	entries, severities int64
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

// appendEntryLine is an entry as a line. Its words are passed on byte for byte,
// because their digest is of these bytes.
func appendEntryLine(b []byte, x postgres.Exported) []byte {
	b = strconv.AppendInt(append(b, `{"place":`...), *x.Place, 10)
	b = x.SealedAt.UTC().AppendFormat(append(b, `,"sealedAt":"`...), time.RFC3339Nano)
	b = append(append(b, `","entry":"`...), x.EntryID.String()...)
	b = append(append(b, `","kind":"`...), x.Kind...)
	b = append(append(b, `","record":"`...), x.Record.String()...)
	b = strconv.AppendInt(append(b, `","revision":`...), int64(x.Revision), 10)
	b = append(append(b, `,"act":"`...), x.Act...)
	b = append(append(b, `","request":"`...), x.RequestID.String()...)
	b = x.RecordedAt.UTC().AppendFormat(append(b, `","recordedAt":"`...), time.RFC3339Nano)
	b = append(append(b, `","recordedBy":"`...), x.RecordedBy.String()...)
	b = append(b, '"')
	if x.System != nil {
		source, _ := wire.Encode(api.Source{System: *x.System, RecordId: *x.SystemID}) // two texts cannot fail to encode
		b = append(append(b, `,"source":`...), source...)
	}
	b = append(hex.AppendEncode(append(b, `,"digest":"`...), x.Digest), '"')
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

// endLine is the last line of an export: how much there is, and the digest of all
// lines before it.
type endLine struct {
	Entries        int64  `json:"entries"`
	RuleSeverities int64  `json:"ruleSeverities"`
	SHA256         string `json:"sha256"`
}

func (l *lineWriter) end() error {
	if err := l.out.Flush(); err != nil {
		return err
	}
	words, err := json.Marshal(endLine{l.entries, l.severities, hex.EncodeToString(l.digest.Sum(nil))})
	if err != nil {
		return err
	}
	if _, err := fmt.Fprintf(l.out, "{\"end\":%s}\n", words); err != nil {
		return err
	}
	return l.out.Flush()
}
