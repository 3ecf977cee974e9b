package httpapi

import (
	"slices"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/stack"
)

// aboutSpecimen is what every answer about a specimen says of it, as all of them
// do.
type aboutSpecimen struct {
	mergedInto *uuid.UUID
	hazards    *api.Hazards
	passedOn   *api.WentTo
	notices    []string
}

func aboutOf(sp *stack.Specimen) aboutSpecimen {
	out := aboutSpecimen{notices: sp.Notices(), passedOn: wentTo(sp.PassedOn)}
	if sp.AskedAs != "" {
		into := wireID(sp.ID)
		out.mergedInto = &into
	}
	out.hazards = listOrNone(each(sp.Hazards, func(h stack.Hazard) api.SpecimenHazard {
		return api.SpecimenHazard{Hazard: api.SpecimenHazardHazard(h.Name), Status: api.SpecimenHazardStatus(h.Status), How: said(h.How)}
	}))
	return out
}

func wentTo(p *stack.PassedOn) *api.WentTo {
	if p == nil {
		return nil
	}
	return &api.WentTo{To: p.To, Date: p.Date}
}

// cautions are an answer's, after what is said first of the specimen.
func (a aboutSpecimen) cautions(cut bool, all ...string) []string {
	return cautions(cut, slices.Concat(a.notices, all)...)
}
