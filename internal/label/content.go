package label

import (
	"strings"
	"unicode"

	"meniscus/internal/edtf"
	"meniscus/internal/material"
)

// Element is the kind of an entry of a label.
type Element string

// The elements, in the order in which a label says them.
const (
	SpecimenHazard Element = "specimen-hazard"
	Notice         Element = "notice"
	Name           Element = "name"
	StrengthWords  Element = "strength"
	StrengthNow    Element = "strength-now"
	SolventShares  Element = "solvents"
	CodeText       Element = "code"
	ExpiresWords   Element = "expires"
	MadeWords      Element = "made"
	CheckWords     Element = "check"
	MadeFrom       Element = "made-from"
	PictogramMark  Element = "pictogram"
	SignalText     Element = "signal-word"
	HazardText     Element = "hazard"
	SupplierHazard Element = "supplier-hazard"
	HazardsUnknown Element = "hazards-unknown"
	ClassWarned    Element = "class-warning"
	PrecautionText Element = "precaution"
	Completing     Element = "completing"
	Elsewhere      Element = "full-label-elsewhere"
	Deference      Element = "deference"
	OwnerName      Element = "owner"
	CameraCode     Element = "camera-code"
)

// Saying is one statement or entry of a label.
type Saying struct {
	Element Element
	Code    string // of a statement: H225, P210
	Text    string
	// Incomplete says that the statement has a gap which the safety data sheet fills.
	Incomplete bool
	quiet      bool     // it is no warning, and is set without weight
	classes    []string // that a statement stands for
}

// Content is what a piece says.
type Content struct {
	Says       []Saying
	Pictograms []string
	Camera     *camera // the batch's address for a camera; nil where it does not stand on it
}

// Signal is the signal word, or "".
func (c Content) Signal() string { return c.text(SignalText) }

// text is the first text of an element, or "".
func (c Content) text(e Element) string {
	for _, s := range c.Says {
		if s.Element == e {
			return s.Text
		}
	}
	return ""
}

func (c *Content) say(e Element, text string) {
	if text = tidy(text); text != "" {
		c.Says = append(c.Says, Saying{Element: e, Text: text})
	}
}

// tidy puts a text on one line, without control characters.
func tidy(text string) string {
	plain := strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return ' '
		}
		return r
	}, text)
	return strings.Join(strings.Fields(plain), " ")
}

// compose writes everything that a full label says.
func compose(f Facts, h hazards) Content {
	c := Content{Pictograms: h.pictograms, Camera: cameraOf(f.Address)}
	for _, n := range f.Notices {
		c.say(Notice, n)
	}
	c.say(Name, nameOf(f))
	c.say(StrengthWords, f.Strength.words())
	c.say(StrengthNow, f.Strength.now())
	c.say(SolventShares, f.Shares)
	c.say(CodeText, codeOf(f))
	if !f.Expires.IsZero() {
		c.say(ExpiresWords, "Use by: "+f.Expires.Words())
	}
	c.say(MadeWords, madeOf(f))
	c.say(CheckWords, f.Check)
	c.say(MadeFrom, fromWords(f))
	c.say(SignalText, h.signal)
	for _, st := range h.statements {
		c.Says = append(c.Says, statement(HazardText, st))
	}
	c.say(SupplierHazard, addedBySuppliers(h))
	c.say(HazardsUnknown, unknownHazards(h))
	for _, w := range h.warnings {
		c.Says = append(c.Says, Saying{Element: ClassWarned, Code: w.ID, Text: w.Sentence})
	}
	for _, st := range h.precautions {
		c.Says = append(c.Says, statement(PrecautionText, st))
	}
	c.complete(h)
	c.say(Deference, material.SheetFirst)
	c.say(OwnerName, f.Owner)
	return c
}

func statement(e Element, st material.Statement) Saying {
	text := st.Text()
	return Saying{Element: e, Code: st.Code, Text: text, Incomplete: strings.ContainsAny(text, "…["),
		classes: classesOf(st)}
}

// complete says what to do about gaps, and about precautions that are not held.
func (c *Content) complete(h hazards) {
	gaps := false
	for _, s := range c.Says {
		gaps = gaps || s.Incomplete
	}
	switch {
	case gaps:
		c.say(Completing, "For what belongs at … or in [ ], and further hazards (the harmonised list is a minimum) and "+
			"precautions: see the safety data sheet.")
	case len(h.statements) > 0:
		c.say(Completing, "Further hazards (the harmonised list is a minimum) and precautions: see the safety data "+
			"sheet.")
	}
}

// nameOf is the text that names the contents.
func nameOf(f Facts) string {
	solids, liquids := list(f.Solids), list(f.Liquids)
	switch {
	case solids != "" && liquids != "":
		if strings.Contains(solids, ",") {
			solids += "," // so that the liquid is not read as part of the last name
		}
		return capital(solids + " in " + liquids)
	case solids+liquids != "":
		return capital(solids + liquids)
	}
	return "Contents not known"
}

func (s Strength) words() string {
	switch {
	case s.None:
		return ""
	case s.Said != "":
		return s.Said + s.From.words()
	case s.Why != "":
		return "Strength not known: " + s.Why
	}
	return "Strength not known"
}

func (s Strength) now() string {
	switch {
	case !s.Changed || s.None:
		return ""
	case s.Now == "":
		return "It was added to or lost solvent since: strength now not known"
	}
	return "Now " + s.Now + " (from what was added and lost since)"
}

func codeOf(f Facts) string {
	if f.Code == "" {
		return "Code not known"
	}
	return f.Code
}

// madeOf says when the batch was made and by whom.
func madeOf(f Facts) string {
	verb := "Made: "
	if f.Bottle {
		verb = "Filled: "
	}
	when, who := f.Made.Words(), "by "+list(f.By)
	if f.Made.IsZero() {
		when = "when is not recorded"
	}
	if len(f.By) == 0 {
		who = "by whom is not recorded"
	}
	return verb + when + ", " + who
}

func fromWords(f Facts) string {
	if len(f.From) == 0 {
		return "From: supplies not recorded"
	}
	return "From: " + strings.Join(f.From, ", ")
}

// addedBySuppliers says what suppliers often add to the harmonised classification.
func addedBySuppliers(h hazards) string {
	if len(h.bySupplier) == 0 {
		return ""
	}
	var texts []string
	for _, st := range h.bySupplier {
		texts = append(texts, st.Text())
	}
	return "Suppliers often add: " + strings.Join(texts, " ")
}

// unknownHazards names the substances whose classification is not held.
func unknownHazards(h hazards) string {
	switch {
	case len(h.known) == 0:
		return "Hazards not known: see the safety data sheet."
	case len(h.unknown) > 0:
		return "Hazards not known of " + list(h.unknown) + ": see the safety data sheet."
	case len(h.statements) == 0 && len(h.pictograms) == 0:
		return "No hazard is listed of " + list(h.harmless) + ": see the safety data sheet."
	}
	return ""
}

// Checked says in words what a check of a batch found.
func Checked(result string, date edtf.Date, by string) string {
	out := "Checked"
	if !date.IsZero() {
		out += " " + date.Words()
	}
	if by != "" {
		out += " by " + by
	}
	return out + ": " + result
}

// list joins names for a sentence.
func list(names []string) string {
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

// capital begins a sentence, unless with a quotation or a locant.
func capital(s string) string {
	if s == "" || s[0] < 'a' || s[0] > 'z' || len(s) > 1 && s[1] == '-' {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
