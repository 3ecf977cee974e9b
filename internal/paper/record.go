package paper

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/material"
	"meniscus/internal/publish"
)

// Standing is what is known of a record beside its words.
type Standing struct {
	Sequence int64     // of its revision, in the order of the institution; 0 while it has none
	At       time.Time // when that was recorded
	Missing  []string  // what it must hold and does not answer
}

// Standings are those of records, by id.
type Standings map[uuid.UUID]Standing

// mostTold is how many treatments a record tells in full, and mostListed how many before these in
// a line each; those before these are counted.
const (
	mostTold   = 200
	mostListed = 300
)

// TreatmentRecord is the complete record of a specimen: what it is, each treatment with all
// that is on record of it, and once what was used.
func TreatmentRecord(s publish.Specimen, of Standings) Paper {
	p := OfSpecimen("Treatment record", s, of)
	p.Sections = append(p.Sections, specimenSection(s, of))
	all := s.ByDate()
	told := all[max(0, len(all)-mostTold):]
	earlier := all[max(0, len(all)-mostTold-mostListed) : len(all)-len(told)]
	numbers := numbersOf(all)
	head, always := treatmentsHead(s, len(all), len(told)+len(earlier)), missingAlways(told, of)
	for _, t := range earlier {
		head.Lines = append(head.Lines, Line{Text: fmt.Sprintf("%d. %s", numbers[t.IRI], t.Sentence())})
	}
	head.missing("Not recorded of any of them", always)
	p.Sections = append(p.Sections, head)
	for _, t := range told {
		p.Sections = append(p.Sections, treatmentSection(numbers[t.IRI], t, numbers, of[t.Revision.Record], always))
	}
	if used := usedSection(told); len(used.Lines) > 0 {
		p.Sections = append(p.Sections, used)
	}
	if s.Present != nil {
		p.Sections = append(p.Sections, presentSection(s.Present, numbers))
	}
	p.After = []string{
		"An area without a record is not shown to be untreated. A removal leaves a layer reduced, never absent.",
		"Keep a copy with the specimen's papers; the code opens what is on record now.",
		material.SheetFirst,
	}
	return p
}

// OfSpecimen begins a paper about a specimen: its hazards first, and which state of the
// record it is of.
func OfSpecimen(title string, s publish.Specimen, of Standings) Paper {
	p := Paper{Title: title, About: s.Title, Institution: s.Institution, Address: s.IRI}
	if s.Collection != "" {
		p.Institution += ", " + s.Collection
	}
	for _, told := range s.Told() {
		if told.Text != material.SheetFirst {
			p.Before = append(p.Before, Notice(told))
		}
	}
	if said := s.Standing(); said != "" {
		p.Before = append(p.Before, Notice{said, false})
	}
	if said := unsaid(s.Revision); said != "" {
		p.Before = append(p.Before, Notice{"The record of this specimen: " + said, false})
	}
	last, at := int64(0), s.Revision.At
	for _, known := range of {
		if last = max(last, known.Sequence); known.At.After(at) {
			at = known.At
		}
	}
	p.Record = "up to entry " + entryNumber(last)
	p.Foot = "This paper is of the record up to entry " + entryNumber(last) + ", the last that it tells of, recorded " +
		day(at) + "."
	return p
}

// entryNumber is a sequence number in words.
func entryNumber(n int64) string {
	if n == 0 {
		return "(not yet numbered)"
	}
	return fmt.Sprint(n)
}

func day(t time.Time) string { return t.UTC().Format("2 January 2006") }

// stood says which state of a record is told.
func stood(r publish.Revision, known Standing) string {
	return fmt.Sprintf("revision %d, entry %s, recorded %s by %s", r.Number, entryNumber(known.Sequence), day(r.At),
		r.By.Label())
}

// unsaid says of a record without words why it has none; "" where it has.
func unsaid(r publish.Revision) string {
	switch {
	case r.Retracted:
		return "retracted; it should not have been recorded, and counts nowhere. Reason: " + r.Reason
	case r.Erased:
		return "its words were erased; that they were recorded, when and by whom stays on record."
	case r.Withheld:
		return "restricted: what it says is withheld here."
	case r.Unreadable:
		return "its words cannot be read; that they were recorded, when and by whom is on record."
	}
	return ""
}

func specimenSection(s publish.Specimen, of Standings) Section {
	out := Section{Title: "The specimen"}
	var fields []Field
	for _, number := range s.Identifiers {
		fields = append(fields, Field{publish.Capital(strings.ReplaceAll(number.Kind, "-", " ")), number.Value})
	}
	fields = append(fields, slices.DeleteFunc(inLine(s.Fields), func(f Field) bool {
		return f.Label == "Hazards" || f.Label == "Identifiers" && len(s.Identifiers) > 0
	})...)
	missing := "not recorded"
	if s.Revision.Withheld {
		missing = "withheld"
	}
	for _, name := range []string{"Classification", "Description", "Owner"} {
		if !slices.ContainsFunc(fields, func(f Field) bool { return f.Label == name }) {
			fields = append(fields, Field{name, missing})
		}
	}
	fields = append(fields, Field{"Record", stood(s.Revision, of[s.Revision.Record])})
	if s.Revision.Received != nil {
		out.Lines = append(out.Lines, Line{Text: s.Revision.Received.Said()})
	}
	out.Lines = append(out.Lines, Line{Fields: fields})
	out.missing("Not recorded", of[s.Revision.Record].Missing)
	return out
}

