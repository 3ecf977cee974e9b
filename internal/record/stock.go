package record

import (
	"fmt"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// Supply is what the statement of a received container says.
type Supply struct {
	Code         string
	Material     string // its id
	Grade        string
	SaysOfItself string
	MakerLotCode string
	Solids       *Strength
	Density      *quantity.Quantity
	Received     Date
	Opened       Date
	Expires      Date
	Amount       Amount
	Container    *Container
	SafetySheet  *Document
	State        string
	Remarks      string
}

// Check finds nothing wrong with a supply that has the contract's shape.
func (*Supply) Check(Ref) error { return nil }

// Batch is what the statement of a mixture says.
type Batch struct {
	Code    string
	Type    string // solution, bottle …
	Made    Date
	Expires Date
	People  Said[[]Involvement] // a list without items says that no person is known
	Inputs  Said[[]Input]
	// Finished is the whole, if it was measured.
	Finished        Amount
	Recipe          *Recipe
	LabelStrength   Said[Strength]
	Solvents        Said[[]SolventShare]
	Container       *Container
	State           string
	LowAt           *quantity.Quantity // it runs low when no more is left
	ClearCheck      *ClearCheck
	ReferenceSample Text
	Remarks         string
}

// Recipe is what was asked for.
type Recipe struct {
	Strength *Strength
	Amount   *quantity.Quantity
	Words    string
}

// ClearCheck is whether a solution had cleared.
type ClearCheck struct {
	Date   Date
	By     Ref
	Result string
}

// Check tells what is wrong with a batch: one that is said to be made from
// itself cannot be understood. Everything else is kept, and findings say what
// is odd.
func (b *Batch) Check(self Ref) error {
	var faults fault.List
	for i, in := range b.Inputs.Value {
		if in.Batch != (Ref{}) && in.Batch == self {
			faults.Add("batch-made-from-itself", fmt.Sprintf("/inputs/%d/from/batch/id", i),
				"A batch cannot go into itself; name the batch that it was made from.")
		}
	}
	return faults.Err()
}

// AmountChange is what became of part of a batch.
type AmountChange struct {
	Batch  Ref
	Type   string // discarded, topped-up …
	Amount Amount
	Date   Date
	By     Ref   // zero when no person is named
	With   *Used // what it was topped up with; nil when nothing is named
	// DippedBrush says that a used brush went into it.
	DippedBrush Said[bool]
	Remarks     string
}

// Check finds nothing wrong with a change that has the contract's shape.
func (*AmountChange) Check(Ref) error { return nil }
