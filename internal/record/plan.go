package record

import (
	"meniscus/internal/fault"
)

// Plan is what a plan's statement says.
type Plan struct {
	// Treatment is the proposed treatment.
	Treatment Treatment
	Reason    Text
	// Options are those that were considered.
	Options       Said[[]Option]
	Risks         Text
	Estimate      Text
	ProposedBy    Said[[]Involvement]
	Proposed      Date
	Authorisation Said[Authorisation]
	// SendersAuthorisation is that of the institution that sent the plan. It
	// authorises nothing here.
	SendersAuthorisation Said[Authorisation]
	Remarks              string
}

// Option is something that could be done.
type Option struct {
	What   string
	Why    string
	Chosen bool
}

// Check tells what keeps the proposed treatment from being understood.
func (p *Plan) Check(self Ref) error {
	var faults fault.List
	if err := faults.Merge("/treatment", p.Treatment.Check(self)); err != nil {
		return err
	}
	return faults.Err()
}
