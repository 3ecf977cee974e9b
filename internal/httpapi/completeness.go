package httpapi

import (
	"encoding/json"
	"slices"
	"time"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/statement"
)

// readCompleteness tells what one record still lacks.
func readCompleteness(s *Server, c *call) (*answer, error) {
	found, err := c.tenant().InForceOf(c.ctx(), []uuid.UUID{c.id("recordId")})
	if err != nil {
		return nil, err
	}
	row, here := found[c.id("recordId")]
	if !here {
		return nil, fault.Of(fault.NotFound, "record-unknown", "There is no such record in this institution.")
	}
	if statement.WordsIn(row.Body) == nil {
		return nil, fault.Of(fault.Conflict, "record-not-in-force", "The record was retracted or its words were redacted; there is nothing to look at.")
	}
	scored, err := s.score(c, []postgres.Row{row})
	if err != nil {
		return nil, err
	}
	return ok(scored[0])
}

// mostLooked is how many records one page of the report looks at.
const mostLooked = 2000

// reportIncompleteRecords goes through the records of one kind and keeps those
// that lack something.
func reportIncompleteRecords(s *Server, c *call) (*answer, error) {
	look, err := s.looking(c)
	if err != nil {
		return nil, err
	}
	report := api.IncompleteRecords{Items: []api.Completeness{}}
	if err := s.lookForGaps(c, look, &report); err != nil {
		return nil, err
	}
	a, err := ok(report)
	if err == nil && report.Next != nil {
		a.setHeader("Link", "<"+report.Next.Href+`>; rel="next"`)
	}
	return a, err
}

// look is how the records follow each other that are looked at: the next ones
// after the last, and the cursor at one.
type look struct {
	next   func(last *postgres.Row, limit int) ([]postgres.Row, error)
	cursor func(postgres.Row) string
}

// looking reads what the report is narrowed by, and where it goes on.
func (s *Server) looking(c *call) (look, error) {
	kind := record.KindTreatment
	if asked := c.text("kind"); asked != "" {
		kind = record.Kind(asked)
	}
	f, err := c.filter(kind, "kind", "rule")
	if err != nil {
		return look{}, err
	}
	for name := range f.By {
		if !f.Narrows(name) {
			return look{}, parameterFault(name, "This tells nothing of a "+string(kind)+"; leave it out, or ask for another kind.")
		}
	}
	since, err := c.instant("recordedSince")
	if err != nil {
		return look{}, err
	}
	if since != nil {
		return s.lookingSince(c, f, *since)
	}
	begin, err := c.cursor()
	return look{
		next: func(last *postgres.Row, limit int) ([]postgres.Row, error) {
			if last != nil {
				begin = last.Record
			}
			return c.tenant().List(c.ctx(), f, begin, limit)
		},
		cursor: func(row postgres.Row) string { return idCursor(row.Record) },
	}, err
}

// lookingSince looks at what was recorded since a moment, in the order of places.
func (s *Server) lookingSince(c *call, f postgres.Filter, since time.Time) (look, error) {
	begin, err := c.placeCursor()
	return look{
		next: func(last *postgres.Row, limit int) ([]postgres.Row, error) {
			if last != nil {
				begin = *last.Place
			}
			return c.tenant().ListSince(c.ctx(), f, since, begin, limit)
		},
		cursor: func(row postgres.Row) string { return placeCursor(*row.Place) },
	}, err
}

// lookForGaps fills a page, and says where the next begins if there may be one.
func (s *Server) lookForGaps(c *call, look look, report *api.IncompleteRecords) error {
	const atATime = 200
	limit := c.number("limit")
	var last *postgres.Row
	for {
		rows, err := look.next(last, atATime)
		if err != nil {
			return err
		}
		scored, err := s.score(c, rows)
		if err != nil {
			return err
		}
		for i, of := range scored {
			report.Looked++
			last = &rows[i]
			if lacks(of, c.text("rule")) {
				report.Items = append(report.Items, of)
			}
			if len(report.Items) == limit || report.Looked == mostLooked {
				next := c.next(look.cursor(*last))
				report.Next = &api.Next{Cursor: next.cursor, Href: next.href}
				return nil
			}
		}
		if len(rows) < atATime {
			return nil
		}
	}
}

// lacks tells whether something is missing, by one rule or by any.
func lacks(c api.Completeness, rule string) bool {
	return slices.ContainsFunc(c.Missing, func(g api.CompletenessGap) bool { return rule == "" || g.Rule == rule })
}

// mostMerges is how far a record is followed into others that it was merged into.
const mostMerges = 100

