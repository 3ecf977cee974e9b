package record

import (
	"meniscus/internal/fault"
)

// Plan is what a plan's statement says.
type Plan struct {
	// Treatment is the one proposed.
	Treatment     Treatment
	Reason        Text
	Risks         Text
	Estimate      Text
	ProposedBy    []Involvement
	Proposed      Date
	Authorisation Said[Authorisation]
	Remarks       string
}

// Check tells what keeps the proposed treatment from being understood.
func (p *Plan) Check(self Ref) error {
	var faults fault.List
	if err := faults.Merge("/treatment", p.Treatment.Check(self)); err != nil {
		return err
	}
	return faults.Err()
}
