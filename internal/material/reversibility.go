package material

import "slices"

// Answer is one of the answers about undoing a treatment.
type Answer string

// The answers.
const (
	Yes      Answer = "yes"
	Partly   Answer = "partly"
	No       Answer = "no"
	NotKnown Answer = "unknown"
)

// BarrierState says whether a removable barrier lies under a reacting resin, at
// both faces.
type BarrierState string

// The states.
const (
	BarrierUnknown BarrierState = ""
	OverBarrier    BarrierState = "over-barrier"
	NoBarrier      BarrierState = "no-barrier"
)

var barrierStates = wordSet(BarrierUnknown, OverBarrier, NoBarrier)

// ReversibilityRow is one statement from one source. A consolidant here is in a
// porous body, so Removable is never Yes.
type ReversibilityRow struct {
	Material  string
	Grade     string
	Role      Role
	Age       Age
	Condition BarrierState
	// Redissolvable: can the material be taken into solution again?
	// Removable: can it be got out of this body? Retreatable: can the area still be
	// treated again?
	Redissolvable, Removable, Retreatable Answer
	Reason                                string
	Evidence                              Evidence
}

// ReversibilityQuery asks about one layer.
type ReversibilityQuery struct {
	Material string
	Grade    string // "" or AnyGrade when not known
	Role     Role   // UnknownRole when not known
	Age      Age    // AnyAge when not known
	Barrier  BarrierState
}

// Reasoned is one answer with the statements that it rests on.
type Reasoned struct {
	Answer Answer
	// Rows are the most specific statements that answer the question.
	Rows []ReversibilityRow
	// Contradicted says that they do not agree; Answer is then the most cautious.
	Contradicted bool
}

// Reversibility is the three answers about a layer.
type Reversibility struct {
	Redissolvable, Removable, Retreatable Reasoned
	// Considered are all statements that apply, most specific first.
	Considered []ReversibilityRow
}

// Reversibility answers from the most specific statements: on the material (then
// on what it is a grade of, then on its class), the grade, the role and the age
// asked. Where equally specific ones differ the answer is the most cautious one,
// marked Contradicted. An unknown age is taken as old, unless the fresh film is
// the harder one. A test on the specimen outranks all of it: the caller applies
// it.
func (b *Base) Reversibility(q ReversibilityQuery) Reversibility {
	if q.Age == Fresh {
		return b.reversibilityAt(q)
	}
	unsure := q.Age != Aged
	q.Age = Aged
	old := b.reversibilityAt(q)
	if !unsure {
		return old
	}
	q.Age = Fresh
	young := b.reversibilityAt(q)
	old.Redissolvable = old.Redissolvable.harder(young.Redissolvable)
	old.Removable = old.Removable.harder(young.Removable)
	old.Retreatable = old.Retreatable.harder(young.Retreatable)
	return old
}

// harder gives the answer for a film whose age is not known: that of the old
// one, unless the fresh one is known to be harder to undo.
func (old Reasoned) harder(young Reasoned) Reasoned {
	if young.Answer == No && old.Answer != No || young.Answer == Partly && old.Answer == Yes {
		young.Contradicted = true
		return young
	}
	return old
}

func (b *Base) reversibilityAt(q ReversibilityQuery) Reversibility {
	rows := b.reversibilityRows(q)
	r := Reversibility{
		Redissolvable: reasoned(rows, func(x ReversibilityRow) Answer { return x.Redissolvable }),
		Removable:     reasoned(rows, func(x ReversibilityRow) Answer { return x.Removable }),
		Retreatable:   reasoned(rows, func(x ReversibilityRow) Answer { return x.Retreatable }),
	}
	if inBody(q.Role) && r.Removable.Answer == Yes {
		r.Removable.Answer = Partly
	}
	for _, x := range rows {
		r.Considered = append(r.Considered, x.ReversibilityRow)
	}
	return r
}

// inBody says that the material of such a layer sits in the pores of the body.
func inBody(r Role) bool { return r == Consolidant || r == PenetratingConsolidant }

type scoredRow struct {
	ReversibilityRow
	score int
}

