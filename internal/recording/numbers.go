package recording

import (
	"fmt"
	"slices"
	"strings"

	"github.com/google/uuid"

	"meniscus/internal/fault"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
)

// A NewNumber is a number under which a statement registers a specimen.
type NewNumber struct {
	Pointer string // in the statement
	record.Identifier
	Collection string
	Specimen   uuid.UUID // the specimen that it registers
	// Alike are specimens with numbers of the same kind in the same collection that
	// fold as this one does; the same spelling comes first.
	Alike []postgres.Numbered
	// uncollected are specimens without a collection with such numbers, if this one has one.
	uncollected []postgres.Numbered
	// near are specimens with similar numbers, if they were looked up already.
	near   []postgres.Near
	looked bool
	// Beside tells that the request registers another specimen under a number that
	// folds as this one does.
	Beside bool
	// DistinctFrom are specimens that, as the caller says, are different ones.
	DistinctFrom []uuid.UUID
}

// Candidates are the specimens that it may be: their numbers differ in case, in what
// stands between letters and digits, or in leading zeros, and the caller has not said
// that they are distinct. If a specimen carries exactly this number, there are none.
func (n NewNumber) Candidates() []postgres.Numbered {
	if len(n.Alike) > 0 && n.Alike[0].Number == n.Value {
		return nil
	}
	return slices.DeleteFunc(slices.Clone(n.Alike), n.otherThan)
}

// Carriers are the specimens that carry exactly this number in its collection or in none,
// and that the caller has not said to be others.
func (n NewNumber) Carriers() []postgres.Numbered {
	return slices.DeleteFunc(slices.Concat(n.Alike, n.uncollected), func(k postgres.Numbered) bool {
		return k.Number != n.Value || n.otherThan(k)
	})
}

// otherThan tells whether the caller says that a specimen is another one.
func (n NewNumber) otherThan(k postgres.Numbered) bool {
	return slices.Contains(n.DistinctFrom, k.Specimen) || slices.Contains(n.DistinctFrom, k.Registered)
}

// Question is the fault that asks whether the number is another specimen's, or nil.
func (n NewNumber) Question() *fault.Fault {
	candidates := n.Candidates()
	if len(candidates) == 0 && !n.Beside {
		return nil
	}
	detail := "Specimens here carry numbers that differ from this one only in case, punctuation, spaces or leading zeros. " +
		"Write the number as it is known, or say with distinctFrom that it is none of the candidates."
	if len(candidates) == 0 {
		detail = "Another specimen of the same request has a number that differs from this one only in case, punctuation, " +
			"spaces or leading zeros. Write both alike, or register one of them first."
	}
	return &fault.Fault{Kind: fault.Conflict, Code: "number-nearly-known", Pointer: n.Pointer, Detail: detail,
		Extra: map[string]any{"candidates": candidates}}
}

// Conflicts are the specimens that carry the number or one that folds the same.
func (n NewNumber) Conflicts() []postgres.NumberConflict {
	conflicts := make([]postgres.NumberConflict, len(n.Alike))
	for i, k := range n.Alike {
		conflicts[i] = postgres.NumberConflict{Specimen: n.Specimen, Kind: n.Kind, Number: n.Value,
			Collection: k.Collection, Other: k.Specimen, OtherValue: k.Number}
	}
	return conflicts
}

// mostResembling is how many near spellings a finding of a new number names.
const mostResembling = 5

// resembling gives findings about recorded numbers that this one may be mistaken for.
func (n NewNumber) resembling(near []postgres.Near) []record.Finding {
	spellings := make([]record.Spelling[uuid.UUID], len(near))
	for i, k := range near {
		spellings[i] = record.Spelling[uuid.UUID]{Number: k.Number, Likeness: k.Likeness, Of: k.Specimen}
	}
	var found []record.Finding
	for _, s := range record.Nearest(n.Value, spellings, mostResembling) {
		how := "looks like this number, with O for 0, or l or I for 1"
		if s.Likeness == record.Swapped {
			how = "is this number with two neighbours swapped"
		}
		found = append(found, record.Finding{Rule: "number-resembles", Severity: record.Info, Records: []record.Ref{s.Of},
			Sentence: fmt.Sprintf("%s is registered too, and %s.", s.Number, how),
			Remedy:   "Amend the number, or merge the two, if it is the same specimen."})
	}
	return found
}

