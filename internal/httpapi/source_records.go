package httpapi

import (
	"encoding/json"
	"net/http"

	"github.com/go-json-experiment/json/jsontext"
	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/recording"
	"meniscus/internal/statement"
	"meniscus/internal/wire"
)

// sourceAsked is the source that the query names.
func (c *requestContext) sourceAsked() postgres.SourceKey {
	return postgres.SourceKey{Kind: record.Kind(c.text("kind")),
		Source: record.Source{System: c.text("system"), RecordID: c.text("recordId")}}
}

// findSourceRecord reads the record of a source.
func findSourceRecord(s *Server, c *requestContext) (*answer, error) {
	standing, err := c.tenant().SourceStanding(c.ctx(), c.sourceAsked())
	if err != nil {
		return nil, err
	}
	row, err := s.current(c, standing.Record)
	if err != nil {
		return nil, err
	}
	return &answer{body: recordJSON(row), etag: recordTag(row)}, nil
}

// stateSourceRecord records how the record of a source stands now.
func stateSourceRecord(s *Server, c *requestContext) (*answer, error) {
	request, err := decode[struct {
		DistinctFrom *api.DistinctFrom `json:"distinctFrom"`
		Reason       string            `json:"reason"`
		Record       *recordRef        `json:"record"`
		Statement    jsontext.Value    `json:"statement"`
	}](c)
	if err != nil {
		return nil, err
	}
	said := recording.Says{SourceKey: c.sourceAsked(), Words: request.Statement, Reason: request.Reason,
		DistinctFrom: statement.IDs(request.DistinctFrom), Record: request.Record.id()}
	said.Read = reads(c.echo.Request().Header.Get("If-Match"))
	if err := c.mayWrite(said.Kind); err != nil {
		return nil, err
	}
	if err := judgeSaid(c, said); err != nil {
		return nil, under("/statement", err)
	}
	found, err := c.tenant().SourceStandings(c.ctx(), []postgres.SourceKey{said.SourceKey})
	if err != nil {
		return nil, err
	}
	heard, err := c.author().Hear(c.ctx(), said, standingIn(found, said.SourceKey))
	if err != nil {
		return nil, under("/statement", err)
	}
	row, err := s.current(c, heard.Row.Record)
	if err != nil {
		return nil, err
	}
	if heard.Outcome == recording.Conflict {
		return nil, sourceConflict(row, said.Words)
	}
	return s.heard(c, heard, row)
}

// recordRef is api.RecordRef, or nil.
type recordRef struct {
	ID uuid.UUID `json:"id"`
}

func (r *recordRef) id() *uuid.UUID {
	if r == nil {
		return nil
	}
	return &r.ID
}

// reads gives the check whether these ETags are a record's; nil where there are none.
func reads(tags string) func(postgres.Row) bool {
	if tags == "" {
		return nil
	}
	return func(row postgres.Row) bool { return holdsTag(tags, row) }
}

// judgeSaid checks a source's statement against the contract; its faults point into the
// statement.
func judgeSaid(c *requestContext, said recording.Says) error {
	return wire.Check(c.ctx(), wire.StatementSchema(said.Kind), said.Words)
}

func standingIn(found map[postgres.SourceKey]postgres.SourceStanding, key postgres.SourceKey) *postgres.SourceStanding {
	if standing, here := found[key]; here {
		return &standing
	}
	return nil
}

// heard answers with the outcome of a source's statement, and the record as it stands.
func (s *Server) heard(c *requestContext, heard recording.Heard, row postgres.Row) (*answer, error) {
	out := struct {
		Outcome recording.Outcome `json:"outcome"`
		Record  jsontext.Value    `json:"record"`
		beside
	}{Outcome: heard.Outcome, Record: recordJSON(row)}
	status := http.StatusOK
	if heard.First != nil {
		told, err := s.beside(c, *heard.First)
		if err != nil {
			return nil, err
		}
		status, out.beside = http.StatusCreated, told[0]
	} else {
		told, err := s.amendedBy(c, heard)
		if err != nil {
			return nil, err
		}
		out.beside = told
	}
	a, err := with(status, out)
	if err != nil {
		return nil, err
	}
	a.etag = recordTag(row)
	a.setHeader("Location", recordPath(row))
	return a, nil
}

// amendedBy is what a source's amendment registered and changed.
func (s *Server) amendedBy(c *requestContext, heard recording.Heard) (beside, error) {
	if heard.Outcome != recording.Amended && heard.Outcome != recording.Adopted {
		return beside{}, nil
	}
	before, err := c.tenant().InForceBefore(c.ctx(), heard.Row.Record, heard.Row.Revision)
	if err != nil {
		return beside{}, err
	}
	return beside{Registered: s.registered(heard.Row.Record, heard.Numbers),
		Changed: c.changed(before.Body, heard.Row.Body)}, nil
}

// sourceConflict is the fault of a source that differs from a record that was changed
// here, with both versions.
func sourceConflict(row postgres.Row, said []byte) *fault.Fault {
	detail := "The record was changed here since its source spoke, and the source says something else."
	if row.System == nil {
		detail = "A record without a source carries this number or was named, and says what the source does not say."
	}
	return &fault.Fault{Kind: fault.Conflict, Code: "source-conflict",
		Detail: detail + " It stands as it was; send its ETag in If-Match to have the source's statement stand.",
		Extra: map[string]any{"record": row.Record, "stands": json.RawMessage(recordJSON(row)),
			"said": json.RawMessage(said)}}
}
