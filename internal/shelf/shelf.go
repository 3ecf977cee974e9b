// Package shelf reads what is on record of supplies and batches into package
// stock: what went into them, what was weighed, and what became of them.
//
// It promises that there is one reading: the contents of a batch, the layers
// that it left on a specimen and what is published of it rest on the same
// values. What cannot be read is not known: nothing is refused that is on
// record, and nothing is added to it.
//
// It computes nothing (see stock) and fetches nothing (see postgres).
package shelf

import (
	"errors"

	"github.com/google/uuid"

	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/quantity"
	"meniscus/internal/record"
	"meniscus/internal/solution"
	"meniscus/internal/statement"
	"meniscus/internal/stock"
	"meniscus/internal/substance"
)

// Shelf is what is on record of some batches: what they were made from, to any
// depth, and what became of them.
type Shelf struct {
	Base     *material.Base
	Supplies map[uuid.UUID]*record.Supply
	Batches  map[uuid.UUID]*record.Batch
	// More is how many supplies and batches there are beyond those that were read,
	// and MoreEntries how many entries about what became of them.
	More, MoreEntries int
	// Unreadable are the records whose words are there and cannot be read.
	Unreadable []postgres.Row

	made     map[string]stock.Made  // by batch
	with     map[string]record.Used // what batches were topped up with, by entry
	known    map[graded]known       // what was looked up
	reckoned *stock.Shelf
	strong   map[moment]Strength
}

// graded is a material in a grade.
type graded struct{ id, grade string }

// known is a substance that was looked up; of one that is not known nothing is.
type known struct {
	component solution.Component
	found     bool
}

// Read reads the entries about batches. A supply or a batch whose words are gone
// is one that says nothing.
func Read(base *material.Base, rows postgres.Shelf) *Shelf {
	h := &Shelf{Base: base, Supplies: map[uuid.UUID]*record.Supply{}, Batches: map[uuid.UUID]*record.Batch{},
		More: rows.MoreMade, MoreEntries: rows.MoreEntries, made: map[string]stock.Made{}, with: map[string]record.Used{}, known: map[graded]known{}}
	for _, row := range rows.Made {
		switch row.Kind {
		case record.KindSupply:
			h.Supplies[row.Record] = orBlank(read[*record.Supply](h, row))
		case record.KindBatch:
			h.Batches[row.Record] = orBlank(read[*record.Batch](h, row))
		}
	}
	for id, b := range h.Batches {
		h.made[id.String()] = h.madeOf(b)
	}
	h.events(rows)
	return h
}

// read reads a row's statement; nil where its words are gone or cannot be read.
func read[T record.Value](h *Shelf, row postgres.Row) (value T) {
	reading, err := statement.OfEntry(row.Kind, row.Body)
	if err == nil {
		value, _ = reading.Value.(T)
	} else if !errors.Is(err, statement.ErrRedacted) {
		h.Unreadable = append(h.Unreadable, row)
	}
	return value
}

func orBlank[T any](value *T) *T {
	if value == nil {
		return new(T)
	}
	return value
}

// Stock is the batches with everything on record of them, ready to be asked.
func (h *Shelf) Stock() *stock.Shelf {
	if h.reckoned == nil {
		h.reckoned = stock.NewShelf(h.made)
		h.reckoned.More, h.reckoned.EntriesCut = h.More, h.MoreEntries > 0
	}
	return h.reckoned
}

func (h *Shelf) madeOf(b *record.Batch) stock.Made {
	out := stock.Made{Code: b.Code, Finished: amount(b.Finished)}
	for _, in := range b.Inputs.Value {
		out.Inputs = append(out.Inputs, h.ingredient(in))
	}
	if b.LabelStrength.Given {
		out.Label = &b.LabelStrength.Value.Strength
	}
	for _, share := range b.Solvents.Value {
		out.LabelSolvent.By = solution.ShareBy(share.By)
		if out.LabelSolvent.By == "" {
			out.LabelSolvent.By = solution.ByVolume
		}
		if component, ok := h.material(share.Material, ""); ok {
			out.LabelSolvent.Shares = append(out.LabelSolvent.Shares, solution.SolventShare{Component: component, Fraction: fractionOf(share, len(b.Solvents.Value))})
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
func (h *Shelf) ingredient(in record.Input) stock.Ingredient {
	out := stock.Ingredient{Amount: amount(in.Amount)}
	switch {
	case in.Batch != uuid.Nil:
		out.Batch = in.Batch.String()
		if b := h.Batches[in.Batch]; b != nil {
			out.Name = b.Code
		}
	case in.Supply != uuid.Nil:
		out.Name, out.Stock = h.supply(in.Supply)
	case in.Material != "":
		out.Name = in.Material
		if component, ok := h.material(in.Material, in.Grade); ok {
			k := stock.Pure(component)
			out.Stock = &k
		}
	default:
		out.Name = in.Words
	}
	return out
}

// supply is a received container as it goes into a batch: a dispersion with its
// solids, or the substance with the density of its own sheet where it has one.
func (h *Shelf) supply(id uuid.UUID) (string, *solution.Stock) {
	s := h.Supplies[id]
	if s == nil || s.Material == "" {
		return "a supply whose record is blank", nil
	}
	component, ok := h.look(substance.Said{Material: s.Material, Grade: s.Grade, Dispersed: s.Solids != nil}, s.Density)
	if !ok {
		return s.Code, nil
	}
	k := stock.Pure(component)
	if s.Solids != nil {
		water, _ := h.material("water", "")
		k = solution.Stock{Name: component.Name, Dispersion: &solution.Dispersion{Product: component, Solids: s.Solids.Number, Water: water}}
	}
	return s.Code, &k
}

// material looks a material up, once; one that is not known is no component.
func (h *Shelf) material(id, grade string) (solution.Component, bool) {
	key := graded{id, grade}
	if found, ok := h.known[key]; ok {
		return found.component, found.found
	}
	component, ok := h.look(substance.Said{Material: id, Grade: grade}, nil)
	h.known[key] = known{component, ok}
	return component, ok
}

// look looks a substance up, with the density of its own sheet where it has one.
// Faults are not told: the record stands, and what is not known is no component.
func (h *Shelf) look(s substance.Said, density *quantity.Quantity) (solution.Component, bool) {
	look := substance.Lookup{Base: h.Base}
	s.Dense = density != nil
	component, found := look.Find("", s, solution.Solid)
	if found && density != nil {
		component = look.WithDensity("", component, *density)
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
