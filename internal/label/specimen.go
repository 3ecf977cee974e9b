package label

import "meniscus/internal/material"

// Specimen is what the label of a specimen, a sample or a part says. An empty field is
// not on record.
type Specimen struct {
	Owner   string // the institution
	Address string // of the record at the service; it is the code for a camera
	Number  string
	// Hazards are those to people that are known or suspected, a sentence each, then to
	// what they defer; Open are lines on those of which it is not known.
	Hazards, Open []string
	Notices       []string // retracted, merged
	Origin        string   // "Sample of LV.1987/0042, area skull"
	Taken         string   // when it was, in words
}

// specimenRule says why the sizes of a jar's label are those of a specimen's.
var specimenRule = Rule{
	Says: "No norm sizes the label of a specimen: here it is as large, and has letters as large, as a jar's of that " +
		"capacity.",
	Source: cited("label-sizes"), Status: "common-practice",
}

// sheetInShort defers in few words, where the sentence that answers have does not fit.
const sheetInShort = "See the safety data sheet."

// OfSpecimen makes the label of a specimen, one piece, for a vial, bag or box of a
// capacity in mL. It leaves nothing out.
func OfSpecimen(f Specimen, capacity float64) Label {
	c := composeSpecimen(f, material.SheetFirst)
	if !fitsAt(c, small(capacity)) {
		c = composeSpecimen(f, sheetInShort)
	}
	out := Label{Replaced: replaced(c), Rules: []Rule{specimenRule}}
	out.add(OnContainer, c, small(capacity))
	out.rules(hazards{}, capacity)
	return out
}

// composeSpecimen writes what the label says: the hazards before everything, and to what it
// defers, which hazards that are known or suspected have by themselves.
func composeSpecimen(f Specimen, defers string) Content {
	c := Content{Camera: cameraOf(f.Address)}
	for _, text := range f.Hazards {
		if text == material.SheetFirst {
			c.say(Deference, text)
		} else {
			c.say(SpecimenHazard, text)
		}
	}
	for _, text := range f.Open {
		if text = tidy(text); text != "" {
			c.Says = append(c.Says, Saying{Element: HazardsUnknown, Text: text, quiet: true})
		}
	}
	for _, text := range f.Notices {
		c.say(Notice, text)
	}
	if f.Number == "" {
		f.Number = "Number not known"
	}
	c.say(CodeText, f.Number)
	c.say(MadeFrom, f.Origin)
	if f.Taken != "" {
		c.say(MadeWords, "Taken: "+f.Taken)
	}
	if c.text(Deference) == "" {
		c.say(Deference, defers)
	}
	c.say(OwnerName, f.Owner)
	return c
}
