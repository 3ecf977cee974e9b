package stock

import (
	"fmt"
	"slices"

	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// taken is a batch as it was when another was filled from it.
func (s *Shelf) taken(from *shelved, child string) (solution.Stock, error) {
	i, left := from.left[child]
	if !left || !from.changedBefore(i) {
		return from.stock, nil
	}
	strength, opening := from.steps[i].Strength, s.opening(from).Strength
	if s.EntriesCut {
		strength = nil
	}
	if strength != nil && opening != nil && *strength == *opening {
		return from.stock, nil
	}
	if strength == nil {
		return solution.Stock{}, fmt.Errorf("how strong %s was when this was filled from it is not known", from.Code)
	}
	if from.resin == nil {
		from.resin = s.oneResinOf(from)
	}
	k, err := from.resin.until(i)
	if err != nil {
		return k, err
	}
	unit := quantity.GramsPerDL
	if s.Unit(from.id) == quantity.Gram {
		unit = quantity.Percent
	}
	number, err := withStandard(100*strength.Value, 100*strength.Standard, unit)
	k.Strength = solution.Strength{Basis: basisIn(s.Unit(from.id)), Number: number}
	return k, err
}

// oneResin is a batch as one solid in its solvents, without its strength, and the
// first entry that added anything else.
type oneResin struct {
	solution.Stock
	err     error
	foreign int // the first entry that added something else
}

// until is the resin in its solvents at an entry.
func (r *oneResin) until(entry int) (solution.Stock, error) {
	if r.err == nil && r.foreign < entry {
		return r.Stock, fmt.Errorf("%s had been topped up with other things than it was made of when this was filled from "+
			"it, so what was in it then is not known", r.Name)
	}
	return r.Stock, r.err
}

func (s *Shelf) oneResinOf(b *shelved) *oneResin {
	out := &oneResin{foreign: len(b.events)}
	if out.Stock, out.err = b.oneResin(b.Code); out.err != nil {
		return out
	}
	for i, e := range b.events {
		if e.Kind == ToppedUp && !s.onlyOf(out.Stock, e.With) {
			out.foreign = i
			break
		}
	}
	return out
}

// oneResin is a mixture as one solid in its solvents, without its strength.
func (m *mixed) oneResin(code string) (solution.Stock, error) {
	k := solution.Stock{Name: code, Solute: m.stock.Solute, Solvent: m.stock.Solvent}
	if len(m.stock.Contents) == 0 && m.stock.Dispersion == nil {
		return k, nil
	}
	var liquids float64
	for _, content := range m.stock.Contents {
		if content.Component.Phase == solution.Liquid {
			liquids += content.Amount.Value.Float64()
		}
	}
	solids := 0
	for _, content := range m.stock.Contents {
		if content.Component.Phase == solution.Liquid {
			k.Solvent.By = solution.ByMass
			k.Solvent.Shares = append(k.Solvent.Shares, solution.SolventShare{
				Component: content.Component, Fraction: content.Amount.Value.Float64() / liquids,
			})
		} else {
			k.Solute, solids = content.Component, solids+1
		}
	}
	if solids != 1 || liquids <= 0 {
		return k, fmt.Errorf("%s had changed in strength when this was filled from it, and is not one resin in a solvent, "+
			"so what was in it then is not known", code)
	}
	return k, nil
}

// onlyOf tells whether what a batch was topped up with was of its own resin and
// its one solvent. It is false where what was added is unknown.
func (s *Shelf) onlyOf(k solution.Stock, with *Ingredient) bool {
	var added []string
	switch {
	case len(k.Solvent.Shares) != 1:
		return false
	case with == nil:
	case with.Batch != "":
		if from := s.batches[with.Batch]; from != nil {
			added = from.few
		}
	case with.Stock != nil:
		added = materialsOf(*with.Stock)
	}
	foreign := func(id string) bool { return id != k.Solute.ID && id != k.Solvent.Shares[0].Component.ID }
	return !slices.ContainsFunc(added, foreign)
}
