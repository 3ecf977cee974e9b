package record

import "github.com/google/uuid"

// Kind is what a record is about.
type Kind string

// The kinds of record.
const (
	KindPerson       Kind = "person"
	KindSpecimen     Kind = "specimen"
	KindSupply       Kind = "supply"
	KindBatch        Kind = "batch"
	KindAmountChange Kind = "amount-change"
	KindTreatment    Kind = "treatment"
	KindPlan         Kind = "plan"
	KindMaterial     Kind = "material"
)

// Source is the system that a record came from and its id there; the same pair
// is the same record.
type Source struct {
	System   string
	RecordID string
}

// Ref names another record, or is the zero UUID.
type Ref = uuid.UUID
