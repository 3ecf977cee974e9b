package httpapi

import (
	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
)

func readSpecimenStatement(s *Server, c *call, self uuid.UUID, raw []byte) (draft, error) {
	var refs references
	st, err := understand[api.SpecimenStatement](s, c, raw, &refs)
	if err != nil {
		return draft{}, err
	}
	specimen := specimenOf(st)
	if st.PassedOn != nil {
		refs.date(&st.PassedOn.Date, "/passedOn/date")
	}
	if st.SampleOf != nil {
		refs.record(record.KindSpecimen, st.SampleOf.Specimen, "/sampleOf/specimen")
	}
	if specimen.Part = refs.part(st.PartOf); specimen.Part != nil {
		specimen.Parent = st.PartOf.Specimen
	}
	if st.PartOf != nil && st.SampleOf != nil {
		refs.faults.Add("origin-twice", "/partOf", "A specimen is a sample or a part; leave sampleOf or partOf out.")
	}
	if !c.replay {
		if err := s.checkOrigin(c, self, specimen); err != nil {
			return draft{}, err
		}
	}
	if err := refs.faults.Merge("", specimen.Check()); err != nil {
		return draft{}, err
	}
	implied, err := refs.resolve(c.ctx(), s, c.principal.Institution)
	if err != nil {
		return draft{}, err
	}
	statement, err := refs.statement(raw)
	return draft{statement: statement, implied: implied, project: func(p *postgres.Projector) { p.Specimen(specimen) }}, err
}

// specimenOf is what the record must know of a specimen's statement.
func specimenOf(st api.SpecimenStatement) record.Specimen {
	specimen := record.Specimen{Collection: deref(st.Collection), BodyKind: string(deref(st.BodyKind))}
	for _, id := range st.Identifiers {
		specimen.Identifiers = append(specimen.Identifiers, record.Identifier{Kind: string(id.Kind), Value: id.Value})
	}
	for _, area := range deref(st.Areas) {
		specimen.Areas = append(specimen.Areas, area.Path)
	}
	if st.SampleOf != nil {
		specimen.Parent = st.SampleOf.Specimen
	}
	return specimen
}

// mustExist tells a record that has nothing from one that is not here.
func (s *Server) mustExist(c *call, kind record.Kind, id uuid.UUID) error {
	known, err := s.store.Exists(c.ctx(), c.principal.Institution, kind, id)
	if err == nil && !known {
		err = fault.Of(fault.NotFound, string(kind)+"-unknown", "There is no such %s in this institution.", string(kind))
	}
	return err
}
