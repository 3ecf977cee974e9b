package paper

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"meniscus/internal/material"
	"meniscus/internal/publish"
)

// Travel is how warm and how cold a specimen may be, as the travel temperature says it.
type Travel struct {
	Answer   string
	Layers   []Field // each layer's limits
	More     string  // what is left out; "" if nothing is
	Cautions []string
}

// stops are where a specimen's condition is compared and signed for.
var stops = []string{"Leaving the owner", "Arriving at the borrower", "Leaving the borrower", "Back with the owner"}

// LoanSheet is what those must know who pack, carry and show a specimen, and where its
// condition is signed for at every stop.
func LoanSheet(s publish.Specimen, travel Travel, of Standings) Paper {
	p := OfSpecimen("Loan condition sheet", s, of)
	all := s.ByDate()
	p.Sections = []Section{specimenSection(s, of)}
	temperature := Section{Title: "Temperature", Lines: []Line{{Strong: travel.Answer}}}
	if len(travel.Layers) > 0 {
		temperature.Lines = append(temperature.Lines, Line{Fields: travel.Layers})
	}
	if travel.More != "" {
		temperature.Lines = append(temperature.Lines, Line{Strong: travel.More})
	}
	temperature.Lines = append(temperature.Lines,
		Line{Write: []string{"Relative humidity, at least and at most", "Light, at most"}})
	held := joints(s, all)
	held.Lines = append(held.Lines, Line{Write: []string{"Where to lift and hold it"}})
	p.Sections = append(p.Sections, temperature, held, mustNotHappen(), conditions(s, all))
	for _, stop := range stops {
		p.Sections = append(p.Sections, Section{Title: stop, Whole: true, Lines: []Line{
			{Tick: "Compared with the condition above and with the pictures: unchanged."},
			{Tick: "Changed; the owner was told at once."},
			{Write: []string{"Changed where and how"}},
			{Write: []string{"Place", "Date", "Temperature"}}, {Write: []string{"Name", "Signature"}},
		}})
	}
	for _, c := range travel.Cautions {
		if c != material.SheetFirst && !slices.ContainsFunc(p.Before, func(n Notice) bool { return n.Text == c }) {
			p.After = append(p.After, c)
		}
	}
	p.After = append(p.After, material.SheetFirst)
	return p
}

// joints are the joints, fills and mounts, marked where they bear load and where they were damaged.
func joints(s publish.Specimen, all []publish.Treatment) Section {
	out := Section{Title: "Joints, fills and mounts"}
	for i, t := range all {
		if !slices.Contains([]string{"joining", "filling", "mounting"}, t.Action) {
			continue
		}
		text := fmt.Sprintf("%d. %s", i+1, t.Sentence())
		harmed := damageTo(t, all)
		switch {
		case len(harmed) > 0:
			out.Lines = append(out.Lines, Line{Strong: "DAMAGED: " + text + " " + loadSaid(t.Load) + " " + strings.Join(harmed, " ")})
		case t.Load == "yes":
			out.Lines = append(out.Lines, Line{Strong: "UNDER LOAD: " + text + " " + loadSaid(t.Load)})
		default:
			out.Lines = append(out.Lines, Line{Text: text + " " + loadSaid(t.Load)})
		}
	}
	if len(out.Lines) == 0 {
		out.Lines = []Line{{Text: noneOf(s, "None is on record. That does not say that there are none.")}}
	}
	return out
}

// noneOf says that nothing is on record, or that there are records that are not told.
func noneOf(s publish.Specimen, none string) string {
	if s.Untold > 0 {
		return "Not told here: some records are withheld, erased or cannot be read."
	}
	return none
}

func loadSaid(load string) string {
	switch load {
	case "yes":
		return "It bears load: support what it holds, and do not lift by it."
	case "no":
		return "It bears no load, as recorded."
	case "unknown":
		return "Bears load: unknown. Do not lift by it."
	}
	return "Whether it bears load is not recorded: do not lift by it."
}

// damageTo are the records of damage that name a treatment.
func damageTo(t publish.Treatment, all []publish.Treatment) []string {
	var out []string
	for i, x := range all {
		if slices.ContainsFunc(x.Damaged, func(l publish.Link) bool { return l.IRI == t.IRI }) {
			kind := cmp.Or(strings.ReplaceAll(x.Damage, "-", " "), "what happened is not recorded")
			out = append(out, fmt.Sprintf("Damage: %s (treatment %d, %s).", kind, i+1, x.Date.Said()))
		}
	}
	return out
}

