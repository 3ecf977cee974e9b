package httpapi

import (
	"meniscus/api"
	"meniscus/internal/record"
)

// erasePerson blanks every revision of a person's record, so that the name is
// nowhere in it.
func erasePerson(s *Server, c *requestContext) (*answer, error) {
	request, err := decode[api.RetractionRequest](c)
	if err != nil {
		return nil, err
	}
	row, err := s.matchedKind(c, record.KindPerson, c.id("personId"))
	if err != nil {
		return nil, err
	}
	return s.redact(c, row, request.Reason, nil)
}
