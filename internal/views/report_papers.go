package views

import (
	"cmp"
	"fmt"
	"strings"
	"time"

	"meniscus/api"
	"meniscus/internal/chart"
	"meniscus/internal/material"
	"meniscus/internal/paper"
	"meniscus/internal/publish"
)

// ReportHead is what a paper of a report begins and ends with.
type ReportHead struct {
	Institution string
	Address     string // of the report itself
	From, Until *time.Time
	Made        time.Time
}

const dayWords = "2 January 2006"

// period is the period in words.
func (h ReportHead) period() string {
	switch {
	case h.From != nil && h.Until != nil:
		return h.From.Format(dayWords) + " to " + h.Until.Format(dayWords)
	case h.From != nil:
		return "from " + h.From.Format(dayWords)
	case h.Until != nil:
		return "until " + h.Until.Format(dayWords)
	}
	return "all times"
}

func (h ReportHead) paper(title string) paper.Paper {
	made := h.Made.UTC().Format(dayWords)
	return paper.Paper{Title: title, About: h.period(), Institution: h.Institution, Address: h.Address,
		Foot:   "This paper was made on " + made + " of the record as it stood then.",
		Record: "made on " + h.Made.UTC().Format(time.DateOnly)}
}

// mostTallied is how many rows a table of a paper has.
const mostTallied = 100

// talliedBy are the groups of the report, in their order: how a paper calls them, and what has none.
var talliedBy = []struct{ by, title, column, none string }{
	{"action", "By action", "Action", "Not recorded"},
	{"material", "By material", "Material", "Not recorded, or in words alone"},
	{"person", "By person", "Person", "Nobody is on record"},
	{"collection", "By collection", "Collection", "No collection is on record"},
}

// TallyPaper is the counts of a period's treatments as a paper.
func TallyPaper(x api.TreatmentTally, head ReportHead) paper.Paper {
	p := head.paper("Treatments")
	sum := paper.Section{Title: "In all", Lines: []paper.Line{{Strong: counted(int(x.Treatments), "treatment", "treatments") +
		" may have been in this period."}}}
	if n := int(x.Perhaps); n > 0 {
		sum.Lines = append(sum.Lines, paper.Line{Text: "The dates of " + counted(n, "treatment", "treatments") +
			" do not show that it was this period."})
	}
	sum.Lines = append(sum.Lines, paper.Line{Text: "A treatment of several materials or people counts for each of them, " +
		"so that these do not add up to all."})
	for _, caution := range deref(x.Cautions) {
		sum.Lines = append(sum.Lines, paper.Line{Strong: caution})
	}
	p.Sections = append(p.Sections, sum)
	for _, g := range talliedBy {
		p.Sections = append(p.Sections, tallied(x, g.by, g.title, g.column, g.none))
	}
	p.After = []string{"What is not recorded is not counted. That does not say that it was not done."}
	return p
}

// tallied is one group of the counts: its chart, and the table below.
func tallied(x api.TreatmentTally, by, title, column, none string) paper.Section {
	bars := chart.Bars{Title: "Treatments " + strings.ToLower(title)}
	for _, row := range x.Items {
		if string(row.By) == by {
			bars.Rows = append(bars.Rows, chart.Bar{Label: talliedName(row, none), Count: row.Treatments})
		}
	}
	return charted(title, column, "Treatments", bars)
}

func talliedName(row api.TalliedTreatments, none string) string {
	switch {
	case row.Name != nil && row.By == "action":
		return publish.ActionSaid(*row.Name)
	case row.Name != nil:
		return *row.Name
	case row.Person != nil:
		return "A person whose name was erased"
	}
	return none
}

// charted is a chart with its table below.
func charted(title, column, counts string, bars chart.Bars) paper.Section {
	out := paper.Section{Title: title}
	if len(bars.Rows) == 0 {
		out.Lines = []paper.Line{{Text: "None."}}
		return out
	}
	table := paper.Table{Head: []string{column, counts}}
	for _, row := range bars.Rows[:min(len(bars.Rows), mostTallied)] {
		table.Rows = append(table.Rows, []string{row.Label, fmt.Sprint(row.Count)})
	}
	out.Lines = []paper.Line{{Chart: &bars}, {Table: &table}}
	if left := len(bars.Rows) - len(table.Rows); left > 0 {
		out.Lines = append(out.Lines, paper.Line{Strong: counted(left, "more row is", "more rows are") +
			" not on this paper; the report as a table has them."})
	}
	return out
}

// mostReversible is how many layers the paper of reversible treatments lists.
const mostReversible = 500

// ReversiblePaper gathers the report of reversible treatments as a paper.
type ReversiblePaper struct {
	Known   *material.Base
	answers [3][4]int64 // of each question, how many layers have each answer
	rows    []paper.Line
	left    int
}

