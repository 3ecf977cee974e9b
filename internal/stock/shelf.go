package stock

import (
	"slices"

	"meniscus/internal/edtf"
	"meniscus/internal/quantity"
	"meniscus/internal/record"
	"meniscus/internal/solution"
)

// An Event is an entry about the amount of a batch, as it was measured. What left it
// for another batch or a treatment is also an event, under the id of that record.
type Event struct {
	ID          string
	Kind        Kind
	Date        edtf.Date
	Sequence    int64
	Amount      *quantity.Quantity // nil if unknown
	With        *Ingredient        // what it was topped up with; nil if unknown
	DippedBrush record.Said[bool]
}

// ChangesStrength tells whether a batch may have another strength afterwards.
func (e Event) ChangesStrength() bool { return e.Kind.changesStrength() }

// Shelf is batches with everything on record of them. It answers what each held
// as it was made and what is left of it, and keeps its answers. The batches are
// those of a whole lineage, top-ups included.
//
// A batch that was filled from another holds what that held at that moment: its
// strength after what had evaporated from it and what had been added to it, in
// the order in which Reckon takes the entries, with the uncertainty that the
// account gives. A batch whose strength had changed is carried on as one resin in
// its solvent; the solvents of a mixture are taken to evaporate alike. Where that
// model does not fit, the contents are unknown.
type Shelf struct {
	// More is how many supplies and batches in their lineage were not read.
	More int
	// EntriesCut says that not all entries about the batches were read. The amounts
	// left, and the strengths after a change, are then unknown.
	EntriesCut bool
	// UsesWithheld says that there may be uses that are not told: of what is left the most is known.
	UsesWithheld bool

	made     map[string]Made
	batches  map[string]*shelved // nil until they are worked out
	accounts map[string]*keptAccount
	mixing   int // the mixing done so far, as mostMixing counts it
	looked   int // how many inputs, edges and entries were looked at
}

// NewShelf makes a shelf of batches, by id.
func NewShelf(batches map[string]Made) *Shelf {
	return &Shelf{made: batches, accounts: map[string]*keptAccount{}}
}

// Unit is what a batch's account is kept in: what its finished amount was
// measured in, else millilitres.
func (s *Shelf) Unit(id string) quantity.Unit {
	if finished := s.made[id].Finished; finished != nil {
		if _, err := finished.In(quantity.Gram); err == nil {
			return quantity.Gram
		}
	}
	return quantity.Millilitre
}

// Events are what became of a batch.
func (s *Shelf) Events(id string) []Event { return s.made[id].Events }

// Account adds up what became of a batch.
func (s *Shelf) Account(id string) Account {
	s.settle()
	b := s.batches[id]
	if b == nil {
		return Account{Balance: Balance{Knowledge: Unknown}}
	}
	if s.EntriesCut {
		return Account{Balance: Balance{Knowledge: Unknown}, Steps: b.steps}
	}
	left := b.account.state.balance()
	if s.UsesWithheld && left.Knowledge == Known {
		left.Knowledge = AtMost
	}
	return Account{Balance: left, Steps: b.steps, Findings: b.account.found.list(s.Unit(id))}
}

// change is an event in the account, without its amount and the strength of what
// was added.
func (e Event) change() Change {
	return Change{ID: e.ID, Kind: e.Kind, Date: e.Date, Sequence: e.Sequence, DippedBrush: e.DippedBrush}
}

// opening is the batch as it was made.
func (s *Shelf) opening(b *shelved) Opening {
	out := Opening{Unit: s.Unit(b.id), Made: b.When}
	if b.Finished != nil {
		if m, err := b.Finished.Measured(out.Unit); err == nil {
			out.Amount = &m
		}
	}
	if b.Mixture == nil {
		return out
	}
	if out.Amount == nil && b.Mixture.Volume.Answered() && allMeasured(b.Inputs) {
		out.Amount = &b.Mixture.Volume.Measured
	}
	out.Strength = solidsPer(*b.Mixture, out.Unit)
	return out
}

// allMeasured tells whether the mixture is the whole batch; otherwise it is one
// gram of it.
func allMeasured(inputs []Ingredient) bool {
	return len(inputs) > 0 && !slices.ContainsFunc(inputs, func(in Ingredient) bool { return in.Amount == nil })
}

// solidsPer is the grams of solids in one unit of a mixture, or nil.
func solidsPer(m solution.Mixture, unit quantity.Unit) *quantity.Measured {
	v := m.On(basisIn(unit))
	if !v.Answered() {
		return nil
	}
	return &quantity.Measured{Value: v.Value / 100, Standard: v.Standard / 100}
}

// basisIn is the basis of a strength in grams in a hundred units.
func basisIn(unit quantity.Unit) solution.Basis {
	if unit == quantity.Gram {
		return solution.MassFraction
	}
	return solution.MassPerSolutionVolume
}

// added is the strength of what a batch was topped up with by an entry, in solids
// per unit: 0 for a solvent, that of the moment for another batch, and nil where
// unknown.
func (s *Shelf) added(entry string, with Ingredient, unit quantity.Unit) *quantity.Measured {
	switch {
	case with.Batch != "" && s.Unit(with.Batch) == unit:
		from := s.batches[with.Batch]
		if from == nil {
			return nil
		}
		if i, left := from.left[entry]; left {
			return from.steps[i].Strength
		}
	case with.Stock != nil && len(with.Stock.Contents) == 1 && with.Stock.Contents[0].Component.Phase == solution.Liquid:
		return &quantity.Measured{}
	}
	return nil
}

// inUnit reads an amount in the account's unit; between mass and volume by the
// density of the mixture, where that is known.
func inUnit(unit quantity.Unit, held *solution.Mixture) func(*quantity.Quantity) *quantity.Measured {
	other := quantity.Gram
	if unit == quantity.Gram {
		other = quantity.Millilitre
	}
	return func(q *quantity.Quantity) *quantity.Measured {
		if q == nil {
			return nil
		}
		if m, err := q.Measured(unit); err == nil {
			return &m
		}
		m, err := q.Measured(other)
		if err != nil || held == nil || !held.Density.Answered() {
			return nil
		}
		factor := held.Density.Value // g/mL
		if unit == quantity.Millilitre {
			factor = 1 / factor
		}
		return &quantity.Measured{Value: m.Value * factor, Standard: m.Standard * factor}
	}
}