// Questions are the questions about all numbers under which a reading registers
// specimens.
func Questions(numbers []NewNumber) fault.List {
	var asked fault.List
	for _, n := range numbers {
		if q := n.Question(); q != nil {
			asked = append(asked, q)
		}
	}
	return asked
}

// among is the number as it is looked up: without a collection, only among specimens
// without one.
func (n NewNumber) among() postgres.SpecimenNumber {
	return postgres.SpecimenNumber{Kind: n.Kind, Value: n.Value, Collection: n.Collection, Uncollected: n.Collection == ""}
}

// Claims are the numbers as a write claims them, so that no other request registers one
// that folds the same at the same moment. One that many specimens carry is not claimed:
// not all of them were read.
func Claims(numbers []NewNumber) (claims []postgres.Claim) {
	for _, n := range numbers {
		if len(n.Alike) >= record.MaxNear {
			continue
		}
		claim := postgres.Claim{SpecimenNumber: postgres.SpecimenNumber{Kind: n.Kind, Value: n.Value, Collection: n.Collection,
			Uncollected: n.looked && n.Collection == ""}} // as Alike was looked up
		for _, k := range n.Alike {
			claim.Known = append(claim.Known, k.Registered)
		}
		claims = append(claims, claim)
	}
	return claims
}

// amongUncollected is the number as it is looked up among specimens without a collection.
func (n NewNumber) amongUncollected() postgres.SpecimenNumber {
	return postgres.SpecimenNumber{Kind: n.Kind, Value: n.Value, Uncollected: true}
}

// numbersOf gives the numbers of a specimen that is to be recorded.
func numbersOf(self uuid.UUID, s *record.Specimen, distinctFrom []uuid.UUID) []NewNumber {
	numbers := make([]NewNumber, len(s.Identifiers))
	for i, id := range s.Identifiers {
		numbers[i] = NewNumber{Pointer: fmt.Sprintf("/identifiers/%d/value", i), Identifier: id, Collection: s.Collection,
			Specimen: self, DistinctFrom: distinctFrom}
	}
	return numbers
}

// Unregistered gives the finding that numbers in a check are not on record: what is on
// those specimens was not checked.
func Unregistered(numbers []NewNumber) []record.Finding {
	found := make([]record.Finding, len(numbers))
	for i, n := range numbers {
		found[i] = n.unregistered()
	}
	return found
}

func (n NewNumber) unregistered() record.Finding {
	candidates := n.Candidates()
	if len(candidates) == 0 {
		return record.Finding{Rule: record.NumberNotKnown, Severity: record.Info,
			Sentence: "No specimen is registered by this number, so nothing that may be on it was looked at.",
			Remedy:   "Look the number up, if the specimen should be known here."}
	}
	f := record.Finding{Rule: record.NumberNearlyKnown, Severity: record.Warn,
		Remedy: "Check it again with the number as it is known, or say with distinctFrom that it is none of these specimens."}
	var spellings []string
	for _, k := range candidates {
		f.Records, spellings = append(f.Records, k.Specimen), append(spellings, k.Number)
	}
	slices.Sort(spellings)
	differs, which := "differs", "that specimen"
	if len(candidates) > 1 {
		differs, which = "differ", "those specimens"
	}
	f.Sentence = fmt.Sprintf("This number is not registered and nearly known: %s %s from it only in case, punctuation, "+
		"spaces or leading zeros. What is on %s was not looked at.",
		strings.Join(slices.Compact(spellings), ", "), differs, which)
	return f
}
