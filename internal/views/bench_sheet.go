package views

import (
	"fmt"
	"slices"
	"strings"

	"meniscus/api"
	"meniscus/internal/material"
	"meniscus/internal/paper"
)

// mostLiquids is how many liquids of a step a bench sheet lists.
const mostLiquids = 3

// BenchSheet puts a removal plan onto a paper that was begun: boxes to tick, and lines for
// what was really done.
func BenchSheet(p paper.Paper, plan api.RemovalPlan, base *material.Base) paper.Paper {
	p.Sections = append(p.Sections, benchBefore(plan))
	for i, s := range plan.Steps {
		p.Sections = append(p.Sections, benchStep(i+1, s, base))
	}
	if plan.Remaining > 0 {
		text := fmt.Sprintf("%s after these steps: ask for the plan again when these are done.",
			counted(int(plan.Remaining), "more layer comes", "more layers come"))
		p.Sections = append(p.Sections, paper.Section{Title: "More layers", Lines: []paper.Line{{Strong: text}}})
	}
	p.Sections = append(p.Sections, benchAfter(plan))
	if stays := benchStays(plan); len(stays.Lines) > 0 {
		p.Sections = append(p.Sections, stays)
	}
	for _, c := range plan.Cautions {
		if c != material.SheetFirst && !slices.ContainsFunc(p.Before, func(n paper.Notice) bool { return n.Text == c }) {
			p.After = append(p.After, c)
		}
	}
	p.After = append(p.After, material.SheetFirst)
	p.Foot = "Worked out of the record as of " + plan.At.Format("2 January 2006") + ". Record what was done as a treatment. " + p.Foot
	return p
}

func benchBefore(plan api.RemovalPlan) paper.Section {
	out := paper.Section{Title: "Before you begin", Lines: []paper.Line{{Text: plan.Answer}}}
	for _, f := range plan.Findings {
		line := paper.Line{Text: f.Sentence}
		if f.Severity == api.SeverityBlock {
			line = paper.Line{Strong: "Stop: " + f.Sentence}
		}
		out.Lines = append(out.Lines, line)
	}
	for _, q := range plan.Questions {
		out.Lines = append(out.Lines, paper.Line{Tick: "Find out first: " + deref(q.Question)},
			paper.Line{Write: []string{"Found"}})
	}
	if plan.MoreQuestions {
		out.Lines = append(out.Lines, paper.Line{Strong: "There are more such questions; the plan has them all."})
	}
	for _, x := range plan.Contradictions {
		out.Lines = append(out.Lines, paper.Line{Strong: "The records contradict each other: " + x.Sentence})
	}
	if n := deref(plan.MoreContradictions); n > 0 {
		out.Lines = append(out.Lines, paper.Line{Strong: fmt.Sprintf("%d more contradictions are on record.", n)})
	}
	out.Lines = append(out.Lines, paper.Line{Tick: "The hazards at the top of this paper were read, and what they ask for is at hand."})
	for _, x := range plan.Before {
		if x.Code == "specimen-hazard" {
			continue // it stands at the top
		}
		out.Lines = append(out.Lines, paper.Line{Tick: x.Sentence + forSteps(x.Steps)})
	}
	out.Lines = append(out.Lines, paper.Line{Tick: "Condition written down, and pictures taken with a scale."},
		paper.Line{Write: []string{"Authorised by", "Date", "Signature"}})
	return out
}

