package stock

import (
	"meniscus/internal/material"
	"meniscus/internal/quantity"
	"meniscus/internal/record"
	"meniscus/internal/solution"
	"meniscus/internal/substance"
)

// Records are what is on record of some supplies and batches. A record whose
// statement was redacted is a blank value.
type Records struct {
	Supplies map[record.Ref]*record.Supply
	Batches  map[record.Ref]*record.Batch
	// Changes are entries about the batches, Taken the batches that were made
	// from them, and Treatments the treatments that used them.
	Changes    []Entry[*record.AmountChange]
	Taken      []Entry[*record.Batch]
	Treatments []Entry[*record.Treatment]
	// More is how many supplies and batches there are beyond those that were read,
	// and MoreEntries how many entries about what became of them.
	More, MoreEntries int
}

// Entry is a record that is in force, and its sequence number in the order of recording.
type Entry[T record.Value] struct {
	ID       record.Ref
	Sequence int64
	Said     T
}

// Book is what is on record of some batches: what they were made from, to any
// depth, and what became of them. A material that is not known leaves a batch
// open. No record is refused, and nothing is added to a record.
type Book struct {
	Base *material.Base
	Records

	// UsesWithheld says that treatments may have used of the batches and are not told: what is left is
	// known as at most so much.
	UsesWithheld bool

	made     map[string]Made        // by batch
	with     map[string]record.Used // what batches were topped up with, by entry
	known    map[graded]known       // what was looked up
	reckoned *Shelf
	strong   map[occasion]Strength
}

// graded is a material in a grade.
type graded struct{ id, grade string }

// known is a substance that was looked up; the zero value where it was not found.
type known struct {
	component solution.Component
	found     bool
}

// NewBook makes a book of records.
func NewBook(base *material.Base, on Records) *Book {
	k := &Book{Base: base, Records: on, made: map[string]Made{}, with: map[string]record.Used{}, known: map[graded]known{}}
	for id, b := range on.Batches {
		k.made[id.String()] = k.madeOf(b)
	}
	k.enter(on)
	return k
}

// Shelf is the batches with everything on record of them, ready to be asked.
func (k *Book) Shelf() *Shelf {
	if k.reckoned == nil {
		k.reckoned = NewShelf(k.made)
		k.reckoned.More, k.reckoned.EntriesCut = k.More, k.MoreEntries > 0
		k.reckoned.UsesWithheld = k.UsesWithheld
	}
	return k.reckoned
}

func (k *Book) madeOf(b *record.Batch) Made {
	out := Made{Code: b.Code, Finished: amount(b.Finished), When: b.Made.Value}
	for _, in := range b.Inputs.Value {
		out.Inputs = append(out.Inputs, k.ingredient(in))
	}
	if b.LabelStrength.Given {
		out.Label = &b.LabelStrength.Value.Strength
	}
	for _, share := range b.Solvents.Value {
		out.LabelSolvent.By = solution.ShareBy(share.By)
		if out.LabelSolvent.By == "" {
			out.LabelSolvent.By = solution.ByVolume
		}
		if component, ok := k.material(share.Material, ""); ok {
			fraction := fractionOf(share, len(b.Solvents.Value))
			out.LabelSolvent.Shares = append(out.LabelSolvent.Shares,
				solution.SolventShare{Component: component, Fraction: fraction})
		}
	}
	return out
}

// fractionOf is a solvent's share; one solvent alone is all of it.
func fractionOf(share record.SolventShare, among int) float64 {
	switch {
	case share.Fraction != nil:
		return share.Fraction.Float64()
	case among == 1:
		return 1
	}
	return 0
}

// ingredient is one input, with what is known of its supply or material.
func (k *Book) ingredient(in record.Input) Ingredient {
	out := Ingredient{Amount: amount(in.Amount)}
	switch {
	case in.Batch != (record.Ref{}):
		out.Batch = in.Batch.String()
		if b := k.Batches[in.Batch]; b != nil {
			out.Name = b.Code
		}
	case in.Supply != (record.Ref{}):
		out.Name, out.Stock = k.supply(in.Supply)
	case in.Material != "":
		out.Name = in.Material
		if component, ok := k.material(in.Material, in.Grade); ok {
			held := Pure(component)
			out.Stock = &held
		}
	default:
		out.Name = in.Words
	}
	return out
}

// supply is a received container as it goes into a batch: a dispersion with its
// solids, or the substance with the density of its own sheet where it has one.
func (k *Book) supply(id record.Ref) (string, *solution.Stock) {
	s := k.Supplies[id]
	if s == nil || s.Material == "" {
		return "a supply whose record is blank", nil
	}
	component, ok := k.look(substance.Said{Material: s.Material, Grade: s.Grade, Dispersed: s.Solids != nil}, s.Density)
	if !ok {
		return s.Code, nil
	}
	held := Pure(component)
	if s.Solids != nil {
		water, _ := k.material("water", "")
		dispersion := solution.Dispersion{Product: component, Solids: s.Solids.Number, Water: water}
		held = solution.Stock{Name: component.Name, Dispersion: &dispersion}
	}
	return s.Code, &held
}

// material looks a material up, once; false where it is not known.
func (k *Book) material(id, grade string) (solution.Component, bool) {
	key := graded{id, grade}
	if found, ok := k.known[key]; ok {
		return found.component, found.found
	}
	component, ok := k.look(substance.Said{Material: id, Grade: grade}, nil)
	k.known[key] = known{component, ok}
	return component, ok
}

// look looks a substance up, with the density of its own sheet where it has one.
// Faults are not reported, since the record stands; false where it is not known.
func (k *Book) look(s substance.Said, density *quantity.Quantity) (solution.Component, bool) {
	look := substance.Lookup{Base: k.Base}
	s.Dense = density != nil
	component, found := look.Find("", s, solution.Solid)
	if found && density != nil {
		component = look.WithDensity("", component, *density, substance.OfSupply)
	}
	return component, found && len(look.Faults) == 0 && component.ID != ""
}

// amount is an amount as measured, or nil if it is not known.
func amount(a record.Amount) *quantity.Quantity {
	if !a.Given {
		return nil
	}
	return &a.Value
}
