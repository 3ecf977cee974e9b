package views

import (
	"strings"

	"meniscus/api"
	"meniscus/internal/plain"
	"meniscus/internal/stack"
)

// These functions make the text of an answer from its contract type.

// opened begins a text with what is never cut: the hazards of the specimen, the answer,
// and the other cautions. The hazards are the first of the cautions.
func opened(answer string, hazards *api.Hazards, cautions []string) plain.Text {
	var t plain.Text
	read := readingOf(hazards)
	spoken, all := min(len(read.Spoken()), len(cautions)), min(len(read.Said()), len(cautions))
	t.Keep(strings.Join(cautions[:spoken], " "), strings.Join(cautions[spoken:all], " "))
	t.Keep(answer)
	t.Keep(strings.Join(cautions[all:], " "))
	return t
}

// readingOf is the reading of hazards that an answer lists.
func readingOf(hazards *api.Hazards) stack.HazardReading {
	sp := stack.Specimen{Hazards: each(deref(hazards), func(h api.HazardOnRecord) stack.Hazard {
		return stack.Hazard{Name: string(h.Hazard), Substance: deref(h.Substance), Status: string(h.Status),
			Because: make([]stack.Clue, len(deref(h.Because)))}
	})}
	return sp.ReadHazards()
}

// findingsText tells findings; those that block are kept.
func findingsText(t *plain.Text, all []api.Finding, more *api.FindingCounts) {
	for _, f := range all {
		text := f.Sentence
		switch {
		case stack.AboutPeople(f.Rule) && f.Severity != api.SeverityBlock:
			t.Keep("- " + text)
		case f.Severity == api.SeverityBlock && f.Overridden != nil:
			text += " Set aside: " + *f.Overridden
			t.Keep("- Block, set aside: " + text)
		case f.Severity == api.SeverityBlock:
			t.Keep("- Block: " + text + " " + deref(f.Remedy))
		case f.Severity == api.SeverityWarn:
			t.Say("- " + text)
		default:
			t.Say("- Note: " + text)
		}
	}
	if more != nil {
		t.Say("And " + strings.ToLower(strings.TrimSuffix(findingCounts(*more).said(), ".")) + ", with detail=full.")
	}
}

// contradictionsText tells of records that cannot all be so.
func contradictionsText(t *plain.Text, all []api.Contradiction, more *int32) {
	for _, c := range all {
		t.Say("- The records contradict each other: " + c.Sentence)
	}
	moreText(t, more, "contradiction", "contradictions")
}

// sourcesText ends a text that is told in full with its sources.
func sourcesText(t *plain.Text, all *[]api.BibliographyEntry) {
	for _, s := range deref(all) {
		t.Say("- " + s.Id + ": " + s.Citation)
	}
}

func moreText(t *plain.Text, more *int32, one, many string) {
	if n := int(deref(more)); n > 0 {
		t.Say("And " + counted(n, "more "+one, "more "+many) + ".")
	}
}

// TreatmentCheckText tells the verdict and what it rests on.
func TreatmentCheckText(x api.TreatmentCheck) plain.Text {
	t := opened(x.Answer, x.Hazards, x.Cautions)
	findingsText(&t, x.Findings, x.MoreFindings)
	openText(&t, x.Ask, x.Unanswerable)
	contradictionsText(&t, x.Contradictions, x.MoreContradictions)
	for _, c := range deref(x.Cleared) {
		t.Say("- Cleared: " + c.Sentence)
	}
	sourcesText(&t, x.Sources)
	return t
}

// FindingsText tells what was found.
func FindingsText(x api.FindingList) plain.Text {
	t := opened(x.Answer, x.Hazards, x.Cautions)
	findingsText(&t, x.Items, x.MoreFindings)
	openText(&t, x.Ask, x.Unanswerable)
	sourcesText(&t, x.Sources)
	return t
}

// openText asks for the body's traits, and counts the findings that can no longer be
// answered.
func openText(t *plain.Text, ask *api.BodyQuestion, unanswerable *int64) {
	if ask != nil {
		t.Say(ask.Sentence)
	}
	if n := int(deref(unanswerable)); n > 0 {
		t.Say(counted(n, "finding asks", "findings ask") + " for what was not recorded at the time.")
	}
}

// RemovalPlanText tells the order, a line a step.
func RemovalPlanText(x api.RemovalPlan) plain.Text {
	t := opened(x.Answer, x.Hazards, x.Cautions)
	blocks, others := parted(x.Findings, func(f api.Finding) bool { return f.Severity == api.SeverityBlock })
	findingsText(&t, blocks, nil)
	t.Keep(preparedSaid(x.Before))
	t.Steps(each(x.Steps, func(s api.RemovalStep) string { return s.Sentence })...)
	findingsText(&t, others, nil)
	for _, p := range x.Before {
		if p.Code != "specimen-hazard" { // said with the cautions
			t.Say("- First" + forSteps(p.Steps) + ": " + p.Sentence)
		}
	}
	for _, p := range x.After {
		t.Say("- Afterwards" + forSteps(p.Steps) + ": " + p.Sentence)
	}
	for _, u := range x.Unreachable {
		t.Say("- " + u.Sentence)
	}
	moreText(&t, listedBeyond(x.MoreUnreachable), "layer that no solvent gets at", "layers that no solvent gets at")
	for _, k := range deref(x.Kept) {
		t.Say("- " + k.Sentence)
	}
	moreText(&t, x.MoreKept, "layer that stays", "layers that stay")
	for _, q := range x.Questions {
		t.Say("- " + deref(q.Question))
	}
	contradictionsText(&t, x.Contradictions, x.MoreContradictions)
	sourcesText(&t, x.Sources)
	return t
}

