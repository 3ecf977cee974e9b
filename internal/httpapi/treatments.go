package httpapi

import (
	"slices"

	"github.com/google/uuid"

	"meniscus/internal/layers"
	"meniscus/internal/ledger"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/recording"
	"meniscus/internal/stack"
	"meniscus/internal/statement"
	"meniscus/internal/views"
)

// listFindings makes the handler that gives the findings kept beside a treatment or a
// plan. They are made after the record has got its sequence number. Until then they are
// made now, and again where a trait of the body that they asked for was stated since.
func listFindings(
	kind record.Kind, param string, now findingNow,
) handler {
	return func(s *Server, c *requestContext) (*answer, error) {
		id := c.id(param)
		if err := s.mustExist(c, kind, id); err != nil {
			return nil, err
		}
		row, err := c.tenant().InForce(c.ctx(), id)
		if err != nil {
			return nil, err
		}
		var body *stack.Specimen
		var told []views.KeptFinding
		any, err := c.tenant().AnyWithheld(c.ctx())
		switch {
		case err != nil:
			return nil, err
		case any:
			body, told, err = s.findingsTold(c, row, now)
		default:
			var found []postgres.Finding
			_, found, body, err = s.findings(c, row, now)
			told = each(found, keptFinding)
		}
		if err != nil {
			return nil, err
		}
		odd, err := s.oddNow(c, row)
		if err != nil {
			return nil, err
		}
		return tellFindings.answer(c, views.Findings(body, told, odd))
	}
}

// findingNow checks a record now.
type findingNow func(*Server, *requestContext, postgres.Row) ([]postgres.Finding, error)

// findings are those of a record in force, with the specimen that it is about and what describes it.
func (s *Server) findings(c *requestContext, row postgres.Row, now findingNow) (
	specimen *uuid.UUID, found []postgres.Finding, body *stack.Specimen, err error,
) {
	checked, err := c.tenant().CheckedRevision(c.ctx(), row.Record)
	if err != nil {
		return nil, nil, nil, err
	}
	if specimen, err = c.specimenOf(row); err != nil {
		return nil, nil, nil, err
	}
	kept := checked == row.Revision || row.Act == ledger.Retracted
	if kept {
		found, err = c.tenant().Findings(c.ctx(), row.Record)
	}
	if err != nil {
		return nil, nil, nil, err
	}
	body, err = c.described(specimen, found)
	if err == nil && (!kept || row.Act != ledger.Retracted && answeredSince(body, found)) {
		if found, err = now(s, c, row); err == nil {
			body, err = c.described(specimen, found)
		}
	}
	return specimen, found, body, err
}

// findingsTold are findings where something of the institution is withheld: those that what is told
// gives, and which others block.
func (s *Server) findingsTold(c *requestContext, row postgres.Row, now findingNow) (
	body *stack.Specimen, told []views.KeptFinding, err error,
) {
	var specimen *uuid.UUID
	var whole, found []postgres.Finding
	err = c.seeing(func() error {
		row, err := c.tenant().InForce(c.ctx(), row.Record)
		if err == nil {
			specimen, whole, _, err = s.findings(c, row, now)
		}
		return err
	})
	if err == nil && row.Act != ledger.Retracted && !row.Withheld() {
		found, err = now(s, c, row)
	}
	if err != nil {
		return nil, nil, err
	}
	told = each(found, keptFinding)
	finding := func(k views.KeptFinding) stack.Finding { return k.Finding }
	for _, f := range blocked(each(each(whole, keptFinding), finding), each(told, finding)) {
		told = append(told, views.KeptFinding{Finding: f})
	}
	body, err = c.described(specimen, found)
	return body, told, err
}

// oddNow is what is odd about a record in force, without its layers; nothing for one that
// was retracted or redacted.
func (s *Server) oddNow(c *requestContext, row postgres.Row) ([]record.Finding, error) {
	reading, err := statement.OfEntry(row.Kind, row.Body)
	if err != nil || row.Act == ledger.Retracted {
		return nil, nil
	}
	odd, err := c.author().Odd(c.ctx(), s.today(),
		recording.Saying{Self: row.Record, Value: reading.Value, Words: statement.WordsIn(row.Body)})
	if err != nil {
		return nil, err
	}
	return odd[0], nil
}

