package httpapi

import (
	"errors"
	"net/http"

	"github.com/go-json-experiment/json/jsontext"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/ledger"
	"meniscus/internal/postgres"
	"meniscus/internal/recording"
	"meniscus/internal/stack"
	"meniscus/internal/statement"
	"meniscus/internal/views"
	"meniscus/internal/wire"
)

// amendment is api.AmendmentRequest or api.AmendmentPatch with its statement as it was
// sent, and the body of the entry that is amended.
type amendment struct {
	Reason    string         `json:"reason"`
	Statement jsontext.Value `json:"statement"`

	before *string
	key    *postgres.RequestKey
	goes   *stack.Specimen // that was passed on; nil of any other amendment
}

// amendRecord states a record of any kind anew: the whole statement, or a merge
// patch of the one in force.
func amendRecord(s *Server, c *requestContext) (*answer, error) {
	request, err := decode[amendment](c)
	if err != nil {
		return nil, err
	}
	row, err := c.tenant().Current(c.ctx(), c.id("recordId"))
	if err != nil {
		return nil, err
	}
	if err := c.mayWrite(row.Kind); err != nil {
		return nil, err
	}
	if request.key, err = c.requestKey(); err != nil {
		return nil, err
	}
	if again, err := s.amendedBefore(c, row, request.key); again != nil || err != nil {
		return again, err
	}
	if err := c.matches(row); err != nil {
		return nil, err
	}
	if err := recording.MustStandAlone(c.ctx(), c.tenant(), row.Kind, row.Record); err != nil {
		return nil, err
	}
	inForce, err := c.tenant().InForceAt(c.ctx(), row)
	if err != nil {
		return nil, err
	}
	return s.amendInForce(c, row, inForce, request)
}

// amendInForce amends a record whose statement in force is known, unless that says the
// same already.
func (s *Server) amendInForce(c *requestContext, row, inForce postgres.Row, request amendment) (*answer, error) {
	standing, err := statement.OpenEntry(inForce.Body)
	if err != nil && !errors.Is(err, statement.ErrRedacted) {
		return nil, err
	}
	words, err := c.stated(row, standing, request.Statement)
	if err != nil {
		return nil, c.inStatement(request.Statement, err)
	}
	d, err := c.author().Understand(c.ctx(), row.Kind, row.Record, words)
	if err != nil {
		return nil, c.inStatement(request.Statement, err)
	}
	if standing.Says(d.Words) {
		return s.unchanged(c, row)
	}
	request.before = inForce.Body
	return s.amend(c, row, request, d)
}

// stated is the whole statement that an amendment makes, of the contract's schema.
func (c *requestContext) stated(row postgres.Row, standing statement.Entry, sent []byte) ([]byte, error) {
	schema := wire.StatementSchema(row.Kind)
	if c.bodyType != patchType {
		return sent, wire.Check(c.ctx(), schema, sent)
	}
	if err := wire.CheckRemoved(c.ctx(), schema, sent); err != nil {
		return nil, err
	}
	words, err := standing.Patched(sent)
	switch {
	case errors.Is(err, statement.ErrRedacted):
		return nil, &fault.Fault{Kind: fault.Conflict, Code: "record-not-in-force", Extra: map[string]any{"record": row.Record},
			Detail: "The record was retracted or its words were redacted, so that there is no statement to patch; " +
				"send the whole statement as application/json."}
	case err != nil:
		return nil, err
	case int64(len(words)) > c.server.maxBody:
		return nil, fault.Of(fault.TooLarge, "statement-too-large",
			"The statement that results would have more than %d bytes, as many as a body may have.", c.server.maxBody)
	}
	return words, wire.Check(c.ctx(), schema, words)
}

// inStatement moves faults of a statement to where the request says it.
func (c *requestContext) inStatement(sent []byte, err error) error {
	if found := fault.From(err); len(found) > 0 && c.bodyType == patchType {
		err = wire.InPatch(found, sent)
	}
	return under("/statement", err)
}

// amend states a record anew, for a reason, and tells what changed.
func (s *Server) amend(c *requestContext, row postgres.Row, a amendment, d recording.Draft) (*answer, error) {
	entry := postgres.Entry{Act: ledger.Amended, Body: recording.Amendment(a.Reason, d.Words), Project: d.Project}
	revised, err := s.revise(c, row, entry, a.key, d.Implied...)
	if err != nil {
		return nil, err
	}
	told := beside{Registered: s.registered(row.Record, d.Numbers), Changed: c.changed(a.before, revised.Body)}
	if a.goes != nil {
		told.Cautions = views.Cautions(a.goes)
	}
	return created(told.of(revised), false), nil
}

// unchanged answers an amendment that says what the record says.
func (s *Server) unchanged(c *requestContext, row postgres.Row) (*answer, error) {
	shown, err := s.shown(c, row)
	if err != nil {
		return nil, err
	}
	a := created(beside{Changed: &api.Changed{Items: []api.ChangedValue{}}}.of(shown), false)
	a.status = http.StatusOK
	return a, nil
}

// amendedBefore answers a request that amended the record before, by its key: with the
// record as it stands now, and what changed then. It is nil if there was none.
func (s *Server) amendedBefore(c *requestContext, row postgres.Row, key *postgres.RequestKey) (*answer, error) {
	if key == nil {
		return nil, nil
	}
	made, err := c.tenant().AmendedBefore(c.ctx(), row.Record, *key)
	if made == nil || err != nil {
		return nil, err
	}
	before, err := c.tenant().InForceBefore(c.ctx(), row.Record, made.Revision)
	if err != nil {
		return nil, err
	}
	now, err := s.current(c, row.Record) // the row may have been read before the amendment was made
	if err != nil {
		return nil, err
	}
	return created(beside{Changed: c.changed(before.Body, made.Body)}.of(now), true), nil
}

// How much an answer tells of what changed, in brief and in full.
const (
	changedInBrief = 20
	bytesInBrief   = 300 // of one value
	changedInFull  = 1000
)

// changed tells what differs between the statements of two entries, given their bodies;
// nil where one of them was redacted.
func (c *requestContext) changed(before, after *string) *api.Changed {
	if before == nil || after == nil {
		return nil
	}
	most, brief := changedInFull, c.text("detail") != string(api.Full)
	if brief {
		most = changedInBrief
	}
	found, more := statement.WhatChanged(before, after, most)
	out := &api.Changed{Items: make([]api.ChangedValue, len(found))}
	for i, f := range found {
		out.Items[i] = api.ChangedValue{Pointer: f.Pointer, Change: api.Replaced,
			Before: told(f.Before, brief), After: told(f.After, brief)}
		switch {
		case f.Before == nil:
			out.Items[i].Change = api.Added
		case f.After == nil:
			out.Items[i].Change = api.Removed
		}
	}
	if more > 0 {
		out.More = new(api.Count(more))
	}
	return out
}

// told is a value as it is told, or nil.
func told(value jsontext.Value, brief bool) any {
	if value == nil || brief && len(value) > bytesInBrief {
		return nil
	}
	return value
}