// inLine are fields in one line each.
func inLine(list []publish.Field) []Field {
	out := make([]Field, 0, len(list))
	for _, f := range list {
		out = append(out, Field{f.Label, f.InLine()})
	}
	return out
}

// missing names what must be on record and is not.
func (s *Section) missing(label string, fields []string) {
	if len(fields) > 0 {
		s.Lines = append(s.Lines, Line{Fields: []Field{{label, strings.Join(fields, "; ")}}})
	}
}

// missingAlways is what each of several treatments lacks; it is said once.
func missingAlways(told []publish.Treatment, of Standings) []string {
	if len(told) < 2 {
		return nil
	}
	always := slices.Clone(of[told[0].Revision.Record].Missing)
	for _, t := range told[1:] {
		lacks := of[t.Revision.Record].Missing
		always = slices.DeleteFunc(always, func(field string) bool { return !slices.Contains(lacks, field) })
	}
	return always
}

func treatmentsHead(s publish.Specimen, all, told int) Section {
	out := Section{Title: "Treatments, by date"}
	if all == 0 {
		out.Lines = append(out.Lines, Line{Text: "No treatment is on record. That does not say that the specimen is untreated."})
	}
	if left := all - told + s.MoreTreatments; left > 0 {
		out.Lines = append(out.Lines, Line{Strong: fmt.Sprintf("%d more treatments are on record and not on this paper.", left)})
	}
	for _, r := range s.Unsaid {
		out.Lines = append(out.Lines, Line{Text: fmt.Sprintf("Treatment %s, revision %d: %s", r.Record, r.Number, unsaid(r))})
	}
	return out
}

// saidElsewhere are members of a treatment that its heading or its other lines say.
var saidElsewhere = []string{"Specimen", "Action", "Materials", "Dates"}

func treatmentSection(number int, t publish.Treatment, numbers map[string]int, known Standing, always []string) Section {
	out := Section{Title: fmt.Sprintf("%d. %s, %s", number, t.ActionSaid(), t.Date.Whole()), Within: true, Address: t.IRI}
	if t.Revision.Received != nil {
		out.Lines = append(out.Lines, Line{Text: t.Revision.Received.Said()})
	}
	var fields []Field
	if t.Origin != nil {
		fields = append(fields, Field{"On record of", t.Origin.Said()})
	}
	fields = append(fields, treatmentFields(t, numbers)...)
	out.Lines = append(out.Lines, Line{Fields: fields})
	out.missing("Not recorded", slices.DeleteFunc(slices.Clone(known.Missing), func(field string) bool {
		return slices.Contains(always, field)
	}))
	last := &out.Lines[len(out.Lines)-1]
	last.Fields = append(last.Fields, Field{"Record", stood(t.Revision, known)})
	return out
}

// treatmentFields is all that a treatment says, but for what its heading says.
func treatmentFields(t publish.Treatment, numbers map[string]int) []Field {
	var fields []Field
	for _, f := range t.Fields {
		switch {
		case f.Label == "People" && len(t.People) > 0:
			fields = append(fields, peopleSaid(t.People)...)
		case f.Label == "Materials":
			fields = append(fields, usesSaid(t, f)...)
		case !slices.Contains(saidElsewhere, f.Label):
			fields = append(fields, Field{f.Label, numbered(f, numbers).InLine()})
		}
	}
	return fields
}

// numbered names the treatments in a field by their numbers on the paper.
func numbered(f publish.Field, numbers map[string]int) publish.Field {
	if n, ok := numbers[f.Href]; ok {
		f.Value = fmt.Sprintf("treatment %d", n)
	}
	f.Within = slices.Clone(f.Within)
	for i := range f.Within {
		f.Within[i] = numbered(f.Within[i], numbers)
	}
	return f
}

// usesSaid are the materials of a treatment: what came out of a jar with what that held,
// else the words of the statement.
func usesSaid(t publish.Treatment, f publish.Field) []Field {
	if len(t.Uses) == 0 || len(f.Within) != len(t.Uses) {
		return []Field{{"Materials", f.InLine()}}
	}
	out := make([]Field, len(t.Uses))
	for i, use := range t.Uses {
		out[i] = Field{"Material", ""}
		if use.Role != "" && use.Role != "unknown" {
			out[i].Label = publish.RoleSaid(use.Role)
		}
		said := []string{use.Said()}
		if use.From != nil {
			said[0] += ", from " + use.From.Label
		}
		members := f.Within[i].Within
		if !slices.ContainsFunc(members, func(f publish.Field) bool { return f.Label == "Used" }) {
			members = []publish.Field{{Label: "Used", Value: f.Within[i].Value, Within: members}} // nothing else is said of it
		}
		for _, member := range members {
			switch {
			case member.Label == "Role" && use.Role != "unknown":
			case member.Label == "Role":
				said = append(said, "what it was for: unknown")
			case member.Label != "Used":
				said = append(said, strings.ToLower(member.Label)+": "+member.InLine())
			default:
				said = append(said, usedSaid(member, len(use.Solvents))...)
			}
		}
		out[i].Value = strings.Join(said, "; ")
	}
	return out
}

