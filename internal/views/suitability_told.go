package views

import (
	"cmp"
	"slices"
	"strings"

	"meniscus/internal/stack"
)

// verdicts are how the verdicts are told, the gravest first.
var verdicts = []struct {
	verdict stack.Verdict
	said    string
}{
	{stack.Bears, "What is on record bears on "},
	{stack.MayBear, "Whether it bears is not known for "},
	{stack.NothingKnown, "Nothing on record is known to bear on "},
	{stack.NoRecord, "No treatment is on record that could bear on "},
}

// analysisNames are those of analyses whose ids are no words.
var analysisNames = map[string]string{
	"ancient-dna": "ancient DNA", "ct": "CT", "xrf": "XRF", "strontium-lead": "strontium and lead",
}

// suitabilityAnswer names the analyses by verdict. None of it says that a sample is clean.
func suitabilityAnswer(found stack.Suitability) string {
	var sentences []string
	for _, v := range verdicts {
		var names []string
		for _, a := range found.Analyses {
			if a.Verdict == v.verdict {
				names = append(names, cmp.Or(analysisNames[a.Analysis], strings.ReplaceAll(a.Analysis, "-", " ")))
			}
		}
		if len(names) > 0 {
			sentences = append(sentences, v.said+strings.Join(names, ", ")+".")
		}
	}
	return strings.Join(sentences, " ")
}

// suitabilityReasons are what bears most: of each layer and effect one, three at most.
func suitabilityReasons(found stack.Suitability) []string {
	type reason struct {
		text  string
		times int
	}
	var all []reason
	for _, a := range found.Analyses {
		for _, b := range a.Bearing {
			if b.Applies == stack.No || b.Disturbs != stack.Yes || b.Count == 0 {
				continue
			}
			text := sentenceCase(b.Subject) + " (" + stack.ToldAreas(b.Areas) + "): " + b.Effect
			if b.Condition != "" {
				text += ", " + b.Condition
			}
			if i := slices.IndexFunc(all, func(r reason) bool { return r.text == text }); i >= 0 {
				all[i].times++
			} else {
				all = append(all, reason{text, 1})
			}
		}
	}
	slices.SortStableFunc(all, func(a, b reason) int { return b.times - a.times })
	return each(all[:min(mostReasons, len(all))], func(r reason) string { return r.text + "." })
}