// score judges records of one kind in a few round trips: the records that they
// name, those into which specimens were merged, and what batches were made from.
func (s *Server) score(c *call, rows []postgres.Row) ([]api.Completeness, error) {
	known := statements{byID: map[string]record.Statement{}, went: map[string]string{}}
	var wanted []string
	for _, row := range rows {
		statement := decodedStatement(row.Body)
		known.byID[row.Record.String()] = statement
		wanted = append(wanted, statement.Names()...)
	}
	for range mostMerges {
		more, err := s.load(c, wanted, known)
		if err != nil {
			return nil, err
		}
		if len(more) == 0 {
			break
		}
		wanted = more
	}
	more, err := s.loadStock(c, known)
	if err != nil {
		return nil, err
	}
	solvents := record.SolventsIn(known.byID)
	out := make([]api.Completeness, len(rows))
	for i, row := range rows {
		entry, _ := statement.OpenEntry(row.Body)
		said := known.byID[row.Record.String()]
		out[i] = completenessOf(row, record.Score(record.Dossier{
			Kind: row.Kind, Statement: said, Specimen: known.specimenOf(said), Others: known.byID, Solvents: solvents,
			Received: entry.Received != nil}))
		out[i].MoreBatches = count(more)
	}
	return out, nil
}

// loadStock reads what the batches that are known were made from, and tells how
// much of it there is beyond that.
func (s *Server) loadStock(c *call, known statements) (more int, err error) {
	var batches []uuid.UUID
	for id, statement := range known.byID {
		if statement.At("/inputs") != nil {
			batches = append(batches, wireID(id))
		}
	}
	if len(batches) == 0 {
		return 0, nil
	}
	slices.SortFunc(batches, func(a, b uuid.UUID) int { return slices.Compare(a[:], b[:]) })
	found, err := c.tenant().ShelfBehind(c.ctx(), batches)
	for _, row := range found.Made {
		if _, here := known.byID[row.Record.String()]; !here {
			known.byID[row.Record.String()] = decodedStatement(row.Body)
		}
	}
	return found.MoreMade, err
}

// statements are what records say, by id, and into which records specimens were
// merged.
type statements struct {
	byID map[string]record.Statement
	went map[string]string
}

// specimenOf is what the record says that stands for the specimen of a treatment
// or a plan.
func (k statements) specimenOf(of record.Statement) record.Statement {
	id, said := of.At("/specimen/id").(string)
	if !said {
		id, _ = of.At("/treatment/specimen/id").(string)
	}
	for range mostMerges {
		into, merged := k.went[id]
		if !merged {
			break
		}
		id = into
	}
	return k.byID[id]
}

// load reads the statements of records that are not known yet, and gives those
// into which specimens among them were merged.
func (s *Server) load(c *call, wanted []string, known statements) ([]string, error) {
	var ids []uuid.UUID
	for _, text := range wanted {
		id, err := uuid.Parse(text)
		if _, here := known.byID[text]; err == nil && !here {
			ids = append(ids, id)
			known.byID[text] = nil
		}
	}
	if len(ids) == 0 {
		return nil, nil
	}
	found, err := c.tenant().InForceOf(c.ctx(), ids)
	if err != nil {
		return nil, err
	}
	var names []string
	for id, row := range found {
		known.byID[id.String()] = decodedStatement(row.Body)
		if into := statement.MergedInto(row.Body); into != uuid.Nil {
			known.went[id.String()] = into.String()
			names = append(names, into.String())
		}
	}
	return names, nil
}

// decodedStatement is a statement as the core looks at it; nil if its words are
// gone.
func decodedStatement(body *string) record.Statement {
	words := statement.WordsIn(body)
	if words == nil {
		return nil
	}
	var statement record.Statement
	if err := json.Unmarshal(words, &statement); err != nil {
		return nil
	}
	return statement
}

func completenessOf(row postgres.Row, c record.Completeness) api.Completeness {
	return api.Completeness{
		Record: row.Record, Kind: api.RecordKind(row.Kind),
		Answered: int64(c.Answered), Applicable: int64(c.Applicable), Missing: gapsOf(c.Missing),
		Recommended: api.CompletenessPart{
			Answered: int64(c.RecommendedAnswered), Applicable: int64(c.RecommendedApplicable), Missing: gapsOf(c.RecommendedMissing)},
	}
}

func gapsOf(gaps []record.Gap) []api.CompletenessGap {
	out := make([]api.CompletenessGap, len(gaps))
	for i, g := range gaps {
		out[i] = api.CompletenessGap{Rule: g.Rule, Field: g.Field, Pointer: g.Pointer, Of: api.RecordKind(g.Of), Why: g.Why, Source: g.Source}
	}
	return out
}
