package httpapi

import (
	"slices"
	"strings"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/ledger"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/recording"
	"meniscus/internal/statement"
	"meniscus/internal/wire"
)

// mergeSpecimen merges the record in the path into another one.
func mergeSpecimen(s *Server, c *requestContext) (*answer, error) {
	request, err := decode[api.MergeRequest](c)
	if err != nil {
		return nil, err
	}
	row, err := s.matchedKind(c, record.KindSpecimen, c.id("specimenId"))
	if err != nil {
		return nil, err
	}
	if request.Into.Id == row.Record {
		return nil, fault.New("merge-with-itself", "/into", "A record cannot be merged into itself; name the other one.")
	}
	standing, err := c.tenant().StandingOf(c.ctx(), []uuid.UUID{row.Record, request.Into.Id})
	if err != nil {
		return nil, err
	}
	if err := mayMerge(standing, row.Record, request.Into.Id); err != nil {
		return nil, err
	}
	merged := slices.Concat([]byte(`,"mergedInto":`), wire.Quoted(request.Into.Id.String()))
	return s.restate(c, row, request.Reason, merged, func(p *postgres.Projector) { p.Merge(request.Into.Id) })
}

// mayMerge tells what forbids a merge. A survivor is never merged itself, so that merges
// form no cycle.
func mayMerge(standing map[uuid.UUID]postgres.Standing, id, into uuid.UUID) error {
	survivor, known := standing[into]
	switch {
	case !known:
		return fault.New("specimen-unknown", "/into", "There is no specimen with this id here; record it first.")
	case standing[id].Retracted || survivor.Retracted:
		return fault.Of(fault.Conflict, "specimen-retracted",
			"One of the two is retracted; amend it first, so that it stands again.")
	case standing[id].MergedInto != nil:
		return recording.MergedAlready(standing[id])
	case survivor.MergedInto != nil && *survivor.MergedInto == id:
		return fault.Of(fault.Conflict, "merge-circle", "The other record was merged into this one; undo that merge first.")
	case survivor.MergedInto != nil:
		return &fault.Fault{Kind: fault.Conflict, Code: "survivor-merged",
			Detail: "The other record was merged itself; merge into the one that stands for it.",
			Extra:  map[string]any{"mergedInto": api.Ref(*survivor.MergedInto)}}
	}
	return nil
}

// undoMerge lets a record stand for itself again.
func undoMerge(s *Server, c *requestContext) (*answer, error) {
	request, err := decode[api.RetractionRequest](c)
	if err != nil {
		return nil, err
	}
	row, err := s.matchedKind(c, record.KindSpecimen, c.id("specimenId"))
	if err != nil {
		return nil, err
	}
	standing, err := c.tenant().StandingOf(c.ctx(), []uuid.UUID{row.Record})
	if err != nil {
		return nil, err
	}
	if standing[row.Record].MergedInto == nil {
		return nil, fault.Of(fault.Conflict, "not-merged",
			"This record is not merged into another one, so there is nothing to undo.")
	}
	return s.restate(c, row, request.Reason, nil, (*postgres.Projector).Unmerge)
}

// restate makes a revision that says the same as the one in force, with a reason and the
// members in beside.
func (s *Server) restate(
	c *requestContext, row postgres.Row, reason string, beside []byte, project func(*postgres.Projector),
) (*answer, error) {
	standing, err := c.tenant().InForceAt(c.ctx(), row)
	if err != nil {
		return nil, err
	}
	body := slices.Concat([]byte(`{"reason":`), wire.Quoted(reason), beside)
	if words := statement.WordsIn(standing.Body); words != nil {
		body = slices.Concat(body, []byte(`,"statement":`), words)
	}
	return answered(s.revise(c, row, postgres.Entry{Act: ledger.Amended, Body: append(body, '}'), Project: project}, nil))
}

// matchedKind is matched, for an operation on one kind of record.
func (s *Server) matchedKind(c *requestContext, kind record.Kind, id uuid.UUID) (postgres.Row, error) {
	row, err := c.tenant().Current(c.ctx(), id)
	if err == nil && row.Kind != kind || fault.Is(err, fault.NotFound) {
		return row, fault.Of(fault.NotFound, string(kind)+"-unknown",
			"There is no such %s in this institution.", string(kind))
	}
	if err != nil {
		return row, err
	}
	return row, c.matches(row)
}

// withBeside is a treatment of a list, with the record that it was stated about where
// that is not the specimen of the list.
func withBeside(d postgres.Dated) postgres.Row {
	row := d.Row
	if d.From == nil || d.Because == nil {
		return row
	}
	return withMembers(row, struct {
		About api.StatedAbout `json:"statedAbout"`
	}{api.StatedAbout{Specimen: api.Ref(*d.From), Because: api.StatedAboutBecause(*d.Because), Certain: d.Certain}})
}

// withMembers is a record as it is shown, with members that are in no entry.
func withMembers(row postgres.Row, beside any) postgres.Row {
	members, _ := wire.Encode(beside) // the contract's own types cannot fail to encode
	words := string(members)
	if row.Body != nil {
		words = strings.TrimSuffix(words, "}") + "," + (*row.Body)[1:]
	}
	row.Body = &words
	return row
}
