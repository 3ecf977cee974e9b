package httpapi

import (
	"context"
	"errors"
	"io"
	"net/http"
	"time"

	"meniscus/api"
	"meniscus/internal/exchange"
	"meniscus/internal/fault"
	"meniscus/internal/record"
)

const (
	ndjsonType = "application/x-ndjson"
	csvType    = "text/csv"
)

// exportRecords streams the whole record of the institution as lines of JSON, or
// the records of one kind as a table.
func exportRecords(s *Server, c *requestContext) (*answer, error) {
	kind := record.Kind(c.text("kind"))
	switch {
	case c.mediaType == csvType && kind == "":
		return nil, &fault.Fault{Kind: fault.Malformed, Code: "parameter-invalid", Parameter: "kind",
			Detail: "A table has the records of one kind: say which. Everything at once is given as application/x-ndjson."}
	case c.mediaType != csvType && (c.query["kind"] != nil || c.query["revisions"] != nil):
		return nil, &fault.Fault{Kind: fault.Malformed, Code: "parameter-invalid", Parameter: "kind",
			Detail: "Lines of JSON are the whole record, so that it can be restored: leave kind and revisions out, " +
				"or accept text/csv."}
	}
	export, err := exchange.NewExport(c.ctx(), c.tenant(), c.pace())
	if err != nil {
		return nil, err
	}
	if c.mediaType == csvType {
		g, err := s.gather(c)
		if err != nil {
			return nil, err
		}
		all := c.text("revisions") == "all"
		table := func(ctx context.Context, w io.Writer) error { return export.Table(ctx, kind, all, g.tell, w) }
		return c.file(string(kind)+".csv", table), nil
	}
	return c.file("record.ndjson", export.Lines), nil
}

// restoreRecords makes an empty institution's record from an export.
func restoreRecords(s *Server, c *requestContext) (*answer, error) {
	made, err := exchange.Restore(c.ctx(), c.tenant(), c.lines(), s.now, c.pace())
	if err != nil {
		return nil, err
	}
	return with(http.StatusCreated,
		api.Restoration{Entries: made.Entries, RuleSeverities: made.Severities, CollectionBodies: someOf(made.Bodies),
			Sha256: made.SHA256})
}

// file answers with a file that is written as it is sent.
func (c *requestContext) file(name string, write func(context.Context, io.Writer) error) *answer {
	a := &answer{stream: func(w io.Writer) error { return write(c.ctx(), w) }}
	a.setHeader("Content-Disposition", `attachment; filename="`+name+`"`)
	return a
}

// pace is how an export or import does the request's work in pieces.
func (c *requestContext) pace() exchange.Pace {
	return exchange.Pace{Patience: c.patience, Turn: c.inTurn, Ending: c.server.draining}
}

// pieceLimit is how long the client may take to read or send a piece.
const pieceLimit = 2 * time.Minute

// patience gives the client time for the next piece; the server's own limits are for
// short requests.
func (c *requestContext) patience() {
	out := http.NewResponseController(c.echo.Response())
	_ = out.SetReadDeadline(time.Now().Add(pieceLimit)) // an error means that the writer has no deadlines
	_ = out.SetWriteDeadline(time.Now().Add(pieceLimit))
}

// lines is a body that is read as it comes. An error of reading it is a fault.
func (c *requestContext) lines() io.Reader { return lines{c.echo.Request().Body} }

type lines struct{ io.Reader }

func (l lines) Read(p []byte) (int, error) {
	n, err := l.Reader.Read(p)
	if err != nil && !errors.Is(err, io.EOF) {
		err = readFault(err, 0)
	}
	return n, err
}
