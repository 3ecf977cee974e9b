package views

import (
	"meniscus/api"
	"meniscus/internal/stack"
)

// GeneralCaution stands beside everything that may lead to work with solvents.
const GeneralCaution = "The safety data sheet of the product, local codes and licensed practice come first."

// unrecordedCaution stands beside every answer about what is on a specimen.
const unrecordedCaution = "An area without a record is not shown to be untreated."

// TreatmentCheck is what a look at a proposed treatment found on the specimen that it
// is meant for.
func TreatmentCheck(sp *stack.Specimen, checked stack.Checked) api.TreatmentCheck {
	of, cut := aboutOf(sp), false
	out := api.TreatmentCheck{
		MergedInto: of.mergedInto, Hazards: of.hazards, PassedOn: of.passedOn,
		Blocked: checked.Blocked(), Findings: findings(checked.Findings), Cleared: each(checked.Cleared, cleared),
		Contradictions:     contradictions(listed(&cut, checked.Contradictions, mostListed)),
		MoreContradictions: count(checked.MoreContradictions),
	}
	out.Cautions = of.cautions(cut, GeneralCaution, unrecordedCaution)
	return out
}

func findings(list []stack.Finding) []api.Finding { return each(list, finding) }

func finding(f stack.Finding) api.Finding {
	out := api.Finding{
		Rule: f.Rule, Severity: api.Severity(f.Severity), Layers: listOrNone(idsOf(f.Layers)), Count: count(f.Count),
		Sentence: f.Sentence, Remedy: said(f.Remedy), Source: said(f.Source), Evidence: listOrNone(evidence(f.Evidence)),
		MoreEvidence: count(f.MoreEvidence), Unknown: yes(f.Unknown), Possible: yes(f.Possible),
		TunedBecause: said(f.TunedBecause), Overridden: said(f.Overridden),
	}
	if len(f.Areas) == 1 {
		out.Area = said(f.Areas[0])
	} else {
		out.Areas = listOrNone(areaNames(f.Areas))
	}
	out.Status = (*api.ValueStatus)(said(f.Status))
	out.TunedFrom = (*api.Severity)(said(f.TunedFrom))
	return out
}

func cleared(x stack.Cleared) api.ClearedMatter {
	return api.ClearedMatter{
		Rule: api.RuleId(x.Rule), Layers: listOrNone(idsOf(x.Layers)), Count: count(x.Count), Sentence: x.Sentence,
		Source: said(x.Source), Evidence: listOrNone(evidence(x.Evidence)), MoreEvidence: count(x.MoreEvidence),
	}
}

// Evidence is what an answer about a layer rests on.
func Evidence(e stack.Evidence) api.LayerEvidence {
	out := api.LayerEvidence{
		Says: e.Says, Source: e.Source, Date: said(e.Date), Status: (*api.ValueStatus)(said(e.Status)),
	}
	if e.Treatment != "" {
		out.Treatment = new(idOf(e.Treatment))
	}
	return out
}

func evidence(list []stack.Evidence) []api.LayerEvidence { return each(list, Evidence) }

func contradictions(list []stack.Contradiction) []api.Contradiction {
	return each(list, func(x stack.Contradiction) api.Contradiction {
		return api.Contradiction{Code: x.Code, Treatments: idsOf(x.Treatments), Sentence: x.Sentence}
	})
}

func pair(p stack.Pair) api.LayerPair {
	return api.LayerPair{Treatments: idsOf([]string{p.A, p.B}), Area: string(p.Area)}
}
