package stack

import (
	"cmp"
	"slices"
	"strings"

	"meniscus/internal/material"
)

// Hazard is a danger of the specimen itself, to people.
type Hazard struct {
	// Name is arsenic, mercury, lead, asbestos, radioactivity, cellulose-nitrate,
	// mould, pesticide, sharp-or-heavy or other.
	Name string
	// Substance says which pesticide, or what else, where that is known.
	Substance string
	// Status is known, suspected, not-examined or none-found.
	Status string
	// How is how that was found out, in words.
	How string
	// Because are the words on record that make it suspected.
	Because []Clue
	// Caution is the usual protection, a minimum; Dust says that dry work sets it free,
	// and Carried are the liquids that carry it along.
	Caution string
	Dust    bool
	Carried []string
	Sources Sources
}

// Clue is a word on record that makes a hazard suspected.
type Clue struct {
	// Treatment is whose words they are; "" for the specimen's own record.
	Treatment string
	// Date is the treatment's, in words.
	Date  string
	Words string
}

// said is the clue in words.
func (c Clue) said() string {
	if c.Treatment == "" {
		return "“" + c.Words + "” on its own record"
	}
	return "“" + c.Words + "” in a treatment, " + c.Date
}

// usualHazards are asked for on every specimen.
var usualHazards = []string{
	"arsenic", "mercury", "lead", "asbestos", "radioactivity", "cellulose-nitrate", "mould", "pesticide",
}

// gravity orders the statuses of a hazard. "Not examined" on one record does not
// undo what another found, and "none found" of one examination does not undo that
// another was not made.
var gravity = []string{"known", "suspected", "not-examined", "none-found"}

func gravityOf(h Hazard) int {
	if i := slices.Index(gravity, h.Status); i >= 0 {
		return i
	}
	return len(gravity)
}

// maxHazards is how many hazards a specimen is said to have, and maxClues how many words
// are named for one.
const (
	maxHazards = 100
	maxClues   = 3
)

// what tells one hazard from another: pesticides and others by what they are.
func (h Hazard) what() string {
	switch h.Name {
	case "other":
		return "other " + cmp.Or(h.Substance, h.How)
	case "pesticide":
		return "pesticide " + h.Substance
	}
	return h.Name
}

// GravestHazards lists each hazard once, with its gravest status and all words that make
// it suspected, the gravest first. Where words alone make it suspected, a record of how it
// was looked for and not found counts more.
func GravestHazards(stated, suspected []Hazard) []Hazard {
	out, at := gravestOf(stated)
	words, _ := gravestOf(suspected)
	for _, h := range words {
		i, known := at[h.what()]
		if !known {
			out = append(out, h)
			continue
		}
		x := &out[i]
		if x.Status == "not-examined" || x.Status == "none-found" && x.How == "" {
			x.Status = h.Status
		}
		x.add(h)
	}
	slices.SortStableFunc(out, func(a, b Hazard) int { return cmp.Compare(gravityOf(a), gravityOf(b)) })
	return out[:min(len(out), maxHazards)]
}

// gravestOf lists each hazard once, as the gravest of what is said of it, and where.
func gravestOf(list []Hazard) (out []Hazard, at map[string]int) {
	at = map[string]int{}
	for _, h := range list {
		i, known := at[h.what()]
		switch {
		case !known:
			at[h.what()] = len(out)
			out = append(out, h)
		case gravityOf(h) < gravityOf(out[i]):
			h.add(out[i])
			out[i] = h
		default:
			out[i].add(h)
		}
	}
	return out, at
}

// add adds the words and cautions of what else is said of a hazard.
func (h *Hazard) add(other Hazard) {
	for _, c := range other.Because {
		if len(h.Because) < maxClues && !slices.Contains(h.Because, c) {
			h.Because = append(slices.Clip(h.Because), c)
		}
	}
	for _, liquid := range other.Carried {
		if !slices.Contains(h.Carried, liquid) {
			h.Carried = append(slices.Clip(h.Carried), liquid)
		}
	}
	if h.Status == other.Status {
		h.How = cmp.Or(h.How, other.How)
	}
	h.Caution, h.Dust, h.Sources = cmp.Or(h.Caution, other.Caution), h.Dust || other.Dust, h.Sources.and(other.Sources)
}

// present tells whether the hazard is known or suspected.
func (h Hazard) present() bool { return h.Status == "known" || h.Status == "suspected" }

// title names the hazard.
func (h Hazard) title() string {
	name := strings.ReplaceAll(h.Name, "-", " ")
	switch {
	case h.Substance != "" && (h.Name == "other" || h.Name == "pesticide"):
		return h.Substance
	case h.Name == "sharp-or-heavy":
		return "something sharp or heavy"
	case h.Name == "other":
		return "another hazard"
	case h.Name == "pesticide":
		return "pesticides"
	}
	return name
}

// named is the hazard with how that is known.
func (h Hazard) named() string {
	said := each(h.Because, Clue.said)
	if h.How != "" {
		said = append([]string{h.How}, said...)
	}
	if len(said) == 0 {
		return h.title()
	}
	return h.title() + " (" + strings.Join(said, "; ") + ")"
}

// notice says a hazard that is known or suspected, and what to do about it before
// anything else.
func (h Hazard) notice() string {
	if h.Status == "known" {
		return sentence("The specimen is known to hold %s; settle protection and permission before any step", h.named())
	}
	return sentence("The specimen is suspected to hold %s; have it examined before any step", h.named())
}

