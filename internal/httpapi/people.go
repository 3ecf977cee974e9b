package httpapi

import (
	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
)

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
