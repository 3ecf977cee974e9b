package httpapi

import (
	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/record"
	"meniscus/internal/statement"
)

// transferSpecimen states a specimen anew, saying to whom it was passed on and
// when. Its history stays, and may still be added to.
func transferSpecimen(s *Server, c *call) (*answer, error) {
	request, err := decode[api.TransferRequest](c)
	if err != nil {
		return nil, err
	}
	row, err := s.matchedKind(c, record.KindSpecimen, c.id("specimenId"))
	if err != nil {
		return nil, err
	}
	if err := s.mustStandAlone(c, row); err != nil {
		return nil, err
	}
	passedOn, ok := passedOnIn(row)
	if !ok {
		return nil, fault.Of(fault.Conflict, "specimen-not-in-force", "The specimen was retracted or its words were redacted; amend it first, so that it stands again.")
	}
	if passedOn {
		return nil, fault.Of(fault.Conflict, "passed-on-already", "The specimen was passed on already; amend the record if that was wrong.")
	}
	words, err := statement.With(statement.WordsIn(row.Body), "passedOn", api.PassedOn{To: request.To, Ror: request.Ror, Date: request.Date})
	if err != nil {
		return nil, err
	}
	d, err := c.author().Understand(c.ctx(), record.KindSpecimen, row.Record, words)
	if err != nil {
		return nil, err
	}
	return s.amend(c, row, request.Reason, d)
}
