package stock

import (
	"fmt"
	"slices"

	"meniscus/internal/edtf"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// An Event is an entry about the amount of a batch, as it was measured: what
// left it for a batch or a treatment among them, under the id of that.
type Event struct {
	ID          string
	Kind        Kind
	Date        edtf.Date
	Place       int64
	Amount      *quantity.Quantity // nil if nobody knows it
	With        *Ingredient        // what it was topped up with; nil if nobody knows it
	DippedBrush bool
}

// ChangesStrength tells whether a batch may have another strength afterwards.
func (e Event) ChangesStrength() bool { return e.Kind.changesStrength() }

// Shelf is batches with everything on record of them. It answers what each held
// as it was made and what is left of it, and remembers its answers. The batches
// are those of a whole lineage, top-ups included.
//
// A batch that was filled from another holds what that held at that moment: its
// strength after what had evaporated from it and what had been added to it, in
// the order in which Reckon takes the entries, with the uncertainty that the
// account gives. What had changed in strength is taken on as one resin in its
// solvent; the solvents of a mixture are taken to evaporate alike. Where that
// does not tell what was in it, nothing is guessed.
type Shelf struct {
	made     map[string]Made
	done     map[string]Contents
	accounts map[string]*keptAccount
	under    map[task]bool // being worked out: meeting it again is a circle
}

// task is something that is being worked out: what a batch was made of, or its
// account until part of it left for a record.
type task struct {
	batch, until string
	account      bool
}

// NewShelf makes a shelf of batches, by id.
func NewShelf(batches map[string]Made) *Shelf {
	return &Shelf{made: batches, done: map[string]Contents{}, accounts: map[string]*keptAccount{}, under: map[task]bool{}}
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
func (s *Shelf) Account(id string) Account { return s.reckon(id, "") }

// reckon adds up what became of a batch, or what did until part of it left for
// another record. What came later is not looked at: a bottle may be poured back
// into the jar that it was filled from.
func (s *Shelf) reckon(id, until string) Account {
	key := task{id, until, true}
	if s.under[key] {
		return Account{Balance: Balance{Knowledge: Unknown}} // its own strength would decide itself
	}
	s.under[key] = true
	defer delete(s.under, key)
	held := s.Contents(id)
	changes := inOrder(s.changes(id, held))
	if end := slices.IndexFunc(changes, func(c Change) bool { return until != "" && c.ID == until && c.Kind == Decanted }); end >= 0 {
		changes = changes[:end+1]
	}
	for i, c := range changes {
		if with := s.withOf(id, c); with != nil {
			changes[i].Strength = s.added(c.ID, *with, s.Unit(id))
		}
	}
	return Reckon(s.opening(id, held), changes)
}

// withOf is what a batch was topped up with by a change; nil if nobody knows,
// or if it is another change.
func (s *Shelf) withOf(id string, c Change) *Ingredient {
	for _, e := range s.made[id].Events {
		if c.Kind == ToppedUp && e.Kind == ToppedUp && e.ID == c.ID {
			return e.With
		}
	}
	return nil
}

// opening is the batch as it was made.
func (s *Shelf) opening(id string, held Contents) Opening {
	out := Opening{Unit: s.Unit(id)}
	if finished := s.made[id].Finished; finished != nil {
		if m, err := finished.Measured(out.Unit); err == nil {
			out.Amount = &m
		}
	}
	if held.Mixture == nil {
		return out
	}
	if out.Amount == nil && held.Mixture.Volume.Answered() && allMeasured(s.made[id].Inputs) {
		out.Amount = &held.Mixture.Volume.Measured
	}
	out.Strength = solidsPer(*held.Mixture, out.Unit)
	return out
}

// allMeasured tells whether the mixture is the whole batch, and not one gram
// of it.
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

// basisIn is the basis of a strength that is told as grams in a hundred units.
func basisIn(unit quantity.Unit) solution.Basis {
	if unit == quantity.Gram {
		return solution.MassFraction
	}
	return solution.MassPerSolutionVolume
}

// changes are the entries of a batch in its unit, without the strengths of what
// was added.
func (s *Shelf) changes(id string, held Contents) []Change {
	in := inUnit(s.Unit(id), held)
	var out []Change
	for _, e := range s.made[id].Events {
		out = append(out, Change{ID: e.ID, Kind: e.Kind, Date: e.Date, Place: e.Place, Amount: in(e.Amount), DippedBrush: e.DippedBrush})
	}
	return out
}

// added is the strength of what a batch was topped up with by an entry, in
// solids per unit: none for a solvent, that of the moment for another batch, and
// not known for what cannot be told.
func (s *Shelf) added(entry string, with Ingredient, unit quantity.Unit) *quantity.Measured {
	switch {
	case with.Batch != "" && s.Unit(with.Batch) == unit:
		step, _ := s.stepOf(with.Batch, entry)
		return step.Strength
	case with.Stock != nil && len(with.Stock.Contents) == 1 && with.Stock.Contents[0].Component.Phase == solution.Liquid:
		return &quantity.Measured{}
	}
	return nil
}

// stepOf is the step of a batch's account at which part of it left for another
// record, with the steps before it; no strength is known where there is none.
func (s *Shelf) stepOf(batch, taker string) (Step, []Step) {
	steps := s.reckon(batch, taker).Steps
	for i, step := range steps {
		if step.Change.ID == taker && step.Change.Kind == Decanted {
			return step, steps[:i]
		}
	}
	return Step{}, nil
}

// inUnit reads an amount in the account's unit; between mass and volume by the
// density of the mixture, where that is known.
func inUnit(unit quantity.Unit, held Contents) func(*quantity.Quantity) *quantity.Measured {
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
		if err != nil || held.Mixture == nil || !held.Mixture.Density.Answered() {
			return nil
		}
		factor := held.Mixture.Density.Value // g/mL
		if unit == quantity.Millilitre {
			factor = 1 / factor
		}
		return &quantity.Measured{Value: m.Value * factor, Standard: m.Standard * factor}
	}
}

// taken is a batch as it was when another was filled from it.
func (s *Shelf) taken(parent, child string, asMade Contents) (solution.Stock, error) {
	if !slices.ContainsFunc(s.made[parent].Events, Event.ChangesStrength) {
		return asMade.stock, nil
	}
	step, before := s.stepOf(parent, child)
	opening := s.opening(parent, asMade).Strength
	if !moved(before) || step.Strength != nil && opening != nil && *step.Strength == *opening {
		return asMade.stock, nil
	}
	code := s.made[parent].Code
	if step.Strength == nil {
		return solution.Stock{}, fmt.Errorf("how strong %s was when this was filled from it is not known", code)
	}
	k, err := asMade.oneResin(code)
	if err != nil {
		return k, err
	}
	if err := s.onlyOf(k, parent, before); err != nil {
		return k, err
	}
	unit := quantity.GramsPerDL
	if s.Unit(parent) == quantity.Gram {
		unit = quantity.Percent
	}
	number, err := withStandard(100*step.Strength.Value, 100*step.Strength.Standard, unit)
	k.Strength = solution.Strength{Basis: basisIn(s.Unit(parent)), Number: number}
	return k, err
}

// moved tells whether a strength can have changed in these steps.
func moved(steps []Step) bool {
	return slices.ContainsFunc(steps, func(step Step) bool {
		return step.Change.Kind.changesStrength()
	})
}

// oneResin is a mixture as one solid in its solvents, without its strength.
func (c Contents) oneResin(code string) (solution.Stock, error) {
	k := solution.Stock{Name: code, Solute: c.stock.Solute, Solvent: c.stock.Solvent}
	if len(c.stock.Contents) == 0 && c.stock.Dispersion == nil {
		return k, nil
	}
	var liquids float64
	for _, content := range c.stock.Contents {
		if content.Component.Phase == solution.Liquid {
			liquids += content.Amount.Value.Float64()
		}
	}
	solids := 0
	for _, content := range c.stock.Contents {
		if content.Component.Phase == solution.Liquid {
			k.Solvent.By = solution.ByMass
			k.Solvent.Shares = append(k.Solvent.Shares, solution.SolventShare{Component: content.Component, Fraction: content.Amount.Value.Float64() / liquids})
		} else {
			k.Solute, solids = content.Component, solids+1
		}
	}
	if solids != 1 || liquids <= 0 {
		return k, fmt.Errorf("%s had changed in strength when this was filled from it, and is not one resin in a solvent, so what was in it then is not known", code)
	}
	return k, nil
}

// onlyOf tells whether what a batch was topped up with in these steps was of its
// own resin and its one solvent.
func (s *Shelf) onlyOf(k solution.Stock, batch string, steps []Step) error {
	for _, step := range steps {
		if step.Change.Kind != ToppedUp {
			continue
		}
		added := Contents{components: map[string]solution.Component{}}
		switch with := s.withOf(batch, step.Change); {
		case with == nil: // what it was is not known, and so the strength is not either
		case with.Batch != "":
			added.Materials = s.Contents(with.Batch).Materials
		case with.Stock != nil:
			added.takeStock(*with.Stock)
		}
		own := func(id string) bool { return id == k.Solute.ID || id == k.Solvent.Shares[0].Component.ID }
		if len(k.Solvent.Shares) != 1 || slices.ContainsFunc(added.Materials, func(id string) bool { return !own(id) }) {
			return fmt.Errorf("%s had been topped up with other things than it was made of when this was filled from it, so what was in it then is not known", k.Name)
		}
	}
	return nil
}
