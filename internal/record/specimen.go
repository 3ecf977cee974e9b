package record

import (
	"fmt"

	"meniscus/internal/edtf"
	"meniscus/internal/fault"
)

// Identifier is one number of a specimen, with its kind; opaque.
type Identifier struct {
	Kind  string
	Value string
}

// Specimen is what the record must know of a specimen; the rest of the
// statement is kept as it was made.
type Specimen struct {
	Identifiers []Identifier
	Collection  string
	BodyKind    string
	Areas       []string
	Parent      Ref   // on a sample or a part
	Part        *Part // on a part
}

// Part is how a part became a specimen.
type Part struct {
	Areas []string // that went with it; none where they are not known
	Split edtf.Date
}

// Check tells what is wrong with a specimen's statement. Its pointers are those
// of the contract's statement.
func (s Specimen) Check() error {
	var faults fault.List
	for i, path := range s.Areas {
		if err := faults.Merge(fmt.Sprintf("/areas/%d/path", i), CheckArea(path)); err != nil {
			return err
		}
	}
	if s.Part != nil {
		for i, path := range s.Part.Areas {
			if err := faults.Merge(fmt.Sprintf("/partOf/areas/paths/%d", i), CheckArea(path)); err != nil {
				return err
			}
		}
	}
	return faults.Err()
}
