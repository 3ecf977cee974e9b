package paper

import (
	"regexp"
	"strings"

	"meniscus/internal/material"
)

// step is a paragraph that tells what to do.
var step = regexp.MustCompile(`^[0-9]+[.] `)

// measured is an amount in a step; aside is a step whose amount is that of a vessel, a mark or a
// label, and of nothing that goes in.
var (
	measured = regexp.MustCompile(`[0-9] (g|kg|mg|mL|L|µL)\b`)
	aside    = regexp.MustCompile(`^[0-9]+[.] (Take|Mark|Label|Change) `)
)

// Card is the answer of a computation, by its paragraphs, as a card for the bench: the answer,
// what warns and is deferred to, a box for each step, and lines for what was really weighed. An
// answer by which nothing is mixed has lines for what was measured and done.
func Card(title string, paragraphs []string) Paper {
	p := Paper{Title: "Recipe card", About: title, Record: "computed, not on record",
		Foot: "A computation. It is on record only when the batch is recorded, with the amounts that were really weighed."}
	mixes := false
	steps, rest := Section{Title: "Steps"}, Section{Title: "To be known"}
	for i, text := range paragraphs {
		switch {
		case i == 0:
			p.Sections = append(p.Sections, Section{Title: "Answer", Lines: []Line{{Strong: text}}})
		case step.MatchString(text):
			steps.Lines = append(steps.Lines, Line{Tick: text})
			if measured.MatchString(text) && !aside.MatchString(text) {
				steps.Lines, mixes = append(steps.Lines, Line{Write: []string{"Really weighed or measured", "Time, initials"}}), true
			}
		default:
			if text = strings.TrimSpace(strings.ReplaceAll(text, material.SheetFirst, "")); text != "" { // it stands at the end
				rest.Lines = append(rest.Lines, Line{Text: text})
			}
		}
	}
	for _, s := range []Section{rest, steps} {
		if len(s.Lines) > 0 {
			p.Sections = append(p.Sections, s)
		}
	}
	made := Section{Title: "Made", Whole: true, Lines: []Line{
		{Write: []string{"Supplies used, their codes"}}, {Write: []string{"Code of the batch", "Final amount"}},
		{Write: []string{"What was done otherwise"}}, {Write: []string{"Date", "Name", "Room temperature"}},
	}}
	if !mixes || title == "vapour" { // nothing is mixed of which the air is asked
		p.Title, p.Foot = "Bench card", "A computation. What was done is on record only when it is recorded."
		made = Section{Title: "Done", Whole: true, Lines: []Line{
			{Write: []string{"Really measured, first", "second", "third"}}, {Write: []string{"Specimen or batch", "What was done"}},
			{Write: []string{"Date", "Name", "Room temperature"}},
		}}
	}
	p.Sections = append(p.Sections, made)
	p.After = []string{material.SheetFirst}
	return p
}
