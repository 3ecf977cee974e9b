package shelf

import (
	"math"

	"github.com/google/uuid"

	"meniscus/internal/edtf"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/stock"
)

// events puts everything on record that changed the amounts of the batches
// beside them. Words that are gone changed nothing.
func (h *Shelf) events(rows postgres.Shelf) {
	for _, row := range rows.Changes {
		if c := read[*record.AmountChange](h, row); c != nil {
			h.amountChange(row, c)
		}
	}
	for _, row := range rows.Taken {
		b := read[*record.Batch](h, row)
		if b == nil {
			continue
		}
		for _, input := range b.Inputs.Value {
			if input.Batch != uuid.Nil {
				h.add(input.Batch, eventOf(row, stock.Decanted, b.Made, input.Amount))
			}
		}
	}
	for _, row := range rows.Treatments {
		if t := read[*record.Treatment](h, row); t != nil {
			h.used(t, eventOf(row, stock.Used, t.Date, record.Amount{}))
		}
	}
}

func (h *Shelf) used(t *record.Treatment, e stock.Event) {
	for _, use := range t.Uses.Value {
		if use.Batch != uuid.Nil {
			e.Amount = amount(use.Amount)
			h.add(use.Batch, e)
		}
	}
}

// Propose puts a treatment beside what is on record, as if it were used now: after
// everything else of its day, and on the day that is given where it has no date.
func (h *Shelf) Propose(id string, t *record.Treatment, day edtf.Day) {
	e := stock.Event{ID: id, Kind: stock.Used, Date: t.Date.Value, Place: math.MaxInt64}
	if e.Date.IsZero() {
		e.Date = edtf.MustParse(day.String())
	}
	h.used(t, e)
	h.reckoned, h.strong = nil, nil
}

func (h *Shelf) add(batch uuid.UUID, e stock.Event) {
	if made, ok := h.made[batch.String()]; ok {
		made.Events = append(made.Events, e)
		h.made[batch.String()] = made
	}
}

func eventOf(row postgres.Row, kind stock.Kind, date record.Date, measured record.Amount) stock.Event {
	return stock.Event{ID: row.Record.String(), Kind: kind, Date: date.Value, Place: placeOf(row), Amount: amount(measured)}
}

// placeOf is a row's place; one that has none yet comes after all that have.
func placeOf(row postgres.Row) int64 {
	if row.Place == nil {
		return math.MaxInt64
	}
	return *row.Place
}

// amountChange is an entry about a batch; a top-up from another batch left that.
func (h *Shelf) amountChange(row postgres.Row, c *record.AmountChange) {
	e := eventOf(row, stock.Kind(c.Type), c.Date, c.Amount)
	e.DippedBrush = c.DippedBrush
	if e.Kind == stock.ToppedUp && c.With != nil {
		with := h.ingredient(record.Input{Used: *c.With})
		e.With, h.with[e.ID] = &with, *c.With
		if c.With.Batch != uuid.Nil {
			h.add(c.With.Batch, eventOf(row, stock.Decanted, c.Date, c.Amount))
		}
	}
	h.add(c.Batch, e)
}
