package httpapi

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"time"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/recording"
	"meniscus/internal/sheet"
	"meniscus/internal/statement"
)

// readCompleteness tells what one record still lacks.
func readCompleteness(s *Server, c *requestContext) (*answer, error) {
	found, err := c.tenant().InForceOf(c.ctx(), []uuid.UUID{c.id("recordId")})
	if err != nil {
		return nil, err
	}
	row, here := found[c.id("recordId")]
	if !here {
		return nil, fault.Of(fault.NotFound, "record-unknown", "There is no such record in this institution.")
	}
	switch _, err := statement.OfEntry(row.Kind, row.Body); {
	case row.Withheld(): // told as such
	case errors.Is(err, statement.ErrRedacted):
		return nil, fault.Of(fault.Conflict, "record-not-in-force",
			"The record was retracted or its words were redacted; there is nothing to look at.")
	case err != nil:
		return nil, fmt.Errorf("record %s: %w", row.Record, err)
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
func reportIncompleteRecords(s *Server, c *requestContext) (*answer, error) {
	look, err := s.looking(c)
	if err != nil {
		return nil, err
	}
	if c.mediaType == "text/csv" {
		return c.report("incomplete-records", nil, func(w io.Writer) error { return s.gapTable(c, w, look) }), nil
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

// look walks the records of the report: next gives those after the last, cursor where a
// record stands.
type look struct {
	next   func(last *postgres.Row, limit int) (rows []postgres.Row, more bool, err error)
	cursor func(postgres.Row) string
}

// looking reads the filters of the report, and its cursor.
func (s *Server) looking(c *requestContext) (look, error) {
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
			return look{}, parameterFault(name,
				"This tells nothing of a "+string(kind)+"; leave it out, or ask for another kind.")
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
		next: func(last *postgres.Row, limit int) ([]postgres.Row, bool, error) {
			if last != nil {
				begin = last.Record
			}
			return c.tenant().List(c.ctx(), f, begin, limit)
		},
		cursor: func(row postgres.Row) string { return idCursor(row.Record) },
	}, err
}

// lookingSince looks at what was recorded since a moment, in order of sequence.
func (s *Server) lookingSince(c *requestContext, f postgres.Filter, since time.Time) (look, error) {
	begin, err := c.sequenceCursor()
	return look{
		next: func(last *postgres.Row, limit int) ([]postgres.Row, bool, error) {
			if last != nil {
				begin = *last.Sequence
			}
			return c.tenant().ListSince(c.ctx(), f, since, begin, limit)
		},
		cursor: func(row postgres.Row) string { return sequenceCursor(*row.Sequence) },
	}, err
}

// lookForGaps fills a page, and says where the next begins if there may be one.
func (s *Server) lookForGaps(c *requestContext, look look, report *api.IncompleteRecords) error {
	const atATime = 200
	limit := c.number("limit")
	var last *postgres.Row
	for {
		rows, more, err := look.next(last, atATime)
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
		if !more {
			return nil
		}
	}
}

// gapTable writes a row for each thing that is missing, of all records from the cursor on.
func (s *Server) gapTable(c *requestContext, w io.Writer, look look) error {
	const atATime = 200
	out := sheet.NewWriter(w)
	err := out.Write("record", "kind", "called", "rule", "field", "pointer", "of", "why")
	var last *postgres.Row
	for more := true; more && err == nil; {
		var rows []postgres.Row
		if rows, more, err = look.next(last, atATime); err != nil || len(rows) == 0 {
			break
		}
		last = &rows[len(rows)-1]
		scored, names, failed := s.scoreNamed(c, rows)
		err = failed
		for i, of := range scored {
			if of.Withheld != nil {
				err = firstOf(err, out.Write(of.Record.Id.String(), string(of.Kind), names[i], "", "", "", "",
					"Restricted: what it says is withheld here."))
			}
			for _, gap := range of.Missing {
				if rule := c.text("rule"); rule == "" || rule == string(gap.Rule) {
					err = firstOf(err, out.Write(of.Record.Id.String(), string(of.Kind), names[i], string(gap.Rule), gap.Field,
						gap.Pointer, string(gap.Of), gap.Why))
				}
			}
		}
	}
	return firstOf(err, out.Flush())
}

// lacks tells whether something is missing, by one rule or by any.
func lacks(c api.Completeness, rule string) bool {
	if c.Withheld != nil { // it may
		return true
	}
	return slices.ContainsFunc(c.Missing, func(g api.CompletenessGap) bool { return rule == "" || string(g.Rule) == rule })
}

// mostMerges is how many merges are followed from one record.
const mostMerges = 100

// score judges records of one kind in a few round trips: the records that they
// name, those into which specimens were merged, and what batches were made from.
func (s *Server) score(c *requestContext, rows []postgres.Row) ([]api.Completeness, error) {
	out, _, err := s.scoreNamed(c, rows)
	return out, err
}

// scoreNamed is score, and what people call the records: a specimen's first number, a code.
func (s *Server) scoreNamed(c *requestContext, rows []postgres.Row) ([]api.Completeness, []string, error) {
	known := around{byID: map[uuid.UUID]record.Value{}, went: map[uuid.UUID]uuid.UUID{}}
	dossiers := make([]record.Dossier, len(rows))
	var wanted []uuid.UUID
	for i, row := range rows {
		if row.Withheld() {
			continue
		}
		reading, err := s.readRow(row)
		if errors.Is(err, statement.ErrRedacted) {
			continue // a gap in redacted words cannot be filled
		}
		if err != nil {
			dossiers[i].Value = record.Blank(row.Kind)
			continue
		}
		dossiers[i].Value, dossiers[i].Received = reading.Value, reading.Received
		known.byID[row.Record] = reading.Value
		wanted = append(wanted, record.HangsOn(reading.Value)...)
	}
	more, err := s.loadAround(c, wanted, known)
	if err != nil {
		return nil, nil, err
	}
	solvents := record.SolventsIn(known.byID)
	out, names := make([]api.Completeness, len(rows)), make([]string, len(rows))
	for i, d := range dossiers {
		if d.Value == nil {
			out[i] = completenessOf(rows[i], record.Completeness{})
			continue
		}
		d.Specimen, d.Others, d.Solvents = known.specimenOf(d.Value), known.byID, solvents
		out[i] = completenessOf(rows[i], record.Score(d))
		out[i].MoreBatches, names[i] = count(more), calledBy(d)
	}
	return out, names, nil
}

// calledBy is what people call a record.
func calledBy(d record.Dossier) string {
	of := d.Specimen
	switch v := d.Value.(type) {
	case *record.Batch:
		return v.Code
	case *record.Supply:
		return v.Code
	case *record.Specimen:
		of = v
	}
	if of == nil || len(of.Identifiers) == 0 {
		return ""
	}
	return of.Identifiers[0].Value
}

// readRow reads a record's words: statement.ErrRedacted where they are gone. Where they
// cannot be read, the log is told.
func (s *Server) readRow(row postgres.Row) (*statement.Reading, error) {
	reading, err := statement.OfEntry(row.Kind, row.Body)
	if err != nil && !errors.Is(err, statement.ErrRedacted) {
		s.logUnread(recording.Unread{Row: row, Err: err})
	}
	return reading, err
}

// keep adds a record to those that are known.
func (s *Server) keep(row postgres.Row, known around) {
	if reading, err := s.readRow(row); err == nil {
		known.byID[row.Record] = reading.Value
	}
}

// around holds records by id, and for merged specimens the record that each went into.
type around struct {
	byID map[uuid.UUID]record.Value
	went map[uuid.UUID]uuid.UUID
}

// specimenOf is the specimen of a treatment or a plan: the record that stands for
// it; nil where nothing is known of it.
func (k around) specimenOf(of record.Value) *record.Specimen {
	var id uuid.UUID
	switch v := of.(type) {
	case *record.Treatment:
		id = v.Specimen
	case *record.Plan:
		id = v.Treatment.Specimen
	}
	for range mostMerges {
		into, merged := k.went[id]
		if !merged {
			break
		}
		id = into
	}
	specimen, _ := k.byID[id].(*record.Specimen)
	return specimen
}

// loadAround reads the records that are named, those that specimens among them were
// merged into, and what batches were made from. more is how many of the last were not
// read.
func (s *Server) loadAround(c *requestContext, wanted []uuid.UUID, known around) (more int, err error) {
	for range mostMerges {
		if wanted, err = s.load(c, wanted, known); err != nil {
			return 0, err
		}
		if len(wanted) == 0 {
			break
		}
	}
	return s.loadStock(c, known)
}

// load reads records that are not known yet, and gives the ids that specimens among them
// were merged into.
func (s *Server) load(c *requestContext, wanted []uuid.UUID, known around) ([]uuid.UUID, error) {
	wanted = slices.DeleteFunc(wanted, func(id uuid.UUID) bool {
		_, here := known.byID[id]
		return here
	})
	found, err := c.tenant().InForceOf(c.ctx(), wanted)
	if err != nil {
		return nil, err
	}
	var names []uuid.UUID
	for id, row := range found {
		s.keep(row, known)
		if into := statement.MergedInto(row.Body); into != uuid.Nil {
			known.went[id] = into
			names = append(names, into)
		}
	}
	return names, nil
}

// loadStock reads what the known batches were made from; more is how many records of it
// were not read.
func (s *Server) loadStock(c *requestContext, known around) (more int, err error) {
	var batches []uuid.UUID
	for id, v := range known.byID {
		if b, is := v.(*record.Batch); is && b.Inputs.Given {
			batches = append(batches, id)
		}
	}
	if len(batches) == 0 {
		return 0, nil
	}
	slices.SortFunc(batches, func(a, b uuid.UUID) int { return slices.Compare(a[:], b[:]) })
	found, err := c.tenant().ShelfBehind(c.ctx(), batches)
	for _, row := range found.Made {
		if _, here := known.byID[row.Record]; !here {
			s.keep(row, known)
		}
	}
	return found.MoreMade, err
}

func completenessOf(row postgres.Row, c record.Completeness) api.Completeness {
	var withheld *bool
	if row.Withheld() {
		withheld = new(true)
	}
	return api.Completeness{
		Withheld: withheld, Record: api.Ref(row.Record), Kind: api.RecordKind(row.Kind),
		Answered: int64(c.Answered), Applicable: int64(c.Applicable), Missing: gapsOf(c.Missing),
		Recommended: api.CompletenessPart{
			Answered: int64(c.RecommendedAnswered), Applicable: int64(c.RecommendedApplicable),
			Missing: gapsOf(c.RecommendedMissing)},
	}
}

func gapsOf(gaps []record.Gap) []api.CompletenessGap {
	out := make([]api.CompletenessGap, len(gaps))
	for i, g := range gaps {
		out[i] = api.CompletenessGap{Rule: api.CompletenessRule(g.Rule), Field: g.Field, Pointer: g.Pointer,
			Of: api.RecordKind(g.Of), Why: g.Why, Source: g.Source}
	}
	return out
}
