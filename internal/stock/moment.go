package stock

import (
	"math"
	"slices"

	"meniscus/internal/edtf"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// A Moment is a batch as it was when another record used it or took of it.
type Moment struct {
	// Strength is on Basis and in its unit; nil where unknown.
	Strength *quantity.Measured
	Basis    solution.Basis
	// ByLabel says that it rests on what a label says, of this batch or of one that
	// it was made from, and not on amounts alone.
	ByLabel bool
	// Changed says that the strength may have differed from that as made, so that
	// the batch's own label does not hold for this moment.
	Changed bool
	// Added are the top-ups that were in it, or may have been.
	Added []Addition
	// Mixture is the batch as made, where that is still so; else nil.
	Mixture *solution.Mixture
}

// An Addition is a top-up, by the id of its entry.
type Addition struct {
	ID string
	// Certain is false where the dates do not tell whether it came before.
	Certain bool
}

// AsMade instead of a record is the moment at which a batch was made.
const AsMade = ""

// At is a batch as it was when a record used it or took of it. The batch's events
// hold an entry for that record.
//
// The strength is that of the account (Reckon) in the order in which it takes the
// entries. Where the dates leave open whether a change of strength came before,
// the strength lies between those of the orders that there can have been: it is
// taken in the middle, and the range as a rectangular uncertainty beside the
// largest of theirs (JCGM 100:2008, 4.3.7, recalled). If a batch has changed and
// no event is about the record, the strength is unknown.
func (s *Shelf) At(batch, record string) Moment {
	s.settle()
	held := s.batches[batch]
	if held == nil {
		return Moment{}
	}
	out := Moment{ByLabel: held.ByLabel}
	if record == AsMade || !held.changes() {
		out.Mixture = held.Mixture
		return out.asMade()
	}
	if s.EntriesCut {
		out.Changed = true
		return out
	}
	account := s.kept(batch)
	var user Change
	strengths := []*quantity.Measured{nil}
	here, there := account.of[record]
	if there {
		user, strengths[0] = account.Steps[here].Change, account.Steps[here].Strength
	}
	used := user.Date.Period()
	for _, change := range account.changes {
		i, c := change.step, account.Steps[change.step].Change
		if there && change.began.Compare(ended(used)) > 0 {
			continue // it came later
		}
		certain := there && change.ended.Compare(began(used)) < 0
		out.Changed = true
		if c.Kind == ToppedUp {
			out.Added = append(out.Added, Addition{c.ID, certain})
		}
		if !certain {
			strengths = append(strengths, account.strengthBefore(i), account.Steps[i].Strength)
		}
	}
	if !out.Changed {
		out.Mixture = held.Mixture
		return out.asMade()
	}
	if m := between(strengths); m != nil { // in solids for each unit of the account
		out.Strength, out.Basis = &quantity.Measured{Value: 100 * m.Value, Standard: 100 * m.Standard}, basisIn(s.Unit(batch))
	}
	return out
}

// asMade takes the strength of the mixture by volume of solution, else by mass.
func (m Moment) asMade() Moment {
	if m.Mixture == nil {
		return m
	}
	for _, basis := range []solution.Basis{solution.MassPerSolutionVolume, solution.MassFraction} {
		if v := m.Mixture.On(basis); v.Answered() {
			m.Strength, m.Basis = &v.Measured, basis
			return m
		}
	}
	return m
}

// between is the middle of what a strength may have been; nil if one of them is
// unknown.
func between(all []*quantity.Measured) *quantity.Measured {
	if slices.Contains(all, nil) {
		return nil
	}
	low, high, standard := math.Inf(1), math.Inf(-1), 0.0
	for _, m := range all {
		low, high, standard = min(low, m.Value), max(high, m.Value), max(standard, m.Standard)
	}
	return &quantity.Measured{Value: (low + high) / 2, Standard: math.Hypot(standard, (high-low)/2/math.Sqrt(3))}
}

// keptAccount is an account that is kept for many queries.
type keptAccount struct {
	Account
	opening *quantity.Measured // the strength as made
	of      map[string]int     // the step of each record that used it or took of it
	changes []strengthChange
}

// strengthChange is a step that changes the strength, and when it may have been.
type strengthChange struct {
	step         int
	began, ended edtf.Day
}

// CanHaveChanged tells whether a batch may have changed since it was made.
func (s *Shelf) CanHaveChanged(batch string) bool {
	s.settle()
	b := s.batches[batch]
	return b != nil && b.changes()
}

// kept is a batch's account, reckoned once.
func (s *Shelf) kept(batch string) *keptAccount {
	if known, ok := s.accounts[batch]; ok {
		return known
	}
	k := &keptAccount{Account: s.Account(batch), opening: s.opening(s.batches[batch]).Strength, of: map[string]int{}}
	for i, step := range k.Steps {
		switch kind := step.Change.Kind; {
		case kind == Used || kind == Decanted:
			k.of[step.Change.ID] = i
		case kind.changesStrength():
			when := step.Change.Date.Period()
			k.changes = append(k.changes, strengthChange{i, began(when), ended(when)})
		}
	}
	s.accounts[batch] = k
	return k
}

// strengthBefore is the strength before a step.
func (k *keptAccount) strengthBefore(i int) *quantity.Measured {
	if i == 0 {
		return k.opening
	}
	return k.Steps[i-1].Strength
}

// InCircle tells whether a batch was made from itself through others.
func (s *Shelf) InCircle(batch string) bool {
	s.settle()
	b := s.batches[batch]
	return b != nil && b.circle
}
