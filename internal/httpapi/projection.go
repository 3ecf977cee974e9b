package httpapi

import (
	"context"
	"fmt"
	"net/http"
	"slices"

	"github.com/google/uuid"

	"meniscus/internal/access"
	"meniscus/internal/ledger"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
)

// Projection reads a record's standing revision as its statement was read when
// it was recorded, and gives what brings the projections in line with it; nil
// where its words are gone and it says nothing else.
func (s *Server) Projection(ctx context.Context, institution uuid.UUID, row postgres.Row) (func(*postgres.Projector), error) {
	if row.Act == ledger.Retracted {
		return func(p *postgres.Projector) { p.Retract(row.Kind) }, nil
	}
	read, ok := kinds[row.Kind]
	words := statementOf(row.Body)
	if ok && words == nil && row.Kind == record.KindSpecimen && row.Act == ledger.Amended && restated(row) {
		into := mergedInto(row) // a merge or its undoing, of a record without words
		return func(p *postgres.Projector) { p.Merged(into) }, nil
	}
	if !ok || words == nil {
		return nil, nil
	}
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, "/", nil)
	if err != nil {
		return nil, err
	}
	c := &call{server: s, echo: s.echo.NewContext(request, nil), requestID: row.RequestID, replay: true,
		principal: &access.Principal{Institution: institution, Person: row.RecordedBy, Scopes: scopesOver(row)}}
	d, err := read(s, c, row.Record, words)
	if err != nil {
		return nil, fmt.Errorf("reading the statement: %w", err)
	}
	if row.Kind != record.KindSpecimen {
		return d.project, nil
	}
	into := mergedInto(row)
	return func(p *postgres.Projector) { d.project(p); p.Merged(into) }, nil
}

// scopesOver are the scopes with which an entry speaks that was accepted once: all
// of them, but one that was received authorises nothing.
func scopesOver(row postgres.Row) []access.Scope {
	if receivedFromOf(row.Body) == nil {
		return access.Scopes()
	}
	return slices.DeleteFunc(access.Scopes(), func(s access.Scope) bool { return s == access.Authorise })
}

// receivedFromOf is where an entry's words say that it came from; nil if it was
// recorded here first.
func receivedFromOf(body *string) *receivedFrom {
	var b entryBody
	if body == nil || decodeInto([]byte(*body), &b) != nil {
		return nil
	}
	return b.Received
}

// restated tells whether an amendment says a reason: a revision that was received
// without its words says none, and changed nothing.
func restated(row postgres.Row) bool {
	var body entryBody
	return row.Body != nil && decodeInto([]byte(*row.Body), &body) == nil && body.Reason != nil
}

// mergedInto is where a specimen's record went by one of its revisions, or the
// zero UUID.
func mergedInto(row postgres.Row) uuid.UUID {
	var body entryBody
	if row.Body == nil || decodeInto([]byte(*row.Body), &body) != nil {
		return uuid.Nil
	}
	return deref(body.Merged)
}

// replayed gives what brings the projections in line with an entry of an export,
// after all that came before it: the way in which it was projected when it was
// recorded.
func (s *Server) replayed(ctx context.Context, institution uuid.UUID, e postgres.Exported) (func(*postgres.Projector), error) {
	switch {
	case e.Body == nil:
		return func(p *postgres.Projector) { p.Remain(e.Kind, e.Remains, e.Act == ledger.Retracted) }, nil
	case e.Act == ledger.Redacted: // the entries that it blanked hold what remains
		return func(p *postgres.Projector) { p.Blanked(e.Kind) }, nil
	}
	project, err := s.Projection(ctx, institution, e.Row)
	if err != nil || project == nil || e.Kind != record.KindSpecimen || e.Act != ledger.Amended {
		return project, err
	}
	into := mergedInto(e.Row)
	return func(p *postgres.Projector) { p.Went(into); project(p) }, nil
}
