package httpapi

import (
	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
)

// erasePerson blanks every revision of a person's record, so that the name is
// nowhere in it.
func erasePerson(s *Server, c *call) (*answer, error) {
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

func readPersonStatement(_ *Server, _ *call, _ uuid.UUID, raw []byte) (draft, error) {
	var st api.PersonStatement
	if err := decodeInto(raw, &st); err != nil {
		return draft{}, err
	}
	person := record.Person{DisplayName: st.DisplayName, ORCID: deref(st.Orcid)}
	if err := person.Check(); err != nil {
		return draft{}, err
	}
	statement, err := new(references).statement(raw)
	return draft{statement: statement, project: func(p *postgres.Projector) { p.Person(person) }}, err
}
