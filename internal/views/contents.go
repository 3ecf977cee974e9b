package views

import (
	"fmt"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/calculation"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
	"meniscus/internal/stock"
)

// BatchContents is what a batch holds as it was made, and what is left of it.
func BatchContents(id uuid.UUID, book *stock.Book) api.BatchContents {
	on, of := book.Shelf(), id.String()
	unit, held, account := on.Unit(of), on.Contents(of), on.Account(of)
	cut := false
	out := api.BatchContents{
		Batch:          id,
		UnknownBecause: append([]string{}, held.Why...), MoreUnknownBecause: count(held.MoreWhy),
		Materials: append([]string{}, held.Materials...), MoreMaterials: count(held.MoreMaterials),
		Unnamed: listOrNone(held.Unnamed), MoreUnnamed: count(held.MoreUnnamed),
		Now: balance(account.Balance, unit),
		Steps: each(listed(&cut, account.Steps, mostListed), func(s stock.Step) api.BatchStep {
			return batchStep(s, unit)
		}),
		Findings:    each(account.Findings, stockFinding),
		MoreBatches: count(book.More), MoreEntries: count(book.MoreEntries),
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
		Record: idOf(s.Change.ID), Kind: api.BatchStepKind(s.Change.Kind), Balance: balance(s.Balance, unit),
		Date: said(s.Change.Date.String()),
	}
}

func stockFinding(f stock.Finding) api.Finding {
	return api.Finding{
		Rule: f.Rule, Severity: api.Severity(f.Severity), Sentence: f.Sentence, Remedy: said(f.Remedy),
	}
}
