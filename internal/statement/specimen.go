package statement

import (
	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/record"
)

// OfPerson reads a person.
func OfPerson(st *api.PersonStatement) *Reading {
	p := &record.Person{
		Name: st.Name, Role: deref(st.Role), ORCID: deref(st.Orcid), Organisation: deref(st.Organisation),
	}
	return newReader(p, st).Reading
}

// OfSpecimen reads a specimen.
func OfSpecimen(st *api.SpecimenStatement) *Reading {
	s := &record.Specimen{
		Collection: deref(st.Collection), Owner: text(st.Owner), Description: deref(st.Description),
		Classification: text(st.Classification),
		BodyKind:       string(deref(st.BodyKind)), Condition: string(deref(st.Condition)), Remarks: deref(st.Remarks),
		Restricted: deref(st.Restricted),
		Identifiers: each(&st.Identifiers, func(_ int, id *api.Identifier) record.Identifier {
			return record.Identifier{Kind: string(id.Kind), Value: id.Value}
		}),
		Traits: each(st.BodyTraits, func(_ int, t *api.BodyTrait) record.Trait {
			return record.Trait{Name: string(t.Trait), Answer: record.YesNo(t.Answer)}
		}),
		Hazards: each(st.Hazards, func(_ int, h *api.SpecimenHazard) record.Hazard {
			return record.Hazard{Name: string(h.Hazard), Status: string(h.Status), How: deref(h.How)}
		}),
		Areas: each(st.Areas, func(_ int, a *api.SpecimenArea) record.SpecimenArea {
			return record.SpecimenArea{Path: a.Path, Separate: deref(a.Separate)}
		}),
	}
	if st.PlannedSampling != nil {
		s.Sampling = record.Give(each(st.PlannedSampling, func(_ int, p *api.PlannedSampling) record.PlannedSampling {
			return record.PlannedSampling{Areas: areas(p.Areas), Analysis: p.Analysis}
		}))
	}
	r := newReader(s, st)
	r.origin(st, s)
	return r.Reading
}

// origin reads what a specimen came from and to whom it was passed on.
func (r reader) origin(st *api.SpecimenStatement, s *record.Specimen) {
	if x := st.SampleOf; x != nil {
		s.SampleOf = &record.SampleOrigin{Specimen: r.ref("/sampleOf/specimen/id", record.KindSpecimen, &x.Specimen.Id),
			Area: deref(x.Area), Taken: r.date("/sampleOf/date", x.Date),
			Mass: r.amount("/sampleOf/mass", x.Mass, quantity.Mass)}
	}
	if x := st.PartOf; x != nil {
		s.Part = &record.Part{Specimen: r.ref("/partOf/specimen/id", record.KindSpecimen, &x.Specimen.Id), Areas: areas(x.Areas),
			Split: r.date("/partOf/date", &x.Date), Reason: deref(x.Reason)}
	}
	if x := st.PassedOn; x != nil {
		s.PassedOn = &record.PassedOn{To: x.To, Date: r.date("/passedOn/date", &x.Date)}
	}
}