// mustNotHappen is common practice of loans.
func mustNotHappen() Section {
	return Section{Title: "What must not happen without the owner's written consent", Lines: []Line{
		{Text: "No cleaning, coating, consolidating, joining or repair; no sampling, moulding, casting or mounting; no number, " +
			"adhesive or tape on it; no lamp or heater close to it; no solvent near it."},
		{Text: "After damage: leave it as it is, take pictures, keep every fragment, and ask the owner at once."},
		{Write: []string{"Owner's telephone, day and night"}},
	}}
}

// conditions are the last condition on record, and damage.
func conditions(s publish.Specimen, all []publish.Treatment) Section {
	out := Section{Title: "Condition before the journey"}
	last := ""
	for i, t := range all {
		for _, note := range t.Notes {
			if note.Kind == "condition-after" || note.Kind == "condition-before" && t.Action == "examination" {
				last = fmt.Sprintf("Last on record (treatment %d, %s): %s", i+1, t.Date.Said(), note.Content)
			}
		}
		if t.Action == "damage" {
			out.Lines = append(out.Lines, Line{Strong: fmt.Sprintf("Damage on record: %d. %s", i+1, t.Sentence())})
		}
	}
	if last == "" {
		last = "Last on record: " + noneOf(s, "no condition is on record.")
	}
	out.Lines = append(out.Lines, Line{Text: last}, Line{Write: []string{"Condition today"}},
		Line{Tick: "Each damage is marked in a picture with a scale; the pictures travel with this sheet."})
	return out
}

// HandOver is what goes along with a specimen to another institution, and who gave and took
// it.
func HandOver(s publish.Specimen, plans []publish.Plan, of Standings) Paper {
	p := OfSpecimen("Hand-over", s, of)
	all := s.ByDate()
	p.Sections = []Section{specimenSection(s, of), history(s, all), joints(s, all), handedPlans(plans, of),
		documents(s, all, plans),
		{Title: "Handed over", Whole: true, Lines: []Line{
			{Tick: "The hazards at the top of this paper were read by who takes it over."},
			{Tick: "The package of the record was received, and its proof checked."},
			{Tick: "The pictures and documents listed above were received."},
			{Tick: "Condition compared; changes are:"},
			{Write: []string{""}},
			{Write: []string{"Handed over by", "Date", "Signature"}},
			{Write: []string{"Taken over by, for", "Date", "Signature"}},
		}}}
	p.After = []string{
		"An area without a record is not shown to be untreated.",
		"What happens to the specimen from now on is on record with who takes it over.",
		material.SheetFirst,
	}
	return p
}

func handedPlans(plans []publish.Plan, of Standings) Section {
	out := Section{Title: "Plans on record"}
	for i, plan := range plans {
		text := fmt.Sprintf("%d. %s", i+1, plan.Proposed.Sentence())
		if said := unsaid(plan.Revision); said != "" {
			text = said
		}
		out.Lines = append(out.Lines, Line{Text: text + " Plan, " + stood(plan.Revision, of[plan.Revision.Record]) + "."})
	}
	if len(plans) == 0 {
		out.Lines = []Line{{Text: "None."}}
	}
	return out
}

// documents are the pictures and documents that treatments, plans and what was used name, with
// their digests, types and sizes where these are on record.
func documents(s publish.Specimen, all []publish.Treatment, plans []publish.Plan) Section {
	out := Section{Title: "Pictures and documents"}
	list := func(of string, fields []publish.Field) {
		for _, f := range fields {
			if slices.Contains([]string{"Images", "Report", "Old card", "Safety data sheet"}, f.Label) {
				out.Lines = append(out.Lines, Line{Fields: []Field{{of + ", " + f.Label, f.InLine()}}})
			}
		}
	}
	for i, t := range all {
		list(fmt.Sprintf("Treatment %d", i+1), t.Fields)
	}
	for i, plan := range plans {
		list(fmt.Sprintf("Plan %d", i+1), plan.Proposed.Fields)
	}
	for _, t := range all {
		for _, b := range t.BatchesBelow {
			list(b.Label, b.Fields)
		}
	}
	if len(out.Lines) == 0 {
		out.Lines = []Line{{Text: noneOf(s, "None is on record.")}}
	}
	return out
}