// usedSaid is what is on record of a material, or of the words of an old card, beside what
// their sentence says.
func usedSaid(used publish.Field, solvents int) []string {
	var said []string
	for _, f := range used.Within {
		switch {
		case f.Label == "What" || f.Label == "Verbatim" || f.Label == "Strength":
		case f.Label == "Certainty" && f.Value != "documented" && f.Value != "unknown":
		case f.Label == "Solvents" && solvents < 2:
		case f.Label == "Candidates":
			said = append(said, "may be: "+f.InLine())
		default:
			said = append(said, strings.ToLower(f.Label)+": "+f.InLine())
		}
	}
	return said
}

// peopleSaid are who did what.
func peopleSaid(list []publish.Involvement) []Field {
	var out []Field
	for _, who := range list {
		out = append(out, Field{publish.PartSaid(who.Part), who.Said()})
	}
	return out
}

// usedSection tells once what was used: each batch and supply with all that is on record
// of it.
func usedSection(told []publish.Treatment) Section {
	out := Section{Title: "What was used"}
	for _, t := range told {
		for _, b := range t.BatchesBelow {
			out.Lines = append(out.Lines, Line{Fields: batchSaid(b)})
		}
	}
	return out
}

func batchSaid(b publish.Batch) []Field {
	fields := []Field{{"Supply", b.Label}}
	if !b.Supply {
		fields = []Field{{"Batch", b.Label}}
	}
	if !b.Strength.IsZero() {
		fields = append(fields, Field{"Strength as made", b.Strength.Said()})
	}
	for _, f := range b.Fields {
		switch {
		case f.Label == "Code":
		case f.Label == "Made":
			fields = append(fields, Field{"Made", b.Made.Whole()})
		case f.Label == "Inputs" && len(b.Inputs) > 0:
			fields = append(fields, Field{"Made from", inputsSaid(b.Inputs)})
		case f.Label == "Made by" && len(b.MadeBy) > 0:
			fields = append(fields, peopleSaid(b.MadeBy)...)
		default:
			fields = append(fields, Field{f.Label, f.InLine()})
		}
	}
	if len(b.Fields) == 0 {
		fields = append(fields, Field{"Words", "erased, retracted or not readable"})
	}
	return fields
}

func inputsSaid(list []publish.Input) string {
	said := make([]string, len(list))
	for i, in := range list {
		said[i] = "amount not recorded"
		if !in.Amount.IsZero() {
			said[i] = in.Amount.String()
		}
		said[i] += " of " + in.From.Label + " (" + strings.ReplaceAll(in.Part, "-", " ") + ")"
	}
	return strings.Join(said, "; ")
}

// mostPresent is how many layers and areas the paper lists.
const mostPresent = 500

// presentSection says what is on the specimen, by the numbers of the treatments.
func presentSection(all *publish.PresentState, numbers map[string]int) Section {
	now, more := all.First(mostPresent)
	out := Section{Title: "What is on it"}
	if now.Day != "" {
		out.Title += " on " + now.Day
	}
	if now.Unknown != "" {
		out.Lines = append(out.Lines, Line{Strong: "This cannot be worked out from the record. " + now.Unknown})
		return out
	}
	for _, c := range now.Contradictions {
		out.Lines = append(out.Lines, Line{Strong: "The records contradict each other: " + c.Sentence})
	}
	out.Lines = append(out.Lines,
		Line{Text: "Each layer by its treatment, its state, and three answers; “comes out” is of this very body."})
	var fields []Field
	for _, a := range now.Areas {
		said := make([]string, 0, len(a.Layers))
		for _, l := range a.Layers {
			said = append(said, layerSaid(l, numbers))
		}
		if len(said) == 0 {
			said = append(said, a.StatusSaid())
		}
		fields = append(fields, Field{a.Area, strings.Join(said, "\n")})
	}
	for _, l := range now.Unplaced {
		fields = append(fields, Field{"Place not known", layerSaid(l, numbers)})
	}
	out.Lines = append(out.Lines, Line{Fields: fields})
	if more > 0 {
		out.Lines = append(out.Lines, Line{Strong: fmt.Sprintf("%d more layers and areas are on record and not on this paper.", more)})
	}
	return out
}

func layerSaid(l publish.LayerNow, numbers map[string]int) string {
	of := "a treatment that is not on this paper"
	if n, ok := numbers[l.Treatment]; ok {
		of = fmt.Sprintf("treatment %d", n)
	}
	return fmt.Sprintf("%s, %s; dissolves again: %s; comes out: %s; can be treated again: %s", of, l.StateSaid(),
		l.Redissolvable, l.Removable, l.Retreatable)
}
