package label

import (
	"meniscus/internal/edtf"
	"meniscus/internal/material"
)

// Facts are what is on record of a batch. An empty field is not on record.
type Facts struct {
	Owner    string // the institution
	Address  string // of the batch at the service; it is the code for a camera
	Code     string
	Bottle   bool     // filled from another batch
	Notices  []string // that come before everything: retracted, discarded
	Solids   []string // names of what is dissolved or dispersed, or its words in quotation marks
	Liquids  []string // names of what it is in
	Strength Strength
	Made     edtf.Date
	By       []string // who made it, as recorded
	Check    string   // what the last look at it found, in words
	Expires  edtf.Date
	From     []string // codes of the supplies and batches that went in
	// Shares are how much there is of each liquid, where there are several.
	Shares string
	// Substances are the ids of all materials in it, and Unnamed are the words for
	// whatever else is in it that could not be identified.
	Substances []string
	Unnamed    []string
}

// Strength is how strong it is, in words that say the basis.
type Strength struct {
	// None says that it has no strength, such as a solvent alone.
	None bool
	Said string // "20 g per 100 mL solution"; empty if not known
	From Origin
	Why  string // why it is not known
	// Changed says that solvent was added or lost since, and Now is the strength
	// after that; empty if not known.
	Changed bool
	Now     string
}

// Origin is where a strength was taken from.
type Origin string

// The origins, the best first.
const (
	Weighed  Origin = "weighed"
	Labelled Origin = "labelled"
	Asked    Origin = "asked"
)

// words are the text that the origin adds to a strength.
func (o Origin) words() string {
	switch o {
	case Weighed:
		return " (as measured)"
	case Labelled:
		return " (as an earlier label says)"
	case Asked:
		return " (as the recipe asked, not measured)"
	}
	return ""
}

// Place is where a piece goes.
type Place string

// The places.
const (
	OnContainer    Place = "container"
	OnOuterPackage Place = "outer-package" // or on a tie-on tag, or folded out
)

// Label is all pieces of a label.
type Label struct {
	Pieces []Piece
	// LeftOut is what the rules let the container's piece leave out, or forbid to
	// repeat.
	LeftOut []Omission
	// Replaced are characters that the letters of the PDF lack.
	Replaced []string
	// Notes say what else the person who prints the label should know.
	Notes []string
	// Rules are those that decided size, letters and contents.
	Rules []Rule
}

// Piece is one piece of paper.
type Piece struct {
	Place   Place
	Content Content
	Size    Size // that it must have at least
	Layout  Layout
	picture picture
}

// New makes the label of a batch for a container of a capacity in mL.
func New(f Facts, base *material.Base, capacity float64) Label {
	hazards := hazardsOf(base, f, capacity)
	full := compose(f, hazards)
	out := Label{LeftOut: hazards.leftOut, Notes: notes(hazards), Replaced: replaced(full)}
	if capacity > SmallPackage {
		out.add(OnContainer, full, sizeFor(capacity))
	} else {
		less := reduce(full, base, capacity)
		out.LeftOut = append(out.LeftOut, less.leftOut...)
		out.add(OnContainer, less.Content, small(capacity))
		out.add(OnOuterPackage, full, sizeFor(capacity))
	}
	out.rules(hazards, capacity)
	return out
}

// add lays a piece out.
func (l *Label) add(place Place, c Content, size Size) {
	p := Piece{Place: place, Content: c, Size: size}
	p.Layout, p.picture = layOut(c, size)
	l.Pieces = append(l.Pieces, p)
}

// notes are what the person who prints the label should know.
func notes(h hazards) []string {
	out := []string{
		"This is a label for use within the institution; a supplier's label needs more, such as address and telephone.",
	}
	if len(h.known) > 0 {
		out = append(out,
			"The hazards are those of each substance by its harmonised classification, which is a minimum, as if it "+
				"were there alone: a mixture has concentration limits of its own.")
	}
	if len(h.precautions) > 0 {
		out = append(out,
			"The precautionary statements are all that the regulation assigns to flammable liquids; those of other "+
				"hazard classes are not held here. A label normally has no more than six, chosen by who answers for "+
				"it (Regulation (EC) No 1272/2008, Article 28(3), recalled).")
	}
	return out
}
