package cardimport

import (
	"meniscus/internal/fault"
	"meniscus/internal/record"
)

// A Card is one line of the import: a treatment, or the reasons why it cannot be one.
type Card struct {
	// Line is the number of its first line in the file, from 1.
	Line int
	// Raw is its text as it stood there.
	Raw string
	// SourceID is the card's own id, or "" if it has none.
	SourceID string
	// Treatment is what it says, and Names are the people and the specimen that it names.
	Treatment record.Treatment
	Names     record.Names
	// Doubts are what a person should look at; the card is still taken.
	Doubts []Doubt
	// Faults are why it cannot be taken. Their pointers are "/" and the column.
	Faults fault.List
}

// Doubt is something that was read but may be wrong.
type Doubt struct {
	Code     string
	Column   string
	Sentence string
}

// The codes of doubts.
const (
	DoubtMaterialUnknown   = "material-unknown"
	DoubtMaterialAmbiguous = "material-ambiguous"
	DoubtTwoSpellings      = "number-spelled-two-ways"
	DoubtDateUnreadable    = "date-unreadable"
	DoubtStrengthWords     = "strength-in-words"
	DoubtDoubled           = "card-doubled"
)

// A cell is one cell of a card.
type cell struct {
	column Column
	text   string
}

// cells are the cells of one card that are not empty.
type cells []cell

// all gives the cells of a field.
func (cs cells) all(f Field) cells {
	var out cells
	for _, c := range cs {
		if c.column.Field == f {
			out = append(out, c)
		}
	}
	return out
}

// one gives the first cell of a field, or an empty one.
func (cs cells) one(f Field) cell {
	for _, c := range cs {
		if c.column.Field == f {
			return c
		}
	}
	return cell{column: Column{Name: string(f), Field: f}}
}

// joined gives all texts of a field as one.
func (cs cells) joined(f Field) string {
	text := ""
	for _, c := range cs.all(f) {
		if text != "" {
			text += "; "
		}
		text += c.text
	}
	return text
}