// preparedSaid is what has to be done first, in one line; its sentences come later.
func preparedSaid(before []api.PlanPreparation) string {
	var parts []string
	for _, p := range before {
		if p.Code != "specimen-hazard" {
			parts = append(parts, preparing[p.Code]+forSteps(p.Steps))
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return "First " + strings.Join(parts, "; ") + "."
}

// preparing says in a few words what a preparation is.
var preparing = map[api.PlanPreparationCode]string{
	api.PlanPreparationCodeCuratorApproval: "get the curator's approval",
	api.PlanPreparationCodeNewLabel:        "plan the new label",
	api.PlanPreparationCodeRecordNumber:    "record the number",
	api.PlanPreparationCodeReplacement:     "name what takes the consolidant's place",
	api.PlanPreparationCodeSettleRecords:   "settle what the records contradict",
	api.PlanPreparationCodeSupport:         "support the joints and what they hold",
}

// parted splits a list into the items for which so holds, and the others.
func parted[T any](list []T, so func(T) bool) (yes, no []T) {
	for _, x := range list {
		if so(x) {
			yes = append(yes, x)
		} else {
			no = append(no, x)
		}
	}
	return yes, no
}

// forSteps names the steps that something is for.
func forSteps(steps *[]int32) string {
	if steps == nil {
		return ""
	}
	return " (" + strings.ToLower(stepsSaid(*steps)) + ")"
}

func listedBeyond(n int32) *int32 { return count(int(n)) }

// PresentStateText tells what is on the areas, a line a layer.
func PresentStateText(x api.PresentState) plain.Text {
	t := opened(x.Answer, x.Hazards, x.Cautions)
	for _, a := range x.Areas {
		for _, l := range a.Layers {
			t.Say("- " + a.Area + ": " + l.Sentence)
		}
	}
	for _, l := range x.Unplaced {
		t.Say("- Somewhere: " + l.Sentence)
	}
	for _, a := range x.Areas {
		switch {
		case a.Status == "none-found" && a.Examined != nil:
			t.Say("- " + a.Area + ": nothing found " + stack.LookedBy(deref(a.Examined.How), deref(a.Examined.Limit)) + ".")
		case a.Status == "not-recorded":
			t.Say("- " + a.Area + ": nothing is recorded.")
		}
	}
	if len(x.Undetermined) > 0 {
		t.Say("Of some layers it is not known which lies on top.")
	}
	contradictionsText(&t, x.Contradictions, x.MoreContradictions)
	sourcesText(&t, x.Sources)
	return t
}

// SuitabilityText tells the verdicts and what bears most.
func SuitabilityText(x api.Suitability) plain.Text {
	t := opened(x.Answer, x.Hazards, x.Cautions)
	for _, r := range deref(x.Reasons) {
		t.Say("- " + r)
	}
	for _, e := range x.Exposures {
		t.Say("- " + e.Solvent + " on " + e.Area + ": " + hoursText(e) + ".")
	}
	moreText(&t, x.MoreExposures, "exposure", "exposures")
	for _, u := range x.Unrecorded {
		t.Say("- " + u.Area + ": no treatment is recorded (" + strings.ReplaceAll(string(u.Sure), "-", " ") + ").")
	}
	moreText(&t, x.MoreUnrecorded, "area without a record", "areas without a record")
	for _, r := range x.References {
		t.Say("- A reference sample is kept: " + r.Where + ".")
	}
	moreText(&t, x.MoreReferences, "reference sample", "reference samples")
	sourcesText(&t, x.Sources)
	return t
}

// TravelTemperatureText tells how warm it may become, and by which layers.
func TravelTemperatureText(x api.TravelTemperature) plain.Text {
	t := opened(x.Answer, x.Hazards, x.Cautions)
	for _, l := range x.Layers {
		text := "no evidence"
		if l.Highest != nil {
			text = "sound up to " + l.Highest.Value.String() + " °C"
		}
		t.Say("- " + sentenceCase(stack.ToldRole(stack.Role(l.Role))) + ", " + l.Material + ": " + text + ".")
	}
	moreText(&t, x.MoreLayers, "layer", "layers")
	sourcesText(&t, x.Sources)
	return t
}

// BatchContentsText tells what is in it, how strong, and how sure that is.
func BatchContentsText(x api.BatchContents) plain.Text {
	var t plain.Text
	t.Keep(x.Answer, strings.Join(x.Cautions, " "))
	findingsText(&t, x.Findings, nil)
	for _, why := range x.UnknownBecause {
		t.Say("- " + why)
	}
	for _, words := range deref(x.Unnamed) {
		t.Say("- What “" + words + "” in it is, is not known.")
	}
	return t
}
