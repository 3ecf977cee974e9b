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
	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/quantity"
	"meniscus/internal/record"
	"meniscus/internal/solution"
	"meniscus/internal/stock"
	"meniscus/internal/values"
)

// Shelf is what is on record of some batches: what they were made from, to any
// depth, and what became of them.
type Shelf struct {
	Base     *material.Base
	Supplies map[uuid.UUID]*api.SupplyStatement
	Batches  map[uuid.UUID]*api.BatchStatement
	// More is how many supplies and batches there are beyond those that were read,
	// and MoreEntries how many entries about what became of them.
	More, MoreEntries int

	made     map[string]stock.Made         // by batch
	with     map[string]api.BatchInputFrom // what batches were topped up with, by entry
	known    map[string]known              // what was looked up
	reckoned *stock.Shelf
	strong   map[moment]Strength
}

// known is a substance that was looked up; of one that is not known nothing is.
type known struct {
	component solution.Component
	found     bool
}

// Read reads the entries about batches.
func Read(base *material.Base, rows postgres.Shelf) *Shelf {
	h := &Shelf{Base: base, Supplies: map[uuid.UUID]*api.SupplyStatement{}, Batches: map[uuid.UUID]*api.BatchStatement{},
		More: rows.MoreMade, MoreEntries: rows.MoreEntries, made: map[string]stock.Made{}, with: map[string]api.BatchInputFrom{}, known: map[string]known{}}
	for _, row := range rows.Made {
		switch row.Kind {
		case record.KindSupply:
			keep(h.Supplies, row)
		case record.KindBatch:
			keep(h.Batches, row)
		}
	}
	for id, st := range h.Batches {
		h.made[id.String()] = h.madeOf(st)
	}
	h.events(rows)
	return h
}

// keep reads a statement; words that a redaction took are a statement that says
// nothing.
func keep[T any](into map[uuid.UUID]*T, row postgres.Row) {
	st := new(T)
	if !values.Statement(row.Body, st) {
		st = new(T)
	}
	into[row.Record] = st
}

// Stock is the batches with everything on record of them, ready to be asked.
func (h *Shelf) Stock() *stock.Shelf {
	if h.reckoned == nil {
		h.reckoned = stock.NewShelf(h.made)
		h.reckoned.More, h.reckoned.EntriesCut = h.More, h.MoreEntries > 0
	}
	return h.reckoned
}

func (h *Shelf) madeOf(st *api.BatchStatement) stock.Made {
	out := stock.Made{Code: st.Code, Finished: amount(st.Finished)}
	for _, in := range deref(st.Inputs) {
		out.Inputs = append(out.Inputs, h.ingredient(in))
	}
	if st.LabelStrength != nil {
		label := strength(*st.LabelStrength)
		out.Label = &label
	}
	shares := deref(st.Solvents)
	for _, share := range shares {
		out.LabelSolvent.By = solution.ShareBy(deref(share.FractionBy))
		if out.LabelSolvent.By == "" {
			out.LabelSolvent.By = solution.ByVolume
		}
		if component, ok := h.material(share.Id, nil); ok {
			out.LabelSolvent.Shares = append(out.LabelSolvent.Shares, solution.SolventShare{Component: component, Fraction: fractionOf(share, len(shares))})
		}
	}
	return out
}

// fractionOf is a solvent's share; one solvent alone is all of it.
func fractionOf(share api.SolventShare, among int) float64 {
	if share.Fraction == nil && among == 1 {
		return 1
	}
	return deref(share.Fraction).Float64()
}

// ingredient is one input, with what is known of its supply or material.
func (h *Shelf) ingredient(in api.BatchInput) stock.Ingredient {
	out := stock.Ingredient{Amount: amount(&in.Amount)}
	switch from := in.From; {
	case from.Batch != nil:
		out.Batch = from.Batch.Id.String()
		if st := h.Batches[from.Batch.Id]; st != nil {
			out.Name = st.Code
		}
	case from.Supply != nil:
		out.Name, out.Stock = h.supply(from.Supply.Id)
	case from.Material != nil:
		out.Name = from.Material.Id
		if component, ok := h.material(from.Material.Id, from.Material.Grade); ok {
			k := stock.Pure(component)
			out.Stock = &k
		}
	case from.Words != nil:
		out.Name = from.Words.Verbatim
	}
	return out
}

// supply is a received container as it goes into a batch: a dispersion with its
// solids, or the substance with the density of its own sheet where it has one.
func (h *Shelf) supply(id uuid.UUID) (string, *solution.Stock) {
	st := h.Supplies[id]
	if st == nil || st.Material.Id == "" {
		return "a supply whose record is blank", nil
	}
	s := values.Substance{Material: &st.Material.Id, Grade: st.Material.Grade, Density: st.Density, Dispersed: st.Solids != nil}
	component, ok := h.look(s)
	if !ok {
		return st.Code, nil
	}
	k := stock.Pure(component)
	if st.Solids != nil {
		water, _ := h.material("water", nil)
		k = solution.Stock{Name: component.Name, Dispersion: &solution.Dispersion{Product: component, Solids: strength(*st.Solids).Number, Water: water}}
	}
	return st.Code, &k
}

// material looks a material up, once; one that is not known is no component.
func (h *Shelf) material(id string, grade *string) (solution.Component, bool) {
	key := id + "\x00" + deref(grade)
	if found, ok := h.known[key]; ok {
		return found.component, found.found
	}
	component, ok := h.look(values.Substance{Material: &id, Grade: grade})
	h.known[key] = known{component, ok}
	return component, ok
}

// look looks a substance up and forgets the faults: nobody is there to mend
// what was recorded long ago.
func (h *Shelf) look(s values.Substance) (solution.Component, bool) {
	reader := values.Reader{Base: h.Base}
	component := reader.Component("", s, solution.Solid)
	return component, len(reader.Faults) == 0 && component.ID != ""
}

// amount is an amount as measured, or nil if it is not known.
func amount(a *api.AnswerableQuantity) *quantity.Quantity {
	if a == nil || a.Quantity == nil {
		return nil
	}
	var reader values.Reader
	q := reader.Quantity("", a.Quantity)
	if q.IsZero() {
		return nil
	}
	return &q
}

func strength(s api.Strength) solution.Strength {
	var reader values.Reader
	return reader.Recorded("", s)
}

func deref[T any](p *T) T {
	if p == nil {
		var zero T
		return zero
	}
	return *p
}
