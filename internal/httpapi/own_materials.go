package httpapi

import (
	"net/http"

	"github.com/go-json-experiment/json/jsontext"
	"github.com/google/uuid"

	"meniscus/internal/fault"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/statement"
)

// stateMaterial makes or amends an institution's own material.
func stateMaterial(s *Server, c *requestContext) (*answer, error) {
	id, err := uuid.Parse(c.echo.Param("materialId"))
	if err != nil {
		return nil, fault.Of(fault.Conflict, "material-built-in",
			"Built-in materials cannot be changed. State one of your own under a UUID, and say with `like` which built-in one it is like.")
	}
	request, err := decode[struct {
		Reason    *string        `json:"reason"`
		Statement jsontext.Value `json:"statement"`
	}](c)
	if err != nil {
		return nil, err
	}
	row, err := s.current(c, id)
	switch {
	case fault.Is(err, fault.NotFound):
		return s.newMaterial(c, id, request.Statement)
	case err != nil:
		return nil, err
	case row.Kind != record.KindMaterial:
		return nil, &fault.Fault{Kind: fault.Conflict, Code: "id-taken", Extra: map[string]any{"record": row.Record},
			Detail: "A record of another kind has this id; choose another."}
	}
	return s.restateMaterial(c, row, request.Reason, request.Statement)
}

func (s *Server) newMaterial(c *requestContext, id uuid.UUID, words jsontext.Value) (*answer, error) {
	if c.echo.Request().Header.Get("If-Match") != "" {
		return nil, fault.Of(fault.Stale, "record-unknown",
			"There is no such material yet, so that none has this ETag; leave If-Match out to make it.")
	}
	written, err := s.record(c, record.KindMaterial, creation{ID: &id, Statement: words}, nil)
	if err != nil {
		return nil, err
	}
	return s.made(c, written)
}

// restateMaterial amends a material, or finds that nothing was to change.
func (s *Server) restateMaterial(
	c *requestContext, row postgres.Row, reason *string, words jsontext.Value,
) (*answer, error) {
	d, err := c.author().Understand(c.ctx(), record.KindMaterial, row.Record, words)
	if err != nil {
		return nil, under("/statement", err)
	}
	inForce, err := c.tenant().InForceAt(c.ctx(), row)
	if err != nil {
		return nil, err
	}
	if statement.Same(statement.WordsIn(inForce.Body), d.Words) {
		return &answer{body: recordJSON(row), etag: recordTag(row)}, nil
	}
	if c.echo.Request().Header.Get("If-Match") == "" {
		return nil, fault.Of(fault.PreconditionMissing, "if-match-missing",
			"This material exists with another statement. To amend it send its ETag in If-Match; a GET of /v1/records/%s shows it.",
			row.Record)
	}
	if err := c.matches(row); err != nil {
		return nil, err
	}
	if reason == nil {
		return nil, fault.New("missing", "/reason",
			"Say why the material is stated anew: the earlier statement stays readable.")
	}
	a, err := s.amend(c, row, amendment{Reason: *reason, before: inForce.Body}, d)
	if err != nil {
		return nil, err
	}
	a.status = http.StatusOK
	return a, nil
}
