package stack

// Looked is how many layers were looked at to make the stack, and how many layers
// and relations were followed for what lies over barriers.
func (s *Stack) Looked() int { return s.looked + s.followed }

// ShutOffLooks is how many layers and relations a plan of all layers follows for
// what is shut off.
func (s *Stack) ShutOffLooks() int {
	p := newPlanner(s, PlanRequest{})
	var plan RemovalPlan
	p.choose(&plan)
	p.shutOff(&plan)
	return p.followed
}

// MaxFollowed is the bound on what is followed.
const MaxFollowed = maxFollowed

// Edges is how many edges tell which layers lie over which.
func (s *Stack) Edges() int {
	n := 0
	for _, lower := range s.order.below {
		n += len(lower)
	}
	return n
}

// MostChanges is how many states of layers in parts are worked out.
const MostChanges = mostChanges

// ChangesNoted is how many were.
func (s *Stack) ChangesNoted() int { return s.changesNoted }

// MaxEvidence is how many entries an answer keeps.
const MaxEvidence = maxEvidence

// TablesAsked is how often the tables were asked what a liquid does to a material.
func (s *Stack) TablesAsked() int { return s.knowledge.seen.asked }
