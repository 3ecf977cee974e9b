package publish

import (
	"fmt"
	"strconv"
	"strings"
)

// Strength is how strong a solution is said to be, on its basis.
type Strength struct {
	Basis, Value, Unit string
	Parts              []string
	In                 string
	Product            string
	Asked              bool // the recipe asked for it; it was not measured
	Computed           bool // from the amounts that were measured
}

// IsZero tells whether no strength is known.
func (s Strength) IsZero() bool { return s.Basis == "" }

// Said is the strength in words. The basis is always said.
func (s Strength) Said() string { return s.said() + s.origin() }

// origin says where the number comes from, unless it is as recorded.
func (s Strength) origin() string {
	switch {
	case s.Asked:
		return " (as the recipe asked)"
	case s.Computed:
		return " (computed from the amounts measured)"
	}
	return ""
}

func (s Strength) said() string {
	number := strings.TrimSpace(s.Value + " " + s.Unit)
	switch s.Basis {
	case "mass-per-solution-volume":
		return number + " of solution"
	case "mass-per-solvent-volume":
		return number + " of solvent"
	case "mass-fraction":
		return number + " by mass"
	case "volume-fraction":
		return number + " by volume"
	case "as-supplied-volume":
		return number + " by volume of " + s.Product + " as supplied"
	case "parts-by-volume", "parts-by-mass":
		return strings.Join(s.Parts, " to ") + " " + spaced(s.Basis)
	case "one-in":
		return "1 g in " + s.In + " mL of solution"
	default:
		return s.Value + " as written, basis not known"
	}
}

// spaced is a word of a list as a person reads it.
func spaced(word string) string { return strings.ReplaceAll(word, "-", " ") }

// Capital begins a sentence.
func Capital(text string) string { return capital(text) }

func capital(text string) string {
	for i, r := range text {
		return strings.ToUpper(string(r)) + text[i+len(string(r)):]
	}
	return text
}

// oneLine puts everything on one line.
func oneLine(text string) string { return strings.Join(strings.Fields(text), " ") }

// Said is what was used: the materials by their generic names, or the words of
// the old card.
func (u Use) Said() string {
	var b strings.Builder
	b.WriteString(u.what())
	if !u.Strength.IsZero() {
		b.WriteString(", " + u.Strength.said())
	}
	if len(u.Solvents) > 0 {
		b.WriteString(" in " + joined(labels(u.Solvents)))
	}
	b.WriteString(u.Strength.origin())
	if u.Certainty != "" && u.Certainty != "documented" {
		b.WriteString(" (identification " + certaintySaid(u.Certainty) + ")")
	}
	return b.String()
}

func certaintySaid(certainty string) string {
	if certainty == "unknown" {
		return "not certain"
	}
	return certainty
}

func (u Use) what() string {
	switch {
	case u.Words != "":
		return "“" + oneLine(u.Words) + "”"
	case len(u.Materials) > 0:
		return joined(labels(u.Materials))
	case u.From != nil:
		return u.From.Label + ", material not recorded"
	default:
		return "material not recorded"
	}
}

func labels(links []Link) []string {
	names := make([]string, len(links))
	for i, l := range links {
		names[i] = l.Label
	}
	return names
}