// HazardReading is what is to be said of a specimen's hazards, before anything else. Every
// view says it, and no view reads hazards in another way.
type HazardReading struct {
	// Present are those that are known or suspected, the gravest first.
	Present []Hazard
	// NotExamined are those of which the record says that they were not looked for,
	// NotRecorded the usual ones of which it says nothing, and NotFound those of which
	// words are on record and that were looked for and not found.
	NotExamined, NotRecorded, NotFound []Hazard
}

// TellHazards takes in the hazards of all that is on record, also of what is withheld, without
// saying how these are known.
func (s *Specimen) TellHazards(all []Hazard) {
	for _, h := range all {
		if !slices.ContainsFunc(s.Hazards, func(x Hazard) bool { return x.what() == h.what() && x.Status == h.Status }) {
			h.How, h.Because = "", nil
			s.Hazards = slices.DeleteFunc(s.Hazards, func(x Hazard) bool { return x.what() == h.what() })
			s.Hazards = append(s.Hazards, h)
		}
	}
	slices.SortStableFunc(s.Hazards, func(a, b Hazard) int { return cmp.Compare(gravityOf(a), gravityOf(b)) })
}

// ReadHazards is the one reading of a specimen's hazards.
func (s *Specimen) ReadHazards() HazardReading {
	var r HazardReading
	for _, h := range s.Hazards {
		switch {
		case h.present():
			r.Present = append(r.Present, h)
		case h.Status == "not-examined":
			r.NotExamined = append(r.NotExamined, h)
		case len(h.Because) > 0:
			r.NotFound = append(r.NotFound, h)
		}
	}
	for _, name := range usualHazards {
		if !slices.ContainsFunc(s.Hazards, func(h Hazard) bool { return h.Name == name }) {
			r.NotRecorded = append(r.NotRecorded, Hazard{Name: name})
		}
	}
	return r
}

// maxNotices is how many hazards, and how many unreadable records, are said in
// sentences.
const maxNotices = 15

// hazardDeference ends what is said of hazards that are known or suspected, and is
// followed by what every answer that leads to work defers to.
const hazardDeference = "Ask the occupational hygienist."

// Spoken are the hazards that are known or suspected, in full: a sentence each, then the
// usual protection, and to whom this defers.
func (r HazardReading) Spoken() []string {
	if len(r.Present) == 0 {
		return nil
	}
	out := each(r.Present[:min(len(r.Present), maxNotices)], Hazard.notice)
	if more := len(r.Present) - maxNotices; more > 0 {
		out = append(out, sentence("%s known or suspected of it", plural(more, "one more hazard is", "more hazards are")))
	}
	protection := ""
	if cautions := cautionsOf(r.Present); len(cautions) > 0 {
		protection = "At least: " + strings.Join(cautions, "; ") + ". "
	}
	return append(out, protection+hazardDeference, material.SheetFirst)
}

// cautionsOf are the cautions of hazards, what several have in common once: "gloves, washed hands"
// says nothing beside "nitrile gloves, washed hands, nothing eaten there".
func cautionsOf(hazards []Hazard) []string {
	var all []string
	for _, h := range hazards {
		for part := range strings.SplitSeq(h.Caution, "; ") {
			if part == "" || slices.ContainsFunc(all, func(said string) bool { return saysAll(said, part) }) {
				continue
			}
			all = append(slices.DeleteFunc(all, func(said string) bool { return saysAll(part, said) }), part)
		}
	}
	return all
}

// saysAll tells whether a caution says everything that a shorter one says, word for word.
func saysAll(caution, shorter string) bool {
	for piece := range strings.SplitSeq(shorter, ", ") {
		if !strings.Contains(caution, piece) {
			return false
		}
	}
	return true
}

// Open are the hazards of which nobody knows, in a short line each: those that nobody
// looked for, and those of which nothing is recorded.
func (r HazardReading) Open() []string {
	var out []string
	titles := func(list []Hazard) string { return eitherOf(each(list, Hazard.title), maxNotices) }
	if len(r.NotFound) > 0 {
		out = append(out, sentence("Looked for and not found, which does not show that it is absent: %s",
			strings.Join(each(r.NotFound[:min(len(r.NotFound), maxNotices)], Hazard.named), "; ")))
	}
	if len(r.NotExamined) > 0 {
		out = append(out, sentence("The specimen was not examined for %s", titles(r.NotExamined)))
	}
	if len(r.NotRecorded) > 0 {
		out = append(out, sentence("Hazards not recorded: %s", strings.Join(each(r.NotRecorded, Hazard.title), ", ")))
	}
	return out
}

// Said is all that is to be said of the hazards, in this order.
func (r HazardReading) Said() []string { return append(r.Spoken(), r.Open()...) }

// maxTagged is how many hazards a tag names.
const maxTagged = 3

// Tag is the hazards in a few words, for a picture or a table's cell.
func (r HazardReading) Tag() string {
	var parts []string
	for _, h := range r.Present[:min(len(r.Present), maxTagged)] {
		parts = append(parts, h.title()+" "+h.Status)
	}
	if more := len(r.Present) - maxTagged; more > 0 {
		parts = append(parts, plural(more, "one more hazard", "more hazards"))
	}
	if len(parts) > 0 {
		return "HAZARD: " + strings.Join(parts, ", ")
	}
	if n := len(r.NotExamined); n > 0 {
		parts = append(parts, "not examined for "+eitherOf(each(r.NotExamined, Hazard.title), maxTagged))
	}
	if n := len(r.NotRecorded); n > 0 {
		said := "hazards not recorded"
		if n < len(usualHazards) {
			said = plural(n, "hazard", "hazards") + " not recorded"
		}
		parts = append(parts, said)
	}
	return strings.Join(parts, "; ")
}
