package stack

// The answers about each layer, the liquids that take it off and the plan say the same of
// what no solvent reaches, whichever layers a plan is asked for.

// outOfSolvent is what no solvent reaches: layers, and layers that it reaches in part.
type outOfSolvent struct {
	outOf map[int]Unreachable
	part  map[int][]Exception
}

// outOfSolvents finds what no solvent reaches of all layers, once a stack.
func (s *Stack) outOfSolvents() *outOfSolvent {
	if s.reached == nil {
		p, n := newPlanner(s, PlanRequest{}), len(s.layers)
		p.outOf, p.taken, p.kept = map[int]Unreachable{}, make([]bool, n), make([]bool, n)
		for l := range s.layers {
			p.taken[l] = s.layers[l].State.mayBeThere()
		}
		p.shutOff(&RemovalPlan{})
		p.sequence(&RemovalPlan{})
		s.reached = &outOfSolvent{p.outOf, p.except}
	}
	return s.reached
}

// confine says of a layer that no solvent reaches that it cannot be got out, of one that it
// reaches in part that it comes off in part, and of one whose place is contradicted that this
// is not known.
func (s *Stack) confine(l int, r *Reversal) {
	all := s.outOfSolvents()
	u, shut := all.outOf[l]
	may := r.Removable.Answer == Yes || r.Removable.Answer == Partial
	switch {
	case shut && u.Below != "":
		r.Removable = r.Removable.because(No, u.Sentence, u.Sources)
	case shut && may:
		r.Removable = r.Removable.because(Unknown, u.Sentence, u.Sources)
		r.Removable.Contradicted = true
	case !shut && len(all.part[l]) > 0 && may:
		r.Removable = r.Removable.because(Partial, "In places it lies below what cannot be taken off.",
			s.knowledge.cite("common-practice"))
	}
}

// because is the answer with another verdict, and what decides that first.
func (x Reasoned) because(a Answer, says string, sources Sources) Reasoned {
	e := Evidence{Says: says, Sources: sources, Status: "common-practice", word: a.String()}
	x.Answer, x.Backing = a, backing([]Evidence{e}, e.word).and(x.Backing, e.word)
	return x
}