// planFindingsNow checks a plan whose kept findings are missing or out of date.
func planFindingsNow(s *Server, c *requestContext, row postgres.Row) ([]postgres.Finding, error) {
	base, err := s.knowledge(c)
	if err != nil {
		return nil, err
	}
	tuning, err := layers.TuningOf(c.ctx(), c.tenant())
	if err != nil {
		return nil, err
	}
	found, _, err := layers.CheckPlan(c.ctx(), c.tenant(), row, base, tuning, s.today())
	return found, err
}

// findingsNow checks a treatment whose kept findings are missing or out of date.
func findingsNow(s *Server, c *requestContext, row postgres.Row) ([]postgres.Finding, error) {
	reading, err := statement.OfEntry(row.Kind, row.Body)
	if err != nil {
		return nil, nil
	}
	said := reading.Value.(*record.Treatment)
	base, err := s.knowledge(c)
	if err != nil {
		return nil, err
	}
	specimen, err := c.tenant().Survivor(c.ctx(), said.Specimen)
	if err != nil {
		return nil, err
	}
	config, sequence, err := s.history(c, specimen, base, s.today())
	if err != nil {
		return nil, err
	}
	tuning, err := layers.TuningOf(c.ctx(), c.tenant())
	if err != nil {
		return nil, err
	}
	found, err := layers.Findings(config, row.Record, tuning)
	for i := range found {
		if sequence > 0 {
			found[i].AsOfSeq = &sequence
		}
	}
	return found, err
}

// keptFinding reads a finding that is kept beside a record.
func keptFinding(f postgres.Finding) views.KeptFinding {
	out := views.KeptFinding{Sequence: f.AsOfSeq, Finding: stack.Finding{
		Rule: f.Rule, Severity: stack.Severity(f.Severity), Sentence: f.Sentence, Remedy: deref(f.Remedy),
		Sources: stack.Sources(deref(f.Source)), Unanswerable: f.Unanswerable,
		Traits: each(f.Traits, func(t string) stack.Trait { return stack.Trait(t) }),
		Layers: each(f.Layers, uuid.UUID.String),
	}}
	if f.Area != nil {
		out.Areas = []stack.Area{stack.Area(*f.Area)}
	}
	return out
}

// specimenOf is the record that stands for the specimen of a treatment or a plan; nil where the
// words cannot be read.
func (c *requestContext) specimenOf(row postgres.Row) (*uuid.UUID, error) {
	reading, err := statement.OfEntry(row.Kind, row.Body)
	if err != nil {
		return nil, nil
	}
	var said uuid.UUID
	switch v := reading.Value.(type) {
	case *record.Treatment:
		said = v.Specimen
	case *record.Plan:
		said = v.Treatment.Specimen
	}
	specimen, err := c.tenant().Survivor(c.ctx(), said)
	return &specimen, err
}

// described is a specimen as its record and its collection's default describe it by now, the
// latter as far as findings ask for it; nil where it cannot be read.
func (c *requestContext) described(specimen *uuid.UUID, found []postgres.Finding) (*stack.Specimen, error) {
	if specimen == nil {
		return nil, nil
	}
	if !slices.ContainsFunc(found, func(f postgres.Finding) bool { return len(f.Traits) > 0 }) {
		about, err := c.about(*specimen)
		return about[*specimen], err
	}
	base, err := c.server.knowledge(c)
	if err != nil {
		return nil, err
	}
	h, err := layers.HistoryOf(c.ctx(), c.tenant(), *specimen)
	if err != nil {
		return nil, err
	}
	body := layers.BodyOf(*specimen, h, base)
	return &body, nil
}

// answeredSince tells whether what a kept finding asks for is stated of the body by now.
func answeredSince(body *stack.Specimen, kept []postgres.Finding) bool {
	return body != nil && slices.ContainsFunc(kept, func(f postgres.Finding) bool {
		return slices.ContainsFunc(f.Traits, func(t string) bool { return body.Is(stack.Trait(t)) != stack.Unknown })
	})
}
