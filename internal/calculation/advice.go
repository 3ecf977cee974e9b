package calculation

import (
	"slices"

	"meniscus/api"
	"meniscus/internal/material"
	"meniscus/internal/solution"
	"meniscus/internal/substance"
)

// sheetFirst is the first caution of every computation.
var sheetFirst = solution.Caution{Sentence: material.SheetFirst,
	Source: solution.Cited("common-practice", solution.CommonPractice)}

// advice renders what goes with an answer, and defers to the safety data sheet. The texts of its sources stand at its end, in
// full; all else of the answer names them by their ids.
func (w writer) advice(a solution.Advice) api.ComputeAdvice {
	a.Cautions = append([]solution.Caution{sheetFirst}, a.Cautions...)
	a.Warnings = slices.Concat(a.Warnings, w.averaged, w.ofClasses(a.Millilitres))
	a.Sources = slices.Concat(a.Sources, w.cited)
	told := a.Warnings
	if !w.full {
		told = slices.DeleteFunc(slices.Clone(told), func(w solution.Warning) bool { return w.Severity == solution.Info })
	}
	out := api.ComputeAdvice{
		Warnings: each(told, func(w solution.Warning) api.ComputeWarning {
			return api.ComputeWarning{
				Code: w.Code, Severity: api.ComputeWarningSeverity(w.Severity), Sentence: w.Sentence,
				Source: w.Source.ID,
			}
		}),
		Cautions: each(a.Cautions, func(c solution.Caution) api.ComputeCaution {
			return api.ComputeCaution{Sentence: c.Sentence, Source: c.Source.ID}
		}),
	}
	if w.full {
		out.Sources = new(each(a.Cited(), answerSource))
	}
	return out
}

// severities are those of the warnings of classes.
var severities = map[material.Severity]solution.Severity{material.Dangerous: solution.Warn,
	material.Serious: solution.Warn, material.Careful: solution.Info}

// ofClasses are the warnings of the classes of what was asked about, in a volume.
func (w writer) ofClasses(millilitres float64) []solution.Warning {
	return each(w.known.ClassWarnings(w.named, millilitres), func(c material.ClassWarning) solution.Warning {
		out := solution.Warning{Code: c.ID, Severity: severities[c.Severity], Sentence: c.Sentence,
			Source: substance.Cited(c.Evidence)}
		if c.Blocks() {
			out.Severity = solution.Block
		}
		return out
	})
}

func answerSource(s solution.Source) api.AnswerSource {
	return api.AnswerSource{Id: s.ID, Citation: s.Citation, Status: api.ValueStatus(s.Status)}
}

// texts renders a list of sentences; one without any stays a list.
func texts(all []string) []string { return append([]string{}, all...) }

// each renders every item of a list; an empty list stays a list.
func each[T, W any](items []T, render func(T) W) []W {
	out := make([]W, 0, len(items))
	for _, item := range items {
		out = append(out, render(item))
	}
	return out
}

// said gives a text, or nil for none.
func said[T ~string](text T) *string {
	if text == "" {
		return nil
	}
	return new(string(text))
}
