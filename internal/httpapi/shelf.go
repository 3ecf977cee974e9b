package httpapi

import (
	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/postgres"
	"meniscus/internal/quantity"
	"meniscus/internal/record"
	"meniscus/internal/solution"
	"meniscus/internal/stock"
)

// shelf is what is on record of some batches: what they were made from, to any
// depth, and what became of them.
type shelf struct {
	*asking
	rows     postgres.Shelf
	supplies map[uuid.UUID]api.SupplyStatement
	batches  map[uuid.UUID]api.BatchStatement
	made     map[string]stock.Made // by batch
}

// shelf reads the entries about batches. What cannot be read is not known: a
// record is never refused when it is read.
func (s *Server) shelf(c *call, batches []uuid.UUID) (*shelf, error) {
	base, err := s.knowledge(c)
	if err != nil {
		return nil, err
	}
	rows, err := s.store.ShelfOf(c.ctx(), c.principal.Institution, batches)
	if err != nil {
		return nil, err
	}
	h := &shelf{asking: &asking{base: base}, rows: rows, made: map[string]stock.Made{},
		supplies: map[uuid.UUID]api.SupplyStatement{}, batches: map[uuid.UUID]api.BatchStatement{}}
	for _, row := range rows.Made {
		switch row.Kind {
		case record.KindSupply:
			h.supplies[row.Record] = statementAs[api.SupplyStatement](row)
		case record.KindBatch:
			h.batches[row.Record] = statementAs[api.BatchStatement](row)
		}
	}
	for id, st := range h.batches {
		h.made[id.String()] = h.madeOf(st)
	}
	h.events()
	return h, nil
}

// statementAs reads a statement that was checked when it was recorded; words
// that a redaction took are a statement that says nothing.
func statementAs[T any](row postgres.Row) T {
	var st T
	if raw := statementOf(row.Body); raw != nil {
		_ = decodeInto(raw, &st) // checked when it was recorded
	}
	return st
}

func (h *shelf) madeOf(st api.BatchStatement) stock.Made {
	out := stock.Made{Code: st.Code, Finished: h.recordedAmount(st.Finished)}
	for _, in := range deref(st.Inputs) {
		out.Inputs = append(out.Inputs, h.ingredient(in))
	}
	if st.LabelStrength != nil {
		strength := h.recordedStrength(*st.LabelStrength)
		out.Label = &strength
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
func (h *shelf) ingredient(in api.BatchInput) stock.Ingredient {
	out := stock.Ingredient{Amount: h.recordedAmount(&in.Amount)}
	switch from := in.From; {
	case from.Batch != nil:
		out.Batch = from.Batch.Id.String()
		out.Name = h.batches[from.Batch.Id].Code
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
func (h *shelf) supply(id uuid.UUID) (string, *solution.Stock) {
	st := h.supplies[id]
	if st.Material.Id == "" {
		return "a supply whose record is blank", nil
	}
	s := substance{material: &st.Material.Id, grade: st.Material.Grade, density: st.Density, dispersed: st.Solids != nil}
	component, ok := h.look(s)
	if !ok {
		return st.Code, nil
	}
	k := stock.Pure(component)
	if st.Solids != nil {
		water, _ := h.material("water", nil)
		k = solution.Stock{Name: component.Name, Dispersion: &solution.Dispersion{Product: component, Solids: h.recordedStrength(*st.Solids).Number, Water: water}}
	}
	return st.Code, &k
}

// material looks a material up; one that is not known is no component.
func (h *shelf) material(id string, grade *string) (solution.Component, bool) {
	return h.look(substance{material: &id, grade: grade})
}

// look looks a substance up and forgets the faults: nobody is there to mend
// what was recorded long ago.
func (h *shelf) look(s substance) (solution.Component, bool) {
	h.faults = nil
	component := h.component("", s, solution.Solid)
	found := len(h.faults) == 0 && component.ID != ""
	h.faults = nil
	return component, found
}

// recordedAmount is an amount as measured, or nil if it is not known.
func (h *shelf) recordedAmount(a *api.AnswerableQuantity) *quantity.Quantity {
	if a == nil || a.Quantity == nil {
		return nil
	}
	q := h.quantity("", a.Quantity)
	if q.IsZero() {
		return nil
	}
	return &q
}

func (h *shelf) recordedStrength(s api.Strength) solution.Strength {
	return h.strength("", &api.AskedStrength{Basis: &s.Basis, Value: s.Value, Unit: s.Unit, Parts: s.Parts, In: s.In, Uncertainty: s.Uncertainty})
}

// events puts everything on record that changed the amounts of the batches
// beside them.
func (h *shelf) events() {
	for _, row := range h.rows.Changes {
		h.amountChange(row)
	}
	for _, row := range h.rows.Taken {
		st := statementAs[api.BatchStatement](row)
		for _, input := range deref(st.Inputs) {
			if input.From.Batch != nil {
				h.event(input.From.Batch.Id, row, stock.Decanted, st.Made, &input.Amount)
			}
		}
	}
	for _, row := range h.rows.Treatments {
		st := statementAs[api.TreatmentStatement](row)
		for _, use := range deref(st.Materials) {
			if use.Used.Batch != nil {
				h.event(use.Used.Batch.Id, row, stock.Used, &st.Dates, use.Amount)
			}
		}
	}
}

func (h *shelf) event(batch uuid.UUID, row postgres.Row, kind stock.Kind, date *api.AnswerableDate, amount *api.AnswerableQuantity) {
	h.add(batch, stock.Event{ID: row.Record.String(), Kind: kind, Date: recordedDate(date), Place: deref(row.Place), Amount: h.recordedAmount(amount)})
}

func (h *shelf) add(batch uuid.UUID, e stock.Event) {
	if made, ok := h.made[batch.String()]; ok {
		made.Events = append(made.Events, e)
		h.made[batch.String()] = made
	}
}

// amountChange is an entry about a batch; a top-up from another batch left that.
func (h *shelf) amountChange(row postgres.Row) {
	st := statementAs[api.AmountChangeStatement](row)
	e := stock.Event{ID: row.Record.String(), Kind: stock.Kind(st.Kind), Date: recordedDate(st.Date), Place: deref(row.Place),
		Amount: h.recordedAmount(&st.Amount), DippedBrush: deref(st.DippedBrush)}
	if e.Kind == stock.ToppedUp && st.With != nil {
		with := h.ingredient(api.BatchInput{From: *st.With})
		e.With = &with
		if st.With.Batch != nil {
			h.event(st.With.Batch.Id, row, stock.Decanted, st.Date, &st.Amount)
		}
	}
	h.add(st.Batch.Id, e)
}
