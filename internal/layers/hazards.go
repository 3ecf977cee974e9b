package layers

import (
	"cmp"
	"slices"
	"strings"

	"meniscus/internal/edtf"
	"meniscus/internal/ledger"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/stack"
)

// suspicions finds what words on record make suspected of a specimen: those of treatments,
// and those of the specimen's own records.
type suspicions struct {
	known *material.Base
	found []stack.Hazard
	// looked are the examinations that looked for hazards and found nothing.
	looked []examined
}

// examined is an examination that found nothing. Only one with a method and a limit of
// detection, settled, says more than a word on record.
type examined struct {
	hazard  material.SpecimenHazard
	when    edtf.Day
	how     string
	settled bool
}

// words files the hazards that a text means. The clue repeats the word and not the text.
func (s *suspicions) words(list []material.HazardWord, from stack.Clue, when edtf.Period) {
	for _, w := range list {
		clue := from
		clue.Words = w.Text
		for _, name := range w.Hazard.Names {
			h := hazardOf(w.Hazard, name)
			h.Status, h.Because = "suspected", []stack.Clue{clue}
			h.Sources = stack.SourcesOf(w.Evidence.Source)
			for _, x := range s.looked {
				if !x.after(w.Hazard, when) || h.Status == "none-found" {
					continue
				}
				h.How = x.how
				if x.settled {
					h.Status = "none-found"
				}
			}
			s.found = append(s.found, h)
		}
	}
}

// after tells whether an examination came after words, and looked for what they mean.
func (x examined) after(h material.SpecimenHazard, words edtf.Period) bool {
	same := x.hazard.ID == h.ID || h.Substance == "" && slices.Equal(x.hazard.Names, h.Names)
	return same && !words.To.IsZero() && x.when.Compare(words.To) >= 0
}

// hazardOf is a hazard of the tables as a specimen has it.
func hazardOf(h material.SpecimenHazard, name string) stack.Hazard {
	out := stack.Hazard{Name: name, Caution: h.Caution, Dust: h.Dust, Carried: h.Carried,
		Sources: stack.SourcesOf(h.Evidence.Source)}
	if name == "pesticide" || name == "other" {
		out.Substance = h.Substance
	}
	return out
}

// examination files what an examination looked for and did not find, with how.
func (s *suspicions) examination(t *record.Treatment) {
	x, from := t.Examination, t.Date.Value.Period().From
	if x == nil || x.Outcome != "none-found" || from.IsZero() {
		return
	}
	how := "none found " + stack.LookedBy(x.How, x.Limit) + ", " + t.Date.Value.Words()
	for _, w := range s.known.HazardWordsIn(x.LookedFor, material.PestText) {
		s.looked = append(s.looked, examined{w.Hazard, from, how, x.How != "" && x.Limit != ""})
	}
}

// treatment files what the words of a treatment mean. Words about what an examination
// looked for are no clue unless it found something.
func (s *suspicions) treatment(t *record.Treatment, id string, named []string) {
	clue := stack.Clue{Treatment: id, Date: dateSaid(t.Date)}
	when, in := t.Date.Value.Period(), material.AnyText
	switch t.Action {
	case record.ActionPestTreatment:
		in = material.PestText
	case record.ActionFluidChange:
		in = material.FluidText
	case record.ActionExamination:
		if t.Examination == nil || t.Examination.Outcome != "found" {
			return
		}
		s.words(s.known.HazardWordsIn(t.Examination.LookedFor, in), clue, when)
	case record.ActionTest:
		return
	}
	used := in
	if used == material.AnyText {
		used = material.NamedMaterial
	}
	for _, u := range t.Uses.Value {
		s.words(s.known.HazardWordsIn(u.Words, used), clue, when)
		s.words(s.known.HazardWordsIn(u.Remark, in), clue, when)
		if len(u.Candidates) == 1 {
			s.words(s.known.HazardWordsOf(u.Candidates[0]), clue, when)
		}
	}
	for _, name := range named {
		if _, ok := s.known.Material(name); ok {
			s.words(s.known.HazardWordsOf(name), clue, when)
		} else {
			s.words(s.known.HazardWordsIn(name, used), clue, when)
		}
	}
	s.words(s.known.HazardWordsIn(strings.Join(texts(t), "\n\n"), in), clue, when)
}

// texts are the free texts of a treatment, as a card has them.
func texts(t *record.Treatment) []string {
	all := []string{t.Purpose.Value, t.Extent.Value, t.MethodRemark, t.ConditionBefore.Value, t.ConditionAfter.Value,
		t.InformationGained.Value, t.InformationLost.Value, t.Remarks}
	if t.OldCard != nil {
		all = append(all, t.OldCard.Verbatim)
	}
	for _, d := range t.Deviations {
		all = append(all, d.What)
	}
	return all
}

func dateSaid(d record.Date) string {
	if d.Value.IsZero() {
		return "date " + cmp.Or(strings.ReplaceAll(string(d.Answer), "-", " "), "not recorded")
	}
	return d.Value.Words()
}

// specimen files what the words of a specimen's own record mean.
func (s *suspicions) specimen(said *record.Specimen) {
	text := said.Description + "\n\n" + said.Remarks
	s.words(s.known.HazardWordsIn(text, material.AnyText), stack.Clue{}, edtf.Period{})
}

// suspected are the hazards that words on record make suspected, of the specimen's own
// records and of treatments, the earliest first.
func suspected(known *material.Base, own []*record.Specimen, clues []postgres.Clue, read readings) []stack.Hazard {
	s, unread := suspicions{known: known}, unreadable{}
	type clue struct {
		postgres.Clue
		said *record.Treatment
	}
	var all []clue
	for _, c := range clues {
		if t, ok := read.treatment(&unread, c.Row); ok && c.Act != ledger.Retracted {
			all = append(all, clue{c, t})
			s.examination(t)
		}
	}
	slices.SortFunc(all, func(a, b clue) int {
		return cmp.Or(edtf.Compare(a.said.Date.Value, b.said.Date.Value), slices.Compare(a.Record[:], b.Record[:]))
	})
	for _, c := range all {
		s.treatment(c.said, c.Record.String(), c.Named)
	}
	for _, sp := range own {
		s.specimen(sp)
	}
	return s.found
}

// stated are the hazards that a specimen's record states, with what the tables know of
// each.
func stated(known *material.Base, from *record.Specimen) []stack.Hazard {
	var list []stack.Hazard
	for _, h := range from.Hazards {
		out := stack.Hazard{}
		if of, ok := known.SpecimenHazard(h.Name, ""); ok {
			out = hazardOf(of, h.Name)
		}
		out.Name, out.Status, out.How = h.Name, h.Status, h.How
		list = append(list, out)
	}
	return list
}
