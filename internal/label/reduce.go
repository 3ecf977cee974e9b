package label

import (
	"regexp"
	"slices"
	"strings"

	"meniscus/internal/material"
)

// Vial is the capacity in mL up to which a label may hinder the use (29 CFR
// 1910.1200(f)(12)).
const Vial = 3

// Omission is one thing that a piece leaves out, by which rule, and where it
// stands instead.
type Omission struct {
	Element Element
	Code    string
	Text    string
	Rule    Rule
	Instead string
}

// The rules for small packages.
var (
	smallRule = Rule{
		Says: "Up to 125 mL, hazard and precautionary statements of certain classes may be left off; pictograms, " +
			"signal word and the name stay. For some classes that holds only where it is not supplied to the public (Annex I, 1.5.2.1).",
		Source: cited("clp-2026"), Status: "verified",
	}
	tagRule = Rule{
		Says: "Where a full label does not fit, it may be folded out, tied on, or stand on the outer package. The " +
			"container keeps at least pictograms, signal word and name, and up to 100 mL a word that the full label " +
			"is on the outer package (Annex I, 1.5.1).",
		Source: cited("clp-2026", "osha-hazcom-2024"), Status: "verified",
	}
	vialRule = Rule{
		Says: "Up to 3 mL, where a label would be in the way of the use, the container has at least the name. The " +
			"European rules give no such relief: there the pictograms go on a tag that is tied to it (Annex I, 1.5.1).",
		Source: cited("osha-hazcom-2024", "clp-2026"), Status: "verified",
	}
)

const onTag = "On the full label: fold-out, tie-on tag or outer package."

// essentials are what a container without room for more says.
var essentials = []Element{Notice, Name, StrengthWords, StrengthNow, CodeText, MadeWords, ExpiresWords, SignalText,
	HazardsUnknown, Elsewhere, OwnerName}

// barest is what a container says when the essentials do not fit either.
var barest = []Element{Notice, Name, StrengthWords, StrengthNow, CodeText, MadeWords, ExpiresWords, SignalText,
	Elsewhere}

// onVial is what a vial says.
var onVial = []Element{Notice, Name, StrengthWords, CodeText, SignalText, Elsewhere}

// reduced is a piece with entries left out, and what they are.
type reduced struct {
	Content
	leftOut []Omission
}

// reduce is what the container of a small package says: a full label without the
// statements that the rules let go, or less where that does not fit. The result
// is the fullest of these that fits on the smallest label on which any of them
// fits.
func reduce(full Content, base *material.Base, capacity float64) reduced {
	whole := reduced{Content: full}
	if capacity <= Vial {
		return whole.only(onVial, vialRule)
	}
	choices := []reduced{whole.permitted(base)}
	choices = append(choices, choices[0].only(essentials, tagRule))
	if full.Signal() != "" { // only the signal word then stands for the hazards
		choices = append(choices, choices[1].only(barest, tagRule))
	}
	for size, more := small(capacity), true; more; size, more = size.grown() {
		for _, c := range choices {
			if fitsAt(c.Content, size) {
				return c
			}
		}
	}
	return choices[len(choices)-1]
}

// permitted is a full label without the statements that may be left out up to
// 125 mL, and without the text about them.
func (r reduced) permitted(base *material.Base) reduced {
	full := r.Content
	r = r.without(smallRule, func(s Saying) bool { return mayGo(base, s, full) })
	if len(r.leftOut) == 0 {
		return r
	}
	if !slices.ContainsFunc(r.Says, func(s Saying) bool { return s.Incomplete }) {
		r = r.without(smallRule, func(s Saying) bool { return s.Element == Completing })
	}
	return r.elsewhere()
}

// only keeps the named elements.
func (r reduced) only(keep []Element, rule Rule) reduced {
	r = r.elsewhere().without(rule, func(s Saying) bool { return !slices.Contains(keep, s.Element) })
	if r.Camera != nil {
		r.Camera = nil
		r.leave(CameraCode, "", "The batch's address as a code for a camera.", rule)
	}
	if rule == vialRule {
		for _, code := range r.Pictograms {
			r.leave(PictogramMark, code, pictogramNames[code], rule)
		}
		r.Pictograms = nil
	}
	return r
}

// without leaves out the entries that a rule allows to leave out.
func (r reduced) without(rule Rule, goes func(Saying) bool) reduced {
	out := reduced{Content: r.Content, leftOut: slices.Clone(r.leftOut)}
	out.Says = nil
	for _, s := range r.Says {
		if goes(s) {
			out.leave(s.Element, s.Code, s.Text, rule)
		} else {
			out.Says = append(out.Says, s)
		}
	}
	return out
}

func (r *reduced) leave(e Element, code, text string, rule Rule) {
	r.leftOut = append(r.leftOut, Omission{Element: e, Code: code, Text: text, Rule: rule, Instead: onTag})
}

// elsewhere says, before the last lines, that the full label is elsewhere.
func (r reduced) elsewhere() reduced {
	if r.text(Elsewhere) != "" {
		return r
	}
	at := slices.IndexFunc(r.Says, func(s Saying) bool {
		return s.Element == Completing || s.Element == Deference || s.Element == OwnerName
	})
	if at < 0 {
		at = len(r.Says)
	}
	r.Says = slices.Insert(slices.Clone(r.Says), at, Saying{Element: Elsewhere, Text: "Full label on the outer package."})
	return r
}

var (
	route  = regexp.MustCompile(` (oral|dermal|inhal\.)`)
	remark = regexp.MustCompile(` \(.*\)`)
)

// classesOf are the hazard classes of a statement as the rules write them.
func classesOf(st material.Statement) []string {
	if st.Classes == "" {
		return nil
	}
	return strings.Split(route.ReplaceAllString(remark.ReplaceAllString(st.Classes, ""), ""), ", ")
}

// mayGo tells whether a small package may leave a statement out: every class
// that it stands for must be on the list. A supplemental statement has no
// class and stays.
func mayGo(base *material.Base, s Saying, full Content) bool {
	switch s.Element {
	case HazardText:
		return len(s.classes) > 0 && !slices.ContainsFunc(s.classes,
			func(class string) bool { return omitted(base, class) != "hazard-and-precautionary" })
	case PrecautionText:
		for _, p := range base.PrecautionsByCode(s.Code) {
			if full.has(p.Class) && omitted(base, p.Class) == "" {
				return false
			}
		}
		return true
	}
	return false
}

// has tells whether a statement of a class stands on the label.
func (c Content) has(class string) bool {
	return slices.ContainsFunc(c.Says, func(s Saying) bool {
		return s.Element == HazardText && slices.Contains(s.classes, class)
	})
}

// omitted is what a small package may leave out for a class, or "".
func omitted(base *material.Base, class string) string {
	for _, p := range base.SmallPackages() {
		if p.Class == class {
			return p.Omitted
		}
	}
	return ""
}
