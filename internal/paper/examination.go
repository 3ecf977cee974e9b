package paper

import (
	"fmt"
	"slices"

	"meniscus/internal/material"
	"meniscus/internal/publish"
)

// mostSentences is how many treatments a paper lists in a line each.
const mostSentences = 100

// ExaminationReport is what was found on a specimen and done to it, and what is proposed,
// with lines for the approval.
func ExaminationReport(s publish.Specimen, plans []publish.Plan, of Standings) Paper {
	p := OfSpecimen("Examination report and treatment proposal", s, of)
	all := s.ByDate()
	numbers := numbersOf(all)
	p.Sections = append(p.Sections, specimenSection(s, of))
	p.Sections = append(p.Sections, examinations(all, numbers, of)...)
	p.Sections = append(p.Sections, history(s, all))
	if s.Present != nil {
		p.Sections = append(p.Sections, presentSection(s.Present, numbers))
	}
	if len(plans) == 0 {
		p.Sections = append(p.Sections, Section{Title: "Treatment proposal", Lines: []Line{{Text: "No plan is on record."}}})
	}
	for i, plan := range plans {
		p.Sections = append(p.Sections, proposal(i+1, plan, all, of[plan.Revision.Record]))
	}
	p.Sections = append(p.Sections, Section{Title: "Examined by", Whole: true, Lines: []Line{
		{Write: []string{"What could not be examined, and why"}}, {Write: []string{"Date", "Name", "Signature"}},
	}})
	p.After = []string{
		"An area without a record is not shown to be untreated.",
		"Nothing is carried out before it is approved; a departure needs the same approval.",
		material.SheetFirst,
	}
	return p
}

func numbersOf(all []publish.Treatment) map[string]int {
	out := map[string]int{}
	for i, t := range all {
		out[t.IRI] = i + 1
	}
	return out
}

// examinations are told in full, the latest of very many.
func examinations(all []publish.Treatment, numbers map[string]int, of Standings) []Section {
	head := Section{Title: "Examinations and tests, by date"}
	var told []Section
	for _, t := range all {
		if t.Action == "examination" || t.Action == "test" {
			told = append(told, treatmentSection(numbers[t.IRI], t, numbers, of[t.Revision.Record], nil))
		}
	}
	if len(told) == 0 {
		head.Lines = []Line{{Text: "No examination is on record. What nobody examined is not examined, and not sound."}}
	}
	if left := len(told) - mostTold; left > 0 {
		head.Lines = []Line{{Strong: fmt.Sprintf("%d earlier examinations are on record and not on this paper.", left)}}
		told = told[left:]
	}
	return append([]Section{head}, told...)
}

// history is each treatment in a line.
func history(s publish.Specimen, all []publish.Treatment) Section {
	out := Section{Title: "Treatments on record, by date"}
	left := max(0, len(all)-mostSentences)
	if len(all) == 0 {
		out.Lines = append(out.Lines, Line{Text: "No treatment is on record. That does not say that the specimen is untreated."})
	}
	if more := left + s.MoreTreatments; more > 0 {
		out.Lines = append(out.Lines, Line{Strong: fmt.Sprintf("%d more treatments are on record and not on this paper.", more)})
	}
	for i, t := range all[left:] {
		out.Lines = append(out.Lines, Line{Text: fmt.Sprintf("%d. %s", left+i+1, t.Sentence())})
	}
	for _, r := range s.Unsaid {
		out.Lines = append(out.Lines, Line{Text: fmt.Sprintf("Treatment %s, revision %d: %s", r.Record, r.Number, unsaid(r))})
	}
	return out
}

// proposal is a plan, and the lines for who approves it.
func proposal(number int, plan publish.Plan, all []publish.Treatment, known Standing) Section {
	t := plan.Proposed
	out := Section{Title: fmt.Sprintf("Proposal %d: %s", number, t.ActionSaid())}
	if said := unsaid(plan.Revision); said != "" {
		out.Title = fmt.Sprintf("Proposal %d", number)
		out.Lines = []Line{{Strong: "Plan " + plan.Revision.Record.String() + ": " + said}}
		return out
	}
	if plan.Revision.Received != nil {
		out.Lines = append(out.Lines, Line{Text: plan.Revision.Received.Said()})
	}
	for i, done := range all {
		if done.Plan == plan.IRI {
			out.Lines = append(out.Lines, Line{Strong: fmt.Sprintf("Carried out: treatment %d, %s.", i+1, done.Date.Said())})
		}
	}
	fields := treatmentFields(t, numbersOf(all))
	if !t.Date.IsZero() {
		fields = append(fields, Field{"Planned for", t.Date.Whole()})
	}
	for _, f := range plan.Fields {
		fields = append(fields, Field{f.Label, f.InLine()})
	}
	if !slices.ContainsFunc(plan.Fields, func(f publish.Field) bool { return f.Label == "Authorisation" }) {
		fields = append(fields, Field{"Authorisation", "none on record"})
	}
	fields = append(fields, Field{"Record", stood(plan.Revision, known)})
	out.Lines = append(out.Lines, Line{Fields: fields})
	out.missing("Not recorded", known.Missing)
	out.Lines = append(out.Lines, Line{Tick: "Approved as proposed."}, Line{Tick: "Approved with changes, which are:"},
		Line{Write: []string{""}}, Line{Tick: "Not approved."},
		Line{Write: []string{"Owner, or by what authority", "Date", "Signature"}})
	return out
}
