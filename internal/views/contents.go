package views

import (
	"fmt"
	"strings"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/calculation"
	"meniscus/internal/material"
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
		Batch:          api.Ref(id),
		UnknownBecause: append([]string{}, held.Why...), MoreUnknownBecause: count(held.MoreWhy),
		Materials: append([]string{}, held.Materials...), MoreMaterials: count(held.MoreMaterials),
		Unnamed: listOrNone(held.Unnamed), MoreUnnamed: count(held.MoreUnnamed),
		Now: balance(account.Balance, unit),
		Steps: new(each(listed(&cut, account.Steps, mostListed), func(s stock.Step) api.BatchStep {
			return batchStep(s, unit)
		})),
		Findings: each(account.Findings, stockFinding), Cautions: []string{material.SheetFirst},
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
		out.Strength = labelStrength(out.AsMade.Strengths)
	}
	out.Answer = contentsAnswer(out)
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
		Record: refOf(s.Change.ID), Kind: api.BatchStepKind(s.Change.Kind), Balance: balance(s.Balance, unit),
		Date: said(s.Change.Date.String()),
	}
}

func stockFinding(f stock.Finding) api.Finding {
	return api.Finding{
		Rule: f.Rule, Severity: api.Severity(f.Severity), Sentence: f.Sentence, Remedy: said(f.Remedy),
	}
}

// labelStrength is a strength as a label says it: by the first basis that has an answer.
func labelStrength(all []api.ComputedStrength) *api.ComputedStrength {
	for _, s := range all {
		if s.Unanswered == nil {
			s.Budget = nil
			return &s
		}
	}
	return nil
}

// contentsAnswer says what is in it, how strong, how much is left, and how sure that is.
func contentsAnswer(x api.BatchContents) string {
	text := "What it held is not known."
	switch {
	case x.AsMade != nil:
		var solids, liquids []string
		for _, p := range x.AsMade.Parts {
			if p.Phase == "solid" {
				solids = append(solids, p.Name)
			} else {
				liquids = append(liquids, p.Name)
			}
		}
		text = sentenceCase(strings.Join(solids, ", "))
		if len(solids) == 0 {
			text = sentenceCase(strings.Join(liquids, ", "))
		} else if len(liquids) > 0 {
			text += " in " + strings.Join(liquids, ", ")
		}
		if x.Strength != nil {
			text += ", " + deref(x.Strength.Said) + " as made (" + within(x.Strength) + ")"
		}
		text += "."
	case len(x.UnknownBecause) > 0:
		text = "What it held is not known: " + x.UnknownBecause[0]
	}
	return text + " " + leftSaid(x.Now)
}

// within is the range of a strength, or that none is stated, without the strength again.
func within(s *api.ComputedStrength) string {
	said := deref(s.Range)
	if _, why, exact := strings.Cut(said, "; "); exact && s.Uncertainty == nil {
		return why
	}
	return said
}

// LeftIn says in a sentence what is left of a batch.
func LeftIn(id uuid.UUID, book *stock.Book) string {
	on := book.Shelf()
	return leftSaid(balance(on.Account(id.String()).Balance, on.Unit(id.String())))
}

// leftSaid says in a sentence what is left.
func leftSaid(b api.BatchBalance) string {
	if b.Remaining == nil {
		return "How much is left is not known."
	}
	m := quantity.Measured{Value: b.Remaining.Value}
	if u := b.Remaining.Uncertainty; u != nil {
		m.Standard = u.Expanded / quantity.Coverage
	}
	left := m.Said() + " " + b.Remaining.Unit
	if b.Knowledge == "at-most" {
		return "At most " + left + " is left; exactly how much is not known."
	}
	if u := b.Remaining.Uncertainty; u != nil {
		left += " ± " + quantity.Digits(u.Expanded, 2) + " " + b.Remaining.Unit
	}
	return "Left: " + left + "."
}
