package httpapi

import (
	"maps"
	"slices"

	"github.com/google/uuid"

	"meniscus/internal/paper"
	"meniscus/internal/postgres"
	"meniscus/internal/publish"
	"meniscus/internal/record"
	"meniscus/internal/stack"
	"meniscus/internal/views"
)

// papers are the papers about a specimen, by their names in the contract.
var papers = map[string]func(*Server, *requestContext) (paper.Paper, error){
	"treatment-record":   treatmentRecord,
	"bench-sheet":        benchSheet,
	"examination-report": examinationReport,
	"loan-sheet":         loanSheet,
	"hand-over":          handOver,
}

// printPaper prints a paper about a specimen, as a page or as a PDF.
func printPaper(s *Server, c *requestContext) (*answer, error) {
	name := c.echo.Param("paper")
	if name != "bench-sheet" && c.text("treatments") != "" {
		return nil, parameterFault("treatments", "Only the bench sheet is about chosen treatments; leave it out.")
	}
	made, err := papers[name](s, c)
	if err != nil {
		return nil, err
	}
	return printed(c, made)
}

// printed answers with a paper in the form that was asked for.
func printed(c *requestContext, made paper.Paper) (*answer, error) {
	if c.mediaType == pdfType {
		body, err := made.PDF()
		return documentAnswer(pdfType, body, err)
	}
	a, err := htmlAnswer(made.HTML())
	if err == nil {
		a.setHeader("Content-Security-Policy", paper.Policy)
	}
	return a, err
}

func treatmentRecord(s *Server, c *requestContext) (paper.Paper, error) {
	specimen, of, err := s.recordedSpecimen(c)
	if err != nil {
		return paper.Paper{}, err
	}
	if specimen, err = s.withPresent(c, specimen); err != nil {
		return paper.Paper{}, err
	}
	return paper.TreatmentRecord(specimen, of), nil
}

func benchSheet(s *Server, c *requestContext) (paper.Paper, error) {
	plan, st, err := s.removalPlan(c, stack.PlanRequest{})
	if err != nil {
		return paper.Paper{}, err
	}
	base, err := s.knowledge(c)
	if err != nil {
		return paper.Paper{}, err
	}
	specimen, of, err := s.recordedSpecimen(c)
	if err != nil {
		return paper.Paper{}, err
	}
	return views.BenchSheet(paper.OfSpecimen("Bench sheet for removal", specimen, of), plan, base), st.Err()
}

func examinationReport(s *Server, c *requestContext) (paper.Paper, error) {
	specimen, of, err := s.recordedSpecimen(c)
	if err != nil {
		return paper.Paper{}, err
	}
	plans, err := s.plansOf(c, specimen.Revision.Record, of)
	if err != nil {
		return paper.Paper{}, err
	}
	if specimen, err = s.withPresent(c, specimen); err != nil {
		return paper.Paper{}, err
	}
	return paper.ExaminationReport(specimen, plans, of), nil
}

func loanSheet(s *Server, c *requestContext) (paper.Paper, error) {
	travel, st, err := s.travelTemperature(c)
	if err != nil {
		return paper.Paper{}, err
	}
	specimen, of, err := s.recordedSpecimen(c)
	if err != nil {
		return paper.Paper{}, err
	}
	return paper.LoanSheet(specimen, views.Travelling(travel), of), st.Err()
}

func handOver(s *Server, c *requestContext) (paper.Paper, error) {
	specimen, of, err := s.recordedSpecimen(c)
	if err != nil {
		return paper.Paper{}, err
	}
	plans, err := s.plansOf(c, specimen.Revision.Record, of)
	return paper.HandOver(specimen, plans, of), err
}

// mostPlans is how many plans a paper has; the latest of more.
const mostPlans = 50

// plansOf are the plans of a specimen that are in force, in order of their ids. Their
// standings are put beside those that are known.
func (s *Server) plansOf(c *requestContext, specimen uuid.UUID, of paper.Standings) ([]publish.Plan, error) {
	rows, _, err := c.tenant().List(c.ctx(), postgres.Filter{Kind: record.KindPlan, By: map[string]any{"specimen": specimen}},
		uuid.Nil, mostPlans)
	if err != nil || len(rows) == 0 {
		return nil, err
	}
	g, err := s.gather(c)
	if err != nil {
		return nil, err
	}
	if err := g.add(rows); err != nil {
		return nil, err
	}
	ids, plans := make([]uuid.UUID, len(rows)), make([]publish.Plan, len(rows))
	for i, row := range rows {
		ids[i], plans[i] = row.Record, g.Plan(row.Record)
	}
	stand, err := s.standings(c, ids)
	maps.Copy(of, stand)
	return plans, err
}

// recordedSpecimen is the specimen of the path as it is published, with the sequence
// numbers of its record and its treatments, and what they do not answer.
func (s *Server) recordedSpecimen(c *requestContext) (publish.Specimen, paper.Standings, error) {
	specimen, _, err := s.publishedSpecimen(c)
	if err != nil {
		return specimen, nil, err
	}
	if specimen.Unsaid, err = s.unsaid(c, specimen.Revision.Record); err != nil {
		return specimen, nil, err
	}
	records := []uuid.UUID{specimen.Revision.Record}
	for _, t := range specimen.Treatments {
		records = append(records, t.Revision.Record)
	}
	of, err := s.standings(c, records)
	return specimen, of, err
}

// unsaid are the treatments of a specimen that were retracted or erased.
func (s *Server) unsaid(c *requestContext, specimen uuid.UUID) ([]publish.Revision, error) {
	gone, err := c.tenant().GoneOf(c.ctx(), specimen)
	if err != nil || len(gone) == 0 {
		return nil, err
	}
	g, err := s.gather(c)
	if err != nil {
		return nil, err
	}
	if err := g.add(gone); err != nil {
		return nil, err
	}
	ids := make([]uuid.UUID, len(gone))
	for i, row := range gone {
		ids[i] = row.Record
	}
	return g.Unsaid(ids), nil
}

// standings are those of records of any kind.
func (s *Server) standings(c *requestContext, records []uuid.UUID) (paper.Standings, error) {
	rows, err := c.tenant().InForceOf(c.ctx(), records)
	if err != nil {
		return nil, err
	}
	entries := make([]uuid.UUID, 0, len(rows))
	list := slices.Collect(maps.Values(rows))
	for _, row := range list {
		entries = append(entries, row.EntryID)
	}
	numbers, err := c.tenant().SequencesOf(c.ctx(), entries)
	if err != nil {
		return nil, err
	}
	scored, err := s.score(c, list)
	if err != nil {
		return nil, err
	}
	out := paper.Standings{}
	for i, row := range list {
		known := paper.Standing{Sequence: numbers[row.Record], At: row.RecordedAt}
		for _, gap := range scored[i].Missing {
			of := record.Kind(gap.Of)
			if elsewhere := of == record.KindSpecimen && of != row.Kind; !elsewhere && !slices.Contains(known.Missing, gap.Field) {
				known.Missing = append(known.Missing, gap.Field)
			}
		}
		out[row.Record] = known
	}
	return out, nil
}
