package views

import (
	"slices"

	"meniscus/api"
	"meniscus/internal/material"
	"meniscus/internal/publish"
	"meniscus/internal/stack"
)

// about is what every answer about a specimen says of it.
type about struct {
	mergedInto *api.RecordRef
	hazards    *api.Hazards
	passedOn   *api.WentTo
	notices    []string
}

func aboutOf(sp *stack.Specimen) about {
	out := about{notices: sp.Notices(), passedOn: WentTo(sp.PassedOn)}
	if sp.AskedAs != "" {
		out.mergedInto = new(refOf(sp.ID))
	}
	out.hazards = Hazards(sp)
	return out
}

// Hazards are those of a specimen, the gravest first; nil where none is on record.
func Hazards(sp *stack.Specimen) *api.Hazards { return listOrNone(each(sp.Hazards, hazard)) }

// Cautions are what is to be known of a specimen before anything else.
func Cautions(sp *stack.Specimen) *[]string { return listOrNone(sp.Notices()) }

func hazard(h stack.Hazard) api.HazardOnRecord {
	return api.HazardOnRecord{
		Hazard: api.HazardName(h.Name), Substance: said(h.Substance), Status: api.HazardStatus(h.Status), How: said(h.How),
		Because: listOrNone(each(h.Because, func(c stack.Clue) api.HazardClue {
			out := api.HazardClue{Words: c.Words}
			if c.Treatment != "" {
				out.Treatment = new(refOf(c.Treatment))
			}
			return out
		})),
	}
}

// WentTo is where a specimen that left went; nil where it is here.
func WentTo(p *stack.PassedOn) *api.WentTo {
	if p == nil {
		return nil
	}
	return &api.WentTo{To: p.To, Date: p.Date}
}

// cautions are the specimen's notices, what every answer defers to, and the answer's own
// cautions.
func (a about) cautions(cut bool, all ...string) []string {
	return cautions(cut, slices.Concat(withSheet(a.notices), all)...)
}

// withSheet adds what every answer defers to; hazards that are known or suspected have it.
func withSheet(notices []string) []string {
	if slices.Contains(notices, material.SheetFirst) {
		return notices
	}
	return append(slices.Clip(notices), material.SheetFirst)
}

// Summary is what a catalogue shows of a specimen on its own record page.
func Summary(sum publish.Summary, sp *stack.Specimen) api.SpecimenSummary {
	of := aboutOf(sp)
	out := api.SpecimenSummary{
		Specimen: sum.Specimen.IRI, Number: sum.Specimen.Title, Answer: "recorded", Treatments: int64(sum.Total),
		Preparations: new(sum.Specimen.Preparations()), Latest: said(sum.LatestEDTF), Items: []api.SummaryItem{},
		Hazards: of.hazards, PassedOn: of.passedOn, Cautions: listOrNone(of.notices),
	}
	if sum.Total == 0 {
		out.Answer = "registered-nothing-recorded"
	}
	if into := sum.Specimen.MergedInto; into != nil {
		out.MergedInto = &into.IRI
	}
	for _, t := range sum.Treatments {
		out.Items = append(out.Items, api.SummaryItem{
			Treatment: t.IRI, Action: api.Action(t.Action), Sentence: t.Sentence(), Date: said(t.Date.String()),
			Areas: append([]string{}, t.Areas...), Materials: said(t.MaterialsSaid()), Result: said(t.Result()),
		})
	}
	return out
}