func (b *Base) reversibilityRows(q ReversibilityQuery) []scoredRow {
	chain := b.gradeChain(q.Material, q.Grade)
	places := b.materialReach(q.Material)
	if inBody(q.Role) {
		places = append(places, "consolidant-any")
	} else if q.Role == Coating {
		places = append(places, "coating-any")
	}
	var out []scoredRow
	for far, place := range places {
		for _, x := range b.ofGrade(place, chain) {
			if score := q.specificity(x); score > 0 {
				out = append(out, scoredRow{x, score - 100*far})
			}
		}
	}
	slices.SortStableFunc(out, func(x, y scoredRow) int { return y.score - x.score })
	return out
}

// ofGrade gives the rows of a material about the narrowest grade that has any:
// rows on glue in general do not hold for hardened glue.
func (b *Base) ofGrade(id string, chain []string) []ReversibilityRow {
	for _, grade := range chain {
		rows := slices.DeleteFunc(slices.Clone(b.reversibility[id]),
			func(x ReversibilityRow) bool { return x.Grade != grade })
		if len(rows) > 0 {
			return rows
		}
	}
	return nil
}

// rolesLike gives the roles whose rows speak about a role, nearest first.
func rolesLike(r Role) []Role {
	switch r {
	case PenetratingConsolidant:
		return []Role{PenetratingConsolidant, Consolidant, AnyRole}
	case LabelBase, LabelTop, Ink, Paint:
		return []Role{r, Coating, AnyRole}
	default:
		return []Role{r, AnyRole}
	}
}

// specificity scores a row above zero when it applies: role before age. A row that holds only over (or without) a
// barrier applies when the state of the barrier matches, or is not known.
func (q ReversibilityQuery) specificity(x ReversibilityRow) int {
	role := slices.Index(rolesLike(q.Role), x.Role)
	if role < 0 || x.Age != AnyAge && x.Age != q.Age {
		return 0
	}
	if x.Condition != BarrierUnknown && q.Barrier != BarrierUnknown && x.Condition != q.Barrier {
		return 0
	}
	score := 1000 - 4*role
	if x.Age == q.Age {
		score += 2
	}
	if x.Condition != BarrierUnknown && x.Condition == q.Barrier {
		score++
	}
	return score
}

var caution = []Answer{No, Partly, Yes}

// reasoned picks the most specific rows that answer one question.
func reasoned(rows []scoredRow, of func(ReversibilityRow) Answer) Reasoned {
	out := Reasoned{Answer: NotKnown}
	best := 0
	for _, x := range rows {
		if of(x.ReversibilityRow) == NotKnown || best > 0 && x.score < best {
			continue
		}
		best = x.score
		out.Rows = append(out.Rows, x.ReversibilityRow)
	}
	for _, a := range caution {
		says := slices.ContainsFunc(out.Rows, func(x ReversibilityRow) bool { return of(x) == a })
		if says && out.Answer != NotKnown {
			out.Contradicted = true
		}
		if says && out.Answer == NotKnown {
			out.Answer = a
		}
	}
	return out
}

// ReversibilityStatements lists every row about a material.
func (b *Base) ReversibilityStatements(id string) []ReversibilityRow {
	return slices.Clone(b.reversibility[b.behavesAs(id)])
}

func readReversibility(b *Base, r *reader) {
	const columns = "material grade role age condition redissolvable removable retreatable reason also source status"
	r.table("reversibility.tsv", columns, func(w row) {
		id := w.material(b, "material")
		x := ReversibilityRow{
			Material: id, Grade: w.grade(b, id, "grade"), Role: word(w, "role", roles), Age: word(w, "age", ages),
			Condition: word(w, "condition", barrierStates), Reason: w.need("reason"), Evidence: w.evidence(),
			Redissolvable: word(w, "redissolvable", answers), Removable: word(w, "removable", answers),
			Retreatable: word(w, "retreatable", answers),
		}
		if inBody(x.Role) && x.Removable == Yes {
			w.fail("removable: nothing is got out of a porous body completely; partly at most")
		}
		b.reversibility[id] = append(b.reversibility[id], x)
	})
}
