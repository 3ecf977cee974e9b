package record

import (
	"strings"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"

	"meniscus/internal/fault"
)

// Person is what a person's statement says.
type Person struct {
	Name         string
	Role         string
	ORCID        string // as written, or empty
	Organisation string
}

// Check tells what is wrong with a person's statement.
func (p *Person) Check(Ref) error {
	if p.ORCID == "" {
		return nil
	}
	if _, err := ParseORCID(p.ORCID); err != nil {
		var faults fault.List
		if other := faults.Merge("/orcid", err); other != nil {
			return other
		}
		return faults
	}
	return nil
}

// FoldName reduces a person's name to what its spellings have in common. Only
// case and spaces are dropped: names that differ by more are different people
// until a record says otherwise.
func FoldName(name string) string {
	return strings.Join(strings.Fields(cases.Fold().String(norm.NFKC.String(name))), " ")
}
