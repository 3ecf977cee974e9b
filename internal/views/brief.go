package views

import (
	"cmp"
	"slices"

	"meniscus/api"
)

// These functions make the brief answer from the full one and work nothing out anew, so
// that the two cannot disagree. Hazards, what blocks and cautions are never cut.

// BriefTreatmentCheck has the verdict, what blocks, and three reasons at most.
func BriefTreatmentCheck(x api.TreatmentCheck) api.TreatmentCheck {
	x.Findings, x.MoreFindings = briefFindings(x.Findings)
	x.Contradictions, x.MoreContradictions = briefContradictions(x.Contradictions, x.MoreContradictions)
	x.Cleared, x.Sources = nil, nil
	return x
}

// BriefFindings has what blocks, and three findings at most.
func BriefFindings(x api.FindingList) api.FindingList {
	x.Items, x.MoreFindings = briefFindings(x.Items)
	x.Sources = nil
	return x
}

// briefContradictions names a few of the records that contradict each other.
func briefContradictions(list []api.Contradiction, beyond *int32) ([]api.Contradiction, *int32) {
	list, beyond = few(list, beyond)
	return each(list, func(c api.Contradiction) api.Contradiction {
		c.Treatments = c.Treatments[:min(mostReasons, len(c.Treatments))]
		return c
	}), beyond
}

// BriefRemovalPlan has the order, one line a step.
func BriefRemovalPlan(x api.RemovalPlan) api.RemovalPlan {
	x.Steps = each(x.Steps, func(s api.RemovalStep) api.RemovalStep {
		return api.RemovalStep{
			Treatment: s.Treatment, Position: s.Position, Sentence: s.Sentence, Solvent: s.Solvent, Test: s.Test,
		}
	})
	x.Before, x.After = each(x.Before, briefPreparation), each(x.After, briefPreparation)
	x.Findings = each(x.Findings, briefFinding)
	unreachable, more := few(x.Unreachable, &x.MoreUnreachable)
	x.Unreachable, x.MoreUnreachable = unreachable, *more
	x.AlreadyGone, x.MoreAlreadyGone = few(x.AlreadyGone, nil)
	if x.Kept != nil {
		stays, more := few(*x.Kept, x.MoreKept)
		x.Kept, x.MoreKept = &stays, more
	}
	questions := len(x.Questions)
	x.Questions, _ = few(x.Questions, nil)
	x.MoreQuestions = x.MoreQuestions || questions > len(x.Questions)
	x.Contradictions, x.MoreContradictions = briefContradictions(x.Contradictions, x.MoreContradictions)
	x.Sources = nil
	return x
}

func briefPreparation(p api.PlanPreparation) api.PlanPreparation {
	p.Layers, p.Sources = nil, nil
	return p
}

// BriefPresentState has one line a layer.
func BriefPresentState(x api.PresentState) api.PresentState {
	x.Areas = each(x.Areas, func(a api.AreaState) api.AreaState {
		return api.AreaState{Area: a.Area, Status: a.Status, Layers: each(a.Layers, briefLayer), Examined: a.Examined}
	})
	x.Unplaced = each(x.Unplaced, briefLayer)
	pairs := len(x.Undetermined)
	x.Undetermined, _ = few(x.Undetermined, nil)
	x.MoreUndetermined = x.MoreUndetermined || pairs > len(x.Undetermined)
	x.Contradictions, x.MoreContradictions = briefContradictions(x.Contradictions, x.MoreContradictions)
	x.Sources = nil
	return x
}

func briefLayer(l api.PresentLayer) api.PresentLayer {
	return api.PresentLayer{
		Treatment: l.Treatment, Position: l.Position, Sentence: l.Sentence, Role: l.Role, State: l.State,
	}
}

// BriefSuitability has the verdict for each analysis, and three reasons at most.
func BriefSuitability(x api.Suitability) api.Suitability {
	x.Analyses = each(x.Analyses, func(a api.ForAnalysis) api.ForAnalysis {
		return api.ForAnalysis{Analysis: a.Analysis, Verdict: a.Verdict}
	})
	x.Exposures, x.MoreExposures = few(x.Exposures, nil)
	x.Exposures = each(x.Exposures, func(e api.ExposureTotal) api.ExposureTotal {
		if len(e.Treatments) > mostReasons {
			e.Count = new(max(deref(e.Count), int32(len(e.Treatments))))
			e.Treatments = e.Treatments[:mostReasons]
		}
		return e
	})
	x.Unrecorded, x.MoreUnrecorded = few(x.Unrecorded, nil)
	x.References, x.MoreReferences = few(x.References, nil)
	x.Sources = nil
	return x
}

// BriefTravelTemperature has the temperature, and the layers that decide it.
func BriefTravelTemperature(x api.TravelTemperature) api.TravelTemperature {
	deciding := make([]int, len(x.Layers))
	for i := range deciding {
		deciding[i] = i
	}
	slices.SortStableFunc(deciding, func(a, b int) int {
		return cmp.Compare(bearsUpTo(x.Layers[a]), bearsUpTo(x.Layers[b]))
	})
	deciding, x.MoreLayers = few(deciding, nil)
	slices.Sort(deciding)
	x.Layers = each(deciding, func(i int) api.TravelLayer {
		l := x.Layers[i]
		l.Evidence, l.MoreEvidence, l.Cautions = nil, nil, nil
		return l
	})
	x.Sources = nil
	return x
}

// bearsUpTo is how warm a layer may become, to sort by; where that is not known, it comes
// first.
func bearsUpTo(l api.TravelLayer) float64 {
	if l.Highest == nil {
		return -1000
	}
	return l.Highest.Value.Float64()
}

// BriefBatchContents has what is in it, how strong, and how sure that is.
func BriefBatchContents(x api.BatchContents) api.BatchContents {
	x.AsMade, x.Steps = nil, nil
	return x
}

// mostSummarised is how many treatments a summary in brief has, the last ones.
const mostSummarised = 5

// BriefSummary has the last treatments, each in a sentence.
func BriefSummary(x api.SpecimenSummary) api.SpecimenSummary {
	x.Preparations = nil
	x.Items = each(x.Items[max(0, len(x.Items)-mostSummarised):], func(item api.SummaryItem) api.SummaryItem {
		item.Materials, item.Result = nil, nil
		return item
	})
	return x
}
