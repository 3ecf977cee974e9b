// Package cardimport reads old treatment cards from tables (CSV) and from lines
// of JSON, by a mapping that says what each column means, and makes a treatment of
// each.
//
// It promises that nothing on a card is lost: every cell is kept word for word in
// the treatment, understood or not. It promises that a card which cannot be
// understood affects no other card, and gets a reason and a place; that a word
// with several meanings keeps them all; and that nothing is invented: what the
// card does not say is answered "unknown" or left out.
//
// It stores nothing and reads a stream of any length in bounded memory, except
// for one small entry for each specimen number, which serves to detect two
// spellings. Package statement puts the treatment into words.
package cardimport

import (
	"fmt"
	"slices"
	"strings"

	"meniscus/internal/fault"
)

// Field is what a column means.
type Field string

// The fields. Several columns may mean the same one.
const (
	CardID            Field = "card-id"
	Number            Field = "number"
	Collection        Field = "collection"
	Areas             Field = "areas"
	Action            Field = "action"
	Purpose           Field = "purpose"
	Method            Field = "method"
	Coats             Field = "coats"
	Material          Field = "material"
	Role              Field = "role"
	Strength          Field = "strength"
	Solvent           Field = "solvent"
	Date              Field = "date"
	DateEnd           Field = "date-end"
	Person            Field = "person"
	Organisation      Field = "organisation"
	ConditionBefore   Field = "condition-before"
	ConditionAfter    Field = "condition-after"
	InformationGained Field = "information-gained"
	InformationLost   Field = "information-lost"
	RecordCopy        Field = "record-copy-location"
	Remarks           Field = "remarks"
	Transcriber       Field = "transcriber"
	CardImage         Field = "card-image-url"
	Ignored           Field = "ignored"
)

// repeats are the fields that several columns may mean.
var repeats = []Field{Material, Role, Strength, Solvent, Person, Purpose, Areas, ConditionBefore, ConditionAfter,
	InformationGained, InformationLost, RecordCopy, Remarks, Ignored}

// Column says what one column means.
type Column struct {
	// Name is the column's heading, or the member's name in a line of JSON (a
	// JSON Pointer if it begins with a slash).
	Name  string
	Field Field
	// NumberKind is the kind of number, for Number; catalogue-number if empty.
	NumberKind string
}

// Reading is a person's interpretation of words for a material.
type Reading struct {
	Words      string
	Material   string   // one material, or
	Candidates []string // several that it may be
	Certainty  string   // documented, analysed, inferred or unknown
	AnalysedBy string
}

// Format is how the cards are written.
type Format string

// The formats.
const (
	CSV    Format = "csv"
	NDJSON Format = "ndjson"
)

// Mapping says how cards are read.
type Mapping struct {
	Format    Format
	Separator byte   // of CSV; a comma if zero
	Encoding  string // utf-8 (if empty), windows-1252 or utf-16
	Columns   []Column
	// Constants are what every card says where its own cell is empty.
	Constants map[Field]string
	Dates     []DateForm
	// CenturyFrom is the year from which two-digit years are counted: with 1930,
	// 85 is 1985 and 12 is 2012. Without it they are refused.
	CenturyFrom int
	// Hemisphere is where the cards were written, which tells the months of a season:
	// northern or southern. Without it a season may be that of either.
	Hemisphere string
	// NumbersAsWritten says that a number that reads as several, such as 6004-6012, is
	// one number of this catalogue.
	NumbersAsWritten bool
	// KeepUnreadableDates answers "unknown" for a date that cannot be read; its
	// words stay on the card. Otherwise the card is refused.
	KeepUnreadableDates bool
	Materials           []Reading
	Actions             map[string]string // words on the cards to actions
	Methods             map[string]string
	// StrengthBasis is what the numbers of strengths are a share of; "unknown" if
	// empty.
	StrengthBasis string
	// ListSeparator separates several areas or people in one cell.
	ListSeparator string
}

// Vocabulary tells what words may mean: materials, and solvents named with them.
type Vocabulary func(words string) (materials, solvents []string)

// Check tells what is wrong with a mapping before any card is read. Its pointers
// are those of the contract's mapping.
func (m Mapping) Check() error {
	var faults fault.List
	seen := map[Field]bool{}
	for i, c := range m.Columns {
		if seen[c.Field] && !slices.Contains(repeats, c.Field) {
			faults.Add("field-twice", fmt.Sprintf("/columns/%d/field", i), "Only one column can be the field %q.",
				string(c.Field))
		}
		seen[c.Field] = true
	}
	if !seen[Number] {
		faults.Add("number-column-missing", "/columns",
			"No column has the field \"number\", so no card could be tied to its specimen.")
	}
	if _, constant := m.Constants[Action]; !seen[Action] && !constant {
		faults.Add("action-missing", "/columns",
			"No column has the field \"action\"; name one, or say in constants what every card records.")
	}
	for field, value := range m.Constants {
		if field == Number || field == CardID || field == Ignored {
			faults.Add("constant-out-of-place", "/constants", "The field %q cannot be the same on every card.", string(field))
		}
		if strings.TrimSpace(value) == "" {
			faults.Add("constant-empty", "/constants", "A constant is empty; leave it out.")
		}
	}
	for i, r := range m.Materials {
		if r.Material != "" && len(r.Candidates) > 0 {
			faults.Add("reading-twice", fmt.Sprintf("/materials/%d", i),
				"Say the one material that the words mean, or several that they may mean, not both.")
		}
	}
	if m.CenturyFrom != 0 && (m.CenturyFrom < 1700 || m.CenturyFrom > 2000) {
		faults.Add("out-of-range", "/centuryFrom", "Two-digit years are counted from a year between 1700 and 2000.")
	}
	return faults.Err()
}