var undoQuestions = []struct{ title, said string }{
	{"Could the material be dissolved again?", "dissolves again"},
	{"Could it be got out of this body?", "comes out of this body"},
	{"Could the area be treated again?", "can be treated again"},
}

var undoAnswers = []string{"yes", "partly", "no", "unknown"}

// Add takes a row of the report in.
func (p *ReversiblePaper) Add(x api.ReversibleTreatment) {
	fields := []paper.Field{{Label: cmp.Or(deref(x.Number), "Specimen without a number"), Value: reversibleTitle(x)},
		{Label: "Hazards", Value: cmp.Or(hazardsCell(x.Hazards), "none on record")}}
	if left := passedOnCell(x.PassedOn); left != "" {
		fields = append(fields, paper.Field{Label: "Left", Value: "passed on to " + left})
	}
	switch {
	case deref(x.SetAside):
		fields = append(fields, paper.Field{Label: "Layers", Value: "could not be worked out"})
	case x.Position == nil:
		fields = append(fields, paper.Field{Label: "Layers", Value: "not worked out yet"})
	default:
		fields = append(fields, paper.Field{Label: "Material", Value: cmp.Or(deref(x.Material), "not settled")},
			paper.Field{Label: "State", Value: reversibleState(x)})
	}
	for i, answer := range []*api.UndoAnswer{x.Redissolvable, x.Removable, x.Retreatable} {
		said := cmp.Or(string(deref(answer)), "unknown")
		for j, known := range undoAnswers {
			if said == known {
				p.answers[i][j]++
			}
		}
		fields = append(fields, paper.Field{Label: sentenceCase(undoQuestions[i].said), Value: said})
	}
	if by := deref(x.RemovedBy); len(by) > 0 {
		fields = append(fields, paper.Field{Label: "Comes off with", Value: strings.Join(each(by, p.called), ", ")})
	}
	if len(p.rows) == mostReversible {
		p.left++
		return
	}
	p.rows = append(p.rows, paper.Line{Fields: fields})
}

func (p *ReversiblePaper) called(id string) string {
	m, _ := p.Known.Material(id)
	return cmp.Or(m.Name, id)
}

func reversibleTitle(x api.ReversibleTreatment) string {
	when := dayText(x.Dates.Earliest)
	if last := dayText(x.Dates.Latest); last != when {
		when += " to " + last
	}
	where := cmp.Or(strings.Join(x.Areas, ", "), "area not known")
	return publish.ActionSaid(string(x.Action)) + ", " + cmp.Or(deref(x.Dates.Written), cmp.Or(when, "date not known")) + ", " + where
}

func reversibleState(x api.ReversibleTreatment) string {
	state := strings.ReplaceAll(string(deref(x.State)), "-", " ")
	if x.Damage != nil {
		state += " (" + strings.ReplaceAll(string(*x.Damage), "-", " ") + ")"
	}
	return cmp.Or(state, "unknown")
}

// Paper is the report, when all its rows and removals were counted.
func (p *ReversiblePaper) Paper(
	totals api.ReversibleTotals, remainder api.ReversibleRemainder, narrowed string, head ReportHead,
) paper.Paper {
	out := head.paper("Reversible treatments")
	sum := paper.Section{Title: "In all", Lines: []paper.Line{{Strong: fmt.Sprintf(
		"%s left %s in this period; %s took material off.", counted(int(totals.Treatments), "treatment", "treatments"),
		counted(int(totals.Layers), "layer", "layers"), counted(int(totals.Removals), "removal", "removals"))}}}
	if narrowed != "" {
		sum.Lines = append(sum.Lines, paper.Line{Text: "Only of " + narrowed + "."})
	}
	for _, sentence := range remainder.Sentences {
		sum.Lines = append(sum.Lines, paper.Line{Text: sentence})
	}
	out.Sections = append(out.Sections, sum)
	for i, q := range undoQuestions {
		bars := chart.Bars{Title: q.title}
		for j, answer := range undoAnswers {
			bars.Rows = append(bars.Rows, chart.Bar{Label: sentenceCase(answer), Count: p.answers[i][j]})
		}
		out.Sections = append(out.Sections, charted(q.title, "Answer", "Layers", bars))
	}
	list := paper.Section{Title: "Each layer, by date", Lines: p.rows}
	if len(p.rows) == 0 {
		list.Lines = []paper.Line{{Text: "None is on record."}}
	}
	if p.left > 0 {
		list.Lines = append(list.Lines, paper.Line{Strong: counted(p.left, "more row is", "more rows are") +
			" not on this paper; the report as a table has them."})
	}
	out.Sections = append(out.Sections, list)
	out.After = []string{"An answer is of this layer, in this body and at this age. Where nothing is known the answer is unknown.",
		"That no treatment is on record does not say that a specimen is untreated."}
	return out
}
