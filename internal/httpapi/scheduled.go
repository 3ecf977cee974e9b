package httpapi

import (
	"context"
	"io"
	"net/http"
	"net/url"

	"github.com/google/uuid"

	"meniscus/internal/access"
	"meniscus/internal/fault"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/wire"
)

// scheduledReports are the reports that a schedule can name: each one's operation in the
// contract, the handler that answers it whole, and whether it covers a period.
var scheduledReports = map[string]struct {
	operation string
	whole     handler
	period    bool
}{
	"reversibleTreatments": {"reportReversibleTreatments", reportReversibleTreatments, true},
	"treatments":           {"reportTreatments", reportTreatments, true},
	"suitability":          {"reportSuitability", reportAllSuitability, false},
	"due":                  {"listDue", reportDue, false},
	"incompleteRecords":    {"reportIncompleteRecords", reportAllIncompleteRecords, false},
}

// scheduled prepares the call of a scheduled report, with the checks that a caller's own
// call has. It reads as the institution.
func (s *Server) scheduled(
	ctx context.Context, institution uuid.UUID, report string, query url.Values, mediaType string,
) (*requestContext, error) {
	op := s.ops[scheduledReports[report].operation]
	if op == nil {
		return nil, fault.New("report-unknown", "", "There is no such report any more.")
	}
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, op.path+"?"+query.Encode(), nil)
	if err != nil {
		return nil, err
	}
	r.Header.Set("Accept", mediaType+", "+jsonType+";q=0.5")
	c := &requestContext{server: s, op: op, echo: s.echo.NewContext(r, nil), requestID: newRequestID(),
		principal: &access.Principal{Institution: institution, Scopes: []access.Scope{access.Read, access.Report}}}
	if err := c.readQuery(); err != nil {
		return nil, err
	}
	if err := c.negotiate(); err != nil {
		return nil, err
	}
	return c, c.withhold()
}

// WriteReport writes an institution's report whole: a table, or JSON under the
// report's name.
func (s *Server) WriteReport(
	ctx context.Context, institution uuid.UUID, report string, query url.Values, mediaType string, w io.Writer,
) error {
	c, err := s.scheduled(ctx, institution, report, query, mediaType)
	if err != nil {
		return err
	}
	a, err := scheduledReports[report].whole(s, c)
	if err != nil || c.mediaType != jsonType {
		return writeAnswer(a, err, w)
	}
	if _, err := io.WriteString(w, `{"`+report+`":`); err != nil {
		return err
	}
	if err := writeAnswer(a, nil, w); err != nil {
		return err
	}
	_, err = io.WriteString(w, "}")
	return err
}

func writeAnswer(a *answer, err error, w io.Writer) error {
	switch {
	case err != nil:
		return err
	case a.stream != nil:
		return a.stream(w)
	}
	_, err = w.Write(a.body)
	return err
}

// reportAllIncompleteRecords is reportIncompleteRecords without pages.
func reportAllIncompleteRecords(s *Server, c *requestContext) (*answer, error) {
	if c.mediaType != jsonType {
		return reportIncompleteRecords(s, c) // a table has no pages
	}
	kind := record.KindTreatment
	if asked := c.text("kind"); asked != "" {
		kind = record.Kind(asked)
	}
	return &answer{stream: func(w io.Writer) error {
		out := &listWriter{w: w}
		out.raw(`{"items":[`)
		looked, err := s.eachRecord(c, kind, func(rows []postgres.Row) error {
			scored, err := s.score(c, rows)
			for i := 0; err == nil && i < len(scored); i++ {
				if lacks(scored[i], c.text("rule")) {
					err = out.item(scored[i])
				}
			}
			return err
		})
		if err != nil {
			return err
		}
		total, err := wire.Encode(looked)
		out.raw(`],"looked":` + string(total) + "}")
		return firstOf(err, out.err)
	}}, nil
}

func firstOf(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// eachRecord calls f with the institution's records of a kind, some at a time,
// and counts them.
func (s *Server) eachRecord(
	c *requestContext, kind record.Kind, f func([]postgres.Row) error,
) (count int64, err error) {
	const atATime = 200
	for after := uuid.Nil; ; {
		rows, more, err := c.tenant().List(c.ctx(), postgres.Filter{Kind: kind}, after, atATime)
		if err != nil {
			return count, err
		}
		if err := f(rows); err != nil {
			return count, err
		}
		count += int64(len(rows))
		if !more {
			return count, nil
		}
		after = rows[len(rows)-1].Record
	}
}
