package stack

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"meniscus/internal/edtf"
)

// periodText writes the bounds of a date as one would say them: a whole year or
// month by its name.
func periodText(p edtf.Period) string {
	switch {
	case p.From.IsZero() && p.To.IsZero():
		return "date unknown"
	case p.From.IsZero() && endsYear(p.To):
		return "by the end of " + strconv.Itoa(p.To.Year)
	case p.From.IsZero():
		return "by " + p.To.String()
	case p.To.IsZero() && startsYear(p.From):
		return "from " + strconv.Itoa(p.From.Year) + ", end unknown"
	case p.To.IsZero():
		return "from " + p.From.String() + ", end unknown"
	case p.From == p.To:
		return p.From.String()
	case startsYear(p.From) && endsYear(p.To):
		return yearsText(p.From.Year, p.To.Year)
	case p.From.Year == p.To.Year && p.From.Month == p.To.Month && p.From.Day == 1 && p.To.AddDays(1).Day == 1:
		return p.From.String()[:7]
	}
	return p.From.String() + " to " + p.To.String()
}

// dateText writes a date that is uncertain or approximate in its own words, and
// any other by its bounds.
func dateText(said edtf.Date, when edtf.Period) string {
	if said.Qualified() {
		return said.Words()
	}
	return periodText(when)
}

func startsYear(d edtf.Day) bool { return d.Month == 1 && d.Day == 1 }
func endsYear(d edtf.Day) bool   { return d.Month == 12 && d.Day == 31 }

func yearsText(from, to int) string {
	if from == to {
		return strconv.Itoa(from)
	}
	return strconv.Itoa(from) + " to " + strconv.Itoa(to)
}

// listed writes names as in a sentence, at most most of them.
func listed(names []string, most int) string { return joined(names, most, "and") }

// eitherOf writes names of which one holds.
func eitherOf(names []string, most int) string { return joined(names, most, "or") }

func joined(names []string, most int, with string) string {
	names = slices.Clone(names)
	rest := len(names) - most
	if rest > 0 {
		names = append(names[:most:most], fmt.Sprintf("%d more", rest))
	}
	switch len(names) {
	case 0:
		return ""
	case 1:
		return names[0]
	}
	return strings.Join(names[:len(names)-1], ", ") + " " + with + " " + names[len(names)-1]
}

// number writes a number without needless digits.
func number(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// tenth writes a number to one place.
func tenth(x float64) string { return strconv.FormatFloat(x, 'f', 1, 64) }

// describe names what a layer is made of, and says so where it is not sure.
func (k knowing) describe(id Identity) string {
	names := k.names(id)
	if doubt := id.doubt(); doubt != "" {
		names += " (" + doubt + ")"
	}
	return names
}

// names names what a layer is made of.
func (k knowing) names(id Identity) string {
	solids, candidates := each(id.Solids, k.refName), each(id.Candidates, k.refName)
	switch {
	case id.Withheld:
		return "something that is withheld"
	case !id.Named() && id.Verbatim != "":
		return fmt.Sprintf("something recorded as %q", id.Verbatim)
	case !id.Named():
		return "a material that was not recorded"
	case len(candidates) == 0:
		return listed(solids, 4)
	case len(solids) == 0:
		return eitherOf(candidates, 4)
	}
	return listed(solids, 4) + ", with " + eitherOf(candidates, 4)
}

func (k knowing) refName(r Ref) string {
	if r.Grade != "" {
		return k.name(r.Material) + ", grade " + r.Grade
	}
	return k.name(r.Material)
}

func each[T, U any](list []T, f func(T) U) []U {
	out := make([]U, len(list))
	for i, x := range list {
		out[i] = f(x)
	}
	return out
}

// doubt says why a material that is named is not sure.
func (id Identity) doubt() string {
	switch {
	case !id.Named():
		return ""
	case len(id.Candidates) > 1:
		return "one of them; not known which"
	case len(id.Candidates) == 1:
		return "read from words"
	case id.Certainty == Inferred:
		return "inferred"
	case id.Certainty == Unidentified:
		return "not identified for certain"
	}
	return ""
}

var roleNouns = map[Role]string{
	Consolidant: "consolidant", PenetratingConsolidant: "penetrating consolidant", Coat: "coating", Barrier: "barrier",
	LabelBase: "base coat of the label", LabelTop: "top coat of the label", Ink: "ink", Adhesive: "joint", Fill: "fill",
	Paint: "paint", Mount: "mount", OtherRole: "layer", UnknownRole: "layer of unknown purpose",
}

// called names a layer in a sentence: "the joint of poly(vinyl acetate) (1998)".
func (s *Stack) called(l *Layer) string {
	return fmt.Sprintf("the %s of %s (%s)", roleNouns[l.Role], s.knowledge.describe(l.Identity), dateText(l.Date, l.When))
}

// sentence makes the first letter a capital and ends with a full stop.
func sentence(format string, args ...any) string {
	text := strings.TrimSpace(fmt.Sprintf(format, args...))
	if text == "" {
		return text
	}
	first, size := utf8.DecodeRuneInString(text)
	text = string(unicode.ToUpper(first)) + text[size:]
	if !strings.HasSuffix(text, ".") {
		text += "."
	}
	return text
}

func (k knowing) liquidNames(shares []Share) string {
	var names []string
	for _, s := range shares {
		if n := k.name(s.Solvent); !slices.Contains(names, n) {
			names = append(names, n)
		}
	}
	return listed(names, 5)
}

// tally writes a count as a word where it is small.
func tally(n int) string {
	words := []string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"}
	if n < len(words) {
		return words[n]
	}
	return strconv.Itoa(n)
}

var observedVerbs = map[Observed]string{
	Dissolves: "dissolves", Softens: "softens", Swells: "swells", Whitens: "whitens", Colours: "takes colour from",
}

// saidOr gives what was said, or other words where nothing was.
func saidOr(said, otherwise string) string {
	if said == "" || said == "unknown" {
		return otherwise
	}
	return said
}

// Describe names what a layer is made of, and says so where it is not sure.
func Describe(k Knowledge, id Identity) string { return newKnowing(k).describe(id) }
