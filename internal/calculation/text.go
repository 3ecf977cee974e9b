package calculation

import (
	"strings"

	"meniscus/api"
	"meniscus/internal/plain"
)

// mostReasons is how many warnings that block nothing a text gives.
const mostReasons = 3

// told is an answer as text: what was asked for, what blocks it, the steps, what else there
// is to say, at most three warnings, and the cautions.
func told(answer string, steps []api.Text, advice api.ComputeAdvice, more ...string) plain.Text {
	var t plain.Text
	t.Keep(answer)
	var reasons []string
	for _, w := range advice.Warnings {
		if w.Severity == api.ComputeWarningSeverityBlock {
			t.Keep("Do not: " + w.Sentence)
		} else {
			reasons = append(reasons, w.Sentence)
		}
	}
	t.Steps(steps...)
	t.Say(more...)
	t.Say(reasons[:min(mostReasons, len(reasons))]...)
	var cautions []string
	for _, c := range advice.Cautions {
		cautions = append(cautions, c.Sentence)
	}
	t.Keep(strings.Join(cautions, " "))
	return t
}

// MakeUpText is a recipe as text.
func MakeUpText(a api.MakeUpAnswer) plain.Text {
	var more []string
	if a.Smallest != nil {
		more = append(more, a.Smallest.Sentence)
	}
	if a.Preparation != nil && a.Preparation.Fit != nil {
		more = append(more, a.Preparation.Fit.Sentence)
	}
	return told(a.Answer, a.Steps, a.Advice, more...)
}
