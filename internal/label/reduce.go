package label

import (
	"regexp"
	"slices"
	"strings"

	"meniscus/internal/material"
)

// Vial is the capacity in mL up to which a label may be in the way of the use
// (29 CFR 1910.1200(f)(12)).
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
		Says:   "Up to 125 mL, hazard and precautionary statements of certain classes may be left off; pictograms, signal word and the name stay. For some classes that holds only where it is not supplied to the public.",
		Source: "Regulation (EC) No 1272/2008, Annex I, 1.5.2.1", Status: "verified",
	}
	tagRule = Rule{
		Says:   "Where a full label does not fit, it may be folded out, tied on, or stand on the outer package. The container keeps at least pictograms, signal word and name, and up to 100 mL a word that the full label is on the outer package.",
		Source: "Regulation (EC) No 1272/2008, Annex I, 1.5.1; 29 CFR 1910.1200(f)(12), 2024", Status: "verified",
	}
	vialRule = Rule{
		Says:   "Up to 3 mL, where a label would be in the way of the use, the container has at least the name. The European rules give no such relief: there the pictograms go on a tag that is tied to it.",
		Source: "29 CFR 1910.1200(f)(12), 2024; Regulation (EC) No 1272/2008, Annex I, 1.5.1", Status: "verified",
	}
)

const onTag = "On the full label: fold-out, tie-on tag or outer package."

// essentials are what a container says that has no room for more.
var essentials = []Element{Notice, Name, StrengthWords, StrengthNow, CodeText, MadeWords, ExpiryWords, SignalText, HazardsUnknown, Elsewhere, OwnerName}

// barest is what it says when that does not fit either.
var barest = []Element{Notice, Name, StrengthWords, StrengthNow, CodeText, MadeWords, ExpiryWords, SignalText, Elsewhere}

// onVial is what a vial says.
var onVial = []Element{Notice, Name, StrengthWords, CodeText, SignalText, Elsewhere}

// reduce is what the container of a small package says: without the statements
// that the rules let go, and, if that does not fit yet, the essentials.
func (l *Label) reduce(full Content, base *material.Base, capacity float64) Content {
	if capacity <= Vial {
		c := Content{Camera: full.Camera, Says: slices.Clone(full.Says)}
		for _, code := range full.Pictograms {
			l.leave(PictogramMark, code, pictogramNames[code], vialRule)
		}
		return l.only(c, onVial, vialRule)
	}
	c := l.permitted(full, base)
	if fitsAt(c, small(capacity)) {
		return c
	}
	c = l.only(c, essentials, tagRule)
	if fitsAt(c, small(capacity)) || c.Signal() == "" {
		return c
	}
	return l.only(c, barest, tagRule)
}

// permitted is a full label without the statements that may go up to 125 mL.
func (l *Label) permitted(full Content, base *material.Base) Content {
	c := Content{Pictograms: full.Pictograms, Camera: full.Camera, Says: slices.Clone(full.Says)}
	var gone []Omission
	c.Says = slices.DeleteFunc(c.Says, func(s Saying) bool {
		if !mayGo(base, s, full) {
			return false
		}
		gone = append(gone, Omission{Element: s.Element, Code: s.Code, Text: s.Text, Rule: smallRule, Instead: onTag})
		return true
	})
	if len(gone) > 0 && !slices.ContainsFunc(c.Says, func(s Saying) bool { return s.Incomplete }) {
		c.Says = slices.DeleteFunc(c.Says, func(s Saying) bool { // it speaks of statements that are gone
			if s.Element == Completing {
				gone = append(gone, Omission{Element: s.Element, Text: s.Text, Rule: smallRule, Instead: onTag})
			}
			return s.Element == Completing
		})
	}
	l.LeftOut = append(l.LeftOut, gone...)
	if len(gone) > 0 {
		c.sayFullElsewhere()
	}
	return c
}

// sayFullElsewhere stands before the last lines.
func (c *Content) sayFullElsewhere() {
	at := slices.IndexFunc(c.Says, func(s Saying) bool { return s.Element == Deference || s.Element == OwnerName })
	if at < 0 {
		at = len(c.Says)
	}
	if c.text(Elsewhere) == "" {
		c.Says = slices.Insert(c.Says, at, Saying{Element: Elsewhere, Text: "Full label on the outer package."})
	}
}

// only keeps the named elements.
func (l *Label) only(c Content, keep []Element, rule Rule) Content {
	c.sayFullElsewhere()
	c.Says = slices.DeleteFunc(c.Says, func(s Saying) bool {
		if slices.Contains(keep, s.Element) {
			return false
		}
		l.leave(s.Element, s.Code, s.Text, rule)
		return true
	})
	if c.Camera != nil {
		c.Camera = nil
		l.leave(CameraCode, "", "The batch's address as a code for a camera.", rule)
	}
	return c
}

func (l *Label) leave(e Element, code, text string, rule Rule) {
	l.LeftOut = append(l.LeftOut, Omission{Element: e, Code: code, Text: text, Rule: rule, Instead: onTag})
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
// that it stands for is on the list. A supplemental statement has no class and
// stays.
func mayGo(base *material.Base, s Saying, full Content) bool {
	switch s.Element {
	case HazardText:
		return len(s.classes) > 0 && !slices.ContainsFunc(s.classes, func(class string) bool { return omitted(base, class) != "hazard-and-precautionary" })
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
	return slices.ContainsFunc(c.Says, func(s Saying) bool { return s.Element == HazardText && slices.Contains(s.classes, class) })
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