func benchStep(number int, s api.RemovalStep, base *material.Base) paper.Section {
	out := paper.Section{Title: fmt.Sprintf("Step %d", number), Lines: []paper.Line{{Text: s.Sentence}}}
	candidates := slices.Clone(deref(s.Candidates))
	slices.SortStableFunc(candidates, func(a, b api.RemovalCandidate) int { // tests to make come last
		switch {
		case a.Test == b.Test:
			return 0
		case b.Test:
			return -1
		}
		return 1
	})
	for _, c := range candidates[:min(len(candidates), mostLiquids)] {
		out.Lines = append(out.Lines, paper.Line{Fields: []paper.Field{{Label: sentenceCase(c.Name), Value: liquidSaid(c, base)}}})
	}
	if n := len(candidates) - mostLiquids + int(deref(s.MoreCandidates)); n > 0 {
		out.Lines = append(out.Lines, paper.Line{Text: counted(n, "more liquid is", "more liquids are") + " in the plan."})
	}
	var fields []paper.Field
	for _, m := range deref(s.Methods) {
		fields = append(fields, paper.Field{Label: "Method", Value: m.Sentence})
	}
	if s.Heat != nil && s.Heat.Sentence != "" {
		fields = append(fields, paper.Field{Label: "Heat", Value: s.Heat.Sentence})
	}
	if s.Expect != nil && *s.Expect != "" {
		fields = append(fields, paper.Field{Label: "Expect", Value: *s.Expect})
	}
	if len(fields) > 0 {
		out.Lines = append(out.Lines, paper.Line{Fields: fields})
	}
	out.Lines = append(out.Lines,
		paper.Line{Tick: "Tested at an inconspicuous place."},
		paper.Line{Write: []string{"Liquid, how long", "Seen"}},
		paper.Line{Tick: "Carried out."},
		paper.Line{Write: []string{"Liquid really used", "How, how long it stood"}},
		paper.Line{Write: []string{"What came off, what is left"}},
		paper.Line{Write: []string{"Date", "Name"}})
	return out
}

// liquidSaid is what is known of a liquid for a step, its hazards last.
func liquidSaid(c api.RemovalCandidate, base *material.Base) string {
	said := "seen: " + strings.ReplaceAll(string(c.Observed), "-", " ")
	if c.Test {
		said = "a test to make; " + said
	}
	if c.Disturbed > 0 {
		said += "; disturbs " + counted(int(c.Disturbed), "layer that stays", "layers that stay")
	}
	if c.Unknown > 0 {
		said += "; what it does to " + counted(int(c.Unknown), "layer that stays", "layers that stay") + " is not known"
	}
	if len(c.Hazards) == 0 {
		return said + "; hazards not known here"
	}
	hazards := each(c.Hazards, func(code string) string {
		if s, ok := base.Statement(code); ok {
			return strings.TrimSuffix(s.Text(), ".") + " (" + code + ")"
		}
		return code
	})
	return said + ". Hazards: " + strings.Join(hazards, "; ")
}

func benchAfter(plan api.RemovalPlan) paper.Section {
	out := paper.Section{Title: "Afterwards"}
	for _, x := range plan.After {
		out.Lines = append(out.Lines, paper.Line{Tick: x.Sentence + forSteps(x.Steps)})
	}
	out.Lines = append(out.Lines, paper.Line{Tick: "Condition written down, and pictures taken with a scale."},
		paper.Line{Tick: "Recorded in the catalogue."},
		paper.Line{Write: []string{"What departed from the plan, and who approved it"}},
		paper.Line{Write: []string{"Date", "Name", "Signature"}})
	return out
}

// benchStays are the layers that do not come off, and why.
func benchStays(plan api.RemovalPlan) paper.Section {
	out := paper.Section{Title: "What stays"}
	say := func(list []api.UnreachableLayer, more int32, what string) {
		for _, u := range list {
			out.Lines = append(out.Lines, paper.Line{Text: u.Sentence})
		}
		if more > 0 {
			out.Lines = append(out.Lines, paper.Line{Strong: fmt.Sprintf("%d more %s; the plan has them all.", more, what)})
		}
	}
	say(plan.Unreachable, plan.MoreUnreachable, "are reached by no solvent")
	say(deref(plan.Kept), deref(plan.MoreKept), "layers stay")
	for _, g := range plan.AlreadyGone {
		out.Lines = append(out.Lines, paper.Line{Text: g.Sentence})
	}
	return out
}