// joined lists words as a sentence does.
func joined(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

// Where is the place on the specimen, in words.
func (t Treatment) Where() string {
	switch {
	case len(t.Areas) == 0 && t.AreasAnswer != "":
		return "area " + spaced(t.AreasAnswer)
	case len(t.Areas) == 0:
		return "area not recorded"
	case len(t.Areas) == 1 && t.Areas[0] == "whole":
		return "the whole specimen"
	default:
		return joined(t.Areas)
	}
}

// ActionSaid is the action as a person reads it.
func (t Treatment) ActionSaid() string { return ActionSaid(t.Action) }

// ActionSaid is an action as a person reads it.
func ActionSaid(action string) string { return capital(termLabel("action", action)) }

// MaterialsSaid is the materials used and the liquids that stood on the specimen,
// in words; "" if none is recorded.
func (t Treatment) MaterialsSaid() string {
	said := make([]string, 0, len(t.Uses)+len(t.Exposures))
	for _, u := range t.Uses {
		said = append(said, u.Said())
	}
	for _, x := range t.Exposures {
		said = append(said, x.Said())
	}
	return strings.Join(said, "; ")
}

// How is the method and the number of coats, in words.
func (t Treatment) How() string {
	var parts []string
	if t.Method != "" && t.Method != "unknown" {
		parts = append(parts, spaced(t.Method))
	}
	if t.Coats > 0 {
		parts = append(parts, plural(t.Coats, "coat"))
	}
	return strings.Join(parts, ", ")
}

func plural(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

// PartSaid is what a person did, as a person reads it.
func PartSaid(part string) string { return capital(termLabel("part", part)) }

// RoleSaid is what a material was for, as a person reads it.
func RoleSaid(role string) string { return capital(termLabel("role", role)) }

// Title names the treatment by its action and its specimen, with a comma between:
// a removal is not "of" the specimen.
func (t Treatment) Title() string { return t.ActionSaid() + ", " + t.Specimen.Label }

// Sentence is the treatment in one line.
func (t Treatment) Sentence() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s (%s)", t.ActionSaid(), t.Where())
	if materials := t.MaterialsSaid(); materials != "" {
		b.WriteString(" with " + materials)
	} else if how := t.How(); how != "" {
		b.WriteString(", " + how)
	}
	if result := t.Result(); result != "" {
		b.WriteString("; " + result)
	}
	b.WriteString(". Date: " + t.Date.Said() + ".")
	return oneLine(b.String())
}

// Result is what came out of a removal, an examination or a test, in words.
// What was taken off is never called absent.
func (t Treatment) Result() string {
	switch {
	case t.Left == "not-detected":
		return "afterwards not detected"
	case t.Left == "unknown":
		return "how much is left is not known"
	case t.Left != "":
		return "the material is " + spaced(t.Left)
	case t.Outcome != "":
		if t.LookedFor != "" {
			return "looked for " + t.LookedFor + ", outcome: " + spaced(t.Outcome)
		}
		return "outcome: " + spaced(t.Outcome)
	case t.Observed != "" && t.TestedWith != "":
		return "observed with " + t.TestedWith + ": " + termLabel("observed", t.Observed)
	case t.Observed != "":
		return "observed: " + termLabel("observed", t.Observed)
	}
	return ""
}

// Preparations is the one line for a catalogue's preparations field: the
// treatments by date, separated as Darwin Core separates the values of
// dwc:preparations (" | "). No person is named in it.
func (s Specimen) Preparations() string {
	list := byDate(s.Treatments)
	if len(list)+s.Untold == 0 {
		return "no conservation treatment recorded"
	}
	values := make([]string, 0, len(list)+1)
	for _, t := range list {
		values = append(values, t.preparation())
	}
	switch s.Untold {
	case 0:
	case 1:
		values = append(values, "one treatment on record that is not told here")
	default:
		values = append(values, strconv.Itoa(s.Untold)+" treatments on record that are not told here")
	}
	return strings.Join(values, " | ")
}

func (t Treatment) preparation() string {
	parts := []string{spaced(t.Action)}
	if !t.Date.IsZero() {
		parts[0] += " " + t.Date.String()
	}
	if materials := t.MaterialsSaid(); materials != "" {
		parts = append(parts, materials)
	} else if how := t.How(); how != "" {
		parts = append(parts, how)
	}
	parts = append(parts, t.Where())
	if result := t.Result(); result != "" {
		parts = append(parts, result)
	}
	return strings.ReplaceAll(oneLine(strings.Join(parts, ", ")), "|", "¦")
}

// Standing says in words that the record was merged, or was part of another
// specimen; "" if neither.
func (s Specimen) Standing() string {
	var said []string
	if s.MergedInto != nil {
		said = append(said, "This record was merged into "+s.MergedInto.Label+", which stands for the specimen.")
	}
	if len(s.Merged) > 0 {
		names := make([]string, len(s.Merged))
		for i, m := range s.Merged {
			names[i] = m.Label
		}
		said = append(said, "The specimen is also on record as "+joined(names)+".")
	}
	if s.PartOf != nil {
		said = append(said, "It was part of "+s.PartOf.Label+"; treatments from before the split are inherited.")
	}
	return strings.Join(said, " ")
}
