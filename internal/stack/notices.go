package stack

import (
	"cmp"
	"slices"
)

// gravity orders the statuses of a hazard. "Not examined" on one record does not
// undo what another found, and "none found" of one examination does not undo that
// another was not made.
var gravity = []string{"known", "suspected", "not-examined", "none-found"}

// maxHazards is how many hazards a specimen is said to have.
const maxHazards = 100

// GravestHazards lists each hazard once, with its gravest status, the gravest
// first. Hazards named "other" are distinguished by their words.
func GravestHazards(list []Hazard) []Hazard {
	type what struct{ name, how string }
	at := map[what]int{}
	var out []Hazard
	for _, h := range list {
		key := what{name: h.Name}
		if h.Name == "other" {
			key.how = h.How
		}
		i, known := at[key]
		switch {
		case !known:
			at[key] = len(out)
			out = append(out, h)
		case gravityOf(h) < gravityOf(out[i]):
			out[i] = h
		}
	}
	slices.SortStableFunc(out, func(a, b Hazard) int { return cmp.Compare(gravityOf(a), gravityOf(b)) })
	return out[:min(len(out), maxHazards)]
}

func gravityOf(h Hazard) int {
	if i := slices.Index(gravity, h.Status); i >= 0 {
		return i
	}
	return len(gravity)
}

// hazardNotice says a hazard, and what to do about it before anything else; ""
// for one that was looked for and not found.
func hazardNotice(h Hazard) string {
	name := hazardName(h.Name)
	if h.How != "" {
		name += " (" + h.How + ")"
	}
	switch h.Status {
	case "known":
		return sentence("The specimen is known to hold %s; settle protection and permission before any step", name)
	case "suspected":
		return sentence("The specimen is suspected to hold %s; have it examined before any step", name)
	case "none-found":
		return ""
	}
	return sentence("Nobody has examined the specimen for %s", name)
}

// maxNotices is how many hazards, and how many unreadable records, are said in
// sentences.
const maxNotices = 15

// Notices is what every answer about the specimen says first: its hazards, that
// the record was merged, that the specimen left, and what cannot be read.
func (s *Specimen) Notices() []string {
	var out []string
	for _, h := range s.Hazards[:min(len(s.Hazards), maxNotices)] {
		if said := hazardNotice(h); said != "" {
			out = append(out, said)
		}
	}
	if s.AskedAs != "" {
		out = append(out, "The record "+s.AskedAs+" was merged; the record "+s.ID+
			" stands for the specimen, and this is what is on record of it.")
	}
	if s.MoreTreatments > 0 {
		out = append(out, sentence("%s on record that were recorded earlier than those told of here; "+
			"GET /v1/treatments lists every treatment, page by page",
			plural(s.MoreTreatments, "one more treatment is", "more treatments are")))
	}
	if len(s.ByCollection) > 0 {
		out = append(out, sentence("By its collection's default, and not by its own record, the body is taken so: %s",
			listed(each(s.ByCollection, func(t Trait) string { return string(t) + " " + s.Traits[t].String() }), 20)))
	}
	if p := s.PassedOn; p != nil {
		out = append(out, sentence("The specimen left: it was passed on to %s, date %s; "+
			"what happened to it since is not on record here", p.To, p.Date))
	}
	for _, u := range s.Unread[:min(len(s.Unread), maxNotices)] {
		out = append(out, sentence("The words of %s %s cannot be read; what it says is not taken into account", u.Kind, u.ID))
	}
	if more := len(s.Unread) - maxNotices; more > 0 {
		out = append(out, sentence("The words of %s about it cannot be read either",
			plural(more, "one more record", "more records")))
	}
	return out
}

// Specimen is the specimen that the stack is of.
func (s *Stack) Specimen() *Specimen { return &s.specimen }
