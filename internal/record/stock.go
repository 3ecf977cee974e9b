package record

import (
	"fmt"

	"meniscus/internal/edtf"
	"meniscus/internal/fault"
)

// Supply is what the record must know of a received container.
type Supply struct {
	Code     string
	Material string
	Received edtf.Date // zero when not answered
	Expiry   edtf.Date
}

// Input is one thing that went into a batch: exactly one of Supply, Batch,
// Material and Words is set.
type Input struct {
	Part     string
	Supply   Ref
	Batch    Ref
	Material string
	Words    string
	// Candidates are the materials that Words may mean; none if nobody has said.
	Candidates []string
}

// Batch is what the record must know of a mixture that somebody made.
type Batch struct {
	Code   string
	Kind   string
	Made   edtf.Date
	Inputs []Input
	People []Involvement
}

// Check tells what is wrong with a batch: one that is said to be made from
// itself cannot be understood. Everything else is kept, and findings say what
// is odd.
func (b Batch) Check(self Ref) error {
	var faults fault.List
	for i, in := range b.Inputs {
		if in.Batch != (Ref{}) && in.Batch == self {
			faults.Add("batch-made-from-itself", fmt.Sprintf("/inputs/%d/from/batch/id", i), "A batch cannot go into itself; name the batch that it was made from.")
		}
	}
	return faults.Err()
}

// AmountChange is what became of part of a batch.
type AmountChange struct {
	Batch Ref
	Kind  string
	Date  edtf.Date
	By    Ref   // zero when nobody is named
	With  Input // what it was topped up with; zero when nothing is named
}
