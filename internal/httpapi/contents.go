package httpapi

import (
	"fmt"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/calculation"
	"meniscus/internal/quantity"
	"meniscus/internal/record"
	"meniscus/internal/recording"
	"meniscus/internal/solution"
	"meniscus/internal/stock"
)

// readBatchContents answers what a batch holds as it was made, and what is left.
func readBatchContents(s *Server, c *requestContext) (*answer, error) {
	id := c.id("batchId")
	if err := s.mustExist(c, record.KindBatch, id); err != nil {
		return nil, err
	}
	book, err := s.book(c, []uuid.UUID{id})
	if err != nil {
		return nil, err
	}
	on := book.Shelf()
	out := batchContents(id, on.Contents(id.String()), on.Account(id.String()), on.Unit(id.String()))
	out.MoreBatches, out.MoreEntries = count(book.More), count(book.MoreEntries)
	return ok(out)
}

// book reads the entries about batches.
func (s *Server) book(c *requestContext, batches []uuid.UUID) (*stock.Book, error) {
	base, err := s.knowledge(c)
	if err != nil {
		return nil, err
	}
	rows, err := c.tenant().ShelfOf(c.ctx(), batches)
	if err != nil {
		return nil, err
	}
	book, unread := recording.Book(base, rows)
	s.logUnread(unread...)
	return book, nil
}

func batchContents(id uuid.UUID, held stock.Contents, account stock.Account, unit quantity.Unit) api.BatchContents {
	cut := false
	out := api.BatchContents{
		Batch:          id,
		UnknownBecause: append([]string{}, held.Why...), MoreUnknownBecause: count(held.MoreWhy),
		Materials: append([]string{}, held.Materials...), MoreMaterials: count(held.MoreMaterials),
		MoreUnnamed: count(held.MoreUnnamed),
		Now:         balance(account.Balance, unit),
		Steps: each(listed(&cut, account.Steps, mostListed), func(s stock.Step) api.BatchStep {
			return batchStep(s, unit)
		}),
		Findings: each(account.Findings, stockFinding),
	}
	if cut {
		out.Findings = append(out.Findings, api.Finding{
			Rule: "stock-steps-cut", Severity: "info",
			Sentence: fmt.Sprintf("Of %d entries about this batch the first %d are listed; the balance is of all of them.",
				len(account.Steps), mostListed),
		})
	}
	if held.Mixture != nil {
		out.AsMade = new(calculation.Mixture(*held.Mixture))
	}
	if len(held.Unnamed) > 0 {
		out.Unnamed = &held.Unnamed
	}
	return out
}

// balance renders a balance; its strength is solids per unit, times a hundred.
func balance(b stock.Balance, unit quantity.Unit) api.BatchBalance {
	out := api.BatchBalance{Knowledge: api.BatchBalanceKnowledge(b.Knowledge)}
	if b.Knowledge != stock.Unknown {
		out.Remaining = new(calculation.Measured(b.Remaining, unit))
	}
	if b.Strength != nil {
		basis, in := solution.MassPerSolutionVolume, quantity.GramsPerDL
		if unit == quantity.Gram {
			basis, in = solution.MassFraction, quantity.Percent
		}
		x := quantity.Measured{Value: 100 * b.Strength.Value, Standard: 100 * b.Strength.Standard}
		out.Strength = new(calculation.Strength(basis, x, in))
	}
	return out
}

func batchStep(s stock.Step, unit quantity.Unit) api.BatchStep {
	return api.BatchStep{
		Record: uuid.MustParse(s.Change.ID), Kind: api.BatchStepKind(s.Change.Kind), Balance: balance(s.Balance, unit),
		Date: said(s.Change.Date.String()),
	}
}

func stockFinding(f stock.Finding) api.Finding {
	return api.Finding{
		Rule: f.Rule, Severity: api.Severity(f.Severity), Sentence: f.Sentence, Remedy: said(f.Remedy),
	}
}
