package record

import (
	"meniscus/internal/edtf"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// Answer is a word that replaces a value.
type Answer string

// The answers. A member that is left out was not answered, which is a fourth
// state.
const (
	AnswerUnknown     Answer = "unknown"
	AnswerNone        Answer = "none"
	AnswerNotExamined Answer = "not-examined"
)

// Said is what a statement says in one member: a value, or an answer in its
// place. The zero Said says nothing.
type Said[T any] struct {
	Value  T
	Given  bool // there is a value
	Answer Answer
}

// Give says a value.
func Give[T any](value T) Said[T] { return Said[T]{Value: value, Given: true} }

// Answered tells whether anything was said.
func (s Said[T]) Answered() bool { return s.Given || s.Answer != "" }

// The members that may be answered with a word.
type (
	Text   = Said[string]
	Date   = Said[edtf.Date]
	Amount = Said[quantity.Quantity]
	Areas  = Said[[]string] // paths
)

// Strength is a strength as it was said. Where no unit was said, its number has
// the unit of its basis.
type Strength struct {
	solution.Strength
	UnitSaid bool
	Product  string // what an as-supplied strength is of
}

// YesNo is "yes", "no", "unknown", or "" where nothing was said.
type YesNo string

// Value is what a statement says, read once: one of *Person, *Specimen, *Supply,
// *Batch, *AmountChange, *Treatment, *Plan and *Material.
type Value interface {
	// Kind is the kind of record that the statement is of.
	Kind() Kind
	// Check tells what keeps the statement of the record self from being
	// understood. Its faults point into the statement.
	Check(self Ref) error
}

// Kind of each value.
func (*Person) Kind() Kind       { return KindPerson }
func (*Specimen) Kind() Kind     { return KindSpecimen }
func (*Supply) Kind() Kind       { return KindSupply }
func (*Batch) Kind() Kind        { return KindBatch }
func (*AmountChange) Kind() Kind { return KindAmountChange }
func (*Treatment) Kind() Kind    { return KindTreatment }
func (*Plan) Kind() Kind         { return KindPlan }
func (*Material) Kind() Kind     { return KindMaterial }

// Blank is a value of a kind that says nothing; nil for a kind that is not known.
func Blank(kind Kind) Value {
	for _, v := range []Value{new(Person), new(Specimen), new(Supply), new(Batch),
		new(AmountChange), new(Treatment), new(Plan), new(Material)} {
		if v.Kind() == kind {
			return v
		}
	}
	return nil
}
